"""What if? Changes on sliders, against the same vehicle as it is."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from typing import TYPE_CHECKING, ClassVar, Final

import msgspec
from starlette.responses import Response

from calmday.errors import InputError
from calmday.metrology.rounding import listed
from calmday.reports.json_result import json_result
from calmday.reports.what_if_sentence import what_if_headline
from calmday.reports.what_if_sheet import what_if_sheet
from calmday.web.addresses import address
from calmday.web.chart_view import ChartView, chart_view, picture_of, pictures_to_take
from calmday.web.gear_conditions import CONDITIONS, Condition, Reach, SliderView, sliders, wanted
from calmday.web.pages.checking import BlockView, blocks_of
from calmday.web.pages.common import frame, vehicle_of
from calmday.web.pages.documents import DocumentLine, documents_of, lines, spec_of
from calmday.web.pages.gears import Rests, rests_of
from calmday.web.render import Context, page
from calmday.web.stored import units_of
from calmday.web.vehicle_fields import FUELS
from calmday.web.vehicle_history import faults_told

if TYPE_CHECKING:
    from calmday.logbook.records import Kind, Subject
    from calmday.operations import GearStudy
    from calmday.procedures.what_if_result import WhatIfResult
    from calmday.web.asked import Asked
    from calmday.web.studies import Held


def _percent(name: str, label: str, low: float, high: float, step: float = 1) -> Condition:
    reach = Reach("%", low, high, step)
    return Condition(name=name, label=label, dimension="fraction", metric=reach, miles=reach, left_out="as it is")


CHANGES: Final = (
    _percent("final_drive", "Axle ratio: + shorter, \u2212 taller", -30, 30),
    _percent("tyre_pressure", "Tyre pressure", -30, 50),
    _percent("rolling_resistance", "Rolling resistance", -30, 30),
    _percent("drag_coefficient", "Air drag", -40, 40),
    _percent("test_mass", "Mass", -30, 40),
    _percent("engine_efficiency", "Engine efficiency", -10, 15, 0.5),
    _percent("engine_friction", "Engine friction", -30, 30),
    _percent("full_load_power", "Full-load power", -30, 60),
)
"""Changes in per cent of what is now, under the keys of `calmday whatif --set`."""

AROUND: Final = Condition(
    name="wind", label="Wind from all around, as on a loop", dimension="speed", left_out="still air",
    metric=Reach("m/s", 0, 12, 0.5), miles=Reach("mph", 0, 25, 1),
)  # fmt: skip
CIRCUMSTANCES: Final = (AROUND, *CONDITIONS)


class WhatIfPage(Context, frozen=True, kw_only=True):
    """Changes on sliders; `fuel` another kind of fuel, of `fuels` by value and words.

    `lists` changes with their price and hours, and years, as they are kept.
    `faults` why nothing can be said yet; then all else is empty."""

    template: ClassVar[str] = "what_if.html"
    sentence: str
    changes: tuple[SliderView, ...]
    controls: tuple[SliderView, ...]
    fuels: tuple[tuple[str, str], ...]
    fuel: str
    axle: bool
    action: str
    chart: ChartView | None
    blocks: tuple[BlockView, ...]
    rests: Rests
    json: str
    lists: tuple[DocumentLine, ...]
    faults: tuple[str, ...]


def what_if(asked: Asked) -> Response:
    """What the changes on the sliders would do."""
    vehicle = vehicle_of(asked)
    try:
        held = asked.desk.studies.of_vehicle(asked.desk.book, vehicle.id)
        result = _answer(asked, held)
    except InputError as error:
        return _cannot(asked, vehicle, error)
    want, changes = wanted(asked, CIRCUMSTANCES), wanted(asked, CHANGES)
    query = _query(asked)
    return page(
        WhatIfPage(
            frame=frame(asked, "What if?", tab="what_if", vehicle=vehicle, wide=True),
            sentence=what_if_headline(result),
            changes=sliders(asked, changes, result.before.speed.value, CHANGES),
            controls=sliders(asked, want, result.before.speed.value, CIRCUMSTANCES),
            fuels=FUELS,
            fuel=_fuel(asked),
            axle=asked.query("axle") == "yes",
            action=address("what_if", vehicle=vehicle.id),
            chart=_chart(asked, vehicle, result),
            blocks=blocks_of(what_if_sheet(result)),
            rests=rests_of(asked, held),
            json=address("what_if_json", vehicle=vehicle.id, **query),
            lists=lines(spec_of("whatif"), documents_of(asked, "whatif", vehicle.id)),
            faults=(),
        )
    )


def _query(asked: Asked) -> dict[str, str]:
    """The question as parts of an address."""
    found = wanted(asked, CIRCUMSTANCES).query() | wanted(asked, CHANGES).query()
    fuel = {"fuel": _fuel(asked)} if _fuel(asked) else {}
    return found | fuel | ({"axle": "yes"} if asked.query("axle") == "yes" else {})


def _fuel(asked: Asked) -> str:
    """Another kind of fuel in the query; empty for none."""
    said = asked.query("fuel")
    return said if said in dict(FUELS) else ""


def _answer(asked: Asked, held: Held) -> WhatIfResult:
    from calmday.operations import what_if as answer  # noqa: PLC0415  (with the model)
    from calmday.operations import what_if_of_factors  # noqa: PLC0415

    want, changes = wanted(asked, CIRCUMSTANCES), wanted(asked, CHANGES)
    question = what_if_of_factors(
        held.study.vehicle,
        {name: 1 + value for name, value in changes.si.items() if value},
        want.si,
        fuel=_fuel(asked),
        axle=asked.query("axle") == "yes",
    )
    return answer(
        question,
        drawn=held.study.drawn,
        seed=held.study.seed,
        learnt_from=learnt_words(held.run is not None, held.coastdowns),
    )


def learnt_words(run: bool, coastdowns: int) -> str:
    """What a drawn vehicle learned from beside its build sheet; empty for nothing.

    >>> learnt_words(run=True, coastdowns=2)
    'a weighed run and 2 days of coastdowns'
    """
    days = "" if not coastdowns else "a day of coastdowns" if coastdowns == 1 else f"{coastdowns} days of coastdowns"
    return " and ".join(filter(None, ("a weighed run" if run else "", days)))


def drawn_vehicle(asked: Asked, vehicle_id: str, named: Mapping[Kind, Sequence[Subject]]) -> tuple[GearStudy, str]:
    """A vehicle as the tests leave it that are `named`, else as the sliders hold it; and in words which these are."""
    studies, book = asked.desk.studies, asked.desk.book
    if not named:
        held = studies.of_vehicle(book, vehicle_id)
        return held.study, learnt_words(held.run is not None, held.coastdowns)
    runs, days = (tuple(named.get(kind, ())) for kind in ("run", "coastdown"))
    held = studies.of_tests(book, vehicle_id, tuple(each.id for each in runs), tuple(each.id for each in days))
    if held.waiting:
        return held.study, learnt_words(held.run is not None, held.coastdowns)
    return held.study, listed([each.name or each.kind for each in (*runs, *days)])


def _cannot(asked: Asked, vehicle: Subject, error: InputError) -> Response:
    """What is wrong with the build sheet or the question."""
    return page(
        WhatIfPage(
            frame=frame(asked, "What if?", tab="what_if", vehicle=vehicle),
            sentence="It cannot be worked out yet.",
            changes=(),
            controls=(),
            fuels=(),
            fuel="",
            axle=False,
            action=address("what_if", vehicle=vehicle.id),
            chart=None,
            blocks=(),
            rests=Rests(run=None, where=""),
            json="",
            lists=(),
            faults=faults_told(error),
        ),
        422,
    )


def _chart(asked: Asked, vehicle: Subject, result: WhatIfResult) -> ChartView | None:
    from calmday.reports.charts.what_if import what_if_chart  # noqa: PLC0415  (drawing needs numpy)

    chart = what_if_chart(result, units_of(asked.habits.units))
    if chart is None:
        return None
    view = chart_view(chart)
    query = _query(asked)
    taken = pictures_to_take(view.title, lambda form: address("what_if_chart", vehicle=vehicle.id, form=form, **query))
    return msgspec.structs.replace(view, downloads=taken)


def what_if_json(asked: Asked) -> Response:
    """The answer as `calmday whatif --json` prints it."""
    vehicle = vehicle_of(asked)
    held = asked.desk.studies.of_vehicle(asked.desk.book, vehicle.id)
    return Response(json_result(_answer(asked, held)), media_type="application/json")


def what_if_picture(asked: Asked) -> Response:
    """The picture of fuel over speed, to take along."""
    from starlette.exceptions import HTTPException  # noqa: PLC0415

    from calmday.reports.charts.what_if import what_if_chart  # noqa: PLC0415

    vehicle = vehicle_of(asked)
    held = asked.desk.studies.of_vehicle(asked.desk.book, vehicle.id)
    chart = what_if_chart(_answer(asked, held), units_of(asked.habits.units))
    if chart is None:
        raise HTTPException(404)
    return picture_of(chart, asked.part("form"))
