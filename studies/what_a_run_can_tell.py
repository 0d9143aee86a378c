"""Is there more in a weighed run than the model takes out of it? A regression that knows the simulator's answers.

    python studies/calm_day.py --seeds 1000:4000 --out /tmp/drives.csv
    uv run --with scikit-learn python studies/what_a_run_can_tell.py /tmp/drives.csv

Boosted trees learn the error of the calm-day figure from all that a tester could see of a drive (the sheet's own
figures, their intervals, weather, build sheet), on nine tenths of the drives, and are asked about the last tenth, ten
times round. What they leave is about what no method can take away from single runs like these.
"""

from __future__ import annotations

import csv
import sys
from pathlib import Path

import numpy as np

PENALTIES = ("wind", "air_density", "cold_engine", "cold_tyres")
KINDS = ("start", "route", "fuel", "injection", "body", "terrain", "doppler")


def seen(rows: list[dict[str, str]]) -> tuple[np.ndarray, np.ndarray]:
    """What can be observed (n, k), and the error of the calm-day figure (n,), percent of the truth."""

    def column(name: str) -> np.ndarray:
        return np.array([float(row[name]) for row in rows])

    error = column("calm_error")
    columns = [column(name) for name in ("temperature_c", "km", "surprise", "effective")]
    columns += [column(f"{name}_true") + column(f"{name}_error") for name in PENALTIES]
    columns += [column(f"{name}_half") for name in PENALTIES]
    columns.append(column("calm_half") / (1 + error / 100))  # the interval over the figure, not over the truth
    for kind in KINDS:
        columns += [np.array([float(row[kind] == value) for row in rows]) for value in sorted({r[kind] for r in rows})]
    return np.stack(columns, axis=1), error


def main() -> None:
    """Print what is left, of all drives and by the start."""
    from sklearn.ensemble import HistGradientBoostingRegressor  # noqa: PLC0415
    from sklearn.model_selection import KFold, cross_val_predict  # noqa: PLC0415

    with Path(sys.argv[1]).open(newline="") as file:
        rows = [row for row in csv.DictReader(file) if not row.get("failed")]
    x, error = seen(rows)
    trees = HistGradientBoostingRegressor(max_iter=120, learning_rate=0.05, max_leaf_nodes=8, min_samples_leaf=30)
    guessed = cross_val_predict(trees, x, error, cv=KFold(10, shuffle=True, random_state=1))
    for name, which in (
        ("all", np.ones(len(rows), bool)),
        *((s, np.array([r["start"] == s for r in rows])) for s in ("cold", "warm")),
    ):
        before, after = (float(np.sqrt(np.mean(v[which] ** 2))) for v in (error, error - guessed))
        print(f"{name:5s} {which.sum():5d} drives: off by {before:.2f} % rms, with the regression's help {after:.2f} %")


if __name__ == "__main__":
    main()
