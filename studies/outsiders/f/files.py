"""Writers for the interchange formats: TOML, GPX 1.0 and 1.1, CSV, METAR."""
from datetime import datetime, timedelta, timezone
import json
from pathlib import Path
import math
import numpy as np
from .receiver import Fixes
from .vehicle import Knowledge, Vehicle
from .weather import Report, saturation_pa


def stamp(t0: datetime, seconds: float) -> str:
    return (t0 + timedelta(seconds=float(seconds))).astimezone(timezone.utc).strftime("%Y-%m-%dT%H:%M:%SZ")


def gpx(path: Path, f: Fixes, t0: datetime, version: str) -> None:
    """GPX 1.0 with <speed>, or 1.1 with the TrackPointExtension v2 speed."""
    if version == "1.0":
        head = ('<?xml version="1.0" encoding="UTF-8"?>\n<gpx version="1.0" creator="hold-out" xmlns="http://www.topografix.com/GPX/1/0">\n<trk><name>drive</name>\n')
    else:
        head = ('<?xml version="1.0" encoding="UTF-8"?>\n<gpx version="1.1" creator="hold-out" xmlns="http://www.topografix.com/GPX/1/1" '
                'xmlns:gpxtpx="http://www.garmin.com/xmlschemas/TrackPointExtension/v2">\n<trk><name>drive</name>\n')
    out = [head]; last = None
    sp = f.speed if f.speed is not None else np.full(len(f.t), np.nan)
    for t, la, lo, el, v, g in zip(f.t.tolist(), f.lat.tolist(), f.lon.tolist(), f.ele.tolist(), sp.tolist(), f.segment.tolist()):
        if g != last:
            out.append(("</trkseg>\n" if last is not None else "") + "<trkseg>\n"); last = g
        # element order of the 1.0 schema: ele, time, course, speed
        if f.speed is None: ext = ""
        elif version == "1.0": ext = f"<speed>{v:.2f}</speed>"
        else: ext = f"<extensions><gpxtpx:TrackPointExtension><gpxtpx:speed>{v:.2f}</gpxtpx:speed></gpxtpx:TrackPointExtension></extensions>"
        out.append(f'<trkpt lat="{la:.7f}" lon="{lo:.7f}"><ele>{el:.1f}</ele><time>{stamp(t0, t)}</time>{ext}</trkpt>\n')
    out.append("</trkseg>\n</trk>\n</gpx>\n")
    path.write_text("".join(out))


def dew_point(t_c: float, rh: float) -> float:
    x = math.log(rh * saturation_pa(t_c) / 611.2)
    return 243.12 * x / (17.62 - x)


def metar(r: Report, when: datetime, station: str) -> str:
    """WMO FM-15: whole knots, tens of degrees, whole degC and hPa (QNH rounded down)."""
    kn = int(round(r.speed / 0.514444)); gk = int(round((r.gust or 0) / 0.514444))
    d = int(round(r.from_deg / 10)) * 10 % 360 or 360
    if kn == 0: w = "00000KT"
    elif r.variable: w = f"VRB{kn:02d}KT"
    else: w = f"{d:03d}{kn:02d}" + (f"G{gk:02d}" if gk >= kn + 10 else "") + "KT"
    c = lambda x: ("M" if round(x) < 0 else "") + f"{abs(round(x)):02d}"
    t, td = r.t_c, min(r.t_c, dew_point(r.t_c, r.rh))
    return f"METAR {station} {when.strftime('%d%H%M')}Z {w} 9999 SCT030 {c(t)}/{c(td)} Q{int(math.floor(r.pressure_pa / 100)):04d}"


def vehicle_toml(v: Vehicle, k: Knowledge, folder: Path, extra: str = "") -> None:
    """The build sheet and its full-load curve (catalogue curve, read to +-3 %)."""
    q = lambda value, unit, pm: f'{{ value = "{value} {unit}", pm = "{pm} {unit}" }}' if pm else f'"{value} {unit}"'
    L = ["[vehicle]", f'name = "{k.name}"', f'body = "{v.body}"', f'test_mass = {q(int(k.mass_kg), "kg", k.pm.get("mass"))}']
    L += [f'width = "{k.as_width_height[0]} m"', f'height = "{k.as_width_height[1]} m"'] if k.as_width_height else [f'frontal_area = "{k.area_m2:.2f} m^2"']
    if k.cd: L.append(f"drag_coefficient = {k.cd}")
    if k.crr: L.append(f"rolling_resistance = {k.crr}")
    L += [f'tyre = "{v.tyre}"', f'tyre_pressure = "{v.pressure_kpa:.0f} kPa"', f"gear_ratios = {[float(r) for r in v.ratios]}", f"final_drive = {v.final}"]
    if k.eff: L.append(f"driveline_efficiency = {k.eff}")
    L += ["[engine]", f'displacement = "{v.displacement_m3 * 1e3:.1f} L"', "strokes = 4", f"cylinders = {v.cylinders}", f'fuel = "{v.fuel}"',
          f'induction = "{v.induction}"', f'injection = "{v.injection}"', f'idle_speed = "{v.n_idle:.0f} rpm"',
          f'governed_speed = "{round(v.n_max, -2):.0f} rpm"', 'full_load = "full_load.csv"']
    if k.declare_cut: L.append(f"overrun_fuel_cut = {str(v.cut).lower()}")
    (folder / "vehicle.toml").write_text("\n".join(L) + "\n" + extra)
    rpm = np.arange(1000, v.n_max + 1, 400)
    scale = v.bmep_max and 1.01
    rows = [f"{n:.0f},{T * scale:.0f}" for n, T in zip(rpm, v.full_torque(rpm))]
    (folder / "full_load.csv").write_text("speed_rpm,torque_Nm\n" + "\n".join(rows) + "\n")


def truth(folder: Path, data: dict) -> None:
    (folder / "truth.json").write_text(json.dumps(data, indent=1, default=float) + "\n")
