"""A published consumption with the test it came from, as somebody read it off a label, a brochure or a magazine."""

from __future__ import annotations

import msgspec

from calmday.records.consumption import GivenConsumption
from calmday.records.declared import Declared
from calmday.records.run import EngineStart
from calmday.records.vehicle import Body, FuelKind


class SteadyFigure(msgspec.Struct, frozen=True, kw_only=True):
    """A figure at a steady speed."""

    speed_mps: float
    value: GivenConsumption


class PublishedFigure(msgspec.Struct, frozen=True, kw_only=True):
    """What is published. `rule` a name of `LABEL_RULES`; `city`, `highway`, `combined` as printed, `value` any other.

    What is published about the vehicle that was tested: `fuel`, `mass_kg`, `tyre`, `final_drive`, `body`.
    """

    label: str
    rule: str | None = None
    city: GivenConsumption | None = None
    highway: GivenConsumption | None = None
    combined: GivenConsumption | None = None
    value: GivenConsumption | None = None
    steady: tuple[SteadyFigure, ...] = ()
    model_year: int | None = None
    vehicle: str = ""
    fuel: FuelKind | None = None
    mass_kg: Declared | None = None
    tyre: str = ""
    final_drive: float | None = None
    body: Body | None = None
    engine_start: EngineStart | None = None
    temperature_k: float | None = None
    average_speed_mps: float | None = None
    source: str = ""
    file: str = ""
