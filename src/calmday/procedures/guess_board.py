"""The guess board: who was nearest by the rule declared, what the crowd knew, and how sure the order is."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from typing import Final

import numpy as np

from calmday.errors import InputError
from calmday.metrology.constants import (
    CUBIC_METRE_PER_IMPERIAL_GALLON,
    CUBIC_METRE_PER_US_GALLON,
    METRE_PER_MILE,
)
from calmday.metrology.draws import FloatArray, standard_normal
from calmday.metrology.figure import Figure
from calmday.metrology.middle import median
from calmday.procedures.flag import Flag, flag
from calmday.procedures.guess_result import Crowd, GuessBoard, GuessRow, OtherRule, Seal
from calmday.procedures.weighed_run_result import Consumption, Provenance, RunResult
from calmday.records.run import GUESS_RULES, Guessing, GuessRule, Prediction
from calmday.records.seal import MODEL_NAME, seal_holds

DRAWS: Final = 2000
SEED: Final = 20260412
SAME: Final = 1e-9
SURE: Final = 0.9
_MILES_PER: Final = {
    "mpg_us": 1e8 * CUBIC_METRE_PER_US_GALLON / METRE_PER_MILE,
    "mpg_imp": 1e8 * CUBIC_METRE_PER_IMPERIAL_GALLON / METRE_PER_MILE,
    "km_per_L": 100.0,
}
OFF_UNITS: Final = {"fuel per distance": "L/100km", "distance per fuel": "", "proportion": "%"}


def litres_of(value: float, unit: str, of: Consumption) -> float:
    """A guess in L/100 km; grams by the fuel of the result."""
    if unit == "L_per_100km":
        return value
    if unit in _MILES_PER:
        return _MILES_PER[unit] / value
    return value * of.L_per_100km.value / of.g_per_km.value


def shown_in(litres: float, unit: str, of: Consumption) -> float:
    """L/100 km in the unit of the board."""
    if unit == "L_per_100km":
        return litres
    if unit in _MILES_PER:
        return _MILES_PER[unit] / litres
    return litres * of.g_per_km.value / of.L_per_100km.value


def rule_of(guessing: Guessing | None) -> tuple[str, GuessRule]:
    """Unit and rule in force: as declared; a unit without a rule is scored in that unit; else litres."""
    unit = (guessing.unit if guessing is not None else None) or "L_per_100km"
    if guessing is not None and guessing.rule is not None:
        return unit, guessing.rule
    return unit, "distance per fuel" if unit in _MILES_PER else "fuel per distance"


def distances(rule: GuessRule, guesses: FloatArray, truth: FloatArray, per: float) -> FloatArray:
    """How far guesses (L/100 km) are from the truth by a rule; `per` turns 1/L into the unit of distance per fuel."""
    if rule == "fuel per distance":
        return np.asarray(np.abs(guesses - truth))
    if rule == "distance per fuel":
        return np.asarray(np.abs(per / guesses - per / truth))
    return np.asarray(100 * np.abs(np.log(guesses / truth)))


def guess_board(
    result: RunResult,
    predictions: Sequence[Prediction],
    guessing: Guessing | None,
    provenance: Provenance,
    *,
    declared: str = "",
    in_time: bool | None = None,
) -> GuessBoard:
    """The board of a run whose fuel has been weighed. `declared`, `in_time` as the logbook knows them.

    Raises InputError where the weighings leave no fuel burnt.
    """
    figure = guessing.figure if guessing is not None else "as driven"
    truth = result.calm_day if figure == "calm day" and result.calm_day is not None else result.as_driven
    if truth is result.as_driven:
        figure = "as driven"
    if not truth.L_per_100km.value > 0:
        wrong, right = "gives no fuel that was burnt, so no guess can be near it", "more weighed before than after"
        raise InputError.one(result.label, "weighing", wrong, right)
    unit, rule = rule_of(guessing)
    litres = np.array([litres_of(p.value, p.unit, truth) for p in predictions])
    per = _MILES_PER.get(unit, _MILES_PER["mpg_us"])
    rows = _ranked(predictions, litres, truth, unit, rule, per)
    others = _others(predictions, litres, truth, rule, per)
    shown: Figure = getattr(truth, unit)
    crowd = _crowd([row for row in rows if not row.own], shown.value, truth, unit, rule, per)
    said = declared or (guessing.declared if guessing is not None else "")
    known = guessing is not None and (guessing.unit is not None or guessing.rule is not None)
    return GuessBoard(
        label=result.label,
        vehicle=result.vehicle,
        sentence="",
        figure=figure,
        result=shown,
        L_per_100km=truth.L_per_100km,
        mpg_us=truth.mpg_us,
        mpg_imp=truth.mpg_imp,
        unit=unit,
        rule=rule,
        off_unit=OFF_UNITS[rule] or shown_unit(unit),
        declared=said if known else "",
        in_time=in_time if known else None,
        guesses=rows,
        crowd=crowd,
        other_rules=others,
        flags=tuple(_flags(rows, others, known, in_time, result)),
        provenance=provenance,
    )


def shown_unit(unit: str) -> str:
    """The unit in which distance per fuel is counted."""
    words = {"mpg_us": "mpg US", "mpg_imp": "mpg imp", "km_per_L": "km/L"}
    return words.get(unit, words["mpg_us"])


def _ranked(
    predictions: Sequence[Prediction], litres: FloatArray, truth: Consumption, unit: str, rule: GuessRule, per: float
) -> tuple[GuessRow, ...]:
    if not predictions:
        return ()
    centre = truth.L_per_100km
    off = distances(rule, litres, np.array(centre.value), per)
    places = places_of(off)
    share = nearest_share(rule, litres, centre, per)
    result = shown_in(centre.value, unit, truth)
    rows = []
    for i, each in enumerate(predictions):
        value = shown_in(float(litres[i]), unit, truth)
        rows.append(
            GuessRow(
                place=places[i],
                by=each.by,
                as_entered=each.as_entered,
                L_per_100km=float(litres[i]),
                mpg_us=_MILES_PER["mpg_us"] / float(litres[i]),
                mpg_imp=_MILES_PER["mpg_imp"] / float(litres[i]),
                shown=value,
                error=value - result,
                off_by=float(off[i]),
                nearest=float(share[i]),
                within=centre.low <= float(litres[i]) <= centre.high,
                seal=_seal(each),
                digest=each.digest,
                salt=each.salt,
                own=each.by == MODEL_NAME,
            )
        )
    return tuple(sorted(rows, key=lambda row: (row.place, row.by)))


def places_of(off: FloatArray) -> list[int]:
    """Places 1, 2, 2, 4...: those equally near share one, and the next place counts them all."""
    return [1 + int(np.sum(off < own - SAME * max(own, 1.0))) for own in off]


def nearest_share(rule: GuessRule, litres: FloatArray, centre: Figure, per: float) -> FloatArray:
    """How often each guess is the nearest when the result is drawn within its own doubt; ties share."""
    draws = centre.value + centre.standard_uncertainty * standard_normal(DRAWS, 1, SEED)[:, 0]
    draws = np.maximum(draws, 1e-3 * centre.value)
    off = distances(rule, litres[None, :], draws[:, None], per)
    least = off <= off.min(axis=1, keepdims=True) + SAME
    return np.asarray((least / least.sum(axis=1, keepdims=True)).mean(axis=0))


def _seal(each: Prediction) -> Seal:
    if not each.digest:
        return "none"
    return "holds" if seal_holds(each.digest, each.salt, each.by, each.as_entered) else "broken"


def _others(
    predictions: Sequence[Prediction], litres: FloatArray, truth: Consumption, rule: GuessRule, per: float
) -> tuple[OtherRule, ...]:
    """The order under each rule that was not declared."""
    if len(predictions) < 2:
        return ()
    centre = np.array(truth.L_per_100km.value)
    own = places_of(distances(rule, litres, centre, per))
    found = []
    for other in GUESS_RULES:
        if other == rule:
            continue
        places = places_of(distances(_rule(other), litres, centre, per))
        order = sorted(range(len(predictions)), key=lambda i: (places[i], predictions[i].by))
        found.append(OtherRule(rule=other, order=tuple(predictions[i].by for i in order), differs=places != own))
    return tuple(found)


def _rule(word: str) -> GuessRule:
    match word:
        case "fuel per distance" | "distance per fuel":
            return word
        case _:
            return "proportion"


def _crowd(
    rows: Sequence[GuessRow], result: float, truth: Consumption, unit: str, rule: GuessRule, per: float
) -> Crowd | None:
    """What all people together guessed. The middle is taken in the unit of the board."""
    if not rows:
        return None
    shown = np.array([row.shown for row in rows])
    middle = median(shown)
    own = float(distances(rule, np.array(litres_of(middle, unit, truth)), np.array(truth.L_per_100km.value), per))
    return Crowd(
        count=len(rows),
        median=middle,
        mean=float(shown.mean()),
        spread=float(shown.std(ddof=1)) if len(rows) > 1 else None,
        lowest=float(shown.min()),
        highest=float(shown.max()),
        median_error=middle - result,
        beats=sum(row.off_by > own + SAME for row in rows),
    )


def _flags(
    rows: Sequence[GuessRow],
    others: Sequence[OtherRule],
    declared: bool,
    in_time: bool | None,
    result: RunResult,
) -> Iterator[Flag]:
    stops = [each for each in result.flags if each.severity == "stop"]
    if stops:
        yield flag(
            "run-must-not-be-used", "stop",
            stops[0].saw,
            "Nobody can be nearest to a figure that must not be used.",
            "Keep the guesses sealed for the next run, or tell the audience why.",
        )  # fmt: skip
    if not declared:
        yield flag(
            "rule-not-declared", "caution",
            "Nobody declared unit and rule before the guesses were opened.",
            "Nearest by litres and nearest by miles per gallon are not always the same person.",
            "Next time declare both before the first guess; here litres over the same distance are counted.",
        )  # fmt: skip
    elif in_time is False:
        yield flag(
            "rule-declared-late", "caution",
            "Unit and rule were declared after the guesses were opened.",
            "Whoever chooses the rule then chooses the winner.",
            "Show the order under every rule.",
        )  # fmt: skip
    broken = [row.by or "somebody" for row in rows if row.seal == "broken"]
    if broken:
        yield flag(
            "seal-broken", "stop",
            f"What stands here is not what was sealed: {', '.join(broken)}.",
            "Name, guess or salt was changed after the seal was shown.",
            "Find the text as it was sealed, or leave this guess out.",
        )  # fmt: skip
    first = [row for row in rows if row.place == 1]
    if first and len(rows) > 1 and sum(row.nearest for row in first) < SURE:
        rivals = [row for row in rows if row.place > 1 and row.nearest > 1 - SURE]
        names = ", ".join(row.by for row in rivals) or "others"
        yield flag(
            "winner-unsure", "note",
            f"Within the doubt of the result the nearest could also be: {names}.",
            "The guesses lie closer together than the result is known.",
            "Call it by the rule, and say that it was close.",
        )  # fmt: skip
    flipped = [other.rule for other in others if other.differs]
    if flipped:
        yield flag(
            "order-depends-on-rule", "note",
            f"By another rule ({', '.join(flipped)}) some places would change.",
            "Equal steps in miles per gallon are not equal steps in fuel.",
            "Name the rule when you name the winner.",
        )  # fmt: skip
