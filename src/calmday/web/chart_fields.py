"""A picture of a full-load chart on the page: what it asks for, and who judges it."""

from __future__ import annotations

import re
from collections.abc import Collection
from typing import TYPE_CHECKING, Any, Final

from calmday.errors import InputError
from calmday.web.documents import DocumentKind, FileRole
from calmday.web.fields import Field, Group, field

if TYPE_CHECKING:
    from calmday.files.named_files import NamedDocument

SCALES: Final = (("linear", "even steps"), ("logarithmic", "logarithmic"))
OF: Final = (("torque", "torque"), ("power", "power"))
MOST_PICTURE: Final = 30_000_000
USUAL_MARKS: Final = 6
_MARK = re.compile(r"mark\[(\d+)\]")
_CURVE = re.compile(r"curve\[(\d+)\]")
_ELSEWHERE = re.compile(r"vehicle.*|engine.*|file|picture")
"""Keys of faults that no box of this page can mend."""


def groups(keys: Collection[str]) -> tuple[Group, ...]:
    """Where the picture is from, its marks and one more, its curves and one more."""
    marks = {int(found[1]) for key in keys if (found := _MARK.match(key))}
    curves = {int(found[1]) for key in keys if (found := _CURVE.match(key))}
    last_mark = max(USUAL_MARKS - 1, max(marks, default=-1) + 1)
    last_curve = max(1, max(curves, default=-1) + 1)
    return (
        *(
            Group(
                name=f"mark-{i}",
                title=f"Mark {i + 1}",
                lead=""
                if i
                else "Ticks far apart on each axis: two on engine speed, two on torque, two on power if "
                "there is one. Of a photograph mark four crossings of grid lines instead, with both values at each.",
                fields=_mark(i),
            )
            for i in range(last_mark + 1)
        ),
        *(
            Group(
                name=f"curve-{i}",
                title=f"Curve {i + 1}",
                lead="" if i else "Point at the curve itself, away from where it crosses something.",
                fields=_curve(i),
            )
            for i in range(last_curve + 1)
        ),
        Group(name="source", title="Where the chart is from", fields=_source()),
    )


def _mark(place: int) -> tuple[Field, ...]:
    start = f"mark[{place}]"
    return (
        field(f"{start}.at", "Place in the picture", "Pixels from the left, from the top.", kind="text", room=12,
              example="120, 640"),
        field(f"{start}.speed", "Engine speed there", "", "engine speed", example="1000"),
        field(f"{start}.torque", "Torque there", "", "torque", example="50"),
        field(f"{start}.power", "Power there", "", "power", example="20"),
    )  # fmt: skip


def _curve(place: int) -> tuple[Field, ...]:
    start = f"curve[{place}]"
    return (
        field(f"{start}.of", "What does it show?", "", kind="choice", choices=OF),
        field(f"{start}.colour_at", "A place on the curve", "Its colour is taken there.", kind="text", room=12,
              example="300, 210"),
        field(f"{start}.guide", "It runs through", "Where lines of one colour cross: one place on each line.",
              kind="lines", listed=True, room=16),
        field(f"{start}.point", "Points by hand", "They stand, whatever the picture says: one place on each line.",
              kind="lines", listed=True, room=16),
        field(f"{start}.leave_out", "Leave out", "Engine speeds that must not go into the curve, one on each line.",
              kind="lines", listed=True, room=12),
        field(f"{start}.from", "Read from", "", "engine speed", left_out="where it begins"),
        field(f"{start}.to", "Read up to", "", "engine speed", left_out="where it ends"),
    )  # fmt: skip


def _source() -> tuple[Field, ...]:
    return (
        field("label", "What do you call it?", "", kind="text", room=30),
        field("source", "Book or page it is from", "Gross or net, engine or wheel: its own page says.", kind="text",
              room=40),
        field("page", "Page", "", kind="text", room=12),
        field("licence", "May the picture be shown?", "Figures read off are yours; the picture is its maker's.",
              kind="text", room=30),
        field("scale.speed", "Engine speed axis", "", kind="choice", choices=SCALES, left_out="even steps"),
        field("scale.torque", "Torque axis", "", kind="choice", choices=SCALES, left_out="even steps"),
        field("scale.power", "Power axis", "", kind="choice", choices=SCALES, left_out="even steps"),
        field("mark_pm", "How well are marks placed?", "Give or take, pixels.", kind="number",
              left_out="1.5 pixels, more on a large picture"),
    )  # fmt: skip


def judge(document: NamedDocument) -> Any:
    """What the reader says about the boxes. Raises InputError with the faults that a box can mend."""
    from calmday.files.chart_file import chart_of  # noqa: PLC0415  (the readers only where something is judged)

    try:
        return chart_of(document, "chart.toml", "chart")
    except InputError as error:
        ours = [fault for fault in error.faults if not _ELSEWHERE.fullmatch(fault.key)]
        # what is not begun is no fault of a box: the page says it when the curve is asked for
        ours = [fault for fault in ours if fault.key not in ("mark", "curve")]
        if ours:
            raise InputError(ours) from None
        return None


def _judge_picture(name: str, data: bytes) -> None:
    from calmday.files.picture_file import decode_picture  # noqa: PLC0415

    decode_picture(data, name)


CHART: Final = DocumentKind(
    kind="chart",
    words="Chart",
    page="chart_picture",
    home="chart_pictures",
    groups=groups,
    read=judge,
    files=(
        FileRole(
            role="picture",
            title="The picture",
            lead="A scan or a photograph of the chart, sharp and large: PNG, JPEG, WebP. The newest one counts.",
            accept="image/png,image/jpeg,image/webp,image/gif,image/bmp",
            judge=_judge_picture,
            most=MOST_PICTURE,
        ),
    ),
    file_keys=frozenset({"picture"}),
    task="trace",
)
