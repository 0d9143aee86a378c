"""What is asked about settings: every visit with its readings, the lift curve, cold starts, own limits. Kind
`setting`."""

from __future__ import annotations

from collections.abc import Collection
from typing import TYPE_CHECKING, Any, Final

from calmday.web.cost_fields import places
from calmday.web.documents import DocumentKind
from calmday.web.fields import Group, field

if TYPE_CHECKING:
    from calmday.files.named_files import NamedDocument

MOST_VISITS, MOST_POINTS, MOST_STARTS, MOST_LIMITS = 8, 40, 10, 8


def settings_groups(keys: Collection[str]) -> tuple[Group, ...]:
    """Every box of a settings log; the newest visit first."""
    return (
        Group(name="about", title="This log", fields=(field("label", "Name", kind="text", room=30),)),
        *(_visit(i) for i in reversed(places(keys, "setting", 1, MOST_VISITS))),
        Group(
            name="curve",
            title="Lift curve of this pump",
            lead="Turn the crank two degrees at a time in its running direction and read the plunger lift. Without it "
            "millimetres stay millimetres: no factor holds for every pump.",
            fields=(
                field("lift_curve.tolerance", "Gauge, give or take", kind="text", figures=True, example="0.02 mm",
                      left_out="0.02 mm"),
                field("lift_curve.angle_tolerance", "Angle, give or take", kind="text", figures=True, example="0.5 deg",
                      left_out="0.5 degrees"),
                *(
                    each
                    for i in places(keys, "lift_curve.point", 4, MOST_POINTS)
                    for each in (
                        field(f"lift_curve.point[{i}].angle", f"Crank angle {i + 1}", kind="text", figures=True,
                              example=f"{2 * i} deg"),
                        field(f"lift_curve.point[{i}].lift", f"Lift at angle {i + 1}", kind="text", figures=True,
                              example="0.35 mm"),
                    )
                ),
            ),
        ),
        Group(
            name="starts",
            title="Cold starts",
            lead="A weak sign of many things. Written down, and nothing concluded.",
            fields=tuple(
                each
                for i in places(keys, "cold_start", 1, MOST_STARTS)
                for each in (
                    field(f"cold_start[{i}].date", f"Start {i + 1}: on which day?", kind="date"),
                    field(f"cold_start[{i}].temperature", "Temperature then", units="temperature", example="4"),
                    field(f"cold_start[{i}].time", "The starter turned for", kind="text", figures=True, example="6 s"),
                )
            ),
        ),
        Group(
            name="limits",
            title="Limits of your own",
            lead="This program knows no safe limit of your engine.",
            fields=tuple(
                each
                for i in places(keys, "limit", 1, MOST_LIMITS)
                for each in (
                    field(f"limit[{i}].what", f"Limit {i + 1}: of what?", kind="text", room=20, example="boost"),
                    field(f"limit[{i}].lowest", "Not below", kind="text", figures=True),
                    field(f"limit[{i}].highest", "Not above", kind="text", figures=True, example="0.9 bar"),
                    field(f"limit[{i}].by", "Who says so?", kind="text", room=16),
                )
            ),
        ),
    )  # fmt: skip


def _visit(i: int) -> Group:
    return Group(
        name=f"visit-{i}",
        title=f"Visit {i + 1}",
        lead="Read it before you loosen anything." if i == 0 else "",
        fields=(
            field(f"setting[{i}].what", "What was set?", kind="text", room=24, example="plunger lift"),
            field(f"setting[{i}].cylinder", "Cylinder", kind="whole", left_out="it has none"),
            field(
                f"setting[{i}].found",
                "Found at",
                "Before anybody touched it.",
                kind="text",
                figures=True,
                example="0.88 mm",
            ),
            field(f"setting[{i}].set", "Set to", kind="text", figures=True, example="0.95 mm"),
            field(f"setting[{i}].tightened", "Read again, screws tight", kind="text", figures=True, example="0.93 mm"),
            field(f"setting[{i}].date", "On which day?", kind="date"),
            field(f"setting[{i}].by", "Who did it?", kind="text", room=16),
            field(f"setting[{i}].temperature", "Temperature", units="temperature"),
            field(f"setting[{i}].screw", "Which screw?", kind="text", room=24),
            field(f"setting[{i}].direction", "Turned which way?", kind="text", room=20, example="towards the engine"),
            field(f"setting[{i}].turn", "How far?", kind="text", room=16, example="2 mm at the flange"),
            field(f"setting[{i}].from", "From which mark?", kind="text", room=20, example="the scribed line"),
            field(f"setting[{i}].run", "Runs driven with it", kind="lines", listed=True),
            field(f"setting[{i}].note", "Note", kind="text", room=40),
        ),
    )


def _read(named: NamedDocument) -> Any:
    from calmday.files.settings_file import settings_of  # noqa: PLC0415  (only where something is judged)

    return settings_of(named, "setting.toml", "setting")


SETTING: Final = DocumentKind(
    kind="setting", words="Settings log", page="settings_of", home="settings_log", groups=settings_groups, read=_read
)
