"""Out to plain folders and in again: the same folder, byte for byte, and the same logbook."""

from __future__ import annotations

import json
import tomllib
from collections.abc import Callable
from pathlib import Path
from typing import Any

import pytest
from full_logbook import GPX, everything_in, fill
from hypothesis import HealthCheck, Phase, given, settings
from hypothesis import strategies as st
from random_documents import DOCUMENTS

from calmday.errors import InputError
from calmday.logbook import Logbook
from calmday.logbook.document import flatten
from calmday.logbook.folder_in import import_folder as take_in
from calmday.logbook.render import same_tables
from calmday.operations.logbook import export_folder, import_folder

SLOW = [HealthCheck.function_scoped_fixture, HealthCheck.too_slow]
AS_FOUND = (Phase.explicit, Phase.generate)
"""Examples are shown as found: making them smaller would take minutes."""

NAMES = st.one_of(
    st.sampled_from(["out.gpx", "OUT.gpx", "a/b.gpx", "../x/out.gpx", "/etc/passwd", "C:\\t\\o.gpx", "run.toml",
                     "history.json", "files", "files/x", ".hidden", "..", "vehicle.toml", "ä ö.nmea", "con.", "a:b"]),
    st.text(st.characters(exclude_categories=("Cs", "Cc")), min_size=1, max_size=12),
)  # fmt: skip


def files_of(folder: Path) -> dict[str, bytes]:
    return {p.relative_to(folder).as_posix(): p.read_bytes() for p in sorted(folder.rglob("*")) if p.is_file()}


def write_folder(folder: Path, files: dict[str, bytes]) -> Path:
    for name, data in files.items():
        (folder / name).parent.mkdir(parents=True, exist_ok=True)
        (folder / name).write_bytes(data)
    return folder


def test_the_whole_logbook_goes_out_and_comes_in_without_loss(
    book: Logbook, new_place: Callable[[], str], tmp_path: Path
) -> None:
    fill(book)
    export_folder(book, None, tmp_path / "one")
    with Logbook.open(new_place()) as other:
        found = import_folder(other, tmp_path / "one", "Bram")
        assert {s.state for s in found.subjects} == {"new"}
        assert found.remarks == ()
        export_folder(other, None, tmp_path / "two")
        assert everything_in(other) == everything_in(book)
        again = import_folder(other, tmp_path / "one", "Bram")
        assert {s.state for s in again.subjects} == {"same"}
        assert everything_in(other) == everything_in(book)
    assert files_of(tmp_path / "one") == files_of(tmp_path / "two")


def test_one_run_goes_out_with_all_it_points_to(
    file_book: Logbook, new_file: Callable[[], Path], tmp_path: Path
) -> None:
    run = fill(file_book)[0]
    export_folder(file_book, run, tmp_path / "one")
    assert {"run.toml", "vehicle.toml", "full_load.csv", "out.gpx", "history.json"} <= files_of(tmp_path / "one").keys()
    with Logbook.open(new_file()) as other:
        kinds = sorted(s.kind for s in import_folder(other, tmp_path / "one", "Bram").subjects)
        assert kinds == ["fuel", "instrument", "route", "run", "vehicle"]
        assert other.document(run) == file_book.document(run)
        assert other.history("run", run) == file_book.history("run", run)
        assert other.results(run, whole=True) == file_book.results(run, whole=True)
        assert other.predictions(run) == file_book.predictions(run)
        export_folder(other, run, tmp_path / "two")
    assert files_of(tmp_path / "one") == files_of(tmp_path / "two")


@given(
    run=DOCUMENTS,
    correction=DOCUMENTS,
    vehicle=DOCUMENTS,
    tracks=st.lists(st.tuples(NAMES, st.binary(min_size=1, max_size=200)), max_size=3),
    notes=st.lists(st.text(st.characters(exclude_categories=("Cs",)), max_size=20), max_size=2),
)
@settings(deadline=None, max_examples=25, suppress_health_check=SLOW, phases=AS_FOUND)
def test_any_logbook_goes_out_and_comes_in_without_loss(
    new_file: Callable[[], Path],
    tmp_path_factory: pytest.TempPathFactory,
    run: dict[str, Any],
    correction: dict[str, Any],
    vehicle: dict[str, Any],
    tracks: list[tuple[str, bytes]],
    notes: list[str],
) -> None:
    tmp_path = tmp_path_factory.mktemp("any")
    with Logbook.open(new_file()) as book, Logbook.open(new_file()) as other:
        driven = book.create("vehicle", "")
        book.write("vehicle", driven, flatten(vehicle), "Ada")
        made = book.create("run", "", driven)
        book.write("run", made, flatten(run), "Ada")
        book.write("run", made, flatten(correction), "Bram", why="read again")
        for name, data in tracks:
            book.attach("run", made, "track", name, data, by="Ada")
        for note in notes:
            book.add_note(made, note, "Ada")
        export_folder(book, None, tmp_path / "one")
        export_folder(book, made, tmp_path / "single")
        import_folder(other, tmp_path / "one", "Cleo")
        assert everything_in(other) == everything_in(book)
        assert same_tables(other.tables("run", made), book.tables("run", made))
        export_folder(other, made, tmp_path / "again")
        assert files_of(tmp_path / "single") == files_of(tmp_path / "again")
        exported = set(files_of(tmp_path / "single").values())
        assert {data for _, data in tracks} <= exported, "tracks leave as they came"


@given(
    tables=DOCUMENTS, names=st.lists(NAMES, max_size=3, unique_by=str.lower), data=st.binary(min_size=1, max_size=99)
)
@settings(deadline=None, max_examples=25, suppress_health_check=SLOW, phases=AS_FOUND)
def test_a_folder_of_ones_own_comes_in_and_goes_out_saying_the_same(
    new_file: Callable[[], Path],
    tmp_path_factory: pytest.TempPathFactory,
    tables: dict[str, Any],
    names: list[str],
    data: bytes,
) -> None:
    from calmday.logbook.toml_text import toml_text  # noqa: PLC0415

    tmp_path = tmp_path_factory.mktemp("own")
    document = {**tables, "track": names}
    document.pop("vehicle", None)
    if not names:
        document.pop("track")
    source = write_folder(tmp_path / "source" / "day", {"run.toml": toml_text(document).encode()})
    for name in names:
        path = source / name
        if path.resolve().is_relative_to(tmp_path) and not path.exists() and not path.name.endswith((".toml", ".json")):
            try:
                write_folder(path.parent, {path.name: data})
            except OSError:
                continue
    with Logbook.open(new_file()) as book:
        found = import_folder(book, source, "Ada")
        run = next(s.id for s in found.subjects if s.kind == "run")
        assert same_tables(book.tables("run", run), document)
        export_folder(book, run, tmp_path / "out")
        written = tomllib.loads((tmp_path / "out" / "run.toml").read_text(encoding="utf-8"))
        assert same_tables({**written, "track": 0}, {**document, "track": 0})
        for path in (tmp_path / "out").rglob("*"):
            assert path.resolve().is_relative_to((tmp_path / "out").resolve())


DAY = {
    "run.toml": b'# my Sunday\nvehicle = "van.toml"\nlabel = "Loop"   # four laps\ndate = 2026-04-12\n'
    b'track = ["logs/out.gpx"]\n[[weighing]]\nwhen = "before"\ngross = ["16.605 kg"]\n',
    "van.toml": b'# the van\n[vehicle]\nname = "Fen Hauler"\n[engine]\nfull_load = "curve.csv"\n',
    "curve.csv": b"speed_rpm,torque_Nm\n1200,118\n4400,104\n",
    "logs/out.gpx": GPX,
    "shopping.toml": b'vehicle = "van.toml"\nlaps = 4\n',
}


def test_what_was_not_changed_leaves_as_it_came_comments_and_all(file_book: Logbook, tmp_path: Path) -> None:
    found = import_folder(file_book, write_folder(tmp_path / "day", DAY), "Ada")
    assert [(s.kind, s.name, s.state) for s in found.subjects] == [
        ("vehicle", "Fen Hauler", "new"),
        ("run", "Loop", "new"),
    ]
    assert found.remarks == ("shopping.toml: nothing that the logbook keeps, left where it is",)
    run = found.subjects[1].id
    export_folder(file_book, run, tmp_path / "out")
    out = files_of(tmp_path / "out")
    assert out["run.toml"] == DAY["run.toml"].replace(b"van.toml", b"vehicle.toml")
    assert out["vehicle.toml"] == DAY["van.toml"]
    assert out["curve.csv"] == DAY["curve.csv"]
    assert out["logs/out.gpx"] == DAY["logs/out.gpx"]
    file_book.write("run", run, {"label": "Loop, wet"}, "Ada")
    export_folder(file_book, run, tmp_path / "changed")
    assert b'label = "Loop, wet"' in (tmp_path / "changed" / "run.toml").read_bytes()
    kept = [data for name, data in files_of(tmp_path / "changed").items() if name.startswith("files/")]
    assert DAY["run.toml"] in kept, "the text it came as stays in the history"


def test_the_same_folder_twice_is_one_run(file_book: Logbook, tmp_path: Path) -> None:
    day = write_folder(tmp_path / "day", DAY)
    import_folder(file_book, day, "Ada")
    before = everything_in(file_book)
    assert {s.state for s in import_folder(file_book, day, "Ada").subjects} == {"same"}
    assert everything_in(file_book) == before


def test_tests_are_known_by_what_they_say_whatever_their_files_are_called(file_book: Logbook, tmp_path: Path) -> None:
    roll = b"time_s,speed_kmh\n" + b"".join(b"%d,%d\n" % (t, 90 - t) for t in range(60))
    more = {
        "tow.toml": b'vehicle = "vehicle.toml"\nkind = "tow force"\nforce = "190 N"\n',
        "long-drove.toml": b'vehicle = "vehicle.toml"\n[[pass]]\ntrack = "roll.csv"\nheading = "20 deg"\n',
        "roll.csv": roll,
        "notes.toml": b'kind = "of no use"\n',
    }
    came = import_folder(file_book, write_folder(tmp_path / "day", {**DAY, **more}), "Ada")
    assert [s.kind for s in came.subjects].count("evidence") == 1
    assert [s.kind for s in came.subjects].count("coastdown") == 1
    assert "notes.toml: nothing that the logbook keeps, left where it is" in came.remarks
    assert not {"tow.toml", "long-drove.toml"} & {remark.partition(": nothing")[0] for remark in came.remarks}


def test_two_runs_of_one_folder_share_their_vehicle(file_book: Logbook, tmp_path: Path) -> None:
    day = write_folder(tmp_path / "day", {**DAY, "run-2.toml": DAY["run.toml"].replace(b"Loop", b"Loop again")})
    import_folder(file_book, day, "Ada")
    assert len(file_book.subjects("vehicle")) == 1
    assert len({run.parent for run in file_book.subjects("run")}) == 1


def test_what_was_changed_by_hand_becomes_a_correction(file_book: Logbook, tmp_path: Path) -> None:
    run = fill(file_book)[0]
    export_folder(file_book, run, tmp_path / "out")
    path = tmp_path / "out" / "run.toml"
    path.write_text(path.read_text().replace("16.650 kg", "16.655 kg").replace("13.240 kg", "13.245 kg"))
    (tmp_path / "out" / "out.gpx").write_bytes(GPX)
    found = import_folder(file_book, tmp_path / "out", "Cleo")
    assert [s.id for s in found.subjects if s.state == "changed"] == [run]
    told = file_book.history("run", run, "weighing[0].gross[0]")
    assert [e.text for e in told] == ["16.605 kg", "16.650 kg", "16.655 kg"]
    assert (told[-1].by, told[-1].why) == ("Cleo", "changed in the folder")
    assert file_book.content(file_book.files("run", run, "track")[0].sha256) == GPX
    again = import_folder(file_book, tmp_path / "out", "Cleo")
    assert {s.state for s in again.subjects} == {"same"}


def test_an_old_folder_does_not_undo_what_was_corrected_since(file_book: Logbook, tmp_path: Path) -> None:
    run = fill(file_book)[0]
    export_folder(file_book, None, tmp_path / "old")
    with Logbook.open(tmp_path / "other.calmday") as other:
        import_folder(other, tmp_path / "old", "Ada")
        other.write("run", run, {"payload": "40 kg"}, "Bram")
        export_folder(other, None, tmp_path / "new")
    import_folder(file_book, tmp_path / "new", "Ada")
    assert file_book.values("run", run)["payload"].text == "40 kg"


def test_a_folder_comes_in_whole_or_not_at_all(file_book: Logbook, tmp_path: Path) -> None:
    before = everything_in(file_book)
    day = write_folder(tmp_path / "day", {**DAY, "zz/run.toml": b"label = \n"})
    with pytest.raises(InputError, match=r"zz/run.toml: line 1"):
        import_folder(file_book, day, "Ada")
    assert everything_in(file_book) == before


def test_files_outside_the_folder_stay_outside_where_asked(file_book: Logbook, tmp_path: Path) -> None:
    (tmp_path / "secret.gpx").write_bytes(b"secret")
    (tmp_path / "van.toml").write_bytes(DAY["van.toml"])
    text = b'vehicle = "../van.toml"\ntrack = ["../secret.gpx", "linked.gpx"]\n[[fill]]\nvolume = "3 L"\n'
    day = write_folder(tmp_path / "day", {"run.toml": text})
    (day / "linked.gpx").symlink_to(tmp_path / "secret.gpx")
    found = import_folder(file_book, day, "Ada", inside_only=True)
    assert sum("lies outside the folder" in remark for remark in found.remarks) == 3
    run = found.subjects[0].id
    assert file_book.files("run", run) == ()
    assert file_book.subjects("vehicle") == ()


@pytest.mark.parametrize(
    ("change", "words"),
    [
        (lambda h: h.update(schema="calmday/history/9"), "is not a form this program knows"),
        (lambda h: h["subjects"][0].update(id="../../etc"), "is not an identifier"),
        (lambda h: h["subjects"][0].update(kind="boat"), "is no history"),
        (lambda h: h["subjects"][0]["entries"][1].update(key="a..b"), "is not an entry"),
        (lambda h: h["subjects"][0]["entries"][1].update(form="magic"), "is not an entry"),
        (lambda h: h["subjects"][0]["entries"][1].update(text="other"), "is not the entry that this logbook holds"),
        (lambda h: h["subjects"][0].update(kind="route"), "is a run in this logbook"),
        (lambda h: h["subjects"][0]["results"][0].update(along="%"), "is cut off"),
        (lambda h: h["subjects"][0].pop("entries"), "is no history"),
    ],
)
def test_a_history_from_a_stranger_is_checked(
    file_book: Logbook, tmp_path: Path, change: Callable[[dict[str, Any]], None], words: str
) -> None:
    run = fill(file_book)[0]
    export_folder(file_book, run, tmp_path / "out")
    history = json.loads((tmp_path / "out" / "history.json").read_text())
    change(history)
    (tmp_path / "out" / "history.json").write_text(json.dumps(history))
    before = everything_in(file_book)
    with pytest.raises(InputError, match=words):
        import_folder(file_book, tmp_path / "out", "Ada")
    assert everything_in(file_book) == before


def test_a_history_names_no_file_outside_its_folder(
    file_book: Logbook, new_file: Callable[[], Path], tmp_path: Path
) -> None:
    run = fill(file_book)[0]
    export_folder(file_book, run, tmp_path / "out")
    history = json.loads((tmp_path / "out" / "history.json").read_text())
    track = next(sha for sha, name in history["files"].items() if name == "out.gpx")
    (tmp_path / "outside.gpx").write_bytes((tmp_path / "out" / "out.gpx").read_bytes())
    (tmp_path / "out" / "out.gpx").unlink()
    history["files"][track] = "../outside.gpx"
    (tmp_path / "out" / "history.json").write_text(json.dumps(history))
    with Logbook.open(new_file()) as other:
        found = import_folder(other, tmp_path / "out", "Ada")
        assert any("out.gpx is not in the folder any more" in remark for remark in found.remarks)
        assert other.files("run", run, "track") == ()


def test_a_folder_that_is_taken_is_left_alone(file_book: Logbook, tmp_path: Path) -> None:
    fill(file_book)
    (tmp_path / "mine").mkdir()
    (tmp_path / "mine" / "letter.txt").write_text("dear")
    for taken in (tmp_path / "mine", tmp_path / "mine" / "letter.txt"):
        with pytest.raises(InputError, match="is there already"):
            export_folder(file_book, None, taken)
    assert files_of(tmp_path) == {**files_of(tmp_path), "mine/letter.txt": b"dear"}
    (tmp_path / "empty").mkdir()
    export_folder(file_book, None, tmp_path / "empty")
    assert (tmp_path / "empty" / "runs").is_dir()


def test_an_empty_folder_has_nothing_to_take_in(file_book: Logbook, tmp_path: Path) -> None:
    (tmp_path / "empty").mkdir()
    with pytest.raises(InputError, match="has nothing in it that the logbook keeps"), file_book.writing() as connection:
        take_in(connection, tmp_path / "empty", "Ada", "logbook")
    with pytest.raises(InputError, match="is not there"):
        import_folder(file_book, tmp_path / "none", "Ada")
