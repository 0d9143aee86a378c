"""Tyre size codes as they stand on the side wall."""

from __future__ import annotations

import re

from calmday.metrology.units import QuantityError, shown
from calmday.records.vehicle import TyreSize

_INCH_M = 0.0254
_DEFAULT_RADIAL_ASPECT = 0.82
"""Aspect ratio of a radial tyre whose code names none (165 R13): ETRTO's "82 series"."""
_DEFAULT_BIAS_ASPECT = 0.95
"""Aspect ratio of a cross-ply tyre named by section width in inches (6.00-16); 0.9 to 1.0 in practice."""

_SERVICE = r"(?:\s+.{0,20})?"  # load index, speed symbol, ply rating: of no use here
_METRIC = re.compile(
    rf"(?:P|LT|ST|T)?\s*(\d{{3}})\s*(?:/\s*(\d{{2,3}}))?\s*(Z?R|-|B|D)F?\s*(\d{{1,2}}(?:\.5)?)\s*(?:C|LT)?{_SERVICE}"
)
_INCH = re.compile(rf"(\d{{1,2}}(?:\.\d{{1,2}})?)\s*(R|-)\s*(\d{{1,2}}(?:\.5)?)\s*(?:C|LT)?{_SERVICE}")
_RIGHT = 'a tyre size such as "195/75 R16", "165 R13" or "6.00-16"; or rolling_circumference in its place'


def parse_tyre(text: object) -> TyreSize:
    """The size behind "195/75 R16", "LT235/85R16 120/116Q", "165 R13" or "6.00-16". Raises QuantityError."""
    if not isinstance(text, str) or len(text) > 60:
        raise QuantityError(f"{shown(text)} is not a tyre size", _RIGHT)
    code = " ".join(text.upper().split())
    metric = _METRIC.fullmatch(code)
    inch = None if metric else _INCH.fullmatch(code)
    if metric:
        width, aspect, build, rim = metric.groups()
        radial = build.endswith("R")
        ratio = int(aspect) / 100 if aspect else _DEFAULT_RADIAL_ASPECT
        size = TyreSize(text.strip(), int(width) / 1000, ratio, float(rim) * _INCH_M, radial)
    elif inch:
        radial = inch.group(2) == "R"
        ratio = _DEFAULT_RADIAL_ASPECT if radial else _DEFAULT_BIAS_ASPECT
        size = TyreSize(text.strip(), float(inch.group(1)) * _INCH_M, ratio, float(inch.group(3)) * _INCH_M, radial)
    else:
        raise QuantityError(f"{shown(text)} is not a tyre size", _RIGHT)
    _check(size)
    return size


def _check(size: TyreSize) -> None:
    """Sizes that no road tyre has are misprints."""
    if not 0.06 <= size.section_width_m <= 0.46:
        raise QuantityError(
            f"{shown(size.code)} is {size.section_width_m * 1000:.0f} mm wide", "a width from 60 to 460 mm"
        )
    if not 0.2 <= size.aspect_ratio <= 1.1:
        raise QuantityError(
            f"{shown(size.code)} has the aspect ratio {size.aspect_ratio * 100:.0f}", "one from 20 to 110"
        )
    if not 7.9 <= size.rim_diameter_m / _INCH_M <= 25.1:
        raise QuantityError(
            f"{shown(size.code)} has a {size.rim_diameter_m / _INCH_M:g} inch rim",
            "a rim from 8 to 25 inches",
        )
