"""Has it the power? What each gear holds, when to change, and the card for the dashboard."""

from __future__ import annotations

from typing import TYPE_CHECKING, ClassVar, Final

import msgspec
from markupsafe import Markup
from starlette.responses import Response

from calmday.errors import InputError
from calmday.reports.gears_sentence import gears_headline, hold_words, shift_words
from calmday.reports.gears_sheet import gears_sheet
from calmday.reports.json_result import json_result
from calmday.reports.shift_card import shift_card_html
from calmday.web.addresses import address
from calmday.web.chart_view import ChartView, chart_view, picture_of, pictures_to_take
from calmday.web.forms import pointed
from calmday.web.gear_conditions import SliderView, Wanted, sliders, wanted
from calmday.web.pages.checking import BlockView, blocks_of
from calmday.web.pages.common import frame, vehicle_of
from calmday.web.render import Context, Ref, page
from calmday.web.stored import units_of
from calmday.web.vehicle_history import faults_told

if TYPE_CHECKING:
    from calmday.logbook.records import Subject
    from calmday.procedures.gears_result import GearsResult
    from calmday.web.asked import Asked
    from calmday.web.studies import Held

SHIFT_BLOCKS: Final = ("Change up for best acceleration", "Change up for least fuel")
ELSEWHERE: Final = ("What the drive says", "Held back at full load")


class Rests(msgspec.Struct, frozen=True, kw_only=True):
    """What the figures rest on: a run that was learned from, or the build sheet alone."""

    run: Ref | None
    where: str
    coastdowns: int = 0
    waiting: bool = False


class GearsPage(Context, frozen=True, kw_only=True):
    """Thrust against the road. `faults` why nothing can be said yet; then all else is empty.

    `query` the question as parts of an address, for the links to the other pages about it.
    """

    template: ClassVar[str] = "gears.html"
    sentence: str
    hold: str
    controls: tuple[SliderView, ...]
    action: str
    chart: ChartView | None
    blocks: tuple[BlockView, ...]
    rests: Rests
    json: str
    links: tuple[tuple[str, str], ...]
    faults: tuple[str, ...]


class ShiftsPage(Context, frozen=True, kw_only=True):
    """When to change gear, and the card. `more` the boxes that only this page has: name, label, unit, value, hint."""

    template: ClassVar[str] = "shifts.html"
    sentence: str
    controls: tuple[SliderView, ...]
    more: tuple[tuple[str, str, str, str, str], ...]
    tachometer: bool
    action: str
    card: Markup
    print_where: str
    blocks: tuple[BlockView, ...]
    rests: Rests
    links: tuple[tuple[str, str], ...]
    faults: tuple[str, ...]


class CardPage(Context, frozen=True, kw_only=True):
    """The shift card alone, to print."""

    template: ClassVar[str] = "card.html"
    card: Markup
    back: str


def gears(asked: Asked) -> Response:
    """Thrust against the road, for the conditions of the sliders."""
    vehicle, want = vehicle_of(asked), wanted(asked)
    title = "Has it the power?"
    try:
        held = asked.desk.studies.of_vehicle(asked.desk.book, vehicle.id)
    except InputError as error:
        return _cannot(asked, vehicle, title, error)
    result = held.study.answer(want.conditions(), speed_kmh=want.speed_kmh, changes=False)
    unit = unit_of(asked)
    sheet = gears_sheet(result, unit)
    return page(
        GearsPage(
            frame=frame(asked, title, tab="gears", vehicle=vehicle, wide=True),
            sentence=gears_headline(result, unit),
            hold=hold_words(result, unit),
            controls=sliders(asked, want, result.asked.speed.value),
            action=address("gears", vehicle=vehicle.id),
            chart=_chart(asked, vehicle, want, result),
            blocks=tuple(
                block
                for block in blocks_of(sheet)
                if block.block.title not in SHIFT_BLOCKS and not block.block.title.startswith(ELSEWHERE)
            ),
            rests=rests_of(asked, held),
            json=address("gears_json", vehicle=vehicle.id, **want.query()),
            links=_links(vehicle.id, want, held),
            faults=(),
        )
    )


def unit_of(asked: Asked) -> str:
    """The unit of road speeds by the reader's habit."""
    return "km/h" if asked.habits.units == "metric" else "mph"


def _cannot(asked: Asked, vehicle: Subject, title: str, error: InputError) -> Response:
    """The build sheet cannot be read: what is wrong with it, and where to mend it."""
    return page(
        GearsPage(
            frame=frame(asked, title, tab="gears", vehicle=vehicle),
            sentence="It cannot be worked out yet: the build sheet has a fault.",
            hold="",
            controls=(),
            action=address("gears", vehicle=vehicle.id),
            chart=None,
            blocks=(),
            rests=Rests(run=None, where=""),
            json="",
            links=(("What is this vehicle?", address("build", vehicle=vehicle.id)),),
            faults=faults_told(error),
        ),
        422,
    )


def _chart(asked: Asked, vehicle: Subject, want: Wanted, result: GearsResult) -> ChartView:
    from calmday.reports.charts.thrust import thrust_chart  # noqa: PLC0415  (drawing needs numpy)

    view = chart_view(thrust_chart(result, units_of(asked.habits.units)))
    taken = pictures_to_take(
        view.title, lambda form: address("gears_chart", vehicle=vehicle.id, form=form, **want.query())
    )
    return msgspec.structs.replace(view, downloads=taken)


def rests_of(asked: Asked, held: Held) -> Rests:
    """What a drawn vehicle rests on, with the way to it."""
    if held.run is None:
        return Rests(run=None, where="", coastdowns=held.coastdowns, waiting=held.waiting)
    run = asked.desk.book.subjects("run", ids=[held.run])[0]
    return Rests(
        run=Ref(id=run.id, name=run.name or "Run without a name"),
        where=address("power", run=run.id),
        coastdowns=held.coastdowns,
        waiting=held.waiting,
    )


def _links(vehicle_id: str, want: Wanted, held: Held) -> tuple[tuple[str, str], ...]:
    query = want.query()
    found = [
        ("What each gear holds", address("gears", vehicle=vehicle_id, **query)),
        ("When to change gear", address("shifts", vehicle=vehicle_id, **query)),
    ]
    if held.run is not None:
        found.append(("What the run says", address("power", run=held.run)))
    found.append(("Pulls and hills", address("pulls", vehicle=vehicle_id)))
    return tuple(found)


def gears_json(asked: Asked) -> Response:
    """The answer as `calmday gears --json` prints it."""
    vehicle, want = vehicle_of(asked), wanted(asked)
    study = asked.desk.studies.of_vehicle(asked.desk.book, vehicle.id).study
    extra = _extra(asked)
    result = study.answer(
        want.conditions(), speed_kmh=want.speed_kmh, speedometer_factor=extra.factor, reserve=extra.reserve
    )
    return Response(json_result(result), media_type="application/json")


def gears_chart(asked: Asked) -> Response:
    """The picture of thrust against the road, to take along."""
    from calmday.reports.charts.thrust import thrust_chart  # noqa: PLC0415

    vehicle, want = vehicle_of(asked), wanted(asked)
    study = asked.desk.studies.of_vehicle(asked.desk.book, vehicle.id).study
    result = study.answer(want.conditions(), speed_kmh=want.speed_kmh, changes=False)
    return picture_of(thrust_chart(result, units_of(asked.habits.units)), asked.part("form"))


# --- when to change gear


class Extra(msgspec.Struct, frozen=True, kw_only=True):
    """What the shift card asks beside the conditions: true over indicated speed, share in hand, a rev counter."""

    factor: float | None = None
    reserve: float | None = None
    tachometer: bool = False

    def query(self) -> dict[str, str]:
        """The same as parts of an address."""
        parts = {}
        if self.factor is not None:
            parts["dial"] = f"{self.factor:g}"
        if self.reserve is not None:
            parts["reserve"] = f"{100 * self.reserve:g}"
        return parts | ({"tachometer": "yes"} if self.tachometer else {})


def _extra(asked: Asked) -> Extra:
    return Extra(
        factor=_number(asked, "dial", 0.5, 2.0),
        reserve=None if (percent := _number(asked, "reserve", 0.0, 60.0)) is None else percent / 100,
        tachometer=asked.query("tachometer") == "yes",
    )


def _number(asked: Asked, name: str, low: float, high: float) -> float | None:
    """A number of the query within its range; None where it is none."""
    try:
        value = float(pointed(asked.query(name)[:20].strip(), asked.habits))
    except ValueError:
        return None
    return value if low <= value <= high else None


def _shift_answer(asked: Asked, vehicle: Subject) -> tuple[GearsResult, Held, Wanted, Extra]:
    want, extra = wanted(asked), _extra(asked)
    held = asked.desk.studies.of_vehicle(asked.desk.book, vehicle.id)
    result = held.study.answer(
        want.conditions(), speed_kmh=want.speed_kmh, speedometer_factor=extra.factor, reserve=extra.reserve
    )
    return result, held, want, extra


def shifts(asked: Asked) -> Response:
    """Where to change up for best acceleration and for least fuel, and the card."""
    vehicle = vehicle_of(asked)
    try:
        result, held, want, extra = _shift_answer(asked, vehicle)
    except InputError as error:
        return _cannot(asked, vehicle, "When to change gear", error)
    unit = unit_of(asked)
    more = (
        ("dial", "True over shown speed", "", f"{extra.factor:g}" if extra.factor else "",
         "For a speedometer whose error you know: 0.95 where it shows 100 and 95 is true. Left out: satellite speed."),
        ("reserve", "Kept in hand after a change", "%", f"{100 * extra.reserve:g}" if extra.reserve is not None else "",
         "How much of full load is left in the next gear. Left out: 18 %."),
    )  # fmt: skip
    return page(
        ShiftsPage(
            frame=frame(asked, "When to change gear", tab="gears", vehicle=vehicle, wide=True),
            sentence=shift_words(result, unit),
            controls=sliders(asked, want, result.asked.speed.value),
            more=more,
            tachometer=extra.tachometer,
            action=address("shifts", vehicle=vehicle.id),
            # the card escapes every text it takes in
            card=Markup(shift_card_html(result, unit, extra.tachometer, level=3)),
            print_where=address("shift_card", vehicle=vehicle.id, **want.query(), **extra.query()),
            blocks=tuple(b for b in blocks_of(gears_sheet(result, unit)) if b.block.title in SHIFT_BLOCKS),
            rests=rests_of(asked, held),
            links=_links(vehicle.id, want, held),
            faults=(),
        )
    )


def shift_card(asked: Asked) -> Response:
    """The card alone, to print large."""
    vehicle = vehicle_of(asked)
    result, _, want, extra = _shift_answer(asked, vehicle)
    return page(
        CardPage(
            frame=frame(asked, "Shift card", vehicle=vehicle),
            card=Markup(shift_card_html(result, unit_of(asked), extra.tachometer)),
            back=address("shifts", vehicle=vehicle.id, **want.query(), **extra.query()),
        )
    )
