"""Documents as TOML that people like to read: the order of the interchange page, one heading for each table."""

from __future__ import annotations

import json
import re
from collections.abc import Iterator, Mapping
from typing import Any

import tomli_w

_PLAIN = re.compile(r"[A-Za-z0-9_-]+")
_WIDTH = 100
_ESTIMATE = frozenset({"value", "pm", "origin"})

_ORDER = """
name vehicle label date what timezone track engine_start payload body test_mass frontal_area width height
drag_coefficient rolling_resistance tyre rolling_circumference tyre_pressure gear_ratios final_drive
driveline_efficiency engine displacement strokes cylinders fuel induction injection idle_speed governed_speed
full_load full_load_standard full_load_rating full_load_at overrun_fuel_cut
terrain distance duration laps lap_length note smallest_change
kind density density_temperature price batch fuel_system arrangement repeatability null_test
scale resolution accuracy capacity weighing when gross tare fill volume temperature weather metar field_elevation
reading time wind_speed wind_from gust pressure relative_humidity odometer start end factor published
prediction by value pm origin change
"""
_RANK = {key: place for place, key in enumerate(_ORDER.split())}


def toml_text(tables: Mapping[str, Any]) -> str:
    """The document as TOML; reading it gives the same tables back."""
    return "".join(_table(tables, ())).lstrip("\n")


def _table(table: Mapping[str, Any], path: tuple[str, ...]) -> Iterator[str]:
    """The values of a table, then the tables within it, each under its heading."""
    below = []
    for key in sorted(table, key=lambda key: (_RANK.get(key, len(_RANK)), key)):
        value = table[key]
        if _is_estimate(value):
            inner = ", ".join(_line(k, value[k]) for k in sorted(value, key=_RANK.__getitem__))
            yield f"{_name(key)} = {{ {inner} }}\n"
        elif _has_heading(value):
            below.append((key, value))
        else:
            yield _line(key, value) + "\n"
    for key, value in below:
        here = (*path, key)
        heading = ".".join(_name(part) for part in here)
        if isinstance(value, dict):
            if not value or not all(_has_heading(inner) for inner in value.values()):
                yield f"\n[{heading}]\n"
            yield from _table(value, here)
        else:
            for item in value:
                yield f"\n[[{heading}]]\n"
                yield from _table(item, here)


def _is_list_of_tables(value: object) -> bool:
    return isinstance(value, list) and bool(value) and all(isinstance(item, dict) for item in value)


def _is_estimate(value: object) -> bool:
    """Whether this is a value with its doubt, which stands on one line."""
    if not isinstance(value, dict) or not value or not value.keys() <= _ESTIMATE:
        return False
    return not any(isinstance(inner, (dict, list)) for inner in value.values())


def _has_heading(value: object) -> bool:
    return _is_list_of_tables(value) or (isinstance(value, dict) and not _is_estimate(value))


def _line(key: str, value: object) -> str:
    """`key = value` on one line, or on several for a long list."""
    text = tomli_w.dumps({"x": value}).removeprefix("x = ").rstrip("\n")
    if isinstance(value, list) and not any(isinstance(item, (list, dict)) for item in value):
        short = f"[{', '.join(line[4:-1] for line in text.split(chr(10))[1:-1])}]"
        text = short if value and len(short) <= _WIDTH else text
    return f"{_name(key)} = {text}"


def _name(key: str) -> str:
    return key if _PLAIN.fullmatch(key) else json.dumps(key, ensure_ascii=False).replace("\x7f", "\\u007f")
