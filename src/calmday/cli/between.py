"""Numbers between bounds, said as people say them in help and faults."""

from __future__ import annotations

import click


class Whole(click.IntRange):
    """A whole number from `min` to `max`."""

    name = "number"

    def _describe_range(self) -> str:
        return f"{self.min} to {self.max}"


class Number(click.FloatRange):
    """A number from `min` to `max`."""

    name = "number"

    def _describe_range(self) -> str:
        return f"{self.min:g} to {self.max:g}"
