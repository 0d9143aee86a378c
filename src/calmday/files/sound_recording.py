"""Recordings: plain WAV by the standard library; FLAC, OGG and other WAV with the extra `sound`.

A recording is read a block at a time, so that hours of it take no more memory than seconds.
"""

from __future__ import annotations

import io
import struct
import wave
from collections.abc import Callable, Iterator
from pathlib import Path
from typing import BinaryIO, Final

import numpy as np
from numpy.typing import NDArray

from calmday.errors import InputError, MissingExtraError
from calmday.files.text_file import MEGABYTE
from calmday.records.recording import Recording

SingleArray = NDArray[np.float32]

SIZE_LIMIT: Final = 2_000 * MEGABYTE
LONGEST_S: Final = 6 * 3600.0
SHORTEST_S: Final = 1.5
RATES_HZ: Final = (4_000.0, 400_000.0)
BLOCK: Final = 65_536
_RIGHT: Final = "a WAV, FLAC or OGG recording of 1.5 s to 6 h at 4 to 400 kHz"
_AGAIN: Final = "copy the recording again from the recorder, or save it anew as 16-bit WAV"

Opener = Callable[[], BinaryIO]


def read_recording(path: Path, name: str | None = None) -> Recording:
    """The recording in a file. `name` the file as the user named it. Raises InputError or MissingExtraError."""
    name = name or str(path)
    try:
        if path.is_dir():
            raise InputError.one(name, "file", "is a folder", "the name of a recording in it")
        size = path.stat().st_size
        if not path.is_file():
            raise InputError.one(name, "file", "is a device, not a file", "the name of a recording")
        if size > SIZE_LIMIT:
            raise InputError.one(
                name, "file", f"has {size / MEGABYTE:.0f} MB", f"at most {SIZE_LIMIT / MEGABYTE:.0f} MB: cut out a part"
            )
        return recording_of(lambda: path.open("rb"), name)
    except FileNotFoundError:
        raise InputError.one(
            name, "file", "is not there", "check the name; paths start at the file that names them"
        ) from None
    except OSError as e:
        raise InputError.one(name, "file", f"cannot be read ({e.strerror or e})", "a readable file") from None


def recording_of_bytes(data: bytes, name: str) -> Recording:
    """The recording in the bytes of a file. Raises InputError or MissingExtraError."""
    return recording_of(lambda: io.BytesIO(data), name)


def recording_of(opened: Opener, name: str) -> Recording:
    """The recording behind an opener: known by its first bytes, never by its name."""
    with opened() as stream:
        head = stream.read(64)
    if not head:
        raise InputError.one(name, "file", "is empty", _RIGHT)
    if head[:4] in (b"RIFF", b"RIFX") and head[8:12] == b"WAVE":
        found = _plain_wav(opened, name)
        return found if found is not None else _by_library(opened, name, "This kind of WAV")
    if head[:4] in (b"fLaC", b"OggS", b"RF64", b"FORM"):
        return _by_library(opened, name, "A FLAC or OGG recording")
    raise InputError.one(name, "file", "is no recording that can be read here", _unlike(head))


def _unlike(head: bytes) -> str:
    if head[4:8] == b"ftyp" or head[:3] == b"ID3" or head[:2] in (b"\xff\xfb", b"\xff\xf1", b"\xff\xf3"):
        return "the same recording saved as WAV, FLAC or OGG by the program that made it"
    if head[:4] == b"\x1aE\xdf\xa3":
        return "the sound of this film or web recording saved as WAV, FLAC or OGG"
    return _RIGHT


def _plain_wav(opened: Opener, name: str) -> Recording | None:
    """A WAV of whole numbers; None where the standard library does not know the coding."""
    try:
        with opened() as stream:
            size = stream.seek(0, io.SEEK_END)
            stream.seek(0)
            with wave.open(stream) as sound:
                channels, width, rate, frames = sound.getparams()[:4]
    except wave.Error as e:
        if "unknown format" in str(e) or "extended format" in str(e):
            return None
        raise InputError.one(name, "file", f"is a damaged WAV ({e})", _AGAIN) from None
    except (EOFError, struct.error, OverflowError, ValueError, RuntimeError):
        raise InputError.one(name, "file", "is a WAV that breaks off in its head", _AGAIN) from None
    if frames * channels * width > size:
        held = size / max(channels * width * rate, 1)
        wrong = f"breaks off: it says {frames / max(rate, 1):.0f} s and holds about {held:.0f} s"
        raise InputError.one(name, "file", wrong, _AGAIN)
    _check(name, rate, frames, channels)

    def blocks() -> Iterator[SingleArray]:
        with opened() as stream, wave.open(stream) as sound:
            while data := sound.readframes(BLOCK):
                yield _numbers(data, width, channels)

    return Recording(
        rate_hz=float(rate), seconds=frames / rate, blocks=blocks, channels=channels, coding=f"{8 * width}-bit WAV",
        file=name,
    )  # fmt: skip


def _numbers(data: bytes, width: int, channels: int) -> SingleArray:
    """Whole numbers of 8, 16, 24 or 32 bits as sound within -1 to 1, channels averaged."""
    whole = len(data) - len(data) % (width * channels)
    raw = np.frombuffer(data[:whole], np.uint8)
    match width:
        case 1:
            sound = (raw.astype(np.float32) - 128) / 128
        case 2:
            sound = raw.view("<i2").astype(np.float32) / 2**15
        case 3:
            wide = np.zeros((raw.size // 3, 4), np.uint8)
            wide[:, 1:] = raw.reshape(-1, 3)
            sound = wide.reshape(-1).view("<i4").astype(np.float32) / 2**31
        case _:
            sound = raw.view("<i4").astype(np.float32) / 2**31
    return np.asarray(sound.reshape(-1, channels).mean(axis=1), np.float32)


def _check(name: str, rate: float, frames: int, channels: int) -> None:
    """Faults of what the head of a recording says."""
    if not RATES_HZ[0] <= rate <= RATES_HZ[1]:
        raise InputError.one(name, "sample rate", f"{rate:.0f} Hz is not possible here", "from 4 kHz to 400 kHz")
    if not 1 <= channels <= 64:
        raise InputError.one(name, "channels", f"{channels} channels are not possible here", "1 to 64")
    if frames < SHORTEST_S * rate:
        raise InputError.one(name, "length", f"{frames / rate:.1f} s is too short", "1.5 s or more of one engine")
    if frames > LONGEST_S * rate:
        raise InputError.one(name, "length", f"{frames / rate / 3600:.1f} h is too long", "at most 6 h: cut out a part")


def _by_library(opened: Opener, name: str, what: str) -> Recording:
    try:
        import soundfile  # noqa: PLC0415  (optional: only for what the standard library cannot read)
    except (ImportError, OSError):
        raise MissingExtraError(what, "sound") from None
    try:
        with opened() as stream, soundfile.SoundFile(stream) as sound:
            rate, frames, channels = float(sound.samplerate), int(sound.frames), int(sound.channels)
            coding = f"{sound.subtype_info} {sound.format}"
            size = stream.seek(0, io.SEEK_END)
    except (soundfile.LibsndfileError, RuntimeError, TypeError, ValueError, OverflowError):
        raise InputError.one(name, "file", "is damaged, or no recording that can be read here", _AGAIN) from None
    if frames > 50 * 8 * size or frames < 0:  # no coding is so dense: the head lies
        raise InputError.one(name, "file", "is damaged: its head promises more than it holds", _AGAIN)
    _check(name, rate, frames, channels)

    def blocks() -> Iterator[SingleArray]:
        try:
            with opened() as stream, soundfile.SoundFile(stream) as sound:
                left = frames
                while left > 0:
                    data = sound.read(min(BLOCK, left), dtype="float32", always_2d=True)
                    if not len(data):
                        raise InputError.one(name, "file", "breaks off before its end", _AGAIN)
                    left -= len(data)
                    yield np.asarray(data.mean(axis=1), np.float32)
        except (soundfile.LibsndfileError, RuntimeError):
            raise InputError.one(name, "file", "is damaged within", _AGAIN) from None

    return Recording(rate_hz=rate, seconds=frames / rate, blocks=blocks, channels=channels, coding=coding, file=name)
