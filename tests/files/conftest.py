"""A small sound test day in a folder, and the shared open data where it is present."""

from __future__ import annotations

import sys
from collections.abc import Callable
from pathlib import Path

import pytest
from file_samples import FULL_LOAD, RUN, VEHICLE, gpx_of, point

sys.path.insert(0, str(Path(__file__).parents[1] / "samples"))

SHARED = Path(__file__).parents[2].parent / "shared/data"


@pytest.fixture
def day(tmp_path: Path) -> Path:
    """A folder with run.toml and all it names."""
    (tmp_path / "vehicle.toml").write_text(VEHICLE, encoding="utf-8")
    (tmp_path / "run.toml").write_text(RUN, encoding="utf-8")
    (tmp_path / "full_load.csv").write_text(FULL_LOAD, encoding="utf-8")
    (tmp_path / "out.gpx").write_bytes(gpx_of("".join(point(i) for i in range(20))))
    return tmp_path


@pytest.fixture
def shared() -> Callable[[str], Path]:
    """The path of a file of the shared open data; skips the test where it is absent."""

    def locate(name: str) -> Path:
        path = SHARED / name
        if not path.exists():
            pytest.skip(f"open data not present: {path}")
        return path

    return locate
