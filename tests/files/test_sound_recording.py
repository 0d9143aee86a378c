"""Recordings of any make are read, and those that cannot be are refused by name with a remedy."""

from __future__ import annotations

import struct
import wave
from pathlib import Path

import numpy as np
import pytest

from calmday.errors import InputError
from calmday.files.sound_recording import LONGEST_S, read_recording, recording_of_bytes
from calmday.synthetic.engine_sound import wav_bytes

TONE = 0.5 * np.sin(2 * np.pi * 100 * np.arange(16_000) / 8_000)


def whole(recording) -> np.ndarray:  # type: ignore[no-untyped-def, type-arg]
    return np.concatenate(list(recording.blocks()))


@pytest.mark.parametrize("width", [1, 2, 3, 4])
@pytest.mark.parametrize("channels", [1, 2])
def test_whole_numbers_of_any_width_come_out_alike(tmp_path: Path, width: int, channels: int) -> None:
    file = tmp_path / "tone.wav"
    numbers = np.round(TONE * (2 ** (8 * width - 1) - 1)).astype(np.int64)
    if width == 1:
        data = (numbers + 128).astype(np.uint8)[:, None]
    else:
        data = np.stack([(numbers >> (8 * k)) & 255 for k in range(width)], axis=1).astype(np.uint8)
    with wave.open(str(file), "wb") as out:
        out.setnchannels(channels)
        out.setsampwidth(width)
        out.setframerate(8000)
        out.writeframes(np.repeat(data[:, None, :], channels, axis=1).tobytes())
    read = read_recording(file)
    assert (read.rate_hz, read.seconds, read.channels) == (8000.0, 2.0, channels)
    assert np.abs(whole(read) - TONE).max() < 2 ** (2 - 8 * min(width, 3))


@pytest.mark.parametrize(("name", "subtype"), [("a.flac", "PCM_16"), ("a.ogg", "VORBIS"), ("a.wav", "FLOAT")])
def test_what_the_extra_reads(tmp_path: Path, name: str, subtype: str) -> None:
    soundfile = pytest.importorskip("soundfile")
    soundfile.write(tmp_path / name, TONE, 8000, subtype=subtype)
    read = whole(read_recording(tmp_path / name))
    assert read.size == TONE.size
    assert np.abs(read - TONE).max() < 0.1


def test_numbers_that_are_none_count_as_silence(tmp_path: Path) -> None:
    soundfile = pytest.importorskip("soundfile")
    from calmday.reduction.sound_rate import thinned  # noqa: PLC0415

    broken = TONE.copy()
    broken[500:900] = np.nan
    broken[1000] = np.inf
    soundfile.write(tmp_path / "a.wav", broken, 8000, subtype="FLOAT")
    read = read_recording(tmp_path / "a.wav")
    assert np.isfinite(np.concatenate(list(thinned(read.blocks(), read.rate_hz)))).all()


def lying(frames: int, rate: int = 8000, channels: int = 1) -> bytes:
    """The head of a WAV that says what it likes."""
    size = frames * 2 * channels
    head = b"RIFF" + struct.pack("<I", min(36 + size, 2**32 - 1)) + b"WAVEfmt "
    head += struct.pack("<IHHIIHH", 16, 1, channels, rate, min(2 * rate * channels, 2**32 - 1), 2 * channels, 16)
    return head + b"data" + struct.pack("<I", min(size, 2**32 - 1)) + bytes(40_000)


GOOD = wav_bytes(TONE, 8000)
BROKEN = {
    "empty": b"",
    "a text": b"hello, this is no sound at all" * 10,
    "a film": b"\x00\x00\x00\x18ftypmp42" + bytes(100),
    "web sound": b"\x1aE\xdf\xa3" + bytes(100),
    "breaks off in its head": GOOD[:30],
    "breaks off": GOOD[:20_000],
    "promises hours": lying(2**30),
    "no samples": wav_bytes(np.zeros(0), 8000),
    "half a second": wav_bytes(TONE[:4000], 8000),
    "absurd rate": lying(20_000, rate=2_000_000_000),
    "no rate": lying(20_000, rate=0),
    "no channels": lying(20_000, channels=0),
    "broken flac": b"fLaC" + bytes(200),
    "broken ogg": b"OggS" + bytes(range(200)),
}


@pytest.mark.parametrize("what", BROKEN)
def test_what_cannot_be_read_is_refused_with_a_remedy(what: str) -> None:
    if what.endswith(("flac", "ogg")):
        pytest.importorskip("soundfile")
    with pytest.raises(InputError) as caught:
        list(recording_of_bytes(BROKEN[what], "cab.wav").blocks())
    (fault,) = caught.value.faults
    assert fault.file == "cab.wav"
    assert len(fault.right) > 8


@pytest.mark.parametrize("seed", range(12))
def test_flipped_bytes_are_read_or_refused(seed: int) -> None:
    random = np.random.default_rng(seed)
    data = bytearray(GOOD)
    for place in random.integers(0, 60, 4):
        data[place] = random.integers(0, 256)
    try:
        found = recording_of_bytes(bytes(data), "cab.wav")
        assert found.seconds <= LONGEST_S
        assert all(block.size for block in found.blocks())
    except InputError as error:
        assert error.faults[0].file == "cab.wav"


def test_a_folder_and_a_missing_file(tmp_path: Path) -> None:
    for path in (tmp_path, tmp_path / "nowhere.wav"):
        with pytest.raises(InputError):
            read_recording(path)
