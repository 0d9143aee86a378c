"""What the reader of a sound sheet must know."""

from __future__ import annotations

import numpy as np

from calmday.metrology.rounding import format_to
from calmday.procedures.flag import Flag, flag
from calmday.procedures.sound import SoundStudy
from calmday.procedures.sound_gears import SUSPICIOUS, difference_of, gears_heard
from calmday.procedures.sound_result import Candidate, Slip

ENOUGH_KNOWN = 0.2


def flags_of_sound(study: SoundStudy, found: tuple[Candidate, ...], slipped: tuple[Slip, ...]) -> tuple[Flag, ...]:
    """All flags of a recording, gravest first."""
    flags: list[Flag] = []
    share = float(study.engine.known.mean()) if study.engine.time_s.size else 0.0
    if share < ENOUGH_KNOWN:
        flags.append(
            flag(
                "engine-not-heard", "stop" if share < 0.02 else "caution",
                f"Engine speed is known for {100 * share:.0f} % of the recording.",
                "The engine hardly stands out from wind, road and other sounds.",
                "Put the microphone near intake or exhaust, out of the wind, or check cylinders and strokes.",
            )
        )  # fmt: skip
    if not all(study.declared):
        missing = " and ".join(
            n for n, d in zip(("idle speed", "governed speed"), study.declared, strict=True) if not d
        )
        flags.append(
            flag(
                "speed-range-assumed", "caution", f"The build sheet states no {missing}.",
                "Half or twice the true speed is then harder to rule out.",
                f"Enter the {missing}, even roughly.",
            )
        )  # fmt: skip
    flags += _road_flags(study, found, slipped)
    if study.sound.cylinders == 2 and study.sound.strokes == 4 and not study.sound.uneven:
        flags.append(
            flag(
                "twin-may-fire-unevenly", "note", "A four-stroke twin is taken to fire evenly.",
                "One that does not sounds like an engine of half or twice the speed.",
                "State uneven_firing = true where it fires unevenly.",
            )
        )  # fmt: skip
    return tuple(flags)


def _road_flags(study: SoundStudy, found: tuple[Candidate, ...], slipped: tuple[Slip, ...]) -> list[Flag]:
    flags = []
    difference = difference_of(gears_heard(study.gears))
    if found and difference is not None:
        ways = "; ".join(f"{c.what}: {c.would_be}" for c in found)
        flags.append(
            flag(
                "ratio-or-tyre-not-as-declared", "caution",
                f"By the sound the engine turns {format_to(abs(difference.value), 1)} % "
                f"{'more' if difference.value > 0 else 'less'} for each metre than the build sheet says.",
                f"More than {100 * SUSPICIOUS:.0f} % apart: ratio or tyre is not what you think.",
                f"It would fit with {ways}.",
            )
        )  # fmt: skip
    if slipped:
        times = "once" if len(slipped) == 1 else f"{len(slipped)} times"
        worst = max(slip.excess.value for slip in slipped)
        flags.append(
            flag(
                "clutch-slips", "caution",
                f"The engine ran ahead of the road {times}, by up to {worst:.0f} %.",
                "A slipping clutch burns fuel, and consumption and gearing found from such a drive are wrong.",
                "Check free play and lining before testing on.",
            )
        )  # fmt: skip
    clocks = study.clocks
    if study.sound.track is not None and (clocks is None or not clocks.sure):
        flags.append(
            flag(
                "clocks-not-brought-together", "caution",
                "The recording could not be placed on the track.",
                "Engine and road speed must move together for some time; steady driving alone fits anywhere.",
                "Note when the recording started (started), or record a pull away through the gears.",
            )
        )  # fmt: skip
    if study.sound.speed_mps is not None and study.sound.track is None and np.isfinite(study.speed_mps).any():
        flags.append(
            flag(
                "speed-typed", "note", "Road speed was typed, not recorded.",
                "The ratio is as good as the driver held that speed by satellite.",
                "A track beside the recording makes it sure.",
            )
        )  # fmt: skip
    return flags
