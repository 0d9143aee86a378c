"""How many digits a figure deserves, and how its doubt is said."""

from __future__ import annotations

import math
from collections.abc import Iterable
from decimal import ROUND_HALF_EVEN, Decimal

MINUS = "−"
NARROW_SPACE = "\u202f"  # narrow no-break space


def _quantize(value: float, decimals: int) -> Decimal:
    """`value` to `decimals` places (negative: tens, hundreds), halves to even. ISO 80000-1:2009, Annex B,
    rule A.
    """
    exact = Decimal(repr(float(value)))
    if not exact:
        return Decimal(0).quantize(Decimal(1).scaleb(-max(decimals, 0)))
    step = Decimal(1).scaleb(-decimals)
    rounded = (exact / step).to_integral_value(rounding=ROUND_HALF_EVEN) * step
    return rounded.quantize(Decimal(1).scaleb(-max(decimals, 0)))


def _leading(value: float) -> tuple[int, int]:
    """The three leading digits (100 to 999) of |value|, and the exponent of the first."""
    exact = Decimal(repr(abs(float(value))))
    exponent = exact.adjusted()
    three = (exact.scaleb(2 - exponent)).to_integral_value(rounding=ROUND_HALF_EVEN)
    return (100, exponent + 1) if three == 1000 else (int(three), exponent)


def decimals_for(standard_uncertainty: float) -> int:
    """Decimal places to which a value and its standard uncertainty are given; negative: round to tens,
    hundreds.

    Leading digits of the uncertainty 100 to 354: two digits; 355 to 949: one; 950 to 999: rounded up to 1000,
    two. Particle Data Group, Review of Particle Physics, Introduction 5.3; within JCGM 100:2008, 7.2.6 (at
    most two).
    """
    three, exponent = _leading(standard_uncertainty)
    if three < 355:
        return 1 - exponent
    return -exponent


def decimals_for_half_width(half_width: float) -> int:
    """Decimal places for a spoken "give or take": one digit, two where the first is a 1 (0.15 but 0.2).

    Dropping the second digit changes a half width by at most a quarter, which is less than it is known to.
    """
    three, exponent = _leading(half_width)
    return 1 - exponent if three < 195 else -exponent


def _plain(number: Decimal, grouped: bool) -> str:
    """Decimal as text with a true minus sign; digits in groups of three left of the point where there are
    over four.
    """
    text = f"{abs(number):f}"
    whole, point, fraction = text.partition(".")
    if grouped and len(whole) > 4:
        head = len(whole) % 3 or 3
        whole = NARROW_SPACE.join([whole[:head], *(whole[i : i + 3] for i in range(head, len(whole), 3))])
    sign = MINUS if number < 0 else ""
    return f"{sign}{whole}{point}{fraction}"


def _has_doubt(doubt: float) -> bool:
    return math.isfinite(doubt) and doubt > 0.0


def format_to(value: float, decimals: int, *, grouped: bool = False) -> str:
    """A number to so many decimal places (negative: tens, hundreds), with a true minus sign."""
    if not math.isfinite(value):
        return "not known"
    return _plain(_quantize(value, decimals), grouped)


def format_signed(value: float, decimals: int, *, grouped: bool = False) -> str:
    """A change: "+1.2", "−0.8", and no sign before what rounds to nothing."""
    text = format_to(value, decimals, grouped=grouped)
    return f"+{text}" if value > 0 and text.strip("0.") and math.isfinite(value) else text


def format_change(value: float, digits: int = 3) -> str:
    """A change that carries no doubt, to so many significant digits: "+0.025", "−12"."""
    text = format_without_doubt(float(f"{value:.{digits}g}"))
    return f"+{text}" if value > 0 and math.isfinite(value) else text


def format_without_doubt(value: float, *, grouped: bool = False) -> str:
    """A number that carries no doubt: up to six significant digits, no trailing zeros."""
    if not math.isfinite(value):
        return "not known"
    rounded = Decimal(f"{value:.6g}")
    whole = rounded == rounded.to_integral()
    return _plain(rounded.quantize(Decimal(1)) if whole else rounded.normalize(), grouped)


def format_value(value: float, standard_uncertainty: float, *, grouped: bool = False) -> str:
    """The value alone, rounded to its standard uncertainty: 7.3142 with 0.061 is 7.31. Rule:
    `decimals_for`.
    """
    if not _has_doubt(standard_uncertainty):
        return format_without_doubt(value, grouped=grouped)
    return format_to(value, decimals_for(standard_uncertainty), grouped=grouped)


def format_with_uncertainty(value: float, standard_uncertainty: float, *, grouped: bool = False) -> str:
    """Value ± standard uncertainty, both to the same place: 7.31 ± 0.06. JCGM 100:2008, 7.2.2; rule:
    `decimals_for`.
    """
    if not _has_doubt(standard_uncertainty):
        return format_without_doubt(value, grouped=grouped)
    places = decimals_for(standard_uncertainty)
    shown = format_to(standard_uncertainty, places, grouped=grouped)
    return f"{format_to(value, places, grouped=grouped)} ± {shown}"


def format_shorthand(value: float, standard_uncertainty: float) -> str:
    """Value with the standard uncertainty of its last digits in brackets: 127.732(71). JCGM 100:2008, 7.2.2
    b).
    """
    if not _has_doubt(standard_uncertainty):
        return format_without_doubt(value)
    places = decimals_for(standard_uncertainty)
    doubt = _quantize(standard_uncertainty, places)
    digits = f"{int(doubt.scaleb(places))}" if places > 0 and doubt < 1 else f"{doubt:f}"
    return f"{format_to(value, places)}({digits})"


def common_decimals(values: Iterable[float], most: int = 4) -> int:
    """Fewest decimal places, at most `most`, that show every value as it is, so that they stand alike: 0.80 by 0.85.

    >>> common_decimals([0.8, 0.85, 1.0]), common_decimals([4.0, 6.0])
    (2, 0)
    """
    known = list(values)
    return next((n for n in range(most) if all(abs(round(v, n) - v) <= 1e-9 * abs(v) for v in known)), most)


def counted(count: int, one: str, several: str = "") -> str:
    """A number of things: `counted(1, "lap")` is "1 lap", `counted(3, "lap")` "3 laps"."""
    return f"{count} {one if count == 1 else several or f'{one}s'}"


def listed(parts: list[str]) -> str:
    """`a`, `a and b`, `a, b and c`."""
    return parts[0] if len(parts) == 1 else f"{', '.join(parts[:-1])} and {parts[-1]}" if parts else ""


def format_half_width(half_width: float, *, grouped: bool = False) -> str:
    """A 95 % half width as it is spoken: one digit, two where the first is a 1. Rule:
    `decimals_for_half_width`.
    """
    if not _has_doubt(half_width):
        return format_without_doubt(half_width, grouped=grouped)
    return format_to(half_width, decimals_for_half_width(half_width), grouped=grouped)


def give_or_take(value: float, half_width: float, unit: str = "", *, grouped: bool = False) -> str:
    """A figure in plain words: "6.6 L/100 km, give or take 0.2". Value and half width end at the same
    place.
    """
    tail = f" {unit}" if unit else ""
    if not _has_doubt(half_width):
        return f"{format_without_doubt(value, grouped=grouped)}{tail}"
    places = decimals_for_half_width(half_width)
    shown = format_to(value, places, grouped=grouped)
    return f"{shown}{tail}, give or take {format_to(half_width, places, grouped=grouped)}"
