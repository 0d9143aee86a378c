"""A report as HTML and as PDF: the same words in the same order, one page that is one, nothing taken for layout."""

from __future__ import annotations

import io
import re
import sys

import msgspec
import pypdf
import pytest
from sample_reports import (
    HOSTILE,
    a_hostile_report,
    a_report,
    a_result,
    opened,
    spelt,
    squeezed,
    tagged,
    words_of_html,
    words_of_pages,
)
from sample_results import flag

from calmday.errors import MissingExtraError
from calmday.reports.charts.lettering import plain
from calmday.reports.show.document import Document, Paragraph, Picture, Section, most_to_move, texts, with_room_for
from calmday.reports.show.html import html_document
from calmday.reports.show.pdf import LETTERS_PT, fitted, pdf_document
from calmday.reports.show.run_report import RunReport, run_document

REPORTS = {
    "usual": a_report(),
    "hostile": a_hostile_report(),
    "stopped": a_report(result=a_result(flags=(flag("stop", "The can is heavier after than before"), flag()))),
    "bare": a_report(
        result=a_result(calm_day=None, penalties=None, budget=(), budget_as_driven=(), energy=(), laps=(), legs=(),
                        estimates={}, level_cruise=(), moving_time=None, quality=None, flags=()),
        steps=(),
    ),
}  # fmt: skip


@pytest.fixture(scope="module", params=REPORTS)
def made(request: pytest.FixtureRequest) -> tuple[str, Document, bytes, str]:
    """Name, the document as fitted, its PDF and its HTML."""
    report: RunReport = REPORTS[request.param]
    document, size = fitted(run_document(report))
    return request.param, document, pdf_document(document, size), html_document(document)


def in_order(wanted: list[str], found: str) -> None:
    """Every text stands in the whole, each behind the one before."""
    place = 0
    for text in wanted:
        at = found.find(text, place)
        assert at >= 0, f"{text[:80]!r} is missing or comes too early"
        place = at + len(text)


def test_the_html_says_every_word_in_order(made: tuple[str, Document, bytes, str]) -> None:
    _, document, _, page = made
    words, _ = words_of_html(page)
    in_order([squeezed(text) for text in texts(document)], words)


def test_the_pdf_says_every_word_in_order(made: tuple[str, Document, bytes, str]) -> None:
    """Pictures aside: their words are alternative texts, see below."""
    _, document, pdf, _ = made
    bare = without_pictures(document)
    foot = squeezed(spelt(plain(" · ".join(p for p in (document.subject, document.made, document.footer) if p))))
    pages = [re.sub(re.escape(foot) + r"\d+/\d+", "", page) for page in words_of_pages(pdf)]
    heads = re.compile("^(leg|lap|source)")
    assert all(not heads.match(page) or number for number, page in enumerate(pages))
    in_order([squeezed(spelt(text)) for text in texts(bare) if not on_two_pages(squeezed(spelt(text)), pages)],
             "".join(pages))  # fmt: skip


def on_two_pages(text: str, pages: list[str]) -> bool:
    """Whether a text is broken by the end of a page, with a head or picture between its parts."""
    return not any(text in page for page in pages) and any(
        page.endswith(text[:cut]) for page in pages for cut in range(10, len(text))
    )


def without_pictures(document: Document) -> Document:
    def bare(sections: tuple[Section, ...]) -> tuple[Section, ...]:
        return tuple(
            msgspec.structs.replace(s, blocks=tuple(b for b in s.blocks if not isinstance(b, Picture)))
            for s in sections
        )

    return msgspec.structs.replace(document, front=bare(document.front), back=bare(document.back))


def test_the_first_page_is_one_page_and_the_critics_start_the_second(made: tuple[str, Document, bytes, str]) -> None:
    _, document, pdf, _ = made
    first, second, *_ = words_of_pages(pdf)
    signed = squeezed("NameSignatureDate")
    assert squeezed(document.back_title) not in first.split(signed)[-1]
    assert signed in first
    assert second.startswith(squeezed(document.back_title))


def test_nothing_is_lost_when_sections_leave_the_first_page(made: tuple[str, Document, bytes, str]) -> None:
    name, document, _, _ = made
    whole = run_document(REPORTS[name])
    said = set(texts(document))
    assert [text for text in texts(whole) if text not in said] == []


def test_pictures_have_their_words(made: tuple[str, Document, bytes, str]) -> None:
    _, document, pdf, _ = made
    wanted = [
        spelt(f"{plain(block.chart.title)}. {plain(block.chart.description)}")
        for section in (*document.front, *document.back)
        for block in section.blocks
        if isinstance(block, Picture)
    ]
    assert [alt for kind, alt in tagged(pdf) if kind == "/Figure"] == wanted


def test_headings_are_tagged_in_reading_order(made: tuple[str, Document, bytes, str]) -> None:
    _, document, pdf, _ = made
    kinds = [kind for kind, _ in tagged(pdf) if re.fullmatch(r"/H\d?", kind)]
    titled = sum(bool(section.title) for section in document.front)
    assert kinds[: titled + 2] == ["/H1", *["/H2"] * titled, "/H2"]
    assert set(kinds[titled + 2 :]) <= {"/H3", "/H4"}


def test_every_font_is_embedded_and_the_file_is_tagged(made: tuple[str, Document, bytes, str]) -> None:
    _, _, pdf, _ = made
    reader = opened(pdf)
    assert reader.trailer["/Root"]["/MarkInfo"]["/Marked"]
    assert reader.metadata is not None
    for page in reader.pages:
        for font in page["/Resources"].get("/Font", {}).values():
            for part in font.get_object()["/DescendantFonts"]:
                described = part.get_object()["/FontDescriptor"].get_object()
                assert {"/FontFile2", "/FontFile3"} & set(described)


def test_the_same_report_gives_the_same_bytes() -> None:
    document, size = fitted(run_document(a_report()))
    assert pdf_document(document, size) == pdf_document(document, size)
    assert html_document(document) == html_document(run_document(a_report()))


def test_the_html_stands_alone_and_runs_nothing(made: tuple[str, Document, bytes, str]) -> None:
    _, _, _, page = made
    _, tags = words_of_html(page)
    names = {tag for tag, _ in tags}
    assert names.isdisjoint({"script", "link", "iframe", "object", "embed", "form", "base"})
    policy = next(a["content"] for tag, a in tags if tag == "meta" and a.get("http-equiv") == "Content-Security-Policy")
    assert policy is not None
    assert policy.startswith("default-src 'none'")
    for tag, attributes in tags:
        assert not any(name.startswith("on") for name in attributes), (tag, attributes)
        for name in ("src", "href", "xlink:href"):
            value = attributes.get(name) or ""
            assert not value or value.startswith(("data:", "#"))
    assert "url(" not in page.replace("url(#", "")


def test_the_html_is_dark_in_the_dark_and_light_on_paper() -> None:
    page = html_document(run_document(a_report()))
    assert page.count("prefers-color-scheme: dark") == 2  # of the page, and of its charts
    assert page.count("@media print") == 2


def test_turning_the_direction_of_text_is_not_possible() -> None:
    page = html_document(run_document(a_hostile_report()))
    assert not set("\u202a\u202b\u202c\u202d\u202e\u2066\u2067\u2068\u2069\x00\x1b") & set(page)


def test_sections_leave_by_rank_the_highest_first_and_the_page_says_so() -> None:
    document = run_document(a_report())
    ranks = {section.title: section.rank for section in document.front}
    for moved in range(most_to_move(document) + 1):
        fewer = with_room_for(document, moved)
        gone = [s.title for s in document.front if s.title not in {t.title for t in fewer.front}]
        assert len(gone) == moved
        assert [section.title for section in fewer.back[:moved]] == gone
        if moved:
            stay = [rank for title, rank in ranks.items() if title not in gone and rank]
            assert min(ranks[title] for title in gone) >= max(stay, default=0)
            said = next(b.text for b in fewer.front[-1].blocks if isinstance(b, Paragraph))
            assert all(title[1:] in said for title in gone)
    assert with_room_for(document, 99).front[0].title == document.front[0].title


def test_a_long_report_moves_what_it_must_and_shrinks_letters_first() -> None:
    document = run_document(a_report())
    usual, size = fitted(document)
    assert usual == document
    assert size == LETTERS_PT[0]
    long, small = fitted(run_document(a_hostile_report()))
    assert len(long.front) < len(run_document(a_hostile_report()).front)
    assert small in LETTERS_PT


@pytest.mark.parametrize("name", HOSTILE)
def test_no_name_is_taken_for_layout(name: str) -> None:
    """An odd vehicle name is printed as it is, in letters of the usual size."""
    document, size = fitted(run_document(a_report(result=a_result(vehicle=name), question="")))
    page = words_of_pages(pdf_document(document, size))[0]
    printed = squeezed(plain(name))
    leftward = all(word in page for word in plain(name).split())  # Hebrew, where a font of the machine holds it
    assert squeezed(spelt(plain(name))) in page or printed in page or leftward
    assert printed in words_of_html(html_document(document))[0]


def test_without_the_typesetter_the_extra_is_named(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setitem(sys.modules, "typst", None)
    with pytest.raises(MissingExtraError, match=r"calmday\[pdf\]"):
        fitted(run_document(a_report()))


@pytest.mark.parametrize("name", ["丮👩" * 60, "lone \ud800 half", "N" * 400])
def test_names_that_no_page_was_made_for_still_leave_one_page(name: str) -> None:
    """Letters that no font holds are spelt out and take ten times the room; half a character is no character."""
    document, size = fitted(run_document(a_report(result=a_result(vehicle=name, label=name), question=name)))
    assert squeezed("NameSignatureDate") in words_of_pages(pdf_document(document, size))[0]


def test_a_figure_is_not_parted_from_its_unit_at_the_edge() -> None:
    """In both writers: no line ends between a number and its per cent, nor before what it is give or take."""
    document = run_document(a_report())
    page = html_document(document)
    assert "\u00a0%" in page
    assert not re.search(r"\d %(?![\w])", re.sub(r"<style>.*?</style>|<svg.*?</svg>", "", page, flags=re.DOTALL))
    lines = [line.strip() for p in pypdf.PdfReader(io.BytesIO(pdf_document(*fitted(document)))).pages
             for line in p.extract_text().splitlines()]  # fmt: skip
    assert not [line for line in lines if line.startswith(("% ", "± "))]
