"""What holds for every chart in every size and theme: readable, reachable, inside its frame, the same each time."""

from __future__ import annotations

import itertools
import re
import xml.etree.ElementTree as ET
from functools import cache

import msgspec
import pytest
from sample_charts import every_chart
from svg_reading import SVG, parsed, texts, view_box

from calmday.reports.charts import SIZES, Chart, charts_of_run, stylesheet
from calmday.reports.charts.frames import FRAMES
from calmday.reports.charts.palette import DARK, LIGHT, contrast

CHARTS = every_chart()
STILLS = [size for size in SIZES if FRAMES[size].height is not None]


@cache
def drawn(name: str, size: str, theme: str = "light") -> ET.Element:
    return parsed(CHARTS[name].svg(size, theme))


each_chart = pytest.mark.parametrize("name", list(CHARTS))
each_size = pytest.mark.parametrize("size", SIZES)


@each_chart
@each_size
def test_title_and_description_are_there_for_a_screen_reader(name: str, size: str) -> None:
    root = drawn(name, size)
    assert root.get("role") == "img"
    named = [root.find(f".//*[@id='{key}']") for key in root.get("aria-labelledby", "").split()]
    assert [element.tag for element in named] == [f"{SVG}title", f"{SVG}desc"]
    assert named[0].text == CHARTS[name].title
    assert re.search(r"\d", named[1].text), "the sentence says numbers"
    assert named[1].text.endswith(".")


@each_chart
@each_size
def test_no_text_outside_the_picture_and_none_on_another(name: str, size: str) -> None:
    root = drawn(name, size)
    wide, high = view_box(root)
    boxes = texts(root)
    assert boxes
    for box in boxes:
        assert -0.1 <= box.left <= box.right <= wide + 0.1, box
        assert -0.1 <= box.top <= box.bottom <= high + 0.1, box
    clashes = [(a.text, b.text) for a, b in itertools.combinations(boxes, 2) if a.meets(b)]
    assert clashes == []


@each_chart
@pytest.mark.parametrize("size", STILLS)
def test_a_still_picture_has_large_numbers_and_room_for_captions(name: str, size: str) -> None:
    root, frame = drawn(name, size), FRAMES[size]
    assert (float(root.get("width")), float(root.get("height"))) == (frame.width, frame.height)
    for box in texts(root):
        assert box.bottom <= frame.height - frame.bottom + 1, box
        assert box.left >= 0.05 * frame.width - 1, box
        assert box.right <= 0.95 * frame.width + 1, box
        if re.fullmatch(r"[+−]?[\d. \u202f]+( ± [\d.]+)?( %)?", box.text):
            assert box.size >= frame.height / 20, box
    assert frame.bottom >= 0.15 * frame.height


@each_chart
@each_size
def test_nothing_a_strict_page_would_block_and_nothing_fetched(name: str, size: str) -> None:
    svg = CHARTS[name].svg(size, "page")
    root = parsed(svg)
    assert "style=" not in svg
    assert not re.search(r"https?://(?!www\.w3\.org/2000/svg)", svg)
    for element in root.iter():
        assert element.tag.removeprefix(SVG) in {"svg", "g", "title", "desc", "path", "rect", "line", "circle", "text"}
        assert not any("href" in key or key.startswith("on") for key in element.attrib)
        for paint in (element.get("fill"), element.get("stroke")):
            assert paint is None or paint == "none" or paint.startswith("var(--chart-"), paint


@each_chart
@pytest.mark.parametrize(("theme", "colours"), [("light", LIGHT), ("dark", DARK)])
def test_a_picture_for_download_stands_alone_and_its_text_reads(name: str, theme: str, colours: dict[str, str]) -> None:
    root = drawn(name, "16:9", theme)
    for element in root.iter():
        for paint in (element.get("fill"), element.get("stroke")):
            assert paint is None or paint == "none" or paint in colours.values()
    for box in texts(root):
        assert contrast(box.fill, colours["paper"]) >= 7, box


@each_chart
def test_the_same_input_gives_the_same_picture(name: str) -> None:
    again = every_chart()[name]
    for size in SIZES:
        assert again.svg(size, "page") == CHARTS[name].svg(size, "page")


@each_chart
def test_ids_stay_apart_on_one_page(name: str) -> None:
    chart = CHARTS[name]
    page = chart.figure_html("a") + chart.figure_html("b") + chart.figure_html()
    ids = re.findall(r' id="([^"]+)"', page)
    assert len(ids) == len(set(ids)) == 12
    assert all(re.fullmatch(r"[A-Za-z0-9-]+", key) for key in ids)


@each_chart
def test_the_table_behind_is_whole(name: str) -> None:
    table = CHARTS[name].table
    assert table.rows
    assert {len(row) for row in table.rows} == {len(table.columns)}
    html = parsed(f"<r>{CHARTS[name].table_html()}</r>".replace("&nbsp;", " "))
    assert len(html.findall(".//tbody/tr")) == len(table.rows)
    assert [head.text for head in html.findall(".//thead/tr/th")] == [column.head for column in table.columns]


@each_chart
def test_curves_differ_without_colour(name: str) -> None:
    for panel in drawn(name, "page").iter(f"{SVG}g"):
        if panel.get("class") != "chart-panel":
            continue
        curves = [p for p in panel.findall(f"{SVG}path") if p.get("fill") == "none"]
        strokes = {(p.get("stroke"), p.get("stroke-dasharray")) for p in curves}
        assert len({dash for _, dash in strokes}) == len({colour for colour, _ in strokes})


def test_the_palettes_keep_text_at_seven_and_lines_at_three() -> None:
    for colours in (LIGHT, DARK):
        for name in ("ink", "soft"):
            assert contrast(colours[name], colours["paper"]) >= 7
            assert contrast(colours[name], colours["shade"]) >= 7
        for name in ("first", "second", "third", "fourth", "plain"):
            assert contrast(colours[name], colours["paper"]) >= 3
        steps = [contrast(colours[f"ramp{k}"], colours["paper"]) for k in range(1, 6)]
        assert steps == sorted(steps), "more stands out more"
        assert all(b / a > 1.3 for a, b in itertools.pairwise(steps)), "in greyscale too"


def test_contrast_is_that_of_the_guideline() -> None:
    assert contrast("#000000", "#FFFFFF") == 21.0  # WCAG 2.2, contrast ratio: 1 to 21
    assert contrast("#767676", "#FFFFFF") == pytest.approx(4.54, abs=0.005)  # the usual least grey for 4.5:1 (M)


def test_the_style_sheet_sets_every_colour_for_light_dark_and_print() -> None:
    sheet = stylesheet()
    for name in LIGHT:
        assert sheet.count(f"--chart-{name}: {LIGHT[name]};") == 2
        assert sheet.count(f"--chart-{name}: {DARK[name]};") == 2
    used = set(re.findall(r"var\((--chart-[a-z0-9]+)", "".join(chart.svg("page") for chart in CHARTS.values())))
    assert used - {"--chart-font"} <= {f"--chart-{name}" for name in LIGHT}


def test_every_part_of_a_run_has_its_chart() -> None:
    from sample_charts import guesses, whole_run  # noqa: PLC0415

    result, along = whole_run()
    names = [chart.name for chart in charts_of_run(result, along, guesses())]
    assert names == [
        "comparison", "route-speed", "traces-distance", "day-cost", "fuel-shares", "doubt", "legs", "cruise",
        "parameters",
    ]  # fmt: skip
    bare = msgspec.structs.replace(
        result, calm_day=None, penalties=None, energy=(), budget=(), legs=(), level_cruise=(), estimates={}
    )
    assert [chart.name for chart in charts_of_run(bare)] == ["comparison"] + ["doubt"] * bool(bare.budget_as_driven)


def test_a_chart_is_a_value() -> None:
    chart = next(iter(CHARTS.values()))
    assert isinstance(chart, Chart)
    with pytest.raises(AttributeError):
        chart.title = "other"  # type: ignore[misc]
