"""Published figures: published.toml."""

from __future__ import annotations

import datetime as dt
from pathlib import Path
from typing import cast

from calmday.files.consumption_entry import consumption_of
from calmday.files.named_files import FolderFiles, NamedDocument, SeenFiles
from calmday.files.toml_table import FaultList, Table
from calmday.records.published import PublishedFigure, SteadyFigure
from calmday.records.run import ENGINE_STARTS, EngineStart
from calmday.records.vehicle import BODIES, FUEL_KINDS, Body, FuelKind

RULES = (
    "us laboratory", "us 1975", "us 1985", "us 2008", "us 2017", "europe 1980", "europe 1996", "wltp", "japan 10-15",
    "din 70030", "steady speed", "road test", "owner average", "brim to brim",
)  # fmt: skip
"""Names of label rules; `procedures/label_rules.py` says what each is, and a test holds the two together."""
FIGURES = ("city", "highway", "combined", "value")


def read_published(
    path: Path, *, name: str | None = None, today: dt.date | None = None, seen: SeenFiles | None = None
) -> PublishedFigure:
    """The published figure in a file. `name` the file as the user named it. Raises InputError with every fault."""
    file = name or str(path)
    return published_of(FolderFiles(path.parent, seen).document(path.name, file), file, path.stem, today=today)


def published_of(named: NamedDocument, file: str, stem: str, *, today: dt.date | None = None) -> PublishedFigure:
    """The published figure in a document; else as `read_published`."""
    faults = FaultList(file, named.kept)
    table = Table(named.tables, faults)
    latest = (today or dt.date.today()).year + 2
    about = table.table("about")
    found = PublishedFigure(
        label=table.text("label") or stem,
        rule=table.choice("rule", RULES),
        city=consumption_of(table, "city"),
        highway=consumption_of(table, "highway"),
        combined=consumption_of(table, "combined"),
        value=consumption_of(table, "value"),
        steady=tuple(s for each in table.tables("steady") if (s := _steady(each)) is not None),
        model_year=table.integer("model_year", 1885, latest),
        engine_start=cast("EngineStart | None", table.choice("engine_start", ENGINE_STARTS)),
        temperature_k=table.quantity("temperature", "temperature", ("-60 degC", "60 degC")),
        average_speed_mps=table.quantity("average_speed", "speed", ("1 km/h", "300 km/h")),
        source=table.text("source") or "",
        vehicle=about.text("vehicle") or "",
        fuel=cast("FuelKind | None", about.choice("fuel", FUEL_KINDS)),
        mass_kg=about.declared("mass", "mass", ("50 kg", "60 t")),
        tyre=about.text("tyre") or "",
        final_drive=about.number("final_drive", 0.5, 20.0),
        body=cast("Body | None", about.choice("body", BODIES)),
        file=file,
    )
    about.finish()
    if not any(key in table for key in (*FIGURES, "steady")):
        table.fault("value", "is missing", "city, highway, combined or value, or a [[steady]] table")
    table.finish()
    faults.raise_any()
    return found


def _steady(table: Table) -> SteadyFigure | None:
    speed = table.quantity("speed", "speed", ("5 km/h", "300 km/h"))
    value = consumption_of(table, "value")
    for key, right in (("speed", 'a speed such as "90 km/h"'), ("value", 'a consumption such as "6.1 L/100km"')):
        if key not in table:
            table.fault(key, "is missing", right)
    table.finish()
    return None if speed is None or value is None else SteadyFigure(speed_mps=speed, value=value)
