"""The guess board: ranking by a declared rule, ties, the crowd, seals, and a program that does not peek."""

from __future__ import annotations

import hashlib
from pathlib import Path
from typing import Any
from xml.etree import ElementTree

import msgspec
import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from calmday.errors import InputError
from calmday.metrology.figure import from_normal
from calmday.operations import board_of, guess_board_file, own_guess_file, reduce_file, sealed_table
from calmday.operations.guesses import own_guess_of
from calmday.procedures.guess_board import distances, nearest_share, places_of
from calmday.procedures.guess_result import GuessBoard
from calmday.procedures.own_guess import own_guess, unseeing
from calmday.records.run import Guessing, Prediction
from calmday.records.seal import MODEL_NAME
from calmday.reports.charts import guess_board_chart

EXAMPLE = Path(__file__).parents[2] / "examples" / "fen-hauler" / "run.toml"
NAMES = "abcdefghijk"
GUESSED = (18, 21, 24, 26, 28, 29, 31, 33, 39.5, 42, 55)
LORRY = """
label = "Canal basin lorry"
vehicle = "vehicle.toml"
distance = "24.8 mi"
[fuel]
kind = "diesel"
density = "0.832 kg/L"
[[weighing]]
when = "before"
gross = "11 lb 14.0 oz"
[[weighing]]
when = "after"
gross = "5 lb 15.1 oz"
"""


@pytest.fixture(scope="module")
def lorry(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """The invented canal basin lorry of needs.md: eleven guesses in imperial miles per gallon."""
    folder = tmp_path_factory.mktemp("lorry")
    (folder / "vehicle.toml").write_text('[vehicle]\nname = "Lorry"\nbody = "lorry"\ntest_mass = "2600 kg"\n')
    (folder / "run.toml").write_text(LORRY)
    return folder / "run.toml"


def board(path: Path, rule: str | None, unit: str = "mpg imp") -> GuessBoard:
    told = f'[guessing]\nunit = "{unit}"\n' + (f'rule = "{rule}"\n' if rule else "")
    told += "".join(
        f'[[prediction]]\nby = "{name}"\nvalue = "{value} mpg imp"\n'
        for name, value in zip(NAMES, GUESSED, strict=True)
    )
    ranked = path.with_name("ranked.toml")
    ranked.write_text(LORRY + told)
    return guess_board_file(ranked, draws=400)


def by_place(found: GuessBoard) -> list[str]:
    return [row.by for row in found.guesses]


def test_second_place_turns_with_the_rule(lorry: Path) -> None:
    """needs.md scenario: 34.9 mpg imp, nearest 33; by mpg 31 (3.9 off) before 39.5 (4.6), by litres 39.5 (0.95)
    before 31 (1.01); median 29, mean 31.5."""
    mpg, litres = board(lorry, None), board(lorry, "fuel per distance")
    assert mpg.rule == "distance per fuel"
    assert by_place(mpg)[:3] == ["h", "g", "i"]
    assert by_place(litres)[:3] == ["h", "i", "g"]
    assert [row.off_by for row in mpg.guesses[1:3]] == pytest.approx([3.9, 4.6], abs=0.1)  # the lift of air: 0.14 %
    assert [row.off_by for row in litres.guesses[1:3]] == pytest.approx([0.95, 1.01], abs=0.02)
    assert mpg.crowd is not None
    assert mpg.crowd.median == 29
    assert mpg.crowd.mean == pytest.approx(31.5, abs=0.05)
    assert mpg.crowd.count == 11
    assert mpg.result.value == pytest.approx(34.9, abs=0.1)
    assert "order-depends-on-rule" in {flag.code for flag in mpg.flags}
    assert {other.rule for other in mpg.other_rules if other.differs} >= {"fuel per distance"}


def test_by_proportion_the_unit_does_not_matter(lorry: Path) -> None:
    one = board(lorry, "proportion")
    for unit in ("L/100km", "mpg US", "km/L", "g/km"):
        other = board(lorry, "proportion", unit)
        assert by_place(other) == by_place(one)
        assert [row.off_by for row in other.guesses] == pytest.approx([row.off_by for row in one.guesses], rel=1e-6)


def test_the_sentence_says_who(lorry: Path) -> None:
    said = board(lorry, None).sentence
    assert said.startswith("It used 3")
    assert "h with 33 mpg imp was nearest" in said
    assert "The middle of all 11 guesses was 29" in said


def test_nobody_declared_a_rule(lorry: Path) -> None:
    plain = lorry.with_name("plain.toml")
    plain.write_text(LORRY + '[[prediction]]\nby = "Ada"\nvalue = "30 mpg imp"\n')
    found = guess_board_file(plain, draws=400)
    assert (found.declared, found.in_time, found.rule) == ("", None, "fuel per distance")
    assert "rule-not-declared" in {flag.code for flag in found.flags}
    late = board_of(reduced(lorry), (Prediction(by="Ada", value=30, unit="mpg_imp"),), Guessing(unit="mpg_imp"),
                    declared="later", in_time=False)  # fmt: skip
    assert "rule-declared-late" in {flag.code for flag in late.flags}


def reduced(path: Path) -> Any:
    return reduce_file(path, draws=400).result


@given(st.lists(st.sampled_from([0.0, 0.5, 1.0, 2.0, 3.5]), min_size=1, max_size=12))
def test_places_are_shared_and_counted(off: list[float]) -> None:
    places = places_of(np.array(off))
    for i, own in enumerate(off):
        assert places[i] == 1 + sum(other < own for other in off)
    assert min(places) == 1


def test_equal_guesses_share_a_place(lorry: Path) -> None:
    same = tuple(Prediction(by=name, value=30, unit="mpg_imp", as_entered="30 mpg imp") for name in "ab")
    found = board_of(reduced(lorry), same, Guessing(unit="mpg_imp"))
    assert [row.place for row in found.guesses] == [1, 1]
    assert [row.nearest for row in found.guesses] == [0.5, 0.5]
    assert "were nearest alike" in found.sentence


def test_how_sure_first_place_is_agrees_with_plain_chance() -> None:
    """The share of draws in which each of three guesses is nearest, against numpy's own normal draws."""
    guesses, centre = np.array([7.0, 7.6, 9.0]), from_normal(7.4, 0.3, "L/100km")
    ours = nearest_share("fuel per distance", guesses, centre, 235.2)
    drawn = np.random.default_rng(3).normal(7.4, 0.3, 400_000)
    theirs = np.bincount(np.abs(guesses[:, None] - drawn).argmin(axis=0), minlength=3) / drawn.size
    assert ours == pytest.approx(theirs, abs=0.005)
    assert ours.sum() == pytest.approx(1.0)


@given(st.floats(2.0, 40.0), st.floats(2.0, 40.0))
def test_rules_are_zero_at_the_truth_and_grow_away_from_it(guess: float, truth: float) -> None:
    for rule in ("fuel per distance", "distance per fuel", "proportion"):
        at = np.array([truth, guess, truth + 2 * (guess - truth) if guess > truth else guess])
        off = distances(rule, at, np.array(truth), 235.2)  # type: ignore[arg-type]
        assert off[0] == 0
        assert off[2] >= off[1] >= 0


# --- seals


def test_a_seal_is_what_any_program_makes(lorry: Path) -> None:
    """The digest is SHA-256 over three lines, as sha256sum gives it (FIPS 180-4 by way of hashlib)."""
    digest, table = sealed_table("34 mpg US", 'Ada "the hand" B.')
    salt = next(line.split('"')[1] for line in table.splitlines() if line.startswith("salt"))
    assert digest == hashlib.sha256(f'{salt}\nAda "the hand" B.\n34 mpg US'.encode()).hexdigest()
    opened = lorry.with_name("opened.toml")
    opened.write_text(LORRY + table)
    assert guess_board_file(opened, draws=400).guesses[0].seal == "holds"
    opened.write_text(LORRY + table.replace("34 mpg US", "35 mpg US"))
    found = guess_board_file(opened, draws=400)
    assert found.guesses[0].seal == "broken"
    assert "seal-broken" in {flag.code for flag in found.flags if flag.severity == "stop"}
    assert "Nobody can be called nearest" in found.sentence


def test_two_seals_of_one_guess_are_not_alike() -> None:
    assert sealed_table("34 mpg US", "Ada")[0] != sealed_table("34 mpg US", "Ada")[0]


@pytest.mark.parametrize(
    ("text", "by", "told"),
    [("34 mpg", "Ada", "which gallon?"), ("34 mpg US", " ", "lacks a name"), ("34 mpg US\n", "A\nb", "one line")],
)
def test_what_cannot_be_sealed_is_refused(text: str, by: str, told: str) -> None:
    with pytest.raises(InputError, match=told.replace("?", r"\?")):
        sealed_table(text, by)


def test_a_digest_that_is_none_is_a_fault(lorry: Path) -> None:
    path = lorry.with_name("odd.toml")
    path.write_text(LORRY + '[[prediction]]\nby = "Ada"\nvalue = "34 mpg US"\ndigest = "abc"\n')
    with pytest.raises(InputError, match=r"prediction\[0\].digest"):
        guess_board_file(path)


# --- the program's own guess


def test_the_program_guesses_from_the_road_and_not_from_the_scale() -> None:
    if not EXAMPLE.exists():
        pytest.skip("examples/fen-hauler is not here")
    reduction = reduce_file(EXAMPLE, draws=400)
    run = reduction.weighed.run
    made = own_guess(run, 1)
    heavier = msgspec.structs.replace(
        run, weighings=tuple(msgspec.structs.replace(w, gross_kg=(w.gross_kg[0] + 0.9,)) for w in run.weighings)
    )
    assert made == own_guess(heavier, 1) == own_guess(unseeing(run), 1)
    assert made is not None
    assert made.L_per_100km.low < reduction.result.as_driven.L_per_100km.value < made.L_per_100km.high
    with pytest.raises(InputError, match="comes after the fuel was weighed"):
        own_guess_of(run, "run.toml")


def test_without_a_track_it_needs_the_speed(tmp_path: Path) -> None:
    (tmp_path / "vehicle.toml").write_text('[vehicle]\nname = "Van"\nbody = "van"\ntest_mass = "2050 kg"\n')
    run = tmp_path / "run.toml"
    run.write_text('vehicle = "vehicle.toml"\n[fuel]\nkind = "diesel"\n')
    with pytest.raises(InputError, match=r"guessing\.speed: is missing"):
        own_guess_file(run)
    run.write_text(
        'vehicle = "vehicle.toml"\n[guessing]\nunit = "mpg imp"\nspeed = "70 km/h"\n[fuel]\nkind = "diesel"\n'
    )
    slow = own_guess_file(run)
    assert slow.text.endswith(" mpg imp")
    run.write_text(run.read_text().replace("70 km/h", "100 km/h"))
    assert own_guess_file(run).L_per_100km.value > 1.1 * slow.L_per_100km.value
    assert slow.L_per_100km.standard_uncertainty > 0.3, "a guess from a bare build sheet is wide"


def test_the_programs_own_guess_is_marked_and_kept_out_of_the_crowd(lorry: Path) -> None:
    told = (Prediction(by=MODEL_NAME, value=35, unit="mpg_imp", as_entered="35 mpg imp"),
            Prediction(by="Ada", value=30, unit="mpg_imp", as_entered="30 mpg imp"))  # fmt: skip
    found = board_of(reduced(lorry), told, Guessing(unit="mpg_imp"))
    assert [row.own for row in found.guesses] == [True, False]
    assert found.crowd is not None
    assert found.crowd.count == 1
    assert found.crowd.spread is None


@pytest.mark.parametrize("size", ["page", "narrow", "16:9", "9:16"])
def test_the_picture_shows_the_places_and_lets_nothing_in(lorry: Path, size: Any) -> None:
    odd = tuple(
        Prediction(by=f"{name}<script>", value=value, unit="mpg_imp", as_entered=f"{value} mpg imp")
        for name, value in zip(NAMES, GUESSED, strict=True)
    )
    drawn = guess_board_chart(board_of(reduced(lorry), odd, Guessing(unit="mpg_imp")))
    svg = drawn.svg(size, "light")
    assert ElementTree.fromstring(svg).tag.endswith("svg")
    assert "<script" not in svg
    assert "33.0" in svg
    assert "h&lt;script&gt;" in svg
    assert "1. h<script> 33.0" in drawn.description


def test_no_guess_is_held_against_fuel_that_was_not_burnt() -> None:
    spoilt = EXAMPLE.parents[1] / "spoilt" / "after-heavier-than-before.toml"
    with pytest.raises(InputError, match="gives no fuel that was burnt"):
        guess_board_file(spoilt)
