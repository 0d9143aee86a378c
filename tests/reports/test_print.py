"""Printed pages: tagged, in the right size, every font embedded, text as it was written, the same bytes every time."""

from __future__ import annotations

import datetime as dt
import io
import sys

import pypdf
import pytest
from sample_charts import every_chart

from calmday.errors import MissingExtraError
from calmday.reports.print import PAPERS, Picture, picture_of, typeset
from calmday.reports.print.letters import FONTS, character_map, missing_characters

SIZES_PT = {"a4": (595.28, 841.89), "a5": (419.53, 595.28)}
"""ISO 216: 210 x 297 mm and 148 x 210 mm, in points of 1/72 inch."""

HOSTILE = '#set text(size: 90pt) *x* _y_ $z$ \\ "q" <a> @b // [c] #import "x"'


def content(name: str = "Fen Hauler") -> dict[str, object]:
    return {
        "title": "Run sheet",
        "words": name,
        "boxes": [{"label": "Before, 1st", "unit": "g", "range": "3100 to 4200"}],
        "ticks": ["Cap on"],
        "heading": "What happened",
        "caution": "Fuel",
        "items": ["No flame"],
        "last": "Expect 6.1 to 7.2 L/100 km.",
    }


def opened(pdf: bytes) -> pypdf.PdfReader:
    return pypdf.PdfReader(io.BytesIO(pdf))


def text_of(pdf: bytes) -> str:
    return " ".join(" ".join(page.extract_text() for page in opened(pdf).pages).split())


def fonts_of(pdf: bytes) -> list[pypdf.generic.DictionaryObject]:
    fonts = []
    for page in opened(pdf).pages:
        for font in page["/Resources"]["/Font"].values():
            fonts += [part.get_object() for part in font.get_object()["/DescendantFonts"]]
    return fonts


@pytest.mark.parametrize("paper", PAPERS)
def test_a_page_has_its_size_its_title_its_language_and_tags(paper: str) -> None:
    reader = opened(typeset("sample", content(), title="Run sheet", paper=paper, language="en"))  # type: ignore[arg-type]
    box = reader.pages[0].mediabox
    assert (float(box.width), float(box.height)) == pytest.approx(SIZES_PT[paper], abs=0.1)
    catalog = reader.trailer["/Root"]
    assert reader.metadata is not None and reader.metadata.title == "Run sheet"
    assert catalog["/Lang"] == "en"
    assert catalog["/MarkInfo"]["/Marked"]
    assert "/StructTreeRoot" in catalog
    # ISO 14289-1, clause 5: the file says which part of PDF/UA it keeps to
    assert b"pdfuaid" in catalog["/Metadata"].get_object().get_data()


def test_every_font_is_embedded_and_is_the_bundled_face() -> None:
    fonts = fonts_of(typeset("sample", content(), title="t"))
    assert fonts
    for font in fonts:
        assert "/FontFile2" in font["/FontDescriptor"]
        assert "DejaVuSans" in font["/BaseFont"]


def test_text_from_outside_is_text_and_nothing_else() -> None:
    pdf = typeset("sample", content(HOSTILE), title=HOSTILE)
    assert " ".join(HOSTILE.split()) in text_of(pdf)
    assert opened(pdf).metadata.title == HOSTILE
    assert len(opened(pdf).pages) == 1


def test_control_characters_go_and_line_breaks_stay() -> None:
    shown = text_of(typeset("sample", content("one\x07two\u202ethree\nfour"), title="t"))
    assert "one two three four" in shown


def test_letters_that_no_font_here_holds_are_spelt_as_codes() -> None:
    unassigned = "\U0002fffd"
    assert "[U+2FFFD]" in text_of(typeset("sample", content(f"Van {unassigned}"), title="t"))


def test_greek_cyrillic_and_signs_are_in_the_bundled_face() -> None:
    shown = "Οδός Вездеход Żuławy ½ ± − · ✓ € ² ≥"
    assert missing_characters(shown) == frozenset()
    assert shown in text_of(typeset("sample", content(shown), title="t"))


def test_the_character_map_is_the_one_the_typesetter_sees() -> None:
    held = character_map((FONTS / "DejaVuSans.ttf").read_bytes())
    assert len(held) > 2000
    assert ord("A") in held and ord("±") in held and ord("漢") not in held
    letters = "".join(chr(code) for code in sorted(held) if chr(code).isalnum())
    # PDF/UA-1 refuses a page with a letter that its font does not hold
    typeset("sample", content(" ".join(letters)), title="t")


def test_the_same_content_gives_the_same_bytes_and_no_time() -> None:
    first = typeset("sample", content(), title="t")
    assert first == typeset("sample", content(), title="t")
    assert b"/CreationDate" not in first and b"CreateDate" not in first
    dated = typeset("sample", content(), title="t", date=dt.date(2026, 4, 12))
    assert b"20260412" in dated


def test_a_chart_stands_with_its_words_and_its_letters_as_text() -> None:
    chart = next(iter(every_chart().values()))
    pdf = typeset("sample", content(), title="t", pictures={"chart": picture_of(chart)})
    words = [
        element["/Alt"]
        for element in (o.get_object() for o in opened(pdf).trailer["/Root"]["/StructTreeRoot"]["/K"])
        for element in _tree(element)
        if "/Alt" in element
    ]
    assert len(words) == 1
    assert chart.description.split(".")[0] in words[0]


def _tree(element: pypdf.generic.DictionaryObject) -> list[pypdf.generic.DictionaryObject]:
    children = element.get("/K", [])
    found = [element]
    for child in children if isinstance(children, list) else [children]:
        node = child.get_object()
        if isinstance(node, pypdf.generic.DictionaryObject):
            found += _tree(node)
    return found


def test_a_picture_may_hold_letters_that_must_be_spelt() -> None:
    svg = '<svg xmlns="http://www.w3.org/2000/svg" viewBox="0 0 99 50"><text y="20">{}</text></svg>'
    picture = Picture(content=svg.format("\U0002fffd").encode(), words="A letter")
    assert "[U+2FFFD]" in text_of(typeset("sample", content(), title="t", pictures={"chart": picture}))


def test_without_the_typesetter_the_extra_is_named(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setitem(sys.modules, "typst", None)
    with pytest.raises(MissingExtraError, match=r"calmday\[pdf\]"):
        typeset("sample", content(), title="t")
