"""The build sheet as the owner would fill it in: mostly right, never exactly."""

from __future__ import annotations

import math

import numpy as np

from calmday.synthetic.simulate import SimulatedRun
from calmday.synthetic.streams import chance, normal, stream, uniform

_RPM = 60 / (2 * math.pi)


def vehicle_toml(run: SimulatedRun, name: str) -> str:
    """Text of vehicle.toml with realistic errors of declaration."""
    g = stream(run.scenario.seed, "declared")
    facts, chosen = run.vehicle, run.vehicle.chosen
    lines = [
        "[vehicle]",
        f'name = "{name}"',
        f'body = "{chosen.body}"',
        f'test_mass = "{chosen.mass_kg * normal(g, 1, 0.01, 2):.0f} kg"',
    ]
    seen = math.sqrt(normal(g, 1, 0.015, 2))
    if chance(g, 0.75):
        lines.append(f'frontal_area = "{facts.area_m2 * seen**2:.2f} m^2"')
    else:
        lines += [f'width = "{facts.width_m * seen:.2f} m"', f'height = "{facts.height_m * seen:.2f} m"']
    drag, rolling, driveline = normal(g, 1, 0.08, 2.5), normal(g, 1, 0.12, 2.5), normal(g, 1, 0.015)
    if chance(g, 0.5):
        lines.append(f"drag_coefficient = {facts.drag_coefficient * drag:.2f}")
    if chance(g, 0.15):
        lines.append(f"rolling_resistance = {facts.truth.rolling * rolling:.4f}")
    around = facts.circumference_m * normal(g, 1, 0.005, 2)
    if chance(g, 0.65):
        lines.append(f'tyre = "{facts.tyre}"')
    else:
        lines.append(f'rolling_circumference = "{around:.3f} m"')
    lines += [
        f'tyre_pressure = "{facts.usual_pressure_kpa:.0f} kPa"',
        f"gear_ratios = [{', '.join(str(r) for r in facts.gear_ratios)}]",
        f"final_drive = {facts.final_drive}",
    ]
    if chance(g, 0.2):
        lines.append(f"driveline_efficiency = {min(facts.driveline_efficiency * driveline, 0.98):.2f}")
    return "\n".join([*lines, *_engine_lines(run, g), ""])


def _engine_lines(run: SimulatedRun, g: np.random.Generator) -> list[str]:
    facts, chosen = run.vehicle, run.vehicle.chosen
    lines = [
        "[engine]",
        f'displacement = "{chosen.litres:.2f} L"',
        f"cylinders = {facts.cylinders}",
        f'fuel = "{chosen.fuel}"',
        f'induction = "{chosen.induction}"',
    ]
    if chance(g, 0.85):
        lines.append(f'injection = "{chosen.injection}"')
    lines += [
        f'idle_speed = "{round(facts.truth.idle_speed * _RPM * normal(g, 1, 0.03), -1):.0f} rpm"',
        f'governed_speed = "{facts.truth.governed_speed * _RPM:.0f} rpm"',
        'full_load = "full_load.csv"',
    ]
    if chance(g, 0.3):
        lines.append(f"overrun_fuel_cut = {str(facts.truth.overrun_cut).lower()}")
    return lines


def full_load_csv(run: SimulatedRun) -> str:
    """The curve as the owner found it: one factor (4 %), a little scatter, in one of the usual units."""
    g = stream(run.scenario.seed, "full load")
    truth = run.vehicle.truth
    top = truth.governed_speed * _RPM
    steps = np.arange(math.ceil(0.25 * top / 200) * 200, top, 400 if top < 5000 else 500)
    rpm = np.unique(np.append(steps, round(top)))
    grid = np.arange(truth.full_load_torque.size) * truth.full_load_step * _RPM
    torque = np.interp(rpm, grid, truth.full_load_torque) * normal(g, 1, 0.04, 2.5)
    torque = torque * (1 + 0.008 * g.standard_normal(rpm.size))
    unit = str(g.choice(["torque_Nm", "power_kW", "torque_lbf_ft", "power_hp"], p=[0.6, 0.2, 0.1, 0.1]))
    watts = torque * rpm / _RPM
    value = {
        "torque_Nm": torque,
        "power_kW": watts / 1e3,
        "torque_lbf_ft": torque / 1.3558179483,
        "power_hp": watts / 745.69987158,
    }[unit]
    rows = [f"{r:.0f},{v:.1f}" for r, v in zip(rpm.tolist(), value.tolist(), strict=True)]
    return "\n".join([f"speed_rpm,{unit}", *rows, ""])


def declared_density(run: SimulatedRun) -> float | None:
    """Density at 15 degC where the tester knew it [kg/m^3], standard deviation 1.5."""
    g = stream(run.scenario.seed, "density")
    value = run.vehicle.density_15 + normal(g, 0, 1.5)
    return round(value, 1) if chance(g, 0.6) else None


def declared_terrain(run: SimulatedRun) -> str | None:
    """Terrain as the tester judged it: right six times in seven, else a neighbour, now and then nothing."""
    g = stream(run.scenario.seed, "terrain seen")
    order = ["open", "farmland", "hedged", "suburban", "town"]
    place = order.index(run.scenario.terrain) if run.scenario.terrain in order else 0
    draw = uniform(g, 0, 1)
    if draw < 0.05:
        return None
    if draw < 0.15:
        place = min(max(place + int(g.choice([-1, 1])), 0), len(order) - 1)
    return order[place]
