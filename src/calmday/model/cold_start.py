"""What a cold start costs: extra friction and enrichment just after it, and how fast they die away."""

from __future__ import annotations

import math
from collections.abc import Mapping
from typing import Final, Literal

import numpy as np

from calmday.metrology.constants import REFERENCE_TEMPERATURE_K, STANDARD_GRAVITY_MPS2
from calmday.model.defaults import EngineClass
from calmday.model.drive import Drive
from calmday.model.parameters import Parameter, log_parameter, normal_parameter

WARM_LEFT_OVER: Final = 0.05
"""What a "warm" start still lacks of a warmed-through drivetrain, as a share of a cold start: it stood while the fuel
was weighed. Assumed."""
WARM_SPREAD: Final = 0.20
"""Standard deviation of that share, kept from going below nothing: two starts in five lack nothing, the mean is a
tenth, one in forty is beyond 0.44. Assumed."""

COLD_FRICTION: Final = {True: 0.57, False: 0.48}
"""Extra friction just after a cold start as a share of the warm one, of spark ignition (True) and diesel: 50 to 120 g
of petrol against 30 to 80 g of diesel."""
COLD_SPREAD: Final = 0.30
"""Logarithmic spread: 30 to 80 g is a factor of 2.7 from end to end, some three standard deviations."""
COLD_PER_KELVIN: Final = 1 / 42
"""Growth of the excess of a cold start for each kelvin of colder air, between the published city-economy figures at 20
degF and 77 degF and the grams per start of reference 5.4. An engine that was warm is so in any air."""

TYRE_WARMUP: Final = 0.26
"""Extra rolling resistance of tyres just after a cold start. Assumed."""

WARM_UP_S: Final = 260.0
USUAL_HEAT_W_PER_M3: Final = 20e6
"""Fuel power per displacement, 0.9 g/s of diesel at 1.9 L: with it the excess dies away in `WARM_UP_S`."""
FIRST_S: Final = 600.0
"""The part of a drive in which an engine warms up."""

_SOURCE: Final = "reference 5.4: 30 to 80 g diesel, 50 to 120 g petrol per start at 20 degC (weak)"
_TYRE_SOURCE: Final = "tyres settle over about 20 minutes; assumed"


def usual_heat_w(centre: Mapping[str, float], drive: Drive, swept_m3pm: float) -> float:
    """Fuel power (W) over the first minutes of a drive, every parameter at its centre, in the tallest gear, no wind.

    `swept_m3pm` swept volume per metre of road there.
    """
    first = drive.elapsed_s <= FIRST_S
    if not first.any():
        return 0.0
    v = drive.speed_mps[first]
    force = centre["test_mass"] * (
        STANDARD_GRAVITY_MPS2 * (centre["rolling_resistance"] + drive.grade[first]) + drive.acceleration_mps2[first]
    )
    force = force + 0.5 * drive.air_density_kgpm3[first] * centre["drag_area"] * v**2
    pull = np.maximum(force * v, 0.0) / centre["driveline_efficiency"]
    work = pull + centre["friction_mep"] * swept_m3pm * v + centre["accessory_power"]
    step = drive.step_s[first]
    return float(work @ step / step.sum() / centre["indicated_efficiency"])


def warm_up_s(heat_w_per_m3: float) -> float:
    """Time constant (s) of warming up at a fuel power per displacement, W/m3.

    Coolant warms with the heat it is given, in a time that goes as one over it; oil and gearbox follow in a time of
    their own. Together about as the root: between half and twice the usual time. Assumed.
    """
    if heat_w_per_m3 <= 0:
        return WARM_UP_S
    return WARM_UP_S * min(max(math.sqrt(USUAL_HEAT_W_PER_M3 / heat_w_per_m3), 0.5), 2.0)


def start_parameters(
    start: Literal["cold", "warm"] | None, ambient_k: float, engine: EngineClass, heat_w_per_m3: float
) -> list[Parameter]:
    """Cold engine and cold tyres: the excess just after the start and how fast it goes.

    Colder air thickens the oil of an engine that stood in it.
    `heat_w_per_m3` fuel power per displacement that warms the engine, 0 where not known.
    """
    thick = 1.0 if start == "warm" else math.exp((REFERENCE_TEMPERATURE_K - ambient_k) * COLD_PER_KELVIN)
    return [
        _excess("cold_friction", COLD_FRICTION[engine.throttled] * thick, start, "cold engine", _SOURCE),
        log_parameter("cold_time", warm_up_s(heat_w_per_m3), 0.25, "s", "cold engine", _SOURCE),
        _excess("cold_enrichment", engine.cold_enrichment * thick, start, "cold engine", _SOURCE),
        _excess("tyre_warmup", TYRE_WARMUP, start, "cold tyres", _TYRE_SOURCE),
        log_parameter("tyre_time", 720.0, 0.3, "s", "cold tyres", _TYRE_SOURCE),
    ]


def _excess(key: str, cold: float, start: Literal["cold", "warm"] | None, group: str, source: str) -> Parameter:
    """What is still missing just after the start, `cold` after a cold one; after a warm one perhaps nothing."""
    if start == "warm" or cold == 0:
        return normal_parameter(key, WARM_LEFT_OVER * cold, WARM_SPREAD * cold, "1", group, source, floor=0.0)
    share, spread = (1.0, COLD_SPREAD) if start == "cold" else (0.5, 0.8)
    return log_parameter(key, share * cold, spread, "1", group, source)
