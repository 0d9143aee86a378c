"""A driver on a road in the wind (`drive`), and the same trace again on another day (`replay`).

Midpoint rule with a fixed step: forces are taken at the mid-step speed, so that the kinetic energy of a step
is
exactly m v_mid a dt and the ledger of energies closes by arithmetic, not by luck.
"""

from __future__ import annotations

import math

import numpy as np

from calmday.synthetic.compiled import compiled
from calmday.synthetic.kernel_physics import (
    fuel_rate,
    full_load,
    idle_speed,
    own_torque,
    resistance,
    spin_loss,
    warm_up,
)
from calmday.synthetic.truth_types import (
    AERO,
    BRAKES,
    CARRIED,
    CLUTCH,
    COOLANT,
    DECLUTCHED,
    DRIVELINE,
    ENGAGED,
    ENGINE_LOSS,
    FUEL_ENERGY,
    GEARBOX,
    GRADE,
    INDICATED,
    KINETIC,
    OIL,
    OWED,
    ROLLING,
    SHAFT,
    SHIFTING,
    SLIPPING,
    TYRE,
    AirTruth,
    DayTruth,
    DriverTruth,
    FloatArray,
    RoadTruth,
    Trace,
    VehicleTruth,
)

STATES, ENTRIES = 5, 12


@compiled
def wind_on(road: RoadTruth, air: AirTruth, day: DayTruth, place: int, step: int) -> tuple[float, float]:
    """Tail wind and cross wind [m/s] at a place and time."""
    scale = day.wind_scale * road.shelter[place]
    east, north = scale * air.east_mps[step], scale * air.north_mps[step]
    ahead_east, ahead_north = road.heading_east[place], road.heading_north[place]
    return east * ahead_east + north * ahead_north, east * ahead_north - north * ahead_east


@compiled
def coupled_step(
    veh: VehicleTruth,
    ledger: FloatArray,
    state: FloatArray,
    force: float,
    speed: float,
    acceleration: float,
    gear: int,
    slip_speed: float,
    dt: float,
) -> tuple[float, float, float]:
    """Engine coupled to the wheels: shaft torque, engine speed, heat in the gearbox [W]. `slip_speed` 0:
    clutch shut.
    """
    ratio = veh.gear_ratio[gear]
    turning = speed * ratio / veh.wheel_radius_m
    slipping = slip_speed > turning
    omega = slip_speed if slipping else turning
    repay = 0.0
    if abs(state[OWED]) > 0.0 and speed > 2.0:
        repay = state[OWED] * min(1.0, dt / 1.5)
        state[OWED] -= repay
        ledger[CARRIED] -= repay
    wheel_torque = (force + repay / (max(speed, 2.0) * dt)) * veh.wheel_radius_m
    mesh = veh.gear_efficiency[gear]
    through = wheel_torque / (ratio * mesh) if wheel_torque >= 0.0 else wheel_torque * mesh / ratio
    spin = spin_loss(veh, turning, state[GEARBOX])
    flywheel = 0.0 if slipping else veh.engine_inertia * acceleration * ratio / veh.wheel_radius_m
    shaft = through + spin + flywheel
    own, _ = own_torque(veh, -1e9, omega, state[OIL])
    if shaft < -own:
        ledger[BRAKES] += (-own - shaft) * turning * dt
        shaft = -own
    lost = (through + spin) * turning - wheel_torque * turning / ratio
    ledger[DRIVELINE] += lost * dt
    ledger[CLUTCH] += shaft * (omega - turning) * dt
    ledger[KINETIC] += flywheel * turning * dt
    return shaft, omega, lost


@compiled
def account(
    veh: VehicleTruth,
    day: DayTruth,
    road: RoadTruth,
    ledger: FloatArray,
    state: FloatArray,
    speed: float,
    acceleration: float,
    gear: int,
    mode: int,
    place: int,
    tail: float,
    across: float,
    launch_speed: float,
    dt: float,
) -> float:
    """Work, losses, fuel and warming of one step; gives the fuel flow [kg/s]."""
    idle = idle_speed(veh, state[COOLANT])
    force, rolling_w = 0.0, 0.0
    if speed > 1e-3:
        air, rolling, slope = resistance(
            veh, day, speed, road.grade[place], road.height_m[place], tail, across, state[TYRE]
        )
        inertia = (veh.mass_kg + veh.wheel_inertia / veh.wheel_radius_m**2) * acceleration
        force = air + rolling + slope + inertia
        rolling_w = rolling * speed
        ledger[AERO] += air * speed * dt
        ledger[ROLLING] += rolling_w * dt
        ledger[GRADE] += slope * speed * dt
        ledger[KINETIC] += inertia * speed * dt
    if mode in (ENGAGED, SLIPPING):
        slip = launch_speed if mode == SLIPPING else 0.0
        shaft, omega, lost = coupled_step(veh, ledger, state, force, speed, acceleration, gear, slip, dt)
    else:
        shaft, omega, lost = 0.0, idle, 0.0
        if mode == SHIFTING or force > 0.0:
            state[OWED] += force * speed * dt
            ledger[CARRIED] += force * speed * dt
        else:
            ledger[BRAKES] -= force * speed * dt
    own, load = own_torque(veh, shaft, omega, state[OIL])
    indicated = max(shaft + own, 0.0)
    flow = fuel_rate(veh, indicated, load, omega, state[COOLANT])
    ledger[SHAFT] += shaft * omega * dt
    ledger[ENGINE_LOSS] += (indicated - shaft) * omega * dt
    ledger[INDICATED] += indicated * omega * dt
    fuel_w = flow * veh.heating_value
    ledger[FUEL_ENERGY] += fuel_w * dt
    warm_up(veh, state, day, speed, dt, rolling_w, lost, fuel_w, own * omega)
    return flow


@compiled
def replay(
    veh: VehicleTruth,
    day: DayTruth,
    road: RoadTruth,
    air: AirTruth,
    trace: Trace,
    launch_speed: float,
    start: FloatArray,
    dt: float,
) -> tuple[float, FloatArray, FloatArray, FloatArray]:
    """The same speed, gears and clutch on another day: fuel [kg], fuel flow [kg/s], ledger [J],
    temperatures in time.
    """
    count = trace.speed.size
    flow = np.empty(count)
    states = np.empty((count, STATES))
    ledger = np.zeros(ENTRIES)
    state = start.copy()
    for i in range(count):
        place = trace.place[i]
        tail, across = wind_on(road, air, day, place, i)
        flow[i] = account(
            veh,
            day,
            road,
            ledger,
            state,
            trace.speed[i],
            trace.acceleration[i],
            trace.gear[i],
            trace.mode[i],
            place,
            tail,
            across,
            launch_speed,
            dt,
        )
        states[i] = state
    return flow.sum() * dt, flow, ledger, states


@compiled
def wanted_acceleration(driver: DriverTruth, speed: float, limit: float, to_stop: float) -> float:
    """What the driver asks for [m/s^2]: close on the limit with a lag, brake to the stop line in time."""
    wish = (limit - speed) / driver.lag_s
    wish = min(max(wish, -driver.braking * 1.5), driver.acceleration * (1.0 - 0.4 * min(speed / 30.0, 1.0)))
    if to_stop < 0.6:
        return -1.5
    distance = to_stop
    if speed * speed > 2.0 * driver.braking * distance:
        wish = min(wish, -speed * speed / (2.0 * distance))
    elif distance < 15.0:
        wish = min(wish, (math.sqrt(2.0 * driver.braking * distance) - speed) / 0.8)
    return max(wish, -6.0)


@compiled
def choose_gear(veh: VehicleTruth, driver: DriverTruth, gear: int, speed: float, pull: float, labouring: float) -> int:
    """The next gear: up when the engine turns fast enough and the next gear pulls, down when it lugs or
    labours.
    """
    per_speed = 1.0 / veh.wheel_radius_m
    omega = speed * veh.gear_ratio[gear] * per_speed
    if gear > 0 and omega < driver.downshift:
        lower = gear
        while lower > 0 and speed * veh.gear_ratio[lower] * per_speed < 1.15 * driver.downshift:
            lower -= 1
        return lower
    if gear > 0 and labouring > 1.5:
        below = speed * veh.gear_ratio[gear - 1] * per_speed
        stronger = full_load(veh, below) * below > 1.03 * full_load(veh, omega) * omega
        if below < 0.93 * veh.governed_speed and stronger:
            return gear - 1
    if gear + 1 < veh.gear_ratio.size:
        above = speed * veh.gear_ratio[gear + 1] * per_speed
        share = max(0.0, min(1.0, pull))
        needed = pull * full_load(veh, omega) * veh.gear_ratio[gear] / veh.gear_ratio[gear + 1]
        ready = omega > driver.upshift_easy + share * (driver.upshift_hard - driver.upshift_easy)
        if ready and above > 1.08 * driver.downshift and needed < 0.86 * full_load(veh, above):
            return gear + 1
    return gear


@compiled
def strongest(
    veh: VehicleTruth, force: float, gear: int, omega: float, torque: float, gearbox_c: float, slipping: bool
) -> float:
    """Acceleration [m/s^2] at a given engine torque against the resistance `force`."""
    arm = veh.wheel_radius_m / (veh.gear_ratio[gear] * veh.gear_efficiency[gear])
    moving = veh.mass_kg + veh.wheel_inertia / veh.wheel_radius_m**2
    spinning = 0.0 if slipping else veh.engine_inertia * veh.gear_ratio[gear] / veh.wheel_radius_m
    return float((torque - spin_loss(veh, omega, gearbox_c) - force * arm) / (moving * arm + spinning))


@compiled
def feasible(
    veh: VehicleTruth,
    driver: DriverTruth,
    density_ratio: float,
    wish: float,
    speed: float,
    force: float,
    gear: int,
    gearbox_c: float,
    shifting: bool,
) -> tuple[float, int, float]:
    """What comes of the wish: acceleration, clutch mode, engine torque over full load."""
    coast = -force / (veh.mass_kg + veh.wheel_inertia / veh.wheel_radius_m**2)
    if shifting:
        return (wish, DECLUTCHED, 0.0) if wish < coast else (coast, SHIFTING, 0.0)
    omega = speed * veh.gear_ratio[gear] / veh.wheel_radius_m
    if wish < coast and omega < 1.05 * veh.idle_speed:
        return wish, DECLUTCHED, 0.0
    slipping = omega < driver.launch_speed and (gear == 0 or omega < 1.1 * veh.idle_speed)
    engine = driver.launch_speed if slipping else omega
    limit = full_load(veh, engine) * density_ratio**veh.density_exponent * (0.8 if slipping else 1.0)
    most = strongest(veh, force, gear, omega, limit, gearbox_c, slipping)
    none = strongest(veh, force, gear, omega, 0.0, gearbox_c, slipping)
    got = min(wish, most)
    pull = (got - none) / max(most - none, 1e-6)
    return got, SLIPPING if slipping else ENGAGED, pull


@compiled
def drive(
    veh: VehicleTruth,
    driver: DriverTruth,
    day: DayTruth,
    road: RoadTruth,
    air: AirTruth,
    stop_at: FloatArray,
    stop_for: FloatArray,
    start: FloatArray,
    dt: float,
) -> tuple[int, FloatArray, FloatArray, Trace]:
    """Drive from rest through all stops (the last one ends the run): steps, distance and speed at step
    starts, trace.
    """
    most = air.traffic.size
    along = np.zeros(most + 1)
    speeds = np.zeros(most + 1)
    trace = Trace(
        np.zeros(most),
        np.zeros(most),
        np.zeros(most, np.int64),
        np.zeros(most, np.int64),
        np.zeros(most, np.int64),
    )
    ledger, state = np.zeros(ENTRIES), start.copy()
    lap = road.step_m * road.grade.size
    ground = v = pull = labouring = shift_left = since = 0.0
    gear, stop, hold, i = 0, 0, stop_for[0], 0
    while i < most and stop < stop_at.size:
        place = min(int((ground % lap) / road.step_m), road.grade.size - 1)
        tail, across = wind_on(road, air, day, place, i)
        a, mode = 0.0, DECLUTCHED
        if hold > 0.0:
            hold -= dt
            gear = 0
            stop += 1 if hold <= 0.0 else 0
        else:
            wish = wanted_acceleration(driver, v, road.limit_mps[place] * air.traffic[i], stop_at[stop] - ground)
            mid = max(v + 0.5 * wish * dt, 0.02)
            parts = resistance(veh, day, mid, road.grade[place], road.height_m[place], tail, across, state[TYRE])
            force = parts[0] + parts[1] + parts[2]
            shift_left -= dt
            since += dt
            ratio = day.density / 1.2
            a, mode, pull_now = feasible(veh, driver, ratio, wish, mid, force, gear, state[GEARBOX], shift_left > 0.0)
            pull += (pull_now - pull) * min(1.0, dt / 0.7)
            labouring = labouring + dt if pull_now > 0.97 and wish > 0.15 else 0.0
            a = max(a, -v / dt)
            if shift_left <= 0.0 and since > 2.5:
                target = choose_gear(veh, driver, gear, max(v, 0.02), pull, labouring)
                if target != gear:
                    gear, shift_left, since = target, driver.shift_time_s, 0.0
                    labouring = 0.0
                    a, mode, _ = feasible(veh, driver, ratio, wish, mid, force, gear, state[GEARBOX], True)
                    a = max(a, -v / dt)
        middle = v + 0.5 * a * dt
        trace.speed[i], trace.acceleration[i] = middle, a
        trace.gear[i], trace.mode[i], trace.place[i] = gear, mode, place
        account(veh, day, road, ledger, state, middle, a, gear, mode, place, tail, across, driver.launch_speed, dt)
        v = max(v + a * dt, 0.0)
        ground += middle * dt / math.sqrt(1.0 + road.grade[place] ** 2)
        if hold <= 0.0 and stop < stop_at.size and v < 0.3 and stop_at[stop] - ground < 1.5:
            v, hold = 0.0, max(stop_for[stop], dt)
        i += 1
        along[i], speeds[i] = ground, v
    return i, along, speeds, trace


@compiled
def coast(
    veh: VehicleTruth, day: DayTruth, head_wind: float, grade: float, begin: float, end: float, dt: float
) -> tuple[float, float]:
    """Roll in neutral from speed `begin` to `end` [m/s], tyres warm: time [s] and distance [m].

    Midpoint steps; the last step is cut where the line through it meets `end`. Rotating parts: the wheels.
    """
    moving = veh.mass_kg + veh.wheel_inertia / veh.wheel_radius_m**2
    v, time, way, slowing = begin, 0.0, 0.0, 0.0
    while v > end and time < 3600.0:
        for _ in range(3):
            middle = v + 0.5 * slowing * dt
            parts = resistance(veh, day, middle, grade, 0.0, -head_wind, 0.0, veh.tyre_warm_c)
            slowing = -(parts[0] + parts[1] + parts[2]) / moving
        share = min(1.0, (v - end) / max(-slowing * dt, 1e-12))
        way += (v + 0.5 * slowing * dt * share) * dt * share
        time += dt * share
        v += slowing * dt * share
        if slowing >= 0.0:
            break
    return time, way
