"""The page as an application: one table of addresses, one dispatcher, one guard around them."""

from __future__ import annotations

import logging
from collections.abc import AsyncIterator, Awaitable, Callable
from contextlib import asynccontextmanager
from urllib.parse import urlsplit

from anyio.to_thread import run_sync
from starlette.applications import Starlette
from starlette.exceptions import HTTPException
from starlette.formparsers import MultiPartException
from starlette.middleware import Middleware
from starlette.requests import ClientDisconnect, Request
from starlette.responses import Response
from starlette.routing import Route

from calmday.errors import CalmdayError, InputError
from calmday.web.addresses import PATHS
from calmday.web.asked import Asked, read_form
from calmday.web.desk import Desk
from calmday.web.forms import fault_sentence
from calmday.web.guard import Guard, TooMuchError
from calmday.web.keys import Keys
from calmday.web.pages.table import HANDLERS, Handler
from calmday.web.plain import plain_answer
from calmday.web.settings import Settings

LOG = logging.getLogger("calmday.web")

SENTENCES = {
    400: ("That could not be read", "What came with the request is not what a form sends. Go back and try again."),
    404: ("There is no such page", "The address leads nowhere; perhaps it was cut off."),
    405: (
        "That is not possible here",
        "This address is for a button on one of the pages. Go back to the page and press it there.",
    ),
    415: ("That could not be read", "This address takes what a form sends, and nothing else."),
}


def make_app(settings: Settings, keys: Keys | None = None) -> Starlette:
    """The application over one logbook. `keys` lets the caller print the one-time key."""
    desk = Desk(settings, keys or Keys())

    @asynccontextmanager
    async def life(_app: Starlette) -> AsyncIterator[None]:
        desk.open()
        try:
            yield
        finally:
            desk.close()

    app = Starlette(
        routes=[
            Route(PATHS[name], _endpoint(handler, desk), name=name, methods=list(methods))
            for name, (handler, methods) in HANDLERS.items()
        ],
        middleware=[Middleware(Guard, settings=settings, keys=desk.keys)],
        exception_handlers={HTTPException: _http_error, CalmdayError: _calmday_error, 500: _fault},
        lifespan=life,
    )
    app.state.desk = desk
    return app


def _endpoint(handler: Handler, desk: Desk) -> Callable[[Request], Awaitable[Response]]:
    """Read the form here, on the event loop; everything that touches the logbook runs in a thread beside it."""

    async def endpoint(request: Request) -> Response:
        try:
            form = await read_form(request)
        except ClientDisconnect:
            return Response(status_code=400)
        except (MultiPartException, ValueError, UnicodeError) as error:
            if isinstance(error.__cause__, TooMuchError):
                raise TooMuchError from None
            raise HTTPException(400) from None
        try:
            return await run_sync(handler, Asked(request, form, desk))
        finally:
            if form is not None:
                await form.close()

    return endpoint


async def _http_error(_request: Request, error: Exception) -> Response:
    status = error.status_code if isinstance(error, HTTPException) else 500
    title, sentence = SENTENCES.get(status, ("That did not work", "Go back and try again."))
    return plain_answer(status, title, sentence)


async def _calmday_error(request: Request, error: Exception) -> Response:
    """What a page did not turn into words of its own: the input, or the logbook."""
    if isinstance(error, InputError):
        told = " ".join(fault_sentence(fault) for fault in error.faults[:5])
        return plain_answer(422, "That cannot be used", told, _came_from(request))
    return plain_answer(503, "The logbook cannot be used just now", str(error))


def _came_from(request: Request) -> str:
    """The path of the page that a form was on; empty where the browser does not say, or it was none of ours."""
    came = urlsplit(request.headers.get("referer", ""))
    return came.path if came.netloc == request.headers.get("host") and came.path.startswith("/") else ""


async def _fault(request: Request, error: Exception) -> Response:
    LOG.error("fault in %s", request.url.path, exc_info=error)
    return plain_answer(
        500,
        "A fault of the program, not of your entries",
        f"What was saved is safe. Please report it ({type(error).__name__}) with what you did before.",
    )
