"""Today's run: the order of the day, and each of its steps on a screen of its own."""

from __future__ import annotations

import datetime as dt
import re
from collections.abc import Mapping
from typing import TYPE_CHECKING, ClassVar

import msgspec
from starlette.exceptions import HTTPException
from starlette.responses import Response

from calmday.errors import InputError
from calmday.reports.fuel_cautions import fuel_caution
from calmday.web.addresses import address
from calmday.web.as_read import as_read, in_a_few_words
from calmday.web.fields import Field, field
from calmday.web.forms import Box, box, box_id, pointed
from calmday.web.habits import clean_name
from calmday.web.pages import checking, files
from calmday.web.pages.common import frame, go, run_of, subject, vehicle_of, when
from calmday.web.pages.entering import boxes, current_texts, missing_words
from calmday.web.pages.saving import keep_form
from calmday.web.render import Context, page
from calmday.web.run_fields import STEPS, WEIGH_IN, WEIGH_OUT, Step, readings, step_named
from calmday.web.vehicle_history import ChangeLine, changes_since_last_run

if TYPE_CHECKING:
    from calmday.logbook.records import Guess, Subject, Value
    from calmday.web.asked import Asked

EVENTS = (
    ("Lap", "Lap"),
    ("Stop", "Stop"),
    ("Slow vehicle", "Slow vehicle"),
    ("Overtaken by a lorry", "Overtaken by a lorry"),
    ("Shower", "Shower"),
    ("Missed a turn", "Missed a turn"),
    ("Shifted down", "Would not pull: shifted down"),
    ("Gust", "Hard gust"),
)
_WHEN = re.compile(r"weighing\[(\d+)\]\.when")
_GROSS = re.compile(r"weighing\[(\d+)\]\.gross\[(\d+)\]")
_GUESS = re.compile(r"prediction\[\d+\]\.value")
GUESS_BY = field("by", "Who guesses?", "", kind="text", room=16, example="Ada")
GUESS_VALUE = field("value", "How much will it use?", "", "consumption", kind="guess", example="7.5")


class OrderItem(msgspec.Struct, frozen=True, kw_only=True):
    """One step in the list: its state and, where begun, what it holds."""

    title: str
    where: str
    state: str
    told: str
    current: bool


class GuessLine(msgspec.Struct, frozen=True, kw_only=True):
    """One guess: its text only once it is opened."""

    by: str
    text: str
    at: str
    digest: str


class DayPage(Context, frozen=True, kw_only=True):
    """The order of the day. `next_where`, `next_words` the one thing to do now.

    `which` the question for its vehicle, where that is not known; `previous` the run before, `changes` what differs
    from it.
    """

    template: ClassVar[str] = "day.html"
    order: tuple[OrderItem, ...]
    void: str
    which: Box | None
    next_where: str
    next_words: str
    previous: str
    changes: tuple[ChangeLine, ...]
    photographs: tuple[files.PhotoLine, ...]


class StepPage(Context, frozen=True, kw_only=True):
    """One step. `extra` what it shows beside boxes; the fields after it serve that part alone."""

    template: ClassVar[str] = "step.html"
    order: tuple[OrderItem, ...]
    name: str
    number: int
    title: str
    lead: str
    caution: str
    extra: str
    boxes: tuple[Box, ...]
    faults: tuple[tuple[str, str], ...]
    on_where: str
    on_words: str
    more_words: str
    events: tuple[tuple[str, str], ...] = EVENTS
    note_id: str = box_id("note")
    laps_id: str = box_id("laps")
    guesses: tuple[GuessLine, ...] = ()
    guess_by: Box | None = None
    guess_value: Box | None = None
    tracks: tuple[files.TrackLine, ...] = ()
    track_faults: tuple[str, ...] = ()
    check: checking.CheckView | None = None
    check_faults: tuple[tuple[str, str], ...] = ()


def run_new(asked: Asked) -> Response:
    """Begin a run of a vehicle, with what this day and this machine already say."""
    vehicle = vehicle_of(asked)
    now = dt.datetime.now().astimezone()
    made = asked.desk.book.create(
        "run", f"Run of {now.day} {now:%B}", vehicle.id, by=asked.habits.by, device=asked.device
    )
    offset = now.strftime("%z")
    known = {"date": now.date().isoformat(), "timezone": f"{offset[:3]}:{offset[3:5]}"}
    asked.desk.book.write("run", made, known, asked.habits.by, asked.device)
    return go("step", run=made, step=STEPS[0].name, done="started")


def newest(asked: Asked) -> Response:
    """On to a page of the vehicle's newest run; to where it stands when there is none."""
    vehicle = vehicle_of(asked)
    wanted = asked.part("page")
    if wanted not in ("day", "sheet", "figures"):
        raise HTTPException(404)
    runs = asked.desk.runs_of(vehicle.id)
    return go(wanted, run=runs[-1].id) if runs else go("standing", vehicle=vehicle.id)


def day(asked: Asked) -> Response:
    """The order of the day of one run."""
    run = run_of(asked)
    values = asked.desk.book.values("run", run.id)
    held = files.held(asked, run.id)
    order = _order(run.id, values, held, len(asked.desk.book.predictions(run.id)), None)
    previous, changes = changes_since_last_run(asked, run.id)
    upcoming = next((item for item in order if item.state != "done"), None)
    finished = all(item.state == "done" for item in order if item.where.endswith(("weigh-out", "weigh-in", "track")))
    if finished:
        where, words = address("sheet", run=run.id), "What did it use?"
    elif upcoming is not None:
        where, words = upcoming.where, f"Next: {upcoming.title}"
    else:
        where, words = order[-1].where, order[-1].title
    return page(
        DayPage(
            frame=frame(asked, run.name, tab="day", run=run),
            order=order,
            void=run.void,
            which=None if run.parent else _which(asked),
            next_where=where,
            next_words=words,
            previous=previous,
            changes=changes,
            photographs=files.photographs(run.id, held),
        )
    )


def _which(asked: Asked) -> Box:
    """The question for a run that no vehicle is known of."""
    vehicles = tuple((each.id, each.name or "Vehicle without a name") for each in asked.desk.book.subjects("vehicle"))
    return box(field("vehicle", "Which vehicle was it?", "", kind="choice", choices=vehicles), "", asked.habits)


def belongs(asked: Asked) -> Response:
    """Say which vehicle a run was driven with."""
    run = run_of(asked)
    vehicle = subject(asked, "vehicle", asked.form.get("vehicle", ""))
    asked.desk.book.link(run.id, "vehicle", vehicle.id, asked.habits.by)
    return go("day", run=run.id, done="saved")


def step(asked: Asked) -> Response:
    """One step: show it, or keep its form and go on."""
    run = run_of(asked)
    here = step_named(asked.part("step"))
    if here is None:
        raise HTTPException(404)
    if not asked.posted:
        return step_page(asked, run, here, asked.desk.book.values("run", run.id), {})
    more = asked.form.get("go") == "more"
    kept = keep_form(asked, "run", run.id, _posted_fields(here, asked.form))
    if kept.faults:
        return step_page(asked, run, here, kept.values, kept.faults)
    if more:
        return go("step", run=run.id, step=here.name, parts=_weighing_places(here, kept.texts)[-1] + 2)
    following = _after(here)
    return go("step", run=run.id, step=following.name) if following else go("day", run=run.id)


def step_page(
    asked: Asked,
    run: Subject,
    here: Step,
    values: Mapping[str, Value],
    faults: Mapping[str, tuple[str, str]],
    track_faults: tuple[str, ...] = (),
) -> Response:
    """The page of a step; status 422 where something was not taken."""
    texts = current_texts(values)
    held = files.held(asked, run.id)
    guesses = asked.desk.book.predictions(run.id)
    fields = _fields(here, texts, asked.query("parts"))
    following = _after(here)
    check = checking.check_view(asked, run) if here.extra == "check" else None
    shown = StepPage(
        frame=frame(asked, f"{here.title}: {run.name}", tab="day", run=run),
        order=_order(run.id, values, held, len(guesses), here.name),
        name=here.name,
        number=STEPS.index(here) + 1,
        title=here.title,
        lead=here.lead,
        caution=fuel_caution(_fuel_in(asked, run)) if here.of_fuel else here.caution,
        extra=here.extra,
        boxes=boxes(fields, texts, asked.habits, faults),
        faults=missing_words(faults, fields),
        on_where=address("step", run=run.id, step=following.name) if following else address("sheet", run=run.id),
        on_words=f"Next: {following.title}" if following else "What did it use?",
        more_words="It did not fit on the scale: weigh another part" if here.name in (WEIGH_OUT, WEIGH_IN) else "",
        guesses=tuple(_guess_line(guess) for guess in guesses),
        guess_by=box(GUESS_BY, asked.form.get("by"), asked.habits),
        guess_value=box(GUESS_VALUE, asked.form.get("value"), asked.habits, faults.get("value", ("", ""))),
        tracks=files.tracks(held) if here.extra == "track" else (),
        track_faults=track_faults,
        check=check if isinstance(check, checking.CheckView) else None,
        check_faults=check if isinstance(check, tuple) else (),
    )
    return page(shown, 422 if faults or track_faults else 200)


def event(asked: Asked) -> Response:
    """Write down what happened, with the time; a lap is counted too. For browsers without script."""
    run = run_of(asked)
    what = asked.form.get("what", "")
    if what not in dict(EVENTS):
        raise HTTPException(400)
    texts = current_texts(asked.desk.book.values("run", run.id))
    line = f"{dt.datetime.now():%H:%M:%S} {what}"
    changes: dict[str, str] = {"note": f"{texts.get('note', '')}\n{line}".strip()}
    if what == "Lap":
        laps = texts.get("laps", "")
        changes["laps"] = str((int(laps) if laps.isdecimal() and len(laps) < 6 else 0) + 1)
    asked.desk.book.write("run", run.id, changes, asked.habits.by, asked.device)
    return go("step", run=run.id, step="drive")


def guess(asked: Asked) -> Response:
    """Seal a guess."""
    from calmday.metrology.units import QuantityError, parse_consumption  # noqa: PLC0415

    run = run_of(asked)
    here = step_named("guesses")
    assert here is not None
    values = asked.desk.book.values("run", run.id)
    by = clean_name(asked.form.get("by", ""))
    number = pointed(asked.form.get("value", "").strip(), asked.habits)
    text = f"{number} {asked.form.get('value~unit', '')}".strip()
    if not by:
        return step_page(asked, run, here, values, {"value": ("has no name with it", "who guesses")})
    try:
        parse_consumption(text)
        asked.desk.book.seal_prediction(run.id, text, by)
    except QuantityError as error:
        return step_page(asked, run, here, values, {"value": (error.wrong, error.right)})
    except InputError as error:
        return step_page(asked, run, here, values, {"value": (error.faults[0].wrong, error.faults[0].right)})
    return go("step", run=run.id, step="guesses", done="sealed")


def _fuel_in(asked: Asked, run: Subject) -> str:
    """The kind of fuel in the can: as the run or its batch says, else the build sheet; empty where nobody does."""
    document = asked.desk.book.document(run.id)
    sheet = document.vehicle.tables if document.vehicle is not None else {}
    for table, key in ((document.tables.get("fuel"), "kind"), (sheet.get("engine"), "fuel")):
        if isinstance(table, dict) and isinstance(table.get(key), str):
            return str(table[key])
    return ""


def _guess_line(guess: Guess) -> GuessLine:
    return GuessLine(by=guess.by, text=guess.text, at=when(guess.sealed_at), digest=guess.digest)


def _after(here: Step) -> Step | None:
    place = STEPS.index(here) + 1
    return STEPS[place] if place < len(STEPS) else None


def _moment(here: Step) -> str:
    return {WEIGH_OUT: "before", WEIGH_IN: "after"}.get(here.name, "")


def _weighing_places(here: Step, texts: Mapping[str, str]) -> list[int]:
    """Which weighings this step shows: those of its moment, or the first free place."""
    moment = _moment(here)
    said = {int(match[1]): text for key, text in texts.items() if (match := _WHEN.fullmatch(key))}
    ours = sorted(place for place, text in said.items() if text == moment)
    if ours:
        return ours
    free = 0 if moment == "before" else 1
    while free in said:
        free += 2
    return [free]


def _fields(here: Step, texts: Mapping[str, str], extra_place: str = "") -> tuple[Field, ...]:
    if not _moment(here):
        return here.fields
    words = "can with fuel" if here.name == WEIGH_OUT else "can after the drive"
    places = _weighing_places(here, texts)
    if extra_place.isdecimal() and len(extra_place) < 3 and int(extra_place) % 2 == places[-1] % 2:
        places = sorted({*places, int(extra_place)})
    most = dict.fromkeys(places, 3)
    for key in texts:
        match = _GROSS.fullmatch(key)
        if match and int(match[1]) in most:
            most[int(match[1])] = min(max(most[int(match[1])], int(match[2]) + 1), 5)
    return tuple(
        each
        for n, place in enumerate(places)
        for each in readings(place, words if n == 0 else f"part {n + 1}", most[place])
    )


def _posted_fields(here: Step, form: Mapping[str, str]) -> tuple[Field, ...]:
    if not _moment(here):
        return here.fields
    places = {int(match[1]) for key in form if (match := _GROSS.fullmatch(key)) and len(match[1]) < 3}
    return tuple(each for place in sorted(places) for each in readings(place, "can", 5))


def _order(
    run_id: str, values: Mapping[str, Value], held: files.Held, guesses: int, here: str | None
) -> tuple[OrderItem, ...]:
    texts = current_texts(values)
    items = []
    for each in STEPS:
        state, told = _state(each, texts, held, guesses)
        items.append(
            OrderItem(
                title=each.title,
                where=address("step", run=run_id, step=each.name),
                state=state,
                told=told,
                current=each.name == here,
            )
        )
    return tuple(items)


def _state(each: Step, texts: Mapping[str, str], held: files.Held, guesses: int) -> tuple[str, str]:
    """How far a step is, and what it holds, in a few words."""
    if each.extra in ("track", "guesses", "check"):
        names = [file.name for file in held.tracks]
        open_guesses = sum(_GUESS.fullmatch(key) is not None for key in texts)
        said = [f"{guesses} sealed"] * bool(guesses) + [f"{open_guesses} written down"] * bool(open_guesses)
        told = {"track": ", ".join(names), "guesses": ", ".join(said)}.get(each.extra, "")
        return ("done" if told else "open"), told
    fields = _fields(each, texts)
    filled = [f for f in fields if texts.get(f.key) or any(k.startswith(f.key + "[") for k in texts)]
    if each.name in (WEIGH_OUT, WEIGH_IN):
        read = [as_read(texts[f.key]) for f in filled if ".gross[" in f.key]
        return ("done" if len(read) >= 2 else "part" if read else "open"), ", ".join(read)
    if each.name == "plan":
        terrain = next((in_a_few_words(texts[f.key], f) for f in filled if f.key == "terrain"), "")
        return ("done" if terrain else "part"), terrain
    if each.name == "weather":
        reports = sum(key.startswith("weather.metar") for key in texts)
        own = any(key.startswith("weather.reading") for key in texts)
        parts = [f"{reports} {'report' if reports == 1 else 'reports'}"] * bool(reports) + ["own reading"] * own
        return ("done" if parts else "open"), ", ".join(parts)
    told = ", ".join(in_a_few_words(texts[f.key], f) for f in filled[:3] if f.kind != "lines" and f.key in texts)
    enough = len(filled) >= min(2, len(fields))
    return ("done" if enough else "part" if filled else "open"), told
