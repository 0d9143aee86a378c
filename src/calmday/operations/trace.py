"""The verb that reads a full-load curve off a picture. The command line, the page and the Python interface call it."""

from __future__ import annotations

from pathlib import Path

import msgspec

from calmday import __version__
from calmday.files.chart_file import read_chart
from calmday.files.named_files import SeenFiles, inputs_digest
from calmday.files.picture_file import decode_picture, png_of
from calmday.procedures.chart_summary import curve_record, result_of
from calmday.procedures.chart_trace import SEED, read_curves
from calmday.procedures.chart_trace_result import TraceResult
from calmday.procedures.weighed_run_result import Provenance
from calmday.records.chart_picture import ChartPicture
from calmday.reports.full_load_csv import full_load_csv
from calmday.reports.trace_sheet import trace_headline

__all__ = [
    "TraceResult",
    "curve_record",
    "full_load_csv",
    "picture_as_png",
    "picture_size",
    "trace_chart",
    "trace_file",
]


def picture_size(data: bytes, name: str) -> tuple[int, int]:
    """Width and height of a picture as it is shown upright, pixels. Raises InputError."""
    picture = decode_picture(data, name)
    return picture.width, picture.height


def picture_as_png(data: bytes, name: str) -> bytes:
    """A picture of any kind as PNG, as large as it is worked on. Raises InputError."""
    return png_of(decode_picture(data, name))


def trace_chart(
    chart: ChartPicture, *, seed: int = SEED, files: tuple[str, ...] = (), inputs_sha256: str = ""
) -> TraceResult:
    """The full-load curve of a marked picture in memory. Raises InputError, or MissingExtraError without pictures."""
    made_by = Provenance(program="calmday", version=__version__, seed=seed, inputs_sha256=inputs_sha256, files=files)
    plain = result_of(read_curves(chart, seed), made_by)
    return msgspec.structs.replace(plain, sentence=trace_headline(plain))


def trace_file(path: Path | str, *, seed: int = SEED) -> TraceResult:
    """Read a marked picture and trace its curves. Raises InputError."""
    seen = SeenFiles(Path(path).parent)
    chart = read_chart(Path(path), seen=seen)
    return trace_chart(chart, seed=seed, files=tuple(seen.sha256), inputs_sha256=inputs_digest(seen.sha256.items()))
