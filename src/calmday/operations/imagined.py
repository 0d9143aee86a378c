"""The verb what-if: what a change would do, before anyone buys parts. Command, page and Python interface call these."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from pathlib import Path
from typing import cast

import msgspec

from calmday import __version__
from calmday.errors import InputError
from calmday.files.coastdown_file import read_coastdown
from calmday.files.named_files import SeenFiles, inputs_digest, place_of_test
from calmday.files.run_file import read_run
from calmday.files.what_if_file import TestFiles, read_what_if, what_if_from_words
from calmday.files.what_if_settings import RELATIVE, STATES
from calmday.metrology.draws import FloatArray
from calmday.metrology.rounding import format_change, listed
from calmday.model.vehicle_model import VehicleModel
from calmday.procedures.gears_vehicle import GearVehicle
from calmday.procedures.knowledge import know
from calmday.procedures.weighed_run import FEWEST_DRAWS
from calmday.procedures.weighed_run_result import Provenance
from calmday.procedures.what_if import USUAL_SPEED_MPS, consider, interaction_percent, over_speed, shown, steady
from calmday.procedures.what_if_axle import best_axle
from calmday.procedures.what_if_draws import Drawn, as_it_is, with_fuel
from calmday.procedures.what_if_flags import flags_of_what_if
from calmday.procedures.what_if_result import Axle, OverSpeed, WhatIfResult
from calmday.procedures.what_if_worth import ranked
from calmday.procedures.what_if_year import year_total
from calmday.records.vehicle import FUEL_KINDS, FuelKind, Vehicle
from calmday.records.what_if import Circumstances, ImaginedChange, WhatIf
from calmday.reports.what_if_sentence import what_if_headline
from calmday.reports.words import spoken_setting

DEFAULT_WHAT_IF_DRAWS = 1000
DEFAULT_WHAT_IF_SEED = 20260412
FEWEST_WHAT_IF_DRAWS = 100

__all__ = ["WhatIfResult", "learnt_from_tests", "what_if", "what_if_file", "what_if_of_factors", "what_if_words"]

Known = tuple[VehicleModel, dict[str, FloatArray]]


def what_if(
    question: WhatIf,
    known: Known | None = None,
    *,
    draws: int = DEFAULT_WHAT_IF_DRAWS,
    seed: int = DEFAULT_WHAT_IF_SEED,
    drawn: GearVehicle | None = None,
    learnt_from: str = "",
    files: tuple[str, ...] = (),
    inputs_sha256: str = "",
) -> WhatIfResult:
    """Answer a question in memory. `known` the model and posterior draws of what tests taught about the vehicle, or
    `drawn` that vehicle drawn already, from the same seed.

    Raises ValueError for too few draws.
    """
    if draws < FEWEST_WHAT_IF_DRAWS:
        raise ValueError(f"draws: {draws} is too few to read 95 % intervals from; give {FEWEST_WHAT_IF_DRAWS} or more")
    question = _with_speed(question)
    now = as_it_is(question.vehicle, draws, seed, known) if drawn is None else with_fuel(drawn, seed)
    before = steady(now, question.circumstances)
    each = [(change, *consider(now, before, change, seed)) for change in question.changes]
    together = consider(now, before, question.together, seed) if question.together is not None else None
    last = together[0] if together is not None else each[0][1] if len(each) == 1 else None
    other = question.together or (question.changes[0] if len(question.changes) == 1 else None)
    plain = WhatIfResult(
        vehicle=question.vehicle.name,
        sentence="",
        before=shown(before),
        changes=ranked(
            before, [(change, after, found) for change, _, after, found in each],
            question.price, question.distance_per_year_m,
        ),
        together=together[2] if together is not None else None,
        interaction_percent=interaction_percent(before, [after for _, _, after, _ in each], together[1])
        if together is not None
        else None,
        axle=_axle(question, now),
        year=year_total(
            now, question.vehicle, last, other.vehicle if other is not None else None, question.year,
            question.price, seed,
        )
        if question.year
        else None,
        over_speed=_over_speed(question, now, last, other),
        learnt_from=learnt_from,
        flags=flags_of_what_if(question, before, [after for _, _, after, _ in each], bool(learnt_from)),
        provenance=Provenance(
            program="calmday", version=__version__, seed=seed, inputs_sha256=inputs_sha256, files=files
        ),
    )  # fmt: skip
    return msgspec.structs.replace(plain, sentence=what_if_headline(plain))


def _over_speed(
    question: WhatIf, now: Drawn, then: Drawn | None, other: ImaginedChange | None
) -> tuple[OverSpeed, ...]:
    """Fuel over speed as it is, and with the change or all of them."""
    found = [over_speed(now, question.circumstances, "as it is")]
    if then is not None and other is not None:
        found.append(over_speed(then, other.circumstances, other.what))
    return tuple(found)


def _with_speed(question: WhatIf) -> WhatIf:
    """With the usual speed wherever none was given; a remark says so."""

    def at_speed(here: Circumstances) -> Circumstances:
        return here if here.speed_mps is not None else msgspec.structs.replace(here, speed_mps=USUAL_SPEED_MPS)

    def driven(change: ImaginedChange) -> ImaginedChange:
        return msgspec.structs.replace(change, circumstances=at_speed(change.circumstances))

    return msgspec.structs.replace(
        question,
        circumstances=at_speed(question.circumstances),
        assumed_speed=question.circumstances.speed_mps is None,
        changes=tuple(driven(change) for change in question.changes),
        together=driven(question.together) if question.together is not None else None,
        year=tuple(msgspec.structs.replace(part, circumstances=at_speed(part.circumstances)) for part in question.year),
    )


def _axle(question: WhatIf, now: Drawn) -> Axle | None:
    """The best axle ratio, where it is asked for and there is one to compare with."""
    if not question.axle:
        return None
    ratio = question.vehicle.final_drive
    if ratio is None or not question.vehicle.gear_ratios:
        raise InputError.one(
            question.file, "best_axle", "needs the gearing", "gear_ratios and final_drive in the build sheet"
        )
    total = sum(part.distance_m for part in question.year)
    duty: list[tuple[float, Circumstances]] = [
        (part.distance_m / total, part.circumstances) for part in question.year if part.distance_m > 0
    ]
    return best_axle(now, ratio, duty or [(1.0, question.circumstances)])


def what_if_of_factors(
    vehicle: Vehicle, factors: Mapping[str, float], states: Mapping[str, float], *, fuel: str = "", axle: bool = False
) -> WhatIf:
    """The question of some sliders: `factors` by the keys that may change in per cent, `states` circumstances in SI by
    their keys, `fuel` another kind of fuel. Several changes are also made together."""
    here = Circumstances(**{STATES[key][0]: value for key, value in states.items()})
    other = _with_fuel(vehicle, fuel)

    def imagined(keys: Sequence[str], what: str, on: Vehicle, words: tuple[str, ...] = ()) -> ImaginedChange:
        made = tuple((RELATIVE[key][0], factors[key] ** RELATIVE[key][1]) for key in keys)
        told = (*(f"{key} {format_change(100 * (factors[key] - 1))} %" for key in keys), *words)
        return ImaginedChange(what=what, told=told, vehicle=on, circumstances=here, factors=made)

    changes = [imagined([key], _words(key, factors[key]), vehicle) for key in factors]
    said = (f"fuel = {fuel}",) if other is not vehicle else ()
    changes += [imagined([], f"fuel {fuel}", other, said)] if said else []
    return WhatIf(
        vehicle=vehicle,
        circumstances=here,
        changes=tuple(changes),
        together=imagined(list(factors), "all together", other, said) if len(changes) > 1 else None,
        axle=axle,
        file="the page",
    )


def _with_fuel(vehicle: Vehicle, fuel: str) -> Vehicle:
    """The vehicle on another fuel; the same where none of that name is known, or it is the one that it burns."""
    if fuel not in FUEL_KINDS or fuel == vehicle.engine.fuel:
        return vehicle
    return msgspec.structs.replace(vehicle, engine=msgspec.structs.replace(vehicle.engine, fuel=cast("FuelKind", fuel)))


def _words(key: str, factor: float) -> str:
    return f"{spoken_setting(key)} {format_change(100 * (factor - 1))} %"


def what_if_file(
    path: Path | str, *, draws: int = DEFAULT_WHAT_IF_DRAWS, seed: int = DEFAULT_WHAT_IF_SEED
) -> WhatIfResult:
    """Read a file of imagined changes and answer it. Raises InputError."""
    place = Path(path)
    seen = SeenFiles(place.parent)
    question, tests = read_what_if(place, seen=seen)
    return _answer(question, tests, place.parent, seen, draws, seed)


def what_if_words(
    vehicle: Path | str,
    settings: tuple[str, ...],
    states: dict[str, str],
    runs: Sequence[Path | str] = (),
    coastdowns: Sequence[Path | str] = (),
    *,
    axle: bool = False,
    draws: int = DEFAULT_WHAT_IF_DRAWS,
    seed: int = DEFAULT_WHAT_IF_SEED,
) -> WhatIfResult:
    """Answer what a command asks: `settings` as key=value, `states` circumstances by name, `runs` and `coastdowns`
    files to learn from. Raises InputError."""
    place = Path(vehicle)
    seen = SeenFiles(place.parent)
    question = what_if_from_words(place, settings, states, axle=axle, seen=seen)
    tests = TestFiles(tuple(str(run) for run in runs), tuple(str(day) for day in coastdowns))
    return _answer(question, tests, Path(), seen, draws, seed)


def _answer(question: WhatIf, tests: TestFiles, folder: Path, seen: SeenFiles, draws: int, seed: int) -> WhatIfResult:
    known, learnt_from = learnt_from_tests(question.vehicle, tests, folder, seen, draws, seed)
    return what_if(
        question,
        known,
        draws=draws,
        seed=seed,
        learnt_from=learnt_from,
        files=tuple(seen.sha256),
        inputs_sha256=inputs_digest(seen.sha256.items()),
    )


def learnt_from_tests(
    vehicle: Vehicle, tests: TestFiles, folder: Path, seen: SeenFiles, draws: int, seed: int
) -> tuple[Known | None, str]:
    """What tests teach about a vehicle, pooled; and in words which they are. Raises InputError."""
    if not tests.runs and not tests.coastdowns:
        return None, ""
    runs = [read_run(place_of_test(folder, run), seen=seen) for run in tests.runs]
    days = [read_coastdown(place_of_test(folder, day), seen=seen) for day in tests.coastdowns]
    found = know(vehicle, runs, days, draws=max(draws, FEWEST_DRAWS), seed=seed)
    return (found.known, listed([piece.label for piece in found.pieces])) if found.pieces else (None, "")
