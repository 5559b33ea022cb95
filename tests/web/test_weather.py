"""The weather page: a log in, questions where it may mean two things, windows and a calendar out."""

from __future__ import annotations

import html
import re
from datetime import UTC, datetime, timedelta
from pathlib import Path
from typing import Any

import icalendar
import pytest
from starlette.testclient import TestClient

from fizzwright.catalogue import open_workshop
from fizzwright.demo import folder
from fizzwright.plan.weather import Options, read_log
from fizzwright.plan.windows import windows
from fizzwright.recipe.document import read_file
from fizzwright.recipe.weigh import weigh

RECIPE = {"recipe": "orchard_rain"}


def log_of(
    hours: int = 72, head: str = "time,temp °C,rh %", *, damp: bool = False, start: str = "2026-11-20T00:00"
) -> bytes:
    """Dry from nine to seventeen, damp at night; damp throughout when told."""
    first = datetime.fromisoformat(start).replace(tzinfo=UTC)
    rows = [head]
    for hour in range(hours):
        at = first + timedelta(hours=hour)
        humidity = 96 if damp or not 9 <= at.hour < 17 else 30
        rows.append(f"{at:%Y-%m-%dT%H:%M}Z,20,{humidity}")
    return ("\n".join(rows) + "\n").encode()


def bring(client: TestClient, data: bytes | None = None, name: str = "log.csv", **form: str) -> Any:
    files = {"log": (name, data)} if data is not None else None
    return client.post("/weather", data={**RECIPE, "do": "read", **form}, files=files)


def seen(response: Any) -> str:
    return html.unescape(re.sub(r"[ \n\t]+", " ", re.sub(r"<[^>]+>", " ", response.text)))


def carried(page: Any) -> dict[str, str]:
    return {n: html.unescape(v) for n, v in re.findall(r'type="hidden" name="(\w+)" value="([^"]*)"', page.text)}


def test_the_page_asks_for_a_log_and_offers_the_workshops_own(spare: TestClient) -> None:
    page = spare.get("/weather")
    assert page.status_code == 200
    assert '<a href="/weather" aria-current="page">' in page.text
    own = re.findall(r'name="own" value="([^"]+)"', page.text)
    assert own == sorted(p.name for p in (folder() / "weather").glob("*.csv")) and own


def test_the_windows_are_those_of_the_plan(spare: TestClient) -> None:
    page = bring(spare, log_of(), place="indoors")
    assert page.status_code == 200, seen(page)
    catalogue, workshop = open_workshop(folder())
    mix = weigh(
        read_file(folder() / "recipes/orchard_rain.toml", catalogue), catalogue, lot_analyses=workshop.lot_analyses
    )
    log = read_log(log_of(), "log.csv", Options(is_outdoor=False, workshop_zone="Europe/London"))
    forecast = windows(log, mix, catalogue, workshop, outdoor=False)
    shown = re.findall(r'<li><p class="verdict">.*?</span>: (.*?)</p>', page.text)
    assert shown == [
        f"{w.start:%a} {w.start.day} {w.start:%b %Y}, {w.start:%H:%M} to {w.end:%H:%M}" for w in forecast.windows
    ]
    for window in forecast.windows:
        for why in window.why:
            assert why in seen(page)
    assert forecast.windows, "a log with dry days has windows"
    for told in log.told:
        assert told in seen(page)


def test_the_strip_shows_every_hour_of_the_log_by_its_word(spare: TestClient) -> None:
    page = bring(spare, log_of(48), place="indoors")
    rows = re.findall(r'<tr><th scope="row">(\w+ \d+ \w+ \d+)</th><td>([^<]*)</td></tr>', page.text)
    assert [day for day, _ in rows] == ["Fri 20 Nov 2026", "Sat 21 Nov 2026"], (
        "GMT in November: the days are those of UTC"
    )
    hours = [int(b) - int(a) for _, words in rows for a, b in re.findall(r"(\d+) to (\d+)", words)]
    assert sum(hours) == 48
    assert page.text.count('transform="translate(') == 48, "a shape an hour"


def test_days_follow_the_clock_of_the_log(spare: TestClient) -> None:
    """Clocks go back in London on 25 October 2026, 2:00 to 1:00 (zoneinfo): that day has 25 hours and 24 places."""
    page = bring(spare, log_of(49, start="2026-10-24T23:00"), place="indoors")
    rows = dict(re.findall(r'<tr><th scope="row">(\w+ \d+ \w+ \d+)</th><td>([^<]*)</td></tr>', page.text))
    assert list(rows) == ["Sun 25 Oct 2026", "Mon 26 Oct 2026"]
    assert rows["Sun 25 Oct 2026"].startswith("0 to ") and re.findall(r"to (\d+)", rows["Sun 25 Oct 2026"])[-1] == "24"


def test_a_log_that_does_not_say_where_is_asked_about_and_the_answer_needs_no_file(spare: TestClient) -> None:
    asked = bring(spare, log_of())
    assert asked.status_code == 422 and 'href="#place"' in asked.text
    assert 'role="radiogroup"' in asked.text and re.findall(r'type="radio" name="place" value="(\w+)"', asked.text) == [
        "outdoors",
        "indoors",
    ]
    kept = carried(asked)
    assert kept["log_name"] == "log.csv" and kept["log_id"]
    answered = bring(spare, **{**kept, "place": "indoors"})
    assert answered.status_code == 200 and 'name="place" value="indoors" checked' in answered.text


def test_fahrenheit_and_dates_are_asked_about_in_plain_words(spare: TestClient) -> None:
    rows = "\n".join(f"0{1 + h // 24}/03/2026 {h % 24:02d}:00,{46 + h % 5},50" for h in range(72))
    asked = bring(spare, f"date,temp,rh\n{rows}\n".encode(), place="indoors")
    wanted = {}
    for _ in range(3):
        if asked.status_code == 200:
            break
        boxes = re.findall(r'<fieldset id="(\w+)"', asked.text)
        new = next(box for box in boxes if box not in wanted and box != "place")
        wanted[new] = {"dates": "day", "scale": "F"}[new]
        asked_words = seen(asked)
        assert "--" not in asked_words, asked_words[:600]
        asked = bring(spare, **{**carried(asked), "place": "indoors", **wanted})
    assert asked.status_code == 200, seen(asked)
    assert "dates" in wanted and "Sun 1 Mar 2026" in asked.text, "day first: the first of March"


def test_one_place_of_several_is_chosen(spare: TestClient) -> None:
    rows = "\n".join(f"{p},2026-11-20T{h:02d}:00Z,20,40" for h in range(24) for p in ("attic", "cellar"))
    asked = bring(spare, f"station,time,temp °C,rh %\n{rows}\n".encode(), place="indoors")
    assert asked.status_code == 422 and 'href="#where"' in asked.text
    assert re.findall(r'name="where" value="([^"]+)"', asked.text) == ["station=attic", "station=cellar"]
    chosen = bring(spare, **{**carried(asked), "place": "indoors", "where": "station=cellar"})
    assert chosen.status_code == 200 and "station=cellar" in seen(chosen)


def test_the_calendar_is_what_a_calendar_reads(spare: TestClient) -> None:
    page = bring(spare, log_of(), place="indoors")
    form = page.text[page.text.index('action="/weather/windows.ics"') :].split("</form>")[0]
    fields = {n: html.unescape(v) for n, v in re.findall(r'name="(\w+)" value="([^"]*)"', form)}
    got = spare.post("/weather/windows.ics", data=fields)
    assert got.headers["content-type"].startswith("text/calendar")
    assert "orchard_rain-windows.ics" in got.headers["content-disposition"]
    # read back by the icalendar library
    events = list(icalendar.Calendar.from_ical(got.content).walk("VEVENT"))
    shown = re.findall(r'<li><p class="verdict">', page.text)
    assert len(events) == len(shown) > 0
    assert all("Orchard Rain" in str(event["summary"]) for event in events)
    lost = spare.post("/weather/windows.ics", data={**fields, "log_id": "0" * 24})
    assert lost.status_code == 422 and "once more" in seen(lost)


def test_the_workshops_own_log_is_read_with_one_button(spare: TestClient) -> None:
    for own in (folder() / "weather").glob("*.csv"):
        page = bring(spare, own=own.name)
        if page.status_code == 422:
            page = bring(spare, **{**carried(page), "place": "indoors"})
        assert page.status_code == 200, seen(page)[:600]
        assert "How the log was read" in seen(page)


def test_a_good_hour_does_not_hide_what_stops_a_recipe(spare: TestClient) -> None:
    assert "whatever the air" in seen(bring(spare, log_of(), place="indoors", recipe="hearth"))
    assert "whatever the air" not in seen(bring(spare, log_of(), place="indoors"))


def test_weather_that_gives_no_window_says_why(spare: TestClient) -> None:
    page = bring(spare, log_of(damp=True), place="indoors")
    assert page.status_code == 200 and "There is no window." in seen(page)
    assert "windows.ics" not in page.text and "--" not in seen(page)


@pytest.mark.parametrize(
    ("data", "name", "said"),
    [
        (b"", "a.csv", "a.csv"),
        (b"hello", "a.csv", "a.csv"),
        (b"PK\x03\x04" + b"x" * 50, "a.xlsx", "workbook"),
        (b"time,temp C,rh\n2026-11-20T00:00Z,20,140\n2026-11-20T01:00Z,20,40\n", "a.csv", "0 to 100"),
        (b"time,temp C,rh\n" + b"2026-11-20T00:00Z,20,40\n" * 120_000, "a.csv", "fizzwright forecast"),
        (b"<script>alert(1)</script>,x\n1,2\n", "<b>.csv", "<b>.csv"),
    ],
)
def test_what_is_no_log_is_refused_in_words(spare: TestClient, data: bytes, name: str, said: str) -> None:
    page = bring(spare, data, name, place="indoors")
    assert page.status_code == 422 and 'href="#log"' in page.text
    assert said in html.unescape(page.text)
    assert "<script>alert" not in page.text and "<b>.csv" not in page.text


def test_a_bad_clock_recipe_or_missing_file_is_told_at_its_box(spare: TestClient) -> None:
    assert 'href="#log"' in bring(spare).text
    assert bring(spare).status_code == 422
    bare = log_of().replace(b"Z,", b",")
    zone = bring(spare, bare, place="indoors", zone="Middle/Earth")
    assert zone.status_code == 422 and 'href="#zone"' in zone.text and "Middle/Earth" in seen(zone)
    gone = bring(spare, log_of(), place="indoors", recipe="nowhere")
    assert gone.status_code == 422 and 'href="#recipe"' in gone.text
    outside = bring(spare, own="../prices.csv")
    assert outside.status_code == 422 and "no log called" in seen(outside)


def test_another_log_does_not_take_over_what_was_answered(spare: TestClient) -> None:
    first = bring(spare, log_of(), place="indoors")
    again = bring(spare, log_of(96), "other.csv", **{**carried(first), "place": "indoors"})
    assert again.status_code == 422 and 'href="#place"' in again.text


def test_only_the_last_few_logs_are_held(client: TestClient, tmp_path: Path) -> None:
    first = carried(bring(client, log_of(30), place="indoors"))
    for more in range(6):
        bring(client, log_of(31 + more), place="indoors")
    gone = bring(client, **{**first, "place": "indoors"})
    assert gone.status_code == 422 and "once more" in seen(gone)
