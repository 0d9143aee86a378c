"""What the readers of the interchange files say about the entries of a page, field by field.

The page asks the very readers that `calmday reduce` uses, so that a box and a file are judged alike. Tracks and curves
are left out: they are judged when they arrive.
"""

from __future__ import annotations

from collections.abc import Mapping
from typing import TYPE_CHECKING, Any

from calmday.errors import InputError
from calmday.web.documents import document_kind

if TYPE_CHECKING:
    from calmday.files.named_files import NamedDocument
    from calmday.logbook.records import Value

Faults = dict[str, tuple[str, str]]


class _NoFiles:
    """Names no file: a run judged here has a vehicle without a word about it."""

    def data(self, entry: str, name: str, limit: int) -> bytes:
        raise InputError.one(name, "file", "is not there", f"{entry}, at most {limit} bytes")

    def document(self, entry: str, name: str) -> NamedDocument:
        from calmday.files.named_files import NamedDocument  # noqa: PLC0415

        return NamedDocument({"vehicle": {"name": name or entry}}, self)


def faults_of_values(kind: str, values: Mapping[str, Value]) -> Faults:
    """Every fault in what stands about a vehicle, a run or another document: by key what is wrong, what is right."""
    from calmday.files.named_files import NamedDocument  # noqa: PLC0415  (the readers only where something is judged)
    from calmday.logbook.document import Leaf, nest  # noqa: PLC0415

    leaves = {key: Leaf(value.text, value.form) for key, value in values.items() if value.text is not None}
    nested = nest(leaves, {key: value.id for key, value in values.items()})
    tables = _tables(kind, nested.tables)
    document = NamedDocument(tables, _NoFiles(), nested.moved)
    try:
        _read(kind, document)
    except InputError as error:
        return {fault.key: (fault.wrong, fault.right) for fault in reversed(error.faults)}
    return {}


def _read(kind: str, document: NamedDocument) -> None:
    if kind == "vehicle":
        from calmday.files.vehicle_file import vehicle_states_of  # noqa: PLC0415

        vehicle_states_of(document, "vehicle.toml", "vehicle")
    elif (spec := document_kind(kind)) is not None:
        spec.read(document)
    else:
        from calmday.files.run_file import run_of  # noqa: PLC0415

        run_of(document, "run.toml", "run")


def _tables(kind: str, tables: dict[str, Any]) -> dict[str, Any]:
    """The document without its files, which are judged when they arrive."""
    spec = document_kind(kind)
    if spec is not None:
        kept = {key: value for key, value in tables.items() if key not in spec.file_keys}
        from calmday.logbook.records import OF_A_VEHICLE  # noqa: PLC0415

        return {**kept, "vehicle": "vehicle.toml"} if kind in OF_A_VEHICLE else kept
    return _vehicle_tables(tables) if kind == "vehicle" else _run_tables(tables)


def _run_tables(tables: dict[str, Any]) -> dict[str, Any]:
    kept = {key: value for key, value in tables.items() if key != "track"}
    return {"distance": "1 km", **kept, "vehicle": "vehicle.toml"}


def _vehicle_tables(tables: dict[str, Any]) -> dict[str, Any]:
    engine = tables.get("engine")
    if not isinstance(engine, dict):
        return tables
    return {**tables, "engine": {key: value for key, value in engine.items() if key != "full_load"}}
