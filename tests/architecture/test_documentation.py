"""The written pages keep up with the program."""

from __future__ import annotations

import json
import re
import sys
from pathlib import Path

import jsonschema
import pytest

from calmday import operations
from calmday.cli.main import VERBS, Verbs, cli
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
