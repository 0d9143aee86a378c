"""The build sheet as the page asks for it."""

from __future__ import annotations

from functools import cache
from typing import Final

from calmday.web.fields import YES_NO, Field, Group, field

BODIES = (
    ("van", "Van"),
    ("pickup", "Pickup"),
    ("lorry", "Lorry"),
    ("saloon", "Saloon"),
    ("estate", "Estate"),
    ("hatchback", "Hatchback"),
    ("coupe", "Coupé"),
    ("roadster", "Roadster"),
    ("other", "Something else"),
)
FUELS = (
    ("diesel", "Diesel"),
    ("petrol", "Petrol"),
    ("e10", "Petrol E10"),
    ("biodiesel", "Biodiesel"),
    ("hvo", "HVO (hydrogenated vegetable oil)"),
    ("ethanol", "Ethanol"),
    ("lpg", "LPG"),
)
INDUCTIONS = (("natural", "None: it breathes by itself"), ("turbocharged", "Turbo"), ("supercharged", "Supercharger"))
INJECTIONS = (
    ("indirect", "Indirect (swirl or pre-chamber)"),
    ("direct", "Direct"),
    ("port", "Into the port"),
    ("carburettor", "Carburettor"),
)

BODY: Final = Group(
    name="body",
    title="Body and mass",
    lead="Mass drives rolling and hills, size and shape drive the air.",
    fields=(
        field("vehicle.name", "What do you call it?", "Stands on every sheet.", kind="text", room=30),
        field(
            "vehicle.body",
            "Which shape is nearest?",
            "Gives size, drag and mass where you have no figures.",
            kind="choice",
            choices=BODIES,
            left_out="a middling shape, with a wide doubt",
        ),
        field(
            "vehicle.test_mass",
            "Mass as driven",
            "With driver, fuel and the usual load; a public weighbridge is best.",
            "mass",
            example="1480",
            left_out="a usual mass for the shape",
        ),
        field(
            "vehicle.frontal_area",
            "Frontal area",
            "The shadow it throws forwards. Width and height serve as well.",
            "area",
            example="2.9",
            left_out="from width and height, else usual for the shape",
        ),
        field(
            "vehicle.width",
            "Width",
            "Body without mirrors.",
            "small length",
            example="1.75",
            left_out="not needed where the frontal area is given",
        ),
        field(
            "vehicle.height",
            "Height",
            "Road to roof.",
            "small length",
            example="2.1",
            left_out="not needed where the frontal area is given",
        ),
        field(
            "vehicle.drag_coefficient",
            "Drag coefficient",
            "How slippery the shape is: 0.3 a smooth car, 0.45 a van.",
            kind="number",
            example="0.44",
            left_out="usual for the shape",
        ),
    ),
)
TYRES: Final = Group(
    name="tyres",
    title="Tyres",
    lead="The tyre sets how far the wheel rolls at each turn, and how hard it rolls.",
    fields=(
        field(
            "vehicle.tyre",
            "Tyre size",
            "As it stands on the side wall.",
            kind="text",
            example="195/75 R16",
            room=14,
            left_out="the gearing is guessed",
        ),
        field(
            "vehicle.rolling_circumference",
            "Measured roll-out",
            "Road covered in one turn of the wheel, loaded. Better than the size from the side wall.",
            "small length",
            example="2.13",
            left_out="from the tyre size",
        ),
        field(
            "vehicle.tyre_pressure",
            "Usual cold pressure",
            "What the rolling resistance belongs to.",
            "pressure",
            example="3.0",
            left_out="no change of rolling with the pressure of the day",
        ),
        field(
            "vehicle.rolling_resistance",
            "Rolling resistance coefficient",
            "Warm tyre, 20 °C: 0.010 good, 0.015 poor.",
            kind="number",
            example="0.0125",
            left_out="usual for the kind of tyre",
        ),
    ),
)
GEARS: Final = Group(
    name="gears",
    title="Gears",
    lead="Gearing turns road speed into engine speed.",
    fields=(
        field(
            "vehicle.gear_ratios",
            "Gearbox ratios",
            "First gear first, with commas or spaces between.",
            kind="numbers",
            listed=True,
            example="3.65, 2.02, 1.37, 1.0, 0.83",
            room=30,
            left_out="a usual five-speed box",
        ),
        field(
            "vehicle.final_drive",
            "Axle ratio",
            "Count teeth, or turns of the shaft to one of the wheel.",
            kind="number",
            example="4.1",
            left_out="usual for the kind of engine",
        ),
        field(
            "vehicle.driveline_efficiency",
            "Driveline efficiency",
            "Part of the engine's power that reaches the wheels.",
            kind="number",
            example="0.93",
            left_out="usual for gearbox and axle",
        ),
    ),
)
ENGINE: Final = Group(
    name="engine",
    title="Engine",
    lead="Size, fuel and kind of injection set what it burns at no load and for each unit of work.",
    fields=(
        field(
            "engine.displacement",
            "Swept volume",
            "",
            "displacement",
            example="2.1",
            left_out="1.9 L, with a wide doubt",
        ),
        field(
            "engine.cylinders",
            "Cylinders",
            "For engine speed from sound.",
            kind="whole",
            example="4",
            left_out="not needed for consumption",
        ),
        field(
            "engine.strokes",
            "Strokes",
            "",
            kind="choice",
            choices=(("4", "Four-stroke"), ("2", "Two-stroke")),
            left_out="four-stroke",
        ),
        field("engine.fuel", "Fuel", "", kind="choice", choices=FUELS, left_out="diesel, said so on the sheet"),
        field("engine.induction", "Blown?", "", kind="choice", choices=INDUCTIONS, left_out="not blown"),
        field(
            "engine.injection",
            "Injection",
            "",
            kind="choice",
            choices=INJECTIONS,
            left_out="between direct and indirect",
        ),
        field("engine.idle_speed", "Idle speed", "", "engine speed", example="800", left_out="820 rpm"),
        field(
            "engine.governed_speed",
            "Highest engine speed",
            "Governed speed, or the speed not to exceed.",
            "engine speed",
            example="4600",
            left_out="usual for the fuel",
        ),
        field(
            "engine.full_load_standard",
            "What is the full-load curve corrected to?",
            "It stands on the chart.",
            kind="choice",
            choices=tuple((name, name) for name in ("ISO 1585", "SAE J1349", "DIN 70020")),
            left_out="any of them: 2 % wider",
        ),
        field(
            "engine.full_load_rating",
            "Gross or net?",
            "Net: with the fan, alternator and silencer of the road. Gross: the bare engine.",
            kind="choice",
            choices=(("net", "Net"), ("gross", "Gross: 6.5 % are taken off")),
            left_out="net",
        ),
        field(
            "engine.full_load_at",
            "Measured where?",
            "Rollers measure at the wheels.",
            kind="choice",
            choices=(("engine", "At the engine"), ("wheels", "At the wheels")),
            left_out="at the engine",
        ),
        field(
            "engine.overrun_fuel_cut",
            "Does it shut the fuel off on the overrun?",
            "Foot off the pedal, in gear: diesels with a pump do.",
            kind="yes_no",
            choices=YES_NO,
            left_out="usual for fuel and induction",
        ),
    ),
)

BUILD_SHEET: Final = (BODY, TYRES, GEARS, ENGINE)


@cache
def build_fields() -> tuple[Field, ...]:
    """All fields of the build sheet."""
    return tuple(field for group in BUILD_SHEET for field in group.fields)
