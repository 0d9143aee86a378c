"""The shift card: satellite speeds to change at, as plain text, and as a page to print large for the dashboard.

Black on white, 14 pt at the least, readable at arm's length; nothing is said by colour. The page needs no network.
"""

from __future__ import annotations

from html import escape
from typing import TYPE_CHECKING, NamedTuple

from calmday.reports.gears_sentence import KMH_PER_MPH
from calmday.reports.sheet import Column, Prose, Sheet, Table
from calmday.reports.words import clean, number, short

if TYPE_CHECKING:
    from calmday.procedures.gears_result import GearsResult, ShiftCard

UP, DOWN = "\u25b2", "\u25bc"
STAY = "stay"

_STYLE = """
@page { size: A5 landscape; margin: 8mm }
* { box-sizing: border-box }
body { margin: 0 auto; max-width: 200mm; padding: 2mm; background: #fff; color: #000;
  font: 600 14pt/1.25 system-ui, "Helvetica Neue", Arial, sans-serif }
h1 { font-size: 18pt; margin: 0 0 2mm }
table { width: 100%; border-collapse: collapse }
th, td { border: 0.6mm solid #000; padding: 1.5mm 2mm; text-align: center; vertical-align: middle }
thead th { font-size: 15pt }
tbody th { font-size: 26pt; white-space: nowrap }
td { font-size: 38pt; font-weight: 800; font-variant-numeric: tabular-nums; line-height: 1.05 }
td small { display: block; font-size: 17pt; font-weight: 600 }
p { margin: 2mm 0 0 }
""".strip()


def shift_card_sheet(result: GearsResult, unit: str = "km/h") -> Sheet:
    """The card as a sheet for a terminal or a plain-text file."""
    card = result.shift_card
    columns = (Column("change"), *(Column(head, "right") for head in _heads(card)))
    rows = tuple(
        (f"{row.from_gear} > {row.to_gear}", *(_cell(up, down, _dial(card, unit)) for up, down in _pairs(row)))
        for row in card.rows
    )
    dial = " on the dial" if card.speedometer_factor else " by satellite"
    table = Table(title="", columns=columns, rows=rows, note="Change up at the first figure, back down at the second.")
    return Sheet(
        title=f"Shift card: {clean(result.vehicle)}",
        lead=f"Speeds in {unit}{dial}.",
        blocks=(table, Prose(title="", lines=_foot(card, unit))),
    )


def shift_card_page(result: GearsResult, unit: str = "km/h") -> str:
    """The card as one self-contained HTML page, to print on A5 or larger."""
    card = result.shift_card
    heads = "".join(f'<th scope="col">{escape(head)}</th>' for head in ("gear", *_heads(card)))
    rows = "".join(
        f'<tr><th scope="row">{row.from_gear} \u2192 {row.to_gear}</th>'
        + "".join(_big_cell(up, down, _dial(card, unit)) for up, down in _pairs(row))
        + "</tr>"
        for row in card.rows
    )
    dial = "on the dial" if card.speedometer_factor else "by satellite"
    name = escape(clean(result.vehicle))
    foot = "".join(f"<p>{escape(line)}</p>" for line in _foot(card, unit))
    return (
        '<!doctype html>\n<html lang="en"><head><meta charset="utf-8">'
        '<meta name="viewport" content="width=device-width, initial-scale=1">'
        f"<title>Shift card: {name}</title><style>{_STYLE}</style></head><body>"
        f"<h1>{name}: {escape(unit)} {dial}</h1>"
        f"<table><thead><tr>{heads}</tr></thead><tbody>{rows}</tbody></table>{foot}</body></html>\n"
    )


def _heads(card: ShiftCard) -> tuple[str, str, str]:
    return ("level", f"hill {short(100 * card.hill_grade)} %", f"head wind {short(card.headwind)} m/s")


def _pairs(row: object) -> tuple[tuple[float | None, float | None], ...]:
    """Up and down speed of each column of a row."""
    return tuple(
        (getattr(row, f"{column}_up"), getattr(row, f"{column}_down")) for column in ("level", "hill", "headwind")
    )


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


def _cell(up: float | None, down: float | None, dial: _Dial) -> str:
    return STAY if up is None else f"{dial.shows(up)} / {dial.shows(down)}"


def _big_cell(up: float | None, down: float | None, dial: _Dial) -> str:
    if up is None:
        return f"<td>{STAY}</td>"
    return f"<td>{UP} {dial.shows(up)}<small>{DOWN} {dial.shows(down)}</small></td>"


def _foot(card: ShiftCard, unit: str) -> tuple[str, ...]:
    dial = _dial(card, unit)
    bands = ", ".join(f"{band.gear}: {dial.shows(band.slowest)} to {dial.shows(band.fastest)}" for band in card.bands)
    lines = [f"Good for, {unit}: {bands}."]
    if card.cruise_gear is not None and card.cruise_slow is not None:
        lines.append(
            f"Cruise in {card.cruise_gear} at no more than {dial.shows(card.cruise_slow)} to "
            f"{dial.shows(card.cruise_fast)} {unit}: 10 to 15 % below governed speed."
        )
    lines.append("Stay: the next gear does not pull there. Limits on signs come first.")
    return tuple(lines)
