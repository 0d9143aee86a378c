"""Small evidence: evidence.toml, one cheap measurement of the vehicle that it names."""

from __future__ import annotations

import datetime as dt
from pathlib import Path
from typing import Final, cast

from calmday.files.named_files import FolderFiles, NamedDocument, SeenFiles
from calmday.files.named_parts import named_vehicle
from calmday.files.toml_table import FaultList, Table
from calmday.records.evidence import EVIDENCE_KINDS, EvidenceKind, SmallEvidence

READ_AS: Final[dict[str, tuple[str, str, tuple[str, str]]]] = {
    "held speed": ("speed", "speed", ("5 km/h", "300 km/h")),
    "roll-down": ("time", "time", ("1 s", "1 h")),
    "tow force": ("force", "force", ("5 N", "50000 N")),
    "hill roll": ("speed", "speed", ("2 km/h", "200 km/h")),
    "weighbridge": ("mass", "mass", ("50 kg", "60000 kg")),
    "weighed litre": ("mass", "mass", ("1 g", "100 kg")),
    "roll-out": ("length", "length", ("0.5 m", "1 km")),
    "idle burn": ("mass", "mass", ("0.5 g", "50 kg")),
}
"""Kind of evidence -> key of its readings, dimension, what is possible."""

NEEDED: Final[dict[str, tuple[tuple[str, str], ...]]] = {
    "held speed": (("gear", "the gear it was held in, 1 for first"),),
    "roll-down": (("from_speed", 'the speed at its start, such as "60 km/h"'), ("to_speed", "the speed at its end")),
    "hill roll": (("grade", "how steep the hill is, from a map"),),
    "weighed litre": (("volume", 'what was weighed, such as "1.000 L"'),),
    "roll-out": (("turns", "how often the wheel turned"),),
    "idle burn": (("duration", 'how long it idled, such as "20 min"'),),
}


def read_evidence(
    path: Path, *, name: str | None = None, today: dt.date | None = None, seen: SeenFiles | None = None
) -> SmallEvidence:
    """The measurement of a file. `name` the file as the user named it. Raises InputError with every fault."""
    file = name or str(path)
    return evidence_of(FolderFiles(path.parent, seen).document(path.name, file), file, path.stem, today=today)


def evidence_of(named: NamedDocument, file: str, stem: str, *, today: dt.date | None = None) -> SmallEvidence:
    """The measurement in a document; else as `read_evidence`."""
    faults = FaultList(file, named.kept)
    table = Table(named.tables, faults)
    date = table.date("date", (today or dt.date.today()) + dt.timedelta(days=1))
    kind = table.choice("kind", EVIDENCE_KINDS)
    if "kind" not in table:
        table.fault("kind", "is missing", f"one of {', '.join(EVIDENCE_KINDS)}")
    readings: tuple[float, ...] = ()
    instrument: float | None = None
    if kind is not None:
        key, dimension, limits = READ_AS[kind]
        readings = table.quantities(key, dimension, limits)
        if key not in table:
            table.fault(key, "is missing", f"what was read: one {key} or a list of repeats")
        instrument = table.quantity("instrument", dimension, ("0 " + limits[0].split()[1], limits[1]))
        for needed, right in NEEDED.get(kind, ()):
            if needed not in table:
                table.fault(needed, "is missing", right)
    else:
        for key in ("speed", "time", "force", "mass", "length", "instrument"):
            table.raw(key)
    high = table.quantity("from_speed", "speed", ("1 km/h", "300 km/h"))
    low = table.quantity("to_speed", "speed", ("0 km/h", "300 km/h"))
    if high is not None and low is not None and low >= high:
        table.fault("to_speed", "is not below from_speed", "the speed at the end of the roll, below that at its start")
    found = SmallEvidence(
        kind=cast(EvidenceKind, kind or "weighbridge"),
        label=table.text("label") or (f"{kind}" if kind else stem),
        vehicle=named_vehicle(table, named.files, date),
        readings=readings,
        date=date,
        instrument=instrument,
        from_mps=high,
        to_mps=low,
        gear=table.integer("gear", 1, 24),
        headwind_mps=table.declared("headwind", "speed", ("-30 m/s", "30 m/s")),
        grade=table.declared("grade", "fraction", ("-40 %", "40 %")),
        both_ways=bool(table.boolean("both_ways")),
        turns=table.integer("turns", 1, 1000),
        duration_s=table.quantity("duration", "time", ("10 s", "1 d")),
        idle_rps=table.quantity("idle_speed", "engine speed", ("150 rpm", "3000 rpm")),
        volume_m3=table.declared("volume", "volume", ("0.001 L", "100 L")),
        temperature_k=table.quantity("temperature", "temperature", ("-40 degC", "70 degC")),
        payload_kg=table.quantity("payload", "mass", ("-2000 kg", "40000 kg")) or 0.0,
        file=file,
    )
    table.finish()
    gears = len(found.vehicle.gear_ratios)
    if kind == "held speed" and not faults.faults and (found.gear or 1) > gears:
        table.fault(
            "gear", "is not a gear of this vehicle", f"gear_ratios in the build sheet, and from 1 to {gears or 1}"
        )
    faults.raise_any()
    return found
