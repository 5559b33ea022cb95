"""The clock of a log: from the time on its own clock to UTC, and from its rows to hours."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from datetime import UTC, datetime, timedelta, timezone, tzinfo
from zoneinfo import ZoneInfo, ZoneInfoNotFoundError

import numpy as np
from numpy.typing import NDArray

from fizzwright.plan.weather.stamps import NO_OFFSET
from fizzwright.refusal import Refusal

Array = NDArray[np.float64]
Seconds = NDArray[np.int64]

HOUR_S = 3600
SLOT_S = 900
"""Clocks change on a quarter of an hour, all over the world."""
LONGEST_FILLED_H = 3
"""Longer gaps are not guessed."""
LONGEST_YEARS = 30


def zone_of(name: str) -> tzinfo:
    """The clock of a name such as Europe/London, UTC or UTC+05:30. Refusal for a name no clock has."""
    if name.upper() in ("UTC", "Z", "GMT"):
        return UTC
    if name[:3].upper() == "UTC" and name[3:4] in ("+", "-"):
        hours, _, minutes = name[4:].partition(":")
        if hours.isdigit() and (minutes or "0").isdigit() and int(hours) <= 14 and int(minutes or 0) < 60:
            ahead = timedelta(hours=int(hours), minutes=int(minutes or 0))
            return timezone(ahead if name[3] == "+" else -ahead)
    try:
        return ZoneInfo(name)
    except (ZoneInfoNotFoundError, ValueError, OSError) as error:
        raise Refusal(
            f"--zone: read {name!r}. Allowed: the name of a clock such as Europe/London or America/New_York, UTC, or UTC+05:30."
        ) from error


def offset_name(offset_s: int) -> str:
    """UTC, or UTC+05:30."""
    if not offset_s:
        return "UTC"
    hours, minutes = divmod(abs(offset_s) // 60, 60)
    return f"UTC{'-' if offset_s < 0 else '+'}{hours:02d}:{minutes:02d}"


def to_utc(local: Seconds, zone: tzinfo) -> tuple[Seconds, list[str]]:
    """Seconds since 1970 in UTC of rows by a local clock, in the order of the file, and what the clock's changes led to.

    Where the clocks go back, an hour comes twice: rows are taken for the first pass until the time jumps back (or, in hourly
    logs, comes again), and for the second from there. Times the clocks skip are taken as if the clock had not been moved yet.
    """
    slots, at = np.unique(local // SLOT_S, return_inverse=True)
    first, second = (
        np.array([_offset_s(int(slot) * SLOT_S, zone, fold) for slot in slots], dtype=np.int64)[at] for fold in (0, 1)
    )
    told = []
    back, skipped = first > second, first < second
    offset = first.copy()
    if back.any():
        is_second = _second_pass(local, back)
        offset = np.where(back & is_second, second, first)
        times = len(np.unique(local[back] // 86_400))
        told.append(
            f"The clocks go back {'once' if times == 1 else f'{times} times'}; rows of the hour that comes twice are taken in "
            "the order they stand in."
        )
    if skipped.any():
        lines = int(skipped.sum())
        told.append(
            f"{lines} {'row stands' if lines == 1 else 'rows stand'} at times the clocks skip in spring: the logger's clock was not moved "
            "then. If it never is, name a clock without summer time, such as --zone UTC+01:00."
        )
    return local - offset, told


def _offset_s(local_s: int, zone: tzinfo, fold: int) -> int:
    moment = (datetime(1970, 1, 1) + timedelta(seconds=local_s)).replace(tzinfo=zone, fold=fold)
    ahead = moment.utcoffset()
    assert ahead is not None, "every zone says its offset"
    return int(ahead.total_seconds())


def _second_pass(local: Seconds, back: NDArray[np.bool_]) -> NDArray[np.bool_]:
    """Which rows of a repeated hour belong to its second pass."""
    second = np.zeros(local.shape, dtype=bool)
    before, passed = None, False
    for at in np.flatnonzero(back):
        now = int(local[at])
        if before is None or now - before > 2 * HOUR_S or before - now > 2 * HOUR_S:
            passed = False
        elif now <= before:
            passed = True
        second[at], before = passed, now
    return second


@dataclass(frozen=True)
class Hours:
    """A log by the hour."""

    utc: NDArray[np.datetime64]
    values: Mapping[str, Array]
    told: tuple[str, ...]


def hourly(file: str, utc_s: Seconds, values: Mapping[str, Array]) -> Hours:
    """The mean of each hour from the first to the last; gaps of up to three hours are filled by a straight line, longer
    ones stay nan. Refusal when the rows lie further apart than any log."""
    told = []
    hour = utc_s // HOUR_S
    start, end = int(hour.min()), int(hour.max())
    if end - start > LONGEST_YEARS * 8766:
        raise Refusal(
            f"{file}: the first and the last row lie {(end - start) / 8766:.0f} years apart. A logger that lost its clock writes such "
            "rows; take out those that have the wrong year."
        )
    count = end - start + 1
    place = hour - start
    means = {}
    for name, column in values.items():
        known = np.isfinite(column)
        held = np.bincount(place[known], minlength=count)
        total = np.bincount(place[known], weights=column[known], minlength=count)
        means[name] = np.where(held > 0, total / np.maximum(held, 1), np.nan)
    doubled = len(utc_s) - len(np.unique(utc_s))
    if doubled:
        told.append(
            f"{doubled} {'row has' if doubled == 1 else 'rows have'} the time of another row; their mean is taken."
        )
    if len(utc_s) - doubled > count:
        told.append(f"{len(utc_s)} rows are averaged to {count} hours.")
    missing = np.isnan(sum(means.values()))
    filled, gaps = 0, []
    for first, last in _runs(missing):
        if last - first <= LONGEST_FILLED_H and first > 0 and last < count:
            filled += last - first
            for column in means.values():
                column[first:last] = np.interp(np.arange(first, last), [first - 1, last], column[[first - 1, last]])
        else:
            gaps.append((first, last - first))
            for column in means.values():
                column[first:last] = np.nan
    if filled:
        told.append(f"{filled} missing {'hour is' if filled == 1 else 'hours are'} filled by a straight line.")
    if gaps:
        longest = ", ".join(
            f"{length} h from {_utc_text((start + first) * HOUR_S)}"
            for first, length in sorted(gaps, key=lambda gap: -gap[1])[:3]
        )
        told.append(
            f"{len(gaps)} {'gap' if len(gaps) == 1 else 'gaps'} of more than {LONGEST_FILLED_H} hours {'is' if len(gaps) == 1 else 'are'} left "
            f"open, the longest: {longest}."
        )
    utc = ((start + np.arange(count)) * HOUR_S).astype("datetime64[s]")
    return Hours(utc, means, tuple(told))


def _runs(is_so: NDArray[np.bool_]) -> list[tuple[int, int]]:
    """Where runs of True begin and end (end not included)."""
    edges = np.flatnonzero(np.diff(np.concatenate(([0], is_so.astype(np.int8), [0]))))
    return [(int(a), int(b)) for a, b in zip(edges[::2], edges[1::2], strict=True)]


def _utc_text(seconds: int) -> str:
    return f"{datetime.fromtimestamp(seconds, UTC):%Y-%m-%d %H:%M} UTC"


__all__ = ["NO_OFFSET", "Hours", "hourly", "offset_name", "to_utc", "zone_of"]
