"""Make the spoilt runs: the example's run file with one thing gone wrong in each.

    python examples/make_spoilt.py

Writes examples/spoilt/*.toml from examples/fen-hauler/run.toml; they share its track and build sheet. The second line
of each file names the flag that should catch it, or the exit status for a file that must be refused.
"""

from __future__ import annotations

from pathlib import Path

import msgspec

HERE = Path(__file__).parent
SOURCE = HERE / "fen-hauler" / "run.toml"


def copied(reading_kg: float) -> str:
    """One reading written down six times."""
    return ", ".join([f'"{reading_kg:.3f} kg"'] * 6)


class Mishap(msgspec.Struct, frozen=True):
    """One thing that went wrong: what a person would say of it, what should notice, and the lines that changed."""

    name: str
    story: str
    expect: str
    edits: tuple[tuple[str, str], ...]


BEFORE, AFTER = (line for line in SOURCE.read_text(encoding="utf-8").splitlines() if line.startswith("gross"))
TARE = next(line for line in SOURCE.read_text(encoding="utf-8").splitlines() if line.startswith("tare")).split("  ")[0]
FULL_KG, LEFT_KG = (float(line.split('"')[1].split()[0]) for line in (BEFORE, AFTER))
PREDICTIONS = "# What three people said before the drive."

MISHAPS = (
    Mishap(
        "return-line-in-wrong-tank",
        "The engine drew from the can, but the return hose ended in the main tank: three kilograms went round that\n"
        "# way unburnt and were counted as used.",
        "fuel-cannot-have-been-burnt",
        ((AFTER, f'gross = ["{LEFT_KG - 3.675:.3f} kg", "{LEFT_KG - 3.67:.3f} kg"]'),),
    ),
    Mishap(
        "fuel-from-the-main-tank",
        "The valve of the main tank had been left open, so that most of the fuel never came from the can.",
        "fuel-missed",
        ((AFTER, f'gross = ["{FULL_KG - 0.565:.3f} kg", "{FULL_KG - 0.555:.3f} kg"]'),),
    ),
    Mishap(
        "after-heavier-than-before",
        "Two lines of the paper sheet were swapped when it was typed in.",
        "after-heavier-than-before",
        ((BEFORE, "SWAP"), (AFTER, BEFORE), ("SWAP", AFTER)),
    ),
    Mishap(
        "lap-count-wrong",
        "The tally card says five laps; four were driven. The lap length is right.",
        "lap-count",
        (('track = ["', 'laps = 5\nlap_length = "9.86 km"\ntrack = ["'),),
    ),
    Mishap(
        "gallons-mixed-up",
        "The brochure's figure is in imperial gallons and was entered as US gallons.",
        "gallon-mix-up",
        ((PREDICTIONS, '[published]\nvalue = "33.7 mpg US"\nkind = "steady 80 km/h, brochure"\n\n' + PREDICTIONS),),
    ),
    Mishap(
        "gallon-of-which-country",
        "A guess in plain mpg: which gallon? Refused, with the two that are meant.",
        "exit 2",
        (('"34 mpg US"', '"34 mpg"'),),
    ),
    Mishap(
        "copied-readings",
        "The scale was read once and the figure written down six times.",
        "identical-readings",
        (
            (BEFORE, f"gross = [{copied(FULL_KG)}]"),
            (AFTER, f"gross = [{copied(LEFT_KG)}]"),
        ),
    ),
    Mishap(
        "over-the-scale",
        "The scale carries 10 kg; the full can is heavier.",
        "over-scale-capacity",
        (('capacity = "20 kg"', 'capacity = "10 kg"'),),
    ),
    Mishap(
        "tare-forgotten-once",
        "The empty can was taken off before the drive, but not after it.",
        "tare-on-one-side",
        ((f"{AFTER}\n{TARE}", AFTER),),
    ),
    Mishap(
        "clock-in-another-zone",
        "The airfield's report was looked up by the clock on the wall, two hours off.",
        "time-zone-slip",
        (
            ('  "METAR ZZAA 121050Z 34012KT 9999 SCT030 10/04 Q1015",\n', ""),
            ('  "METAR ZZAA 121120Z 35012G22KT 9999 SCT030 11/04 Q1015",\n', ""),
            ("121150Z", "121350Z"),
        ),
    ),
    Mishap(
        "track-of-another-day",
        "The weighings are of the thirteenth, the track is the one of the day before.",
        "track-of-another-day",
        (("date = 2026-04-12", "date = 2026-04-13"),),
    ),
    Mishap(
        "two-batches",
        "The can was filled from a drum of winter fuel and topped up at the pump.",
        "mixed-batches",
        (
            (BEFORE, BEFORE + '\nbatch = "winter, drum"'),
            (AFTER, AFTER + '\nbatch = "spring, pump"'),
        ),
    ),
    Mishap(
        "readings-wander",
        "The scale stood on grass in the wind.",
        "readings-spread",
        ((BEFORE, f'gross = ["{FULL_KG - 0.04:.3f} kg", "{FULL_KG:.3f} kg", "{FULL_KG + 0.045:.3f} kg"]'),),
    ),
    Mishap(
        "no-weather-noted",
        "Nobody looked up the wind. The answer is wider for it, not refused.",
        "no-wind",
        (("[weather]\n", "CUT"),),
    ),
    Mishap(
        "unit-left-out",
        "A weight without its unit. Refused, with what would be right.",
        "exit 2",
        (('capacity = "20 kg"', 'capacity = "20"'),),
    ),
)

BARE = """\
# Spoilt on purpose: only the weighings, the laps and the length of a lap were written down.
# Expect: no-track
label = "Fen loop, grams and laps only"
laps = 4
lap_length = "9.86 km"

[fuel]
kind = "diesel"

[[weighing]]
when = "before"
gross = ["12.875 kg"]

[[weighing]]
when = "after"
gross = ["10.110 kg"]
"""


def spoilt(source: str, mishap: Mishap) -> str:
    """The run file with the mishap in it. Raises ValueError where a line to change is not there."""
    text = source.split("\n", 1)[1]
    for old, new in mishap.edits:
        if old not in text:
            raise ValueError(f"{mishap.name}: the example has no {old!r}")
        if new == "CUT":
            begin = text.index(old)
            text = text[:begin] + text[text.index(PREDICTIONS) :]
        else:
            text = text.replace(old, new)
    text = text.replace('"vehicle.toml"', '"../fen-hauler/vehicle.toml"')
    text = text.replace('"out.gpx"', '"../fen-hauler/out.gpx"')
    said = mishap.name.replace("-", " ")
    text = text.replace('label = "Fen loop', f'label = "Spoilt, {said}: fen loop')
    return f"# Spoilt on purpose: {mishap.story}\n# Expect: {mishap.expect}\n{text}"


def main() -> None:
    """Write every spoilt run."""
    source = SOURCE.read_text(encoding="utf-8")
    folder = HERE / "spoilt"
    folder.mkdir(exist_ok=True)
    for mishap in MISHAPS:
        (folder / f"{mishap.name}.toml").write_text(spoilt(source, mishap), encoding="utf-8", newline="\n")
    (folder / "grams-and-laps-only.toml").write_text(BARE, encoding="utf-8", newline="\n")


if __name__ == "__main__":
    main()
