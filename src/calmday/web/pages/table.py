"""Which function answers at which address, and how it may be called."""

from __future__ import annotations

from collections.abc import Callable
from typing import TYPE_CHECKING, Final

from starlette.responses import Response

from calmday.web.pages import (
    arrive,
    day,
    devices,
    documents,
    figures,
    files,
    gears,
    history,
    long_work,
    moving,
    pieces,
    plan,
    power,
    pulls,
    result,
    saving,
    standing,
    vehicle,
)

if TYPE_CHECKING:
    from calmday.web.asked import Asked

Handler = Callable[["Asked"], Response]
GET, POST, BOTH = ("GET",), ("POST",), ("GET", "POST")

HANDLERS: Final[dict[str, tuple[Handler, tuple[str, ...]]]] = {
    "home": (arrive.home, GET),
    "vehicle_new": (arrive.vehicle_new, POST),
    "settings": (arrive.settings, BOTH),
    "pieces": (pieces.pieces, GET),
    "standing": (standing.standing, GET),
    "build": (vehicle.build, BOTH),
    "change": (vehicle.change, BOTH),
    "curve": (vehicle.curve, POST),
    "gears": (gears.gears, GET),
    "gears_json": (gears.gears_json, GET),
    "gears_chart": (gears.gears_chart, GET),
    "shifts": (gears.shifts, GET),
    "shift_card": (gears.shift_card, GET),
    "pulls": (pulls.pulls, GET),
    "pull": (pulls.pull, BOTH),
    "pull_json": (pulls.pull_json, GET),
    "pull_chart": (pulls.pull_chart, GET),
    "plan": (plan.plans, GET),
    "plan_document": (plan.plan_document, BOTH),
    "plan_json": (plan.plan_json, GET),
    "plan_chart": (plan.plan_chart, GET),
    "plan_sheets": (plan.plan_sheets, GET),
    "power": (power.power, GET),
    "power_chart": (power.power_chart, GET),
    "newest": (day.newest, GET),
    "run_new": (day.run_new, POST),
    "day": (day.day, GET),
    "belongs": (day.belongs, POST),
    "step": (day.step, BOTH),
    "event": (day.event, POST),
    "guess": (day.guess, POST),
    "track_add": (files.track_add, POST),
    "file_remove": (files.file_remove, POST),
    "photo_add": (files.photo_add, POST),
    "photo": (files.photo, GET),
    "document_new": (documents.document_new, POST),
    "document_file": (documents.document_file, POST),
    "document_file_remove": (documents.document_file_remove, POST),
    "document_void": (documents.document_void, POST),
    "document_work": (documents.document_work, POST),
    "save": (saving.save, POST),
    "history": (history.history, GET),
    "correct": (history.correct, POST),
    "void": (history.void, BOTH),
    "reduce": (long_work.reduce, POST),
    "job": (long_work.job, GET),
    "job_state": (long_work.job_state, GET),
    "job_cancel": (long_work.job_cancel, POST),
    "sheet": (result.sheet, GET),
    "sheet_json": (result.sheet_json, GET),
    "chart": (result.chart, GET),
    "figures": (figures.figures, GET),
    "figure": (figures.figure, GET),
    "moving": (moving.moving, GET),
    "backup": (moving.backup, POST),
    "export": (moving.export, GET),
    "run_export": (moving.run_export, GET),
    "import": (moving.bring_in, POST),
    "example": (moving.example, POST),
    "share": (moving.share, POST),
    "key": (devices.key, BOTH),
    "devices": (devices.devices, GET),
    "static": (devices.static, GET),
    "manifest": (devices.manifest, GET),
}
