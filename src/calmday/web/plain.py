"""An answer in a sentence, for what happens before or instead of a page."""

from __future__ import annotations

from html import escape

from starlette.responses import HTMLResponse

from calmday.web.addresses import address
from calmday.web.static_files import static_address

_PAGE = """<!doctype html>
<html lang="en" data-theme="device"><head><meta charset="utf-8">
<meta name="viewport" content="width=device-width, initial-scale=1">
<title>{title} · Calmday</title><link rel="stylesheet" href="{style}"></head>
<body><main class="page page-plain" id="main"><h1>{title}</h1><p class="lead">{sentence}</p>
<p><a class="button" href="{home}">To the logbook</a></p></main></body></html>
"""


def plain_answer(status: int, title: str, sentence: str) -> HTMLResponse:
    """A small page of its own: it needs no logbook, so it can say that the logbook is not there."""
    text = _PAGE.format(
        title=escape(title), sentence=escape(sentence), style=static_address("calmday.css"), home=address("home")
    )
    return HTMLResponse(text, status)
