"""Runs put together, and what to do next: against hand computation."""

from __future__ import annotations

import datetime as dt
import math
import sys
from pathlib import Path

import msgspec
import pytest
from hypothesis import given
from hypothesis import strategies as st

sys.path.insert(0, str(Path(__file__).parents[1] / "samples"))
from sample_results import full_result

from calmday.metrology.figure import Figure, from_normal
from calmday.procedures.standing import RunFigure, best_of, combined, state_figures
from calmday.procedures.weighed_run_result import BudgetLine, RunResult
from calmday.procedures.what_next import own_share, what_next


def run(
    value: float, spread: float, own: float = 1.0, state: int = 0, place: str = "loop", name: str = ""
) -> RunFigure:
    return RunFigure(
        run_id=name or f"{value}", state=state, place=place, figure=from_normal(value, spread, "L/100km"), own_share=own
    )


def test_one_run_is_its_own_figure() -> None:
    lopsided = Figure(7.0, 0.2, 6.7, 7.6, "L/100km")
    one = RunFigure(run_id="a", state=0, place="loop", figure=lopsided, own_share=0.5)
    assert combined([one]).figure == lopsided


def test_what_runs_draw_for_themselves_averages_out_and_what_they_share_does_not() -> None:
    four = [run(7.0, 0.2, own=0.36) for _ in range(4)]
    own, shared = 0.6 * 0.2, 0.8 * 0.2
    assert combined(four).figure.standard_uncertainty == pytest.approx(math.hypot(own / 2, shared))
    assert combined([run(7.0, 0.2), run(7.0, 0.2)]).figure.standard_uncertainty == pytest.approx(0.2 / math.sqrt(2))


def test_weights_follow_the_doubt() -> None:
    found = combined([run(7.0, 0.1), run(7.2, 0.2)])
    assert found.figure.value == pytest.approx((7.0 / 0.01 + 7.2 / 0.04) / (1 / 0.01 + 1 / 0.04))


def test_runs_that_scatter_more_than_they_say_are_believed_less() -> None:
    found = combined([run(7.0, 0.1), run(8.0, 0.1)])
    assert found.scatter == pytest.approx(math.sqrt(2 * (0.5 / 0.1) ** 2))
    assert found.figure.standard_uncertainty == pytest.approx(found.scatter * 0.1 / math.sqrt(2))


@given(st.lists(st.tuples(st.floats(3, 20), st.floats(0.01, 1), st.floats(0, 1)), min_size=2, max_size=6))
def test_together_they_lie_between_the_extremes_and_know_no_less_of_what_is_shared(
    told: list[tuple[float, float, float]],
) -> None:
    runs = [run(v, s, own) for v, s, own in told]
    found = combined(runs).figure
    assert min(r.value for r in runs) - 1e-9 <= found.value <= max(r.value for r in runs) + 1e-9
    assert found.standard_uncertainty > 0
    assert found.low < found.value < found.high


def test_runs_of_different_places_are_not_mixed() -> None:
    found = best_of([run(7.0, 0.3, place="loop"), run(9.0, 0.1, place="pass"), run(7.1, 0.3, place="loop")])
    assert found is not None
    assert found.figure.value == 9.0


def test_how_it_moved_with_each_change() -> None:
    states = [(None, ()), (dt.date(2026, 5, 2), ("taller axle",)), (dt.date(2026, 6, 1), ("gaiters",))]
    runs = [run(8.0, 0.08), run(7.2, 0.072, state=1), run(9.9, 0.1, state=2, place="elsewhere")]
    built, axle, gaiters = state_figures(states, runs)
    assert built.change_percent is None
    assert axle.change_percent is not None
    assert axle.change_percent.value == pytest.approx(-10.0)
    assert axle.change_percent.standard_uncertainty == pytest.approx(90 * math.hypot(0.01, 0.01))
    assert gaiters.change_percent is None, "driven elsewhere, so nothing can be said"
    assert (gaiters.what, gaiters.runs) == (("gaiters",), 1)


def budget(**shares: float) -> tuple[BudgetLine, ...]:
    none = Figure(0, 0, 0, 0, "L/100km")
    return tuple(BudgetLine(source=name.replace("_", " "), contribution=none, share=s) for name, s in shares.items())


def result(lines: tuple[BudgetLine, ...]) -> RunResult:
    plain = full_result()
    assert plain.calm_day is not None
    figure = from_normal(7.0, 0.14, "L/100km")
    calm = msgspec.structs.replace(plain.calm_day, L_per_100km=figure)
    moving = Figure(2400.0, 0.0, 2400.0, 2400.0, "s")
    return msgspec.structs.replace(plain, calm_day=calm, budget=lines, estimates={}, moving_time=moving)


def test_weighing_a_litre_takes_away_what_the_density_holds() -> None:
    (step, *_) = what_next(result(budget(fuel_density=0.75, engine=0.25)), {"track"})
    assert step.code == "weigh-litre"
    relative = math.sqrt(0.75) * 0.02
    left = 0.25 + 0.75 * (0.003 / relative) ** 2
    assert step.half_width_then == pytest.approx(step.half_width_now * math.sqrt(left))
    assert step.bits_per_hour == pytest.approx(-math.log2(math.sqrt(left)) * 6)


def test_a_second_run_halves_only_what_it_draws_anew() -> None:
    steps = {s.code: s for s in what_next(result(budget(distance=0.5, engine=0.5)), {"track"})}
    step = steps["second-run"]
    assert step.half_width_then == pytest.approx(step.half_width_now * math.sqrt(0.75))
    assert step.minutes == pytest.approx(40 + 25)


def test_what_is_said_already_is_not_asked_for_again() -> None:
    lines = budget(fuel_in_lines=0.5, gearing=0.3, distance=0.2)
    asked = {s.code for s in what_next(result(lines), set())}
    said = {"fuel_system.repeatability", "vehicle.final_drive", "vehicle.gear_ratios[0]", "track[0]"}
    assert asked - {s.code for s in what_next(result(lines), said)} == {"null-test", "gearing", "record-track"}


def test_nothing_worth_doing_is_an_answer() -> None:
    assert what_next(result(budget(engine=1.0)), {"track"}) == ()
    assert what_next(msgspec.structs.replace(full_result(), budget=(), budget_as_driven=()), {"track"}) == ()


def test_the_share_of_one_run() -> None:
    assert own_share(budget(distance=0.2, engine=0.5, gusts=0.3)) == pytest.approx(0.5)
