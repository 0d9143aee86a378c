"""Write `src/calmday/metrology/unit_table.py`: unit name -> factor and offset to SI, from pint.

Run `python scripts/make_unit_table.py` after changing the names below; `--check` only compares. The factors
are computed with exact fractions and rounded once, so each is the double nearest to the defined value.
"""

from __future__ import annotations

import sys
from fractions import Fraction
from pathlib import Path

TABLE = Path(__file__).parents[1] / "src/calmday/metrology/unit_table.py"

# dimension: (SI unit as pint writes it, {pint expression: names people write})
NAMES: dict[str, tuple[str, dict[str, str]]] = {
    "length": (
        "m",
        {
            "m": "m|metre|metres|meter|meters",
            "km": "km|kilometre|kilometres|kilometer|kilometers",
            "cm": "cm",
            "mm": "mm",
            "mile": "mi|mile|miles",
            "yard": "yd|yard|yards",
            "foot": "ft|foot|feet",
            "inch": "in|inch|inches",
            "nautical_mile": "nmi|nautical mile|nautical miles",
        },
    ),
    "area": (
        "m**2",
        {"m**2": "m^2|m2|sq m", "cm**2": "cm^2|cm2", "foot**2": "ft^2|ft2|sq ft", "inch**2": "in^2|sq in"},
    ),
    "mass": (
        "kg",
        {
            "kg": "kg|kilogram|kilograms",
            "g": "g|gram|grams",
            "mg": "mg",
            "metric_ton": "t|tonne|tonnes",
            "pound": "lb|lbs|pound|pounds",
            "ounce": "oz|ounce|ounces",
            "stone": "st|stone",
            "long_ton": "long ton|long tons|imp ton",
            "short_ton": "short ton|short tons|US ton",
        },
    ),
    "density": (
        "kg/m**3",
        {
            "kg/m**3": "kg/m^3|kg/m3",
            "kg/L": "kg/L|kg/l",
            "g/L": "g/L|g/l",
            "g/mL": "g/mL|g/ml",
            "g/cm**3": "g/cm^3|g/cm3",
            "pound/US_liquid_gallon": "lb/US gal",
            "pound/imperial_gallon": "lb/imp gal",
            "pound/foot**3": "lb/ft^3",
        },
    ),
    "speed": (
        "m/s",
        {
            "m/s": "m/s|mps|MPS",
            "km/h": "km/h|kmh|kph|KMH|KPH",
            "mile/hour": "mph|mi/h|MPH",
            "knot": "kn|kt|kts|knot|knots|KT",
            "foot/s": "ft/s|fps",
        },
    ),
    "angle": ("rad", {"radian": "rad", "degree": "deg|degree|degrees"}),
    "temperature": ("K", {"kelvin": "K", "degC": "degC|C", "degF": "degF|F"}),
    "temperature difference": ("K", {"kelvin": "K", "delta_degC": "degC|C", "delta_degF": "degF|F"}),
    "pressure": (
        "Pa",
        {
            "Pa": "Pa",
            "hPa": "hPa",
            "kPa": "kPa|KPa",
            "MPa": "MPa",
            "bar": "bar|BAR",
            "mbar": "mbar|mb",
            "psi": "psi|PSI|lbf/in^2",
            "inHg": "inHg|in Hg",
            "mmHg": "mmHg|mm Hg",
            "atmosphere": "atm",
            "technical_atmosphere": "kgf/cm^2",
            "torr": "torr|Torr",
        },
    ),
    "volume": (
        "m**3",
        {
            "L": "L|l|litre|litres|liter|liters",
            "mL": "mL|ml",
            "cL": "cL|cl",
            "dL": "dL|dl",
            "m**3": "m^3|m3",
            "dm**3": "dm^3|dm3",
            "cm**3": "cm^3|cm3|cc|ccm",
            "inch**3": "in^3|cu in|cu.in",
            "US_liquid_gallon": "US gal|US gallon|US gallons|gal US|gal (US)|USgal",
            "imperial_gallon": "imp gal|imp gallon|imp gallons|gal imp|gal (imp)|UK gal|imperial gallon",
            "US_liquid_quart": "US qt",
            "imperial_quart": "imp qt",
            "US_pint": "US pt",
            "imperial_pint": "imp pt",
            "fluid_ounce": "US fl oz",
            "imperial_fluid_ounce": "imp fl oz",
        },
    ),
    "torque": (
        "N*m",
        {
            "N*m": "N*m|N m|Nm",
            "kN*m": "kN*m|kNm",
            "daN*m": "daN*m|daNm",
            "pound_force*foot": "lbf*ft|lbf ft|ft*lbf|ft lbf|lb*ft|lb ft|lb-ft|lbf-ft|ft*lb|ft lb|ft-lb",
            "pound_force*inch": "lbf*in|lbf in|lb*in|lb in|in*lbf|in lb",
            "kilogram_force*meter": "kgf*m|kgf m|kgfm|kg*m|kgm|mkg|m*kg|kp*m|kpm|mkp|m*kp",
        },
    ),
    "power": (
        "W",
        {
            "W": "W",
            "kW": "kW|KW|kw",
            "MW": "MW",
            "horsepower": "hp|HP|bhp|BHP",
            "metric_horsepower": "PS|metric hp|hp (metric)|cv|CV|pk",
        },
    ),
    "engine speed": (
        "revolution/s",
        {
            "rpm": "rpm|RPM|r/min|rev/min|1/min|min^-1|U/min",
            "revolution/s": "r/s|rev/s|1/s|s^-1|rps",
            "radian/s": "rad/s",
        },
    ),
    "time": (
        "s",
        {
            "s": "s|sec|second|seconds",
            "ms": "ms",
            "minute": "min|minute|minutes",
            "hour": "h|hr|hour|hours",
            "day": "d|day|days",
        },
    ),
    "force": ("N", {"N": "N", "kN": "kN", "daN": "daN", "pound_force": "lbf", "kilogram_force": "kgf|kp"}),
    "fraction": ("", {"percent": "%|percent|per cent", "ppm": "ppm"}),
}


def factor_and_offset(registry: object, expression: str, si: str) -> tuple[Fraction, Fraction]:
    """Exact factor and offset so that value_si = value * factor + offset."""
    quantity = registry.Quantity  # type: ignore[attr-defined]
    zero = quantity(Fraction(0), expression).to(si).magnitude
    one = quantity(Fraction(1), expression).to(si).magnitude
    return Fraction(one) - Fraction(zero), Fraction(zero)


def table_text() -> str:
    """The module's text."""
    import pint  # noqa: PLC0415

    registry = pint.UnitRegistry(non_int_type=Fraction)
    lines = [
        '"""Unit names and their factors to SI: value_si = value * factor + offset.',
        "",
        f"Written by scripts/make_unit_table.py from pint {pint.__version__}; do not edit by hand.",
        '"""',
        "",
        "from __future__ import annotations",
        "",
        "# fmt: off",
        "UNITS: dict[str, dict[str, tuple[float, float]]] = {",
    ]
    for dimension, (si, expressions) in NAMES.items():
        lines.append(f'    "{dimension}": {{')
        for expression, names in expressions.items():
            factor, offset = factor_and_offset(registry, expression, si)
            pair = f"({float(factor)!r}, {float(offset)!r})"
            lines += [f'        "{name}": {pair},' for name in names.split("|")]
        lines.append("    },")
    return "\n".join([*lines, "}", "# fmt: on", ""])


def main() -> int:
    """Write the table, or with `--check` tell whether it is up to date."""
    text = table_text()
    if "--check" in sys.argv[1:]:
        same = TABLE.read_text(encoding="utf-8") == text
        print("unit_table.py is up to date" if same else "unit_table.py differs: run scripts/make_unit_table.py")
        return 0 if same else 1
    TABLE.write_text(text, encoding="utf-8")
    return 0


if __name__ == "__main__":
    raise SystemExit(main())
