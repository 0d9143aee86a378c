"""From a typed context to a page. A template gets exactly the fields of its context and the few helpers below."""

from __future__ import annotations

from functools import cache
from typing import ClassVar

import msgspec
from jinja2 import Environment, PackageLoader, StrictUndefined
from markupsafe import Markup
from starlette.responses import HTMLResponse

from calmday import __version__
from calmday.reports.unbroken import paired, whole
from calmday.web.addresses import address
from calmday.web.spoken import spoken
from calmday.web.static_files import static_address

MORE_QUESTIONS: tuple[tuple[str, str], ...] = (
    ("gears", "Has it the power?"),
    ("comparisons", "Did it make a difference?"),
    ("what_if", "What if?"),
    ("plan", "What will a test tell?"),
    ("knowledge", "What do we know of it?"),
    ("coastdowns", "How much is air, how much tyres?"),
    ("pulls", "What does the engine give?"),
    ("sounds", "How fast does the engine turn?"),
    ("dials", "Do the dials tell the truth?"),
    ("settings_log", "How is it set?"),
    ("cost", "What does it cost?"),
    ("published", "What do others say?"),
)
"""Further questions about a vehicle, in the order a builder asks them: each the name of the page,
which is also the name of its address, and the words."""


class Ref(msgspec.Struct, frozen=True, kw_only=True):
    """A thing by its id and its name."""

    id: str
    name: str


class Frame(msgspec.Struct, frozen=True, kw_only=True):
    """What stands around every page.

    `tab` which of the questions this page answers; `theme` light, dark or device; `notice` what was just done;
    `refresh` seconds after which a browser without script asks again.
    """

    title: str
    tab: str = ""
    vehicle: Ref | None = None
    run: Ref | None = None
    theme: str = "device"
    notice: str = ""
    refresh: int = 0
    wide: bool = False
    version: str = __version__

    @property
    def tabs(self) -> tuple[tuple[str, str, str], ...]:
        """The five questions: name, words, address. Without a run, those about a run lead to the newest one."""
        found = []
        if self.vehicle is not None:
            found += [
                ("standing", "Where do I stand?", address("standing", vehicle=self.vehicle.id)),
                ("build", "What is this vehicle?", address("build", vehicle=self.vehicle.id)),
            ]
        for name, words in (("day", "Today’s run"), ("sheet", "What did it use?"), ("figures", "How do I know?")):
            if self.run is not None:
                found.append((name, words, address(name, run=self.run.id)))
            elif self.vehicle is not None:
                found.append((name, words, address("newest", vehicle=self.vehicle.id, page=name)))
        return tuple(found)

    @property
    def asked(self) -> str:
        """The words of the further question that this page answers; empty on any other page."""
        return dict(MORE_QUESTIONS).get(self.tab, "") if self.vehicle is not None else ""

    @property
    def more(self) -> tuple[tuple[str, str, str], ...]:
        """The further questions about a vehicle: name, words, address."""
        if self.vehicle is None:
            return ()
        return tuple((name, words, address(name, vehicle=self.vehicle.id)) for name, words in MORE_QUESTIONS)


class Context(msgspec.Struct, frozen=True, kw_only=True):
    """Everything one page shows. `template` names the file that shows it."""

    template: ClassVar[str] = ""
    frame: Frame


@cache
def environment() -> Environment:
    """The templates, with every text escaped and every unknown name an error."""
    made = Environment(
        loader=PackageLoader("calmday.web", "templates"),
        autoescape=True,
        undefined=StrictUndefined,
        trim_blocks=True,
        lstrip_blocks=True,
        auto_reload=False,
        cache_size=200,
    )
    made.globals |= {"address": address, "static": static_address}
    made.filters |= {"hidden": _hidden, "spoken": spoken, "whole": whole, "paired": paired}
    return made


def page(context: Context, status: int = 200) -> HTMLResponse:
    """The page of a context."""
    fields = {name: getattr(context, name) for name in context.__struct_fields__}
    return HTMLResponse(environment().get_template(context.template).render(fields), status)


def _hidden(text: str) -> Markup:
    """Words for a screen reader alone."""
    return Markup('<span class="hidden">{}</span>').format(text)
