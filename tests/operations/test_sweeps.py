"""Work in parts: the same results here, in processes and on a cluster; a worker that is killed loses nothing."""

from __future__ import annotations

import csv
import os
import signal
import sys
from pathlib import Path

import numpy as np
import pytest

sys.path.insert(0, str(Path(__file__).parents[1] / "procedures"))
from what_if_samples import sheet_in

from calmday import operations
from calmday.errors import CalmdayError, InputError
from calmday.operations.chunks import Kept, StoppedError, Work, do_part, work_out

GRID = """
vehicle = "vehicle.toml"
speed = "80 km/h"
wind = "3 m/s"
draws = 60
[[axis]]
key = "final_drive"
values = [3.5, 3.8, 4.1]
[[axis]]
key = "drag_coefficient"
from = "-10 %"
to = "+0 %"
steps = 3
[[axis]]
key = "speed"
values = ["70 km/h", "80 km/h"]
"""


def squares(shared: bytes, start: int, stop: int) -> bytes:
    """Work that anyone can check; with a mark it ends its worker the first time."""
    mark = Path(shared.decode()) if shared else None
    if mark is not None and start == 20 and not mark.exists():
        mark.touch()
        os.kill(os.getpid(), signal.SIGKILL)
    return b"".join((n * n).to_bytes(8, "little") for n in range(start, stop))


def deadly(_shared: bytes, _start: int, _stop: int) -> bytes:
    """Work that ends its worker every time."""
    os.kill(os.getpid(), signal.SIGKILL)
    return b""


SQUARES = f"{__name__}:squares"


def work(shared: bytes = b"", function: str = SQUARES) -> Work:
    return Work(function=function, shared=shared, count=95, size=10)


def whole(kept: Kept, asked: Work) -> bytes:
    return b"".join(kept.contents(asked.parts))


EXPECTED = b"".join((n * n).to_bytes(8, "little") for n in range(95))


@pytest.mark.parametrize("workers", [1, 2])
def test_parts_add_up_to_the_whole(workers: int, tmp_path: Path) -> None:
    kept, told = Kept(tmp_path, work()), []
    work_out(work(), kept, workers=workers, told=lambda done, parts: told.append((done, parts)))
    assert whole(kept, work()) == EXPECTED
    assert told[0] == (0, 10)
    assert told[-1] == (10, 10)


@pytest.mark.skipif(os.name == "nt", reason="kill -9 is not there")
def test_a_worker_that_is_killed_loses_nothing(tmp_path: Path) -> None:
    asked = work(str(tmp_path / "killed").encode())
    kept = Kept(tmp_path / "parts", asked)
    work_out(asked, kept, workers=2)
    assert (tmp_path / "killed").exists()
    assert whole(kept, asked) == EXPECTED


@pytest.mark.skipif(os.name == "nt", reason="kill -9 is not there")
def test_work_that_ends_every_worker_is_given_up(tmp_path: Path) -> None:
    asked = work(function=f"{__name__}:deadly")
    with pytest.raises(CalmdayError, match="ended its worker 3 times"):
        work_out(asked, Kept(tmp_path, asked), workers=2)


@pytest.mark.parametrize("workers", [1, 2])
def test_stopped_work_goes_on_where_it_was(workers: int, tmp_path: Path) -> None:
    kept, answers = Kept(tmp_path, work()), iter([True] * 3)
    with pytest.raises(StoppedError):
        work_out(work(), kept, workers=workers, wanted=lambda: next(answers, False))
    left = kept.missing(10)
    assert 0 < len(left) <= 10
    told: list[int] = []
    work_out(work(), kept, workers=1, told=lambda done, _: told.append(done))
    assert told[0] == 10 - len(left)
    assert whole(kept, work()) == EXPECTED


def test_parts_of_other_work_are_not_taken(tmp_path: Path) -> None:
    Kept(tmp_path, work())
    with pytest.raises(InputError, match="parts of other work"):
        Kept(tmp_path, work(b"else"))


def test_a_cluster_gives_the_same(tmp_path: Path) -> None:
    distributed = pytest.importorskip("distributed")
    with distributed.LocalCluster(
        n_workers=1, threads_per_worker=1, processes=False, protocol="tcp://", host="127.0.0.1", dashboard_address=None
    ) as cluster:
        kept = Kept(tmp_path, work())
        work_out(work(), kept, dask=cluster.scheduler_address)
        assert whole(kept, work()) == EXPECTED


def test_a_cluster_that_is_not_there_is_told(tmp_path: Path) -> None:
    pytest.importorskip("distributed")
    with pytest.raises(InputError, match="cannot be reached"):
        work_out(work(), Kept(tmp_path, work()), dask="tcp://127.0.0.1:9")


@pytest.fixture
def grid(tmp_path: Path) -> Path:
    sheet_in(tmp_path)
    (tmp_path / "sweep.toml").write_text(GRID, encoding="utf-8")
    return tmp_path / "sweep.toml"


def test_a_sweep_gives_what_single_questions_give(grid: Path) -> None:
    rows = grid.with_name("rows.csv")
    result = operations.sweep_file(grid, rows=rows, workers=1, seed=5)
    assert (result.combinations, result.held) == (18, 18)
    with rows.open(encoding="utf-8-sig", newline="") as file:
        found = list(csv.DictReader(file))
    for row in found:
        asked = {"speed": row["speed"], "wind": "3 m/s"}
        settings = (f"final_drive={row['final_drive']}", f"drag_coefficient={row['drag_coefficient']}")
        single = operations.what_if_words(grid.with_name("vehicle.toml"), settings, asked, draws=100, seed=5)
        assert single.together is not None
        assert single.together.after.gear == int(float(row["gear"]))
    same = operations.what_if_words(
        grid.with_name("vehicle.toml"), ("final_drive=-7.31707317 %",), {"speed": "80 km/h", "wind": "3 m/s"},
        draws=100, seed=5,
    )  # fmt: skip
    row = next(r for r in found if (r["final_drive"], r["drag_coefficient"], r["speed"]) == ("3.8", "+0 %", "80 km/h"))
    assert same.changes[0].after.windy is not None
    assert float(row["fuel_L_per_100km"]) == pytest.approx(same.changes[0].after.windy.value, rel=0.02)


def test_rows_do_not_depend_on_how_the_work_was_shared_out(grid: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr("calmday.operations.sweep.PART", 5)
    texts = []
    for workers in (1, 2):
        rows = grid.with_name(f"rows-{workers}.csv")
        operations.sweep_file(grid, rows=rows, workers=workers, seed=5)
        texts.append(rows.read_bytes())
    monkeypatch.setattr("calmday.operations.sweep.PART", 1000)
    operations.sweep_file(grid, rows=grid.with_name("whole.csv"), workers=1, seed=5)
    assert texts[0] == texts[1] == grid.with_name("whole.csv").read_bytes()


@pytest.mark.parametrize(
    ("old", "new", "key"),
    [
        ('key = "final_drive"', 'key = "colour"', "axis[0].key"),
        ("values = [3.5, 3.8, 4.1]", "values = []", "axis[0].values"),
        ("values = [3.5, 3.8, 4.1]", 'values = ["tall"]', "axis[0].values"),
        ("steps = 3", "steps = 1", "axis[1].steps"),
        ('to = "+0 %"', 'to = "3 m"', "axis[1].to"),
        ("draws = 60", "draws = 1", "draws"),
        ('vehicle = "vehicle.toml"', 'vehicle = "none.toml"', "file"),
        ("values = [3.5, 3.8, 4.1]", "from = 3.0\nto = 4.0\nsteps = 100000", "axis"),
    ],
)
def test_faults_of_a_grid_name_their_key(grid: Path, old: str, new: str, key: str) -> None:
    text = GRID.replace(old, new)
    if key == "axis":
        text = text.replace("steps = 3", "steps = 99999")
    grid.write_text(text, encoding="utf-8")
    with pytest.raises(InputError) as caught:
        operations.sweep_file(grid, workers=1)
    assert key in {fault.key for fault in caught.value.faults}


def test_do_part_finds_functions_by_name() -> None:
    assert np.frombuffer(do_part(SQUARES, b"", 2, 5), "<u8").tolist() == [4, 9, 16]
