"""What driving costs: cost.toml with the runs it takes figures from."""

from __future__ import annotations

import datetime as dt
import math
from pathlib import Path
from typing import cast

from calmday.errors import InputError
from calmday.files.consumption_entry import consumption_of
from calmday.files.named_files import FolderFiles, NamedDocument, NamedFiles, SeenFiles
from calmday.files.run_file import run_of
from calmday.files.toml_table import FaultList, Table
from calmday.metrology.money import Money, UnitPrice, parse_money, parse_rate, parse_unit_price
from calmday.metrology.units import QuantityError, parse_quantity, shown
from calmday.records.cost import (
    RUN_FIGURES,
    TAXES,
    Conversion,
    CostSheet,
    DatedRate,
    FuelPrice,
    FuelUse,
    GivenMoney,
    RunFigure,
    Tax,
)
from calmday.records.run import Run
from calmday.records.vehicle import FUEL_KINDS, FuelKind

MOST_USES, MOST_PRICES, MOST_RATES = 12, 60, 60
USUAL_PER = "100 km"
USUAL_HORIZON = 10.0
_DENSITIES = ("400 kg/m^3", "1100 kg/m^3")


def read_cost(
    path: Path, *, name: str | None = None, today: dt.date | None = None, seen: SeenFiles | None = None
) -> CostSheet:
    """The cost sheet in a file, with the runs it names. `name` the file as the user named it.

    `today` bounds the dates that are not the future; `seen` notes every file read. Raises InputError with every fault.
    """
    file = name or str(path)
    return cost_of(FolderFiles(path.parent, seen).document(path.name, file), file, path.stem, today=today)


def cost_of(named: NamedDocument, file: str, stem: str, *, today: dt.date | None = None) -> CostSheet:
    """The cost sheet in a document; else as `read_cost`."""
    faults = FaultList(file, named.kept)
    table = Table(named.tables, faults)
    latest = (today or dt.date.today()) + dt.timedelta(days=1)
    yearly = table.declared("yearly_distance", "length", ("10 km", "1000000 km"))
    sheet = CostSheet(
        label=table.text("label") or stem,
        uses=_uses(table, named.files, latest),
        prices=_prices(table, latest),
        rates=_rates(table, latest),
        conversion=_conversion(table) if "conversion" in table else None,
        currency=_currency(table),
        per_m=table.quantity("per", "length", ("1 m", "100000 km")) or 100_000.0,
        per_words=str(table.raw("per") or USUAL_PER).strip(),
        yearly_distance_m=yearly,
        tank_m3=table.quantity("tank", "volume", ("0.1 L", "5000 L")),
        saving=table.quantity("saving", "fraction", ("0.1 %", "90 %")) or 0.02,
        prices_move_together=table.number("prices_move_together", 0.0, 1.0),
        prices_later=table.quantity("prices_later", "fraction", ("0 %", "100 %")),
        file=file,
    )
    _require(sheet, table)
    table.finish()
    faults.raise_any()
    return sheet


def _require(sheet: CostSheet, table: Table) -> None:
    if "use" not in table:
        table.fault(
            "use", "is missing", 'at least one [[use]] table with a consumption, such as "7.5 L/100km", or a run'
        )
    if "price" not in table:
        table.fault("price", "is missing", 'at least one [[price]] table with a price, such as "1.62 EUR/L"')
    names = [use.name for use in sheet.uses]
    for i, name in enumerate(names):
        if name in names[:i]:
            table.fault(f"use[{i}].name", f"{shown(name)} is there already", "a name of its own for each use")
    half = sheet.yearly_distance_m.half_width if sheet.yearly_distance_m else None
    if half is not None and sheet.yearly_distance_m is not None and half >= sheet.yearly_distance_m.value:
        table.fault("yearly_distance.pm", "is as large as the distance itself", "less than the distance")
    if sheet.conversion is None or table.faults.faults:
        return
    for key, name in (("from", sheet.conversion.before), ("to", sheet.conversion.after)):
        if name not in names:
            table.fault(f"conversion.{key}", f"{shown(name)} is not a use", f"one of {', '.join(map(shown, names))}")
    if sheet.conversion.before == sheet.conversion.after:
        table.fault("conversion.to", "is the same as from", "the use after the change")


def _uses(table: Table, files: NamedFiles, latest: dt.date) -> tuple[FuelUse, ...]:
    entries = table.tables("use")
    if len(entries) > MOST_USES:
        table.fault("use", f"there are {len(entries)} of them", f"at most {MOST_USES}")
    return tuple(_use(entry, i, files, latest) for i, entry in enumerate(entries[:MOST_USES]))


def _use(table: Table, place: int, files: NamedFiles, latest: dt.date) -> FuelUse:
    entry = table.file_name("run")
    run = _run(table, entry, files, latest) if entry is not None else None
    use = FuelUse(
        name=table.text("name") or (run.vehicle.name if run is not None else f"use {place + 1}"),
        fuel=cast("FuelKind | None", table.choice("fuel", FUEL_KINDS)),
        consumption=consumption_of(table, "consumption"),
        run=run,
        run_figure=cast(RunFigure, table.choice("figure", RUN_FIGURES) or "calm day"),
        density_kgpm3=table.declared("density", "density", _DENSITIES),
    )
    if "consumption" not in table and "run" not in table:
        table.fault("consumption", "is missing", 'a consumption such as "7.5 L/100km", or a run to take it from')
    if "consumption" in table and "run" in table:
        table.fault("consumption", "stands beside run", "one of the two")
    if use.consumption is not None and use.consumption.unit == "g_per_km" and use.fuel is None:
        table.fault("fuel", "is missing", "the kind of fuel: grams become litres by its density")
    table.finish()
    return use


def _run(table: Table, entry: str, files: NamedFiles, latest: dt.date) -> Run | None:
    file = str(Path(table.faults.file).parent / entry)
    try:
        return run_of(files.document(entry, file), file, Path(entry).stem, today=latest - dt.timedelta(days=1))
    except InputError as error:
        table.faults.extend(error.faults)
        return None


def _prices(table: Table, latest: dt.date) -> tuple[FuelPrice, ...]:
    entries = table.tables("price")
    if len(entries) > MOST_PRICES:
        table.fault("price", f"there are {len(entries)} of them", f"at most {MOST_PRICES}")
    found = (_price(entry, latest) for entry in entries[:MOST_PRICES])
    return tuple(price for price in found if price is not None)


def _price(table: Table, latest: dt.date) -> FuelPrice | None:
    price = _unit_price(table, "price")
    low, high = _unit_price(table, "low"), _unit_price(table, "high")
    if "price" not in table:
        table.fault("price", "is missing", 'a price such as "1.62 EUR/L"')
    found = None
    if price is not None:
        found = FuelPrice(
            price=price,
            fuel=cast("FuelKind | None", table.choice("fuel", FUEL_KINDS)),
            name=table.text("name") or "",
            low=low,
            high=high,
            date=table.date("date", latest),
            place=table.text("place") or "",
            tax=cast("Tax | None", table.choice("tax", TAXES)),
            as_entered=str(table.raw("price")).strip(),
        )
        _check_range(table, found)
        table.finish()
    return found


def _check_range(table: Table, price: FuelPrice) -> None:
    for key, bound, wrong in (("low", price.low, "above"), ("high", price.high, "below")):
        if bound is None:
            continue
        if (bound.currency, bound.per) != (price.price.currency, price.price.per):
            table.fault(
                key, "has another currency or measure than price", "the same currency, and volume or mass alike"
            )
        elif (bound.amount > price.price.amount) == (wrong == "above") and not math.isclose(
            bound.amount, price.price.amount, rel_tol=1e-12
        ):
            table.fault(key, f"lies {wrong} the price", f"the {key}est price of the year")


def _unit_price(table: Table, key: str) -> UnitPrice | None:
    entry = table.raw(key)
    if entry is None:
        return None
    try:
        return parse_unit_price(entry)
    except QuantityError as error:
        table.fault(key, error.wrong, error.right)
        return None


def _rates(table: Table, latest: dt.date) -> tuple[DatedRate, ...]:
    entries = table.tables("rate")
    if len(entries) > MOST_RATES:
        table.fault("rate", f"there are {len(entries)} of them", f"at most {MOST_RATES}")
    found = []
    for entry in entries[:MOST_RATES]:
        text, date, source = entry.raw("rate"), entry.date("date", latest), entry.text("source") or ""
        if "rate" not in entry or "date" not in entry:
            key = "date" if "rate" in entry else "rate"
            right = "the day it was read: a rate without a day says nothing" if key == "date" else '"1 GBP = 1.17 EUR"'
            entry.fault(key, "is missing", right)
        elif date is not None:
            try:
                found.append(DatedRate(rate=parse_rate(text), date=date, source=source, as_entered=str(text).strip()))
            except QuantityError as error:
                entry.fault("rate", error.wrong, error.right)
        entry.finish()
    return tuple(found)


def _currency(table: Table) -> str:
    text = table.text("currency")
    if text is None:
        return ""
    try:
        return parse_money(f"1 {text.strip()}").currency
    except QuantityError:
        table.fault("currency", f"{shown(text)} is not a currency", 'three letters such as "EUR"')
        return ""


def _conversion(table: Table) -> Conversion | None:
    inner = table.table("conversion")
    before, after = inner.text("from"), inner.text("to")
    outlay, yearly = _money(inner, "outlay"), _money(inner, "yearly", below_zero=True)
    years = inner.number("horizon_years", 1.0, 100.0) or USUAL_HORIZON
    for key in ("from", "to", "outlay"):
        if key not in inner:
            right = "the name of a use" if key != "outlay" else 'what it cost, such as "2400 EUR"'
            inner.fault(key, "is missing", right)
    inner.finish()
    if before is None or after is None or outlay is None:
        return None
    if yearly is not None and yearly.money.currency != outlay.money.currency:
        inner.fault("yearly", "is in another currency than outlay", "the same currency")
    return Conversion(before=before, after=after, outlay=outlay, yearly=yearly, horizon_years=years)


def _money(table: Table, key: str, *, below_zero: bool = False) -> GivenMoney | None:
    entry = table.raw(key)
    if entry is None:
        return None
    if not isinstance(entry, dict):
        found = _amount(table, key, entry, below_zero)
        return None if found is None else GivenMoney(money=found, as_entered=str(entry).strip())
    inner = Table(entry, table.faults, table.path(key))
    found = _amount(inner, "value", inner.raw("value"), below_zero)
    half = _money_half_width(inner, found) if found is not None and "pm" in inner else None
    inner.raw("pm")
    inner.finish()
    if found is None:
        return None
    return GivenMoney(money=found, half_width=half, as_entered=f"{entry.get('value')} ± {entry.get('pm')}")


def _amount(table: Table, key: str, entry: object, below_zero: bool) -> Money | None:
    try:
        return parse_money(entry, below_zero=below_zero)
    except QuantityError as error:
        table.fault(key, error.wrong, error.right)
        return None


def _money_half_width(table: Table, value: Money) -> float | None:
    pm = table.raw("pm")
    try:
        if isinstance(pm, str) and pm.strip().endswith("%"):
            half = parse_quantity(pm, "fraction") * abs(value.amount)
        else:
            found = parse_money(pm)
            half = found.amount if found.currency == value.currency else math.nan
    except QuantityError as error:
        table.fault("pm", error.wrong, error.right)
        return None
    if not (half > 0.0 and (value.amount <= 0.0 or half < value.amount)):
        table.fault("pm", f"{shown(pm)} is not a possible half width", "above zero, less than the value, same currency")
        return None
    return half
