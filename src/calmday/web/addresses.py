"""The one table of addresses, and the one maker of them: nobody joins address strings by hand."""

from __future__ import annotations

import re
from typing import Final
from urllib.parse import quote, urlencode

PATHS: Final[dict[str, str]] = {
    # where one arrives
    "home": "/",
    "pieces": "/pieces",
    "settings": "/settings",
    # the vehicle
    "vehicle_new": "/vehicles/new",
    "standing": "/vehicles/{vehicle}",
    "build": "/vehicles/{vehicle}/build",
    "curve": "/vehicles/{vehicle}/curve",
    "newest": "/vehicles/{vehicle}/newest/{page}",
    "change": "/vehicles/{vehicle}/changes",
    "run_new": "/vehicles/{vehicle}/runs",
    # power, gears and pulls
    "gears": "/vehicles/{vehicle}/gears",
    "gears_json": "/vehicles/{vehicle}/gears.json",
    "gears_chart": "/vehicles/{vehicle}/gears/thrust/{form}",
    "shifts": "/vehicles/{vehicle}/gears/changes",
    "shift_card": "/vehicles/{vehicle}/gears/card",
    "pulls": "/vehicles/{vehicle}/pulls",
    "pull": "/pulls/{document}",
    "pull_json": "/pulls/{document}/pull.json",
    "pull_chart": "/pulls/{document}/charts/{chart}/{form}",
    "comparisons": "/vehicles/{vehicle}/comparisons",
    "comparison": "/comparisons/{document}",
    "comparison_json": "/comparisons/{document}/comparison.json",
    "comparison_chart": "/comparisons/{document}/charts/{chart}/{form}",
    "comparison_show": "/comparisons/{document}/show",
    "comparison_show_file": "/comparisons/{document}/show/{name}",
    "comparison_order": "/comparisons/{document}/order",
    # engine speed from sound
    "sounds": "/vehicles/{vehicle}/sounds",
    "tachometer": "/vehicles/{vehicle}/tachometer",
    "sound_keep": "/vehicles/{vehicle}/sounds/recording",
    "sound": "/sounds/{document}",
    "sound_json": "/sounds/{document}/sound.json",
    "sound_csv": "/sounds/{document}/engine-speed.csv",
    "sound_chart": "/sounds/{document}/charts/{chart}/{form}",
    "sound_grey": "/sounds/{document}/spectrogram.png",
    "chart_pictures": "/vehicles/{vehicle}/charts",
    "chart_picture": "/charts/{document}",
    "chart_picture_image": "/charts/{document}/picture",
    "chart_picture_json": "/charts/{document}/trace.json",
    "chart_picture_point": "/charts/{document}/point",
    "chart_picture_use": "/charts/{document}/use",
    "dials": "/vehicles/{vehicle}/dials",
    "dial_check": "/dials/{document}",
    "dials_json": "/dials/{document}/dials.json",
    "dial_chart": "/dials/{document}/charts/{chart}/{form}",
    "dial_factor": "/dials/{document}/factor",
    # tests to be driven
    "coastdowns": "/vehicles/{vehicle}/coastdowns",
    "coastdown": "/coastdowns/{document}",
    "coastdown_json": "/coastdowns/{document}/coastdown.json",
    "coastdown_chart": "/coastdowns/{document}/charts/{chart}/{form}",
    "knowledge": "/vehicles/{vehicle}/knowledge",
    "knowledge_json": "/vehicles/{vehicle}/knowledge.json",
    "knowledge_work": "/vehicles/{vehicle}/knowledge/work",
    "evidence": "/evidence/{document}",
    "plan": "/vehicles/{vehicle}/plans",
    "plan_document": "/plans/{document}",
    "plan_json": "/plans/{document}/plan.json",
    "plan_chart": "/plans/{document}/charts/{chart}/{form}",
    "plan_sheets": "/plans/{document}/sheets/{paper}.pdf",
    "power": "/runs/{run}/power",
    "power_chart": "/runs/{run}/power/{form}",
    "what_if": "/vehicles/{vehicle}/what-if",
    "what_if_chart": "/vehicles/{vehicle}/what-if/chart/{form}",
    "what_if_of": "/what-if/{document}",
    "what_if_json": "/vehicles/{vehicle}/what-if.json",
    # the run
    "day": "/runs/{run}",
    "belongs": "/runs/{run}/vehicle",
    "step": "/runs/{run}/steps/{step}",
    "event": "/runs/{run}/events",
    "track_add": "/runs/{run}/tracks",
    "file_remove": "/runs/{run}/files/remove",
    "photo_add": "/runs/{run}/photographs",
    "photo": "/runs/{run}/photographs/{file}",
    "reduce": "/runs/{run}/reduce",
    "sheet": "/runs/{run}/sheet",
    "sheet_json": "/runs/{run}/sheet.json",
    "chart": "/runs/{run}/charts/{chart}/{form}",
    "figures": "/runs/{run}/figures",
    "figure": "/runs/{run}/figures/{figure}",
    "void": "/runs/{run}/void",
    "guess": "/runs/{run}/guesses",
    "show": "/runs/{run}/show",
    "show_file": "/runs/{run}/show/{name}",
    "run_export": "/runs/{run}/folder.zip",
    # documents of any kind
    "document_new": "/vehicles/{vehicle}/documents/{kind}",
    "document_file": "/documents/{document}/files",
    "document_file_remove": "/documents/{document}/files/remove",
    "document_void": "/documents/{document}/void",
    "document_work": "/documents/{document}/work",
    "guess_own": "/runs/{run}/guesses/own",
    "guess_board": "/runs/{run}/guess-board",
    "guess_board_json": "/runs/{run}/guess-board.json",
    "guess_board_chart": "/runs/{run}/guess-board/{form}",
    # money, other people's figures, settings
    "cost": "/vehicles/{vehicle}/cost",
    "cost_of": "/cost/{document}",
    "cost_take": "/cost/{document}/take",
    "published": "/vehicles/{vehicle}/published",
    "published_of": "/published/{document}",
    "settings_log": "/vehicles/{vehicle}/settings",
    "settings_of": "/settings-logs/{document}",
    "ledger_json": "/ledger/{kind}/{document}/result.json",
    # every entry, kept
    "history": "/history/{kind}/{subject}",
    "correct": "/history/{kind}/{subject}/correct",
    "save": "/save/{kind}/{subject}",
    # long work
    "job": "/jobs/{job}",
    "job_state": "/jobs/{job}/state",
    "job_cancel": "/jobs/{job}/cancel",
    # in and out
    "moving": "/moving",
    "backup": "/moving/backup",
    "export": "/moving/logbook.zip",
    "import": "/moving/import",
    "example": "/moving/example",
    # devices
    "key": "/key",
    "devices": "/devices",
    # what a page is made of
    "static": "/static/{digest}/{name}",
    "manifest": "/app.webmanifest",
    "share": "/share",
}

_SLOT = re.compile(r"\{(\w+)\}")


def address(name: str, /, **parts: object) -> str:
    """The address of a named page. What the path has no place for becomes the query; None is left out.

    Raises KeyError for an unknown page or a missing part.
    """
    path = PATHS[name]
    filled = _SLOT.sub(lambda slot: quote(str(parts[slot.group(1)]), safe=""), path)
    taken = set(_SLOT.findall(path))
    query = {key: str(value) for key, value in parts.items() if key not in taken and value is not None}
    return f"{filled}?{urlencode(query)}" if query else filled
