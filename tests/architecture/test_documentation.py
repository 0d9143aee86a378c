"""The written pages keep up with the program."""

from __future__ import annotations

import json
import re
import sys
from pathlib import Path

import jsonschema
import pytest

import calmday
from calmday import operations
from calmday.cli.verbs import VERBS, Verbs, cli
from calmday.errors import InputError
from calmday.files.toml_table import Table
from calmday.reports.json_result import json_result

ROOT = Path(__file__).parents[2]
README = (ROOT / "README.md").read_text(encoding="utf-8")
GLOSSARY = (ROOT / "docs" / "glossary.md").read_text(encoding="utf-8")
FORMATS = (ROOT / "docs" / "file-formats.md").read_text(encoding="utf-8")
PAGES = sorted([*ROOT.glob("*.md"), *(ROOT / "docs").glob("*.md")])


def result_keys(name: str) -> set[str]:
    """Every key that the JSON of this result may hold."""
    schema = operations.schema(name)
    return {key for part in schema["$defs"].values() for key in part.get("properties", {})}


@pytest.mark.parametrize("name", operations.schema_names())
def test_the_glossary_names_every_key_of_every_result(name: str) -> None:
    keys = result_keys(name)
    assert keys
    assert sorted(key for key in keys if f"`{key}`" not in GLOSSARY) == []


@pytest.mark.parametrize("verb", VERBS)
def test_every_verb_and_option_is_documented(verb: str) -> None:
    command = Verbs.get_command(cli, None, verb)  # type: ignore[arg-type]
    assert command is not None
    assert f"calmday {verb}" in README
    for parameter in command.params:
        for option in parameter.opts:
            if option.startswith("--"):
                assert option in README, f"{verb} {option}"


def test_the_readme_opens_with_the_job_and_the_two_commands() -> None:
    title, job, *_ = re.split(r"\n\s*\n", README.strip())
    assert title.startswith("# ")
    assert 30 <= len(job.split()) <= 120
    demo, test = README.index("python3 dev.py demo"), README.index("python3 dev.py test")
    assert README.index(job) < demo < test < len(README) // 3


@pytest.mark.parametrize("page", PAGES, ids=lambda page: page.name)
def test_links_between_pages_lead_somewhere(page: Path) -> None:
    for target in re.findall(r"\]\((?!https?:|#)([^)#]+)", page.read_text(encoding="utf-8")):
        assert (page.parent / target).exists(), target


def test_the_exit_status_is_written_down() -> None:
    for status in ("| 0 |", "| 1 |", "| 2 |", "| 3 |"):
        assert status in README


def test_what_is_printed_follows_the_schema() -> None:
    sys.path.insert(0, str(ROOT / "tests" / "samples"))
    from sample_results import full_result  # noqa: PLC0415

    schema = json.loads(json_result(operations.schema("run")))
    validator = jsonschema.Draft202012Validator(schema)
    printed = json.loads(json_result(full_result()))
    assert list(validator.iter_errors(printed)) == []
    assert list(validator.iter_errors({**printed, "distance": 38.6})) != []


FIX = '<trkpt lat="52.6{i:04d}" lon="0.2"><ele>5</ele><time>2026-04-12T11:{m:02d}:{s:02d}Z</time></trkpt>'
GPX = '<gpx version="1.1" creator="test" xmlns="http://www.topografix.com/GPX/1/1"><trk><trkseg>{}</trkseg></trk></gpx>'


@pytest.fixture
def documented(tmp_path: Path) -> Path:
    """The files shown in docs/file-formats.md, with a short track, as a folder."""
    shown = re.findall(r"```(?:toml|csv)\n(.*?)```", FORMATS, re.DOTALL)
    for name, text in zip(("vehicle.toml", "full_load.csv", "run.toml"), shown, strict=False):
        (tmp_path / name).write_text(text, encoding="utf-8")
    fixes = "".join(FIX.format(i=i, m=20 + i // 60, s=i % 60) for i in range(300))
    (tmp_path / "out.gpx").write_text(GPX.format(fixes), encoding="utf-8")
    return tmp_path


def test_the_files_shown_are_files_that_can_be_read(documented: Path) -> None:
    run = calmday.read_run(documented / "run.toml")
    assert run.vehicle.name == "Fen Hauler"
    assert run.vehicle.final_drive == 4.1, "the change of May is not in force in April"
    assert run.vehicle.engine.full_load is not None
    assert run.track is not None
    assert len(run.track) == 300
    assert len(run.weighings) == 2
    assert len(run.weather.readings) == 2


MORE = """
smallest_change = "2 %"
distance = "4 km"
[published]
value = "34 mpg US"
[[fill]]
volume = "3 L"
"""


def test_every_key_of_a_run_and_its_vehicle_is_shown(documented: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """Whatever a reader asks a file for stands on the page of the formats, in a file shown there or between ticks."""
    asked: set[str] = set()
    raw = Table.raw

    def noted(table: Table, key: str) -> object:
        asked.add(key)
        return raw(table, key)

    monkeypatch.setattr(Table, "raw", noted)
    file = documented / "run.toml"
    first, rest = file.read_text(encoding="utf-8").split("[fuel]", 1)
    file.write_text(f"{first}{MORE}[fuel]{rest}", encoding="utf-8")
    calmday.read_run(file)
    assert {"gross", "null_test", "wind_from", "gear_ratios", "full_load_at", "salt", "volume"} <= asked
    shown = set(re.findall(r"([a-z_]+) =", FORMATS))
    shown |= {key for head in re.findall(r"^\[\[?([a-z_.]+)\]", FORMATS, re.MULTILINE) for key in head.split(".")}
    shown |= {key for ticked in re.findall(r"`([^`\n]+)`", FORMATS) for key in re.findall(r"[a-z_]+", ticked)}
    assert sorted(asked - shown) == []


def test_the_faults_shown_are_told_as_shown(documented: Path) -> None:
    file = documented / "run.toml"
    text = file.read_text(encoding="utf-8")
    file.write_text(
        text.replace('capacity = "20 kg"', 'capacity = "20"').replace("terrain =", "terain ="),
        encoding="utf-8",
    )
    with pytest.raises(InputError) as caught:
        calmday.read_run(file)
    shown = FORMATS[FORMATS.index("## When something is wrong") :]
    assert len(caught.value.faults) == 2
    for fault in caught.value.faults:
        assert f"run.toml: {fault.key}: {fault.wrong}; {fault.right}" in shown
