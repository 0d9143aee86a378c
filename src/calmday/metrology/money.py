"""Money at the door: amounts, fuel prices by volume or mass, exchange rates. A currency is never guessed."""

from __future__ import annotations

import re
from typing import Literal

import msgspec

from calmday.metrology.unit_table import UNITS
from calmday.metrology.units import QuantityError, parse_quantity, shown

Per = Literal["volume", "mass"]

_NUMBER = r"[+-]?(?:\d+(?:\.\d*)?|\.\d+)"
_CURRENCY = r"[A-Z]{3}|€|£"
_SIGNS = {"€": "EUR", "£": "GBP"}
_SIGN = r"[€£]|(?:[A-Z]{2})?\$"
_AMOUNT = re.compile(rf"({_NUMBER}) ?([A-Z]{{3}}|{_SIGN}|p|pence)")
_SIGN_FIRST = re.compile(rf"({_SIGN}) ?({_NUMBER})")
_CENTS = re.compile(rf"{_NUMBER} ?(?:¢|c|ct|cts|cent|cents)")
_NUMBER_ALONE = re.compile(_NUMBER)
_PENCE = ("p", "pence")
_NOUNS = {"amount": "an amount of money", "price": "a price"}
_PRICE = re.compile(r"(.+?) ?(?:/|\bper\b) ?(\S.*)")
_RATE = re.compile(rf"({_NUMBER}) ?({_CURRENCY}) ?= ?({_NUMBER}) ?({_CURRENCY})")
_COMMA = re.compile(r"\d,|,\d")
_LONGEST = 80
MOST = 1e12

AMOUNT_RIGHT = 'an amount with its ISO currency such as "2400 EUR"'
PRICE_RIGHT = 'a price with ISO currency and unit such as "1.62 EUR/L", "4.09 USD/US gal" or "1.10 EUR/kg"'
RATE_RIGHT = 'a rate such as "1 GBP = 1.17 EUR"'


class Money(msgspec.Struct, frozen=True):
    """An amount in a currency, by its three letters."""

    amount: float
    currency: str


class UnitPrice(msgspec.Struct, frozen=True):
    """A fuel price: `amount` of `currency` per m^3 (`per` volume) or per kg (`per` mass); `unit` as it was written."""

    amount: float
    currency: str
    per: Per
    unit: str


class Rate(msgspec.Struct, frozen=True):
    """One unit of `source` is worth `factor` of `target`."""

    source: str
    target: str
    factor: float


def _tidied(text: object, right: str) -> str:
    if not isinstance(text, str):
        raise QuantityError(f"{shown(text)} is not a text", right)
    tidy = " ".join(text.replace("\u00a0", " ").replace("\u202f", " ").replace("−", "-").split())
    if not tidy or len(tidy) > _LONGEST:
        raise QuantityError("nothing is entered" if not tidy else f"{shown(text)} is too long", right)
    if _COMMA.search(tidy):
        raise QuantityError(
            f"{shown(tidy)} has a comma in the number", "a decimal point and no thousands separator, 1.5 not 1,5"
        )
    return tidy


def _code(word: str) -> str:
    """The three letters of a currency. A country before the dollar names it: US$ is USD (ISO 4217 puts the two letters
    of the country, ISO 3166, before one for the currency)."""
    return f"{word[:2]}D" if len(word) == 3 and word.endswith("$") else _SIGNS.get(word, word)


def parse_money(text: object, *, below_zero: bool = False) -> Money:
    """ISO amounts such as "2400 EUR", also "£12.50", "US$ 40" and "150p", which are British pence.

    Raises QuantityError; a bare dollar must say which, `below_zero` allows what comes in instead of going out.
    """
    tidy = _tidied(text, AMOUNT_RIGHT)
    money = _amount(tidy, tidy, "amount", AMOUNT_RIGHT)
    if money.amount < 0 and not below_zero:
        raise QuantityError(f"{shown(tidy)} is not a possible amount", "an amount of zero or more")
    return money


def _amount(part: str, whole: str, what: str, right: str) -> Money:
    """The money in a part of a text; what is wrong with it is said of the `whole`."""
    match, turned = _AMOUNT.fullmatch(part), _SIGN_FIRST.fullmatch(part)
    if match is not None:
        number, word = match[1], match[2]
    elif turned is not None:
        number, word = turned[2], turned[1]
    elif _CENTS.fullmatch(part):
        raise QuantityError(
            f"{shown(whole)}: cents of which currency?", "whole units with its letters: 1.899 AUD, not 189.9 cents"
        )
    elif _NUMBER_ALONE.fullmatch(part):
        free = 'with its currency too, such as "0 EUR/L" for fuel that cost nothing'
        raise QuantityError(f"{shown(whole)} has no currency", right if float(part) or what != "price" else free)
    else:
        raise QuantityError(f"{shown(whole)} is not {_NOUNS[what]}", right)
    if word == "$":
        raise QuantityError(f"{shown(whole)}: which dollar?", "its three letters, such as USD, CAD or AUD; or US$")
    amount = float(number)
    if not -MOST <= amount <= MOST:
        raise QuantityError(f"{shown(whole)} is not a possible {what}", right)
    return Money(amount / 100, "GBP") if word in _PENCE else Money(amount, _code(word))


def parse_unit_price(text: object) -> UnitPrice:
    """A fuel price per m^3 or per kg: "4.09 USD/US gal", "139.9p/L"; nought for fuel that costs nothing.

    Raises QuantityError; a gallon, and a dollar, must say which.
    """
    tidy = _tidied(text, PRICE_RIGHT)
    match = _PRICE.fullmatch(tidy)
    money = _amount(match[1] if match is not None else tidy, tidy, "price", PRICE_RIGHT)
    if match is None:
        raise QuantityError(f"{shown(tidy)} does not say for how much", f"with its measure, such as {tidy}/L")
    per: Per = "mass" if match[2] in UNITS["mass"] else "volume"
    one = _measure(match[2], per, tidy)
    if not (money.amount >= 0 and one > 0 and money.amount / one <= MOST):
        raise QuantityError(f"{shown(tidy)} is not a possible price", "an amount of zero or more")
    return UnitPrice(money.amount / one, money.currency, per, match[2])


def parse_volume_price(text: object) -> tuple[float, str]:
    """A fuel price per m^3 and its currency: "1.62 EUR/L" gives (1620.0, "EUR"). Else as `parse_unit_price`."""
    found = parse_unit_price(text)
    if found.per != "volume":
        raise QuantityError(f"{shown(text)} is a price by mass", 'a price by volume such as "1.62 EUR/L"')
    return found.amount, found.currency


def _measure(unit: str, per: Per, tidy: str) -> float:
    """One of a unit in m^3 or kg; what is wrong with it is said of the whole price as it was typed."""
    one = f"1 {unit}"
    try:
        return parse_quantity(one, per)
    except QuantityError as error:
        raise QuantityError(error.wrong.replace(shown(one), shown(tidy)), error.right) from None


def parse_rate(text: object) -> Rate:
    """ "1 GBP = 1.17 EUR" as a rate. Raises QuantityError."""
    tidy = _tidied(text, RATE_RIGHT)
    match = _RATE.fullmatch(tidy)
    if match is None:
        raise QuantityError(f"{shown(tidy)} is not an exchange rate", RATE_RIGHT)
    give, take = float(match[1]), float(match[3])
    source, target = _code(match[2]), _code(match[4])
    if not (0.0 < give <= MOST and 0.0 < take <= MOST) or source == target:
        raise QuantityError(f"{shown(tidy)} is not a possible exchange rate", "two amounts above zero, two currencies")
    return Rate(source, target, take / give)
