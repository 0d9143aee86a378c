import math
from decimal import Decimal

import pytest
from hypothesis import given
from hypothesis import strategies as st

from calmday.metrology.rounding import (
    counted,
    decimals_for,
    format_change,
    format_half_width,
    format_shorthand,
    format_signed,
    format_to,
    format_value,
    format_with_uncertainty,
    format_without_doubt,
    give_or_take,
)

PUBLISHED = [
    # Particle Data Group, Introduction 5.3: 0.827 +- 0.119 -> 0.83 +- 0.12, 0.827 +- 0.367 -> 0.8 +- 0.4 [S]
    (0.827, 0.119, "0.83 ± 0.12"),
    (0.827, 0.367, "0.8 ± 0.4"),
    (0.827, 0.354, "0.83 ± 0.35"),
    (0.827, 0.355, "0.8 ± 0.4"),
    (0.827, 0.949, "0.8 ± 0.9"),
    (0.827, 0.951, "0.8 ± 1.0"),
    # JCGM 100:2008, 7.2.6: u = 28 kHz, not 28.05 kHz [M]
    (10_057.62, 28.05, "10058 ± 28"),
    (7.3142, 0.061, "7.31 ± 0.06"),
    (-0.1712, 0.0029, "−0.1712 ± 0.0029"),
    (43_127.0, 2_300.0, "43100 ± 2300"),
    (43_127.0, 6_400.0, "43000 ± 6000"),
    (0.0, 0.2, "0.00 ± 0.20"),
    (1.5, 12.0, "2 ± 12"),
    (12.0, 99.96, "10 ± 100"),
    (5.0, 0.0, "5"),
    (5.25, math.nan, "5.25"),
    (math.nan, 0.1, "not known ± 0.10"),
]


@pytest.mark.parametrize(("value", "u", "text"), PUBLISHED)
def test_value_with_uncertainty(value, u, text):
    assert format_with_uncertainty(value, u) == text
    assert format_value(value, u) == text.split(" ±")[0]


@pytest.mark.parametrize(
    ("value", "u", "text"),
    [
        (100.02147, 0.00035, "100.02147(35)"),  # JCGM 100:2008, 7.2.2 b) [M]
        (127.732, 0.071, "127.73(7)"),
        (219.847, 0.296, "219.85(30)"),
        (5.0, 1.02, "5.0(1.0)"),
        (43_127.0, 2_300.0, "43100(2300)"),
        (5.0, 0.0, "5"),
    ],
)
def test_shorthand(value, u, text):
    assert format_shorthand(value, u) == text


@pytest.mark.parametrize(
    ("value", "half_width", "text"),
    [
        (6.583, 0.152, "6.58 L, give or take 0.15"),
        (6.583, 0.21, "6.6 L, give or take 0.2"),
        (6.583, 0.194, "6.58 L, give or take 0.19"),
        (6.583, 0.196, "6.6 L, give or take 0.2"),
        (35.9, 0.83, "35.9 L, give or take 0.8"),
        (35.9, 0.99, "35.9 L, give or take 1.0"),
        (43_127.0, 2_300.0, "43\u202f000 L, give or take 2000"),
        (12_345_678.0, 12.0, "12\u202f345\u202f678 L, give or take 12"),
        (3.0, 0.0, "3 L"),
    ],
)
def test_give_or_take(value, half_width, text):
    assert give_or_take(value, half_width, "L", grouped=True) == text


def test_without_unit_or_group():
    assert give_or_take(43_127.0, 2_300.0) == "43000, give or take 2000"
    assert format_half_width(0.152) == "0.15"
    assert format_half_width(math.inf) == "not known"
    assert format_half_width(0.0) == "0"


@pytest.mark.parametrize(
    ("value", "text"),
    [(3.0, "3"), (0.25, "0.25"), (-2.5, "−2.5"), (1234567.0, "1234570"), (math.nan, "not known")],
)
def test_exact_numbers(value, text):
    assert format_without_doubt(value) == text


@pytest.mark.parametrize(
    ("value", "decimals", "text"),
    [(3.26, 1, "+3.3"), (-3.26, 1, "−3.3"), (0.04, 1, "0.0"), (-0.04, 1, "0.0"), (0.0, 0, "0"), (-12.0, 0, "−12"),
     (math.inf, 1, "not known"), (math.nan, 1, "not known")],
)  # fmt: skip
def test_a_change_has_a_sign_unless_it_is_none(value, decimals, text):
    assert format_signed(value, decimals) == text


@pytest.mark.parametrize(
    ("value", "text"), [(-0.0251, "−0.0251"), (12.34, "+12.3"), (0.0, "0"), (-1e-9, "−0.000000001")]
)
def test_a_change_without_doubt_keeps_three_digits(value, text):
    assert format_change(value) == text


@pytest.mark.parametrize(
    ("value", "decimals", "text"),
    [(0.125, 2, "0.12"), (0.375, 2, "0.38"), (25.0, -1, "20"), (2.675, 2, "2.68")],
)
def test_halves_go_to_even_as_the_digits_are_shown(value, decimals, text):
    """ISO 80000-1:2009, Annex B, rule A [M]; on the shortest decimal, not on the binary neighbour."""
    assert format_to(value, decimals) == text


@given(st.floats(-1e9, 1e9), st.floats(1e-9, 1e6))
def test_rounding_stays_well_inside_the_doubt(value, u):
    text = format_value(value, u).replace("−", "-")
    # One digit from 0.36 up keeps the step below 2.9 standard uncertainties: at most half a step is lost.
    assert abs(Decimal(text) - Decimal(repr(value))) <= Decimal(repr(u)) * Decimal("1.5")


@given(st.floats(1e-9, 1e9))
def test_uncertainty_keeps_one_or_two_digits(u):
    shown = format_to(u, decimals_for(u))
    digits = shown.replace(".", "").lstrip("0")
    significant = len(digits) + min(decimals_for(u), 0)
    assert significant in (1, 2)
    assert abs(float(shown) - u) <= 0.15 * u


def test_one_thing_is_not_several():
    assert [counted(n, "lap") for n in (0, 1, 2)] == ["0 laps", "1 lap", "2 laps"]
    assert counted(1, "run was", "runs were") == "1 run was"
    assert counted(4, "fix", "fixes") == "4 fixes"
