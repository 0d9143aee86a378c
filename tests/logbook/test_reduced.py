"""Runs reduced from the logbook: the command's figures to the digit, kept with what produced them."""

from __future__ import annotations

from pathlib import Path

import msgspec
import numpy as np
import pytest

from calmday import operations
from calmday.errors import InputError
from calmday.logbook import Logbook
from calmday.operations.logbook import (
    along_of,
    check_logged,
    check_stored,
    export_folder,
    import_folder,
    inputs_of_run,
    next_steps,
    reduce_logged,
    result_of,
    run_of_logbook,
    standing,
    vehicle_doubts,
    why_stale,
)
from calmday.operations.logbook.along import packed
from calmday.reports.json_result import json_result

DRAWS = 200


@pytest.fixture
def run(book: Logbook) -> str:
    """The invented example, brought into the logbook."""
    found = import_folder(book, operations.demo_folder(), "Ada")
    return next(subject.id for subject in found.subjects if subject.kind == "run")


def test_the_figures_are_the_commands_to_the_digit(book: Logbook, run: str, tmp_path: Path) -> None:
    stored = reduce_logged(book, run, DRAWS, 7)
    for name, run_id in (("one", run), ("all", None)):
        export_folder(book, run_id, tmp_path / name)
        (file,) = (tmp_path / name).rglob("run.toml")
        command = operations.reduce_file(file, DRAWS, 7).result
        assert json_result(command) == stored.content
        assert command.provenance.inputs_sha256 == stored.inputs_sha256
    original = operations.reduce_file(operations.demo_folder() / "run.toml", DRAWS, 7).result
    assert json_result(original) == stored.content, "and those of the folder it came from"
    assert check_stored(stored)
    assert set(result_of(stored).provenance.files) == {"run.toml", "vehicle.toml", "full_load.csv", "out.gpx"}
    assert inputs_of_run(book, run) == run_of_logbook(book, run)[1]


def test_a_result_is_computed_anew_when_its_inputs_or_the_program_change(
    book: Logbook, run: str, monkeypatch: pytest.MonkeyPatch
) -> None:
    first = reduce_logged(book, run, DRAWS)
    assert reduce_logged(book, run, DRAWS).id == first.id
    assert why_stale(book, run, first) == ""
    assert reduce_logged(book, run, DRAWS, again=True).id != first.id
    book.write("run", run, {"weighing[1].gross[0]": "10.150 kg"}, "Ada", why="read again")
    assert why_stale(book, run, first) == "inputs"
    corrected = reduce_logged(book, run, DRAWS)
    assert corrected.summary["fuel_mass"]["value"] < first.summary["fuel_mass"]["value"]
    monkeypatch.setattr("calmday.operations.logbook.reducing.__version__", "9.9.9")
    assert why_stale(book, run, corrected) == "program"
    newer = reduce_logged(book, run, DRAWS)
    assert newer.version == "9.9.9"
    assert len(book.results(run)) == 4, "earlier results stay"
    vehicle = book.subject(run).parent
    book.write("vehicle", vehicle, {"vehicle.final_drive": "3.9"}, "Ada")
    assert why_stale(book, run, newer) == "inputs", "the vehicle is an input too"


def test_the_drive_is_kept_beside_the_result(book: Logbook, run: str) -> None:
    stored = book.result(reduce_logged(book, run, DRAWS).id)
    along = along_of(stored)
    fresh = operations.reduce_file(operations.demo_folder() / "run.toml", DRAWS).along
    assert along is not None
    assert fresh is not None
    np.testing.assert_array_equal(along.time_s, fresh.time_s)
    np.testing.assert_allclose(along.east_m, fresh.east_m, rtol=1e-6)
    np.testing.assert_allclose(along.speed_mps.mean, fresh.speed_mps.mean, rtol=2e-4)
    assert fresh.fuel_rate_kgps is not None
    assert along.fuel_rate_kgps is not None
    np.testing.assert_allclose(along.fuel_rate_kgps.high, fresh.fuel_rate_kgps.high, rtol=2e-4)
    assert (along.laps, along.stops, along.gaps, along.wind) == (fresh.laps, fresh.stops, fresh.gaps, fresh.wind)
    assert packed(None) == b""
    assert along_of(msgspec.structs.replace(stored, along=b"")) is None


def test_the_check_of_the_lay_by_is_the_commands(book: Logbook, run: str) -> None:
    assert check_logged(book, run) == operations.check_file(operations.demo_folder() / "run.toml")


def test_faults_carry_the_key_under_which_the_field_is_kept(book: Logbook, run: str) -> None:
    vehicle = book.subject(run).parent
    book.write(
        "run", run, {"weighing[1].when": "after", "weighing[1].gross[1]": None, "weighing[4].when": "after"}, "Ada"
    )
    book.write("run", run, {"weighing[4].gross[3]": "10 gal", "terain": "open"}, "Ada")
    book.write("vehicle", vehicle, {"change[2].date": "2026-01-01", "change[2].final_drive": "400"}, "Ada")
    with pytest.raises(InputError) as told:
        reduce_logged(book, run)
    assert {(f.file, f.key) for f in told.value.faults} == {
        ("run.toml", "weighing[4].gross[3]"),
        ("run.toml", "terain"),
        ("vehicle.toml", "change[2].final_drive"),
    }


def test_a_run_without_its_files_is_said_so(book: Logbook, run: str) -> None:
    book.detach("run", run, book.files("run", run, "track")[0].id, by="Ada")
    book.write("run", run, {"track[0]": "lost.gpx"}, "Ada")
    with pytest.raises(InputError, match=r"lost.gpx: file: is not attached"):
        reduce_logged(book, run)


def test_where_a_vehicle_stands_and_what_to_do_next(book: Logbook, run: str) -> None:
    vehicle = book.subject(run).parent
    assert standing(book, vehicle).unreduced == (run,)
    stored = reduce_logged(book, run, DRAWS)
    found = standing(book, vehicle)
    calm = result_of(stored).calm_day
    assert calm is not None
    assert found.best is not None
    assert found.best.figure == calm.L_per_100km
    assert found.next_steps == next_steps(book, stored)
    first = {step.code for step in found.next_steps[:2]}
    assert first == {"warm-start", "calmer-day"}, "cold engine and wind are the largest doubts of the example"
    assert [s.bits_per_hour for s in found.next_steps] == sorted(
        (s.bits_per_hour for s in found.next_steps), reverse=True
    )
    book.void(run, "hose", "Ada")
    assert standing(book, vehicle).best is None
    with pytest.raises(InputError, match="is a run"):
        standing(book, run)


def test_a_result_that_must_not_be_used_does_not_count(book: Logbook, run: str) -> None:
    vehicle = book.subject(run).parent
    book.write("run", run, {"weighing[1].gross[0]": "12.9 kg", "weighing[1].gross[1]": "12.9 kg"}, "Ada")
    reduce_logged(book, run, DRAWS)
    found = standing(book, vehicle)
    assert found.best is None
    assert run in found.left_out


def test_what_the_build_sheet_leaves_open_is_weighed(book: Logbook) -> None:
    vehicle = book.create("vehicle", "Fen Hauler")
    bare = vehicle_doubts(book, vehicle)
    assert bare[0].half_width_percent == max(d.half_width_percent for d in bare)
    assert {key for d in bare for key in d.keys} > {"vehicle.test_mass", "engine.displacement", "vehicle.tyre"}
    book.write("vehicle", vehicle, {
        "vehicle.test_mass": "1480 kg", "vehicle.frontal_area": "2.9 m^2", "vehicle.drag_coefficient": "0.44",
        "vehicle.gear_ratios[0]": "3.65", "vehicle.final_drive": "4.1", "vehicle.tyre": "195/75 R16",
    }, "Ada")  # fmt: skip
    fuller = vehicle_doubts(book, vehicle)
    left = {key for d in fuller for key in d.keys}
    assert not left & {
        "vehicle.test_mass",
        "vehicle.width",
        "vehicle.drag_coefficient",
        "vehicle.rolling_circumference",
    }
    assert len(fuller) < len(bare)
