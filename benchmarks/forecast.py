"""A year of hours read and ranked for one recipe (asked: at most 2 s), and a year of minutes read (asked: under 5 s).

The peers: numpy's loadtxt reading the bare figures of the same minutes, and psychrolib called hour by hour for the same
year's indoor humidity and dew point.
"""

import io
from time import perf_counter

import numpy as np
import psychrolib

from fizzwright.catalogue import open_workshop
from fizzwright.demo import folder
from fizzwright.plan.weather import Options, read_log
from fizzwright.plan.windows import windows
from fizzwright.recipe.document import read_file
from fizzwright.recipe.weigh import weigh

FORECAST_S, MINUTES_S = 2.0, 5.0
HEAD = "time,temperature °C,humidity %,wind\n"


def year(step_min: int) -> tuple[bytes, np.ndarray, np.ndarray]:
    """A year's log with that many minutes between rows, and its figures."""
    count = 525_600 // step_min
    minutes = np.arange(count) * step_min
    moments = np.datetime_as_string(np.datetime64("2025-01-01T00:00") + minutes * np.timedelta64(1, "m"))
    rng = np.random.default_rng(2026)
    season, clock = np.sin(2 * np.pi * (minutes / 525_600 - 0.3)), np.sin(2 * np.pi * (minutes / 1440 - 0.4))
    celsius = np.round(11 + 8 * season + 3 * clock + rng.normal(0, 0.3, count), 2)
    humidity = np.clip(np.round(75 - 12 * clock + rng.normal(0, 3, count), 1), 20, 100)
    rows = zip(moments.tolist(), celsius.tolist(), humidity.tolist(), strict=True)
    return (HEAD + "".join(f"{m}Z,{c},{h},3\n" for m, c, h in rows)).encode(), celsius, humidity


def main() -> bool:
    """Print the times and ratios; True when both promises hold."""
    catalogue, workshop = open_workshop(folder())
    mix = weigh(
        read_file(folder() / "recipes/orchard_rain.toml", catalogue), catalogue, lot_analyses=workshop.lot_analyses
    )
    hours, celsius, humidity = year(60)
    windows(read_log(hours, "warm.csv"), mix, catalogue, workshop, outdoor=True)
    start = perf_counter()
    found = windows(read_log(hours, "hours.csv", Options(zone="Europe/London")), mix, catalogue, workshop, outdoor=True)
    ours = perf_counter() - start
    psychrolib.SetUnitSystem(psychrolib.SI)
    start = perf_counter()
    for air_c, pct in zip(celsius.tolist(), humidity.tolist(), strict=True):
        room_c = max(19.0, air_c)
        ratio = psychrolib.GetHumRatioFromRelHum(air_c, pct / 100, 101_325.0)
        share = min(psychrolib.GetRelHumFromHumRatio(room_c, ratio, 101_325.0), 1.0)
        psychrolib.GetTDewPointFromRelHum(room_c, share)
    peer = perf_counter() - start
    print(
        f"forecast, {len(found.utc)} hours, {found.found} windows: {ours:.2f} s = {ours / peer:.2f} x psychrolib hour by hour "
        f"({peer:.2f} s); asked at most {FORECAST_S:g} s"
    )
    data, _, _ = year(1)
    start = perf_counter()
    log = read_log(data, "minutes.csv")
    minutes = perf_counter() - start
    bare = b"\n".join(line.split(b",", 1)[1] for line in data.split(b"\n")[1:-1])
    start = perf_counter()
    np.loadtxt(io.BytesIO(bare), delimiter=",")
    peer = perf_counter() - start
    print(
        f"reading a year of minutes (525600 rows, {len(log.utc)} hours): {minutes:.2f} s = {minutes / peer:.1f} x numpy.loadtxt of its "
        f"figures alone ({peer:.2f} s); asked under {MINUTES_S:g} s"
    )
    return ours <= FORECAST_S and minutes < MINUTES_S


if __name__ == "__main__":
    raise SystemExit(0 if main() else 1)
