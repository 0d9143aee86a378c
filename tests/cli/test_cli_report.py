"""`calmday report` in process: what is in the folder, what it gives away, and that it repeats to the last digit."""

from __future__ import annotations

import csv
import hashlib
import io
import json
import math
import re
import shlex
import shutil
import sys
from pathlib import Path
from typing import Any

import pytest
from PIL import Image

from calmday.cli.main import main
from calmday.files.named_files import inputs_digest
from calmday.logbook import Logbook
from calmday.operations import demo_folder
from calmday.operations.logbook import import_folder
from calmday.operations.logbook.reporting import ReportWishes, report_logged

FEW = ["--draws", "300"]
SHOWN = ("report.pdf", "report.html", "pictures", "tables", "README.txt")


@pytest.fixture(scope="module")
def made(tmp_path_factory: pytest.TempPathFactory) -> Path:
    folder = tmp_path_factory.mktemp("report") / "to-show"
    assert main(["report", str(demo_folder()), "--folder", str(folder), *FEW]) == 0
    return folder


FIX = re.compile(r'lat="([^"]+)" lon="([^"]+)"')


def metres(one: tuple[float, ...], other: tuple[float, ...]) -> float:
    """On a sphere of 6371 km, flat over so short a way."""
    north, east = math.radians(one[0] - other[0]), math.radians(one[1] - other[1]) * math.cos(math.radians(one[0]))
    return 6_371_000 * math.hypot(north, east)


def shown_files(folder: Path) -> list[Path]:
    return [path for path in folder.rglob("*") if path.is_file() and path.relative_to(folder).parts[0] in SHOWN]


def command_of(folder: Path) -> list[str]:
    told = (folder / "repeat" / "how-to-repeat.txt").read_text(encoding="utf-8")
    line = next(line for line in told.splitlines() if line.startswith("  calmday "))
    return shlex.split(line)[1:]


def test_the_folder_holds_pages_pictures_tables_and_what_they_rest_on(made: Path) -> None:
    assert {path.name for path in made.iterdir()} == {*SHOWN, "repeat"}
    assert (made / "report.pdf").read_bytes().startswith(b"%PDF-")
    assert len(list((made / "pictures").glob("*.png"))) == len(list((made / "pictures").glob("*.svg"))) == 12
    about = (made / "README.txt").read_text(encoding="utf-8")
    for name in (*SHOWN[:4], "repeat/"):
        assert f"  {name}" in about


def test_one_command_repeats_the_result_to_the_last_digit(
    made: Path, monkeypatch: pytest.MonkeyPatch, capsysbinary: Any
) -> None:
    monkeypatch.chdir(made / "repeat")
    assert main(command_of(made)) == 0
    assert capsysbinary.readouterr().out == (made / "repeat" / "result.json").read_bytes()


def test_the_folder_repeats_where_it_was_moved_to(
    made: Path, tmp_path: Path, monkeypatch: pytest.MonkeyPatch, capsysbinary: Any
) -> None:
    shutil.copytree(made / "repeat", tmp_path / "elsewhere")
    monkeypatch.chdir(tmp_path / "elsewhere")
    assert main(command_of(made)) == 0
    assert capsysbinary.readouterr().out == (made / "repeat" / "result.json").read_bytes()


def test_the_digests_told_are_those_of_the_files(made: Path) -> None:
    told = (made / "repeat" / "how-to-repeat.txt").read_text(encoding="utf-8")
    listed = re.findall(r"^  ([0-9a-f]{64})  (\S+)$", told, re.MULTILINE)
    assert {name for _, name in listed} == {"run.toml", "vehicle.toml", "out.gpx", "full_load.csv"}
    for sha256, name in listed:
        assert hashlib.sha256((made / "repeat" / name).read_bytes()).hexdigest() == sha256
    digest = inputs_digest((name, sha256) for sha256, name in listed)
    assert digest in told
    assert json.loads((made / "repeat" / "result.json").read_bytes())["provenance"]["inputs_sha256"] == digest
    assert hashlib.sha256((made / "repeat" / "result.json").read_bytes()).hexdigest() in told


def test_the_page_the_pictures_and_the_tables_say_the_same_figure(made: Path) -> None:
    result = json.loads((made / "repeat" / "result.json").read_bytes())
    page = (made / "report.html").read_text(encoding="utf-8").replace("\u00a0", " ")
    assert result["sentence"] in page
    with (made / "tables" / "runs.csv").open(encoding="utf-8-sig", newline="") as stream:
        row = next(csv.DictReader(stream))
    assert float(row["calm day [L/100km]"]) == pytest.approx(result["calm_day"]["L_per_100km"]["value"], rel=1e-9)
    value = f"{result['calm_day']['L_per_100km']['value']:.1f}"
    assert value in (made / "pictures" / "captions.txt").read_text(encoding="utf-8").split("2-headline")[1]


def places(folder: Path) -> set[str]:
    """Latitudes and longitudes of the track to three decimals: a hundred metres."""
    gpx = (demo_folder() / "out.gpx").read_text(encoding="utf-8")
    return {value[: value.index(".") + 4] for value in re.findall(r'l(?:at|on)="(-?\d+\.\d+)"', gpx)}


def test_no_place_on_the_map_stands_in_what_is_shown(made: Path) -> None:
    coordinates = places(made)
    assert len(coordinates) > 20
    for path in shown_files(made):
        data = path.read_bytes()
        if path.suffix in (".html", ".svg", ".csv", ".txt", ".vtt", ".srt"):
            found = {place for place in coordinates if re.search(rf"(?<![\d.]){re.escape(place)}\d*", data.decode())}
            assert not {place for place in found if len(place) > 5}, path.name
        assert b"ZZAA" not in data  # the airfield


def test_with_cut_home_nothing_near_the_ends_is_drawn_or_given_away(made: Path, tmp_path: Path) -> None:
    folder = tmp_path / "for-the-club"
    assert main(["report", str(demo_folder()), "--folder", str(folder), "--cut-home", "800 m", *FEW]) == 0
    whole, cut = ((f / "repeat" / "out.gpx").read_text(encoding="utf-8") for f in (made, folder))
    fixes = [[tuple(map(float, found)) for found in FIX.findall(track)] for track in (whole, cut)]
    (first, *_, last), left = fixes
    assert min(metres(fix, end) for fix in left for end in (first, last)) > 795
    assert 0 < len(left) < len(fixes[0])
    told = (folder / "repeat" / "how-to-repeat.txt").read_text(encoding="utf-8")
    assert "do not give the same figures again" in told
    assert "fixes within 800 m of where the drive began or ended were left out" in told
    assert "What lies within 800 m" in (folder / "report.html").read_text(encoding="utf-8").replace("\u00a0", " ")
    both = [(f / "pictures" / "6-the-road-wide.svg").read_text(encoding="utf-8") for f in (made, folder)]
    assert both[0] != both[1]
    assert json.loads((folder / "repeat" / "result.json").read_bytes()) == json.loads(
        (made / "repeat" / "result.json").read_bytes()
    )  # the figures are those of the whole drive


def test_the_question_and_the_decimal_comma_are_taken(tmp_path: Path, capsys: Any) -> None:
    folder = tmp_path / "out"
    asked = "Is #set *it* <b>thirsty</b>?"
    args = ["report", str(demo_folder()), "--folder", str(folder), "--question", asked, "--decimal-comma", *FEW]
    assert main(args) == 0
    assert "&lt;b&gt;thirsty&lt;/b&gt;" in (folder / "report.html").read_text(encoding="utf-8").replace("\u00a0", " ")
    with (folder / "tables" / "laps.csv").open(encoding="utf-8-sig", newline="") as stream:
        row = next(csv.DictReader(stream, delimiter=";"))
    assert re.fullmatch(r"9,\d+", row["distance [km]"])


def test_without_the_extras_the_rest_is_made_and_what_to_install_is_said(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch, capsys: Any
) -> None:
    monkeypatch.setitem(sys.modules, "typst", None)
    monkeypatch.setitem(sys.modules, "resvg_py", None)
    folder = tmp_path / "out"
    assert main(["report", str(demo_folder()), "--folder", str(folder), *FEW]) == 0
    told = capsys.readouterr().err
    assert 'pip install "calmday[pdf]"' in told
    assert 'pip install "calmday[pictures]"' in told
    assert not (folder / "report.pdf").exists()
    assert (folder / "report.html").exists()
    assert list((folder / "pictures").glob("*.svg"))


def test_a_folder_that_holds_something_is_left_alone(tmp_path: Path, capsys: Any) -> None:
    (tmp_path / "mine.txt").write_text("mine", encoding="utf-8")
    assert main(["report", str(demo_folder()), "--folder", str(tmp_path), *FEW]) == 2
    assert "is there already" in capsys.readouterr().err
    assert [path.name for path in tmp_path.iterdir()] == ["mine.txt"]


def test_a_run_at_fault_makes_nothing_and_says_why(tmp_path: Path, capsys: Any) -> None:
    bad = tmp_path / "run.toml"
    bad.write_text('track = "none.gpx"\n', encoding="utf-8")
    assert main(["report", str(bad), "--folder", str(tmp_path / "out"), *FEW]) == 2
    told = capsys.readouterr().err
    assert f"{bad}: weighing: is missing" in told
    assert [path.name for path in tmp_path.iterdir()] == ["run.toml"]


def test_a_result_that_must_not_be_used_says_so_on_the_page(tmp_path: Path) -> None:
    spoilt = demo_folder().parent / "spoilt" / "after-heavier-than-before.toml"
    folder = tmp_path / "out"
    assert main(["report", str(spoilt), "--folder", str(folder), *FEW]) == 1
    page = (folder / "report.html").read_text(encoding="utf-8").replace("\u00a0", " ")
    assert "This result must not be used." in page
    assert "Stop: " in page
    assert "This result must not be used" in (folder / "pictures" / "captions.txt").read_text(encoding="utf-8")


def test_files_that_lie_elsewhere_come_along(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch, capsysbinary: Any
) -> None:
    """A run beside its vehicle's folder, as people keep them, still repeats from its own folder."""
    shutil.copytree(demo_folder(), tmp_path / "van")
    (tmp_path / "days").mkdir()
    text = (tmp_path / "van" / "run.toml").read_text(encoding="utf-8")
    text = re.sub("^label = .*$", "", text, flags=re.MULTILINE)
    text = text.replace('"vehicle.toml"', '"../van/vehicle.toml"').replace('"out.gpx"', '"../van/out.gpx"')
    (tmp_path / "days" / "a windy sunday.toml").write_text(text, encoding="utf-8")
    folder = tmp_path / "out"
    assert main(["report", str(tmp_path / "days" / "a windy sunday.toml"), "--folder", str(folder), *FEW]) == 0
    assert "on “a windy sunday”?" in (folder / "report.html").read_text(encoding="utf-8").replace("\u00a0", " ")
    capsysbinary.readouterr()
    shutil.rmtree(tmp_path / "van")
    monkeypatch.chdir(folder / "repeat")
    assert main(command_of(folder)) == 0
    assert capsysbinary.readouterr().out == (folder / "repeat" / "result.json").read_bytes()


def test_what_changed_since_the_last_run_and_its_photographs_are_shown(tmp_path: Path) -> None:
    """From a logbook: another axle and other tyre pressures, told in words; the photograph of the scale comes along."""
    source = tmp_path / "van"
    shutil.copytree(demo_folder(), source)
    text = (source / "run.toml").read_text(encoding="utf-8")
    later = text.replace("2026-04-12", "2026-04-13").replace('"290 kPa"', '"330 kPa"').replace("north wind", "again")
    (source / "run_2.toml").write_text(later, encoding="utf-8")
    with (source / "vehicle.toml").open("a", encoding="utf-8") as sheet:
        sheet.write('\n[[change]]\ndate = 2026-04-13\nwhat = "taller axle"\nfinal_drive = 3.7\n')
    picture = io.BytesIO()
    Image.new("RGB", (60, 80), "#445566").save(picture, "JPEG")
    with Logbook.open(tmp_path / "b.calmday") as book:
        runs = [each for each in import_folder(book, source).subjects if each.kind == "run"]
        second = next(each for each in runs if "again" in each.name)
        book.attach("run", second.id, "photograph", "scale before.jpg", picture.getvalue(), by="me")
        made = report_logged(book, second.id, tmp_path / "out", ReportWishes(draws=300, pictures=False))
    assert made.remarks == ()
    page = (tmp_path / "out" / "report.html").read_text(encoding="utf-8").replace("\u00a0", " ")
    for words in ("Since “Fen loop, four laps, north wind”:", "taller axle", "axle ratio: 4.1 before, 3.7 now",
                  "tyre pressure: 290 kPa before, 330 kPa now", 'alt="Photograph: scale before"'):  # fmt: skip
        assert words in page
    assert not (tmp_path / "out" / "pictures").exists()
