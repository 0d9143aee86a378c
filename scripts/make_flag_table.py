"""Write the table of flags into `docs/method.md`, between its two marks.

Codes, severities and limits are read from the code; the words stand in flag_page.toml. Run
`python scripts/make_flag_table.py` after changing a flag; `--check` only compares.
"""

from __future__ import annotations

import ast
import importlib
import re
import sys
import tomllib
from collections.abc import Iterator
from pathlib import Path

ROOT = Path(__file__).parents[1]
PAGE = ROOT / "docs" / "method.md"
PROCEDURES = ROOT / "src" / "calmday" / "procedures"
WORDS: dict[str, dict[str, str]] = tomllib.loads(Path(__file__).with_name("flag_page.toml").read_text(encoding="utf-8"))
START, END = "<!-- flags: written by scripts/make_flag_table.py -->", "<!-- end of flags -->"

_LIMIT = re.compile(r"\{(\w+)\.(\w+)((?:\[\w+\])*)(?::([\d.]+))?\}")


def _texts(node: ast.expr) -> list[str]:
    """The strings an expression may come out as."""
    if isinstance(node, ast.Constant):
        return [str(node.value)]
    if isinstance(node, ast.IfExp):
        return [*_texts(node.body), *_texts(node.orelse)]
    raise SystemExit(f"a flag's code or severity is not a plain string: {ast.unparse(node)}")


def flags_in_code() -> Iterator[tuple[str, tuple[str, ...]]]:
    """Code and possible severities of every flag that a weighed run raises, in the order of the files."""
    for file in sorted(PROCEDURES.glob("run_flags*.py")):
        for node in ast.walk(ast.parse(file.read_text(encoding="utf-8"))):
            if isinstance(node, ast.Call) and isinstance(node.func, ast.Name) and node.func.id == "flag":
                code, severity = node.args[:2]
                yield _texts(code)[0], tuple(sorted(_texts(severity), key=("stop", "caution", "note").index))


def filled(words: str) -> str:
    """The words with every limit replaced by its value."""

    def value(match: re.Match[str]) -> str:
        module, name, indices, factor = match.groups()
        found = getattr(importlib.import_module(f"calmday.procedures.{module}"), name)
        for index in re.findall(r"\[(\w+)\]", indices):
            found = found[ast.literal_eval(index)]
        return f"{float(f'{found * float(factor or 1):.3g}'):.10g}"

    return _LIMIT.sub(value, words)


def table_text() -> str:
    """The table with its marks."""
    found: dict[str, tuple[str, ...]] = {}
    for code, severities in flags_in_code():
        found[code] = tuple(dict.fromkeys((*found.get(code, ()), *severities)))
    unknown, gone = sorted(set(found) - set(WORDS)), sorted(set(WORDS) - set(found))
    if unknown or gone:
        raise SystemExit(f"flag_page.toml: no words for {unknown}, no flag for {gone}")
    order = list(WORDS)
    lines = ["| flag | severity | fires when | the limit rests on |", "|---|---|---|---|"]
    for code in sorted(found, key=order.index):
        when, source = filled(WORDS[code]["when"]), WORDS[code]["source"]
        lines.append(f"| `{code}` | {' or '.join(found[code])} | {when} | {source} |")
    return "\n".join([START, "", *lines, "", END])


def main() -> int:
    """Write the table, or with `--check` tell whether it is up to date."""
    page = PAGE.read_text(encoding="utf-8")
    text = page[: page.index(START)] + table_text() + page[page.index(END) + len(END) :]
    if "--check" in sys.argv[1:]:
        print("flags are up to date" if text == page else "docs/method.md differs: run scripts/make_flag_table.py")
        return 0 if text == page else 1
    PAGE.write_text(text, encoding="utf-8")
    return 0


if __name__ == "__main__":
    raise SystemExit(main())
