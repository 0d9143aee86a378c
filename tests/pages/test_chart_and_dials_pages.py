"""The full-load curve from a picture, and the dials, on the page: in process, as a browser without script would."""

from __future__ import annotations

import io
import re
import time
import zipfile
from typing import Any

import pytest
from page_client import parsed
from starlette.testclient import TestClient

from calmday.files.full_load_file import parse_full_load
from calmday.operations.dials import check_dials_file
from calmday.operations.trace import trace_file
from calmday.records.vehicle import FullLoadCurve
from calmday.synthetic.drawn_chart import ChartLook
from calmday.synthetic.marked_chart import EngineShape, marked_chart


@pytest.fixture
def chart(client: TestClient, vehicle: str) -> str:
    """A chart with its picture, marked and pointed at; its page."""
    answer = client.post(f"/vehicles/{vehicle}/documents/chart")
    page = str(answer.url.path)
    drawn, at, shape = marked_chart(ChartLook(width=600, height=440), curves=("torque",), hand_px=0.0)
    document = page.split("/")[2]
    kept = client.post(
        f"/documents/{document}/files", data={"role": "picture"}, files={"file": ("chart.png", drawn.data, "image/png")}
    )
    assert kept.status_code == 200
    form: dict[str, str] = {"source": "Invented manual", "licence": "own drawing"}
    marks = [m for m in drawn.marks if m.power_w is None]
    for i, mark in enumerate(marks):
        form[f"mark[{i}].at"] = f"{mark.at[0]:.1f}, {mark.at[1]:.1f}"
        if mark.speed_rps is not None:
            form |= {f"mark[{i}].speed": f"{60 * mark.speed_rps:g}", f"mark[{i}].speed~unit": "rpm"}
        if mark.torque_nm is not None:
            form |= {f"mark[{i}].torque": f"{mark.torque_nm:g}", f"mark[{i}].torque~unit": "N*m"}
    x, y = at.place(3000, "torque", float(shape.torque(3000.0)))
    form |= {"curve[0].of": "torque", "curve[0].colour_at": f"{x:.0f}, {y:.0f}"}
    saved = client.post(page, data=form)
    assert saved.status_code == 200
    return page


def worked(client: TestClient, page: str) -> str:
    """The page after tracing."""
    finished(client, client.post(f"/documents/{page.split('/')[2]}/work"))
    return client.get(page).text.replace("\u00a0", " ")


def finished(client: TestClient, answer: Any) -> None:
    """Wait until the work that an answer tells of is done."""
    assert answer.status_code == 200
    while str(answer.url.path).startswith("/jobs/"):
        time.sleep(0.2)
        answer = client.get(str(answer.url.path))


def test_a_marked_picture_is_traced_drawn_and_used(client: TestClient, vehicle: str, chart: str):
    text = worked(client, chart)
    assert "The chart gives 137 N m" in text
    assert text.count("<polyline") == 1
    assert client.get(f"{chart}/picture").headers["content-type"] == "image/png"
    assert client.get(f"{chart}/trace.json").json()["schema"] == "calmday/trace/1"
    used = client.post(f"{chart}/use")
    assert str(used.url.path) == f"/vehicles/{vehicle}/build"
    exported = client.get("/moving/logbook.zip").content
    with zipfile.ZipFile(io.BytesIO(exported)) as folder:
        name = next(n for n in folder.namelist() if n.startswith("vehicles/") and n.endswith("full_load.csv"))
        curve = parse_full_load(folder.read(name).decode(), "full_load.csv", "full_load.csv")
        toml = next(n for n in folder.namelist() if n.endswith("chart.toml"))
        said = folder.read(toml).decode()
    assert curve.half_width is not None
    assert max(curve.torque_nm) == pytest.approx(137, abs=1)
    assert 'picture = "chart.png"' in said
    assert "Invented manual" in said


def test_the_exported_chart_is_what_the_command_traces(client: TestClient, chart: str, tmp_path):
    worked(client, chart)
    ours = client.get(f"{chart}/trace.json").json()
    with zipfile.ZipFile(io.BytesIO(client.get("/moving/logbook.zip").content)) as folder:
        folder.extractall(tmp_path / "out")
    theirs = trace_file(next((tmp_path / "out").rglob("chart.toml")))
    assert [p["torque"]["value"] for p in ours["full_load"]] == [p.torque.value for p in theirs.full_load]


def test_the_eye_leaves_a_point_out_and_moves_another(client: TestClient, chart: str):
    worked(client, chart)
    before = {p["engine_speed"]["value"]: p for p in client.get(f"{chart}/trace.json").json()["curves"][0]["points"]}
    rows = list(before)
    finished(client, client.post(f"{chart}/point", data={"curve": "0", "point": str(rows.index(2000.0)), "do": "out"}))
    after = {p["engine_speed"]["value"]: p for p in client.get(f"{chart}/trace.json").json()["curves"][0]["points"]}
    assert 2000.0 not in after
    place = list(after).index(3000.0)
    finished(client, client.post(f"{chart}/point", data={"curve": "0", "point": str(place), "do": "up"}))
    moved = {p["engine_speed"]["value"]: p for p in client.get(f"{chart}/trace.json").json()["curves"][0]["points"]}
    nearest = min(moved, key=lambda n: abs(n - 3000))
    assert moved[nearest]["origin"] == "by hand"
    shape = EngineShape()
    assert moved[nearest]["torque"]["value"] > float(shape.torque(3000.0)) + 0.2


def test_a_broken_picture_is_refused_in_words(client: TestClient, vehicle: str):
    page = str(client.post(f"/vehicles/{vehicle}/documents/chart").url.path)
    document = page.split("/")[2]
    answer = client.post(
        f"/documents/{document}/files",
        data={"role": "picture"},
        files={"file": ("x.png", b"\x89PNG nothing", "image/png")},
    )
    assert answer.status_code == 422
    assert "picture" in answer.text


def test_a_place_that_is_none_is_told_at_its_box(client: TestClient, chart: str):
    answer = client.post(chart, data={"mark[0].at": "over there"})
    assert answer.status_code == 422
    assert "is not a place in the picture" in answer.text


def test_nothing_marked_yet_says_what_is_missing(client: TestClient, vehicle: str):
    page = str(client.post(f"/vehicles/{vehicle}/documents/chart").url.path)
    text = worked(client, page)
    assert "cannot be traced yet" in text


@pytest.fixture
def dials(client: TestClient, vehicle: str) -> str:
    """Readings off the dials; their page."""
    client.post(f"/vehicles/{vehicle}/build", data={"vehicle.tyre": "195/75 R16", "vehicle.final_drive": "4.1"})
    page = str(client.post(f"/vehicles/{vehicle}/documents/dials").url.path)
    form = {"date": "2026-04-12"}
    for i, (shown, true) in enumerate(((50, 46.1), (80, 74.6), (100, 93.4))):
        form |= {f"speedometer.reading[{i}].indicated": str(shown), f"speedometer.reading[{i}].indicated~unit": "km/h"}
        form |= {f"speedometer.reading[{i}].satellite": str(true), f"speedometer.reading[{i}].satellite~unit": "km/h"}
    for key, value in (("start", "12345.6"), ("end", "12366.3"), ("distance", "20.15")):
        form |= {f"odometer.stretch[0].{key}": value, f"odometer.stretch[0].{key}~unit": "km"}
    form |= {"change[0].final_drive": "3.7", "change[0].what": "taller axle"}
    assert client.post(page, data=form).status_code == 200
    return page


def test_the_dials_page_leads_with_what_a_driver_does_with_it(client: TestClient, vehicle: str, dials: str):
    page = parsed(client.get(dials))
    assert "At 80 km/h on the dial you drive 74" in page.text
    assert "UN R39" in page.text
    assert "taller axle" in page.text
    assert "At 80 km/h" in parsed(client.get(f"/vehicles/{vehicle}/dials")).text
    assert not page.inline


def test_the_page_and_the_command_say_the_same(client: TestClient, dials: str, tmp_path):
    ours = client.get(f"{dials}/dials.json").json()
    with zipfile.ZipFile(io.BytesIO(client.get("/moving/logbook.zip").content)) as folder:
        folder.extractall(tmp_path / "out")
    theirs = check_dials_file(next((tmp_path / "out").rglob("dials.toml")), draws=1000)
    assert theirs.odometer is not None
    assert ours["odometer"]["factor"]["value"] == theirs.odometer.factor.value
    assert ours["speedometer"]["factor"]["low"] == theirs.speedometer.factor.low  # type: ignore[union-attr]


def test_an_odometer_factor_is_kept_for_runs(client: TestClient, dials: str):
    answer = client.post(f"{dials}/factor")
    assert answer.status_code == 200
    with zipfile.ZipFile(io.BytesIO(client.get("/moving/logbook.zip").content)) as folder:
        name = next(n for n in folder.namelist() if n.startswith("instruments/") and n.endswith(".toml"))
        said = folder.read(name).decode()
    assert re.search(r"value = 0\.97\d", said)
    assert "2026-04-12" in said


def test_a_chart_of_the_dials_can_be_taken_along(client: TestClient, dials: str):
    assert client.get(f"{dials}/charts/speedometer/svg").status_code in (200, 404)
    links = [link for link in parsed(client.get(dials)).links if "/charts/speedometer/" in link]
    assert links
    assert client.get(links[0]).status_code == 200


def test_an_impossible_reading_is_told_at_its_box(client: TestClient, dials: str):
    answer = client.post(dials, data={"odometer.stretch[0].end": "99", "odometer.stretch[0].end~unit": "km"})
    assert answer.status_code == 422
    assert "is not above start" in answer.text


def test_a_traced_curve_is_drawn_with_the_band_it_was_read_to_and_keeps_it(
    client: TestClient, vehicle: str, chart: str
) -> None:
    worked(client, chart)
    assert "10 % either way" not in client.post(f"{chart}/use").text
    page = client.get(f"/vehicles/{vehicle}/build").text
    said = re.search(r"The band is how well it could be read off, ([\d.]+) to ([\d.]+) % either way", page)
    assert said is not None
    assert 0.3 < float(said[1]) < float(said[2]) < 2

    boxes = parsed(client.get(f"/vehicles/{vehicle}/build")).boxes
    curve = {key: text for key, text in boxes.items() if re.fullmatch(r"(?:speed|value)-\d+", key)} | {
        "unit": "torque_Nm"
    }
    before = _full_load(client)
    client.post(f"/vehicles/{vehicle}/curve", data=curve)
    assert _full_load(client).half_width == before.half_width, "saving what was traced loses nothing of it"

    moved = curve | {"value-3": str(float(curve["value-3"]) + 5)}
    drawn = client.post(f"/vehicles/{vehicle}/curve", data=moved | {"go": "draw"}).text
    assert "to 3 % either way" in drawn, "a point typed among them is read as with a ruler"
    kept = client.post(f"/vehicles/{vehicle}/curve", data=moved)
    assert kept.status_code == 200
    after = _full_load(client)
    assert after.half_width is not None and before.half_width is not None
    assert [a == b for a, b in zip(after.half_width, before.half_width, strict=True)].count(False) == 1
    assert max(after.half_width) == pytest.approx(0.03)


def _full_load(client: TestClient) -> FullLoadCurve:
    """The full-load curve of the one vehicle, as its exported folder holds it."""
    with zipfile.ZipFile(io.BytesIO(client.get("/moving/logbook.zip").content)) as folder:
        (name,) = (n for n in folder.namelist() if re.fullmatch(r"vehicles/[^/]+/full_load[^/]*\.csv", n))
        return parse_full_load(folder.read(name).decode(), "full_load.csv", "full_load.csv")
