"""Colours: those of Okabe and Ito, chosen per background so that lines stand out and text reads at 7:1 or better.

In a page every colour is a custom property (`--chart-ink`...) with the light value to fall back on; `stylesheet` sets
them for light, dark and print. In a picture for download they are literal.
"""

from __future__ import annotations

from typing import Final, Literal

Theme = Literal["page", "light", "dark"]

BLACK, ORANGE, SKY, GREEN = "#000000", "#E69F00", "#56B4E9", "#009E73"
YELLOW, BLUE, VERMILLION, PURPLE = "#F0E442", "#0072B2", "#D55E00", "#CC79A7"
"""Okabe and Ito 2008, Color Universal Design."""

LIGHT: Final[dict[str, str]] = {
    "paper": "#FFFFFF",
    "ink": "#16181B",
    "soft": "#474B50",
    "rule": "#C9CDD2",
    "shade": "#ECEEF0",
    "first": BLUE,
    "second": VERMILLION,
    "third": "#007A59",
    "fourth": "#9C4477",
    "plain": "#6A7077",
    "ramp1": YELLOW,
    "ramp2": ORANGE,
    "ramp3": VERMILLION,
    "ramp4": "#8A3A00",
    "ramp5": "#3B1800",
}
"""On white, Okabe and Ito's green and purple are darkened at the same hue until they reach 4.5:1."""

DARK: Final[dict[str, str]] = {
    "paper": "#14171A",
    "ink": "#F2F3F5",
    "soft": "#C6CAD0",
    "rule": "#454B52",
    "shade": "#23282D",
    "first": SKY,
    "second": ORANGE,
    "third": "#2FC79A",
    "fourth": PURPLE,
    "plain": "#9AA1A9",
    "ramp1": "#733000",
    "ramp2": "#AD4B00",
    "ramp3": "#DD8A00",
    "ramp4": "#F3C433",
    "ramp5": "#FFFBD0",
}

SERIES: Final = ("first", "second", "third", "fourth", "ink")
DASHES: Final = ("", "9 5", "2 5", "12 4 2 4", "5 3")
"""Dash patterns in stroke widths, so that curves differ in greyscale as well."""
RAMP: Final = ("ramp1", "ramp2", "ramp3", "ramp4", "ramp5")


def colour(name: str, theme: Theme) -> str:
    """A colour by its part in a chart, as an SVG paint."""
    if theme == "dark":
        return DARK[name]
    return LIGHT[name] if theme == "light" else f"var(--chart-{name}, {LIGHT[name]})"


def _properties(colours: dict[str, str]) -> str:
    return " ".join(f"--chart-{name}: {value};" for name, value in colours.items())


def stylesheet() -> str:
    """The style sheet of a page with charts: their colours on light, dark and paper, and which size shows when.

    `data-theme="light"` or `"dark"` on the root outranks what the system prefers. `--chart-paper` is what lies behind a
    chart: a page with another background sets it to that.
    """
    light, dark = _properties(LIGHT), _properties(DARK)
    return "\n".join(
        (
            f":root {{ {light} }}",
            f'@media (prefers-color-scheme: dark) {{ :root:not([data-theme="light"]) {{ {dark} }} }}',
            f':root[data-theme="dark"] {{ {dark} }}',
            f"@media print {{ :root, :root[data-theme] {{ {light} }} "
            ".chart .chart-page { display: block !important; } .chart .chart-narrow { display: none !important; } }",
            ".chart { container-type: inline-size; margin: 1rem 0; }",
            ".chart svg { display: block; width: 100%; height: auto; max-width: 60rem; font-family: inherit; }",
            ".chart .chart-narrow { display: none; max-width: 36rem; }",
            "@container (max-width: 40rem) { .chart .chart-narrow { display: block; } "
            ".chart .chart-page { display: none; } }",
            ".chart table { border-collapse: collapse; font-variant-numeric: tabular-nums; }",
            ".chart th, .chart td { padding: 0.2em 0.8em 0.2em 0; text-align: right; vertical-align: baseline; }",
            ".chart th:first-child, .chart td:first-child { text-align: left; font-weight: inherit; }",
            ".chart .chart-table { overflow-x: auto; }",
            "",
        )
    )


def relative_luminance(paint: str) -> float:
    """Relative luminance of #RRGGBB. WCAG 2.2, definition of relative luminance."""
    parts = [int(paint[i : i + 2], 16) / 255 for i in (1, 3, 5)]
    linear = [part / 12.92 if part <= 0.04045 else ((part + 0.055) / 1.055) ** 2.4 for part in parts]
    return 0.2126 * linear[0] + 0.7152 * linear[1] + 0.0722 * linear[2]


def contrast(one: str, other: str) -> float:
    """Contrast ratio of two colours, 1 to 21. WCAG 2.2, definition of contrast ratio."""
    dark, light = sorted((relative_luminance(one), relative_luminance(other)))
    return (light + 0.05) / (dark + 0.05)
