"""What is asked about a published figure. Kind `published`."""

from __future__ import annotations

from collections.abc import Collection
from typing import TYPE_CHECKING, Any, Final

from calmday.web.cost_fields import places
from calmday.web.documents import DocumentKind
from calmday.web.fields import Group, field
from calmday.web.vehicle_fields import BODIES, FUELS

if TYPE_CHECKING:
    from calmday.files.named_files import NamedDocument

RULES: Final = (
    ("us laboratory", "United States, laboratory figure"),
    ("us 1975", "United States label, to model year 1984"),
    ("us 1985", "United States label, 1985 to 2007"),
    ("us 2008", "United States label, 2008 to 2016"),
    ("us 2017", "United States label, from 2017"),
    ("europe 1980", "Europe, 1980s: urban, steady 90 and 120"),
    ("europe 1996", "Europe from 1996: urban and extra-urban"),
    ("wltp", "WLTP"),
    ("japan 10-15", "Japan, 10-15 mode"),
    ("din 70030", "DIN 70030"),
    ("steady speed", "one steady speed"),
    ("road test", "a road test"),
    ("owner average", "what an owner says"),
    ("brim to brim", "brim to brim"),
)
STARTS: Final = (("cold", "cold"), ("warm", "warm"))
MOST_STEADY: Final = 8


def published_groups(keys: Collection[str]) -> tuple[Group, ...]:
    """Every box of a published figure."""
    return (
        Group(
            name="figure",
            title="What is printed",
            lead="As printed, rounding and all. The gallon must say which.",
            fields=(
                field("label", "Name", kind="text", room=30, example="The donor, as the factory sold it"),
                field("rule", "Kind of figure", kind="choice", choices=RULES, left_out="the model year says it"),
                field("model_year", "Model year", kind="whole", example="1991"),
                field("city", "City, or urban", units="consumption"),
                field("highway", "Highway, or extra-urban", units="consumption"),
                field("combined", "Combined", units="consumption"),
                field("value", "Any other figure", units="consumption"),
                field("source", "Where it was read", kind="text", room=30, example="label in the glove box"),
            ),
        ),
        Group(
            name="steady",
            title="Figures at a steady speed",
            fields=tuple(
                each
                for i in places(keys, "steady", 1, MOST_STEADY)
                for each in (
                    field(f"steady[{i}].speed", f"Speed {i + 1}", units="road speed", example="90"),
                    field(f"steady[{i}].value", "It used", units="consumption"),
                )
            ),
        ),
        Group(
            name="test",
            title="The test",
            fields=(
                field("engine_start", "Engine at the start", kind="choice", choices=STARTS),
                field("temperature", "Temperature", units="temperature", example="24"),
                field("average_speed", "Average speed", units="road speed", example="34"),
            ),
        ),
        Group(
            name="about",
            title="The vehicle that was tested",
            fields=(
                field("about.vehicle", "What it was", kind="text", room=30),
                field("about.fuel", "Fuel", kind="choice", choices=FUELS),
                field("about.mass", "Mass", units="mass", example="1390"),
                field("about.tyre", "Tyres", kind="text", example="185/75 R16"),
                field("about.final_drive", "Axle ratio", kind="number", example="4.6"),
                field("about.body", "Body", kind="choice", choices=BODIES),
            ),
        ),
    )


def _read(named: NamedDocument) -> Any:
    from calmday.files.published_file import published_of  # noqa: PLC0415  (only where something is judged)

    return published_of(named, "published.toml", "published")


PUBLISHED: Final = DocumentKind(
    kind="published", words="Published figure", page="published_of", home="published", groups=published_groups,
    read=_read,
)  # fmt: skip
