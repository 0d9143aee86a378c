"""Pictures of what is known of a vehicle: ladders from the build sheet through every test, ties, what to do next."""

from __future__ import annotations

from typing import TYPE_CHECKING, Final

from calmday.metrology.rounding import listed
from calmday.reports.charts.axes import Field, lying_scale
from calmday.reports.charts.canvas import Canvas
from calmday.reports.charts.chart import Chart, DataColumn, DataTable
from calmday.reports.charts.coastdown import bars
from calmday.reports.charts.lettering import width
from calmday.reports.charts.rows import Row, draw_marks, lay_out, room_for
from calmday.reports.charts.scale import Scale
from calmday.reports.knowledge_sheet import moved, words_of
from calmday.reports.words import amount, number, unit_words

if TYPE_CHECKING:
    from calmday.procedures.knowledge_result import KnowledgeResult, KnownParameter

MOST_LADDERS: Final = 4
MOST_TIED: Final = 9
_STRONG: Final = 0.35


def ladder_charts(result: KnowledgeResult) -> tuple[Chart, ...]:
    """For the parameters that the tests told most about: the build sheet, then after each test in order."""
    told = sorted((one for one in result.parameters if one.told_most_by), key=lambda one: one.narrowed_to)
    return tuple(_ladder(one) for one in told[:MOST_LADDERS])


def _ladder(one: KnownParameter) -> Chart:
    words, unit = words_of(one.key), unit_words(one.estimate.unit)
    steps = zip(one.ladder[:-1], one.ladder[1:], strict=True)
    told = [one.ladder[0], *(after for before, after in steps if moved(before.figure, after.figure))]
    rows = [
        Row(
            label=rung.after if place == 0 else f"+ {rung.after}",
            value=rung.figure.value,
            low=rung.figure.low,
            high=rung.figure.high,
            start=float("nan"),
            text=f"{amount(rung.figure)} {unit}".rstrip(),
            strong=place == len(told) - 1,
        )
        for place, rung in enumerate(told)
    ]
    title, note = (
        f"{words.capitalize()}, test by test",
        "From the build sheet downwards, the tests that moved it; 95 % intervals",
    )

    def draw(canvas: Canvas) -> None:
        top = canvas.heading(title, note)
        room = room_for(canvas, top, True)
        kept = rows if len(rows) <= room else [rows[0], *rows[len(rows) - room + 1 :]]
        lanes = lay_out(canvas, kept, top, axis=True)
        draw_marks(canvas, lanes)
        field = Field(lanes.x, Scale(0, 1, lanes.bottom, lanes.top))
        canvas.bottom(lying_scale(canvas, field, "", unit))

    first, last = one.ladder[0].figure, one.ladder[-1].figure
    columns = ("after", "value", "at least", "at most")
    return Chart(
        name=f"ladder-{one.key.replace('_', '-')}",
        title=title,
        note=note,
        description=(
            f"{words.capitalize()}: {amount(first)} {unit}".rstrip()
            + f" from the build sheet, {amount(last)} {unit}".rstrip()
            + f" after all tests; {one.told_most_by} told most."
        ),
        table=DataTable(
            tuple(DataColumn(name, unit if name != "after" else "") for name in columns),
            tuple((rung.after, rung.figure.value, rung.figure.low, rung.figure.high) for rung in one.ladder),
        ),
        draw=draw,
    )


def ties_chart(result: KnowledgeResult) -> Chart | None:
    """Squares for every pair of the parameters with the strongest ties: the larger, the closer; plus or minus said."""
    size = len(result.keys)
    reach = {i: max((abs(result.correlations[i][j]) for j in range(size) if j != i), default=0.0) for i in range(size)}
    kept = sorted(sorted(reach, key=lambda i: -reach[i])[:MOST_TIED])
    if len(kept) < 2 or max(reach.values()) < 0.1:
        return None
    names = [words_of(result.keys[i]) for i in kept]
    title = "What hangs together"
    note = "Full square: cannot be told apart. + both up, \u2212 one up as the other goes down"

    def draw(canvas: Canvas) -> None:
        top = canvas.heading(title, note)
        frame = canvas.frame
        text = frame.text
        count = len(kept)
        room = canvas.right - canvas.left
        cell = min(room / (count + 0.5), 2.6 * text)
        for row, name in enumerate(names[1:], start=1):  # each name stands to the right of its row, within the picture
            cell = min(cell, (room - 0.3 * text - width(name, text)) / row)
        cell = max(cell, 0.6 * text)
        if frame.height is not None:
            cell = min(cell, (frame.height - frame.bottom - top) / (count + 0.5))
        for row, i in enumerate(kept):
            y = top + (row + 0.5) * cell
            for column in range(row):
                r = result.correlations[i][kept[column]]
                x = canvas.left + (column + 0.5) * cell
                half = 0.46 * cell * abs(r) ** 0.5
                canvas.rect(x - 0.47 * cell, y - 0.47 * cell, 0.94 * cell, 0.94 * cell, "paper", edge="rule")
                canvas.rect(x - half, y - half, 2 * half, 2 * half, "rule" if abs(r) < _STRONG else "soft")
                if abs(r) >= _STRONG:
                    sign = "+" if r > 0 else "\u2212"
                    canvas.text(
                        x,
                        y + 0.36 * text,
                        sign,
                        size=min(text, 0.95 * cell),
                        anchor="middle",
                        colour="paper",
                        bold=True,
                    )
            canvas.text(canvas.left + row * cell + 0.3 * text, y + 0.36 * text, names[row])
        canvas.bottom(top + len(kept) * cell)

    said = [
        f"{words_of(one.first)} and {words_of(one.second)} ({number(one.correlation, 2)})" for one in result.entangled
    ]
    rows = tuple(
        (words_of(result.keys[i]), words_of(result.keys[j]), round(result.correlations[i][j], 2))
        for i in kept for j in kept if j < i
    )  # fmt: skip
    return Chart(
        name="ties",
        title=title,
        note=note,
        description=f"Closest: {listed(said)}." if said else "Nothing is closely tied to anything else.",
        table=DataTable((DataColumn("parameter"), DataColumn("with"), DataColumn("correlation")), rows),
        draw=draw,
    )


def next_chart(result: KnowledgeResult) -> Chart | None:
    """Bits per hour of the measurements worth making."""
    found = result.next_measurements
    if not found:
        return None
    rows = [
        Row(
            label=one.what,
            value=one.bits_per_hour,
            text=f"{number(one.half_width_then, 2)} {unit_words(one.unit)} then, {number(one.minutes, 0)} min",
            brief=f"± {number(one.half_width_then, 2)}",
        )
        for one in found
    ]
    title, note = "What would tell most for an hour's work", "Of the consumption at 80 km/h, in bits per hour"
    return Chart(
        name="next",
        title=title,
        note=note,
        description=f"{found[0].what}: it tells of {found[0].tells_of}.",
        table=DataTable(
            (DataColumn("what"), DataColumn("minutes"), DataColumn("give or take then", unit_words(found[0].unit)),
             DataColumn("bits per hour")),
            tuple((one.what, one.minutes, one.half_width_then, one.bits_per_hour) for one in found),
        ),
        draw=bars(title, note, rows, "others"),
    )  # fmt: skip
