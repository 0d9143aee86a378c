"""How each figure of a run is known. The words stand in known_from.toml, beside this file."""

from __future__ import annotations

import re
import tomllib
from functools import cache
from importlib.resources import files

import msgspec


class Origin(msgspec.Struct, frozen=True, kw_only=True):
    """Where a figure comes from. `figure` a pattern of its name in the result; `inputs` starts of the entries that go
    in, `vehicle` whether the build sheet does too; `made_of` other figures; `model` whether the forward model is in it;
    `budget` which list of doubts belongs to it."""

    figure: str
    meaning: str
    equation: str = ""
    method: tuple[str, ...] = ()
    source: str
    inputs: tuple[str, ...] = ()
    vehicle: bool = False
    made_of: tuple[str, ...] = ()
    model: bool = False
    budget: str = ""


@cache
def origins() -> tuple[Origin, ...]:
    """All of them; those with the model in them say how it works."""
    text = files("calmday.web").joinpath("known_from.toml").read_text(encoding="utf-8")
    found = tomllib.loads(text)
    told = str(found["model"])
    plain = msgspec.convert(found["origin"], tuple[Origin, ...])
    return tuple(msgspec.structs.replace(each, method=(*each.method, told)) if each.model else each for each in plain)


def origin_of(figure: str) -> Origin | None:
    """How a figure is known, by its name in the result; None for no figure."""
    return next((origin for origin in origins() if re.fullmatch(origin.figure, figure)), None)
