"""The form of a comparison: the vehicle's runs by name, and what there is to say about each."""

from __future__ import annotations

from typing import TYPE_CHECKING, Final

import msgspec

from calmday.web.comparison_fields import MEMBER, NOT_FITTED, changes_in, member_fields, with_fields
from calmday.web.pages.documents import FormView, GroupView, form_view, spec_of
from calmday.web.pages.entering import boxes, current_texts

if TYPE_CHECKING:
    from calmday.logbook.records import Subject
    from calmday.web.asked import Asked
    from calmday.web.fields import Field
    from calmday.web.pages.entering import Texts
    from calmday.web.pages.saving import Kept

MOST_RUNS: Final = 60
NO_RUN: Final = "This vehicle has no run yet."
TURNS: Final = "Best driven in turns: before, after, after, before."
THEN: Final = "Choose and save; then there is more to say about each, if you like."
PAIRS: Final = (
    "The same word for runs that belong together: a pair, a morning, a pair of laps. Leave it empty otherwise."
)
SWEPT: Final = (
    "Leave it empty for a single change. Else give the setting of every run, in one unit; on which side a run stands "
    "does not matter then."
)
FITTED: Final = (
    "On which side a run stands does not matter then. Two changes that always came and went together cannot be told "
    "apart."
)
CONTROL: Final = (
    "What an unchanged vehicle used on the same road at the same time. Give it for every run and in one unit, or for "
    "none: only its ups and downs count, so its gauge need not be right, only the same throughout."
)
REASON: Final = "Only for what happened on the road. Write the reason; the run stays visible with it."


def comparison_form(asked: Asked, found: Subject, kept: Kept | None) -> FormView:
    """The form with the vehicle's runs by name: which side each is on, what was changed, what else there is to say."""
    spec = spec_of("comparison")
    plain = form_view(asked, found, spec, kept=kept)
    values = kept.values if kept is not None else asked.desk.book.values(found.kind, found.id)
    texts = current_texts(values)
    faults = kept.faults if kept is not None else {}
    said = {match[1] for key in texts if (match := MEMBER.match(key))}
    runs = [each for each in asked.desk.runs_of(found.parent) if not each.void or each.id in said][-MOST_RUNS:]
    of_runs = [
        GroupView(title=title, lead=lead, boxes=boxes(tuple(fields), texts, asked.habits, faults))
        for title, lead, fields in _of_runs(asked, runs, texts)
    ]
    by_identifier = {group.title for group in spec.groups(texts.keys()) if group.name in said}
    question, changes, *rest = (group for group in plain.groups if group.title not in by_identifier)
    which, *more = of_runs
    return msgspec.structs.replace(
        plain, groups=(question, which, _folded(changes), *(_folded(each) for each in more), *rest)
    )


def _folded(group: GroupView) -> GroupView:
    """The group, folded away while nothing stands in it."""
    return msgspec.structs.replace(
        group, folded=not any(box.value or box.fault or box.field.unsaid == NOT_FITTED for box in group.boxes)
    )


def _of_runs(asked: Asked, runs: list[Subject], texts: Texts) -> list[tuple[str, str, list[Field]]]:
    """Title, lead and boxes of each question about the runs."""
    used = _used_words(asked, [each.id for each in runs])
    named = {each.id: _called(each) for each in runs}
    asks = {each: member_fields(each, name, used.get(each, "not worked out yet")) for each, name in named.items()}
    chosen = [each for each in named if texts.get(f"member.{each}.group")]
    lead = TURNS if chosen else f"{TURNS} {THEN}" if runs else NO_RUN
    found = [("Which runs?", lead, [fields["group"] for fields in asks.values()])]
    if not chosen:
        return found
    changes = changes_in(texts)
    if changes:
        fitted = [one for each in chosen for one in with_fields(each, named[each], changes)]
        found.append(("Which changes were fitted?", FITTED, fitted))
    for title, words, name in (
        ("Were they driven in pairs?", PAIRS, "block"),
        ("Did another vehicle drive along, unchanged?", CONTROL, "control"),
        ("Was a setting tried at several values?", SWEPT, "setting"),
    ):
        found.append((title, words, [asks[each][name] for each in chosen]))
    left = [
        asks[each][name]
        for each in chosen
        for name in ("left_out", "known_before_weighing")
        if name == "left_out" or texts.get(asks[each]["left_out"].key)
    ]
    return [*found, ("Leave one out?", REASON, left)]


def _called(run: Subject) -> str:
    """What a run is called where it has to be told from others."""
    date = run.values.get("date", "")
    name = run.name or "Run"
    return f"{name}, {date}" if date else run.name or f"Run {run.id[-4:]}"


def _used_words(asked: Asked, ids: list[str]) -> dict[str, str]:
    """What each run used, from its newest result."""
    found = asked.desk.book.newest_results(ids) if ids else {}
    told = {}
    for run_id, stored in found.items():
        calm, driven = stored.summary.get("calm_day_words"), stored.summary.get("as_driven_words")
        told[run_id] = f"{driven} as driven" + (f", {calm} on the calm day" if calm else "")
    return told
