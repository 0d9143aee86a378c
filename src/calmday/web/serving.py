"""Starting the page: which addresses it has, what is printed, and the server under it."""

from __future__ import annotations

import contextlib
import socket
import threading
import webbrowser
from collections.abc import Callable

from calmday.errors import InputError
from calmday.web.app import make_app
from calmday.web.keys import Keys
from calmday.web.settings import LOOPBACK_NAMES, Settings

Say = Callable[[str], None]
BACKLOG = 128


def serve(logbook: str | None, *, port: int, lan: bool, show: bool, say: Say) -> int:
    """Serve until Ctrl-C. Raises CalmdayError where the logbook or the port cannot be used."""
    import uvicorn  # noqa: PLC0415  (the server only here)

    from calmday.logbook.connection import default_place  # noqa: PLC0415

    hosts = lan_addresses() if lan else ()
    settings = Settings(
        logbook=logbook or default_place(), port=port, lan=lan, lan_hosts=hosts, hosts=(*LOOPBACK_NAMES, *hosts)
    )
    keys = Keys()
    app = make_app(settings, keys)
    app.state.desk.open()
    listening = listen("0.0.0.0" if lan else "127.0.0.1", port)
    here = f"http://localhost:{port}/"
    for line in greeting(settings, keys, here):
        say(line)
    if show:
        threading.Timer(0.6, webbrowser.open, [here]).start()
    config = uvicorn.Config(
        app,
        log_level="warning",
        access_log=False,
        server_header=False,
        date_header=True,
        proxy_headers=False,
        timeout_graceful_shutdown=2,
        h11_max_incomplete_event_size=64 * 1024,
    )
    with contextlib.suppress(KeyboardInterrupt):
        uvicorn.Server(config).run(sockets=[listening])
    return 0


def greeting(settings: Settings, keys: Keys, here: str) -> tuple[str, ...]:
    """What to tell the person at the terminal."""
    lines = [
        f"The logbook {settings.logbook}",
        f"is open at {here}",
        "Only this computer can see it. Stop with Ctrl-C.",
    ]
    if settings.lan:
        places = [f"http://{host}:{settings.port}/" for host in settings.lan_hosts] or ["no network was found"]
        lines[2:] = [
            "On the phone, in the same network, open " + " or ".join(places),
            f"and type the key {keys.key}. It works once; the page Phone in the cab shows the next one.",
            "What goes over this network is not encrypted. Stop with Ctrl-C.",
        ]
    return tuple(lines)


def listen(host: str, port: int) -> socket.socket:
    """A listening socket. Raises InputError where the port is taken."""
    found = socket.socket(socket.AF_INET, socket.SOCK_STREAM)
    found.setsockopt(socket.SOL_SOCKET, socket.SO_REUSEADDR, 1)
    try:
        found.bind((host, port))
    except OSError as error:
        found.close()
        reason = error.strerror or "cannot be used"
        raise InputError.one(
            "calmday serve",
            f"--port {port}",
            f"cannot be used ({reason})",
            "another port such as --port 8766, or stop the program that has this one",
        ) from None
    found.listen(BACKLOG)
    return found


def lan_addresses() -> tuple[str, ...]:
    """This machine's addresses in the networks it is in, without asking any of them anything."""
    found: list[str] = []
    for target in ("192.0.2.1", "10.255.255.255"):
        # connecting a datagram socket sends nothing; it only makes the system choose the interface
        with socket.socket(socket.AF_INET, socket.SOCK_DGRAM) as probe, contextlib.suppress(OSError):
            probe.connect((target, 9))
            found.append(str(probe.getsockname()[0]))
    with contextlib.suppress(OSError):
        found += [str(info[4][0]) for info in socket.getaddrinfo(socket.gethostname(), None, socket.AF_INET)]
    return tuple(dict.fromkeys(each for each in found if not each.startswith("127.")))
