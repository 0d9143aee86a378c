"""Starting the page: what is printed, a port that is taken, a logbook that cannot be used; files shared to it."""

from __future__ import annotations

import re
import socket
from importlib.util import find_spec
from pathlib import Path

import pytest
from conftest import EXAMPLE
from page_client import parsed
from starlette.testclient import TestClient

from calmday.cli.main import main
from calmday.errors import InputError
from calmday.web.keys import Keys
from calmday.web.serving import greeting, lan_addresses, listen
from calmday.web.settings import Settings


def test_a_port_that_is_taken_is_said_to_be(capsys: pytest.CaptureFixture[str], tmp_path: Path) -> None:
    with socket.socket() as taken:
        taken.bind(("127.0.0.1", 0))
        taken.listen()
        port = taken.getsockname()[1]
        with pytest.raises(InputError, match="another port"):
            listen("127.0.0.1", port)
        place = str(tmp_path / "b.calmday")
        assert main(["serve", "--no-open", "--port", str(port), "--logbook", place]) == 2
    assert f"--port {port}" in capsys.readouterr().err


def test_a_file_that_is_no_logbook_is_left_alone(capsys: pytest.CaptureFixture[str], tmp_path: Path) -> None:
    other = tmp_path / "letter.txt"
    other.write_text("Dear aunt")
    assert main(["serve", "--no-open", "--logbook", str(other)]) == 2
    assert "no logbook" in capsys.readouterr().err
    assert other.read_text() == "Dear aunt"


def test_by_default_only_this_machine_can_connect() -> None:
    with listen("127.0.0.1", 0) as mine:
        assert mine.getsockname()[0] == "127.0.0.1"
    lines = greeting(Settings(logbook="b.calmday"), Keys(), "http://localhost:8765/")
    assert "Only this computer can see it. Stop with Ctrl-C." in lines


def test_with_lan_the_address_and_the_key_are_printed() -> None:
    keys = Keys()
    settings = Settings(logbook="b.calmday", lan=True, lan_hosts=("192.168.1.7",))
    said = " ".join(greeting(settings, keys, "http://localhost:8765/"))
    assert "http://192.168.1.7:8765/" in said
    assert keys.key in said
    assert "not encrypted" in said
    assert all(not address.startswith("127.") for address in lan_addresses())


def test_a_shared_track_joins_the_run_that_waits_for_one(client: TestClient, run: str) -> None:
    track = (EXAMPLE / "out.gpx").read_bytes()
    answer = client.post("/share", files={"file": ("from the phone.gpx", track)})
    assert answer.url.path == f"/runs/{run}/steps/track"
    assert "from the phone.gpx" in parsed(answer).text
    again = client.post("/share", files={"file": ("second.gpx", track)})
    assert again.status_code == 422
    assert "Start a run first" in parsed(again).text
    assert client.get("/app.webmanifest").json()["share_target"]["action"] == "/share"


def test_a_track_is_taken_away_and_its_entry_stays(client: TestClient, run: str) -> None:
    client.post(f"/runs/{run}/tracks", files={"file": ("out.gpx", (EXAMPLE / "out.gpx").read_bytes())})
    page = client.get(f"/runs/{run}/steps/track")
    held = page.text.split('name="file" value="')[1].split('"')[0]
    answer = client.post(f"/runs/{run}/files/remove", data={"file": held})
    assert "Take it away" not in parsed(answer).text
    assert "out.gpx" in client.get(f"/history/run/{run}").text
    assert client.post(f"/runs/{run}/files/remove", data={"file": held}).status_code == 404


def test_guesses_are_sealed_and_refused_after_the_weighing(client: TestClient, run: str) -> None:
    place = f"/runs/{run}/guesses"
    answer = client.post(place, data={"by": "Ada", "value": "34", "value~unit": "mpg US"})
    assert "Sealed." in parsed(answer).text
    assert "34 mpg" not in parsed(answer).text
    assert re.search(r">[0-9a-f]{64}<", answer.text), "the whole seal can be kept by whoever wants to check it"
    assert client.post(place, data={"by": "", "value": "34", "value~unit": "mpg US"}).status_code == 422
    assert client.post(place, data={"by": "Bram", "value": "many", "value~unit": "mpg US"}).status_code == 422
    client.post(f"/save/run/{run}", data={"weighing[1].gross[0]": "10", "weighing[1].gross[0]~unit": "kg"})
    late = client.post(place, data={"by": "Cleo", "value": "30", "value~unit": "mpg US"})
    assert late.status_code == 422
    assert "comes after the fuel was weighed" in parsed(late).text


@pytest.mark.skipif(find_spec("resvg_py") is None, reason="the extra for pictures is not installed")
def test_pictures_are_offered_where_their_renderer_is(client: TestClient) -> None:
    from calmday.reports.charts.full_load import full_load_chart  # noqa: PLC0415
    from calmday.web.chart_view import chart_view  # noqa: PLC0415

    chart = full_load_chart([20, 50], [100, 120])
    assert chart is not None
    assert [form for _, form, _ in chart_view(chart, "r1").downloads] == ["SVG", "PNG 16:9", "PNG 9:16"]
    assert chart_view(chart).downloads == ()
