"""A client of the page in the same process, behaving as a browser does."""

from __future__ import annotations

from html.parser import HTMLParser
from pathlib import Path

import httpx2 as httpx
from starlette.testclient import TestClient

from calmday.web.app import make_app
from calmday.web.settings import Settings

HERE = "http://localhost:8765"
BROWSER = {"origin": HERE, "sec-fetch-site": "same-origin"}


def client_of(place: Path, **settings: object) -> TestClient:
    """A client over the logbook at a place; use it as a context manager."""
    app = make_app(Settings(logbook=place, in_process=True, **settings))  # type: ignore[arg-type]
    return TestClient(app, base_url=HERE, headers=BROWSER, follow_redirects=True)


class Parsed(HTMLParser):
    """A page as its texts, links, forms and boxes."""

    def __init__(self, html: str) -> None:
        super().__init__()
        self.texts: list[str] = []
        self.links: list[str] = []
        self.forms: list[str] = []
        self.boxes: dict[str, str] = {}
        self.scripts: list[dict[str, str | None]] = []
        self.inline: list[str] = []
        self._quiet = 0
        self.feed(html)

    @property
    def text(self) -> str:
        return " ".join(" ".join(self.texts).split())

    def handle_starttag(self, tag: str, attrs: list[tuple[str, str | None]]) -> None:
        found = dict(attrs)
        self.inline += [name for name in found if name == "style" or name.startswith("on")]
        if tag in ("script", "style"):
            self._quiet += 1
            if tag == "script":
                self.scripts.append(found)
            else:
                self.inline.append("style element")
        if tag == "a":
            self.links.append(found.get("href") or "")
        if tag == "form":
            self.forms.append(found.get("action") or "")
        if tag in ("input", "select", "textarea") and found.get("name"):
            self.boxes[str(found["name"])] = found.get("value") or ""

    def handle_endtag(self, tag: str) -> None:
        if tag in ("script", "style"):
            self._quiet -= 1

    def handle_data(self, data: str) -> None:
        if not self._quiet:
            self.texts.append(data)


def parsed(answer: httpx.Response) -> Parsed:
    """The page of an answer."""
    return Parsed(answer.text)
