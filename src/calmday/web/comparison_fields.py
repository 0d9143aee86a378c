"""A comparison on the page: what it asks for, and who judges it."""

from __future__ import annotations

import re
from collections.abc import Collection, Mapping
from typing import TYPE_CHECKING, Any, Final

from calmday.web.documents import DocumentKind, read_ours
from calmday.web.fields import YES_NO, Field, Group, field

if TYPE_CHECKING:
    from calmday.files.named_files import NamedDocument

SIDES: Final = (("baseline", "before the change"), ("changed", "after the change"))
NUMBERED: Final = ("First", "Second", "Third", "Fourth", "Fifth", "Sixth")
TAKEN_OFF: Final = (("order", "a drift in the order driven"), ("temperature", "the temperature of the air"))
MEMBER: Final = re.compile(r"member\.([^.]+)\.\w+")
NOT_FITTED: Final = "not fitted"
_CLAIM = re.compile(r"claim\[(\d+)\]")
_CHANGE = re.compile(r"changes\[(\d+)\]")
_OURS = re.compile(
    r"label|question|baseline_name|changed_name|planned_runs|smallest_change|driver_knew|take_weather_off|take_off|"
    r"run_scatter|sealed_order|sealed_with|changes_tried|claim\[\d+\]\.\w+|changes(?:\[\d+\])?|"
    r"member\.[^.]+\.(?:control|setting)"
)


def groups(keys: Collection[str]) -> tuple[Group, ...]:
    """The question, what was planned, every run that something is said about, what people say."""
    members = sorted({found[1] for key in keys if (found := MEMBER.match(key))})
    claims, changes = _grown(_CLAIM, keys), _grown(_CHANGE, keys)
    return (
        Group(name="question", title="The question", fields=_question()),
        *(
            Group(
                name=member,
                title=member,
                fields=(
                    *member_fields(member, member).values(),
                    *with_fields(member, member, dict.fromkeys(changes[:-1], "")),
                ),
            )
            for member in members
        ),
        Group(
            name="changes",
            title="Several changes made at once?",
            lead="Name each one and save; then say of each run which of them were fitted. Leave it empty for a single "
            "change.",
            fields=tuple(_change(n) for n in changes),
        ),
        Group(
            name="plan",
            title="How it was planned",
            lead="Best written down before the first run.",
            fields=_plan(),
        ),
        Group(
            name="claims",
            title="What people say about it",
            lead="Each sentence is looked at for the usual mistakes, by its words alone.",
            fields=tuple(field(f"claim[{n}].text", "Somebody says", "", kind="text", room=50) for n in claims),
        ),
    )


def _grown(place: re.Pattern[str], keys: Collection[str]) -> list[int]:
    """Places of a list that are in use, and one more."""
    used = {int(found[1]) for key in keys if (found := place.match(key))}
    return [*sorted(used), max(used, default=-1) + 1]


def _change(n: int) -> Field:
    label = f"{NUMBERED[n]} change" if n < len(NUMBERED) else f"Change {n + 1}"
    return field(f"changes[{n}]", label, "", kind="text", room=30, example="deflector" if n == 0 else "")


def _question() -> tuple[Field, ...]:
    return (
        field("label", "What do you call it?", "As it should stand on charts.", kind="text", room=30),
        field("question", "What do you want to know?", "One sentence; it stands on top of the answer.", kind="text",
              room=50, example="Does the deflector pay for itself?"),
        field("baseline_name", "What is it called before?", "", kind="text", room=20, example="bare roof",
              left_out="what the runs differ in, where that is one thing; else before"),
        field("changed_name", "And after the change?", "", kind="text", room=20, example="deflector",
              left_out="what the runs differ in, where that is one thing; else after"),
    )  # fmt: skip


def _plan() -> tuple[Field, ...]:
    return (
        field("planned_runs", "How many runs did you plan?", "All together.", kind="whole", example="8", room=3,
              left_out="nobody can see that the test did not stop when it looked good"),
        field("smallest_change", "Smallest change that would matter to you", "Of fuel.", "fraction", example="3",
              left_out="3 %"),
        field("driver_knew", "Did the driver know what was fitted?", "", kind="yes_no", choices=YES_NO),
        field("changes_tried", "How many changes did you try in all?", "This one counted.", kind="whole", room=3,
              left_out="this one alone"),
        field("take_weather_off", "Take the weather off?", "Needs track and weather in every run.", kind="yes_no",
              choices=YES_NO, unsaid="wherever it can be done"),
        field("take_off", "What else should be taken off?", "", kind="choice", choices=TAKEN_OFF,
              unsaid="what is usual", left_out="a drift, where all runs are of one day and there are enough of them"),
        field("run_scatter", "How much do runs scatter?", "Two runs in three lie this near to their mean; "
              "only if you know it from earlier tests.", "fraction",
              left_out="found from these runs, with what is usual"),
        field("sealed_order", "Digest of a sealed order", "64 characters, shown before the first run.", kind="text",
              room=40),
        field("sealed_with", "The line that opens it", "From the helper, after the last run.", kind="text", room=40),
    )  # fmt: skip


def member_fields(member: str, name: str, used: str = "") -> dict[str, Field]:
    """What there is to say about one run, which the logbook knows as `member` and people by its `name`."""
    start = f"member.{member}"
    return {
        "group": field(f"{start}.group", name, used, kind="choice", choices=SIDES, unsaid="not part of it"),
        "setting": field(f"{start}.setting", name, "", kind="text", figures=True, room=8, example="0.90 mm"),
        "block": field(f"{start}.block", name, "", kind="text", room=8),
        "control": field(f"{start}.control", f"{name}: the other vehicle used", "", "consumption"),
        "left_out": field(f"{start}.left_out", name, "", kind="text", room=40),
        "known_before_weighing": field(
            f"{start}.known_before_weighing", f"{name}: was that known before its fuel was weighed?", "",
            kind="yes_no", choices=YES_NO,
        ),
    }  # fmt: skip


def with_fields(member: str, name: str, changes: Mapping[int, str]) -> tuple[Field, ...]:
    """Whether each change was fitted in a run. A change keeps its place in both lists, also where others are empty."""
    return tuple(
        field(
            f"member.{member}.with[{place}]", f"{name}: {change}", "", kind="choice", choices=((change, "fitted"),),
            unsaid=NOT_FITTED,
        )
        for place, change in changes.items()
    )  # fmt: skip


def changes_in(texts: Mapping[str, str]) -> dict[int, str]:
    """The changes that were named, by their place."""
    found = {int(match[1]): text for key, text in texts.items() if (match := _CHANGE.fullmatch(key))}
    return dict(sorted(found.items()))


def judge(document: NamedDocument) -> Any:
    """What the reader says about the boxes. Raises InputError with the faults that a box can mend."""
    from calmday.files.comparison_file import comparison_of  # noqa: PLC0415  (the readers only where needed)

    return read_ours(
        lambda: comparison_of(document, "comparison.toml", "comparison"), lambda fault: not _OURS.fullmatch(fault.key)
    )


COMPARISON: Final = DocumentKind(
    kind="comparison",
    words="Comparison",
    page="comparison",
    home="comparisons",
    groups=groups,
    read=judge,
    file_keys=frozenset(),
    task="comparison",
)
