"""Every chart of an example in every size, into a folder, with a page to look at them.

    python scripts/chart_gallery.py [run.toml] [folder]

Writes NAME-SIZE-THEME.svg, PNG where the renderer is installed, and index.html with the charts as a page shows them.
"""

from __future__ import annotations

import datetime as dt
import sys
from pathlib import Path

from calmday.errors import MissingExtraError
from calmday.metrology.figure import from_normal
from calmday.operations import Reduction, demo_folder, reduce_file
from calmday.reports.charts import (
    SIZES,
    ChangeMark,
    Chart,
    HistoryPoint,
    charts_of_run,
    full_load_chart,
    guesses_of,
    history_chart,
    png,
    route_chart,
    stylesheet,
    traces_chart,
)

PAGE = """<!doctype html><html lang="en" data-theme="{theme}"><meta charset="utf-8">
<meta name="viewport" content="width=device-width, initial-scale=1"><title>Charts</title><style>
{sheet}
body {{ margin: 0 auto; padding: 0.8rem; max-width: 46rem; font: 16px/1.4 sans-serif;
  color: var(--chart-ink); background: {paper}; }}
figcaption {{ font-weight: 700; font-size: 1.2rem; margin: 1.5rem 0 0.5rem; }}
</style>{figures}"""


def history() -> Chart | None:
    """An invented season of one vehicle."""
    start = dt.date(2025, 5, 3)
    offsets = (0.3, 0.1, 0.0, 0.5, -0.3, -0.4, -0.2, -0.6, -0.7)
    points = [
        HistoryPoint(
            date=start + dt.timedelta(days=17 * index),
            label=f"Run {index + 1}",
            figure=from_normal(8.1 + offset, 0.15, "L/100km"),
            void=index == 3,
        )
        for index, offset in enumerate(offsets)
    ]
    changes = [
        ChangeMark(date=dt.date(2025, 6, 10), what="Axle 3.7 instead of 4.1"),
        ChangeMark(date=dt.date(2025, 8, 1), what="Tyres at 330 kPa"),
    ]
    return history_chart(points, changes)


def charts(reduction: Reduction) -> list[Chart]:
    """The charts of the run, and those of the vehicle behind it."""
    run = reduction.weighed.run
    found: list[Chart | None] = [
        *charts_of_run(reduction.result, reduction.along, guesses_of(run.predictions, run.published)),
        history(),
    ]
    if reduction.along is not None:
        found += [route_chart(reduction.along, "engine_power"), traces_chart(reduction.along, "time")]
    curve = run.vehicle.engine.full_load
    if curve is not None:
        found.append(full_load_chart(curve.speed_rps, curve.torque_nm, curve.power_w))
    return [chart for chart in found if chart is not None]


def main() -> None:
    """Render everything."""
    run = Path(sys.argv[1]) if len(sys.argv) > 1 else demo_folder() / "run.toml"
    folder = Path(sys.argv[2] if len(sys.argv) > 2 else "chart-gallery")
    folder.mkdir(parents=True, exist_ok=True)
    shown = charts(reduce_file(run))
    for chart in shown:
        for size in SIZES:
            for theme in ("light", "dark"):
                name = f"{chart.name}-{size.replace(':', 'x')}-{theme}"
                (folder / f"{name}.svg").write_text(chart.svg(size, theme), encoding="utf-8")
                if size in ("16:9", "9:16"):
                    try:
                        (folder / f"{name}.png").write_bytes(png(chart, size, theme))
                    except MissingExtraError as error:
                        sys.exit(str(error))
    figures = "".join(chart.figure_html() for chart in shown)
    for theme, paper in (("light", "#fff"), ("dark", "#14171A")):
        page = PAGE.format(theme=theme, sheet=stylesheet(), paper=paper, figures=figures)
        (folder / f"index-{theme}.html").write_text(page, encoding="utf-8")


if __name__ == "__main__":
    main()
