"""Each page has a typed context, and its template uses exactly that."""

from __future__ import annotations

import inspect
from importlib import import_module
from importlib.resources import files
from pkgutil import iter_modules

import pytest
from jinja2 import meta

from calmday.web import pages
from calmday.web.addresses import PATHS
from calmday.web.pages.table import HANDLERS
from calmday.web.render import Context, environment

for module in iter_modules(pages.__path__):
    import_module(f"calmday.web.pages.{module.name}")
CONTEXTS = sorted(Context.__subclasses__(), key=lambda each: each.__name__)
SHARED = {"base.html", "macros.html"}
GIVEN = {"address", "static"}


def names_in(template: str) -> set[str]:
    """Every name that a template asks for, with those of the templates it extends and includes."""
    made = environment()
    source, _, _ = made.loader.get_source(made, template)  # type: ignore[union-attr]
    tree = made.parse(source)
    found = set(meta.find_undeclared_variables(tree))
    for other in meta.find_referenced_templates(tree):
        if other is not None and other != "macros.html":
            found |= names_in(other)
    return found - GIVEN - {"pieces"}


@pytest.mark.parametrize("context", CONTEXTS, ids=lambda each: each.__name__)
def test_the_template_gets_exactly_what_it_asks_for(context: type[Context]) -> None:
    assert names_in(context.template) == set(context.__struct_fields__)


@pytest.mark.parametrize("context", CONTEXTS, ids=lambda each: each.__name__)
def test_every_context_says_what_it_is(context: type[Context]) -> None:
    assert inspect.getdoc(context) != inspect.getdoc(Context)


def test_every_template_is_used() -> None:
    used = {context.template for context in CONTEXTS}
    made = environment()
    for name in list(used):
        source, _, _ = made.loader.get_source(made, name)  # type: ignore[union-attr]
        used |= {str(other) for other in meta.find_referenced_templates(made.parse(source))}
    there = {item.name for item in files("calmday.web").joinpath("templates").iterdir()}
    assert there == used


def test_every_address_has_one_answer_and_every_answer_an_address() -> None:
    assert set(PATHS) == set(HANDLERS)
    assert len(set(PATHS.values())) == len(PATHS)


@pytest.mark.parametrize("name", HANDLERS)
def test_every_answer_says_what_it_is(name: str) -> None:
    assert inspect.getdoc(HANDLERS[name][0])


def test_a_template_that_asks_for_what_is_not_there_is_a_fault() -> None:
    from jinja2 import UndefinedError  # noqa: PLC0415

    with pytest.raises(UndefinedError):
        environment().from_string("{{ nothing }}").render({})
