"""`calmday cost`: what driving costs, and when a conversion has paid for itself."""

from __future__ import annotations

from pathlib import Path
from typing import Any

import click

from calmday.cli.exit_status import of_flags
from calmday.cli.printing import show_json, show_sheet, tell_flags
from calmday.cli.reduce import draw_options, given
from calmday.errors import InputError

COST_FILE, PRICE_FILE = "cost.toml", "price.toml"
TYPED = "calmday cost"

HELP = """What it costs, and when the swap has paid for itself.

COST is a cost file, or a folder with a cost.toml in it: what is burnt (typed, or from weighed runs), prices per
litre, gallon or kilogram in any currency, exchange rates as you read them, and what a conversion cost. For one
quick answer leave COST out and give the figures as options: every --use is priced at every --price.

\b
Examples
  calmday cost my-day/cost.toml
  calmday cost --use "7.5 L/100km" --price "1.62 EUR/L"
  calmday cost --use "34.9 mpg imp" --price "5.98 GBP/imp gal" --per "100 mi"
  calmday cost --use "11.4 L/100km petrol" --price "1.81 EUR/L petrol"
      --use "7.5 L/100km diesel" --price "1.62 EUR/L diesel"
      --yearly-distance "15000 km" --outlay "2400 EUR"

Prices and rates are those you type, with their day; nothing is fetched. Leaves with 0 when done, 2 when the
input is at fault, 3 when the program is.
"""


@click.command(name="cost", help=HELP, short_help="What it costs, and when the swap has paid for itself.")
@click.argument("cost", metavar="[COST]", required=False)
@click.option("--use", "uses", multiple=True, metavar="'7.5 L/100km'", help="What it uses; its fuel may follow.")
@click.option("--price", "prices", multiple=True, metavar="'1.62 EUR/L'", help="A price; its fuel may follow.")
@click.option("--rate", "rates", multiple=True, metavar="'1 GBP = 1.17 EUR'", help="An exchange rate of today.")
@click.option("--currency", metavar="EUR", help="The currency to count in; needs a rate for each other one.")
@click.option("--per", metavar="'100 mi'", help="The distance to quote costs for; 100 km if not said.")
@click.option("--tank", metavar="'60 L'", help="Size of the tank, to tell how far it goes.")
@click.option("--yearly-distance", metavar="'15000 km'", help="Distance driven in a year.")
@click.option("--outlay", metavar="'2400 EUR'", help="What the change from the first use to the second cost.")
@click.option("--saving", metavar="'2 %'", help="A small saving, to tell what it is worth.")
@click.option("--json", "as_json", is_flag=True, help="Print JSON instead of the sheet; cautions go to standard error.")
@draw_options
def command(cost: str | None, as_json: bool, draws: int | None, seed: int | None, **options: Any) -> int:
    """Answer what it costs."""
    typed = {name: value for name, value in options.items() if value}
    if cost is None and not typed:
        raise InputError.one(TYPED, "COST", "nothing is asked", "a cost file, or --use with --price")
    if cost is not None and typed:
        names = ", ".join(f"--{_option(name)}" for name in typed)
        raise InputError.one(TYPED, names, "stands beside a file", "put it into the file, or leave the file out")
    if cost is not None:
        from calmday.operations import cost_file  # noqa: PLC0415  (numpy and the model only now)

        result = cost_file(path_of(cost), **given(draws=draws, seed=seed))
    else:
        from calmday.files.named_files import FolderFiles, NamedDocument  # noqa: PLC0415
        from calmday.operations import cost_document  # noqa: PLC0415

        document = NamedDocument(tables_of(typed), FolderFiles(Path()))
        result = cost_document(document, TYPED, **given(draws=draws, seed=seed))
    if as_json:
        show_json(result)
        tell_flags(result.flags)
    else:
        from calmday.reports.cost_sheet import cost_sheet  # noqa: PLC0415

        show_sheet(cost_sheet(result))
    return of_flags(result.flags)


def path_of(text: str) -> Path:
    """The cost file itself, or the one in the folder given."""
    path = Path(text)
    if not path.is_dir():
        return path
    for name in (COST_FILE, PRICE_FILE):
        if (path / name).is_file():
            return path / name
    raise InputError.one(text, COST_FILE, "no cost file in this folder", f"a file {COST_FILE}")


def tables_of(typed: dict[str, Any]) -> dict[str, Any]:
    """The options as the tables of a cost file, so that one reader judges both."""
    from datetime import date  # noqa: PLC0415

    tables: dict[str, Any] = {"label": "Typed on the command line"}
    uses = [_with_fuel("consumption", text) for text in typed.get("uses", ())]
    for place, use in enumerate(uses, start=1):
        use["name"] = f"{use['consumption']}, {use['fuel']}" if "fuel" in use else str(use["consumption"])
        if any(use["name"] == other["name"] for other in uses[: place - 1]):
            use["name"] = f"{use['name']} ({place})"
    if uses:
        tables["use"] = uses
    prices = [_with_fuel("price", text) for text in typed.get("prices", ())]
    if prices:
        tables["price"] = prices
    if "rates" in typed:
        tables["rate"] = [{"rate": text, "date": date.today(), "source": "typed today"} for text in typed["rates"]]
    for name in ("currency", "per", "tank", "saving", "yearly_distance"):
        if name in typed:
            tables[name] = typed[name]
    if "outlay" in typed and len(uses) == 2:
        tables["conversion"] = {"from": uses[0]["name"], "to": uses[1]["name"], "outlay": typed["outlay"]}
    elif "outlay" in typed:
        raise InputError.one(
            TYPED,
            "--outlay",
            f"needs two uses, and there {'is 1' if len(uses) == 1 else f'are {len(uses)}'}",
            "--use before, --use after",
        )
    return tables


def _with_fuel(key: str, text: str) -> dict[str, Any]:
    """ "7.5 L/100km diesel" as its figure and its fuel; what is no fuel stays with the figure."""
    from calmday.records.vehicle import FUEL_KINDS  # noqa: PLC0415

    head, _, last = text.strip().rpartition(" ")
    return {key: head.strip(), "fuel": last.lower()} if head and last.lower() in FUEL_KINDS else {key: text.strip()}


def _option(name: str) -> str:
    return {"uses": "use", "prices": "price", "rates": "rate"}.get(name, name.replace("_", "-"))
