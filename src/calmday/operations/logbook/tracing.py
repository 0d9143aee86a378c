"""A chart's picture in the logbook: the curve traced, corrected by hand, and taken over into the build sheet."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any, Literal

import msgspec

from calmday import __version__
from calmday.errors import InputError
from calmday.files.chart_file import chart_of
from calmday.files.named_files import inputs_digest
from calmday.logbook import Logbook, StoredResult
from calmday.logbook.render import inputs_of
from calmday.operations.logbook.reading import for_readers, rendered_of
from calmday.operations.logbook.reducing import known
from calmday.operations.trace import trace_chart
from calmday.procedures.chart_trace import SEED
from calmday.procedures.chart_trace_result import TraceResult
from calmday.records.chart_picture import ChartPicture
from calmday.reports.full_load_csv import full_load_csv
from calmday.reports.json_result import json_result

if TYPE_CHECKING:
    from collections.abc import Callable

PointDo = Literal["out", "up", "down"]
NUDGE_SHARE = 0.002
"""How far a point is moved at a time, as a share of the picture's height; a pixel at least."""


def chart_of_logbook(book: Logbook, chart_id: str) -> tuple[ChartPicture, dict[str, str]]:
    """A marked picture as the reader of files gives it, and the SHA-256 of every input by name. Raises InputError."""
    rendered = rendered_of(book, chart_id)
    document, seen = for_readers(book, rendered)
    return chart_of(document, rendered.name, "chart"), seen


def trace_logged(book: Logbook, chart_id: str, *, seed: int = SEED) -> StoredResult:
    """Trace the curves of a picture and keep the result. Raises InputError."""
    chart, seen = chart_of_logbook(book, chart_id)
    digest = inputs_digest(seen.items())
    result = trace_chart(chart, seed=seed, files=tuple(seen), inputs_sha256=digest)
    return book.add_result(
        chart_id,
        inputs_sha256=digest,
        version=__version__,
        seed=seed,
        draws=0,
        summary={"sentence": result.sentence, "mark": trace_mark(book, chart_id)},
        content=json_result(result),
    )


def trace_mark(book: Logbook, chart_id: str) -> str:
    """Differs when a trace would: the digest of the chart's own document and picture."""
    return inputs_digest(inputs_of(rendered_of(book, chart_id)).items())


def trace_is_stale(book: Logbook, chart_id: str, stored: StoredResult) -> bool:
    """Whether something was written since that would change the curve, or another version of the program is here."""
    return stored.version != __version__ or stored.summary.get("mark") != trace_mark(book, chart_id)


def work_out_trace(book: Logbook, chart_id: str, told: Callable[[float, str], Any]) -> None:
    """The long work on a chart."""
    told(0.2, "Following the curve by its colour")
    trace_logged(book, chart_id)


def trace_result_of(stored: StoredResult) -> TraceResult:
    """The result behind a stored one; what its JSON calls null is not a number here."""
    return msgspec.convert(known(msgspec.json.decode(stored.content)), TraceResult)


def correct_point(book: Logbook, chart_id: str, curve: int, point: int, do: PointDo, by: str, device: str = "") -> None:
    """Leave a traced point out, or put it a little higher or lower by hand; the entry is written. Raises InputError."""
    results = book.results(chart_id)
    if not results:
        raise InputError.one("chart", "curve", "is not traced yet", "trace it first")
    result = trace_result_of(book.result(results[0].id))
    if not (0 <= curve < len(result.curves) and 0 <= point < len(result.curves[curve].points)):
        raise InputError.one("chart", "point", "is not there any more", "one that is listed")
    chosen = result.curves[curve].points[point]
    values = book.values("chart", chart_id)
    if do == "out":
        text = f"{round(chosen.engine_speed.value)} rpm"
        key = f"curve[{curve}].leave_out"
    else:
        step = max(1.0, NUDGE_SHARE * result.picture.height)
        x, y = chosen.at
        text = f"{x:.1f}, {y + (step if do == 'down' else -step):.1f}"
        key = f"curve[{curve}].point"
    held = {k: v.text for k, v in values.items() if k.startswith(f"{key}[") and v.text}
    if do != "out":
        _drop_near(book, chart_id, held, chosen.at[0], by)
        held = {k: t for k, t in held.items() if abs(_left(t) - chosen.at[0]) > 1.0}
    place = 1 + max((int(k[len(key) + 1 : -1]) for k in held), default=-1)
    taken = {int(k[len(key) + 1 : -1]) for k in held}
    place = next(i for i in range(place + 1) if i not in taken)
    book.write("chart", chart_id, {f"{key}[{place}]": text}, by, device)


def _drop_near(book: Logbook, chart_id: str, held: dict[str, str], x: float, by: str) -> None:
    """Take away an earlier point by hand at the same place, so that moving twice moves twice."""
    gone = {key: None for key, text in held.items() if abs(_left(text) - x) <= 1.0}
    if gone:
        book.write("chart", chart_id, gone, by)


def _left(text: str) -> float:
    try:
        return float(text.replace(";", ",").split(",")[0])
    except ValueError:
        return float("inf")


def use_trace(book: Logbook, chart_id: str, by: str, device: str = "") -> str:
    """Take the newest traced curve over as the vehicle's full-load curve; the vehicle. Raises InputError."""
    results = book.results(chart_id)
    vehicle_id = book.subject(chart_id).parent
    if not results or not vehicle_id:
        raise InputError.one("chart", "curve", "is not traced yet", "trace it first")
    result = trace_result_of(book.result(results[0].id))
    book.attach(
        "vehicle", vehicle_id, "full_load", "full_load.csv", full_load_csv(result).encode(), by=by, device=device
    )
    return vehicle_id
