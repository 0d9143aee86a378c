"""One tracked run on a cold windy day, reduced once for all tests that read it, and its sheet."""

from __future__ import annotations

from functools import lru_cache

from run_factory import reading, reduced, round_track, run_of

from calmday.procedures.run_sheet import result_of_run
from calmday.procedures.weighed_run import WeighedRun
from calmday.procedures.weighed_run_result import Provenance, RunResult
from calmday.records.weather import Weather

FROM = Provenance(program="calmday", version="0", seed=1, inputs_sha256="", files=())
NORMAL = 1.959963984540054


def sheet(weighed: WeighedRun) -> RunResult:
    return result_of_run(weighed, FROM)


@lru_cache(maxsize=1)
def tracked() -> WeighedRun:
    weather = Weather(
        readings=(reading(wind_speed_mps=6.0, gust_mps=9.0, temperature_k=278.15, qnh_pa=102_500.0),),
        field_elevation_m=15.0,
    )
    return reduced(run_of(1.35, track=round_track(), weather=weather, engine_start="cold"), draws=1000)


@lru_cache(maxsize=1)
def tracked_sheet() -> RunResult:
    return sheet(tracked())
