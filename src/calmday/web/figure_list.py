"""Every figure of a result with its name in the JSON, in words, grouped as a person would look for them."""

from __future__ import annotations

from typing import TYPE_CHECKING, Final

import msgspec

from calmday.reports.run_tables import PARAMETER_WORDS
from calmday.reports.words import amount, clean, duration, percent, unit_words

if TYPE_CHECKING:
    from calmday.metrology.figure import Figure
    from calmday.procedures.weighed_run_result import Consumption, ParameterEstimate, RunResult

CONSUMPTIONS: Final = (
    ("L_per_100km", "Litres per hundred kilometres"),
    ("mpg_us", "Miles per US gallon"),
    ("mpg_imp", "Miles per imperial gallon"),
    ("km_per_L", "Kilometres per litre"),
    ("g_per_km", "Grams of fuel per kilometre"),
    ("MJ_per_km", "Energy of fuel per kilometre"),
    ("co2_g_per_km", "Carbon dioxide per kilometre"),
    ("cost_per_km", "Cost per kilometre"),
)
CONDITIONS: Final = (
    ("wind", "Wind"),
    ("air_density", "Thick or thin air"),
    ("cold_engine", "Cold engine"),
    ("cold_tyres", "Cold tyres"),
)


class FigureRow(msgspec.Struct, frozen=True, kw_only=True):
    """One figure: `name` as in the JSON, `what` in words, `amount` and `unit` as printed, `known` how it came about."""

    name: str
    what: str
    amount: str
    unit: str
    known: str
    figure: Figure | ParameterEstimate


def figure_groups(result: RunResult) -> tuple[tuple[str, tuple[FigureRow, ...]], ...]:
    """All figures, in groups with a heading; groups without a figure are left out."""
    groups = (
        ("On a calm day", _consumption("calm_day", result.calm_day, "weighed, and carried over by the model")),
        ("As driven", _consumption("as_driven", result.as_driven, "weighed and measured")),
        ("What went in", _measured(result)),
        ("What the day cost", _penalties(result)),
        (
            "Where the fuel went",
            tuple(
                _row(
                    f"energy.{i}",
                    clean(item.to).capitalize(),
                    item.share,
                    "modelled, adds up to the weighed fuel",
                    text=percent(item.share),
                )
                for i, item in enumerate(result.energy)
            ),
        ),
        (
            "Laps",
            tuple(
                _row(f"laps.{i}", f"Lap {lap.number}", lap.L_per_100km, "weighed fuel, shared out by the model")
                for i, lap in enumerate(result.laps)
            ),
        ),
        (
            "Legs",
            tuple(
                _row(f"legs.{i}", f"Leg {leg.number}", leg.L_per_100km, "weighed fuel, shared out by the model")
                for i, leg in enumerate(result.legs)
            ),
        ),
        (
            "Steady speed on the level",
            tuple(
                _row(f"level_cruise.{i}", f"{point.speed.value:.0f} km/h", point.L_per_100km, "modelled")
                for i, point in enumerate(result.level_cruise)
            ),
        ),
        (
            "The vehicle, as this run sees it",
            tuple(
                _row(
                    f"estimates.{name}",
                    PARAMETER_WORDS.get(name, name.replace("_", " ")).capitalize(),
                    found,
                    f"{clean(found.origin)} before, moved by the weighing",
                )
                for name, found in result.estimates.items()
            ),
        ),
    )
    return tuple((title, rows) for title, rows in groups if rows)


def figure_named(result: RunResult, name: str) -> FigureRow | None:
    """One figure by its name; None where this result has none."""
    return next((row for _, rows in figure_groups(result) for row in rows if row.name == name), None)


def _consumption(part: str, consumption: Consumption | None, known: str) -> tuple[FigureRow, ...]:
    if consumption is None:
        return ()
    rows = []
    for key, words in CONSUMPTIONS:
        figure = getattr(consumption, key)
        if figure is not None:
            rows.append(_row(f"{part}.{key}", words, figure, known))
    return tuple(rows)


def _measured(result: RunResult) -> tuple[FigureRow, ...]:
    rows = [_row("distance", "Distance", result.distance, "from the track or as declared")]
    if result.moving_time is not None:
        time = result.moving_time
        rows.append(
            _row(
                "moving_time",
                "Time on the move",
                time,
                "from the track or as declared",
                text=duration(time.value) if time.unit == "s" else "",
            )
        )
    rows += [
        _row("fuel_mass", "Fuel burnt, by mass", result.fuel_mass, "weighed"),
        _row("fuel_volume", "Fuel burnt, by volume at 15 °C", result.fuel_volume, "weighed, by density"),
        _row("fuel_volume_60F", "Fuel burnt, by volume at 60 °F", result.fuel_volume_60F, "weighed, by density"),
        _row("fuel_density_15C", "Density at 15 °C", result.fuel_density_15C, "declared or assumed"),
    ]
    return tuple(rows)


def _penalties(result: RunResult) -> tuple[FigureRow, ...]:
    if result.penalties is None:
        return ()
    return tuple(
        _row(
            f"penalties.{key}",
            words,
            getattr(result.penalties, key),
            "modelled, with and without",
            text=percent(getattr(result.penalties, key), signed=True),
        )
        for key, words in CONDITIONS
    )


def _row(name: str, what: str, figure: Figure | ParameterEstimate, known: str, text: str = "") -> FigureRow:
    unit = "" if text else unit_words(figure.unit)
    return FigureRow(name=name, what=what, amount=text or amount(figure), unit=unit, known=known, figure=figure)
