"""What is wrong is told by the names of the boxes and of the files that were sent, with a way back."""

from __future__ import annotations

import pytest
from page_client import parsed
from starlette.testclient import TestClient


@pytest.mark.parametrize("where", ["gears", "gears/changes", "what-if"])
def test_a_fault_of_the_build_sheet_by_the_name_of_its_box(client: TestClient, vehicle: str, where: str) -> None:
    client.post(f"/save/vehicle/{vehicle}", data={"vehicle.test_mass": "lots"})
    answer = client.get(f"/vehicles/{vehicle}/{where}")
    assert answer.status_code == 422
    assert "Mass as driven: &#34;lots&#34; does not start with a number." in answer.text
    assert "vehicle.test_mass" not in answer.text


def test_a_file_that_cannot_be_kept_leads_back_to_where_one_was(client: TestClient, vehicle: str) -> None:
    page = str(client.post(f"/vehicles/{vehicle}/documents/sound").url.path)
    sent = {"file": ("cab.wav", b"RIFF nothing", "audio/wav")}
    for referer, back in ((f"http://localhost:8000{page}", True), ("http://elsewhere.example/x", False)):
        answer = client.post(
            f"/documents/{page.split('/')[2]}/files",
            data={"role": "recording"},
            files=sent,
            headers={"referer": referer.replace("http://localhost:8000", str(client.base_url))},
        )
        assert answer.status_code == 422
        text = " ".join(parsed(answer).text.split())
        assert "cab.wav: It is no recording that can be read here. Right would be: a WAV, FLAC or OGG" in text
        assert (page in parsed(answer).links) == back


def test_no_folder_of_this_machine_is_named(client: TestClient) -> None:
    answer = client.post("/moving/import", files={"file": ("x.txt", b"nothing of ours", "text/plain")})
    text = parsed(answer).text
    assert "What came in: It has nothing in it that the logbook keeps." in " ".join(text.split())
    assert "/tmp" not in text.split("Where the logbook lies")[0]
