"""From pooled draws to the figures of the knowledge sheet."""

from __future__ import annotations

import itertools
import math
from collections.abc import Iterator
from typing import Final

import msgspec
import numpy as np
from numpy.typing import NDArray

from calmday.metrology.draws import standard_normal
from calmday.metrology.figure import Figure, from_draws, from_normal
from calmday.metrology.fuels import fuel_properties
from calmday.model.cruise import level_cruise
from calmday.model.evidence import SHARED
from calmday.model.parameters import Parameter
from calmday.procedures.build_changes import untold
from calmday.procedures.flag import Flag, flag
from calmday.procedures.knowledge import Knowledge
from calmday.procedures.knowledge_next import next_measurements
from calmday.procedures.knowledge_result import (
    Entangled,
    KnowledgeResult,
    KnownParameter,
    PoolQuality,
    Rung,
    TestTold,
)
from calmday.procedures.weighed_run_result import ParameterEstimate, Provenance

FloatArray = NDArray[np.float64]

CRUISE_MPS: Final = 80 / 3.6
FAR_FROM_SHEET: Final = 2.2
"""A parameter further from the build sheet than this many of its expected standard deviations is doubted there; sheets
that are right come so far in 2 to 4 of 100 invented vehicles."""
TIED: Final = 0.35
MOST_TIES: Final = 3
SHEET_KEYS: Final = {
    "test_mass": "test_mass",
    "drag_area": "drag_coefficient, frontal_area",
    "rolling_resistance": "rolling_resistance",
    "driveline_efficiency": "driveline_efficiency",
    "gearing_scale": "final_drive, tyre, gear_ratios",
    "indicated_efficiency": "engine fuel and injection",
    "friction_mep": "engine displacement",
    "full_load_scale": "full_load",
}
"""Which keys of the build sheet a parameter rests on."""

_COASTDOWN = "a coastdown tells them apart"
_WEIGH = "a weighbridge tells them apart"
TIES: Final[dict[frozenset[str], str]] = {
    frozenset({"drag_area", "rolling_resistance"}): (
        "what one gives to the air the other takes from the tyres; rolling over a wide range of speeds tells them apart"
    ),
    frozenset({"indicated_efficiency", "friction_mep"}): (
        "a better engine with more friction burns the same; fuel at idle tells them apart"
    ),
    frozenset({"drag_area", "indicated_efficiency"}): f"more drag with a better engine burns the same; {_COASTDOWN}",
    frozenset({"rolling_resistance", "indicated_efficiency"}): (
        f"more rolling with a better engine burns the same; {_COASTDOWN}"
    ),
    frozenset({"drag_area", "rolling_growth"}): "both grow with the square of speed; no road test tells them apart",
    frozenset({"rolling_resistance", "driveline_drag"}): "both slow a free roll; only their sum is measured",
    frozenset({"test_mass", "drag_area"}): f"a heavier vehicle with more drag slows alike; {_WEIGH}",
    frozenset({"test_mass", "rolling_resistance"}): f"weight times coefficient is what rolls; {_WEIGH}",
}


def result_of_knowledge(known: Knowledge, made_by: Provenance) -> KnowledgeResult:
    """Every figure of the sheet; the sentence is left to the report."""
    posterior = known.pooled.posterior
    fuel = _cruise(known, known.values)
    prior = known.model.parameters.values(
        standard_normal(len(known.scores), len(known.model.parameters), known.seed + 2)
    )
    parameters = tuple(_parameter(known, key, prior) for key in _keys(known))
    keys = tuple(one.key for one in parameters)
    shared = known.shared[:, [SHARED.index(key) for key in keys]]
    table: FloatArray = np.atleast_2d(np.corrcoef(shared, rowvar=False))
    tests = _tests(known)
    figure = from_draws(fuel, "L/100km")
    runs = sum(piece.kind == "run" for piece in known.pieces)
    plain = KnowledgeResult(
        vehicle=known.vehicle.name,
        sentence="",
        level_cruise_80=figure,
        level_cruise_80_before=from_draws(_cruise(known, prior), "L/100km"),
        parameters=parameters,
        tests=tests,
        left_out=known.left_out,
        keys=keys,
        correlations=tuple(tuple(float(x) for x in row) for row in table),
        entangled=_entangled(keys, table),
        next_measurements=next_measurements(
            known.model, known.values, np.log(fuel), (figure.value, figure.unit), runs
        ),
        densities=tuple(from_normal(value, sd, "kg/m3") for value, sd in known.densities),
        quality=PoolQuality(
            draws=len(posterior.scores), effective_draws=posterior.effective_draws, moves=posterior.moves,
            accepted=posterior.accepted, sound=posterior.sound,
        ),
        provenance=made_by,
    )  # fmt: skip
    return msgspec.structs.replace(plain, flags=tuple(_flags(known, plain)))


def _keys(known: Knowledge) -> list[str]:
    """Shared parameters that this vehicle has: no throttling losses without a throttle."""
    throttled = known.model.engine_class.throttled
    return [key for key in SHARED if throttled or key != "pumping_mep"]


def _cruise(known: Knowledge, values: dict[str, FloatArray]) -> FloatArray:
    """Consumption at a steady 80 km/h on the calm standard day, L/100 km, per draw."""
    cruise = level_cruise(known.model, values, np.array([CRUISE_MPS]))
    fuel = fuel_properties(known.model.fuel)
    per_metre = cruise.fuel_power_w[:, 0] / fuel.net_heating_value_jpkg / CRUISE_MPS
    return np.asarray(per_metre / fuel.density_15_kgpm3 * 1e8)


def _parameter(known: Knowledge, key: str, prior: dict[str, FloatArray]) -> KnownParameter:
    parameter, column = known.model.parameters[key], SHARED.index(key)
    factor, unit = (1e-5, "bar") if parameter.unit == "Pa" else (1.0, parameter.unit)
    after = from_draws(factor * known.values[key], unit)
    before = from_draws(factor * prior[key], unit)
    scores = known.shared[:, column]
    means, sds = known.pooled.ladder_mean[:, column], known.pooled.ladder_sd[:, column]
    labels = ["build sheet", *(piece.label for piece in known.pieces)]
    rungs = tuple(
        Rung(after=label, figure=_figure(parameter, float(mean), float(sd)).scaled(factor, unit))
        for label, mean, sd in zip(labels, means, sds, strict=True)
    )
    drops = np.diff(np.log(sds))
    told = labels[1 + int(np.argmin(drops))] if drops.size and drops.min() < -0.02 else ""
    informed = math.sqrt(max(1 - float(scores.var()), 0.0))
    return KnownParameter(
        key=key, group=parameter.group,
        estimate=ParameterEstimate(
            value=after.value, standard_uncertainty=after.standard_uncertainty, low=after.low, high=after.high,
            unit=after.unit, origin="measured" if scores.std() < 0.8 else parameter.origin,
            source=parameter.source, before=before,
        ),
        source=parameter.source, narrowed_to=min(float(scores.std()), 1.0), told_most_by=told,
        off_prior=float(scores.mean()) / max(informed, 0.3), ladder=rungs,
    )  # fmt: skip


def _figure(parameter: Parameter, mean: float, sd: float) -> Figure:
    """A parameter whose score is normal, as a figure."""
    at = parameter.values(mean + sd * np.array([-1.959963984540054, -1.0, 0.0, 1.0, 1.959963984540054]))
    return Figure(
        float(at[2]), float(at[3] - at[1]) / 2, float(min(at[0], at[4])), float(max(at[0], at[4])), parameter.unit
    )


def _tests(known: Knowledge) -> tuple[TestTold, ...]:
    found = []
    for piece, judged in zip(known.pieces, known.pooled.judged, strict=True):
        state = known.states[piece.state]
        when = "as built" if state.since is None else f"since {state.since.isoformat()}"
        found.append(
            TestTold(
                label=piece.label, kind=piece.kind, state=when, off_others=judged.z, weight=judged.widened**-2,
                odd=judged.widened > 1,
            )
        )  # fmt: skip
    return tuple(found)


def _entangled(keys: tuple[str, ...], table: FloatArray) -> tuple[Entangled, ...]:
    pairs = [(abs(table[i, j]), i, j) for i in range(len(keys)) for j in range(i)]
    strongest = [pair for pair in sorted(pairs, reverse=True) if pair[0] >= TIED][:MOST_TIES]
    return tuple(
        Entangled(
            first=keys[j], second=keys[i], correlation=float(table[i, j]),
            words=TIES.get(frozenset({keys[i], keys[j]}), "the tests so far fix their combination, not each by itself"),
        )
        for _, i, j in strongest
    )  # fmt: skip


def _flags(known: Knowledge, result: KnowledgeResult) -> Iterator[Flag]:
    if not known.pieces:
        yield flag(
            "no-tests", "note",
            "No test went in.",
            "Everything here is the build sheet and what vehicles of its kind usually are.",
            "Add a weighed run, a coastdown or a small measurement.",
        )  # fmt: skip
    for test in result.tests:
        if test.odd:
            yield flag(
                "odd-test", "caution",
                f"{test.label} does not agree with the other tests: {test.off_others:.1f} times as far off as usual.",
                f"It counts for {100 * test.weight:.0f} % of what it would, so that it does not drag the rest along.",
                "Look at its scale, wind, units, and at which state of the build sheet it belongs to.",
            )  # fmt: skip
    far = [one for one in result.parameters if abs(one.off_prior) > FAR_FROM_SHEET and one.narrowed_to < 0.9]
    if far:
        said = [f"{one.key.replace('_', ' ')} far {'above' if one.off_prior > 0 else 'below'}" for one in far]
        yield flag(
            "build-sheet-doubted", "caution",
            f"The tests put {' and '.join(said)} what the build sheet makes likely.",
            "Either the sheet states something that is not so, or the tests that told most of it.",
            f"Check in the build sheet: {'; '.join(SHEET_KEYS.get(one.key, one.key) for one in far)}.",
        )  # fmt: skip
    silent = [after for before, after in itertools.pairwise(known.states) if untold(before, after)]
    if silent:
        dates = ", ".join(state.since.isoformat() for state in silent if state.since is not None)
        many = "A change" if len(silent) == 1 else f"{len(silent)} changes"
        yield flag(
            "change-untold", "note",
            f"{many} of the build sheet{f' ({dates})' if dates else ''} "
            f"{'does' if len(silent) == 1 else 'do'} not say what was touched.",
            "Drag, rolling, engine and mass are all taken to have changed a little.",
            "Say in its what = \"...\" which part it was: tyres, axle, timing, bodywork.",
        )  # fmt: skip
    if known.pieces and not result.quality.sound:
        yield flag(
            "few-effective-draws", "caution",
            "The simulation settled poorly.",
            "The ends of the intervals are then rough.",
            "Ask for more draws, or leave out the test that lies furthest off.",
        )  # fmt: skip
