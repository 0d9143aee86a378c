"""Results as the logbook keeps them, and the charts drawn from them: drawn once, shown many times."""

from __future__ import annotations

import threading
from collections import OrderedDict
from typing import TYPE_CHECKING, Final

from calmday.reports.json_result import readable
from calmday.web.chart_view import ChartView, chart_view

if TYPE_CHECKING:
    from collections.abc import Callable

    from calmday.logbook import Logbook
    from calmday.logbook.records import StoredResult
    from calmday.procedures.along_the_drive import AlongTheDrive
    from calmday.procedures.weighed_run_result import RunResult
    from calmday.reports.charts.chart import Chart
    from calmday.reports.charts.quantities import QuantityKey
    from calmday.reports.charts.units import ReaderUnits

REMEMBERED: Final = 24
COLOURS: Final[tuple[tuple[QuantityKey, str], ...]] = (
    ("speed", "Speed"),
    ("air_speed", "Air speed"),
    ("engine_power", "Engine power"),
    ("load", "Engine load"),
    ("fuel_rate", "Fuel rate"),
    ("height", "Height"),
    ("grade", "Grade"),
    ("engine_speed", "Engine speed"),
)


class Drawn:
    """The result of a run with its charts; each chart is drawn when it is first asked for."""

    def __init__(
        self, stored: StoredResult, result: RunResult, along: AlongTheDrive | None, units: ReaderUnits
    ) -> None:
        self.units = units
        self.id = stored.id
        self.run = stored.run_id
        self.result = result
        self.along = along
        self._lock = threading.Lock()
        self._charts: dict[str, Chart | None] = {}
        self._views: dict[str, ChartView | None] = {}

    def chart(self, name: str) -> Chart | None:
        """A chart by name; None where there is none of it."""
        with self._lock:
            if name not in self._charts:
                self._charts[name] = self._make(name)
            return self._charts[name]

    def view(self, name: str) -> ChartView | None:
        """A chart as the page shows it."""
        chart = self.chart(name)
        with self._lock:
            if name not in self._views:
                shown = name.partition(":")[0]
                self._views[name] = chart_view(chart, self.run, shown) if chart is not None else None
            return self._views[name]

    def _make(self, name: str) -> Chart | None:
        maker = MAKERS.get(name.split(":", maxsplit=1)[0])
        return maker(self, name.partition(":")[2]) if maker is not None else None


def _route(drawn: Drawn, colour: str) -> Chart | None:
    from calmday.reports.charts.route import route_chart  # noqa: PLC0415  (each chart is loaded when it is drawn)

    if drawn.along is None:
        return None
    return route_chart(drawn.along, next((key for key, _ in COLOURS if key == colour), "speed"), drawn.units)


def _traces(drawn: Drawn, _: str) -> Chart | None:
    from calmday.reports.charts.traces import traces_chart  # noqa: PLC0415

    return traces_chart(drawn.along, units=drawn.units) if drawn.along is not None else None


def _shares(drawn: Drawn, _: str) -> Chart | None:
    from calmday.reports.charts.fuel_shares import fuel_shares_chart  # noqa: PLC0415

    return fuel_shares_chart(drawn.result.energy)


def _doubt(drawn: Drawn, _: str) -> Chart | None:
    from calmday.reports.charts.doubt import doubt_chart  # noqa: PLC0415

    result = drawn.result
    return doubt_chart(
        result.budget or result.budget_as_driven, "calm-day figure" if result.budget else "as-driven figure"
    )


def _day_cost(drawn: Drawn, _: str) -> Chart | None:
    from calmday.reports.charts.day_cost import day_cost_chart  # noqa: PLC0415

    return day_cost_chart(drawn.result, drawn.units)


def _comparison(drawn: Drawn, _: str) -> Chart | None:
    from calmday.reports.charts.comparison import comparison_chart  # noqa: PLC0415

    return comparison_chart(drawn.result, units=drawn.units)


def _legs(drawn: Drawn, _: str) -> Chart | None:
    from calmday.reports.charts.legs import legs_chart  # noqa: PLC0415

    return legs_chart(drawn.result.legs, drawn.units)


def _cruise(drawn: Drawn, _: str) -> Chart | None:
    from calmday.reports.charts.cruise import cruise_chart  # noqa: PLC0415

    return cruise_chart(drawn.result.level_cruise, drawn.units)


def _parameters(drawn: Drawn, _: str) -> Chart | None:
    from calmday.reports.charts.parameters import parameters_chart  # noqa: PLC0415

    return parameters_chart(drawn.result.estimates)


MAKERS: Final[dict[str, Callable[[Drawn, str], Chart | None]]] = {
    "comparison": _comparison,
    "route": _route,
    "traces": _traces,
    "fuel-shares": _shares,
    "doubt": _doubt,
    "day-cost": _day_cost,
    "legs": _legs,
    "level-cruise": _cruise,
    "parameters": _parameters,
}
"""Charts by the name under which a picture of them can be had."""


class Gallery:
    """The results looked at lately, with their charts, in the units they were looked at in."""

    def __init__(self) -> None:
        self._lock = threading.Lock()
        self._drawn: OrderedDict[tuple[str, str], Drawn] = OrderedDict()

    def get(self, book: Logbook, result_id: str, habit: str) -> Drawn | None:
        """A result by its id, from the logbook where it was not looked at lately; None where another version of the
        program kept it in another form."""
        with self._lock:
            found = self._drawn.get((result_id, habit))
            if found is not None:
                self._drawn.move_to_end((result_id, habit))
                return found
        from calmday.operations.logbook import along_of, result_of  # noqa: PLC0415  (with the database layer)

        stored = book.result(result_id)
        result = readable(result_of, stored)
        if result is None:
            return None
        made = Drawn(stored, result, along_of(stored), units_of(habit))
        with self._lock:
            self._drawn[result_id, habit] = made
            while len(self._drawn) > REMEMBERED:
                self._drawn.popitem(last=False)
        return made


def units_of(habit: str) -> ReaderUnits:
    """The units of charts by the habit of their reader."""
    from calmday.reports.charts.units import METRIC, ReaderUnits  # noqa: PLC0415

    if habit == "metric":
        return METRIC
    return ReaderUnits(
        speed="mph",
        distance="mi",
        height="ft",
        power="hp",
        torque="lbf*ft",
        wind="mph",
        consumption="mpg_us" if habit == "us" else "mpg_imp",
    )
