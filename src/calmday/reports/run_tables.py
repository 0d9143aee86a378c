"""Tables and bars of a run's sheet, one function each; None where the result holds nothing to show."""

from __future__ import annotations

import math
from typing import TYPE_CHECKING

from calmday.metrology.constants import METRE_PER_MILE
from calmday.metrology.rounding import decimals_for_half_width
from calmday.reports.sheet import Bar, Bars, Column, Table
from calmday.reports.words import amount, amount_unit, clean, duration, is_known, number, percent, short, unit_words

if TYPE_CHECKING:
    from collections.abc import Sequence

    from calmday.metrology.figure import Figure
    from calmday.procedures.weighed_run_result import BudgetLine, CruisePoint, Lap, Leg, RunResult

CONSUMPTION_ROWS = (
    ("L_per_100km", "L/100 km"),
    ("mpg_us", "mpg US"),
    ("mpg_imp", "mpg imp"),
    ("km_per_L", "km/L"),
    ("g_per_km", "g/km of fuel"),
    ("MJ_per_km", "MJ/km of fuel"),
    ("co2_g_per_km", "g/km of CO₂"),
    ("cost_per_km", "cost"),
)
PARAMETER_WORDS = {
    "drag_area": "drag area",
    "rolling_resistance": "rolling resistance",
    "indicated_efficiency": "indicated efficiency",
    "friction_mep": "engine friction (mean pressure)",
    "test_mass": "test mass",
    "driveline_efficiency": "driveline efficiency",
    "yaw_growth": "growth of drag in side wind",
    "wind_factor": "wind met, as a part of that expected",
    "cold_friction": "extra friction of the cold engine",
    "rolling_growth": "growth of rolling with speed",
    "rolling_temperature": "fall of rolling per °C",
    "driveline_drag": "drag of oil in the driveline",
    "driveline_thickening": "thickening of that oil per °C",
    "friction_slope": "growth of friction with revs",
    "pumping_mep": "throttling losses",
    "accessory_power": "accessories",
    "gearing_scale": "engine turns, over those stated",
    "gear_habit": "how late gears are changed",
    "full_load_scale": "full load against its curve",
}
PARAMETER_MEANS = {
    "indicated_efficiency": "Indicated efficiency: the part of the fuel's energy that pushes the pistons.",
    "friction_mep": "Engine friction: what it takes to turn the engine itself, as a pressure on the pistons.",
    "yaw_growth": "Growth of drag in side wind: 3 is about 9 % more drag where the air comes 10° from the side.",
}
FEW_HOLD_IT = 0.5
SMALL_SHARE = 0.005
_COMPASS = ("N", "NE", "E", "SE", "S", "SW", "W", "NW")


def consumption(result: RunResult) -> Table:
    """As driven and on the calm day side by side, in every usual unit."""
    rows = []
    for name, words in CONSUMPTION_ROWS:
        driven: Figure | None = getattr(result.as_driven, name)
        if driven is None:
            continue
        calm: Figure | None = getattr(result.calm_day, name) if result.calm_day is not None else None
        label = f"{words}, {unit_words(driven.unit)}" if name == "cost_per_km" else words
        rows.append((label, amount(driven), amount(calm) if calm is not None else "we can't tell"))
    columns = (Column("", wrap=True), Column("as driven", "right"), Column("calm day", "right"))
    return Table(title="What it used", columns=columns, rows=tuple(rows))


def energy(result: RunResult) -> Bars | None:
    """Where the energy of the fuel went."""
    if not result.energy:
        return None
    longest = max((item.share.value for item in result.energy if is_known(item.share)), default=0.0)
    bars = tuple(Bar(clean(item.to), _length(item.share.value, longest), percent(item.share)) for item in result.energy)
    return Bars(title="Where the fuel went", bars=bars)


def doubt(result: RunResult) -> Bars | None:
    """Where the doubt comes from: shares of the variance, of the calm-day figure if there is one."""
    lines: Sequence[BudgetLine] = result.budget or result.budget_as_driven
    if not lines:
        return None
    which = "calm-day" if result.budget else "as-driven"
    ordered = sorted(lines, key=lambda line: -line.share if math.isfinite(line.share) else 0.0)
    shown = [line for line in ordered if line.share >= SMALL_SHARE]
    longest = max((line.share for line in shown), default=0.0)
    bars = tuple(Bar(clean(line.source), _length(line.share, longest), f"{100 * line.share:.0f} %") for line in shown)
    hidden = len(ordered) - len(shown)
    note = f"{hidden} more below half a percent each." if hidden > 1 else ""
    return Bars(title=f"Where the doubt of the {which} figure comes from", bars=bars, note=note)


def day_cost(result: RunResult) -> Table | None:
    """What each condition of the day cost, in percent of the calm-day figure."""
    costs = result.penalties
    if costs is None:
        return None
    named = (
        ("wind", costs.wind),
        ("thick or thin air", costs.air_density),
        ("cold engine", costs.cold_engine),
        ("cold tyres", costs.cold_tyres),
    )
    rows = tuple((label, percent(figure, signed=True)) for label, figure in named)
    note = "Percent of the calm-day fuel; plus means it cost fuel. They add up to the difference."
    return Table(title="What the day cost", columns=(Column(""), Column("fuel", "right")), rows=rows, note=note)


def cruise(result: RunResult) -> Bars | None:
    """Steady speed on the level on the calm day."""
    points = [point for point in result.level_cruise if is_known(point.L_per_100km)]
    if not points:
        return None
    longest = max(point.L_per_100km.value for point in points)
    bars = tuple(
        Bar(_cruise_label(point), _length(point.L_per_100km.value, longest), _cruise_amount(point)) for point in points
    )
    note = "L/100 km, and miles per US and imperial gallon, at a steady speed on the level on the calm day."
    if any(point.sustainable < FEW_HOLD_IT for point in points):
        note += " (?) The engine probably does not hold this speed."
    return Bars(title="Level cruise", bars=bars, note=note)


def _cruise_label(point: CruisePoint) -> str:
    doubt_mark = " (?)" if point.sustainable < FEW_HOLD_IT else ""
    revs = point.engine_speed
    at = f", {number(revs.value, -1)} {unit_words(revs.unit)}" if revs is not None and is_known(revs) else ""
    miles = point.speed.value * 1000 / METRE_PER_MILE
    return f"{number(point.speed.value, 0)} {unit_words(point.speed.unit)} ({number(miles, 0)} mph){at}{doubt_mark}"


def _cruise_amount(point: CruisePoint) -> str:
    """`9.5 ± 0.9; 25 US, 30 imp`: the gallons to as many digits as are known, their doubt being that of the litres."""
    gallons = (point.mpg_us, point.mpg_imp)
    if not all(is_known(figure) for figure in gallons):
        return amount(point.L_per_100km)
    us, imp = (_as_known(each) for each in gallons)
    return f"{amount(point.L_per_100km)}; {us} US, {imp} imp"


def _as_known(figure: Figure) -> str:
    """Without its doubt, to the digits that are known."""
    half = figure.half_width
    return number(figure.value, decimals_for_half_width(half)) if half > 0 else short(figure.value)


def laps(result: RunResult) -> Table | None:
    """The laps found in the track."""
    if not result.laps:
        return None
    first = result.laps[0]
    columns = (
        Column("lap", "right"),
        _column("distance", first.distance, rank=2),
        Column("moving", "right", rank=3),
        _column("speed", first.speed, rank=1),
        _column("", first.L_per_100km),
        Column("of the fuel", "right", rank=4),
    )
    return Table(title="Laps", columns=columns, rows=tuple(_lap_row(lap) for lap in result.laps))


def _lap_row(lap: Lap) -> tuple[str, ...]:
    time = duration(lap.moving_time.value) if lap.moving_time.unit == "s" else amount_unit(lap.moving_time)
    shares = (amount(lap.L_per_100km), percent(lap.fuel_share))
    return (str(lap.number), _way(lap.distance), time, amount(lap.speed), *shares)


def _way(distance: Figure) -> str:
    """A distance; one that carries no doubt to the metre, like its neighbours."""
    return amount(distance) if distance.half_width > 0 else number(distance.value, 3)


def legs(result: RunResult) -> Table | None:
    """The stretches in one direction, with the wind as the vehicle met it."""
    if not result.legs:
        return None
    first = result.legs[0]
    columns = (
        Column("leg", "right"),
        Column("towards", rank=1),
        _column("along", first.wind_along),
        _column("across", first.wind_across, rank=3),
        _column("distance", first.distance, rank=5),
        _column("speed", first.speed, rank=2),
        _column("", first.L_per_100km),
        Column("of the fuel", "right", rank=4),
    )
    note = "Wind at vehicle height; along is plus from ahead, minus from behind."
    return Table(title="Legs and wind", columns=columns, rows=tuple(_leg_row(leg) for leg in result.legs), note=note)


def _leg_row(leg: Leg) -> tuple[str, ...]:
    along, across = amount(leg.wind_along, signed=True), amount(leg.wind_across)
    shares = (amount(leg.L_per_100km), percent(leg.fuel_share))
    return (
        str(leg.number),
        compass(leg.heading_deg),
        along,
        across,
        _way(leg.distance),
        amount(leg.speed) if leg.speed.half_width > 0 else number(leg.speed.value, 1),
        *shares,
    )


def compass(heading_deg: float) -> str:
    """A heading as one of eight winds with its degrees: `NE 47°`."""
    if not math.isfinite(heading_deg):
        return "?"
    turned = heading_deg % 360
    return f"{_COMPASS[round(turned / 45) % 8]} {turned:.0f}°"


def estimates(result: RunResult) -> Table | None:
    """What the run says about the vehicle, beside what was assumed or declared before it."""
    if not result.estimates:
        return None
    rows = []
    for name, found in result.estimates.items():
        unit = unit_words(found.unit)
        words = PARAMETER_WORDS.get(name, name.replace("_", " "))
        label = f"{words}, {unit}" if unit else words
        rows.append((label, amount(found), amount(found.before), clean(found.origin), clean(found.source)))
    columns = (
        Column("", wrap=True),
        Column("after this run", "right"),
        Column("before", "right"),
        Column("which was"),
        Column("from", rank=2, wrap=True),
    )
    explained = [words for name, words in PARAMETER_MEANS.items() if name in result.estimates]
    return Table(title="The vehicle, as this run sees it", columns=columns, rows=tuple(rows), note=" ".join(explained))


def measured(result: RunResult) -> Table:
    """Distance, time and fuel as they went in."""
    rows = [("distance", amount_unit(result.distance))]
    if result.moving_time is not None:
        time = result.moving_time
        rows.append(("moving time", duration(time.value) if time.unit == "s" else amount_unit(time)))
    rows += [
        ("fuel burnt, by mass", amount_unit(result.fuel_mass)),
        ("by volume at 15 °C", amount_unit(result.fuel_volume)),
        ("by volume at 60 °F", amount_unit(result.fuel_volume_60F)),
        ("density at 15 °C", amount_unit(result.fuel_density_15C)),
    ]
    return Table(title="What went in", columns=(Column(""), Column("", "right")), rows=tuple(rows))


def _column(head: str, figure: Figure, rank: int = 0) -> Column:
    """A right-aligned column headed with the unit that its figures share."""
    unit = unit_words(figure.unit)
    return Column(f"{head}, {unit}" if head and unit else head or unit, "right", rank)


def _length(value: float, longest: float) -> float:
    return min(max(value / longest, 0.0), 1.0) if longest > 0 and math.isfinite(value) else 0.0
