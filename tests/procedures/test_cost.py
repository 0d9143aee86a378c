"""Costs against figures worked out elsewhere, closed forms, and truths drawn by other means."""

from __future__ import annotations

import datetime as dt
import math
from pathlib import Path
from typing import Any

import numpy as np
import pytest

from calmday.files.cost_file import cost_of
from calmday.files.named_files import FolderFiles, NamedDocument
from calmday.metrology.draws import standard_normal
from calmday.operations import cost_document
from calmday.procedures.cost_draws import draw_cost, positive_draws, triangular_draws
from calmday.procedures.cost_payback import payback, waiting
from calmday.procedures.cost_result import CostResult
from calmday.reports.cost_sheet import cost_sheet
from calmday.reports.sheet import Table

DAY = dt.date(2026, 4, 12)


def answer(draws: int = 2000, seed: int = 1, **tables: Any) -> CostResult:
    return cost_document(NamedDocument(tables, FolderFiles(Path())), "cost.toml", draws=draws, seed=seed)


def use(consumption: object, fuel: str | None = None, **more: object) -> dict[str, object]:
    return {"consumption": consumption, **({"fuel": fuel} if fuel else {}), **more}


def sure(text: str) -> dict[str, str]:
    """A consumption with next to no doubt."""
    return {"value": text, "pm": "0.0001 %"}


def price(text: str, fuel: str | None = None, **more: object) -> dict[str, object]:
    return {"price": text, "date": DAY, **({"fuel": fuel} if fuel else {}), **more}


@pytest.mark.parametrize(
    ("text", "cost"), [("1.49 PLA/L", 19.43), ("4.09 QUA/US gal", 14.09), ("5.98 RIA/imp gal", 17.15)]
)
def test_canal_basin_lorry_in_three_countries(text: str, cost: float) -> None:
    """Canal basin lorry (invented; needs.md scenario): 2690 g at 0.832 kg/L over 24.8 miles, per 100 miles."""
    litres = 2.690 / 0.832 / (24.8 * 1.609344) * 100
    found = answer(use=[use(sure(f"{litres} L/100km"))], price=[price(text)], per="100 mi")
    assert found.costs[0].cost.value == pytest.approx(cost, abs=0.006)
    assert found.costs[0].cost_per_mile.value == pytest.approx(cost / 100, abs=6e-5)
    assert found.costs[0].cost.unit == f"{text.split()[1][:3]}/100 mi"


def test_fuel_that_cost_nothing_divides_nothing() -> None:
    """Waste oil given free: it costs nothing, no percentage is drawn from it, and it pays for its conversion in the
    litres of petrol no longer bought: 2400 EUR over 0.075 L/km at 1.60 EUR/L are 20,000 km."""
    uses = [use(sure("7.5 L/100km"), "petrol", name="petrol"), use(sure("8 L/100km"), "diesel", name="oil")]
    found = answer(
        use=uses, yearly_distance={"value": "10000 km", "pm": "0.001 %"}, prices_later="0 %",
        price=[price("1.60 EUR/L", "petrol"), price("0 EUR/L", "diesel", low="0 EUR/L", high="0 EUR/L")],
        conversion={"from": "petrol", "to": "oil", "outlay": "2400 EUR"},
    )  # fmt: skip
    oil = found.costs[1]
    assert (oil.cost.value, oil.cost.high) == (0.0, 0.0)
    assert "money" not in {each.basis for each in found.differences}
    assert found.break_even[0].ratio_now == 0.0
    assert found.break_even[0].cheaper == 1.0
    assert found.prices[1].highest is not None and found.prices[1].highest.value == 0.0
    assert found.payback is not None
    assert found.payback.distance.value == pytest.approx(20_000, rel=1e-3)
    both = answer(use=uses, price=[price("0 EUR/L", low="0 EUR/L", high="0.50 EUR/L")])
    money = next(each for each in both.bases if each.basis == "money")
    assert (money.least, money.sure, money.why) == ("", None, "more than one costs nothing")
    assert both.break_even[0].ratio_now is None
    assert both.prices[0].highest is not None and both.prices[0].highest.value == pytest.approx(0.50)
    assert any("Look up your local law" in line for line in cost_sheet(found).blocks[-1].lines)  # type: ignore[union-attr]
    for each in (found, both):
        assert "0.00 EUR" in cost_sheet(each).lead or each.payback is not None


def test_every_amount_of_money_says_its_currency() -> None:
    """Also beside a distance or a year; every way of counting says its unit, whatever the width of the page."""
    found = answer(
        use=[use("11.4 L/100km", "petrol"), use("7.5 L/100km", "diesel")],
        price=[
            price("1.81 EUR/L", "petrol", low="1.68 EUR/L", high="1.99 EUR/L"),
            price("1.62 EUR/L", "diesel", low="1.48 EUR/L", high="1.79 EUR/L"),
        ],
        yearly_distance="15000 km",
    )  # fmt: skip
    tables = {block.title: block for block in cost_sheet(found).blocks if isinstance(block, Table)}
    money = [
        cell
        for title, heads in (
            ("What it costs", ("for", "a km", "a mile", "at a year")),
            ("In a year, on a tank, and what 2 % less fuel is worth", ("money in a year", "2 % in money")),
        )
        for row in tables[title].rows
        for column, cell in zip(tables[title].columns, row, strict=True)
        if column.head.startswith(heads)
    ]
    assert len(money) == 12
    assert all(cell.endswith(" EUR") and "±" in cell for cell in money), money
    counted = [row[0] for row in tables["Five ways of counting the same driving"].rows]
    assert [label.rpartition(", ")[2] for label in counted] == ["L/100 km", "g/km", "MJ/km", "g/km", "EUR/100 km"]


def test_the_annual_cost_of_a_published_label() -> None:
    """fueleconomy.gov, "EPA Fuel Economy Ratings", archived 16 September 2008 by the University of North Texas:
    18 city, 25 highway, 15,000 miles at 2.80 per gallon: 2,039 a year. The label reckons with the unrounded combined
    figure, 1/(0.55/18 + 0.45/25) = 20.60 mpg."""
    combined = 1 / (0.55 / 18 + 0.45 / 25)
    found = answer(
        use=[use(sure(f"{combined} mpg US"))],
        price=[price("2.80 USD/US gal")],
        yearly_distance={"value": "15000 mi", "pm": "1 mi"},
    )
    assert found.uses[0].yearly_cost is not None
    assert found.uses[0].yearly_cost.value == pytest.approx(2039, abs=0.5)


def test_litres_and_gallons_cost_the_same_fuel() -> None:
    """11.9159 L/100 km at 4.00 per US gallon is 0.20264 per mile (reference.md, G1, worked out by hand)."""
    found = answer(use=[use(sure("11.9159 L/100km"))], price=[price("4.00 USD/US gal")])
    assert found.costs[0].cost_per_mile.value == pytest.approx(0.20264, abs=1e-5)


def test_one_difference_has_three_percentages() -> None:
    """Thornkeld Special (needs.md scenario): 1905, 1879 g before, 1571, 1554 g after: -17.4 % fuel = +21.1 % mpg."""
    before, after = ((a + b) / 2 / 0.745 / 300 for a, b in ((1905, 1879), (1571, 1554)))
    found = answer(
        use=[use(sure(f"{before} L/100km"), "petrol", name="A"), use(sure(f"{after} L/100km"), "petrol", name="B")],
        price=[price("1.81 EUR/L", "petrol")],
    )
    by_volume = next(each for each in found.differences if each.basis == "volume")
    assert (by_volume.base, by_volume.use) == ("A", "B")
    assert by_volume.fuel_change.value == pytest.approx(-17.4, abs=0.05)
    assert by_volume.distance_change.value == pytest.approx(21.1, abs=0.05)
    assert by_volume.symmetric.value == pytest.approx(200 * (after - before) / (after + before), abs=1e-3)


def test_turned_round_the_percentages_change_places() -> None:
    one, other = use(sure("8 L/100km"), name="A"), use(sure("6 L/100km"), name="B")
    there = answer(use=[one, other], price=[price("1 EUR/L")]).differences[0]
    back = answer(use=[other, one], price=[price("1 EUR/L")]).differences[0]
    assert there.fuel_change.value == pytest.approx(back.distance_change.value, abs=1e-3)
    assert there.symmetric.value == pytest.approx(-back.symmetric.value, abs=1e-3)


def test_break_even_is_the_ratio_of_the_consumptions() -> None:
    """needs.md section 3: break-even price ratio = L/100 petrol / L/100 diesel."""
    found = answer(
        use=[use(sure("11.4 L/100km"), "petrol", name="A"), use(sure("7.5 L/100km"), "diesel", name="B")],
        price=[price("1.81 EUR/L", "petrol"), price("1.62 EUR/L", "diesel")],
    ).break_even[0]
    assert found.price_ratio.value == pytest.approx(11.4 / 7.5, rel=1e-5)
    assert found.ratio_now == pytest.approx(1.62 / 1.81, rel=1e-5)
    assert found.break_even_price is not None
    assert found.break_even_price.value == pytest.approx(1.81 * 11.4 / 7.5, rel=1e-5)
    assert found.cheaper == 1.0


def test_at_the_break_even_price_neither_is_cheaper() -> None:
    found = answer(
        use=[
            use({"value": "11.4 L/100km", "pm": "4 %"}, "petrol", name="A"),
            use({"value": "7.5 L/100km", "pm": "4 %"}, "diesel", name="B"),
        ],
        price=[price("1 EUR/L", "petrol"), price(f"{11.4 / 7.5} EUR/L", "diesel")],
    )
    assert found.break_even[0].cheaper == pytest.approx(0.5, abs=0.03)
    assert "can't tell" in found.sentence


CONVERSION = {"from": "A", "to": "B", "outlay": "2400 EUR"}


def swap(**more: Any) -> CostResult:
    tables: dict[str, Any] = {
        "use": [use(sure("11.4 L/100km"), "petrol", name="A"), use(sure("7.5 L/100km"), "diesel", name="B")],
        "price": [price("1.81 EUR/L", "petrol"), price("1.62 EUR/L", "diesel")],
        "yearly_distance": {"value": "15000 km", "pm": "0.001 km"},
        "prices_later": "0 %",
        "conversion": CONVERSION,
    }
    return answer(**(tables | more))


def test_payback_without_doubt_is_the_closed_form() -> None:
    saved = (11.4 * 1.81 - 7.5 * 1.62) / 100
    back = swap().payback
    assert back is not None
    assert back.distance.value == pytest.approx(2400 / saved, rel=1e-5)
    assert back.years.value == pytest.approx(2400 / saved / 15000, rel=1e-5)
    assert back.pays_ever == back.pays_within == 1.0
    assert back.gain.value == pytest.approx(10 * saved * 15000 - 2400, rel=1e-5)
    burdened = swap(conversion=CONVERSION | {"yearly": "400 EUR"}).payback
    assert burdened is not None
    assert burdened.years.value == pytest.approx(2400 / (saved * 15000 - 400), rel=1e-5)


def test_a_conversion_that_saves_nothing_never_pays() -> None:
    found = swap(conversion=CONVERSION | {"yearly": "5000 EUR"})
    assert found.payback is not None
    assert found.payback.pays_ever == 0.0
    assert math.isinf(found.payback.years.value)
    assert "does not pay for itself" in found.sentence
    assert "does-not-pay" in {flag.code for flag in found.flags}


def test_what_prices_do_later_is_in_the_payback_and_not_in_the_cost() -> None:
    known, usual = swap(), swap(prices_later=None)
    assert known.payback is not None
    assert usual.payback is not None
    assert usual.payback.years.high > known.payback.years.high
    assert usual.costs == known.costs
    assert any("later years" in note for note in usual.notes)


def test_payback_needs_a_mileage_and_says_so() -> None:
    found = swap(yearly_distance=None)
    assert found.payback is None
    assert "payback-not-known" in {flag.code for flag in found.flags}


def test_payback_covers_as_often_as_it_says() -> None:
    """The truth drawn by numpy's own generators, not by our strata: the interval of years holds 95 of 100."""
    tables: dict[str, Any] = {
        "use": [
            use({"value": "11.4 L/100km", "pm": "1.0 L/100km"}, "petrol", name="A"),
            use({"value": "7.5 L/100km", "pm": "0.5 L/100km"}, "diesel", name="B"),
        ],
        "price": [
            price("1.81 EUR/L", "petrol", low="1.60 EUR/L", high="2.10 EUR/L"),
            price("1.62 EUR/L", "diesel", low="1.45 EUR/L", high="1.95 EUR/L"),
        ],
        "prices_move_together": 0.0,
        "prices_later": "0 %",
        "yearly_distance": {"value": "12000 km", "pm": "4000 km"},
        "conversion": {"from": "A", "to": "B", "outlay": {"value": "2400 EUR", "pm": "500 EUR"}},
    }
    back = answer(draws=4000, **tables).payback
    assert back is not None
    random = np.random.default_rng(7)
    count = 200_000
    a, b = random.normal(11.4, 1.0 / 1.96, count), random.normal(7.5, 0.5 / 1.96, count)
    p = random.triangular(1.60, 1.81, 2.10, count)
    q = random.triangular(1.45, 1.62, 1.95, count)
    mileage, outlay = random.normal(12000, 4000 / 1.96, count), random.normal(2400, 500 / 1.96, count)
    years = outlay / ((a * p - b * q) / 100 * mileage)
    inside = ((years > back.years.low) & (years < back.years.high)).mean()
    assert inside == pytest.approx(0.95, abs=0.01)
    assert back.years.value == pytest.approx(float(np.median(years)), rel=0.01)
    assert back.pays_within == pytest.approx(float((years < 10).mean()), abs=0.005)


def test_currencies_meet_only_over_a_typed_rate() -> None:
    tables: dict[str, Any] = {
        "use": [use(sure("8 L/100km"), name="A"), use(sure("6 L/100km"), name="B")],
        "price": [price("1.50 EUR/L"), price("1.60 GBP/L")],
    }
    apart = answer(**tables)
    money = next(basis for basis in apart.bases if basis.basis == "money")
    assert (money.least, money.sure) == ("", None)
    assert money.why
    assert "currencies-apart" in {flag.code for flag in apart.flags}
    asked = answer(**tables, currency="USD")
    assert "rate-missing" in {flag.code for flag in asked.flags}
    assert all(line.converted is None for line in asked.costs)
    over = answer(**tables, currency="EUR", rate=[{"rate": "1 GBP = 1.17 EUR", "date": DAY}])
    pounds = next(line for line in over.costs if line.cost.unit.startswith("GBP") and line.use == "A")
    assert pounds.converted is not None
    assert pounds.converted.value == pytest.approx(8 * 1.60 * 1.17, rel=1e-5)
    turned = answer(**tables, currency="EUR", rate=[{"rate": "1.17 EUR = 1 GBP", "date": DAY}])
    assert turned.costs[1].converted == over.costs[1].converted


def test_the_newest_rate_counts_and_an_old_one_is_told() -> None:
    found = answer(
        use=[use(sure("8 L/100km"))],
        price=[price("1.60 GBP/L")],
        currency="EUR",
        rate=[
            {"rate": "1 GBP = 1.50 EUR", "date": dt.date(2020, 1, 1)},
            {"rate": "1 GBP = 1.20 EUR", "date": dt.date(2026, 1, 1)},
        ],
    )
    assert found.costs[0].converted is not None
    assert found.costs[0].converted.value == pytest.approx(8 * 1.6 * 1.2, rel=1e-5)
    assert "rate-from-another-time" in {flag.code for flag in found.flags}


def test_five_ways_need_not_agree() -> None:
    """A litre of diesel holds more energy and carbon than one of petrol (UK 2025 factors, EPA 8,887 and 10,180 g per
    US gallon): with 10 % fewer litres diesel emits more."""
    found = answer(
        use=[use(sure("8.0 L/100km"), "petrol", name="petrol"), use(sure("7.4 L/100km"), "diesel", name="diesel")],
        price=[price("1.80 EUR/L", "petrol"), price("1.60 EUR/L", "diesel")],
    )
    least = {basis.basis: basis.least for basis in found.bases}
    assert least["volume"] == "diesel"
    assert least["carbon dioxide"] == "petrol"
    assert least["money"] == "diesel"
    assert "counting-decides" in {flag.code for flag in found.flags}
    per_litre = {"petrol": 8887 / 3.785411784, "diesel": 10180 / 3.785411784}
    carbon = next(basis for basis in found.bases if basis.basis == "carbon dioxide").figures
    assert carbon[0] is not None
    assert carbon[1] is not None
    assert carbon[0].value == pytest.approx(0.08 * per_litre["petrol"], rel=0.02)
    assert carbon[1].value == pytest.approx(0.074 * per_litre["diesel"], rel=0.03)


def test_a_price_by_mass_and_one_by_volume_agree_over_the_density() -> None:
    by_mass = answer(use=[use(sure("7.5 L/100km"), "diesel", density="0.84 kg/L")], price=[price("2 EUR/kg", "diesel")])
    by_volume = answer(use=[use(sure("7.5 L/100km"), "diesel")], price=[price("1.68 EUR/L", "diesel")])
    assert by_mass.costs[0].cost.value == pytest.approx(by_volume.costs[0].cost.value, rel=1e-4)


def test_tax_in_and_out_are_not_the_same_price() -> None:
    found = answer(
        use=[use(sure("8 L/100km"), "petrol"), use(sure("6 L/100km"), "diesel")],
        price=[price("1.80 EUR/L", "petrol", tax="in"), price("1.60 EUR/L", "diesel", tax="out")],
    )
    assert "tax-mixed" in {flag.code for flag in found.flags}


@pytest.mark.parametrize("seed", range(5))
def test_draws_keep_mean_spread_and_sign(seed: int) -> None:
    scores = standard_normal(4000, 1, seed)[:, 0]
    for half in (1.0, 4.9, 5.1, 9.0):
        drawn = positive_draws(10.0, half, scores)
        assert drawn.min() > 0
        assert drawn.mean() == pytest.approx(10.0, rel=2e-3)
        assert drawn.std() == pytest.approx(half / 1.96, rel=0.05)


def test_triangular_draws_have_the_moments_of_a_triangle() -> None:
    """Mean (a+b+c)/3, variance (a2+b2+c2-ab-ac-bc)/18: any handbook of distributions."""
    low, mode, high = 1.48, 1.62, 1.79
    drawn = triangular_draws(low, mode, high, standard_normal(4000, 1, 3)[:, 0])
    assert low <= drawn.min() <= drawn.max() <= high
    assert drawn.mean() == pytest.approx((low + mode + high) / 3, rel=1e-4)
    variance = (low**2 + mode**2 + high**2 - low * mode - low * high - mode * high) / 18
    assert drawn.var() == pytest.approx(variance, rel=2e-3)


def test_waiting_names_never() -> None:
    found = waiting(np.array([1.0, 2.0, 3.0, *[math.inf] * 3]), "years")
    assert math.isinf(found.high)
    assert found.low == pytest.approx(1.125)


def test_a_measured_run_keeps_its_draws(tmp_path: Path) -> None:
    """The cost of a weighed run is its consumption times the price, draw by draw: 2325 g over 42.61 km is 6.56 L/100 km
    (Pellow's bread van, invented; needs.md scenario)."""
    (tmp_path / "vehicle.toml").write_text('[vehicle]\nname = "Van"\nbody = "van"\ntest_mass = "2050 kg"\n')
    weighed = "".join(f'[[weighing]]\nwhen = "{w}"\ngross = "{g} g"\n' for w, g in (("before", 8395), ("after", 6070)))
    (tmp_path / "run.toml").write_text(
        'vehicle = "vehicle.toml"\ndistance = "42.61 km"\n[fuel]\nkind = "diesel"\ndensity = "0.832 kg/L"\n' + weighed
    )
    tables = {"use": [{"run": "run.toml", "figure": "as driven"}], "price": [price("2 EUR/L")]}
    sheet = cost_of(NamedDocument(tables, FolderFiles(tmp_path)), str(tmp_path / "cost.toml"), "cost")
    found = cost_document(NamedDocument(tables, FolderFiles(tmp_path)), str(tmp_path / "cost.toml"), draws=400)
    assert sheet.uses[0].run is not None
    assert found.costs[0].cost.value == pytest.approx(2 * 6.56, abs=0.03)
    assert found.uses[0].origin.startswith("measured: run, as driven")
    assert payback(draw_cost(answer_sheet(), {}, 400, 1)) is None


def answer_sheet() -> Any:
    tables = {"use": [use("8 L/100km")], "price": [price("2 EUR/L")]}
    return cost_of(NamedDocument(tables, FolderFiles(Path())), "cost.toml", "cost")
