"""The figure itself as a picture: one large number with its give-or-take, its unit, its conditions."""

from __future__ import annotations

from collections.abc import Sequence
from typing import TYPE_CHECKING, Final

import msgspec

from calmday.reports.charts.canvas import Canvas
from calmday.reports.charts.chart import Chart, DataColumn, DataTable, known_or_none
from calmday.reports.charts.lettering import ASCENT, plain, width, wrapped
from calmday.reports.charts.saying import in_plain_words
from calmday.reports.charts.units import CONSUMPTION_WORDS, METRIC, ReaderUnits
from calmday.reports.words import amount, is_known

if TYPE_CHECKING:
    from calmday.metrology.figure import Figure
    from calmday.procedures.weighed_run_result import RunResult

OTHERS: Final = ("L_per_100km", "mpg_us", "mpg_imp")
_LARGEST: Final = 0.24
"""Size of the number, of the frame's height."""


class Card(msgspec.Struct, frozen=True, kw_only=True):
    """What stands on a card: `number` large, `unit` under it, `others` in smaller letters, `conditions` at the foot."""

    title: str
    number: str
    unit: str
    others: tuple[str, ...]
    conditions: tuple[str, ...]


def headline_card(result: RunResult, units: ReaderUnits = METRIC) -> Chart:
    """The figure of a run: on the calm day where there is one, else as driven; or that it must not be used."""
    best = result.calm_day or result.as_driven
    figure: Figure = getattr(best, units.consumption)
    words = units.consumption_words
    stopped = any(flag.severity == "stop" for flag in result.flags)
    others = [name for name in OTHERS if name != units.consumption]
    card = Card(
        title=plain(result.vehicle) or "What it used",
        number="not usable" if stopped else amount(figure),
        unit="" if stopped else words,
        others=() if stopped else tuple(f"{amount(getattr(best, name))} {CONSUMPTION_WORDS[name]}" for name in others),
        conditions=_conditions(result, stopped),
    )
    said = "This result must not be used" if stopped else f"{card.title}: {in_plain_words(figure, words)}"
    rows = tuple(_row(name, getattr(best, name)) for name in (units.consumption, *others))
    return card_chart("headline", card, f"{said}; {'; '.join(card.conditions)}.", rows)


def card_chart(
    name: str, card: Card, description: str, rows: tuple[tuple[str, float | None, float | None], ...]
) -> Chart:
    """A card as a chart."""

    def draw(canvas: Canvas) -> None:
        _draw(canvas, card)

    columns = (DataColumn("what"), DataColumn("at least"), DataColumn("at most"))
    return Chart(name=name, title=card.title, description=description, table=DataTable(columns, rows), draw=draw)


def _row(name: str, figure: Figure) -> tuple[str, float | None, float | None]:
    known = is_known(figure)
    return (
        CONSUMPTION_WORDS[name],
        known_or_none(figure.low) if known else None,
        known_or_none(figure.high) if known else None,
    )


def _conditions(result: RunResult, stopped: bool) -> tuple[str, ...]:
    if stopped:
        return ("see the remarks of the report",)
    day = "calm day: still air, 20 °C, engine and tyres warm" if result.calm_day is not None else "as driven"
    return (day, "one run: an indication")


def _draw(canvas: Canvas, card: Card) -> None:
    frame = canvas.frame
    top = canvas.heading(card.title)
    if not frame.titled:
        top = _lines(canvas, [card.title], top, frame.title, bold=True)
    room = frame.inner
    height = frame.height or 0.62 * frame.width
    size = min(_LARGEST * height, room / max(width(card.number, 1.0, bold=True), 0.1))
    number = max(size, frame.number)
    below = _foot_height(canvas, card)
    free = height - frame.bottom - top - ASCENT * number - below if frame.height else 0.3 * frame.number
    y = top + max(0.35 * free, 0.0) + ASCENT * number
    canvas.text(canvas.left, y, card.number, size=number, bold=True)
    y = _lines(canvas, [card.unit] if card.unit else [], y + 0.2 * number, 1.3 * frame.number, bold=True)
    y = _lines(canvas, card.others, y + 0.35 * frame.number, frame.number)
    y = _lines(canvas, card.conditions, y + 0.4 * frame.number, frame.text, soft=True)
    canvas.bottom(y)


def _foot_height(canvas: Canvas, card: Card) -> float:
    frame = canvas.frame
    lines = len(card.others) * frame.number + (1.3 * frame.number if card.unit else 0.0)
    return 1.25 * (lines + 1.5 * len(card.conditions) * frame.text) + frame.number


def _lines(
    canvas: Canvas, texts: Sequence[str], y: float, size: float, *, bold: bool = False, soft: bool = False
) -> float:
    """Texts one under the other from `y` on; where they end."""
    for text in texts:
        for line in wrapped(plain(text), canvas.frame.inner, size, 2, bold=bold):
            y += 1.15 * size
            canvas.text(canvas.left, y, line, size=size, bold=bold, colour="soft" if soft else "ink")
    return y
