"""A figure as somebody gave it, with how good they said it was and where it comes from."""

from __future__ import annotations

from typing import Literal

import msgspec

Origin = Literal["measured", "declared", "assumed", "published"]


class Declared(msgspec.Struct, frozen=True):
    """A quantity in SI units as entered at the door.

    `value` SI; `half_width` 95 % half width in the same unit, or None where the tester did not say; `as_entered` the
    text the person wrote, kept so that a sheet can show it back; `origin` who stands behind it.
    """

    value: float
    half_width: float | None = None
    as_entered: str = ""
    origin: Origin = "declared"
