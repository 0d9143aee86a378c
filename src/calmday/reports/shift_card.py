"""The shift card: satellite speeds to change at, as plain text, and as a page to print large for the dashboard.

Black on white, 14 pt at the least, readable at arm's length; nothing is said by colour. The page needs no network.
With a rev counter the engine speed of each change stands under its road speed, and where to mark the glass.
"""

from __future__ import annotations

from html import escape
from typing import TYPE_CHECKING, NamedTuple

from calmday.reports.gears_sentence import KMH_PER_MPH
from calmday.reports.sheet import Column, Prose, Sheet, Table
from calmday.reports.words import clean, number, short

if TYPE_CHECKING:
    from calmday.procedures.gears_result import CardRow, GearsResult, ShiftCard

UP, DOWN = "\u25b2", "\u25bc"
STAY = "stay"

PAPER_STYLE = (
    "@page { size: A5 landscape; margin: 8mm } body { margin: 0; background: #fff; color: #000; font-size: 14pt } "
)
CARD_STYLE = """
.card, .card * { box-sizing: border-box }
.card { margin: 0 auto; max-width: 200mm; padding: 2mm; background: #fff; color: #000;
  font: 600 14pt/1.25 system-ui, "Helvetica Neue", Arial, sans-serif }
.card .card-name { font-size: 18pt; margin: 0 0 2mm }
.card table { width: 100%; border-collapse: collapse }
.card th, .card td { border: 0.6mm solid #000; padding: 1.5mm 2mm; text-align: center; vertical-align: middle }
.card thead th { font-size: 15pt }
.card tbody th { font-size: 26pt; white-space: nowrap }
.card td { font-size: 38pt; font-weight: 800; font-variant-numeric: tabular-nums; line-height: 1.05 }
.card td small { display: block; font-size: 17pt; font-weight: 600 }
.card p { margin: 2mm 0 0 }
.card-back { margin: 5mm; font: 14pt/1.3 system-ui, "Helvetica Neue", Arial, sans-serif }
.card-back a { display: inline-block; padding: 4mm 0 }
@media screen and (max-width: 60rem) {
  .card td { font-size: 24pt }
  .card td small { font-size: 14pt }
  .card tbody th { font-size: 18pt }
}
@media screen and (max-width: 30rem) {
  .card { padding: 0 }
  .card table { table-layout: fixed }
  .card th, .card td { padding: 1mm 0.5mm }
  .card thead th { font-size: 14pt }
  .card td { font-size: 19pt }
  .card td small { font-size: 14pt }
  .card tbody th { font-size: 14pt }
}
@media print { .card-back { display: none } }
""".strip()
"""The look of the card. On a narrow screen it is smaller; on paper it is always large."""


def shift_card_sheet(result: GearsResult, unit: str = "km/h", tachometer: bool = False) -> Sheet:
    """The card as a sheet for a terminal or a plain-text file."""
    card = result.shift_card
    columns = (Column("change"), *(Column(head, "right") for head in _heads(card)))
    rows = tuple(
        (
            f"{row.from_gear} > {row.to_gear}",
            *(_cell(*speeds, _dial(card, unit), tachometer) for speeds in _columns(row)),
        )
        for row in card.rows
    )
    dial = " on the dial" if card.speedometer_factor else " by satellite"
    table = Table(title="", columns=columns, rows=rows, note=_note(tachometer))
    return Sheet(
        title=f"Shift card: {clean(result.vehicle)}",
        lead=f"Speeds in {unit}{dial}.",
        blocks=(table, Prose(title="", lines=_foot(card, unit, tachometer))),
    )


def shift_card_page(result: GearsResult, unit: str = "km/h", tachometer: bool = False) -> str:
    """The card as one self-contained HTML page, to print on A5 or larger."""
    name = escape(clean(result.vehicle))
    return (
        '<!doctype html>\n<html lang="en"><head><meta charset="utf-8">'
        '<meta name="viewport" content="width=device-width, initial-scale=1">'
        f"<title>Shift card: {name}</title><style>{PAPER_STYLE}{CARD_STYLE}</style></head><body>"
        f"{shift_card_html(result, unit, tachometer)}</body></html>\n"
    )


def shift_card_html(result: GearsResult, unit: str = "km/h", tachometer: bool = False, level: int = 1) -> str:
    """The card alone, for a page that carries `CARD_STYLE`; its name a heading of `level`."""
    card = result.shift_card
    heads = "".join(f'<th scope="col">{escape(head)}</th>' for head in ("gear", *_heads(card)))
    rows = "".join(
        f'<tr><th scope="row">{row.from_gear} \u2192 {row.to_gear}</th>'
        + "".join(_big_cell(*speeds, _dial(card, unit), tachometer) for speeds in _columns(row))
        + "</tr>"
        for row in card.rows
    )
    dial = "on the dial" if card.speedometer_factor else "by satellite"
    name = escape(clean(result.vehicle))
    foot = "".join(f"<p>{escape(line)}</p>" for line in _foot(card, unit, tachometer))
    return (
        '<div class="card">'
        f'<h{level} class="card-name">{name}: {escape(unit)} {dial}</h{level}>'
        f"<table><thead><tr>{heads}</tr></thead><tbody>{rows}</tbody></table>{foot}</div>"
    )


def _heads(card: ShiftCard) -> tuple[str, str, str]:
    return ("level", f"hill {short(100 * card.hill_grade)} %", f"head wind {short(card.headwind)} m/s")


def _columns(row: CardRow) -> tuple[tuple[float | None, float | None, float | None], ...]:
    """Up and down speed and engine speed of each column of a row."""
    return (
        (row.level_up, row.level_down, row.level_rpm),
        (row.hill_up, row.hill_down, row.hill_rpm),
        (row.headwind_up, row.headwind_down, row.headwind_rpm),
    )


def _note(tachometer: bool) -> str:
    said = "Change up at the first figure, back down at the second"
    return f"{said}; in brackets the rev counter at the change up." if tachometer else f"{said}."


def _turns(rpm: float | None) -> str:
    """Engine speed to the next fifty: the needle is no finer."""
    return "" if rpm is None else number(50 * round(rpm / 50), 0)


class _Dial(NamedTuple):
    """How a satellite speed is shown: in which unit, and on a dial of which factor."""

    unit: str
    factor: float

    def shows(self, speed_kmh: float | None) -> str:
        """Whole units: nobody reads tenths at arm's length."""
        if speed_kmh is None:
            return STAY
        return number(speed_kmh / self.factor / (1.0 if self.unit == "km/h" else KMH_PER_MPH), 0)


def _dial(card: ShiftCard, unit: str) -> _Dial:
    return _Dial(unit, card.speedometer_factor or 1.0)


def _cell(up: float | None, down: float | None, rpm: float | None, dial: _Dial, tachometer: bool) -> str:
    if up is None:
        return STAY
    said = f"{dial.shows(up)} / {dial.shows(down)}"
    return f"{said} ({_turns(rpm)})" if tachometer else said


def _big_cell(up: float | None, down: float | None, rpm: float | None, dial: _Dial, tachometer: bool) -> str:
    if up is None:
        return f"<td>{STAY}</td>"
    turns = f"<small>{_turns(rpm)} rpm</small>" if tachometer else ""
    return f"<td>{UP} {dial.shows(up)}{turns}<small>{DOWN} {dial.shows(down)}</small></td>"


def _foot(card: ShiftCard, unit: str, tachometer: bool) -> tuple[str, ...]:
    dial = _dial(card, unit)
    bands = ", ".join(f"{band.gear}: {dial.shows(band.slowest)} to {dial.shows(band.fastest)}" for band in card.bands)
    lines = [f"Good for, {unit}: {bands}."]
    if card.cruise_gear is not None and card.cruise_slow is not None:
        lines.append(
            f"Cruise in {card.cruise_gear} at no more than {dial.shows(card.cruise_slow)} to "
            f"{dial.shows(card.cruise_fast)} {unit}: 10 to 15 % below governed speed."
        )
    if tachometer and card.marks is not None:
        marks = card.marks
        lines.append(
            f"Marks on the rev counter: labours below {_turns(marks.labour)}; good for hours "
            f"{_turns(marks.cruise_slow)} to {_turns(marks.cruise_fast)}; change by {_turns(marks.change_by)}; "
            f"never above {_turns(marks.governed)}."
        )
    lines.append("Stay: the next gear does not pull there. Limits on signs come first.")
    return tuple(lines)
