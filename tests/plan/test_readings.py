"""Readings of the room: what may be typed, what is kept, and which one counts today."""

from __future__ import annotations

import csv
import shutil
from datetime import UTC, datetime, timedelta
from pathlib import Path

import pytest
from hypothesis import given
from hypothesis import strategies as st

from fizzwright.catalogue import open_workshop
from fizzwright.demo import folder
from fizzwright.plan.readings import FILE, Kept, keep, room_humidity_pct, room_temperature_c, todays_room
from fizzwright.refusal import Refusal

NOON = datetime(2026, 11, 25, 12, 0, tzinfo=UTC)


@pytest.fixture
def quillmoor(tmp_path: Path) -> Path:
    return Path(shutil.copytree(folder(), tmp_path / "quillmoor"))


@pytest.mark.parametrize(
    # 70 F = (70 - 32) x 5/9 = 21.11 C by the definition of the Fahrenheit scale (NIST SP 811, B.8)
    ("typed", "celsius"),
    [("21", 21.0), ("21,5 °C", 21.5), (" 70 F", 190 / 9), ("70°f", 190 / 9), ("-3 C", -3.0), ("−3", -3.0), ("45 c", 45.0)],
)  # fmt: skip
def test_temperatures_as_typed(typed: str, celsius: float) -> None:
    assert room_temperature_c(typed) == pytest.approx(celsius)


@pytest.mark.parametrize(
    ("typed", "said"),
    [
        ("", "Write what"),
        ("warm", "warm"),
        ("72", "Fahrenheit"),
        ("72", "22 °C"),
        ("45", "Fahrenheit"),
        ("72 C", "Fahrenheit"),
        ("900 F", "50 °C"),
        ("900", "50 °C"),
        ("21 22", "one number"),
        ("21 K", "one number"),
        ("٢١x", "one number"),
    ],
)
def test_temperatures_nobody_has_are_asked_about(typed: str, said: str) -> None:
    with pytest.raises(Refusal) as refused:
        room_temperature_c(typed)
    assert said in str(refused.value)
    assert typed.strip() in str(refused.value)


@pytest.mark.parametrize(
    ("typed", "percent"), [("58", 58.0), ("58,5 %", 58.5), ("0", 0.0), ("100%", 100.0), ("0.5 %", 0.5)]
)
def test_humidities_as_typed(typed: str, percent: float) -> None:
    assert room_humidity_pct(typed) == pytest.approx(percent)


@pytest.mark.parametrize(
    ("typed", "said"),
    [
        ("", "Write what"),
        ("101", "0 to 100"),
        ("-1", "0 to 100"),
        ("damp", "0 to 100"),
        ("0.58", "58 %"),
        ("58 C", "0 to"),
    ],
)
def test_humidities_nobody_has_are_refused(typed: str, said: str) -> None:
    with pytest.raises(Refusal, match=said):
        room_humidity_pct(typed)


@given(st.text(max_size=60))
def test_whatever_is_typed_is_a_number_or_a_sentence(typed: str) -> None:
    for read in (room_temperature_c, room_humidity_pct):
        try:
            assert -40 <= read(typed) <= 100
        except Refusal as refused:
            assert str(refused).endswith((".", "%", "C"))


def test_a_reading_is_kept_once_and_counts_today(quillmoor: Path) -> None:
    catalogue, workshop = open_workshop(quillmoor)
    assert todays_room(workshop, catalogue, NOON).kept is None
    assert keep(quillmoor, Kept(NOON - timedelta(hours=2), 21.0, 58.0))
    assert keep(quillmoor, Kept(NOON + timedelta(seconds=20), 22.5, 61.0))
    assert not keep(quillmoor, Kept(NOON + timedelta(seconds=50), 22.5, 61.0)), "a second press keeps nothing more"
    # read back by the standard library's own reader
    with (quillmoor / FILE).open(newline="", encoding="utf-8") as file:
        assert list(csv.DictReader(file)) == [
            {"time": "2026-11-25T10:00Z", "room_c": "21", "humidity_pct": "58"},
            {"time": "2026-11-25T12:00Z", "room_c": "22.5", "humidity_pct": "61"},
        ]
    found = todays_room(workshop, catalogue, NOON + timedelta(hours=1))
    assert (found.room.room_c, found.room.humidity_pct, found.room.is_read) == (22.5, 61.0, True)
    assert found.room.volume_m3 == 28, "the room itself stays the workshop's"
    assert todays_room(workshop, catalogue, NOON + timedelta(days=1)).kept is None, "yesterday's air is gone"
    assert todays_room(workshop, catalogue, NOON - timedelta(hours=1)).room.room_c == 21.0, "noon is still to come"
    # a slip in the same minute is put right
    assert keep(quillmoor, Kept(NOON, 22.5, 51.0))
    assert todays_room(workshop, catalogue, NOON).room.humidity_pct == 51.0
    assert len((quillmoor / FILE).read_text(encoding="utf-8").splitlines()) == 3


def test_today_is_by_the_clock_of_the_workshop(quillmoor: Path) -> None:
    """Late evening of a Chicago workshop is the next day in UTC (zoneinfo, UTC-6 in November)."""
    about = quillmoor / "workshop.toml"
    about.write_text(about.read_text(encoding="utf-8").replace("Europe/London", "America/Chicago"), encoding="utf-8")
    catalogue, workshop = open_workshop(quillmoor)
    evening = datetime(2026, 11, 26, 1, 0, tzinfo=UTC)
    keep(quillmoor, Kept(datetime(2026, 11, 25, 14, 0, tzinfo=UTC), 20.0, 44.0))
    assert todays_room(workshop, catalogue, evening).room.humidity_pct == 44.0
    assert todays_room(workshop, catalogue, evening + timedelta(hours=6)).kept is None


@pytest.mark.parametrize(
    ("content", "said"),
    [
        ("room,rh\n1,2\n", "line 1"),
        ("time,room_c,humidity_pct\n2026-11-25T08:00Z,21\n", "line 2"),
        ("time,room_c,humidity_pct\n2026-11-25T08:00,21,50\n", "zone"),
        ("time,room_c,humidity_pct\nmorning,21,50\n", "morning"),
        ("time,room_c,humidity_pct\n2026-11-25T08:00Z,72,50\n", "Fahrenheit"),
        ("time,room_c,humidity_pct\n2026-11-25T08:00Z,21,150\n", "150"),
        ("time,room_c,humidity_pct\n2026-11-25T08:00Z,nan,50\n", "nan"),
        ("time,room_c,humidity_pct\n0001-01-01T00:00+14:00,21,50\n", "0001-01-01"),
        ("time,room_c,humidity_pct\n9999-12-31T23:00-14:00,21,50\n", "9999-12-31"),
        ("time,room_c,humidity_pct\n" + 150_000 * "x" + ",21,50\n", "no table"),
        ("", "line 1"),
    ],
)
def test_a_file_nobody_can_read_is_told_and_left_alone(quillmoor: Path, content: str, said: str) -> None:
    path = quillmoor / FILE
    path.write_text(content, encoding="utf-8")
    catalogue, workshop = open_workshop(quillmoor)
    found = todays_room(workshop, catalogue, NOON)
    assert found.kept is None and found.room.room_c == 19 and said in found.trouble
    with pytest.raises(Refusal, match=FILE):
        keep(quillmoor, Kept(NOON, 21.0, 50.0))
    assert path.read_text(encoding="utf-8") == content
