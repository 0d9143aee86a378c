"""NMEA 0183 logs against published checksums and a general library."""

from __future__ import annotations

import datetime as dt
from collections.abc import Callable
from functools import reduce
from operator import xor
from pathlib import Path

import pynmea2
import pytest

from calmday.errors import InputError
from calmday.files.nmea import parse_nmea, read_nmea

NOON = dt.datetime(2026, 4, 12, 12, 0, 0, tzinfo=dt.UTC).timestamp()


def sentence(body: str) -> str:
    return f"${body}*{reduce(xor, body.encode(), 0):02X}\r\n"


def rmc(time: str, *, date: str = "120426", status: str = "A", talker: str = "GP", speed: str = "22.4") -> str:
    return sentence(f"{talker}RMC,{time},{status},4807.038,N,01131.000,E,{speed},084.4,{date},,")


def gga(time: str, quality: str = "1") -> str:
    return sentence(f"GNGGA,{time},4807.038,N,01131.000,E,{quality},08,0.9,545.4,M,46.9,M,,")


@pytest.mark.parametrize(
    ("body", "checksum"),
    [
        # CV-138 (S, several pages; R)
        ("GPGGA,123519,4807.038,N,01131.000,E,1,08,0.9,545.4,M,46.9,M,,", "47"),
        # CV-139 (S, a JavaScript package's page; R)
        ("GPRMC,161006.425,A,7855.6020,S,13843.8900,E,154.89,84.62,110715,173.1,W,A", "30"),
        # CV-140 (S, same; R)
        ("GPGGA,120558.916,5058.7457,N,00647.0514,E,2,06,1.7,109.0,M,47.6,M,1.5,0000", "71"),
        # CV-141 (S, a university's page; R)
        ("GPRMC,175741,A,4751.698,N,12209.774,W,000.0,360.0,191100,019.5,E", "69"),
    ],
)
def test_nmea_published_checksums(body: str, checksum: str) -> None:
    assert len(parse_nmea(f"${body}*{checksum}\r\n".encode(), "a.nmea")) == 1
    other = f"{int(checksum, 16) ^ 1:02X}"
    with pytest.raises(InputError, match="wrong or no checksum"):
        parse_nmea(f"${body}*{other}\r\n".encode(), "a.nmea")


def test_nmea_position_and_speed() -> None:
    # CV-142: 4807.038,N is 48.117300 deg; 22.4 kn is 11.52356 m/s (S inputs; R).
    t = parse_nmea(rmc("120000").encode(), "a.nmea")
    assert t.latitude_deg[0] == pytest.approx(48.117300, abs=1e-6)
    assert t.speed_mps[0] == pytest.approx(11.52356, abs=1e-5)
    assert t.longitude_deg[0] == pytest.approx(11 + 31 / 60)
    assert (t.course_deg[0], t.time_s[0]) == (84.4, NOON)


def test_nmea_sentences_of_one_moment_are_one_fix() -> None:
    text = (
        gga("120000.00") + rmc("120000") + sentence("GPVTG,99.9,T,,M,1.0,N,1.9,K") + gga("120001.00") + rmc("120001.00")
    )
    t = parse_nmea(text.encode(), "a.nmea")
    assert t.time_s.tolist() == [NOON, NOON + 1]
    assert t.height_m.tolist() == [545.4, 545.4]
    assert t.hdop.tolist() == [0.9, 0.9]
    assert t.course_deg[0] == 84.4


def test_nmea_speed_from_vtg_where_there_is_no_rmc_speed() -> None:
    t = parse_nmea((gga("120000") + sentence("GPVTG,123.0,T,,M,,N,36.0,K,A")).encode(), "a.nmea")
    assert t.speed_mps[0] == pytest.approx(10.0)
    assert t.course_deg[0] == 123.0
    assert t.clock == "time of day" and "no sentence gives a date" in t.notes[0]


def test_nmea_midnight() -> None:
    before = gga("235958") + rmc("235959") + gga("000000") + gga("000001") + rmc("000002", date="130426")
    t = parse_nmea(before.encode(), "a.nmea")
    midnight = dt.datetime(2026, 4, 13, tzinfo=dt.UTC).timestamp()
    assert (t.time_s - midnight).tolist() == [-2, -1, 0, 1, 2]
    late = gga("235959") + gga("000000") + rmc("000001", date="130426")
    assert (parse_nmea(late.encode(), "a.nmea").time_s - midnight).tolist() == [-1, 0, 1]


def test_nmea_invalid_fixes_junk_and_damage() -> None:
    text = (
        "# a comment\njunk\n$\n$GPRMC\n$GPGSV,3,1,12*00\n\x00\xff\n"
        + rmc("120000", status="V")
        + gga("120000", quality="0")
        + rmc("120001")
        + rmc("120002").replace("4807", "4808")
        + rmc("120003", talker="GN")
        + sentence("GPRMC,120004,A,99")
        + sentence("GPRMC,126104,A,4807.038,N,01131.000,E,1,1,120426,,")
        + rmc("120005")[:30]
    )
    t = parse_nmea(text.encode("latin-1"), "a.nmea")
    assert (t.time_s - NOON).tolist() == [1, 3]
    assert t.notes == (
        "2 sentences with a wrong or no checksum left out",
        "2 sentences that cannot be read left out",
        "2 sentences without a valid fix left out",
    )


def test_nmea_without_any_checksum_is_read_and_said() -> None:
    text = "\n".join(line.partition("*")[0] for line in (rmc("120000"), rmc("120001")))
    t = parse_nmea(text.encode(), "a.nmea")
    assert len(t) == 2 and "no sentence has a checksum" in t.notes[0]


@pytest.mark.parametrize("name", ["bt451.log", "bundg_zeus_9.log"])
def test_real_nmea_logs_against_a_general_library(shared: Callable[[str], Path], name: str) -> None:
    path = shared(f"nmea/{name}")
    t = read_nmea(path)
    rmc_fixes: dict[float, pynmea2.RMC] = {}
    positions: dict[float, tuple[float, float]] = {}
    for line in path.read_text(encoding="utf-8", errors="replace").splitlines():
        if line[3:6] not in ("RMC", "GGA"):
            continue
        m = pynmea2.parse(line, check=True)
        if (m.sentence_type == "RMC" and m.status != "A") or (m.sentence_type == "GGA" and not m.gps_qual):
            continue
        of_day = m.timestamp.hour * 3600 + m.timestamp.minute * 60 + m.timestamp.second + m.timestamp.microsecond / 1e6
        if m.sentence_type == "RMC":
            rmc_fixes[of_day] = m
            positions.setdefault(of_day, (m.latitude, m.longitude))
        else:
            # Where both say where it was, GGA is taken: receivers write it with more decimals.
            positions[of_day] = (m.latitude, m.longitude)
    assert len(t) == len(positions) > 10
    for time, latitude, longitude, speed in zip(t.time_s, t.latitude_deg, t.longitude_deg, t.speed_mps, strict=True):
        assert (latitude, longitude) == pytest.approx(positions[time % 86_400], abs=1e-9)
        if time % 86_400 in rmc_fixes:
            m = rmc_fixes[time % 86_400]
            assert speed == pytest.approx(float(m.spd_over_grnd) * 1852 / 3600)
            assert dt.datetime.fromtimestamp(time, dt.UTC).date() == m.datestamp
