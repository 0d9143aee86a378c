"""One line of a TOML file, written."""

from __future__ import annotations

import json


def text_line(key: str, text: str) -> str:
    """`key = "text"`, whatever the text holds: a basic string of TOML is written as JSON writes it."""
    return f"{key} = {json.dumps(text, ensure_ascii=False)}"
