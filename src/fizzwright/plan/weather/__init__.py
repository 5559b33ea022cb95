"""A log of temperature and humidity, read however it is written: your own logger's, or a public weather file."""

from __future__ import annotations

from fizzwright.plan.weather.reading import Log, Options, read_log

__all__ = ["Log", "Options", "read_log"]
