"""Every flag fires just past its limit and not just inside it."""

from __future__ import annotations

import re
from pathlib import Path

import pytest
from flag_cases import BARE_SHEET, CASES, FAR, OVER
from flag_runs import Maker, burnt, curve, effective, flags_by_code, fuel_at, plain, readings, tracked, two, with_run
from run_factory import changed

import calmday.procedures
from calmday.procedures.run_flags import flags_of_run
from calmday.procedures.run_flags_fuel import (
    BELIEVABLE_GPKWH,
)
from calmday.records.run import FuelBatch, Run, Scale


def codes_in_source() -> set[str]:
    folder = Path(calmday.procedures.__file__).parent
    text = "\n".join(file.read_text(encoding="utf-8") for file in sorted(folder.glob("run_flags*.py")))
    return set(re.findall(r'\bflag\(\s*"([a-z0-9-]+)"', text))


def test_every_flag_has_a_case() -> None:
    """A flag added without a test of its limit fails here."""
    assert codes_in_source() == set(CASES)
    assert len(CASES) > 30


ALWAYS = {"one-run"}


@pytest.mark.parametrize(
    ("code", "fires", "inside"),
    [pytest.param(code, *pair, id=f"{code}-{n}") for code, pairs in CASES.items() for n, pair in enumerate(pairs)],
)
def test_fires_at_its_limit_and_not_just_inside(code: str, fires: Maker, inside: Maker) -> None:
    found = flags_by_code(fires())
    assert code in found
    if code not in ALWAYS:
        assert code not in flags_by_code(inside())


@pytest.mark.parametrize("code", CASES)
def test_says_what_why_and_what_now(code: str) -> None:
    flag = flags_by_code(CASES[code][0][0]())[code]
    for sentence in (flag.saw, flag.why, flag.remedy):
        assert sentence[0].isupper() or sentence[0].isdigit()
        assert sentence.endswith(".")
        assert "nan" not in sentence.lower().split()
    assert flag.message == f"{flag.saw} {flag.why} {flag.remedy}"


SEVERITY = {
    "stop": {
        "fuel-cannot-have-been-burnt",
        "fuel-missed",
        "after-heavier-than-before",
        "no-fuel-burnt",
        "over-scale-capacity",
        "tare-above-gross",
        "no-distance",
        "fuel-of-another-engine",
    },
    "note": {
        "start-not-said",
        "many-odd-fixes",
        "recording-paused",
        "assumed-by-class",
        "published-figure-is-another-test",
        "one-run",
    },
}


@pytest.mark.parametrize("code", CASES)
def test_severity(code: str) -> None:
    """`stop` only where the result must not be used."""
    flag = flags_by_code(CASES[code][0][0]())[code]
    expected = next((name for name, codes in SEVERITY.items() if code in codes), "caution")
    assert flag.severity == expected


def test_copied_readings_by_chance_are_a_note() -> None:
    """A coarse display of a steady scale repeats by itself; a fine one does not."""

    def severity(division: float, scatter: float) -> str:
        scale = Scale(resolution_kg=division, repeatability_kg=scatter)
        return flags_by_code(with_run(weighings=readings(9.0, 9.0, 9.0), scale=scale))["identical-readings"].severity

    assert severity(0.005, 0.003) == "caution"
    assert severity(0.010, 0.001) == "note"


def test_calm_day_that_nothing_explains_is_a_stop() -> None:
    base = burnt(300, 4.1)
    conditioned = changed(base.simulated.conditioned, effective_draws=150.0)
    far = changed(base, simulated=changed(base.simulated, conditioned=conditioned))
    assert flags_by_code(far)["calm-day-not-trustworthy"].severity == "stop"
    assert flags_by_code(effective(150))["calm-day-not-trustworthy"].severity == "caution"


def test_spark_engines_have_their_own_band() -> None:
    """A carburettor at light load takes more than 450 g/kWh."""
    base = burnt(600, FAR, OVER)
    assert "fuel-cannot-have-been-burnt" in flags_by_code(base)
    petrol = changed(base, simulated=changed(base.simulated, model=changed(base.simulated.model, fuel="petrol")))
    assert "fuel-cannot-have-been-burnt" not in flags_by_code(petrol)
    assert BELIEVABLE_GPKWH[True][1] > BELIEVABLE_GPKWH[False][1]


def test_curve_in_another_power_names_that_power() -> None:
    """1 kW = 1.35962 PS = 1.34102 hp (CV-46): the two differ by 1.4 % only, and the nearer one is named."""
    assert "(PS)" in flags_by_code(curve(1.35962))["curve-unit"].why
    assert "(PS)" not in flags_by_code(curve(1.34102))["curve-unit"].why


def test_most_serious_first_and_what_stops() -> None:
    run = with_run(weighings=two(8.0, 8.5), vehicle=BARE_SHEET)
    flags = flags_of_run(run)
    order = [("stop", "caution", "note").index(flag.severity) for flag in flags]
    assert order == sorted(order)
    assert order[0] == 0
    assert not any(flag.severity == "stop" for flag in flags_of_run(plain()))


def test_a_good_run_says_little() -> None:
    """Warm, a light wind, everything declared, a clean track: nothing to look at but the wind's share and one run."""
    assert set(flags_by_code(tracked())) <= {"one-run", "correction-larger-than-effect"}


def test_a_density_of_another_fuel_is_named() -> None:
    """A diesel run with the density of petrol, with that of biodiesel, and with one that no fuel has."""
    for density, words in ((750.0, "petrol and petrol E10 have such a density"), (880.0, "biodiesel has such a")):
        assert words in flags_by_code(fuel_at(density_15_kgpm3=density))["density-outside-standard"].why
    assert "such a density" not in flags_by_code(fuel_at(density_15_kgpm3=700.0))["density-outside-standard"].why


def test_the_wrong_fuel_is_named_with_what_to_do() -> None:
    told = flags_by_code(with_run(fuel=FuelBatch(kind="petrol")))["fuel-of-another-engine"]
    assert told.saw == "The run names petrol as its fuel, the build sheet diesel."
    assert "do not start the engine" in told.remedy


def test_other_fuels_have_no_standard_to_break() -> None:
    base = fuel_at(density_15_kgpm3=700.0)
    lpg: Run = changed(base.run, fuel=FuelBatch(kind="lpg"))
    assert "density-outside-standard" in flags_by_code(base)
    assert "density-outside-standard" not in flags_by_code(changed(base, run=lpg))
