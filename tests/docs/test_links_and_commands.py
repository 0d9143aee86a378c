"""Links lead to a page and a heading that exist; commands shown are commands."""

from __future__ import annotations

import re
import shlex
from pathlib import Path

import pytest

from calmday.cli.verbs import VERBS, Verbs, cli

ROOT = Path(__file__).parents[2]
PAGES = sorted([*ROOT.glob("*.md"), *(ROOT / "docs").glob("*.md")])
LINK = re.compile(r"\[[^\]]*\]\((?!https?:)([^)#\s]*)(?:#([^)\s]+))?\)")


def without_fences(text: str) -> str:
    return re.sub(r"```.*?```", "", text, flags=re.DOTALL)


def anchors(page: Path) -> set[str]:
    """Addresses of a page's headings, as the usual viewers make them."""
    heads = re.findall(r"^#+ (.+)$", without_fences(page.read_text(encoding="utf-8")), re.MULTILINE)
    return {re.sub(r"[^\w\- ]", "", head.strip().lower()).replace(" ", "-") for head in heads}


@pytest.mark.parametrize("page", PAGES, ids=lambda page: page.name)
def test_every_link_leads_to_a_page_and_a_heading(page: Path) -> None:
    for target, anchor in LINK.findall(without_fences(page.read_text(encoding="utf-8"))):
        there = (page.parent / target).resolve() if target else page
        assert there.exists(), target
        if anchor:
            assert anchor in anchors(there), f"{target}#{anchor}"


def test_every_page_can_be_reached_from_the_readme() -> None:
    seen, todo = set(), [ROOT / "README.md"]
    while todo:
        page = todo.pop()
        if page in seen or page.suffix != ".md":
            continue
        seen.add(page)
        todo += [
            (page.parent / target).resolve()
            for target, _ in LINK.findall(without_fences(page.read_text(encoding="utf-8")))
            if target and (page.parent / target).is_file()
        ]
    missed = {page.name for page in (ROOT / "docs").glob("*.md")} - {page.name for page in seen}
    assert not missed


def shown_commands() -> list[tuple[str, str]]:
    found = []
    for page in PAGES:
        text = page.read_text(encoding="utf-8")
        lines = [line for fence in re.findall(r"```\w*\n(.*?)```", text, re.DOTALL) for line in fence.splitlines()]
        lines += re.findall(r"`(calmday [^`]+)`", without_fences(text))
        found += [(page.name, line.split("  #")[0].strip()) for line in lines if line.startswith("calmday ")]
    return found


@pytest.mark.parametrize(("page", "line"), shown_commands())
def test_commands_shown_exist_with_their_options(page: str, line: str) -> None:
    words = shlex.split(re.sub(r"\[.*?\]", "", line))[1:]
    if words[0].startswith("--"):
        assert words[0] in {option for parameter in cli.params for option in parameter.opts} | {"--help"}
        return
    assert words[0] in VERBS, f"{page}: {line}"
    command = Verbs.get_command(cli, None, words[0])  # type: ignore[arg-type]
    assert command is not None
    options = {option for parameter in command.params for option in parameter.opts} | {"--help"}
    assert {word for word in words[1:] if word.startswith("--")} <= options, f"{page}: {line}"
