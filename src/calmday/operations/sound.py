"""The verb about sound. The command line, the page and the Python interface call this."""

from __future__ import annotations

from pathlib import Path
from typing import Any

import msgspec

from calmday import __version__
from calmday.errors import InputError
from calmday.files.named_files import FolderFiles, NamedDocument, SeenFiles, inputs_digest
from calmday.files.sound_file import read_sound, sound_of
from calmday.metrology.figure import exact, from_normal
from calmday.procedures.sound import SoundStudy, extremes, silences, steady, study_sound, trace_of
from calmday.procedures.sound_flags import flags_of_sound
from calmday.procedures.sound_gears import candidates, difference_of, gears_heard, slips_of
from calmday.procedures.sound_result import SoundResult
from calmday.procedures.weighed_run_result import Provenance
from calmday.records.recording import Sound
from calmday.reduction.sound_picture import Picture
from calmday.reports.sound_sheet import sound_headline

__all__ = ["HeardSound", "SoundResult", "hear_sound", "hear_sound_document", "hear_sound_file"]


class HeardSound(msgspec.Struct, frozen=True, kw_only=True):
    """The result of a recording, and its spectrogram for the picture."""

    result: SoundResult
    picture: Picture


def hear_sound(sound: Sound, *, files: tuple[str, ...] = (), inputs_sha256: str = "") -> HeardSound:
    """Engine speed from a recording in memory. Raises InputError."""
    study = study_sound(sound)
    made_by = Provenance(program="calmday", version=__version__, seed=0, inputs_sha256=inputs_sha256, files=files)
    plain = _result(study, made_by)
    result = msgspec.structs.replace(plain, sentence=sound_headline(plain))
    return HeardSound(result=result, picture=study.engine.picture)


def hear_sound_file(path: Path | str, said: dict[str, Any] | None = None) -> HeardSound:
    """Engine speed from a sound.toml, or from a recording itself with what is `said` about it under the same keys.

    Raises InputError, or MissingExtraError where the recording needs the extra `sound`.
    """
    path = Path(path)
    seen = SeenFiles(path.parent)
    if path.suffix.lower() == ".toml":
        if said:
            raise InputError.one(str(path), next(iter(said)), "is given beside a sound file", "write it in the file")
        sound = read_sound(path, seen=seen)
    else:
        named = NamedDocument({**(said or {}), "recording": path.name}, _Beside(path.parent, seen))
        sound = sound_of(named, str(path), path.stem)
    digest = inputs_digest(seen.sha256.items())
    return hear_sound(sound, files=tuple(seen.sha256), inputs_sha256=digest)


def hear_sound_document(
    named: NamedDocument, name: str, *, files: tuple[str, ...] = (), digest: str = ""
) -> HeardSound:
    """The same for a document that is not kept as a file."""
    return hear_sound(sound_of(named, name, name), files=files, inputs_sha256=digest)


class _Beside(FolderFiles):
    """Files named on a command line: the recording beside its folder, all others from where the user stands."""

    def document(self, entry: str, name: str) -> NamedDocument:
        return FolderFiles(Path(), self.seen).document(entry, entry)

    def data(self, entry: str, name: str, limit: int) -> bytes:
        return FolderFiles(Path(), self.seen).data(entry, entry, limit)


def _result(study: SoundStudy, made_by: Provenance) -> SoundResult:
    sound, engine = study.sound, study.engine
    middle, lowest, highest = extremes(study)
    heard = gears_heard(study.gears)
    found = candidates(sound.vehicle, heard, study.circumference_m)
    slipped = slips_of(study.gears)
    clocks = study.clocks if study.clocks is not None and study.clocks.sure else None
    share = float(engine.known.mean()) if engine.time_s.size else 0.0
    return SoundResult(
        vehicle=sound.vehicle.name,
        label=sound.label,
        sentence="",
        cylinders=sound.cylinders,
        strokes=sound.strokes,
        searched_low=exact(60 * study.orders.lowest_rps, "rpm"),
        searched_high=exact(60 * study.orders.highest_rps, "rpm"),
        duration=exact(sound.recording.seconds, "s"),
        share_known=exact(share, "1"),
        engine_speed=middle,
        lowest=lowest,
        highest=highest,
        stretches=steady(study),
        gears_heard=heard,
        ratio_difference=difference_of(heard),
        candidates=found,
        slips=slipped,
        clock_offset=None if clocks is None else from_normal(clocks.offset_s, clocks.sd_s, "s"),
        not_known=silences(study),
        trace=trace_of(study),
        listened_by=sound.listened_by,
        microphone=sound.place,
        heard=sound.heard,
        flags=flags_of_sound(study, found, slipped),
        provenance=made_by,
    )
