"""`calmday report` on a comparison: runs in folders of their own, the same result to the last digit, the figures of an
invented comparison with a known answer on its page."""

from __future__ import annotations

import csv
import json
import re
import shlex
import shutil
from pathlib import Path
from typing import Any

import msgspec
import pypdf
import pytest

from calmday.cli.main import main
from calmday.operations import compare_file, demo_folder
from calmday.procedures.comparison_result import ComparisonResult
from calmday.reports.charts.lettering import plain
from calmday.reports.show.comparison_objections import objections_to_comparison
from calmday.reports.show.comparison_report import ComparisonReport, comparison_document
from calmday.reports.show.comparison_stills import stills_of_comparison
from calmday.reports.show.csv_comparison import compared_runs_csv
from calmday.reports.show.document import texts
from calmday.reports.show.html import html_document
from calmday.reports.show.pdf import fitted, pdf_document

FEW = ["--draws", "300"]
GRAMS = (("A", 899), ("B", 865), ("B", 849), ("A", 889), ("A", 872), ("B", 843), ("B", 831), ("A", 873))
"""Tyre pressure, two against eight tenths of a bar more, in turns: invented; known by its making to be 4.1 % less."""


def noted(folder: Path, grams: Any = GRAMS, **more: str) -> Path:
    """A comparison of which only grams and kilometres were noted, in the order driven."""
    rows = "".join(
        f'[[run]]\nlabel = "{number}"\ngroup = "{"changed" if side == "B" else "baseline"}"\nfuel = "{fuel} g"\n'
        f'distance = "30 km"\n'
        for number, (side, fuel) in enumerate(grams, 1)
    )
    order = ", ".join(f'"{number}"' for number in range(1, len(grams) + 1))
    said = "".join(f'{key} = "{value}"\n' for key, value in more.items())
    path = folder / "comparison.toml"
    path.write_text(f'{said}baseline_name = "2.0 bar"\nchanged_name = "2.8 bar"\norder = [{order}]\n{rows}', "utf-8")
    return path


@pytest.fixture(scope="module")
def driven(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """Two runs before and two after, as files: the example, with other readings on other days."""
    folder = tmp_path_factory.mktemp("driven")
    text = (demo_folder() / "run.toml").read_text(encoding="utf-8")
    for number, (left, right) in enumerate((("10.110", "10.120"), ("10.230", "10.240"), ("10.240", "10.250"),
                                            ("10.130", "10.140")), 1):  # fmt: skip
        own = folder / f"day{number}"
        shutil.copytree(demo_folder(), own)
        changed = text.replace('"10.110 kg", "10.120 kg"', f'"{left} kg", "{right} kg"')
        changed = re.sub(r"^label = .*$", "", changed, flags=re.MULTILINE)
        (own / "run.toml").unlink()
        (own / f"loop {number}.toml").write_text(changed, encoding="utf-8")
    (folder / "axle test.toml").write_text(
        'label = "Axle"\nquestion = "Is the tall axle worth it?"\nbaseline_name = "4.1"\nchanged_name = "3.7"\n'
        'baseline = ["day1/loop 1.toml", "day4/loop 4.toml"]\nchanged = ["day2/loop 2.toml", "day3/loop 3.toml"]\n'
        'order = ["day1/loop 1.toml", "day2/loop 2.toml", "day3/loop 3.toml", "day4/loop 4.toml"]\n',
        encoding="utf-8",
    )
    return folder


@pytest.fixture(scope="module")
def made(driven: Path, tmp_path_factory: pytest.TempPathFactory) -> Path:
    folder = tmp_path_factory.mktemp("made") / "to-show"
    assert main(["report", str(driven / "axle test.toml"), "--folder", str(folder), *FEW]) == 0
    return folder


def test_every_run_lies_in_a_folder_of_its_own(made: Path) -> None:
    runs = sorted(path.relative_to(made / "repeat").as_posix() for path in (made / "repeat").rglob("loop*.toml"))
    assert len(runs) == 4
    assert all(re.fullmatch(r"runs/0[1-4]/loop.[1-4]\.toml", name) for name in runs)
    named = (made / "repeat" / "comparison.toml").read_text(encoding="utf-8")
    assert named.count("runs/0") == 8  # both lists and the order
    assert "day1" not in named


def test_one_command_repeats_the_comparison_to_the_last_digit(
    made: Path, tmp_path: Path, monkeypatch: pytest.MonkeyPatch, capsysbinary: Any
) -> None:
    shutil.copytree(made / "repeat", tmp_path / "elsewhere")
    monkeypatch.chdir(tmp_path / "elsewhere")
    told = (made / "repeat" / "how-to-repeat.txt").read_text(encoding="utf-8")
    line = next(line for line in told.splitlines() if line.startswith("  calmday "))
    assert main(shlex.split(line)[1:]) == 0
    assert capsysbinary.readouterr().out == (made / "repeat" / "result.json").read_bytes()


def test_moving_the_files_does_not_move_the_figures(driven: Path, made: Path) -> None:
    """Labels that come from file names stay, and so does every figure."""
    there = json.loads((made / "repeat" / "result.json").read_bytes())
    here = msgspec.to_builtins(compare_file(driven / "axle test.toml", draws=300))
    for key in ("sentence", "change_percent", "probability_less_fuel", "verdict", "design"):
        assert there[key] == pytest.approx(here[key]) if isinstance(here[key], float) else there[key] == here[key], key
    assert [run["label"] for run in there["runs"]] == [run["label"] for run in here["runs"]]


def test_the_page_says_question_answer_and_both_sides(made: Path) -> None:
    page = (made / "report.html").read_text(encoding="utf-8").replace("\u00a0", " ")
    result = json.loads((made / "repeat" / "result.json").read_bytes())
    assert "<h1>Is the tall axle worth it?</h1>" in page
    assert result["sentence"] in page
    assert "2 with “4.1”, 2 with “3.7”" in page
    first, *_ = pypdf.PdfReader(made / "report.pdf").pages
    assert "Signature" in first.extract_text()


def test_the_table_of_runs_has_every_run(made: Path) -> None:
    with (made / "tables" / "runs.csv").open(encoding="utf-8-sig", newline="") as stream:
        rows = list(csv.DictReader(stream))
    assert [row["group"] for row in rows] == ["4.1", "4.1", "3.7", "3.7"]
    assert {row["used"] for row in rows} == {"yes"}
    with (made / "tables" / "readings.csv").open(encoding="utf-8-sig", newline="") as stream:
        assert len(list(csv.DictReader(stream))) == 16


def test_with_cut_home_every_track_is_cut(driven: Path, tmp_path: Path) -> None:
    folder = tmp_path / "out"
    args = ["report", str(driven / "axle test.toml"), "--folder", str(folder), "--cut-home", "700 m", *FEW]
    assert main(args) == 0
    whole = (demo_folder() / "out.gpx").read_text(encoding="utf-8").count("<trkpt")
    for number in range(1, 5):
        track = (folder / "repeat" / "runs" / f"0{number}" / "out.gpx").read_text(encoding="utf-8")
        assert 0 < track.count("<trkpt") < whole
    told = (folder / "repeat" / "how-to-repeat.txt").read_text(encoding="utf-8")
    assert "the tracks are cut" in told


def test_a_known_answer_stands_on_the_page(tmp_path: Path) -> None:
    folder = tmp_path / "out"
    assert main(["report", str(noted(tmp_path)), "--folder", str(folder), *FEW]) == 0
    page = (folder / "report.html").read_text(encoding="utf-8").replace("\u00a0", " ")
    assert "Did “2.8 bar” make a difference?" in page
    assert "4.1 % less fuel with 2.8 bar" in page
    captions = (folder / "pictures" / "captions.txt").read_text(encoding="utf-8")
    assert "4.1 % less fuel with 2.8 bar" in captions


def answers(result: ComparisonResult) -> dict[str, str]:
    return {each.code: each.answer for each in objections_to_comparison(result, most=20)}


@pytest.fixture(scope="module")
def known(tmp_path_factory: pytest.TempPathFactory) -> ComparisonResult:
    return compare_file(noted(tmp_path_factory.mktemp("known")))


def test_objections_are_answered_by_the_figures(known: ComparisonResult) -> None:
    found = answers(known)
    assert known.smallest_detectable_percent is not None
    assert f"a change of {known.smallest_detectable_percent:.1f} %" in found["few-runs"]
    assert "4 runs before and 4 after" in found["few-runs"]
    assert "took turns" in found["order"]
    assert "was not written down" in found["blind"]
    assert "was not declared beforehand" in found["dropped"]
    assert "−4.1 % fuel for the same distance is +4.3 % distance on the same fuel" in found["percent-base"]
    assert "more than 99 in 100" in found["luck"]


def test_a_test_laid_out_badly_is_told_so(tmp_path: Path) -> None:
    backwards = compare_file(noted(tmp_path, sorted(GRAMS)))
    first = objections_to_comparison(backwards)
    assert len(first) == 5
    order = next(each for each in first if each.code == "order")
    assert order.fair
    assert "Not in turns" in order.answer


def test_eight_runs_fit_one_page_whatever_they_are_called(known: ComparisonResult) -> None:
    """Long names, many remarks: the first page is one page, and no word is lost."""
    odd = "a very long name that goes on " * 6
    runs = tuple(msgspec.structs.replace(run, label=f"{odd}{run.number}") for run in known.runs)
    result = msgspec.structs.replace(
        known, runs=runs, vehicle="N" * 200, question="#set <b>?" * 30, flags=known.flags * 12, changed="漢字" * 40
    )
    report = ComparisonReport(result=result, differs=tuple(f"{odd}: {i}" for i in range(20)))
    whole = comparison_document(report)
    document, size = fitted(whole)
    pages = [" ".join(page.extract_text().split()) for page in pypdf.PdfReader(pdf_file(document, size)).pages]
    assert "Signature" in pages[0]
    assert pages[1].startswith("For critics")
    said = set(texts(document))
    assert [text for text in texts(whole) if text not in said] == []
    html = html_document(document).replace("\u00a0", " ")
    assert "<b>?" not in html
    assert plain("N" * 200) in html


def pdf_file(document: Any, size: float) -> Any:
    import io  # noqa: PLC0415

    return io.BytesIO(pdf_document(document, size))


def test_frames_do_not_claim_what_was_not_seen(tmp_path: Path) -> None:
    nothing = compare_file(noted(tmp_path, [("A", 870), ("B", 872), ("B", 861), ("A", 866), ("A", 859), ("B", 868)]))
    card = next(still for still in stills_of_comparison(nothing) if still.name.endswith("headline"))
    assert "could not see a difference" in card.caption
    assert ">not seen</text>" in card.chart.svg("16:9", "light")
    assert "?." not in card.caption


def test_every_one_of_eight_runs_is_in_the_picture(known: ComparisonResult) -> None:
    """Eight runs have no row each in a film's frame: then each group has a row, and every run its mark in it."""
    runs = next(still for still in stills_of_comparison(known) if still.name.endswith("the-runs"))
    for shape in ("16:9", "9:16"):
        drawn = runs.chart.svg(shape, "light")  # type: ignore[arg-type]
        assert re.findall(r">(2\.[08] bar, 4 runs)<", drawn) == ["2.0 bar, 4 runs", "2.8 bar, 4 runs"]
        circles = [float(r) for r in re.findall(r'<circle [^>]*r="([\d.]+)"', drawn)]
        squares = re.findall(r'<path d="M[^"]*Z"', drawn)
        assert len(circles) == len(squares) == 5, "four runs and the level they make"
        assert len([r for r in circles if r < max(circles)]) == 4
        assert "more<" not in drawn
    small = runs.chart.svg("page", "light")
    assert len(re.findall(r">\d, 2\.[08] bar<", small)) == 8, "a page has a row for each"


def test_runs_without_names_are_told_as_before_and_after(tmp_path: Path) -> None:
    path = noted(tmp_path)
    path.write_text(re.sub(r"^(baseline|changed)_name.*\n", "", path.read_text("utf-8"), flags=re.MULTILINE), "utf-8")
    said = "\n".join(texts(comparison_document(ComparisonReport(result=compare_file(path)))))
    assert "4 before and 4 after the change" in said
    assert "A-B-B-A-A-B-B-A (A before, B after)" in said
    assert "“before”" not in said
    assert "baseline" not in said and "with changed" not in said


def test_on_a_narrow_screen_every_figure_stands_beside_its_words(known: ComparisonResult) -> None:
    """A table of many columns is stacked there, and stays a table to a screen reader."""
    page = html_document(comparison_document(ComparisonReport(result=known)))
    runs = re.search(r'aria-label="The runs, in the order driven"><table role="table" class="stacks">.*?</table>', page)
    assert runs is not None
    cells = re.findall(r'<td role="cell"[^>]* data-head="([^"]*)">', runs[0])
    assert cells[:3] == ["group", "as driven, g/km", "off its group, %"]
    assert len(re.findall(r'role="row"', runs[0])) == 9


def test_the_table_of_runs_says_what_was_fitted_and_no_doubt_that_nobody_knows(tmp_path: Path) -> None:
    path = tmp_path / "comparison.toml"
    rows = [([], 1900), (["cap"], 1850), (["tyres"], 1880), (["cap", "tyres"], 1830)] * 2
    path.write_text(
        'changes = ["cap", "tyres"]\n'
        + "".join(
            f'[[run]]\nlabel = "{i}"\nfuel = "{g} g"\ndistance = "40 km"\nwith = {json.dumps(made)}\n'
            for i, (made, g) in enumerate(rows)
        ),
        "utf-8",
    )
    table = compared_runs_csv(compare_file(path))
    heads = [column.head for column in table.columns]
    told = [dict(zip(heads, row, strict=True)) for row in table.rows]
    assert [each["fitted"] for each in told[:4]] == ["", "cap", "tyres", "cap + tyres"]
    assert told[0]["as driven [g/km]"] == pytest.approx(47.5)
    assert told[0]["as driven give or take [g/km]"] is None


def test_an_axis_keeps_to_the_frame(known: ComparisonResult) -> None:
    answer = next(still for still in stills_of_comparison(known) if still.name.endswith("the-answer"))
    wide, tall = (answer.chart.svg(shape, "light") for shape in ("16:9", "9:16"))  # type: ignore[arg-type]
    assert "less fuel on the left, more on the right, %" in wide
    assert "less fuel on the left, %" in tall


def test_a_setting_and_several_changes_are_reported_in_their_own_words(tmp_path: Path) -> None:
    """Neither has runs before and after: no groups, no question about one change, no empty lines."""
    swept = "".join(
        f'[[run]]\nlabel = "{i}"\nfuel = "{g} g"\ndistance = "40 km"\nsetting = "{deg} deg"\n'
        for i, (deg, g) in enumerate([(4, 1900), (8, 1850), (6, 1860), (10, 1880), (6, 1864), (8, 1846)])
    )
    several = 'changes = ["cap", "tyres"]\n' + "".join(
        f'[[run]]\nlabel = "{i}"\nfuel = "{g} g"\ndistance = "40 km"\nwith = {json.dumps(made)}\n'
        for i, (made, g) in enumerate([([], 1900), (["cap"], 1850), (["tyres"], 1880), (["cap", "tyres"], 1830)] * 2)
    )
    for text, question, laid_out in (
        (swept, "Which setting uses least?", "6 runs at 4 settings"),
        (several, "Which of the changes made a difference?", "8 runs with 2 changes fitted or not"),
    ):
        path = tmp_path / "comparison.toml"
        path.write_text(text, "utf-8")
        report = ComparisonReport(result=compare_file(path))
        said = "\n".join(texts(comparison_document(report)))
        assert question in said
        assert laid_out in said
        assert "“”" not in said
        assert not re.search(r"\b(before|after the change|baseline|What changed|Configuration)\b", said)
