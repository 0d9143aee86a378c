"""How guesses are scored: asked before the first guess, kept with its time."""

from __future__ import annotations

from typing import Final

from calmday.web.fields import Field, field

GUESS_UNITS: Final = (
    ("L/100km", "L/100 km"), ("mpg imp", "miles per imperial gallon"), ("mpg US", "miles per US gallon"),
    ("km/L", "km/L"), ("g/km", "g/km"),
)  # fmt: skip
GUESS_RULES: Final = (
    ("fuel per distance", "fuel for the same distance"),
    ("distance per fuel", "distance for the same fuel"),
    ("proportion", "proportion, the same in every unit"),
)
GUESSED: Final = (("as driven", "the drive as driven"), ("calm day", "the calm day"))

GUESSING: Final[tuple[Field, ...]] = (
    field("guessing.unit", "Guesses are told in", kind="choice", choices=GUESS_UNITS, left_out="litres"),
    field(
        "guessing.rule",
        "Nearest by",
        "Litres and miles a gallon do not always name the same winner.",
        kind="choice",
        choices=GUESS_RULES,
        left_out="the unit decides",
    ),
    field("guessing.figure", "Guessed at", kind="choice", choices=GUESSED, left_out="the drive as driven"),
    field("guessing.speed", "Speed you mean to hold", "For the program’s own guess.", "road speed", example="60"),
)
