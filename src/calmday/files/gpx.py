"""GPX 1.0 and 1.1 tracks, read as a stream so that neither size nor nesting of a file can hurt.

Speed, course and HDOP are taken where they stand as elements of GPX 1.0 or as extensions of any namespace.
Routes and waypoints are passed over. Document type declarations are refused: no track needs one, and entities
are how XML files are made to explode.
"""

from __future__ import annotations

from pathlib import Path
from pyexpat import ErrorString, ExpatError, ParserCreate, XMLParserType

import numpy as np

from calmday.errors import InputError
from calmday.files.text_file import MEGABYTE, read_bytes
from calmday.files.track_columns import MAX_POINTS, TrackColumns, floats, times, track_from_columns, without_offset
from calmday.metrology.rounding import counted
from calmday.metrology.units import shown
from calmday.records.track import FloatArray, Track

SIZE_LIMIT = 400 * MEGABYTE
_CHUNK = 50_000

# Where each field of a point stands in its row; latitude, longitude and segment come first.
_FIELDS = {"ele": 3, "time": 4, "speed": 5, "course": 6, "bearing": 6, "heading": 6, "hdop": 7}
_Row = list[str | int | None]


class _RefusedError(Exception):
    """Raised inside the parser's callbacks."""

    def __init__(self, wrong: str, right: str) -> None:
        self.wrong = wrong
        self.right = right
        super().__init__(wrong)


class _Points:
    """Track points found so far: rows of text, turned into arrays chunk by chunk to keep memory small."""

    def __init__(self) -> None:
        self.rows: list[_Row] = []
        self.count = 0
        self.naive = 0
        self.unreadable = 0
        self._chunks: list[list[FloatArray]] = []

    def pack(self) -> None:
        """Turn the rows held into arrays."""
        if not self.rows:
            return
        self.count += len(self.rows)
        if self.count > MAX_POINTS:
            raise _RefusedError(f"has more than {MAX_POINTS} fixes", "a shorter track, cut into parts")
        columns = list(zip(*self.rows, strict=True))
        when, naive, unreadable = times(columns[4])
        self.naive += naive
        self.unreadable += unreadable
        self._chunks.append([when if i == 4 else floats(column) for i, column in enumerate(columns)])
        self.rows.clear()

    def columns(self) -> TrackColumns:
        """All points as columns."""
        latitude, longitude, segment, height, when, speed, course, hdop = (
            np.concatenate(parts) for parts in zip(*self._chunks, strict=True)
        )
        return TrackColumns(
            time_s=when,
            latitude_deg=latitude,
            longitude_deg=longitude,
            height_m=height,
            speed_mps=speed,
            course_deg=course,
            hdop=hdop,
            segment=segment.astype(np.int64),
        )


def read_gpx(path: Path, name: str | None = None) -> Track:
    """All track points of the file, a new segment at each trk and trkseg. Raises InputError."""
    name = name or str(path)
    return parse_gpx(read_bytes(path, name, SIZE_LIMIT), name)


def parse_gpx(data: bytes, name: str) -> Track:
    """The track in the bytes of a GPX file. `name` the file as the user named it. Raises InputError."""
    points = _Points()
    parser = ParserCreate()
    _attach(parser, points)
    try:
        parser.Parse(data, True)
        points.pack()
    except _RefusedError as e:
        raise InputError.one(name, f"line {parser.CurrentLineNumber}", e.wrong, e.right) from None
    except ExpatError as e:
        found = points.count + len(points.rows)
        wrong = f"is not well-formed XML ({ErrorString(e.code)}) after {found} track points"
        right = "the file as the receiver wrote it; if it is cut off, copy it again"
        raise InputError.one(name, f"line {e.lineno}", wrong, right) from None
    except (LookupError, ValueError) as e:  # an encoding that Python does not have
        raise InputError.one(name, "line 1", f"cannot be decoded ({shown(str(e))})", "a GPX file in UTF-8") from None
    if not points.count:
        right = "a GPX file with <trk>; routes and waypoints do not count"
        raise InputError.one(name, "file", "has no track point", right)
    # Times in GPX are UTC, said or not (GPX 1.1 schema, type wptType).
    notes = [without_offset(points.naive)] if points.naive else []
    if points.unreadable:
        notes.append(f"{counted(points.unreadable, 'time')} cannot be read")
    return track_from_columns(points.columns(), name, notes)


def _attach(parser: XMLParserType, points: _Points) -> None:
    """Give the parser callbacks that fill `points`; closures, because they run a dozen times per point."""
    rows, fields, texts = points.rows, _FIELDS, list[str]()
    clear = texts.clear
    slots: dict[str, int] = {}
    segment = 0
    root = ""
    point = "trkpt"
    row: _Row | None = None

    def start(tag: str, attributes: dict[str, str]) -> None:
        nonlocal row
        clear()
        if row is None:
            if tag == point:
                row = [attributes.get("lat"), attributes.get("lon"), segment, None, None, None, None, None]
            else:
                outside(tag)

    def end(tag: str) -> None:
        nonlocal row
        if row is None:
            return
        try:
            slot = slots[tag]
        except KeyError:
            slot = slots[tag] = fields.get(tag.rpartition(":")[2].lower(), 0)
        if slot > 0:
            if row[slot] is None and texts:
                row[slot] = texts[0] if len(texts) == 1 else "".join(texts)
        elif slot < 0:
            rows.append(row)
            row = None
            if len(rows) == _CHUNK:
                points.pack()

    def outside(tag: str) -> None:
        nonlocal segment, root, point
        prefix, colon, local = tag.rpartition(":")
        if not root:
            root = local
            # Some writers give the names of GPX itself a prefix: <ns0:gpx>, <ns0:trkpt>.
            point = f"{prefix}{colon}trkpt"
            slots[point] = -1
            if local != "gpx":
                raise _RefusedError(f"is an XML file of {shown(local)}, not GPX", "a GPX track")
        if local in ("trk", "trkseg"):
            segment += 1

    def doctype(*_: object) -> None:
        raise _RefusedError("declares a document type", "a GPX file without <!DOCTYPE ...>")

    parser.buffer_text = True
    parser.StartElementHandler = start
    parser.EndElementHandler = end
    parser.CharacterDataHandler = texts.append
    parser.StartDoctypeDeclHandler = doctype
    parser.EntityDeclHandler = doctype
