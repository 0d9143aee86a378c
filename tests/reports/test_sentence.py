"""The one sentence: what it says, and the words it keeps away from."""

from __future__ import annotations

import re

import msgspec
import pytest
from sample_results import NOWHERE, consumption, flag, full_result

from calmday.metrology.figure import Figure, from_normal
from calmday.procedures.weighed_run_result import Penalties
from calmday.reports.sentence import headline

KEPT_AWAY = re.compile(r"significan|p-value|residual|covariance|accuracy class|outlier|invalid|error", re.IGNORECASE)


def penalties(wind: float, air: float, engine: float, tyres: float) -> Penalties:
    def cost(value: float) -> Figure:
        return from_normal(value, 0.2, "%")

    return Penalties(wind=cost(wind), air_density=cost(air), cold_engine=cost(engine), cold_tyres=cost(tyres))


def test_a_good_run_reads_as_agreed() -> None:
    assert headline(full_result()) == (
        "Fen Hauler used 6.6 L/100 km (36 mpg US, 43 mpg imp), give or take 0.2, on a calm standard day; "
        "7.1 as driven, with the wind and the cold engine."
    )


@pytest.mark.parametrize(
    ("costs", "ending"),
    [
        (penalties(0.2, 0.1, 0.0, 0.3), "as driven."),
        (penalties(0.2, 2.0, 0.0, 0.3), "as driven, with the thick air."),
        (
            penalties(1.0, -2.0, 3.0, 0.7),
            "as driven, with the cold engine, the thin air, the wind and the cold tyres.",
        ),
        (penalties(2.1, 0.58, 6.0, 0.9), "as driven, with the cold engine and the wind."),
    ],
)
def test_only_conditions_worth_saying_are_named_largest_first(costs: Penalties, ending: str) -> None:
    assert headline(full_result(penalties=costs)).endswith(ending)


def test_a_small_cost_that_may_be_none_is_not_named() -> None:
    """An engine started warm may have cost half a per cent, or nothing: it is not called cold."""
    warm = Figure(0.5, 0.4, 0.1, 1.8, "%")
    costs = msgspec.structs.replace(penalties(0.0, 0.8, 0.0, 1.3), cold_engine=warm)
    assert headline(full_result(penalties=costs)).endswith("as driven, with the cold tyres and the thick air.")
    cold = msgspec.structs.replace(costs, cold_engine=Figure(1.4, 0.4, 0.1, 3.8, "%"))
    assert headline(full_result(penalties=cold)).endswith("the cold engine, the cold tyres and the thick air.")


def test_conditions_are_named_only_where_they_explain_the_difference() -> None:
    """A day that saved fuel explains a lower figure; a poor weighing may put the figures the other way round."""
    saved, cost = penalties(-4.0, 0.0, 0.0, -0.8), penalties(4.0, 0.0, 0.0, 0.8)
    lower = full_result(as_driven=consumption(6.3, 0.05), penalties=saved)
    assert headline(lower).endswith("6.3 as driven, with the wind and the warm tyres.")
    assert headline(full_result(penalties=saved)).endswith("7.1 as driven.")
    assert headline(full_result(as_driven=consumption(6.3, 0.05), penalties=cost)).endswith("6.3 as driven.")


def test_less_than_nothing_is_not_read_out() -> None:
    spoilt = full_result(as_driven=consumption(-0.97, 0.05), flags=(flag("stop", "The can is heavier after the run."),))
    assert headline(spoilt) == "This result must not be used. The can is heavier after the run."


def test_a_spoilt_run_says_so_before_any_number() -> None:
    text = headline(full_result(flags=(flag("stop", "More fuel was weighed than an engine can burn."),)))
    assert text.startswith("This result must not be used. More fuel was weighed than an engine can burn. ")
    assert "7.12 L/100 km" in text
    assert "calm" not in text


def test_a_run_without_calm_day_says_that_we_cannot_tell() -> None:
    text = headline(full_result(calm_day=None, penalties=None))
    assert "7.12 L/100 km (33.0 mpg US, 39.7 mpg imp), give or take 0.09, as driven" in text
    assert text.endswith("we can't tell what it would use on a calm day.")


def test_wide_doubt_is_told_by_its_ends() -> None:
    text = headline(full_result(calm_day=consumption(6.6, 1.2)))
    assert "about 7 L/100 km" in text
    assert "could be as low as 4 or as high as 9" in text
    assert "give or take" not in text


def test_nothing_known_is_still_a_sentence() -> None:
    nowhere = msgspec.structs.replace(consumption(7.0, 0.1), L_per_100km=NOWHERE)
    assert headline(full_result(as_driven=nowhere, calm_day=None)) == (
        "We can't tell what Fen Hauler used; the remarks below say why."
    )


@pytest.mark.parametrize(
    "result",
    [
        full_result(),
        full_result(calm_day=None),
        full_result(calm_day=consumption(6.6, 1.2)),
        full_result(flags=(flag("stop"),)),
        full_result(vehicle=""),
    ],
)
def test_words_that_put_people_off_stay_away(result: object) -> None:
    text = headline(result)
    assert not KEPT_AWAY.search(text)
    assert "!" not in text
    assert re.search(r"\d mpg US, [\d.]+ mpg imp", text), "a gallon always says which"
