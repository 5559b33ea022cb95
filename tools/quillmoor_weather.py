"""Write the two weather logs of the Quillmoor demo. All invented, and the same on every run.

harbour_station.csv: outdoors, 21 days by the hour: damp sea mornings, two dry easterly days, one storm.
workroom_logger.csv: the workroom's own logger over the last ten of them, every half hour, with its own header and commas.
"""

from __future__ import annotations

from datetime import UTC, datetime, timedelta
from pathlib import Path
from zoneinfo import ZoneInfo

import numpy as np
import psychrolib

PLACE = Path(__file__).resolve().parents[1] / "src/fizzwright/demo/quillmoor/weather"
START = datetime(2026, 8, 31, tzinfo=UTC)
DAYS = 21
EASTERLY_DAYS = (8, 9)
STORM_DAY = 15
ROOM_C, AIR_CHANGES = 19.0, 0.6
LOGGED_FROM_DAY = 11


def station() -> dict[str, np.ndarray]:
    """Hour by hour: temperature, humidity, wind, its bearing, rain and pressure."""
    rng = np.random.default_rng(2026)
    hours = np.arange(24 * DAYS)
    day, clock = hours // 24, hours % 24
    drift = np.repeat(np.cumsum(rng.normal(0, 0.5, DAYS)).clip(-2, 2), 24)
    warmth = np.sin((clock - 9) / 24 * 2 * np.pi)
    celsius = 15.0 + drift + 2.6 * warmth + rng.normal(0, 0.25, hours.size)
    humidity = 79.0 - 11.0 * warmth + np.repeat(rng.normal(0, 1.5, DAYS), 24) + rng.normal(0, 1.0, hours.size)
    humidity = humidity.clip(62, 92)
    wind = 4.5 + 1.5 * warmth + rng.gamma(2.0, 0.5, hours.size)
    bearing = 225 + rng.normal(0, 20, hours.size)
    pressure = 1016 + np.repeat(rng.normal(0, 3, DAYS), 24) + rng.normal(0, 0.4, hours.size)
    rain = np.where(rng.random(hours.size) < 0.05, rng.gamma(1.5, 0.4, hours.size), 0.0)
    easterly = np.isin(day, EASTERLY_DAYS)
    humidity[easterly] -= 30.0
    bearing[easterly] = 85 + rng.normal(0, 8, int(easterly.sum()))
    pressure[easterly] += 11
    rain[easterly] = 0.0
    storm = np.exp(-(((hours - 24 * STORM_DAY - 14) / 8.0) ** 2))
    humidity = np.clip(humidity + 25 * storm, 5, 98)
    celsius -= 2.5 * storm
    wind += 17 * storm
    pressure -= 28 * storm
    rain += 5.0 * storm * rng.random(hours.size)
    return {
        "celsius": celsius.round(1),
        "humidity": humidity.round(),
        "wind": wind.round(1),
        "bearing": (bearing % 360).round(),
        "rain": rain.round(1),
        "pressure": pressure.round(1),
    }


def harbour(air: dict[str, np.ndarray]) -> str:
    """The station's file: CSV, UTC, one line of remarks."""
    lines = [
        "# Quillmoor harbour station (invented), 12 m above the sea",
        "time (UTC),temperature °C,relative humidity %,wind m/s,wind from °,rain mm,pressure hPa",
    ]
    for hour, row in enumerate(zip(*air.values(), strict=True)):
        celsius, humidity, wind, bearing, rain, pressure = (float(value) for value in row)
        at = START + timedelta(hours=hour)
        lines.append(
            f"{at:%Y-%m-%dT%H:%MZ},{celsius:.1f},{humidity:.0f},{wind:.1f},{bearing:.0f},{rain:.1f},{pressure:.1f}"
        )
    return "\n".join(lines) + "\n"


def workroom(air: dict[str, np.ndarray]) -> str:
    """The logger's file: semicolons, decimal commas, the clock of the wall, a battery nobody changed in time."""
    psychrolib.SetUnitSystem(psychrolib.SI)
    rng = np.random.default_rng(38)
    lines = ["Workroom logger", "Serial no.;QM-0038", "", "Date;Time;Temp. °C;Rel. humidity %"]
    zone, water = ZoneInfo("Europe/London"), None
    for hour, (celsius, humidity) in enumerate(zip(air["celsius"], air["humidity"], strict=True)):
        outdoors = psychrolib.GetHumRatioFromRelHum(float(celsius), float(humidity) / 100, 101_325.0)
        for half in (0, 30):
            water = outdoors if water is None else outdoors + (water - outdoors) * np.exp(-AIR_CHANGES / 2)
            at = (START + timedelta(hours=hour, minutes=half)).astimezone(zone)
            room_c = max(ROOM_C, float(celsius)) + 0.6 * np.sin((at.hour - 8) / 24 * 2 * np.pi) + rng.normal(0, 0.1)
            busy = 0.0006 if at.weekday() < 6 and 9 <= at.hour < 16 else 0.0
            share = 100 * psychrolib.GetRelHumFromHumRatio(room_c, water + busy, 101_325.0)
            day = hour // 24
            if day < LOGGED_FROM_DAY or (day == 17 and 3 <= hour % 24 < 9):
                continue
            figures = f"{room_c:.1f};{share + rng.normal(0, 0.5):.1f}".replace(".", ",")
            lines.append(f"{at:%d.%m.%Y;%H:%M};{figures}")
    return "\n".join(lines) + "\n"


def logs() -> dict[str, str]:
    """File name to text."""
    air = station()
    return {"harbour_station.csv": harbour(air), "workroom_logger.csv": workroom(air)}


if __name__ == "__main__":
    PLACE.mkdir(parents=True, exist_ok=True)
    for name, text in logs().items():
        (PLACE / name).write_text(text, encoding="utf-8")
