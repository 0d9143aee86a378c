"""Other devices: the key for the phone in the cab, what an installed page needs, static files."""

from __future__ import annotations

from typing import TYPE_CHECKING, ClassVar

from starlette.exceptions import HTTPException
from starlette.responses import JSONResponse, Response

from calmday.web.addresses import address
from calmday.web.keys import COOKIE, SESSION_SECONDS
from calmday.web.pages.common import frame, go
from calmday.web.render import Context, page
from calmday.web.static_files import static_address, static_files

if TYPE_CHECKING:
    from calmday.web.asked import Asked

FOR_GOOD = "public, max-age=31536000, immutable"


class KeyPage(Context, frozen=True, kw_only=True):
    """The form for the key. `wrong` after a key that was not it."""

    template: ClassVar[str] = "key.html"
    wrong: bool


class DevicesPage(Context, frozen=True, kw_only=True):
    """How to let a phone in. `places` addresses for it, `key` only on the machine of the logbook."""

    template: ClassVar[str] = "devices.html"
    lan: bool
    places: tuple[str, ...]
    key: str


def key(asked: Asked) -> Response:
    """Ask for the key, or take it and hand out a session."""
    if not asked.posted:
        return page(KeyPage(frame=frame(asked, "The key, please"), wrong=False))
    session = asked.desk.keys.admit(asked.form.get("key", ""))
    if session is None:
        return page(KeyPage(frame=frame(asked, "The key, please"), wrong=True), 422)
    answer = go("home", done="welcome")
    answer.set_cookie(COOKIE, session, max_age=SESSION_SECONDS, httponly=True, samesite="strict", path="/")
    return answer


def devices(asked: Asked) -> Response:
    """The address and the key for a phone; the key only for who sits at the machine."""
    settings = asked.desk.settings
    here = asked.device == "this computer"
    return page(
        DevicesPage(
            frame=frame(asked, "Phone in the cab"),
            lan=settings.lan,
            places=tuple(f"http://{host}:{settings.port}/" for host in settings.lan_hosts),
            key=asked.desk.keys.key if settings.lan and here else "",
        )
    )


def static(asked: Asked) -> Response:
    """One of the files a page loads."""
    found = static_files().get(asked.part("name"))
    if found is None or found.digest != asked.part("digest"):
        raise HTTPException(404)
    return Response(found.content, media_type=found.media_type, headers={"Cache-Control": FOR_GOOD})


def manifest(asked: Asked) -> Response:
    """What a device needs to install the page and to share tracks to it."""
    icon = {"src": static_address("mark.svg"), "sizes": "any", "type": "image/svg+xml"}
    share = {
        "action": address("share"),
        "method": "POST",
        "enctype": "multipart/form-data",
        "params": {"files": [{"name": "file", "accept": [".gpx", ".nmea", ".geojson", ".csv", "application/gpx+xml"]}]},
    }
    return JSONResponse(
        {
            "name": "Calmday logbook",
            "short_name": "Calmday",
            "start_url": address("home"),
            "display": "minimal-ui",
            "background_color": "#f6f4ee",
            "theme_color": "#12344d",
            "icons": [icon],
            "share_target": share,
        },
        media_type="application/manifest+json",
    )
