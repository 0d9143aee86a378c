"""`calmday know` and `calmday reduce --with` in process, with small measurements of every kind."""

from __future__ import annotations

import json
import re
import shutil
from pathlib import Path
from typing import Any

import jsonschema
import pytest

from calmday import operations
from calmday.cli.main import main

ROOT = Path(__file__).parents[2]
FEW = ["--draws", "300"]
SMALL = {
    "tow": 'kind = "tow force"\nforce = ["190 N", "205 N", "184 N", "199 N"]\nboth_ways = true',
    "bridge": 'kind = "weighbridge"\nmass = "1500 kg"\ninstrument = "20 kg"',
    "idle": 'kind = "idle burn"\nmass = "0.262 kg"\nduration = "30 min"\nidle_speed = "800 rpm"',
    "rollout": 'kind = "roll-out"\nlength = "21.2 m"\nturns = 10',
    "down": (
        'kind = "roll-down"\nfrom_speed = "60 km/h"\nto_speed = "40 km/h"\ntime = ["24 s", "21 s"]\nboth_ways = true'
    ),
    "held": 'kind = "held speed"\nspeed = "118 km/h"\ngear = 4\nheadwind = "0 m/s"',
    "hill": 'kind = "hill roll"\nspeed = "75 km/h"\ngrade = "3 %"',
    "litre": 'kind = "weighed litre"\nmass = "0.834 kg"\nvolume = "1.000 L"',
}


@pytest.fixture(scope="module")
def folder(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """The invented example with a file for each kind of measurement."""
    here = tmp_path_factory.mktemp("know")
    for file in (ROOT / "examples" / "fen-hauler").iterdir():
        if file.is_file():
            shutil.copy(file, here)
    for name, text in SMALL.items():
        (here / f"{name}.toml").write_text(f'vehicle = "vehicle.toml"\nlabel = "{name}"\n{text}\n', encoding="utf-8")
    return here


def known(folder: Path, capsys: Any, *more: str) -> dict[str, Any]:
    assert main(["know", str(folder), "--json", *FEW, *more]) == 0
    data: dict[str, Any] = json.loads(capsys.readouterr().out)
    return data


def evidence(folder: Path, *names: str) -> list[str]:
    return [part for name in names for part in ("--evidence", str(folder / f"{name}.toml"))]


def test_the_sheet_starts_with_the_sentence(folder: Path, capsys: Any) -> None:
    assert main(["know", str(folder), "--run", str(folder), *FEW]) == 0
    line = " ".join(capsys.readouterr().out.splitlines()[3:5])
    said = r"At a steady 80 km/h on a calm day it needs [\d.]+ L/100 km, give or take [\d.]+: so say one test"
    assert re.match(said, line)


def test_every_kind_of_measurement_goes_in_and_the_json_follows_the_schema(folder: Path, capsys: Any) -> None:
    data = known(folder, capsys, "--run", str(folder), *evidence(folder, *SMALL))
    jsonschema.Draft202012Validator(operations.schema("knowledge")).validate(data)
    assert {test["label"] for test in data["tests"]} >= set(SMALL) - {"litre"}
    assert data["densities"][0]["value"] == pytest.approx(834, abs=0.5)
    at = {one["key"]: one for one in data["parameters"]}
    assert at["test_mass"]["told_most_by"] == "bridge"
    assert at["gearing_scale"]["told_most_by"] == "rollout"
    assert len(at["drag_area"]["ladder"]) == len(data["tests"]) + 1


@pytest.mark.parametrize(
    ("name", "key"),
    [
        ("tow", "rolling_resistance"), ("bridge", "test_mass"), ("idle", "friction_mep"), ("rollout", "gearing_scale"),
        ("down", "drag_area"), ("held", "full_load_scale"), ("hill", "drag_area"),
    ],
)  # fmt: skip
def test_each_measurement_narrows_what_it_is_about(folder: Path, capsys: Any, name: str, key: str) -> None:
    at = {one["key"]: one for one in known(folder, capsys, *evidence(folder, name))["parameters"]}
    assert at[key]["narrowed_to"] < 0.98
    assert at["rolling_temperature"]["narrowed_to"] > 0.9


def test_a_build_sheet_that_is_off_is_told_with_its_key(folder: Path, capsys: Any) -> None:
    heavy = folder / "heavy.toml"
    heavy.write_text('vehicle = "vehicle.toml"\nkind = "weighbridge"\nmass = "1710 kg"\n', encoding="utf-8")
    flags = known(folder, capsys, "--evidence", str(heavy))["flags"]
    told = [flag for flag in flags if flag["code"] == "build-sheet-doubted"]
    assert len(told) == 1
    assert "test_mass" in told[0]["message"]


def test_one_lying_measurement_is_named(folder: Path, capsys: Any) -> None:
    lie = folder / "lie.toml"
    lie.write_text(
        'vehicle = "vehicle.toml"\nlabel = "liar"\nkind = "weighbridge"\nmass = "1150 kg"\ninstrument = "8 kg"\n',
        encoding="utf-8",
    )
    again = folder / "again.toml"
    again.write_text((folder / "bridge.toml").read_text(encoding="utf-8").replace("1500", "1495"), encoding="utf-8")
    data = known(folder, capsys, *evidence(folder, "bridge", "again", "lie"))
    assert [test["label"] for test in data["tests"] if test["odd"]] == ["liar"]
    mass = next(one for one in data["parameters"] if one["key"] == "test_mass")["estimate"]["value"]
    assert mass == pytest.approx(1495, abs=12)


def test_a_run_learns_from_other_tests(folder: Path, capsys: Any) -> None:
    widths = []
    for more in ([], [part for name in ("tow", "bridge", "idle") for part in ("--with", str(folder / f"{name}.toml"))]):
        assert main(["reduce", str(folder), "--json", *FEW, *more]) == 0
        data = json.loads(capsys.readouterr().out)
        mass = data["estimates"]["test_mass"]
        widths.append((mass["high"] - mass["low"], data["calm_day"]["L_per_100km"]["value"]))
    assert widths[1][0] < 0.6 * widths[0][0]
    assert widths[1][1] == pytest.approx(widths[0][1], rel=0.03)


@pytest.mark.parametrize(
    ("text", "told"),
    [
        ('kind = "tow force"\n', "force: is missing"),
        ('kind = "roll-out"\nlength = "20 m"\n', "turns: is missing"),
        ('kind = "tow rope"\nforce = "100 N"\n', "kind"),
        ('kind = "held speed"\nspeed = "90 km/h"\ngear = 9\n', "gear: is not a gear of this vehicle"),
        ('kind = "weighbridge"\nmass = "1400"\n', "mass"),
    ],
    ids=["no force", "no turns", "no such kind", "no such gear", "no unit"],
)
def test_faults_are_told_with_their_place(folder: Path, capsys: Any, text: str, told: str) -> None:
    file = folder / "fault.toml"
    file.write_text('vehicle = "vehicle.toml"\n' + text, encoding="utf-8")
    assert main(["know", str(folder), "--evidence", str(file)]) == 2
    err = capsys.readouterr().err
    assert "fault.toml" in err
    assert told in err
