"""From the fit of a day of coastdowns to the figures of its sheet."""

from __future__ import annotations

import math
from collections.abc import Mapping
from typing import Final

import msgspec
import numpy as np
from numpy.typing import NDArray

from calmday.metrology.constants import STANDARD_GRAVITY_MPS2
from calmday.metrology.draws import standard_normal
from calmday.metrology.figure import Figure, exact, from_draws, from_normal
from calmday.procedures.coastdown import FittedCoastdown
from calmday.procedures.coastdown_book import by_the_book
from calmday.procedures.coastdown_flags import flags_of_coastdown
from calmday.procedures.coastdown_load import forces, highest_kmh, middle_kmh, more_passes, parts_at, road_load
from calmday.procedures.coastdown_result import CoastdownResult, DoubtLine, FitQuality, OnePass
from calmday.procedures.weighed_run_result import Provenance

FloatArray = NDArray[np.float64]

COASTED_SPEED_MPS: Final = 60 / 3.6
"""Speed that rolling resistance is stated at: in the middle of a roll from 100 to 20 km/h."""
_MOST_POINTS = 40
_KMH = 3.6

_SOURCES: Final[dict[str, tuple[str, ...]]] = {
    "mass": ("test_mass",),
    "rotating parts": ("rotating_share", "rotating_mass"),
    "tyres: growth, warmth": ("rolling_growth", "rolling_temperature", "tyre_state", "tyre_warmup", "tyre_time"),
    "driveline in neutral": ("driveline_drag", "neutral_share"),
    "wind": ("wind_factor", "wind_direction", "wind_offset_east", "wind_offset_north", "yaw_growth", "turbulence"),
    "air density": ("air_density",),
}


def result_of_coastdown(fitted: FittedCoastdown, made_by: Provenance) -> CoastdownResult:
    """Every figure of a fitted day; the sentence is left to the report."""
    fit, p = fitted.fit, fitted.values
    prior = fit.parameters
    passes = _passes(fitted)
    drag, rolling = prior["drag_area"], prior["rolling_resistance"]
    head, cross = _wind(fitted)
    posterior = fitted.posterior
    without_air = not_air(p)
    plain = CoastdownResult(
        vehicle=fit.day.vehicle.name,
        label=fit.day.label,
        sentence="",
        drag_area=from_draws(p["drag_area"], "m2"),
        rolling_resistance=from_draws(without_air, "1"),
        tyre_rolling_resistance=from_draws(p["rolling_resistance"], "1"),
        correlation=float(np.corrcoef(p["drag_area"], without_air)[0, 1]),
        road_load=road_load(p),
        forces=forces(p, highest_kmh(fitted)),
        drag_area_before=_before(drag.centre, drag.spread, drag.unit),
        rolling_resistance_before=from_draws(not_air(_drawn_before(fitted)), "1"),
        tyre_rolling_resistance_before=_before(rolling.centre, rolling.spread, rolling.unit),
        wind_along=from_draws(head, "m/s"),
        wind_across=from_draws(np.abs(cross), "m/s"),
        grade=tuple(
            from_draws(100 * p[f"grade_{k + 1}"], "%") for k in range(int(fit.rolls.road.max()) + 1)
        ),
        by_the_book=by_the_book(fitted),
        passes=passes,
        more_passes=more_passes(fitted),
        doubt=_doubt(fitted),
        quality=FitQuality(
            draws=len(posterior.scores), effective_draws=posterior.effective_draws, moves=posterior.moves,
            accepted=posterior.accepted, sound=posterior.sound, gusts_over_report=fit.sizes.gust,
            grade_waves_percent=100 * fit.sizes.wave,
        ),
        provenance=made_by,
    )  # fmt: skip
    return msgspec.structs.replace(plain, flags=tuple(flags_of_coastdown(fitted, plain)))


def not_air(p: Mapping[str, FloatArray]) -> FloatArray:
    """All that is not air over weight, at 60 km/h on the calm standard day, per draw (m,)."""
    _, tyres, driveline = parts_at(p, COASTED_SPEED_MPS)
    return np.asarray((tyres + driveline) / (p["test_mass"] * STANDARD_GRAVITY_MPS2))


def _drawn_before(fitted: FittedCoastdown) -> dict[str, FloatArray]:
    """As many draws of vehicle and day as the fit gave, before the passes."""
    parameters = fitted.fit.parameters
    return parameters.values(standard_normal(len(fitted.posterior.scores), len(parameters), fitted.seed + 5003))


def _before(centre: float, spread: float, unit: str) -> Figure:
    """A log-normal parameter before the passes."""
    reach = math.exp(1.959963984540054 * spread)
    return Figure(centre, centre * spread, centre / reach, centre * reach, unit)


def _wind(fitted: FittedCoastdown) -> tuple[FloatArray, FloatArray]:
    """Mean head and cross wind of the day in the direction of the first pass, per draw (m,)."""
    rolls = fitted.fit.rolls
    known = np.flatnonzero(rolls.known)
    if known.size == 0:
        none = np.zeros(len(fitted.posterior.scores))
        return none, none
    parts = [_met(fitted, int(k)) for k in known]
    way = float(rolls.way[known[0]])
    signs = way * rolls.way[known]
    head = np.mean([sign * one[0] for sign, one in zip(signs, parts, strict=True)], axis=0)
    cross = np.mean([sign * one[1] for sign, one in zip(signs, parts, strict=True)], axis=0)
    return np.asarray(head), np.asarray(cross)


def _met(fitted: FittedCoastdown, k: int) -> tuple[FloatArray, FloatArray]:
    """Head and cross wind of one pass in its own direction, mean over its time, per draw (m,)."""
    rolls, p = fitted.fit.rolls, fitted.values
    a = p["wind_factor"] * np.cos(p["wind_direction"])
    b = p["wind_factor"] * np.sin(p["wind_direction"])
    sin, cos = float(np.sin(rolls.heading_rad[k]).mean()), float(np.cos(rolls.heading_rad[k]).mean())
    head, cross = float(rolls.head[k].mean()), float(rolls.cross[k].mean())
    east, north = p["wind_offset_east"], p["wind_offset_north"]
    return a * head + b * cross - east * sin - north * cos, a * cross - b * head + east * cos - north * sin


def _passes(fitted: FittedCoastdown) -> tuple[OnePass, ...]:
    fit = fitted.fit
    centre = fit.parameters.values(fitted.top.mode[None])
    modelled = fit.predicted(centre)[0]
    off = fit.readings - modelled
    found = []
    for k, one in enumerate(fit.passes):
        rows = slice(int(fit.edges[k]), int(fit.edges[k + 1]))
        force, sd = fit.own_force(k, off)
        odd = k in fit.odd
        wind = from_draws(_met(fitted, k)[0], "m/s") if one.heading_known else exact(math.nan, "m/s")
        thin = np.unique(np.linspace(0, one.time_s.size - 1, min(_MOST_POINTS, one.time_s.size)).astype(int))
        found.append(
            OnePass(
                number=k + 1, table=one.source + 1,
                from_speed=exact(_KMH * float(one.speed_mps[0]), "km/h"),
                to_speed=exact(_KMH * float(one.speed_mps[-1]), "km/h"),
                duration=exact(one.duration_s, "s"),
                heading_deg=_degrees(one.heading_rad) if one.heading_known else None,
                headwind=wind,
                misfit=exact(float(np.sqrt(np.mean(off[rows] ** 2))), "m/s"),
                extra_force=from_normal(force, sd, "N"),
                odd=odd, why=_why(force) if odd else "",
                time_s=tuple(np.round(one.time_s[thin], 2).tolist()),
                recorded_kmh=tuple(np.round(_KMH * one.speed_mps[thin], 3).tolist()),
                modelled_kmh=tuple(np.round(_KMH * modelled[rows][thin], 3).tolist()),
            )
        )  # fmt: skip
    return tuple(found)


def _degrees(heading: FloatArray) -> float:
    mean = math.atan2(float(np.sin(heading).mean()), float(np.cos(heading).mean()))
    return round(math.degrees(mean) % 360.0, 1) % 360.0


def _why(force: float) -> str:
    if force > 0:
        return (
            f"held back by {force:.0f} N more than the other passes say: wind from ahead that lasted, a brake that "
            "dragged, a gear or the clutch not fully out, or the brake pedal touched"
        )
    return (
        f"held back by {-force:.0f} N less than the other passes say: wind from behind that lasted, a vehicle ahead or "
        "beside that broke the wind, or the throttle touched before it was out of gear"
    )


def _doubt(fitted: FittedCoastdown) -> tuple[DoubtLine, ...]:
    """Shares of the variance of the road load at the middle speed: what knowing each group exactly would take away.

    In the linear picture at the peak; what is left when all groups are known is the receiver, gusts and the road.
    """
    fit, top = fitted.fit, fitted.top
    kmh = middle_kmh(fitted)
    scores = fitted.posterior.scores
    force = np.log(sum(parts_at(fitted.values, kmh / _KMH)))
    aim = np.cov(np.concatenate([scores, force[:, None]], axis=1), rowvar=False)[-1, :-1]
    total = float(force.var(ddof=1))
    shares = {}
    for name, keys in _SOURCES.items():
        columns = [fit.parameters.column(key) for key in keys if key in fit.parameters.keys]
        own = top.covariance[np.ix_(columns, columns)]
        shares[name] = float(aim[columns] @ np.linalg.solve(own, aim[columns])) / total if columns else 0.0
    rest = max(1.0 - sum(shares.values()), 0.0)
    shares["gusts, road and receiver"] = rest
    whole = sum(shares.values())
    lines = [DoubtLine(source=name, share=share / whole) for name, share in shares.items() if share > 0]
    return tuple(sorted(lines, key=lambda line: -line.share))
