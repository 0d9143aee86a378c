"""Short invented drives, made once."""

from __future__ import annotations

import pytest

from calmday.synthetic import SimulatedRun, random_scenario, simulate


@pytest.fixture(scope="session")
def windy_run() -> SimulatedRun:
    """A cold petrol van on a hilly loop in a strong wind."""
    choices = {"fuel": "petrol", "injection": "carburettor", "induction": "natural", "body": "van"}
    return simulate(
        random_scenario(
            11,
            wind_speed_10m_mps=9.0,
            engine_start="cold",
            temperature_c=4.0,
            route_kind="polygon loop",
            lap_length_m=6000.0,
            laps=2,
            steepest_grade=0.035,
            stops_per_lap=1.0,
            has_doppler=True,
            has_height=True,
            **choices,
        )
    )


@pytest.fixture(scope="session")
def still_run() -> SimulatedRun:
    """A warm diesel out and back without any wind."""
    choices = {"fuel": "diesel", "injection": "direct", "induction": "turbocharged"}
    return simulate(
        random_scenario(
            5,
            wind_speed_10m_mps=0.0,
            engine_start="warm",
            route_kind="out and back",
            lap_length_m=9000.0,
            laps=1,
            **choices,
        )
    )
