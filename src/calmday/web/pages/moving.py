"""Taking out, bringing in, backing up; the example; files shared from another program."""

from __future__ import annotations

import datetime as dt
import re
import tempfile
from collections.abc import Iterator, Sequence
from contextlib import contextmanager
from pathlib import Path
from typing import TYPE_CHECKING, ClassVar

from starlette.responses import Response

from calmday.errors import InputError
from calmday.web.forms import fault_sentence, pointed
from calmday.web.pages.common import frame, go, run_of
from calmday.web.pages.files import judge_track
from calmday.web.parcels import lay_out
from calmday.web.render import Context, page

if TYPE_CHECKING:
    from calmday.logbook.folder_in import Imported
    from calmday.web.asked import Asked


_LAID_OUT = re.compile(r"\S*[/\\]calmday-\w+")


class MovingPage(Context, frozen=True, kw_only=True):
    """The ways in and out. `place` where the logbook lies."""

    template: ClassVar[str] = "moving.html"
    faults: tuple[str, ...]
    place: str


def moving(asked: Asked) -> Response:
    """The ways in and out."""
    return _page(asked, ())


def _page(asked: Asked, faults: tuple[str, ...]) -> Response:
    return page(
        MovingPage(
            frame=frame(asked, "Take out, bring in, back up"),
            faults=faults,
            place=asked.desk.book.where,
        ),
        422 if faults else 200,
    )


def backup(asked: Asked) -> Response:
    """One file with everything."""
    from calmday.operations.logbook import backup as back_up  # noqa: PLC0415

    with tempfile.TemporaryDirectory(prefix="calmday-") as folder:
        place = Path(folder) / "backup.calmday"
        back_up(asked.desk.book, place)
        data = place.read_bytes()
    return _download(data, f"logbook-{_day()}.calmday", "application/octet-stream")


def export(asked: Asked) -> Response:
    """The whole logbook as plain folders, in a zip."""
    return _zipped(asked, None, f"logbook-{_day()}.zip")


def run_export(asked: Asked) -> Response:
    """One run as a plain folder, in a zip; with `cut`, made ready to give away."""
    from calmday.operations.logbook import home_radius_m  # noqa: PLC0415

    run = run_of(asked)
    name = "".join(c if c.isascii() and c.isalnum() else "-" for c in run.name).strip("-")[:60] or "run"
    cut = asked.query("cut")[:40]
    return _zipped(asked, run.id, f"{name}.zip", home_radius_m(pointed(cut, asked.habits)) if cut else 0.0)


def _zipped(asked: Asked, run_id: str | None, name: str, cut_home_m: float = 0.0) -> Response:
    from calmday.operations.folders import zip_of  # noqa: PLC0415
    from calmday.operations.logbook import export_folder  # noqa: PLC0415

    with tempfile.TemporaryDirectory(prefix="calmday-") as folder:
        root = Path(folder) / "out"
        export_folder(asked.desk.book, run_id, root, cut_home_m)
        data = zip_of(root)
    return _download(data, name, "application/zip")


def bring_in(asked: Asked) -> Response:
    """Bring in the files of a folder, or a zip of folders."""
    from calmday.operations.logbook import import_folder  # noqa: PLC0415

    if not asked.files:
        return _page(asked, ("No file came with it. Choose the files first.",))
    try:
        with _laid_out(asked) as folder:
            found = import_folder(asked.desk.book, folder, asked.habits.by, inside_only=True)
    except InputError as error:
        return _page(
            asked,
            tuple(_as_sent(fault_sentence(fault)) for fault in error.faults[:12]),
        )
    done = "nothing-new" if all(each.state == "same" for each in found.subjects) else "brought"
    return _on_to(found.subjects, done)


def _as_sent(words: str) -> str:
    """A fault without the folder on this machine that the files were laid out in for a moment."""
    return _LAID_OUT.sub("What came in", words)


def _on_to(subjects: Sequence[Imported], done: str) -> Response:
    """To what came in: the one run, else the vehicles."""
    runs = [each.id for each in subjects if each.kind == "run"]
    return go("day", run=runs[0], done=done) if len(runs) == 1 else go("home", done=done)


@contextmanager
def _laid_out(asked: Asked) -> Iterator[Path]:
    """What was sent, as a folder that is gone afterwards."""
    parcels = []
    for _, upload in asked.files:
        upload.file.seek(0)
        parcels.append((upload.filename or "file", upload.file.read()))
    with tempfile.TemporaryDirectory(prefix="calmday-") as folder:
        lay_out(parcels, Path(folder))
        yield Path(folder)


def example(asked: Asked) -> Response:
    """Bring in the invented example."""
    from calmday.operations import demo_folder  # noqa: PLC0415
    from calmday.operations.logbook import import_folder  # noqa: PLC0415

    found = import_folder(asked.desk.book, demo_folder(), asked.habits.by)
    return _on_to(found.subjects, "brought")


def share(asked: Asked) -> Response:
    """A track shared from another program: it joins the newest run that has none."""
    runs = [run for run in asked.desk.book.subjects("run") if not run.void]
    waiting = [run for run in runs[-5:] if not asked.desk.book.files("run", run.id, "track")]
    if not waiting or not asked.files:
        words = "Start a run first, then share the track to it." if asked.files else "No file came with it."
        return _page(asked, (words,))
    run = waiting[-1]
    for _, upload in asked.files:
        upload.file.seek(0)
        data = upload.file.read()
        judge_track(upload.filename or "track", data)
        asked.desk.book.attach(
            "run", run.id, "track", upload.filename or "track", data, by=asked.habits.by, device=asked.device
        )
    return go("step", run=run.id, step="track", done="kept")


def _download(data: bytes, name: str, kind: str) -> Response:
    return Response(data, media_type=kind, headers={"Content-Disposition": f'attachment; filename="{name}"'})


def _day() -> str:
    return dt.date.today().isoformat()
