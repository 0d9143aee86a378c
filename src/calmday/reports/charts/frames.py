"""The shapes a chart is drawn in: in a page, in a narrow page, and as still pictures for a video."""

from __future__ import annotations

from typing import Final, Literal, get_args

import msgspec

Size = Literal["page", "narrow", "16:9", "9:16"]
SIZES: Final[tuple[Size, ...]] = get_args(Size)


class Frame(msgspec.Struct, frozen=True, kw_only=True):
    """A shape with its margins and letter sizes, in units of its view box (pixels, for a still picture).

    `height` None: as tall as the content needs. `left`... stay free: for captions, and for what a player lays over
    the picture. `stacked` puts a row's label above its bar instead of beside it. `rows`, `panels`: most of them.
    `titled`: the title stands in the picture; in a page the heading above it does that.
    """

    size: Size
    width: float
    height: float | None
    left: float
    right: float
    top: float
    bottom: float
    text: float
    number: float
    title: float
    stroke: float
    stacked: bool
    rows: int
    panels: int
    titled: bool

    @property
    def inner(self) -> float:
        """Width between the margins."""
        return self.width - self.left - self.right


NUMBER_SHARE: Final = 1 / 20
"""Smallest height of a numeral in a picture for a video, of the frame's height."""

FRAMES: Final[dict[Size, Frame]] = {
    "page": Frame(
        size="page", width=720, height=None, left=4, right=4, top=6, bottom=6, text=16, number=16, title=20,
        stroke=1.0, stacked=False, rows=24, panels=6, titled=False,
    ),
    "narrow": Frame(
        size="narrow", width=360, height=None, left=3, right=3, top=6, bottom=6, text=16, number=16, title=20,
        stroke=1.0, stacked=True, rows=24, panels=6, titled=False,
    ),
    "16:9": Frame(
        size="16:9", width=1920, height=1080, left=96, right=96, top=60, bottom=162, text=46,
        number=1080 * NUMBER_SHARE, title=62, stroke=3.2, stacked=False, rows=9, panels=2, titled=True,
    ),
    "9:16": Frame(
        size="9:16", width=1080, height=1920, left=60, right=60, top=170, bottom=380, text=52,
        number=1920 * NUMBER_SHARE, title=70, stroke=3.6, stacked=True, rows=6, panels=2, titled=True,
    ),
}  # fmt: skip
"""Still pictures keep the lower 15 % (wide) and 20 % (tall) free for captions, and at least 5 % at the other edges
of the wide one: graphics stay inside 90 % of the picture (EBU R 95)."""
