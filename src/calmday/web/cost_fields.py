"""What a cost sheet asks: what is burnt, prices, exchange rates, and what a conversion cost. Kind `price`."""

from __future__ import annotations

import re
from collections.abc import Collection
from typing import TYPE_CHECKING, Any, Final

from calmday.web.documents import DocumentKind
from calmday.web.fields import Field, Group, field
from calmday.web.vehicle_fields import FUELS

if TYPE_CHECKING:
    from calmday.files.named_files import NamedDocument

TAXES: Final = (("in", "in the price"), ("out", "not in it"))
MOST: Final = {"use": 8, "price": 12, "rate": 8}


def places(keys: Collection[str], name: str, least: int, most: int) -> range:
    """Rows to show: those in use and one more, at least `least`, of many the last `most`; earlier ones stand in the
    sheet and in the history."""
    used = [int(found[1]) for key in keys if (found := re.match(rf"{re.escape(name)}\[(\d{{1,3}})\]", key))]
    end = max(max(used, default=-1) + 2, least)
    return range(max(end - most, 0), end)


def cost_groups(keys: Collection[str]) -> tuple[Group, ...]:
    """Every box of a cost sheet."""
    return (
        Group(
            name="about",
            title="What is asked",
            fields=(
                field("label", "Name", kind="text", room=30, example="Was the swap worth it?"),
                field("per", "Costs are quoted for", left_out="100 km", kind="text", figures=True, example="100 mi"),
                field("currency", "Currency to count in", "Needs a rate for every other one.", kind="text",
                      example="EUR", left_out="each price stays in its own"),
                field("yearly_distance.value", "Driven in a year", units="distance", example="15000"),
                field("yearly_distance.pm", "give or take", kind="text", figures=True, example="20 %", left_out="20 %"),
                field("tank", "Tank", "For the range.", "volume", example="60"),
                field("saving", "Small saving asked about", units="fraction", example="2", left_out="2 %"),
            ),
        ),
        *(_use(i) for i in places(keys, "use", 2, MOST["use"])),
        *(_price(i) for i in places(keys, "price", 2, MOST["price"])),
        Group(
            name="rates",
            title="Exchange rates",
            lead="As you read them, with the day. None is fetched.",
            fields=tuple(each for i in places(keys, "rate", 1, MOST["rate"]) for each in _rate(i)),
        ),
        Group(
            name="conversion",
            title="A conversion to pay for",
            lead="From one use to another; the names must be those above.",
            fields=(
                field("conversion.from", "From", kind="text", room=20),
                field("conversion.to", "To", kind="text", room=20),
                field("conversion.outlay.value", "What it cost", kind="text", figures=True, example="2400 EUR"),
                field("conversion.outlay.pm", "give or take", kind="text", figures=True, example="300 EUR"),
                field("conversion.yearly", "Costs more each year", "Beside fuel; below zero where it costs less.",
                      kind="text", figures=True, example="120 EUR", left_out="nothing"),
                field("prices_later", "Later prices, give or take", "Mean prices of later years against this one.",
                      "fraction", example="15", left_out="15 %"),
                field("conversion.horizon_years", "Years to look ahead", kind="number", example="10", left_out="10"),
            ),
        ),
    )  # fmt: skip


def _use(i: int) -> Group:
    return Group(
        name=f"use-{i}",
        title=f"Use {i + 1}",
        lead="One vehicle, or one state of it." if i == 0 else "",
        fields=(
            field(f"use[{i}].name", "Name", kind="text", room=20, example="before, petrol"),
            field(f"use[{i}].fuel", "Fuel", kind="choice", choices=FUELS),
            field(f"use[{i}].consumption.value", "It uses", units="consumption", example="7.5"),
            field(f"use[{i}].consumption.pm", "give or take", kind="text", figures=True, example="5 %", left_out="5 %"),
        ),
    )


def _price(i: int) -> Group:
    return Group(
        name=f"price-{i}",
        title=f"Price {i + 1}",
        lead="Per litre, US gal, imp gal or kg, with the three letters of its currency." if i == 0 else "",
        fields=(
            field(f"price[{i}].price", "Price", kind="text", figures=True, room=16, example="1.62 EUR/L"),
            field(f"price[{i}].fuel", "Fuel", kind="choice", choices=FUELS, left_out="it is taken for any fuel"),
            field(f"price[{i}].low", "Lowest of the year", kind="text", figures=True, room=16, example="1.48 EUR/L"),
            field(f"price[{i}].high", "Highest of the year", kind="text", figures=True, room=16, example="1.79 EUR/L"),
            field(f"price[{i}].date", "Read on", kind="date"),
            field(f"price[{i}].place", "Where", kind="text", room=20),
            field(f"price[{i}].tax", "Tax", kind="choice", choices=TAXES),
        ),
    )


def _rate(i: int) -> tuple[Field, ...]:
    return (
        field(f"rate[{i}].rate", f"Rate {i + 1}", kind="text", figures=True, room=22, example="1 GBP = 1.17 EUR"),
        field(f"rate[{i}].date", "Read on", kind="date"),
        field(f"rate[{i}].source", "Where", kind="text", room=20),
    )


def _read(named: NamedDocument) -> Any:
    from calmday.files.cost_file import cost_of  # noqa: PLC0415  (the reader only where something is judged)

    return cost_of(named, "price.toml", "price")


PRICE: Final = DocumentKind(
    kind="price", words="Cost sheet", page="cost_of", home="cost", groups=cost_groups, read=_read
)
