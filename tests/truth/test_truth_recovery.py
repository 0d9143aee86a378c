"""Invented drives with known truth through the whole path of files: does the answer hold the truth?

The simulator's physics is on purpose not the model's (see `calmday.synthetic`). Hundreds of seeds are in the studies;
here enough of them that a sign turned or a term lost shows.
"""

from __future__ import annotations

import json
import math
from pathlib import Path
from typing import Any

import msgspec
import numpy as np
import pytest

from calmday.metrology.figure import Figure
from calmday.operations import read_run, reduce_file, reduce_run
from calmday.procedures.weighed_run_result import RunResult
from calmday.synthetic import random_scenario, simulate, write_folder

SEEDS = range(24)
DRAWS = 1000


class Recovered(msgspec.Struct):
    """One seed: the run file, the result and the truth under the result's names."""

    path: Path
    result: RunResult
    truth: dict[str, Any]

    def of(self, name: str) -> tuple[Figure, float]:
        """A figure and its truth, by a dotted name."""
        figure: Any = self.result
        true: Any = self.truth
        for part in name.split("."):
            figure, true = getattr(figure, part), true[part]
        return figure, float(true)


@pytest.fixture(scope="module")
def recovered(tmp_path_factory: pytest.TempPathFactory) -> list[Recovered]:
    found = []
    for seed in SEEDS:
        folder = tmp_path_factory.mktemp(f"seed{seed}")
        path = write_folder(simulate(random_scenario(seed)), folder)
        truth = json.loads((folder / "truth.json").read_text(encoding="utf-8"))
        found.append(Recovered(path, reduce_file(path, draws=DRAWS).result, truth))
    return found


def relative_errors(recovered: list[Recovered], name: str) -> np.ndarray:
    return np.array([figure.value / true - 1 for figure, true in (one.of(name) for one in recovered)])


def covered(recovered: list[Recovered], name: str) -> int:
    return sum(figure.low <= true <= figure.high for figure, true in (one.of(name) for one in recovered))


def fewest(count: int, share: float = 0.95, chance: float = 1e-3) -> int:
    """Fewest of `count` 95 % intervals that may hold the truth before chance alone no longer explains it."""
    below = 0.0
    for k in range(count + 1):
        below += math.comb(count, k) * share**k * (1 - share) ** (count - k)
        if below > chance:
            return k
    return count


def rms(values: np.ndarray) -> float:
    return float(np.sqrt(np.mean(values**2)))


def test_fewest_is_the_binomial_quantile() -> None:
    """24 intervals of 95 %: 18 or fewer hold the truth once in a thousand times (binomial sum 0.96e-3)."""
    assert fewest(24) == 19
    assert fewest(1, 0.5) == 0
    assert fewest(24, 0.5) < 12 < fewest(24)


@pytest.mark.parametrize("name", ["calm_day.g_per_km", "calm_day.L_per_100km", "fuel_mass", "distance"])
def test_intervals_hold_the_truth(recovered: list[Recovered], name: str) -> None:
    assert covered(recovered, name) >= fewest(len(recovered))


def test_calm_day_is_close(recovered: list[Recovered]) -> None:
    error = relative_errors(recovered, "calm_day.g_per_km")
    assert rms(error) < 0.035
    assert abs(error.mean()) < 0.015


def test_calm_day_is_much_closer_than_the_reading(recovered: list[Recovered]) -> None:
    """What went through the engine misses the calm day by several times as much."""
    reading = np.array(
        [one.result.as_driven.g_per_km.value / one.truth["calm_day"]["g_per_km"] - 1 for one in recovered]
    )
    assert rms(relative_errors(recovered, "calm_day.g_per_km")) < 0.45 * rms(reading)


def test_doubt_is_neither_too_small_nor_idle(recovered: list[Recovered]) -> None:
    """Errors over their standard uncertainties scatter like one, within what 24 of them can say."""
    scores = [
        (figure.value - true) / figure.standard_uncertainty
        for figure, true in (one.of("calm_day.g_per_km") for one in recovered)
    ]
    assert 0.45 < rms(np.array(scores)) < 1.5


def test_distance(recovered: list[Recovered]) -> None:
    error = relative_errors(recovered, "distance")
    assert rms(error) < 0.0015
    assert abs(error.mean()) < 0.0006


def test_wind_penalty(recovered: list[Recovered]) -> None:
    """Points of a per cent; the truth's penalty is the mean of taking the wind away and of adding it alone."""
    error = np.array([f.value - true for f, true in (one.of("penalties.wind") for one in recovered)])
    assert rms(error) < 2.5
    assert covered(recovered, "penalties.wind") >= fewest(len(recovered), 0.90)


def test_penalties_rank_the_days_rightly(recovered: list[Recovered]) -> None:
    """Days with more wind cost more, days with colder starts cost more: found and true penalties go together."""
    for name in ("wind", "cold_engine"):
        pairs = np.array([(f.value, true) for f, true in (one.of(f"penalties.{name}") for one in recovered)])
        assert np.corrcoef(pairs.T)[0, 1] > 0.8, name


def test_reading_holds_what_was_burnt(recovered: list[Recovered]) -> None:
    assert covered(recovered, "as_driven.g_per_km") >= fewest(len(recovered))
    assert rms(relative_errors(recovered, "as_driven.g_per_km")) < 0.012


def test_sound_runs_raise_no_stop(recovered: list[Recovered]) -> None:
    assert [flag.code for one in recovered for flag in one.result.flags if flag.severity == "stop"] == []
    assert all(one.result.quality.sound for one in recovered)


def test_swapped_weighings_are_stopped(recovered: list[Recovered]) -> None:
    """Before and after exchanged in each run: never in silence; where no fuel was added on the way, no calm day."""
    for one in recovered:
        run = read_run(one.path)
        other = {"before": "after", "after": "before", "added": "added"}
        swapped = tuple(msgspec.structs.replace(w, when=other[w.when]) for w in run.weighings)
        result = reduce_run(msgspec.structs.replace(run, weighings=swapped), draws=200).result
        stops = {flag.code for flag in result.flags if flag.severity == "stop"}
        if any(w.when == "added" for w in run.weighings):
            assert stops
        else:
            assert result.calm_day is None
            assert "after-heavier-than-before" in stops


def test_fuel_that_went_elsewhere_is_stopped(recovered: list[Recovered]) -> None:
    """Twice the fuel again out of the can (a return line in the other tank): stopped in nearly every run, and never
    in silence."""
    stopped = 0
    for one in recovered[:12]:
        run = read_run(one.path)
        lost = 2 * one.result.fuel_mass.value
        weighings = tuple(
            msgspec.structs.replace(w, gross_kg=tuple(x + lost for x in w.gross_kg)) if w.when == "before" else w
            for w in (run.weighings if run.weighings[0].when == "before" else run.weighings[::-1])
        )
        first = next(i for i, w in enumerate(weighings) if w.when == "before")
        weighings = tuple(w if i == first or w.when != "before" else run.weighings[i] for i, w in enumerate(weighings))
        scale = msgspec.structs.replace(run.scale, capacity_kg=None)
        result = reduce_run(msgspec.structs.replace(run, weighings=weighings, scale=scale), draws=500).result
        codes = {flag.code: flag.severity for flag in result.flags}
        assert {"fuel-cannot-have-been-burnt", "fuel-far-from-expected"} & set(codes)
        stopped += codes.get("fuel-cannot-have-been-burnt") == "stop"
    assert stopped >= 10


@pytest.mark.parametrize("seed", [31, 32, 33])
def test_two_days_of_one_vehicle_agree(seed: int, tmp_path: Path) -> None:
    """The same vehicle and road on a still and on a windy day: far apart as driven, together on the calm day."""
    results = []
    for wind in (0.5, 9.0):
        run = simulate(random_scenario(seed, wind_speed_10m_mps=wind, terrain="open", engine_start="warm"))
        results.append(reduce_file(write_folder(run, tmp_path / f"{wind}"), draws=DRAWS).result)
    still, windy = (result.calm_day.g_per_km for result in results)
    reach = 3 * math.hypot(still.standard_uncertainty, windy.standard_uncertainty)
    assert abs(windy.value - still.value) < reach
    driven = [result.as_driven.g_per_km.value for result in results]
    assert driven[1] / driven[0] > 1.01
    assert abs(windy.value / still.value - 1) < max(driven[1] / driven[0] - 1, 0.02)
