"""A traced full-load curve as the CSV that a build sheet names."""

from __future__ import annotations

from typing import TYPE_CHECKING

from calmday.procedures.chart_summary import half_width_percent

if TYPE_CHECKING:
    from calmday.procedures.chart_trace_result import FullLoadPoint, TraceResult


def full_load_csv(result: TraceResult) -> str:
    """Engine speed, torque, power where it was read at every point, the band of the reading, and where it is from."""
    picture = result.picture
    whence = ", ".join(
        " ".join(part.split())
        for part in (picture.source, picture.page, picture.licence and f"licence: {picture.licence}")
        if part
    )
    lines = [f"# read from the picture {' '.join(picture.file.split())}{': ' if whence else ''}{whence}"]
    both = all(point.power_over_torque_speed is not None for point in result.full_load)
    lines.append("speed_rpm,torque_Nm,power_kW,pm_percent" if both else "speed_rpm,torque_Nm,pm_percent")
    lines += [_row(point, both) for point in result.full_load]
    return "\n".join(lines) + "\n"


def _row(point: FullLoadPoint, both: bool) -> str:
    cells = [f"{point.engine_speed.value:.0f}", f"{point.torque.value:.1f}"]
    if both:
        cells.append(f"{point.power.value:.2f}")
    return ",".join([*cells, f"{half_width_percent(point):.1f}"])
