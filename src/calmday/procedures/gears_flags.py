"""What a reader of gears must know: what was assumed, where the curve was drawn on, where the air leaves the chart."""

from __future__ import annotations

from collections.abc import Iterator
from typing import Final

import numpy as np

from calmday.metrology.constants import REFERENCE_PRESSURE_PA
from calmday.model.basis import REFERENCE_DENSITY
from calmday.physics.power_correction import Standard
from calmday.procedures.flag import Flag, flag, gravest_first
from calmday.procedures.gears import Swept
from calmday.procedures.gears_vehicle import UNDRAWN_TOP
from calmday.procedures.run_flags_curve import curve_flags
from calmday.records.vehicle import Vehicle

_THIN: Final = 0.05


def flags_of_gears(vehicle: Vehicle, made: Swept, standard: Standard | None) -> tuple[Flag, ...]:
    """All remarks on an answer about gears, the most serious first."""
    found = [
        *_gearing(vehicle),
        *_engine(vehicle, made),
        *curve_flags(vehicle.engine.full_load),
        *_air(vehicle, made, standard),
        *_assumed(vehicle),
    ]
    return gravest_first(found)


def _gearing(vehicle: Vehicle) -> Iterator[Flag]:
    if not vehicle.gear_ratios or vehicle.final_drive is None:
        yield flag(
            "gearing-assumed", "caution",
            "The build sheet states no gear ratios or no axle ratio.",
            "Every speed here rests on gears of a usual vehicle, which may be far from yours.",
            "Count teeth or turns and write down gear ratios and axle ratio (gear_ratios, final_drive).",
        )  # fmt: skip
    elif vehicle.tyre is None and vehicle.rolling_circumference_m is None:
        yield flag(
            "tyre-assumed", "caution",
            "The build sheet states neither tyre nor rolling_circumference.",
            "All speeds move in proportion to the tyre.",
            "Roll out five to ten wheel turns with the driver aboard and enter rolling_circumference.",
        )  # fmt: skip


def _engine(vehicle: Vehicle, made: Swept) -> Iterator[Flag]:
    engine, used = vehicle.engine, made.vehicle
    if engine.full_load is None:
        yield flag(
            "curve-assumed", "caution",
            "There is no full-load curve.",
            "Thrust is that of a usual engine of this kind and size, known to about 30 %.",
            "Enter full_load: six points read off a chart with a ruler are enough.",
        )  # fmt: skip
    elif used.drawn_top_rps < (1 - UNDRAWN_TOP) * used.governed_rps:
        yield flag(
            "curve-ends-early", "caution",
            f"The full-load curve ends at {60 * used.drawn_top_rps:.0f} rpm, governed speed is "
            f"{60 * used.governed_rps:.0f} rpm.",
            "What is said above the drawn end is a guess by its last slope.",
            "Read the chart to its end, or correct governed_speed.",
        )  # fmt: skip
    if engine.governed_speed_rps is None:
        yield flag(
            "governed-speed-assumed", "caution",
            f"No governed speed is stated; {60 * used.governed_rps:.0f} rpm is taken.",
            "It limits the speed in every gear and the changes for best acceleration.",
            "Enter governed_speed: the speed not to exceed.",
        )  # fmt: skip


def _air(vehicle: Vehicle, made: Swept, standard: Standard | None) -> Iterator[Flag]:
    density = made.on.air_density_kgpm3
    if abs(density / REFERENCE_DENSITY - 1) > _THIN:
        lost = 100 * (1 - float(np.mean((density / made.vehicle.chart_air_kgpm3) ** made.vehicle.thinning)))
        word = "thin" if density < REFERENCE_DENSITY else "thick"
        yield flag(
            "air-far-from-chart", "note",
            f"The air is {word}: {density:.3f} kg/m³; full-load power is taken {abs(lost):.0f} % "
            f"{'lower' if lost > 0 else 'higher'}.",
            "How much an engine feels the air is known by kind only; the band is wider for it.",
            "A timed hill or a pull in that air (calmday pull) measures it.",
        )  # fmt: skip
    if standard is None and vehicle.engine.full_load is not None:
        yield flag(
            "chart-standard-unknown", "note",
            f"Nobody says what air the chart is stated for; that of the calm day ({REFERENCE_PRESSURE_PA / 1000:.0f} "
            "kPa, 20 °C) is taken.",
            "Between the standards lies 4 % of power; the band holds it. Gross or net can be 3 to 10 % more.",
            "If the chart names a standard, enter full_load_standard; if it says gross or net, full_load_rating.",
        )  # fmt: skip


def _assumed(vehicle: Vehicle) -> Iterator[Flag]:
    absent = [
        name
        for name, value in (
            ("test mass", vehicle.test_mass_kg),
            ("frontal area", vehicle.frontal_area_m2 or vehicle.width_m),
            ("drag coefficient", vehicle.drag_coefficient),
            ("rolling resistance", vehicle.rolling_resistance),
            ("engine displacement", vehicle.engine.displacement_m3),
        )
        if value is None
    ]
    if absent:
        yield flag(
            "assumed-by-class", "note",
            f"Not on the build sheet: {', '.join(absent)}.",
            "A usual value for this kind of vehicle stands in, with a wide spread.",
            "Enter what you know, or let a weighed run teach it.",
        )  # fmt: skip
