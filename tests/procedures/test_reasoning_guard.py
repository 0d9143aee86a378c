"""The guard of reasoning: each rule fires at its limit and not just inside, and says three things."""

from __future__ import annotations

import pytest

from calmday.procedures import guard_sees
from calmday.procedures.guard_claims import CLAIM_RULES, claim_flags
from calmday.procedures.guard_facts import Facts
from calmday.procedures.guard_rules import RULES, flags_of

AT_AND_INSIDE: list[tuple[str, dict[str, object], dict[str, object]]] = [
    ("one-run-each", {"before_runs": 1, "after_runs": 1}, {"before_runs": 1, "after_runs": 2}),
    ("single-run-group", {"before_runs": 1, "after_runs": 2}, {"before_runs": 2, "after_runs": 2}),
    (
        "all-before-then-after",
        {"before_runs": 2, "after_runs": 2, "order_tie": -guard_sees.ORDER_TIE, "order": "B-B-A-A"},
        {"before_runs": 2, "after_runs": 2, "order_tie": guard_sees.ORDER_TIE - 1e-6},
    ),
    ("in-step-with-order", {"in_step": ("the setting",)}, {}),
    ("order-not-given", {"before_runs": 2, "after_runs": 2}, {"before_runs": 2, "after_runs": 1}),
    ("different-days", {"modelled": False, "days_shared": False}, {"modelled": True, "days_shared": False}),
    (
        "wind-on-a-loop",
        {"modelled": False, "loop_penalty": guard_sees.LOOP_WIND_PENALTY},
        {"modelled": False, "loop_penalty": guard_sees.LOOP_WIND_PENALTY - 1e-6},
    ),
    (
        "wind-differs",
        {"modelled": False, "wind_before_mps": 1.0, "wind_after_mps": 1.0 + guard_sees.WIND_DIFFERENCE_MPS},
        {"modelled": False, "wind_before_mps": 1.0, "wind_after_mps": 2.999},
    ),
    (
        "temperature-differs",
        {"modelled": False, "air_before_c": 10.0, "air_after_c": 10.0 - guard_sees.AIR_DIFFERENCE_K},
        {"modelled": False, "air_before_c": 10.0, "air_after_c": 6.001},
    ),
    (
        "speed-differs",
        {"modelled": False, "speed_before_kmh": 80.0, "speed_after_kmh": 80.401},
        {"modelled": False, "speed_before_kmh": 80.0, "speed_after_kmh": 80.399},
    ),
    ("driving-differs", {"driving": -guard_sees.DRIVING_DIFFERENCE}, {"driving": 0.999}),
    ("correction-larger-than-effect", {"correction": -3.001, "effect": 3.0}, {"correction": 3.0, "effect": -3.0}),
    (
        "stories-disagree",
        {"effect": -3.0, "low": -5.0, "high": -1.0, "raw_effect": -0.99, "raw_low": -4.0, "raw_high": 2.0},
        {"effect": -3.0, "low": -5.0, "high": -1.0, "raw_effect": -1.0, "raw_low": -4.0, "raw_high": 2.0},
    ),
    (
        "different-batches",
        {"batches_before": ("May",), "batches_after": ("June",)},
        {"batches_before": ("May",), "batches_after": ("May",)},
    ),
    ("odometer-after-gearing", {"gearing_changed": "Axle ratio", "odometer_stale": True}, {"gearing_changed": "Tyre"}),
    ("gearing-changed", {"gearing_changed": "Tyre"}, {}),
    ("mass-differs", {"mass_difference": guard_sees.MASS_DIFFERENCE}, {"mass_difference": -1.499}),
    ("pressure-differs", {"pressure_difference": -guard_sees.PRESSURE_DIFFERENCE}, {"pressure_difference": 2.999}),
    ("several-changes", {"sheet_differences": ("tyre", "mass")}, {"sheet_differences": ("tyre",)}),
    ("changes-tied", {"tied": ("a with b",)}, {}),
    (
        "fewer-runs-than-planned",
        {"planned_runs": 8, "before_runs": 4, "after_runs": 3},
        {"planned_runs": 8, "before_runs": 4, "after_runs": 4},
    ),
    (
        "more-runs-than-planned",
        {"planned_runs": 8, "before_runs": 4, "after_runs": 5},
        {"planned_runs": 8, "before_runs": 4, "after_runs": 4},
    ),
    ("left-out-after-weighing", {"left_out_late": ("run 3 (ugly)",)}, {}),
    ("left-out-when", {"left_out_unsaid": ("run 3 (ugly)",)}, {}),
    ("one-of-several-tried", {"of_several": 2}, {"of_several": 1}),
    ("not-blind", {"blind": False}, {"blind": None}),
    ("seal-broken", {"seal_fits": False}, {"seal_fits": None}),
    ("sealed-order-not-driven", {"left_sealed_order": ("A-B-B-A", "A-A-B-B")}, {}),
    ("odd-run", {"odd": ("run 3",)}, {}),
    ("odd-baseline", {"odd_baseline_decides": True}, {}),
    ("same-readings-twice", {"same_readings": ("run 1 and run 2",)}, {}),
    ("scatter-believed", {"scatter_matters": True}, {}),
    (
        "test-too-coarse",
        {"detectable": 3.001, "smallest_change": 3.0, "low": -2.0, "high": 1.0},
        {"detectable": 3.0, "smallest_change": 3.0, "low": -2.0, "high": 1.0},
    ),
    ("published-of-another-kind", {"published_kind": "40 mpg US, label"}, {}),
    ("two-gallons", {"published_differs": 0.20}, {"published_differs": 0.15}),
    (
        "fuel-caught-differently",
        {"mixed_arrangements": ("brim to brim", "test can")},
        {"mixed_arrangements": ("test can",)},
    ),
]


def _codes(**facts: object) -> set[str]:
    return {flag.code for flag in flags_of(Facts(**facts))}  # type: ignore[arg-type]


def test_every_rule_has_a_case() -> None:
    assert [rule.code for rule in RULES if rule.code not in {code for code, _, _ in AT_AND_INSIDE}] == []
    assert len({rule.code for rule in RULES}) == len(RULES)


@pytest.mark.parametrize(("code", "at", "inside"), AT_AND_INSIDE, ids=[case[0] for case in AT_AND_INSIDE])
def test_a_rule_fires_at_its_limit_and_not_just_inside(
    code: str, at: dict[str, object], inside: dict[str, object]
) -> None:
    assert code in _codes(**at)
    assert code not in _codes(**inside)


@pytest.mark.parametrize("rule", RULES, ids=[rule.code for rule in RULES])
def test_a_flag_says_three_things_in_plain_sentences(rule: object) -> None:
    code, at, _ = next(case for case in AT_AND_INSIDE if case[0] == rule.code)  # type: ignore[attr-defined]
    flag = next(flag for flag in flags_of(Facts(**at)) if flag.code == code)  # type: ignore[arg-type]
    for part in (flag.saw, flag.why, flag.remedy):
        assert part[0].isupper() or part[0].isdigit()
        assert part.endswith((".", "?"))
    assert "invalid" not in flag.message.lower()


def test_nothing_known_raises_nothing() -> None:
    assert flags_of(Facts()) == ()


def test_an_effect_that_is_seen_is_not_called_too_coarse() -> None:
    assert "test-too-coarse" not in _codes(detectable=5.0, smallest_change=3.0, low=-9.0, high=-4.0)


def test_ten_gadgets_are_told_their_odds() -> None:
    """1 - 0.95^10 = 40 %."""
    flag = next(flag for flag in flags_of(Facts(of_several=10)) if flag.code == "one-of-several-tried")
    assert "40 times in 100" in flag.saw


CLAIMS = [
    ("12 % better mpg", "percent-of-distance"),
    ("12 % better", "percent-of-what"),
    ("it now does 40 mpg", "gallon-not-named"),
    ("the average mpg of both legs was 37.9", "mean-of-mpg"),
    ("we averaged the percentages: 5 % and 9 %", "percent-of-what"),
    ("on average 7 %", "mean-of-percentages"),
    ("the wind cancels out over the loop", "wind-said-to-cancel"),
    ("The tailwind gives it all back", "wind-said-to-cancel"),
    ("a side wind has no effect", "side-wind-free"),
    ("48 mpg US with a tail wind, one way", "downwind-figure"),
    ("the factory said 6.1", "published-of-another-kind"),
    ("everybody gets 6.5 with these", "owners-averages"),
    ("so there is no difference", "no-difference-proven"),
    ("peak torque is the best speed to cruise at", "peak-torque-cruise"),
    ("the chart says 54 kW of power at the wheels", "chart-power-at-wheels"),
    ("it starts so much better now", "sounds-or-starts-better"),
    ("our scale is accurate to the gram", "scale-step-as-accuracy"),
    ("the turbo saves fuel", "turbo-saves"),
    ("40 mpg imp with a tail wind", "downwind-figure"),
    ("37.9 mpg US, the mean of the two legs", "mean-of-mpg"),
    ("it didn't make any difference", "no-difference-proven"),
    ("the difference is not significant", "no-difference-proven"),
    ("better than the book figure", "published-of-another-kind"),
    ("my mate got 6.1 L/100 km", "owners-averages"),
    ("five quarts of fuel", "gallon-not-named"),
    ("43.127 mpg imp", "false-precision"),
    ("4.137 % less fuel", "false-precision"),
    ("6.5621 L/100 km", "false-precision"),
    ("that is 6 mpg US better", "steps-of-mpg"),
    ("we gained 6 mpg imp", "steps-of-mpg"),
    ("one run gave 6.1, the other 5.8", "one-run-claimed"),
    ("we threw out the bad run", "runs-dropped"),
    ("we tried ten gadgets and this one worked", "one-of-many-claimed"),
    ("lowest g/kWh, so that is the speed to drive at", "best-grams-per-kwh"),
    ("top speed from the gear ratios is 140 km/h", "top-speed-from-gearing"),
]


@pytest.mark.parametrize(("claim", "code"), CLAIMS)
def test_a_claim_is_caught_by_its_words(claim: str, code: str) -> None:
    assert code in {flag.code for flag in claim_flags(claim)}


def test_every_rule_of_claims_has_a_case() -> None:
    assert {rule.code for rule in CLAIM_RULES} <= {code for _, code in CLAIMS}


@pytest.mark.parametrize(
    "claim",
    [
        "4.1 % less fuel on eight runs",
        "6.6 L/100 km, give or take 0.2",
        "34 mpg imp on the whole loop",
        "6.56 L/100 km on three laps, steady 67 km/h",
        "43.1 mpg imp, give or take 1",
        "eight runs, alternating, one left out for rain before it was weighed",
        "the mean of the four runs is 6.2 L/100 km",
        "",
        "wind 4 m/s",
    ],
)
def test_a_sound_claim_passes(claim: str) -> None:
    assert claim_flags(claim) == ()


def test_both_readings_of_a_bare_percentage_are_told() -> None:
    """17.4 % less fuel is 21.1 % more distance; 21.1 % more distance is 17.4 % less fuel."""
    told = next(flag for flag in claim_flags("17.4 % better") if flag.code == "percent-of-what").why
    assert "21.1 % more distance" in told
    told = next(flag for flag in claim_flags("21.1 % better mileage") if flag.code == "percent-of-distance").why
    assert "17.4 % less fuel" in told
