"""What every request passes before a page sees it: who is called, who calls, how much is sent; and the headers of
every answer.

A page on this machine is reachable by every site open in the same browser. A foreign name that resolves to this
machine (DNS rebinding) fails the Host check; a foreign page that posts here fails the Origin check; what slips into a
text finds no script that the content security policy would run.
"""

from __future__ import annotations

from http.cookies import CookieError, SimpleCookie
from typing import Final

from starlette.datastructures import Headers, MutableHeaders
from starlette.types import ASGIApp, Message, Receive, Scope, Send

from calmday.web.addresses import address
from calmday.web.keys import COOKIE, Keys
from calmday.web.plain import plain_answer
from calmday.web.settings import Settings

POLICY: Final = "; ".join(
    (
        "default-src 'none'",
        "script-src 'self'",
        "style-src 'self'",
        "img-src 'self'",
        "connect-src 'self'",
        "manifest-src 'self'",
        "form-action 'self'",
        "base-uri 'none'",
        "frame-ancestors 'none'",
    )
)
HEADERS: Final = {
    "Content-Security-Policy": POLICY,
    "X-Content-Type-Options": "nosniff",
    "X-Frame-Options": "DENY",
    # not no-referrer: with that a browser sends "Origin: null" with our own forms
    "Referrer-Policy": "same-origin",
    "Cross-Origin-Opener-Policy": "same-origin",
    "Cross-Origin-Resource-Policy": "same-origin",
    "Permissions-Policy": "camera=(), microphone=(), geolocation=(), payment=(), usb=()",
}
LISTENING: Final = "/tachometer"
MICROPHONE: Final = "microphone=(self)"
"""The one page that may ask for the microphone; what it hears stays in the browser until it is kept."""
READING: Final = frozenset({"GET", "HEAD"})
WRITING: Final = frozenset({"POST"})
OPEN_TO_ALL: Final = ("/static/", "/app.webmanifest")
LOCAL_CLIENTS: Final = frozenset({"127.0.0.1", "::1", "testclient"})


class TooMuchError(Exception):
    """More bytes came than this address takes."""


class Guard:
    """ASGI layer around the pages."""

    def __init__(self, app: ASGIApp, settings: Settings, keys: Keys) -> None:
        self.app = app
        self.settings = settings
        self.keys = keys
        self._hosts = {f"{name}:{settings.port}" for name in settings.hosts}
        if settings.port == 80:
            self._hosts |= set(settings.hosts)

    async def __call__(self, scope: Scope, receive: Receive, send: Send) -> None:
        """Pass the request on, or answer it here."""
        if scope["type"] != "http":
            if scope["type"] == "lifespan":
                await self.app(scope, receive, send)
            return
        headers = Headers(scope=scope)
        send = _with_headers(send, scope["path"])
        refusal = self._refusal(scope, headers)
        if refusal is not None:
            await plain_answer(*refusal)(scope, receive, send)
            return
        if not self._known(scope, headers):
            await _see(address("key"), send)
            return
        limit = self._limit(scope["path"])
        if _declared_length(headers) > limit:
            await plain_answer(413, *_too_much(limit))(scope, receive, send)
            return
        try:
            await self.app(scope, _bounded(receive, limit), send)
        except TooMuchError:
            await plain_answer(413, *_too_much(limit))(scope, receive, send)

    def _refusal(self, scope: Scope, headers: Headers) -> tuple[int, str, str] | None:
        """Status, title and sentence where the request must not go on."""
        hosts = headers.getlist("host")
        if len(hosts) != 1 or hosts[0].lower() not in self._hosts:
            return (
                403,
                "This address is not ours",
                "The page was called by a name it does not have. Use the address that calmday serve printed.",
            )
        method = scope["method"]
        if method not in READING | WRITING:
            return (
                405,
                "That is not possible here",
                "This address is for a button on one of the pages. Go back to the page and press it there.",
            )
        if method in WRITING and not self._from_here(scope, headers):
            return (
                403,
                "This came from another page",
                "Only pages of this logbook may write into it. Open the logbook itself and try again there.",
            )
        return None

    def _from_here(self, scope: Scope, headers: Headers) -> bool:
        """Whether a browser says that this write comes from one of our own pages.

        Origin where it is sent; Sec-Fetch-Site where not. A request with neither is not from a browser of today.
        """
        host = headers["host"].lower()
        origins = headers.getlist("origin")
        site = headers.get("sec-fetch-site")
        if site not in (None, "same-origin"):
            return False
        if origins:
            return origins == [f"{scope.get('scheme', 'http')}://{host}"]
        return site == "same-origin"

    def _known(self, scope: Scope, headers: Headers) -> bool:
        """Whether this caller may see the logbook: from this machine, or with a session."""
        client = scope.get("client")
        if not self.settings.lan or (client is not None and client[0] in LOCAL_CLIENTS):
            return True
        path = scope["path"]
        if path == address("key") or path.startswith(OPEN_TO_ALL):
            return True
        return self.keys.knows(_cookie(headers, COOKIE))

    def _limit(self, path: str) -> int:
        return self.settings.largest_upload if takes_files(path) else self.settings.largest_form


def takes_files(path: str) -> bool:
    """Whether this address takes files."""
    return path.endswith(("/tracks", "/photographs", "/build", "/curve", "/files", "/recording")) or path in (
        address("import"),
        address("share"),
    )


def _declared_length(headers: Headers) -> int:
    text = headers.get("content-length", "0")
    return int(text) if text.isascii() and text.isdigit() and len(text) < 20 else 0


def _bounded(receive: Receive, limit: int) -> Receive:
    """`receive` that stops when more than `limit` bytes have come, whatever the header said."""
    seen = 0

    async def bounded() -> Message:
        nonlocal seen
        message = await receive()
        seen += len(message.get("body", b""))
        if seen > limit:
            raise TooMuchError
        return message

    return bounded


def _with_headers(send: Send, path: str) -> Send:
    async def sending(message: Message) -> None:
        if message["type"] == "http.response.start":
            headers = MutableHeaders(scope=message)
            for name, value in HEADERS.items():
                headers[name] = value
            if path.endswith(LISTENING):
                headers["Permissions-Policy"] = HEADERS["Permissions-Policy"].replace("microphone=()", MICROPHONE)
            if not path.startswith("/static/"):
                headers.setdefault("Cache-Control", "no-store")
        await send(message)

    return sending


async def _see(where: str, send: Send) -> None:
    await send({"type": "http.response.start", "status": 303, "headers": [(b"location", where.encode())]})
    await send({"type": "http.response.body", "body": b""})


def _cookie(headers: Headers, name: str) -> str | None:
    jar: SimpleCookie = SimpleCookie()
    try:
        jar.load(headers.get("cookie", ""))
    except CookieError:
        return None
    return jar[name].value if name in jar else None


def _too_much(limit: int) -> tuple[str, str]:
    size = f"{limit / 1e6:.0f} MB" if limit >= 1_000_000 else f"{limit / 1000:.0f} kB"
    return (
        "That is too large",
        f"At most {size} can be sent at once. A track of a day is far smaller: is it the right file?",
    )
