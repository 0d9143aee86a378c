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
<p class="actions">{back}<a class="{look}" href="{home}">To the logbook</a></p></main></body></html>
"""


def plain_answer(status: int, title: str, sentence: str, back: str = "") -> HTMLResponse:
    """A small page of its own: it needs no logbook, so it can say that the logbook is not there.

    `back` the path of the page that one came from, where it is one of ours.
    """
    text = _PAGE.format(
        title=escape(title),
        sentence=escape(sentence),
        style=static_address("calmday.css"),
        home=address("home"),
        back=f'<a class="button" href="{escape(back)}">Back to where you were</a> ' if back else "",
        look="tap" if back else "button",
    )
    return HTMLResponse(text, status)
