"""The Python interface: digest, schema, the same figures as the command, arrays behind them."""

from __future__ import annotations

import json
import math
import shutil
from pathlib import Path
from typing import Any

import jsonschema
import msgspec
import numpy as np
import pytest

import calmday
from calmday import operations
from calmday.cli.main import main
from calmday.errors import InputError
from calmday.metrology.figure import from_draws

EXAMPLE = Path(__file__).parents[2] / "examples" / "fen-hauler"
DRAWS = 500

BARE = 'distance = "30 km"\n' + "".join(
    f'[[weighing]]\nwhen = "{when}"\ngross = "{grams} g"\n' for when, grams in (("before", 7000), ("after", 5000))
)
NO_DISTANCE_HALF = BARE.replace('distance = "30 km"', 'distance = "30 km"\nduration = "26 min"')


@pytest.fixture(scope="module")
def example() -> operations.Reduction:
    return operations.reduce_file(EXAMPLE / "run.toml", draws=DRAWS, seed=5)


@pytest.fixture
def copy(tmp_path: Path) -> Path:
    """The example in a folder of its own."""
    return Path(shutil.copytree(EXAMPLE, tmp_path / "somewhere else"))


def written(folder: Path, text: str) -> Path:
    (folder / "run.toml").write_text(text, encoding="utf-8")
    return folder / "run.toml"


def digest(folder: Path) -> str:
    return operations.reduce_file(folder / "run.toml", draws=200).result.provenance.inputs_sha256


def test_digest_knows_no_folder(copy: Path, example: operations.Reduction) -> None:
    assert digest(copy) == example.result.provenance.inputs_sha256
    assert len(example.result.provenance.inputs_sha256) == 64


def test_digest_changes_with_every_input_and_with_nothing_else(copy: Path, example: operations.Reduction) -> None:
    """One character more in any file that the run names gives another digest; a file it does not name gives none."""
    known = {example.result.provenance.inputs_sha256}
    (copy / "truth.json").write_text("{}", encoding="utf-8")
    (copy / "notes.txt").write_text("bring gloves", encoding="utf-8")
    assert digest(copy) in known
    for name, more in (("run.toml", "\n"), ("vehicle.toml", "\n"), ("full_load.csv", "\n"), ("out.gpx", "\n")):
        kept = (copy / name).read_bytes()
        (copy / name).write_bytes(kept + more.encode())
        found = digest(copy)
        assert found not in known, name
        known.add(found)
        (copy / name).write_bytes(kept)
    assert digest(copy) == example.result.provenance.inputs_sha256


def test_digest_changes_with_a_name(copy: Path, example: operations.Reduction) -> None:
    (copy / "out.gpx").rename(copy / "home.gpx")
    text = (copy / "run.toml").read_text(encoding="utf-8").replace("out.gpx", "home.gpx")
    (copy / "run.toml").write_text(text, encoding="utf-8")
    assert digest(copy) != example.result.provenance.inputs_sha256


def test_provenance(example: operations.Reduction) -> None:
    found = example.result.provenance
    assert (found.program, found.version, found.seed) == ("calmday", calmday.__version__, 5)
    assert set(found.files) == {"run.toml", "vehicle.toml", "full_load.csv", "out.gpx"}


def printed(arguments: list[str], capsys: pytest.CaptureFixture[str]) -> dict[str, Any]:
    main(arguments)
    return json.loads(capsys.readouterr().out)


def check_schema(name: str, data: dict[str, Any]) -> None:
    made = operations.schema(name)
    jsonschema.Draft202012Validator.check_schema(made)
    jsonschema.validate(data, made, cls=jsonschema.Draft202012Validator)


@pytest.mark.parametrize("text", ["example", BARE, NO_DISTANCE_HALF], ids=["example", "bare", "without a track"])
def test_schema_fits_what_is_printed(text: str, tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    path = EXAMPLE / "run.toml" if text == "example" else written(tmp_path, text)
    data = printed(["reduce", str(path), "--json", "--draws", "300"], capsys)
    assert data["schema"] == "calmday/run/1"
    check_schema("run", data)


def test_schema_fits_null(tmp_path: Path) -> None:
    """No distance at all: no consumption can be known; it is printed as null, and the schema allows it."""
    run = msgspec.structs.replace(calmday.read_run(written(tmp_path, BARE)), distance_m=None)
    data = json.loads(msgspec.json.encode(calmday.reduce_run(run, draws=200).result))
    assert data["distance"]["value"] is None
    assert data["as_driven"]["mpg_us"] == {
        "value": None, "standard_uncertainty": None, "low": None, "high": None, "unit": "mpg US",
    }  # fmt: skip
    assert data["fuel_mass"]["value"] == pytest.approx(2.0, rel=0.01)
    check_schema("run", data)


def test_schema_refuses_what_is_not_a_result(example: operations.Reduction) -> None:
    data = json.loads(msgspec.json.encode(example.result))
    check_schema("run", data)
    for spoil in (
        lambda d: d.pop("distance"),
        lambda d: d["as_driven"].pop("mpg_us"),
        lambda d: d["fuel_mass"].update(value="2 kg"),
        lambda d: d["flags"].append({"code": "x"}),
        lambda d: d.update(calm_day=3),
    ):
        bad = json.loads(json.dumps(data))
        spoil(bad)
        with pytest.raises(jsonschema.ValidationError):
            check_schema("run", bad)


def test_schema_of_the_check(capsys: pytest.CaptureFixture[str]) -> None:
    check_schema("check", printed(["check", str(EXAMPLE / "run.toml"), "--json"], capsys))


def test_unknown_schema_is_refused_with_the_known_ones() -> None:
    with pytest.raises(InputError, match="check"):
        operations.schema("nonsense")
    assert {"run", "check"} <= set(operations.schema_names())


def test_keys_of_the_contract(capsys: pytest.CaptureFixture[str]) -> None:
    """The names that interchange.md promises."""
    data = printed(["reduce", str(EXAMPLE / "run.toml"), "--json", "--draws", "300"], capsys)
    promised = {
        "schema", "distance", "moving_time", "fuel_mass", "fuel_volume", "as_driven", "calm_day", "level_cruise",
        "penalties", "energy", "budget", "laps", "legs", "estimates", "reference", "flags",
    }  # fmt: skip
    assert promised <= set(data)
    units = {"L_per_100km", "mpg_us", "mpg_imp", "km_per_L", "g_per_km", "MJ_per_km", "co2_g_per_km", "cost_per_km"}
    assert units == set(data["as_driven"]) == set(data["calm_day"])
    assert set(data["penalties"]) == {"wind", "air_density", "cold_engine", "cold_tyres"}
    assert {"drag_area", "rolling_resistance", "indicated_efficiency", "friction_mep"} <= set(data["estimates"])
    assert data["reference"] == {
        "wind": "0 m/s", "temperature": "20 degC", "pressure": "100 kPa", "relative_humidity": "50 %",
    }  # fmt: skip
    figure = data["calm_day"]["L_per_100km"]
    assert set(figure) == {"value", "standard_uncertainty", "low", "high", "unit"}
    assert figure["unit"] == "L/100km"
    assert figure["low"] < figure["value"] < figure["high"]
    for name, keys in (
        ("level_cruise", {"speed", "L_per_100km", "mpg_us"}),
        ("energy", {"to", "energy", "share"}),
        ("budget", {"source", "contribution", "share"}),
        ("flags", {"code", "severity", "message"}),
    ):
        assert all(keys <= set(row) for row in data[name])


def test_python_interface_gives_the_figures_of_the_command(capsys: pytest.CaptureFixture[str]) -> None:
    """`calmday.read_run` and `reduce_run` are the very thing that the command uses."""
    data = printed(["reduce", str(EXAMPLE / "run.toml"), "--json", "--draws", "400", "--seed", "9"], capsys)
    run = calmday.read_run(EXAMPLE / "run.toml")
    mine = json.loads(msgspec.json.encode(calmday.reduce_run(run, draws=400, seed=9).result))
    for key in set(data) - {"provenance"}:
        assert mine[key] == data[key], key
    by_file = json.loads(msgspec.json.encode(calmday.reduce_file(EXAMPLE / "run.toml", draws=400, seed=9).result))
    assert by_file == data


def test_text_and_path_alike() -> None:
    one, other = (
        operations.reduce_file(p, draws=200).result for p in (EXAMPLE / "run.toml", str(EXAMPLE / "run.toml"))
    )
    assert one == other


def test_draws(example: operations.Reduction) -> None:
    draws, result = example.draws, example.result
    assert {"fuel_mass_kg", "distance_m", "as_driven_L_per_100km", "calm_day_L_per_100km", "penalty_wind"} <= set(draws)
    assert {"drag_area", "rolling_resistance", "indicated_efficiency"} <= set(draws)
    for name, values in draws.items():
        assert values.shape == (DRAWS,), name
        assert np.isfinite(values).all(), name
    for name, figure in (
        ("calm_day_L_per_100km", result.calm_day.L_per_100km),
        ("penalty_wind", result.penalties.wind),
    ):
        found = from_draws(draws[name], figure.unit)
        assert found.value == pytest.approx(figure.value)
        assert (found.low, found.high) == (pytest.approx(figure.low), pytest.approx(figure.high))
    for name, figure, scale in (
        ("as_driven_L_per_100km", result.as_driven.L_per_100km, 1.0),
        ("fuel_mass_kg", result.fuel_mass, 1.0),
        ("distance_m", result.distance, 1000.0),
    ):
        spread = figure.standard_uncertainty * scale
        assert draws[name].mean() == pytest.approx(figure.value * scale, abs=0.2 * spread)
        assert draws[name].std() == pytest.approx(spread, rel=0.15)


def test_a_row_is_one_draw_of_everything(example: operations.Reduction) -> None:
    """Row by row the penalties are the percentage from calm day to as driven."""
    draws = example.draws
    total = sum(values for name, values in draws.items() if name.startswith("penalty_"))
    ratio = draws["as_driven_L_per_100km"] / draws["calm_day_L_per_100km"]
    assert total == pytest.approx(100 * (ratio - 1), abs=1e-9)
    per_metre = draws["fuel_mass_kg"] / draws["distance_m"]
    assert np.corrcoef(per_metre, draws["as_driven_L_per_100km"])[0, 1] > 0.5


def test_draws_without_a_calm_day(tmp_path: Path) -> None:
    reduction = operations.reduce_file(written(tmp_path, BARE), draws=DRAWS)
    assert set(reduction.draws) == {"fuel_mass_kg", "distance_m", "as_driven_L_per_100km"}
    assert reduction.curves == {}
    assert reduction.along is None


def test_curves(example: operations.Reduction) -> None:
    curves, result = example.curves, example.result
    assert {"time_s", "latitude_deg", "longitude_deg", "distance_m", "speed_mps", "height_m", "grade"} <= set(curves)
    lengths = {values.shape for values in curves.values()}
    assert len(lengths) == 1
    (count,) = lengths.pop()
    assert count > 1000
    assert np.all(np.diff(curves["time_s"]) > 0)
    assert np.all(np.diff(curves["distance_m"]) >= -1e-6)
    assert curves["distance_m"][-1] == pytest.approx(1000 * result.distance.value, rel=1e-3)
    assert np.abs(curves["latitude_deg"]).max() < 90
    known = np.isfinite(curves["fuel_rate_kgps"])
    assert known.sum() > 0.9 * count
    assert np.all(curves["fuel_rate_kgps_low"][known] <= curves["fuel_rate_kgps_high"][known])


def test_representation(example: operations.Reduction) -> None:
    assert repr(example) == f"<Reduction: {example.result.sentence}>"
    litres = example.result.calm_day.L_per_100km.value
    assert f"{litres:.1f}" in repr(example)
    html = example._repr_html_()
    assert example.result.sentence.split(",")[0] in html
    assert "<script" not in html


def test_result_is_worked_out_once(example: operations.Reduction) -> None:
    assert example.result is example.result


def test_check_of_the_example() -> None:
    check = calmday.check_file(EXAMPLE / "run.toml")
    assert check.schema == "calmday/check/1"
    assert not any(flag.severity == "stop" for flag in check.flags)
    assert {row[0] for row in check.rows} >= {"fuel burnt", "distance", "mean speed", "as driven"}


def test_every_fault_of_a_file_is_listed(tmp_path: Path) -> None:
    text = BARE.replace('"7000 g"', '"7000"').replace('"30 km"', '"30 kg"')
    with pytest.raises(InputError) as caught:
        operations.reduce_file(written(tmp_path, text))
    assert {fault.key for fault in caught.value.faults} >= {"distance", "weighing[0].gross"}


def test_demo_folder_holds_a_run() -> None:
    assert (operations.demo_folder() / "run.toml").is_file()


def test_public_names_are_there_and_others_are_not() -> None:
    for name in calmday.__all__:
        assert getattr(calmday, name) is getattr(operations, name)
    with pytest.raises(AttributeError, match="nonsense"):
        _ = calmday.nonsense
    with pytest.raises(AttributeError, match="nonsense"):
        _ = operations.nonsense


def test_same_input_same_digits() -> None:
    one, other = (operations.reduce_file(EXAMPLE / "run.toml", draws=300).result for _ in range(2))
    assert msgspec.json.encode(one) == msgspec.json.encode(other)
    assert math.isfinite(one.calm_day.L_per_100km.value)
