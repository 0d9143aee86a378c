"""How well the dials are judged: invented dials with a known truth, many seeds.

Run: python studies/dials.py [--seeds 0:400]. The truth (`calmday.synthetic.dial_truth`) bends where the procedure takes
a straight line, and its tank is of another family of shapes. The figures in docs/accuracy.md come from here.
"""

from __future__ import annotations

import argparse

import numpy as np

from calmday.metrology.figure import Figure
from calmday.operations.dials import check_dials
from calmday.synthetic.dial_truth import invent


def main() -> None:
    """Print the table."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--seeds", default="0:400")
    first, last = (int(part) for part in parser.parse_args().seeds.split(":"))
    rows: dict[str, list[tuple[float, Figure]]] = {}
    reached = []
    for seed in range(first, last):
        dials, truth = invent(seed)
        result = check_dials(dials, draws=500, seed=seed)
        assert result.speedometer and result.odometer and result.fuel_gauge and result.range
        for speed in result.speedometer.speeds:
            name = "true speed, within the readings, km/h" if speed.read else "true speed, carried on, km/h"
            rows.setdefault(name, []).append((truth.true_kmh(speed.indicated.value), speed.true_speed))
        rows.setdefault("odometer factor", []).append((truth.odometer_factor, result.odometer.factor))
        for point in result.fuel_gauge.points[1:-1]:
            rows.setdefault("fuel in the tank, 1/8 to 7/8, L", []).append((truth.litres(point.needle), point.content))
        goes = 100 * truth.litres(truth.needle_now) / truth.litres_per_100km
        rows.setdefault("range, km", []).append((goes, result.range.distance))
        reached.append(goes >= result.range.count_on)
    print("| figure | bias | rms | inside 95 % | mean half width |")
    print("|---|---:|---:|---:|---:|")
    for name, pairs in rows.items():
        off = np.array([figure.value - true for true, figure in pairs])
        inside = np.mean([figure.low <= true <= figure.high for true, figure in pairs])
        half = np.mean([figure.half_width for _, figure in pairs])
        print(f"| {name} | {off.mean():+.3g} | {np.sqrt(np.mean(off**2)):.3g} | {100 * inside:.1f} % | {half:.3g} |")
    print(f"\nTanks that reach what is counted on: {100 * np.mean(reached):.1f} %.")


if __name__ == "__main__":
    main()
