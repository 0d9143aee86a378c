"""The parts of a report: objections and their answers, tables for spreadsheets, stills and captions, photographs."""

from __future__ import annotations

import csv
import datetime as dt
import io
import math
import re

import msgspec
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from PIL import Image
from sample_reports import (
    HOSTILE,
    a_report,
    a_result,
    a_run,
    budget,
    opened,
    squeezed,
    tagged,
    words_of_html,
)
from sample_results import full_result
from svg_reading import parsed, texts, view_box

from calmday.errors import InputError, MissingExtraError
from calmday.metrology.figure import from_normal
from calmday.procedures.weighed_run_result import Penalties
from calmday.records.run import Published
from calmday.reports.charts.frames import FRAMES, NUMBER_SHARE
from calmday.reports.charts.lettering import plain
from calmday.reports.charts.palette import contrast
from calmday.reports.show.csv_tables import CsvColumn, CsvTable, columns_table, csv_bytes, harmless, run_tables
from calmday.reports.show.html import html_document
from calmday.reports.show.objections import PRINTED, objections_to_run
from calmday.reports.show.pdf import fitted, pdf_document
from calmday.reports.show.photographs import LONGEST_SIDE, photo_of
from calmday.reports.show.run_report import run_document
from calmday.reports.show.stills import SHAPES, caption_files, still_files, stills_of_run
from calmday.reports.show.tested import MOST_LINES, how_tested

STILLS = stills_of_run(a_result(), a_report().board)


def said(code: str, **changes: object) -> str:
    """The answer to one objection, whether it is among the five or not."""
    found = {each.code: each for each in objections_to_run(a_result(), a_run(**changes), most=20)}
    return found[code].answer


# --- what people will say


def test_five_objections_are_printed_the_weightiest_first() -> None:
    found = objections_to_run(a_result(), a_run())
    assert len(found) == PRINTED
    assert [each.weight for each in found] == sorted((each.weight for each in found), reverse=True)
    assert found[0].code == "wind"  # half of the doubt and the largest correction


def test_what_counts_for_much_moves_up() -> None:
    calm = budget(("fuel in lines, filter, air pockets", 0.9), ("wind at the vehicle", 0.1))
    quiet = Penalties(**{name: from_normal(0.1, 0.05, "%") for name in Penalties.__struct_fields__})
    found = objections_to_run(a_result(budget=calm, penalties=quiet, calm_day=full_result().as_driven), a_run())
    assert found[0].code == "hidden-fuel"
    assert found[0].fair
    assert "90 % of the doubt" in found[0].answer


def test_answers_hold_the_figures_of_the_result() -> None:
    assert "The wind cost 5 ± 2 % of the calm-day fuel" in said("wind")
    assert "50 % of the doubt" in said("wind")
    assert "engine +2.3 ± 1.2 %, tyres +0.3 ± 0.4 %" in said("cold")
    assert "35.6 ± 1.2 by the US gallon" in said("gallon")
    assert "4 readings, 2.30 ± 0.02 kg burnt. It shows every 5 g." in said("scale")
    assert "51 km/h" in said("saint")
    assert "7.12 ± 0.09 as driven" in said("model")
    assert "2.4 times the give-or-take" in said("model")


def test_one_more_run_halves_only_what_is_drawn_anew() -> None:
    """Half width 0.216 L/100 km; 76.4 % of the variance is drawn anew in each run: 0.216 sqrt(1 - 0.764/2) = 0.170."""
    answer = said("one-run")
    half = 1.959964 * 0.11
    assert f"{half:.2f} L/100 km" in answer
    assert f"about {half * math.sqrt(1 - 0.764 / 2):.2f}" in answer


def test_a_published_figure_is_named_not_scored() -> None:
    label = Published(value=42.8, unit="mpg_us", kind="laboratory, 1998", as_entered="42.8 mpg US")
    answer = said("label", published=label)
    assert "42.8 mpg US (laboratory, 1998), 5.5 L/100 km; this run is 20 % above it." in answer
    assert "no score" in answer
    assert any(each.code == "label" for each in objections_to_run(a_result(), a_run(published=label)))


def test_a_warm_start_is_another_objection() -> None:
    assert "The engine was warm at the start" in said("cold", engine_start="warm")
    assert "nobody wrote it down" in said("cold", engine_start=None)


def test_without_a_calm_day_nothing_is_claimed_of_it() -> None:
    bare = a_result(calm_day=None, penalties=None, budget=())
    found = {each.code: each.answer for each in objections_to_run(bare, a_run(), most=20)}
    assert "no calm-day figure is claimed" in found["wind"]
    assert "cold" not in found
    assert "model" not in found


def test_the_test_is_told_in_ten_lines_at_most() -> None:
    lines = how_tested(a_result(), a_run())
    assert len(lines) <= MOST_LINES
    told = dict(lines)
    assert told["Day"] == "12 April 2026"
    assert told["Weighed"] == "2 readings before and 2 readings after; the scale shows every 5 g"
    assert told["Weather"] == "11 °C, one airfield report"
    assert told["Distance"] == "38.61 ± 0.02 km, odometer, its factor unknown"


def test_the_corrections_stand_with_their_size() -> None:
    document = run_document(a_report())
    shown = next(section for section in document.front if section.title == "As driven, and corrected")
    table = shown.blocks[1]
    rows = {row[0]: row[1:] for row in table.rows}  # type: ignore[union-attr]
    assert rows["wind"] == ("+5 ± 2 %", "+0.34")  # 5.2 % of 6.61
    assert rows["all of them together"] == ("+7.7 %", "+0.51")
    assert "2.4 times the give-or-take" in table.note  # type: ignore[union-attr]


# --- tables for spreadsheets


def rows_of(data: bytes, delimiter: str = ",") -> list[list[str]]:
    assert data.startswith(b"\xef\xbb\xbf")
    return list(csv.reader(io.StringIO(data.decode("utf-8-sig"), newline=""), delimiter=delimiter))


@pytest.mark.parametrize("comma", [False, True])
def test_every_table_reads_back_with_its_heads(comma: bool) -> None:
    tables = run_tables(a_result(), a_run())
    assert [table.name for table in tables] == ["runs", "readings", "weather", "laps", "legs"]
    for table in tables:
        head, *rows = rows_of(csv_bytes(table, decimal_comma=comma), ";" if comma else ",")
        assert head == [column.head for column in table.columns]
        assert len(set(head)) == len(head)
        assert len(rows) == len(table.rows)
        assert all(len(row) == len(head) for row in rows)
        dates = [row[head.index("date")] for row in rows]
        assert all(dt.date.fromisoformat(date) == dt.date(2026, 4, 12) for date in dates)


@pytest.mark.parametrize(("comma", "shown"), [(False, "12880"), (True, "12880")])
def test_readings_are_grams_one_row_each(comma: bool, shown: str) -> None:
    head, *rows = rows_of(csv_bytes(run_tables(a_result(), a_run())[1], decimal_comma=comma), ";" if comma else ",")
    assert len(rows) == 4
    assert rows[0][head.index("gross [g]")] == shown
    assert [row[head.index("when")] for row in rows] == ["before", "before", "after", "after"]


def test_the_decimal_sign_is_one_or_the_other() -> None:
    table = run_tables(a_result(), a_run())[0]
    plain = rows_of(csv_bytes(table))
    comma = rows_of(csv_bytes(table, decimal_comma=True), ";")
    place = plain[0].index("as driven [L/100km]")
    assert plain[1][place] == "7.118"
    assert comma[1][place] == "7,118"
    assert float(plain[1][place + 1]) == pytest.approx(1.959964 * 0.045)


@pytest.mark.parametrize(
    "text", ["=1+1", "+1", "-1", "@SUM(A1)", "\t=1", "\r=1", " =1", "|calc", "%0A=1", "＝1", *HOSTILE[7:8]]
)
def test_no_text_becomes_a_formula(text: str) -> None:
    assert harmless(text).startswith("'")
    table = CsvTable("t", (CsvColumn(text, ""),), ((text,), (-1.5,)))
    head, words, number = rows_of(csv_bytes(table))
    assert head[0].startswith("'")
    assert words[0].startswith("'")
    assert number == ["-1.5"]  # a number stays a number


def test_names_of_people_and_roads_stay_as_they_are() -> None:
    for text in ("Fen loop, four laps", "Wren (A = 0.42)", "漢字", "3 % hill"):
        assert harmless(text) == text


@given(st.lists(st.text(), min_size=1, max_size=4), st.booleans())
def test_any_text_stays_in_its_cell(texts_given: list[str], comma: bool) -> None:
    table = CsvTable("t", tuple(CsvColumn(f"c{i}", "") for i in range(len(texts_given))), (tuple(texts_given),))
    data = csv_bytes(table, decimal_comma=comma)
    _, *found = rows_of(data, ";" if comma else ",")
    assert found == [[harmless(text) for text in texts_given]] or not any(map(harmless, texts_given))


@given(st.text(min_size=1, max_size=60))
@settings(max_examples=25, deadline=None)
def test_any_question_is_text_on_the_page(question: str) -> None:
    words, tags = words_of_html(html_document(run_document(a_report(question=question))))
    assert squeezed(plain(question)) in words
    assert not {"script", "iframe", "form"} & {tag for tag, _ in tags}


def test_what_is_not_known_is_an_empty_cell() -> None:
    table = CsvTable("t", (CsvColumn("a", ""),), ((None,), (math.nan,), ("",)))
    assert rows_of(csv_bytes(table))[1:] == [[""], [""], [""]]


def test_every_column_is_described() -> None:
    tables = run_tables(a_result(), a_run())
    described = columns_table(tables)
    assert len(described.rows) == sum(len(table.columns) for table in tables)
    assert all(isinstance(row[2], str) and len(row[2]) > 4 for row in described.rows)
    for table in tables:
        for column in table.columns:
            known = re.search(r"\[(.+)\]$", column.head)
            counted = column.head in ("run", "date", "vehicle", "kind", "number", "when", "reading", "batch", "time",
                                      "source", "lap", "leg", "remarks", "data digest")  # fmt: skip
            assert known or counted, column.head


# --- stills and captions


def test_the_frames_are_told_in_order() -> None:
    names = [still.name for still in STILLS]
    assert names == ["1-guesses", "2-headline", "3-calm-and-driven", "4-where-the-fuel-went",
                     "5-where-the-doubt-comes-from"]  # fmt: skip


def test_every_frame_comes_wide_and_tall_as_drawing_and_picture() -> None:
    files = still_files(STILLS)
    sizes = {"wide": (1920, 1080), "tall": (1080, 1920)}
    for still in STILLS:
        for _, word in SHAPES:
            assert f"{still.name}-{word}.svg" in files
            assert Image.open(io.BytesIO(files[f"{still.name}-{word}.png"])).size == sizes[word]


@pytest.mark.parametrize("still", STILLS, ids=lambda still: still.name)
@pytest.mark.parametrize(("shape", "word"), SHAPES)
def test_frames_are_large_clear_and_inside_the_margins(still: object, shape: str, word: str) -> None:
    frame = FRAMES[shape]  # type: ignore[index]
    root = parsed(still.chart.svg(shape, "light"))  # type: ignore[attr-defined]
    wide, high = view_box(root)
    boxes = texts(root)
    numbers = [box for box in boxes if re.fullmatch(r"[−+\d.\u202f]+( ± [\d.]+)?( %)?", box.text)]
    assert numbers
    assert all(box.size >= NUMBER_SHARE * high for box in numbers)
    for box in boxes:
        assert box.left >= 0.04 * wide
        assert box.right <= 0.97 * wide
        assert box.bottom <= high - frame.bottom + 0.02 * high
        assert contrast(box.fill, "#FFFFFF") >= 7
    for i, one in enumerate(boxes):
        assert not any(one.meets(other) for other in boxes[i + 1 :])
    lines = [p for p in root.iter("{http://www.w3.org/2000/svg}path") if p.get("fill") == "none"]
    assert len({p.get("stroke") for p in lines}) <= 3


@pytest.mark.parametrize("still", STILLS, ids=lambda still: still.name)
def test_frames_read_in_greyscale(still: object) -> None:
    """Whatever is filled or drawn stands out from the paper by luminance alone, and no two marks of unlike meaning have
    only their colour to tell them apart: they differ in shape, or stand in a row with a name of its own."""
    root = parsed(still.chart.svg("16:9", "light"))  # type: ignore[attr-defined]
    shapes: dict[str, set[str]] = {}
    for element in root.iter():
        for name in ("fill", "stroke"):
            paint = element.get(name, "none")
            if not paint.startswith("#") or paint in ("#FFFFFF", "#ECEEF0", "#C9CDD2"):
                continue
            assert contrast(paint, "#FFFFFF") >= 3
            if element.tag.endswith(("circle", "path")) and name == "fill":
                kind = f"{element.tag}:{len(element.get('d', ''))}"
                shapes.setdefault(kind, set()).add(paint)
    assert all(len(paints) == 1 for paints in shapes.values())


def test_captions_say_what_the_frames_show() -> None:
    files = {name: data.decode() for name, data in caption_files(STILLS).items()}
    assert set(files) == {"captions.txt", "captions.vtt", "captions.srt"}
    for still in STILLS:
        assert still.caption in files["captions.txt"]
        assert still.caption in files["captions.srt"]
    assert files["captions.vtt"].startswith("WEBVTT\n\n1-guesses\n00:00:00.000 --> 00:00:06.000\n")
    cues = re.findall(r"(\d\d:\d\d:\d\d)\.000 --> (\d\d:\d\d:\d\d)\.000\n(.+)", files["captions.vtt"])
    assert len(cues) == len(STILLS)
    assert [stop for _, stop, _ in cues[:-1]] == [start for start, _, _ in cues[1:]]
    assert "6.6 L/100 km, give or take 0.2" in cues[1][2]


def test_an_odd_name_does_not_break_the_captions() -> None:
    run = a_run()
    odd = stills_of_run(a_result(vehicle="a --> b <i>\nx"), a_report(run=run).board)
    vtt = caption_files(odd)["captions.vtt"].decode()
    assert vtt.count("-->") == len(odd)
    assert "<i>" not in vtt


# --- photographs


def photograph(size: tuple[int, int] = (3000, 2000), **more: object) -> bytes:
    out = io.BytesIO()
    picture = Image.new("RGB", size, "#336699")
    exif = picture.getexif()
    exif[0x010F] = "Camera of somebody"
    exif[0x0112] = 6  # lies on its side
    exif.get_ifd(0x8825)[1] = "N"
    picture.save(out, "JPEG", exif=exif, **more)  # type: ignore[arg-type]
    return out.getvalue()


def test_a_photograph_is_shown_without_where_it_was_taken() -> None:
    data = photograph()
    assert b"Camera of somebody" in data
    shown = photo_of("scale_before.jpg", data)
    assert b"Exif" not in shown.jpeg
    assert b"Camera" not in shown.jpeg
    assert (shown.wide, shown.high) == (LONGEST_SIDE * 2 // 3, LONGEST_SIDE)  # turned upright, made smaller
    assert shown.caption == "scale before"


@pytest.mark.parametrize("data", [b"", b"GIF89a", b"\xff\xd8\xff" + b"x" * 100, b"<svg/>"])
def test_what_is_no_photograph_is_refused(data: bytes) -> None:
    with pytest.raises(InputError, match="no picture that can be read"):
        photo_of("x.jpg", data)


def test_without_the_library_the_extra_is_named(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setitem(__import__("sys").modules, "PIL", None)
    with pytest.raises(MissingExtraError, match=r"calmday\[pictures\]"):
        photo_of("x.jpg", b"")


def test_photographs_stand_in_the_report_with_their_words() -> None:
    report = msgspec.structs.replace(a_report(), photos=(photo_of("odometer.jpg", photograph((400, 300))),))
    document = run_document(report)
    assert "Photographs" in [section.title for section in document.front]
    reader = opened(pdf_document(*fitted(document)))
    assert any(alt == "Photograph: odometer" for _, alt in tagged(pdf_document(*fitted(document))))
    shown = [image for page in reader.pages for image in page.images]
    assert [image.image.size for image in shown if image.image is not None] == [(300, 400)]
    assert b"Camera" not in pdf_document(*fitted(document))
