"""Where one arrives: the vehicles, a new one, the choices of this device."""

from __future__ import annotations

from typing import TYPE_CHECKING, ClassVar

import msgspec
from starlette.responses import Response

from calmday.web.fields import field
from calmday.web.forms import Box, box
from calmday.web.habits import COOKIE, LOOKS, SIGNS, UNIT_HABITS, Habits, clean_name, cookie_of
from calmday.web.pages.common import frame, go, when
from calmday.web.render import Context, page
from calmday.web.vehicle_fields import BODIES

if TYPE_CHECKING:
    from calmday.web.asked import Asked

YEAR_S = 365 * 24 * 3600
NAME = field("name", "What do you call it?", "A name for its sheets.", kind="text", room=30, example="Fen Hauler")
BODY = field(
    "body", "Which shape is nearest?", "", kind="choice", choices=BODIES, left_out="a middling shape, with a wide doubt"
)
BY = field(
    "by",
    "Your name",
    "Stands beside what you write, so that two people can tell their entries apart.",
    kind="text",
    room=20,
)


class VehicleLine(msgspec.Struct, frozen=True, kw_only=True):
    """One vehicle of the list."""

    id: str
    name: str
    told: str


class Home(Context, frozen=True, kw_only=True):
    """All vehicles, and the ways to begin. `name`, `body` the form for a new one."""

    template: ClassVar[str] = "home.html"
    vehicles: tuple[VehicleLine, ...]
    name: Box
    body: Box


class SettingsPage(Context, frozen=True, kw_only=True):
    """The choices of this device: name, legend, options and the one chosen; `by` who writes here."""

    template: ClassVar[str] = "settings.html"
    choices: tuple[tuple[str, str, tuple[tuple[str, str], ...], str], ...]
    by: Box


def home(asked: Asked) -> Response:
    """The vehicles of this logbook."""
    book = asked.desk.book
    vehicles = tuple(
        VehicleLine(id=each.id, name=each.name or "Vehicle without a name", told=f"since {when(each.made_at)}")
        for each in asked.desk.memory.get(book, ("vehicles",), lambda: book.subjects("vehicle"))
    )
    return page(_home(asked, vehicles, ("", "")))


def _home(asked: Asked, vehicles: tuple[VehicleLine, ...], fault: tuple[str, str]) -> Home:
    return Home(
        frame=frame(asked, "Which vehicle?" if vehicles else "An empty logbook"),
        vehicles=vehicles,
        name=box(NAME, asked.form.get("name"), asked.habits, fault),
        body=box(BODY, asked.form.get("body"), asked.habits),
    )


def vehicle_new(asked: Asked) -> Response:
    """Begin a vehicle and go to its build sheet."""
    name = clean_name(asked.form.get("name", ""))
    if not name:
        return page(_home(asked, (), ("is empty", "a name such as Fen Hauler")), 422)
    made = asked.desk.book.create("vehicle", name, by=asked.habits.by, device=asked.device)
    body = asked.form.get("body", "")
    if body in dict(BODIES):
        asked.desk.book.write("vehicle", made, {"vehicle.body": body}, asked.habits.by, asked.device)
    return go("build", vehicle=made)


def settings(asked: Asked) -> Response:
    """Show or keep the choices of this device."""
    if asked.posted:
        chosen = Habits(
            units=_chosen(asked, "units", UNIT_HABITS),
            look=_chosen(asked, "look", LOOKS),
            decimal=_chosen(asked, "decimal", SIGNS),
            by=clean_name(asked.form.get("by", "")) or "me",
        )
        answer = go("settings", done="kept")
        answer.set_cookie(COOKIE, cookie_of(chosen), max_age=YEAR_S, httponly=True, samesite="strict")
        return answer
    habits = asked.habits
    return page(
        SettingsPage(
            frame=frame(asked, "Units and look"),
            choices=(
                ("units", "Units offered first", UNIT_HABITS, habits.units),
                ("decimal", "You write a reading as", SIGNS, habits.decimal),
                ("look", "Light or dark", LOOKS, habits.look),
            ),
            by=box(BY, habits.by, habits),
        )
    )


def _chosen(asked: Asked, name: str, options: tuple[tuple[str, str], ...]) -> str:
    given = asked.form.get(name, "")
    held: str = getattr(asked.habits, name)
    return given if given in {value for value, _ in options} else held
