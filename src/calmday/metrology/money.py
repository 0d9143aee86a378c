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
_AMOUNT = re.compile(rf"({_NUMBER}) ?({_CURRENCY})")
_SIGN_FIRST = re.compile(rf"([€£]) ?({_NUMBER})")
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
    return _SIGNS.get(word, word)


def parse_money(text: object, *, below_zero: bool = False) -> Money:
    """ISO amounts such as "2400 EUR". Raises QuantityError; `below_zero` allows what comes in instead of going out."""
    tidy = _tidied(text, AMOUNT_RIGHT)
    match = _AMOUNT.fullmatch(tidy)
    turned = _SIGN_FIRST.fullmatch(tidy)
    if match is None and turned is None:
        raise QuantityError(f"{shown(tidy)} is not an amount of money", AMOUNT_RIGHT)
    number, word = (match[1], match[2]) if match is not None else (turned[2], turned[1]) if turned else ("", "")
    amount = float(number)
    if not (-MOST if below_zero else 0.0) <= amount <= MOST:
        raise QuantityError(f"{shown(tidy)} is not a possible amount", "an amount of zero or more")
    return Money(amount, _code(word))


def parse_unit_price(text: object) -> UnitPrice:
    """A fuel price per m^3 or per kg: "4.09 USD/US gal". Raises QuantityError; a gallon must say which."""
    tidy = _tidied(text, PRICE_RIGHT)
    match = _PRICE.fullmatch(tidy)
    if match is None:
        raise QuantityError(f"{shown(tidy)} is not a price", PRICE_RIGHT)
    try:
        money = parse_money(match[1])
    except QuantityError:
        raise QuantityError(f"{shown(tidy)} is not a price", PRICE_RIGHT) from None
    if not money.amount > 0:
        raise QuantityError(f"{shown(tidy)} is not a possible price", "an amount above zero")
    per: Per = "mass" if match[2] in UNITS["mass"] else "volume"
    one = _measure(match[2], per, tidy)
    if not one > 0 or not money.amount / one <= MOST:
        raise QuantityError(f"{shown(tidy)} is not a possible price", PRICE_RIGHT)
    return UnitPrice(money.amount / one, money.currency, per, match[2])


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
