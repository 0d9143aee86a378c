"""Engine speed from sound: the scenario with a published ratio check, gears, tyre, clutch, and what is not known."""

from __future__ import annotations

import sys
from pathlib import Path

import numpy as np
import pytest

ROOT = Path(__file__).parents[2]
sys.path.insert(0, str(ROOT / "tests" / "samples"))
from sample_sounds import SHEET, Drive, held_speed  # noqa: E402

from calmday.operations import hear_sound_file  # noqa: E402
from calmday.reports.sound_sheet import sound_sheet, speed_csv  # noqa: E402


@pytest.mark.parametrize(
    ("firing_hz", "rpm", "overall", "axle"), [(277.0, 8310.0, 10.38, 4.60), (223.0, 6690.0, 8.35, 3.70)]
)
def test_small_van_with_a_motorcycle_engine(
    tmp_path: Path, firing_hz: float, rpm: float, overall: float, axle: float
) -> None:
    """Scenario with a rolling radius of 0.265 m at 80.0 km/h; primary 1.93 by sixth 1.17 is 2.259.

    Firing frequency n N / 120 for four-strokes; a four-cylinder at 1000 rpm fires 33.33 times a second.
    """
    recording = held_speed(tmp_path, firing_hz * 120 / 4)
    (tmp_path / "vehicle.toml").write_text(SHEET.format(axle=axle), encoding="utf-8")
    said = {"vehicle": str(tmp_path / "vehicle.toml"), "speed": "80.0 km/h"}
    result = hear_sound_file(recording, said).result
    assert result.share_known.value > 0.9
    (stretch,) = result.stretches
    assert stretch.engine_speed.value == pytest.approx(rpm, rel=5e-4)
    assert stretch.firing_frequency.value == pytest.approx(firing_hz, rel=5e-4)
    assert stretch.overall_ratio is not None
    assert stretch.overall_ratio.value == pytest.approx(overall, rel=2e-3)
    assert stretch.gear == 2
    assert result.ratio_difference is not None
    assert abs(result.ratio_difference.value) < 0.3
    assert not result.candidates


@pytest.fixture(scope="module")
def odd_drive(tmp_path_factory: pytest.TempPathFactory):  # type: ignore[no-untyped-def]
    folder = tmp_path_factory.mktemp("drive")
    drive = Drive(tyre=0.965, slip=0.09)
    drive.write(folder)
    return drive, hear_sound_file(folder / "sound.toml")


def test_engine_speed_along_a_drive(odd_drive) -> None:  # type: ignore[no-untyped-def]
    drive, heard = odd_drive
    trace = heard.result.trace
    truth = np.interp(trace.time_s, drive.time, drive.rpm)
    said = np.array([np.nan if v is None else v for v in trace.engine_speed_rpm])
    off = said / truth - 1
    known = np.isfinite(off)
    assert known.mean() > 0.9
    assert np.sqrt(np.mean(off[known] ** 2)) < 0.005
    low, high = (np.array([np.nan if v is None else v for v in side]) for side in (trace.low_rpm, trace.high_rpm))
    assert np.mean((low[known] <= truth[known]) & (truth[known] <= high[known])) > 0.9


def test_clocks_are_brought_together(odd_drive) -> None:  # type: ignore[no-untyped-def]
    offset = odd_drive[1].result.clock_offset
    assert offset is not None
    assert offset.low <= 6.3 <= offset.high
    assert offset.half_width < 1.0


def test_a_smaller_tyre_is_noticed_with_what_would_explain_it(odd_drive) -> None:  # type: ignore[no-untyped-def]
    result = odd_drive[1].result
    assert [g.gear for g in result.gears_heard] == [1, 2, 3, 4, 5]
    assert result.ratio_difference.value == pytest.approx(100 * (1 / 0.965 - 1), abs=0.4)
    ways = {c.what: c.would_be for c in result.candidates}
    assert float(ways["rolling circumference of the tyre"].split()[0]) == pytest.approx(2.13 * 0.965, rel=0.005)
    assert float(ways["axle ratio"]) == pytest.approx(4.1 / 0.965, rel=0.005)
    assert "ratio-or-tyre-not-as-declared" in {f.code for f in result.flags}


def test_the_clutch_is_caught_slipping_and_changing_gear_is_not(odd_drive) -> None:  # type: ignore[no-untyped-def]
    (slip,) = odd_drive[1].result.slips
    assert 76 < slip.start_s < 80 < slip.end_s < 84
    assert slip.gear == 5
    assert slip.excess.value == pytest.approx(9, abs=1)


def test_the_sheet_and_the_table(odd_drive) -> None:  # type: ignore[no-untyped-def]
    result = odd_drive[1].result
    sheet = sound_sheet(result)
    assert "more turns than the build sheet says" in sheet.lead
    assert "the clutch slipped" in sheet.lead
    assert any("Ada" in line for block in sheet.blocks for line in getattr(block, "lines", ()))
    lines = speed_csv(result).splitlines()
    assert lines[0] == "time_s,engine_speed_rpm,low_rpm,high_rpm,confidence,speed_kmh"
    assert len(lines) == len(result.trace.time_s) + 1


def test_a_drive_as_declared_raises_nothing(tmp_path: Path) -> None:
    Drive().write(tmp_path, clock_s=2.0, seed=8)
    result = hear_sound_file(tmp_path / "sound.toml").result
    assert abs(result.ratio_difference.value) < 0.5  # type: ignore[union-attr]
    assert not result.slips
    assert not result.candidates


def test_noise_alone_says_nothing(tmp_path: Path) -> None:
    recording = held_speed(tmp_path, 3000, seconds=6, snr_db=-50)
    (tmp_path / "vehicle.toml").write_text(SHEET.format(axle=4.6), encoding="utf-8")
    result = hear_sound_file(recording, {"vehicle": str(tmp_path / "vehicle.toml")}).result
    assert result.share_known.value == 0
    assert result.engine_speed is None
    assert {f.severity for f in result.flags} >= {"stop"}
    assert "does not say" in result.sentence
    assert all(s.why for s in result.not_known)


def test_the_picture_is_grey_and_marks_the_line(odd_drive) -> None:  # type: ignore[no-untyped-def]
    from calmday.reports.charts.engine_sound import engine_speed_chart, spectrogram_chart  # noqa: PLC0415

    heard = odd_drive[1]
    picture = spectrogram_chart(heard.result, heard.picture).svg("16:9", "light")
    assert "data:image/png;base64," in picture
    assert "firing line" in picture
    assert engine_speed_chart(heard.result) is not None
