"""Money at the door: what is taken, what is refused, and that no text breaks it."""

from __future__ import annotations

import math

import pytest
from hypothesis import given
from hypothesis import strategies as st

from calmday.metrology.money import parse_money, parse_rate, parse_unit_price, parse_volume_price
from calmday.metrology.units import QuantityError

MEASURES = {"L": 1e-3, "US gal": 231 * 0.0254**3, "imp gal": 4.54609e-3, "m^3": 1.0, "mL": 1e-6}
"""Volumes in m^3; the gallons as NIST Handbook 44 and the UK regulations of 1995 define them."""
MASSES = {"kg": 1.0, "lb": 0.45359237, "t": 1000.0}
CODES = st.text(alphabet="ABCDEFGHIJKLMNOPQRSTUVWXYZ", min_size=3, max_size=3)
AMOUNTS = st.floats(0.001, 1e5).map(lambda x: round(x, 3)).filter(lambda x: x > 0)


@given(AMOUNTS, CODES, st.sampled_from(sorted(MEASURES)), st.sampled_from(["/", " / ", " per "]))
def test_a_price_by_volume_is_read_in_any_measure(amount: float, code: str, unit: str, by: str) -> None:
    found = parse_unit_price(f"{amount} {code}{by}{unit}")
    assert (found.currency, found.per, found.unit) == (code, "volume", unit)
    assert found.amount == pytest.approx(amount / MEASURES[unit], rel=1e-12)


@given(AMOUNTS, CODES, st.sampled_from(sorted(MASSES)))
def test_a_price_by_mass_is_one_by_mass(amount: float, code: str, unit: str) -> None:
    found = parse_unit_price(f"{amount} {code}/{unit}")
    assert found.per == "mass"
    assert found.amount == pytest.approx(amount / MASSES[unit], rel=1e-12)


@given(AMOUNTS, AMOUNTS, CODES, CODES)
def test_a_rate_is_the_ratio_of_its_sides(give: float, take: float, source: str, target: str) -> None:
    if source == target:
        with pytest.raises(QuantityError):
            parse_rate(f"{give} {source} = {take} {target}")
    else:
        assert parse_rate(f"{give} {source} = {take} {target}").factor == pytest.approx(take / give)


@given(st.one_of(st.text(max_size=120), st.floats(), st.integers(), st.none(), st.lists(st.text(max_size=3))))
def test_whatever_is_written_is_read_or_refused_in_words(text: object) -> None:
    for read in (parse_money, parse_unit_price, parse_volume_price, parse_rate):
        try:
            found = read(text)
        except QuantityError as error:
            assert error.wrong
            assert error.right
        else:
            assert all(math.isfinite(part) for part in (getattr(found, "amount", 0.0), getattr(found, "factor", 0.0)))


@pytest.mark.parametrize(
    ("text", "per_m3", "currency"),
    [
        ("1.62 EUR/L", 1620.0, "EUR"),
        ("4.09 USD/US gal", 4.09 / 3.785411784e-3, "USD"),
        ("5.98 GBP/imp gal", 5.98 / 4.54609e-3, "GBP"),
        ("1.62 €/L", 1620.0, "EUR"),
        ("1.62 EUR per L", 1620.0, "EUR"),
        ("£1.399/L", 1399.0, "GBP"),
        ("139.9p/L", 1399.0, "GBP"),
        ("139.9 p/l", 1399.0, "GBP"),
        ("139.9 pence per litre", 1399.0, "GBP"),
        ("US$4.09/US gal", 4.09 / 3.785411784e-3, "USD"),
        ("1.899 AU$/L", 1899.0, "AUD"),
        ("0 EUR/L", 0.0, "EUR"),
    ],
)
def test_a_price_at_the_pump_is_read(text: str, per_m3: float, currency: str) -> None:
    amount, found = parse_volume_price(text)
    assert amount == pytest.approx(per_m3, rel=1e-12)
    assert found == currency


@pytest.mark.parametrize("text", ["1.62", "1.62 EUR", "4 USD/gal", "$4/US gal", "1.62 EUR/kg", "-1 EUR/L", 1.62])
def test_what_is_no_price_by_volume_is_refused(text: object) -> None:
    with pytest.raises(QuantityError):
        parse_volume_price(text)


@pytest.mark.parametrize(
    ("text", "told"),
    [
        ("1.62 EUR/gal", "which gallon?"),
        ("1,62 EUR/L", "comma"),
        ("1.62/L", "has no currency"),
        ("0", "fuel that cost nothing"),
        ("1.62 EUR", "does not say for how much; with its measure, such as 1.62 EUR/L"),
        ("139.9p", "does not say for how much; with its measure, such as 139.9p/L"),
        ("$4.09/US gal", "which dollar?; its three letters, such as USD"),
        ("4.09 $/US gal", "which dollar?"),
        ("189.9 c/L", "cents of which currency?"),
        ("-1 EUR/L", "is not a possible price; an amount of zero or more"),
        ("1.62 eur/L", "is not a price"),
        ("1.62 EUR/km", "is a length, not a volume"),
        (1.62, "is not a text"),
    ],
)
def test_what_is_no_price_is_refused_with_the_reason(text: object, told: str) -> None:
    with pytest.raises(QuantityError, match=told.replace("?", r"\?")):
        parse_unit_price(text)


def test_signs_stand_for_their_currencies() -> None:
    assert parse_money("2400 €").currency == "EUR"
    assert parse_money("£ 12.50").amount == 12.5
    assert parse_money("-50 EUR", below_zero=True).amount == -50
    with pytest.raises(QuantityError):
        parse_money("-50 EUR")
    assert parse_money("150p").amount == 1.5
    assert parse_money("US$ 40").currency == "USD"
    with pytest.raises(QuantityError, match="which dollar"):
        parse_money("$40")
