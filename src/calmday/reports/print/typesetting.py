"""From a template, data and charts to a PDF for paper and for readers of every kind.

The PDF follows PDF/UA-1 (ISO 14289-1): tagged, with a title, a language, a text for every picture, and every font
embedded. No time is written into it, so the same content gives the same bytes.

Text reaches a template as values of `data.json`, never as markup. Letters are those of the bundled face; where a text
needs others, the fonts of this computer are asked; what no font holds is printed as its code, such as [U+6F22].
"""

from __future__ import annotations

import datetime as dt
from collections.abc import Callable, Mapping
from pathlib import Path
from typing import Any, Final, Literal, get_args

import msgspec

from calmday.errors import MissingExtraError
from calmday.reports.charts.chart import Chart
from calmday.reports.charts.frames import Size
from calmday.reports.charts.lettering import plain
from calmday.reports.print.letters import FONTS, missing_characters

Paper = Literal["a4", "a5"]
PAPERS: Final[tuple[str, ...]] = get_args(Paper)

TEMPLATES: Final = Path(__file__).parent / "templates"


class Picture(msgspec.Struct, frozen=True, kw_only=True):
    """A picture for a page: its bytes, the ending of its format (`svg`, `png`, `jpg`), and what it shows in words."""

    content: bytes
    words: str
    ending: str = "svg"


def picture_of(chart: Chart, size: Size = "page") -> Picture:
    """A chart in black letters on white, described by its own sentence."""
    return Picture(content=chart.svg(size, "light").encode(), words=f"{plain(chart.title)}. {plain(chart.description)}")


def typeset(
    template: str,
    data: Any,
    *,
    title: str,
    pictures: Mapping[str, Picture] | None = None,
    paper: Paper = "a4",
    language: str = "en",
    author: str = "",
    date: dt.date | None = None,
) -> bytes:
    """The PDF of `templates/TEMPLATE.typ` filled with `data` (anything that JSON can hold) and named `pictures`.

    `date` is written into the file's properties where given; nothing else depends on the clock. Raises
    MissingExtraError without the typesetter.
    """
    return _set(template, data, title, pictures, paper, language, author, date, label="")


def noted(
    template: str,
    data: Any,
    label: str,
    *,
    title: str,
    pictures: Mapping[str, Picture] | None = None,
    paper: Paper = "a4",
) -> Any:
    """The value that a template notes as metadata under a label, such as the page where something ends.

    Raises MissingExtraError without the typesetter.
    """
    return msgspec.json.decode(_set(template, data, title, pictures, paper, "en", "", None, label=label))


def _set(
    template: str,
    data: Any,
    title: str,
    pictures: Mapping[str, Picture] | None,
    paper: Paper,
    language: str,
    author: str,
    date: dt.date | None,
    *,
    label: str,
) -> bytes:
    """The PDF, or with a label the JSON of what the template notes there."""
    shown = dict(pictures or {})
    values = {
        "data": msgspec.json.decode(msgspec.json.encode(data)),
        "meta": {
            "title": title,
            "author": author,
            "language": language,
            "paper": paper,
            "date": [date.year, date.month, date.day] if date else None,
            "pictures": {n: {"file": f"pictures/{n}.{p.ending}", "words": p.words} for n, p in shown.items()},
        },
    }
    clean = _cleaned(values)
    missing = missing_characters(msgspec.json.encode(clean).decode() + _letters_of(shown))
    if not missing:
        return _compiled(template, clean, shown, label, system_fonts=False)
    try:
        return _compiled(template, clean, shown, label, system_fonts=True)
    except _TypesetError:
        table = str.maketrans({char: f"[U+{ord(char):04X}]" for char in missing})
        spelt = {name: _spelt(picture, table) for name, picture in shown.items()}
        return _compiled(template, _mapped(clean, lambda text: text.translate(table)), spelt, label, system_fonts=False)


class _TypesetError(Exception):
    """The typesetter refused; most often a letter that no font holds."""


def _letters_of(pictures: Mapping[str, Picture]) -> str:
    return "".join(p.content.decode() for p in pictures.values() if p.ending == "svg")


def _spelt(picture: Picture, table: dict[int, str]) -> Picture:
    """The picture with letters that cannot be shown spelt as codes."""
    if picture.ending != "svg":
        return picture
    return msgspec.structs.replace(picture, content=picture.content.decode().translate(table).encode())


def _compiled(template: str, values: Any, pictures: Mapping[str, Picture], label: str, *, system_fonts: bool) -> bytes:
    try:
        import typst  # noqa: PLC0415  (optional, and tens of megabytes)
    except ImportError:
        raise MissingExtraError("A page as PDF", "pdf") from None
    files: dict[str, bytes] = {path.name: path.read_bytes() for path in sorted(TEMPLATES.glob("*.typ"))}
    files["main.typ"] = files.pop(f"{template}.typ")
    for name in ("data", "meta"):
        files[f"{name}.json"] = msgspec.json.encode(values[name])
    for name, picture in pictures.items():
        files[f"pictures/{name}.{picture.ending}"] = picture.content

    def compiler() -> Any:
        return typst.Compiler(files, font_paths=[str(FONTS)], ignore_system_fonts=not system_fonts)  # type: ignore[misc]

    try:
        pdf = bytes(compiler().compile(format="pdf", pdf_standards=["ua-1"])) if system_fonts or not label else b""
        if label:  # asking alone would not say that a letter is missing
            found: str = compiler().query(f"<{label}>", field="value", one=True)
            return found.encode()
        return pdf
    except typst.TypstError as error:
        raise _TypesetError(str(error)) from error


def _cleaned(value: Any) -> Any:
    """The same value with every text as one line without control characters; line breaks that were meant stay."""
    return _mapped(value, lambda text: "\n".join(plain(line) for line in text.split("\n")))


def _mapped(value: Any, change: Callable[[str], str]) -> Any:
    if isinstance(value, str):
        return change(value)
    if isinstance(value, list):
        return [_mapped(item, change) for item in value]
    if isinstance(value, dict):
        return {key: _mapped(item, change) for key, item in value.items()}
    return value
