"""One reading out of what a sensor shows or writes."""

from __future__ import annotations

import time
from datetime import UTC, datetime, timedelta, timezone

import psychrolib
import pytest

from fizzwright.plan.weather.line import read_line
from fizzwright.refusal import Refusal


@pytest.mark.parametrize(
    ("text", "room_c", "humidity_pct"),
    [
        ("21.4 °C 58 %", 21.4, 58.0),
        ("58% 21.4C", 21.4, 58.0),
        ("21,4 °C; 58,2 %", 21.4, 58.2),
        ("T=70.5F RH=61%", (70.5 - 32) * 5 / 9, 61.0),
        ("70F/61%", (70 - 32) * 5 / 9, 61.0),
        ('{"temperature":21.4,"humidity":58}', 21.4, 58.0),
        ('[{"temperature":20,"humidity":50},{"temperature":21.4,"humidity":58}]', 21.4, 58.0),
        ('{"temp": 70.5, "unit": "F", "humidity": "61 %"}', (70.5 - 32) * 5 / 9, 61.0),
        ("room 21.4 C humidity 58", 21.4, 58.0),
        ("21,58", 21.0, 58.0),
        ("-3C 80%", -3.0, 80.0),
        ("12:05 21.4 58", 21.4, 58.0),
        ("battery 87 % 21.4 C 58 %", 21.4, 58.0),
        ("21.4 C humidity 58 % battery 87 %", 21.4, 58.0),
    ],
)
def test_what_a_sensor_shows_is_read(text: str, room_c: float, humidity_pct: float) -> None:
    reading = read_line(text)
    assert reading.room_c == pytest.approx(room_c)
    assert reading.humidity_pct == pytest.approx(humidity_pct)
    assert reading.when is None
    assert "°C and" in reading.told[0]


@pytest.mark.parametrize(
    ("text", "when"),
    [
        ("time,temp_c,rh\n2026-11-25T07:00Z,20,50\n2026-11-25T08:00Z,21.4,58\n", datetime(2026, 11, 25, 8, tzinfo=UTC)),
        ("2026-11-25 07:00,20,50\n2026-11-25 08:00,21.4,58", datetime(2026, 11, 25, 8)),
        ("25/11/2026 08:00;21,4;58", datetime(2026, 11, 25, 8)),
        ("2026-11-25T08:00:00+01:00 temp=21.4 hum=58", datetime(2026, 11, 25, 8, tzinfo=timezone(timedelta(hours=1)))),
        ("1764057600,21.4,58", datetime(2025, 11, 25, 8, tzinfo=UTC)),
    ],
)
def test_of_the_end_of_a_log_the_last_row_counts(text: str, when: datetime) -> None:
    reading = read_line(text)
    assert (reading.room_c, reading.humidity_pct) == (21.4, 58.0)
    assert reading.when == when


def test_a_date_that_may_be_two_is_left_out() -> None:
    assert read_line("05/06/2026 08:00;21,4;58").when is None


def test_a_dew_point_gives_the_humidity_as_psychrolib_has_it() -> None:
    psychrolib.SetUnitSystem(psychrolib.SI)
    expected = 100 * psychrolib.GetRelHumFromTDewPoint(21.4, 12.0)
    assert read_line("21.4C, dewpoint 12.0C").humidity_pct == pytest.approx(expected, abs=0.01)


@pytest.mark.parametrize(
    ("text", "said"),
    [
        ("72 61", "Fahrenheit"),
        ("21.4 104", "0 to 100 %"),
        ("21.4 -2", "0 to 100 %"),
        ("", "nothing here"),
        ("21", "temperature and a humidity"),
        ("hello", "temperature and a humidity"),
        ("{broken", "JSON"),
        ("20 C 45 % 60 %", "45 % or 60 %"),
        ("1e3 C 45 %", "1e3 C"),
        ('{"temperature": 21}', "lacks a humidity"),
        ('{"humidity":0.58,"temperature":21}', "58 %"),
        ("21.4C dew 25C", "lies above"),
        ("time,temp_c,rh\n2026-11-25T08:00Z,21.4", "fewer values"),
    ],
)
def test_what_cannot_be_meant_is_asked_in_words(text: str, said: str) -> None:
    with pytest.raises(Refusal, match=said):
        read_line(text)


@pytest.mark.parametrize(
    "text", [20_000 * "x", "21 C" + 50_000 * " " + "x", 20_000 * "a.", 20_000 * "1 ", 20_000 * "="]
)
def test_a_line_of_nonsense_is_refused_at_once(text: str) -> None:
    began = time.perf_counter()
    with pytest.raises(Refusal):
        read_line(text)
    assert time.perf_counter() - began < 2.0
