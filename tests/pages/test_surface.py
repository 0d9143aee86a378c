"""Whatever is sent to whichever address: an answer, never a fault of the program."""

from __future__ import annotations

import re
import tempfile
from collections.abc import Iterator
from pathlib import Path

import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st
from page_client import HERE, client_of
from starlette.testclient import TestClient

from calmday.web.addresses import PATHS, address
from calmday.web.pages.table import HANDLERS
from calmday.web.run_fields import STEPS, run_fields
from calmday.web.vehicle_fields import build_fields

LONG_WORK = {"reduce", "example", "export", "run_export", "backup", "import", "share"}
"""Tried by their own tests: each takes a while."""


@pytest.fixture(scope="module")
def there() -> Iterator[tuple[TestClient, str, str]]:
    """A page with a vehicle and a run, for all examples of this file."""
    with tempfile.TemporaryDirectory() as folder, client_of(Path(folder) / "b.calmday") as client:
        client.follow_redirects = False
        vehicle = client.post("/vehicles/new", data={"name": "Van"}).headers["location"].split("/")[2]
        run = client.post(f"/vehicles/{vehicle}/runs").headers["location"].split("/")[2]
        yield client, vehicle, run


odd_text = st.text(max_size=30) | st.sampled_from(
    ["", "0", "-1", "1e999", "NaN", "38 psi", "12,5", "../x", "\u202e", "a" * 3000]
)
quick = settings(max_examples=25, deadline=None, suppress_health_check=[HealthCheck.too_slow])


def sound(status: int) -> bool:
    return status < 500


@quick
@given(
    path=st.text(st.characters(exclude_categories=["Cs"], exclude_characters="?#"), max_size=40),
    method=st.sampled_from(["GET", "POST", "HEAD", "PUT", "OPTIONS"]),
    headers=st.dictionaries(
        st.sampled_from(
            ["accept", "cookie", "origin", "sec-fetch-site", "accept-language", "content-type", "user-agent", "range"]
        ),
        st.text(st.characters(min_codepoint=32, max_codepoint=126), max_size=60),
        max_size=4,
    ),
    body=st.binary(max_size=200),
)
def test_any_request(
    there: tuple[TestClient, str, str], path: str, method: str, headers: dict[str, str], body: bytes
) -> None:
    client, _, _ = there
    from urllib.parse import quote  # noqa: PLC0415

    answer = client.request(
        method, f"{HERE}/{quote(path)}", headers=headers, content=body if method == "POST" else None
    )
    assert sound(answer.status_code), answer.text


@quick
@given(
    name=st.sampled_from([n for n in PATHS if n not in LONG_WORK]),
    odd=odd_text,
    query=st.dictionaries(odd_text, odd_text, max_size=3),
)
def test_any_part_of_an_address(there: tuple[TestClient, str, str], name: str, odd: str, query: dict[str, str]) -> None:
    client, _, _ = there
    slots = {slot for path in PATHS.values() for slot in re.findall(r"\{(\w+)\}", path)}
    where = address(name, **dict.fromkeys(slots, odd.encode("utf-8", "replace").decode()))
    for method in HANDLERS[name][1]:
        answer = client.request(method, where, params={k: v for k, v in query.items() if k})
        assert sound(answer.status_code), answer.text


@quick
@given(
    data=st.dictionaries(st.sampled_from([f.key for f in run_fields()]), odd_text, max_size=6),
    unit=odd_text,
    step=st.sampled_from([s.name for s in STEPS if s.name != "check"]),
)
def test_any_entry_of_a_run(there: tuple[TestClient, str, str], data: dict[str, str], unit: str, step: str) -> None:
    client, _, run = there
    form = data | {f"{key}~unit": unit for key in data}
    saved = client.post(f"/save/run/{run}", data=form)
    assert sound(saved.status_code), saved.text
    posted = client.post(f"/runs/{run}/steps/{step}", data=form)
    assert posted.status_code in (303, 422), posted.text
    for where in (f"/runs/{run}", f"/runs/{run}/steps/{step}", f"/history/run/{run}"):
        assert client.get(where).status_code == 200


@quick
@given(data=st.dictionaries(st.sampled_from([f.key for f in build_fields()]), odd_text, max_size=6), unit=odd_text)
def test_any_entry_of_a_vehicle(there: tuple[TestClient, str, str], data: dict[str, str], unit: str) -> None:
    client, vehicle, _ = there
    form = data | {f"{key}~unit": unit for key in data}
    assert client.post(f"/vehicles/{vehicle}/build", data=form).status_code in (303, 422)
    assert client.get(f"/vehicles/{vehicle}/build").status_code == 200
    assert sound(client.post(f"/vehicles/{vehicle}/changes", data={"change[0].date": unit, **data}).status_code)


@quick
@given(points=st.lists(st.tuples(odd_text, odd_text), max_size=6), unit=odd_text, go=st.sampled_from(["draw", "", "x"]))
def test_any_curve(there: tuple[TestClient, str, str], points: list[tuple[str, str]], unit: str, go: str) -> None:
    client, vehicle, _ = there
    form = {"unit": unit, "go": go}
    for place, (speed, value) in enumerate(points):
        form |= {f"speed-{place}": speed, f"value-{place}": value}
    assert sound(client.post(f"/vehicles/{vehicle}/curve", data=form).status_code)


@quick
@given(name=st.text(max_size=30), content=st.binary(max_size=300), where=st.sampled_from(["tracks", "photographs"]))
def test_any_file(there: tuple[TestClient, str, str], name: str, content: bytes, where: str) -> None:
    client, _, run = there
    try:
        name.encode()
    except UnicodeEncodeError:
        name = "odd"
    answer = client.post(f"/runs/{run}/{where}", files={"file": (name or "x", content)})
    assert sound(answer.status_code), answer.text


@quick
@given(body=st.binary(max_size=400), boundary=st.sampled_from(["x", "----b", ""]))
def test_any_multipart_body(there: tuple[TestClient, str, str], body: bytes, boundary: str) -> None:
    client, _, run = there
    kind = {"content-type": f"multipart/form-data; boundary={boundary}"}
    assert sound(client.post(f"/runs/{run}/tracks", content=b"--x\r\n" + body, headers=kind).status_code)
