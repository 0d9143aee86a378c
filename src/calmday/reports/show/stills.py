"""The pictures of a result for a film: still frames, wide and tall, with their words as captions."""

from __future__ import annotations

from collections.abc import Sequence
from typing import TYPE_CHECKING, Final, Literal

import msgspec

from calmday.reports.charts.card import headline_card
from calmday.reports.charts.chart import Chart
from calmday.reports.charts.comparison import comparison_chart
from calmday.reports.charts.doubt import doubt_chart
from calmday.reports.charts.fuel_shares import fuel_shares_chart
from calmday.reports.charts.guess_board import guess_board_chart
from calmday.reports.charts.lettering import plain
from calmday.reports.charts.picture import png
from calmday.reports.charts.route import route_chart
from calmday.reports.charts.units import METRIC, ReaderUnits

if TYPE_CHECKING:
    from calmday.procedures.along_the_drive import AlongTheDrive
    from calmday.procedures.guess_result import GuessBoard
    from calmday.procedures.weighed_run_result import RunResult

SHAPES: Final[tuple[tuple[Literal["16:9", "9:16"], str], ...]] = (("16:9", "wide"), ("9:16", "tall"))
SECONDS: Final = 6
"""How long each still is taken to stand in the list of captions."""


class Still(msgspec.Struct, frozen=True, kw_only=True):
    """One frame: `name` of its files without ending, its chart, and what is said while it stands."""

    name: str
    chart: Chart

    @property
    def caption(self) -> str:
        """The words of the frame, for those who do not hear or do not see."""
        title = plain(self.chart.title)
        return f"{title}{'' if title.endswith(('?', '!', '.')) else '.'} {plain(self.chart.description)}"


def stills_of_run(
    result: RunResult,
    board: GuessBoard | None = None,
    along: AlongTheDrive | None = None,
    units: ReaderUnits = METRIC,
) -> tuple[Still, ...]:
    """The frames of one run in the order of telling: the guesses, the figure, calm against driven, where it went."""
    found: list[tuple[str, Chart | None]] = [
        ("guesses", guess_board_chart(board) if board is not None and _shown(board) else None),
        ("headline", headline_card(result, units)),
        ("calm-and-driven", comparison_chart(result, (), units)),
        ("where-the-fuel-went", fuel_shares_chart(result.energy)),
        ("where-the-doubt-comes-from", _doubt(result)),
        ("the-road", None if along is None else route_chart(along, "speed", units)),
    ]
    return numbered([(name, chart) for name, chart in found if chart is not None])


def _shown(board: GuessBoard) -> bool:
    return bool(board.guesses) and all(flag.severity != "stop" for flag in board.flags)


def numbered(charts: Sequence[tuple[str, Chart]]) -> tuple[Still, ...]:
    """Frames with their place in front of their names, so that they sort as they are told."""
    return tuple(Still(name=f"{place}-{name}", chart=chart) for place, (name, chart) in enumerate(charts, start=1))


def _doubt(result: RunResult) -> Chart | None:
    return doubt_chart(
        result.budget or result.budget_as_driven, "calm-day figure" if result.budget else "as-driven figure"
    )


def still_files(stills: Sequence[Still], *, pictures: bool = True) -> dict[str, bytes]:
    """Every file of the set by name: SVG and, with `pictures`, PNG of both shapes, and the captions.

    Raises MissingExtraError where pictures are asked for and their renderer is not installed.
    """
    files: dict[str, bytes] = {}
    for still in stills:
        for shape, word in SHAPES:
            files[f"{still.name}-{word}.svg"] = still.chart.svg(shape, "light").encode()
            if pictures:
                files[f"{still.name}-{word}.png"] = png(still.chart, shape)
    return files | caption_files(stills)


def caption_files(stills: Sequence[Still]) -> dict[str, bytes]:
    """The words of every frame: as a list, and timed as WebVTT and SubRip, each frame standing six seconds."""
    listed = "\r\n\r\n".join(f"{still.name}\r\n{still.caption}" for still in stills)
    cues = [(place * SECONDS, (place + 1) * SECONDS, still) for place, still in enumerate(stills)]
    vtt = "\n\n".join(
        f"{still.name}\n{_clock(start, '.')} --> {_clock(stop, '.')}\n{_cue(still.caption)}"
        for start, stop, still in cues
    )
    srt = "\r\n\r\n".join(
        f"{number}\r\n{_clock(start, ',')} --> {_clock(stop, ',')}\r\n{still.caption}"
        for number, (start, stop, still) in enumerate(cues, start=1)
    )
    return {
        "captions.txt": f"{listed}\r\n".encode(),
        "captions.vtt": f"WEBVTT\n\n{vtt}\n".encode(),
        "captions.srt": f"{srt}\r\n".encode(),
    }


def _clock(seconds: int, point: str) -> str:
    return f"{seconds // 3600:02d}:{seconds // 60 % 60:02d}:{seconds % 60:02d}{point}000"


def _cue(text: str) -> str:
    """Text of a cue: what WebVTT would take for markup or for its arrow is spelt out. W3C WebVTT, cue text."""
    return text.replace("&", "&amp;").replace("<", "&lt;").replace(">", "&gt;")
