"""Numbers as a person reads them."""

from __future__ import annotations

import math

import pytest
from hypothesis import given
from hypothesis import strategies as st

from calmday.metrology.figure import Figure, exact, from_normal
from calmday.metrology.rounding import NARROW_SPACE, listed
from calmday.reports.words import amount, amount_unit, clean, duration, percent, text_width, unit_words


@pytest.mark.parametrize(
    ("value", "half", "text"),
    [
        (7.118, 0.0882, "7.12 ± 0.09"),
        (6.61, 0.2156, "6.6 ± 0.2"),
        (6.584, 0.151, "6.58 ± 0.15"),
        (43.127, 0.96, "43.1 ± 1.0"),
        (3371.0, 12.4, "3371 ± 12"),
        (38_610.0, 24.0, f"38{NARROW_SPACE}610 ± 20"),
        (-0.1, 0.2, "−0.1 ± 0.2"),
        (0.01234, 0.00071, "0.0123 ± 0.0007"),
    ],
)
def test_figures_are_rounded_to_their_give_or_take(value: float, half: float, text: str) -> None:
    assert amount(Figure(value, half / 1.96, value - half, value + half, "")) == text


def test_lopsided_doubt_is_told_by_its_two_ends() -> None:
    assert amount(Figure(7.1, 0.6, 6.2, 9.4, "L/100km")) == "7.1 (6.2 to 9.4)"
    assert amount(Figure(7.1, 0.6, 6.2, 8.8, "L/100km")) == "7.1 ± 1.3"


def test_a_figure_without_doubt_has_no_give_or_take() -> None:
    assert amount_unit(exact(90.0, "km/h")) == "90 km/h"
    assert amount(exact(0.0, "m/s")) == "0"
    assert amount(exact(50.4727, "km/h")) == "50.47"


def test_what_is_not_known_is_said_so_without_a_unit() -> None:
    nothing = Figure(math.nan, math.nan, math.nan, math.nan, "kg")
    assert amount_unit(nothing) == "not known"
    assert percent(nothing) == "not known"


def test_a_share_and_a_percentage_read_alike() -> None:
    assert percent(from_normal(0.25, 0.004, "1")) == percent(from_normal(25.0, 0.4, "%")) == "25.0 ± 0.8 %"


def test_plus_is_shown_where_the_sign_matters() -> None:
    assert percent(from_normal(5.2, 1.1, "%"), signed=True) == "+5 ± 2 %"
    assert percent(from_normal(-0.1, 0.1, "%"), signed=True) == "−0.1 ± 0.2 %"
    assert amount(from_normal(0.01, 0.45, "m/s"), signed=True) == "0.0 ± 0.9"


@pytest.mark.parametrize(
    ("share", "spread", "text"),
    [
        (8e-6, 1e-7, "under 0.1 %"),
        (0.004, 1e-5, "0.4 %"),
        (0.0058, 0.0007, "0.6 ± 0.1 %"),
        (0.0003, 0.0007, "0.0 ± 0.1 %"),
    ],
)
def test_a_percentage_stops_at_the_first_decimal(share: float, spread: float, text: str) -> None:
    assert percent(from_normal(share, spread, "1")) == text


@pytest.mark.parametrize(
    ("seconds", "text"),
    [
        (45.4, "45 s"),
        (2300.0, "38 min 20 s"),
        (3840.0, "1 h 04 min"),
        (59.6, "1 min 00 s"),
        (math.nan, "not known"),
    ],
)
def test_times_read_as_people_say_them(seconds: float, text: str) -> None:
    assert duration(seconds) == text


def test_lists_read_as_people_say_them() -> None:
    assert [listed([]), listed(["a"]), listed(["a", "b"]), listed(["a", "b", "c"])] == [
        "",
        "a",
        "a and b",
        "a, b and c",
    ]


def test_units_keep_their_gallon() -> None:
    assert unit_words("mpg_us") == "mpg US"
    assert unit_words("mpg_imp") == "mpg imp"
    assert unit_words("furlong") == "furlong"


def test_text_from_a_file_cannot_steer_the_terminal() -> None:
    assert clean("a\x1b[31mred\nb\x9b") == "a [31mred b"


def test_wide_characters_take_two_columns() -> None:
    assert text_width("漢字 e\u0301") == 6


@given(
    value=st.floats(-1e6, 1e6),
    half=st.floats(1e-6, 1e5),
)
def test_rounding_moves_a_value_by_less_than_its_doubt(value: float, half: float) -> None:
    text = amount(Figure(value, half / 1.96, value - half, value + half, ""))
    if "±" not in text:
        return  # the subtraction lost so many digits that the interval came out lopsided
    shown, doubt = (part.replace(NARROW_SPACE, "").replace("−", "-") for part in text.split(" ± "))
    assert abs(float(shown) - value) <= half / 2 * 1.0001
    assert 0.7 * half <= float(doubt) <= 1.35 * half
