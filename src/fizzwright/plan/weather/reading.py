"""A log read whole: rows found, columns guessed, units and zone settled, averaged to hours, and all of it told."""

from __future__ import annotations

import csv
import re
from collections.abc import Callable, Iterator, Mapping, Sequence
from dataclasses import dataclass, field
from itertools import islice

import numpy as np
from numpy.typing import NDArray

from fizzwright.catalogue.analysis.columns import plain_header
from fizzwright.catalogue.analysis.sheets import SEPARATORS, text_of
from fizzwright.plan.weather.clock import hourly, offset_name, to_utc, zone_of
from fizzwright.plan.weather.columns import HEADER_WITHIN, ROLE_WORDS, Column, Header, header_in, no_header
from fizzwright.plan.weather.stamps import NO_OFFSET, Stamps, offset_in_header
from fizzwright.plan.weather.units import Figures, celsius, percent
from fizzwright.refusal import Refusal
from fizzwright.science.outdoor import humidity_from_dew_point_pct
from fizzwright.wording import listed

Array = NDArray[np.float64]

MOST_BYTES = 100_000_000
MOST_ROWS = 3_000_000
"""Five years of a row a minute."""
MOST_CELLS = 200
CHUNK = 20_000
DEW_ABOVE_C = 1.0
"""Two sensors, rounded, may show the dew point above the temperature by so much."""
AS_CSV = "Save the log as CSV (text) and read that"
_COMMENT = ("#", "//", "%", "!")
_AMOUNTS = ("temperature", "humidity", "dew_point")
_OUTDOORS = re.compile(r"\b(outdoors?|outside|weather|garden|aussen\w*)\b")
_INDOORS = re.compile(r"\b(indoors?|inside|room|workroom|innen\w*)\b")

Progress = Callable[[int, int], None]
"""Called with the rows read so far and the rows there are."""


@dataclass(frozen=True, slots=True)
class Options:
    """What a maker says about a log, where it does not say so itself."""

    scale: str = ""
    """C or F."""
    day_first: bool | None = None
    zone: str = ""
    """The clock of times without a zone, and of the answer."""
    workshop_zone: str = ""
    """The same by workshop.toml, when nothing else was said."""
    where: Mapping[str, str] = field(default_factory=dict)
    """Only rows that hold this under that header."""
    columns: Mapping[str, str] = field(default_factory=dict)
    """Header or letter of a role, when the guess is wrong."""
    is_outdoor: bool | None = None


@dataclass(frozen=True)
class Log:
    """The air by the hour."""

    utc: NDArray[np.datetime64]
    """Every hour from the first to the last, datetime64[s]."""
    room_c: Array
    """nan where the log holds nothing."""
    humidity_pct: Array
    zone: str
    """The clock to tell hours by: Europe/London, UTC, UTC+01:00."""
    told: tuple[str, ...]
    """How it was read, in sentences."""
    is_outdoor: bool | None
    """None when neither the log nor the maker says."""


def read_log(data: bytes, name: str, options: Options | None = None, progress: Progress | None = None) -> Log:
    """Read a log of temperature and humidity. Refusal in words, with the line, for what cannot be read or may mean two things."""
    options = options or Options()
    if len(data) > MOST_BYTES:
        raise Refusal(
            f"{name}: {len(data) / 1e6:.0f} MB. A year of a row a minute has about 25 MB. Cut the time you want out of it."
        )
    if data[:4] == b"PK\x03\x04":
        raise Refusal(f"{name}: this is a workbook or a packed file. {AS_CSV}.")
    text, encoding = text_of(data, name, AS_CSV)
    lines = text.replace("\r\n", "\n").replace("\r", "\n").split("\n")
    wanted = "" if options.is_outdoor is None else "outdoors" if options.is_outdoor else "indoors"
    separator, header = _header(lines, name, options.columns, wanted)
    table = _Table(name, header, options.where)
    table.read(lines, separator, progress)
    is_outdoor = _is_outdoor(header, name, options.is_outdoor)
    told = [
        f"Read as text, {encoding}, parted by {SEPARATORS[separator]}: {table.count} {'row' if table.count == 1 else 'rows'}.",
        "Columns: "
        + "; ".join(f"“{c.header}” = {ROLE_WORDS[role]}" for role, c in header.of.items() if role in table.used)
        + ".",
        *table.told,
    ]
    if header.spare:
        told.append(f"Not taken: {', '.join(f'“{h}”' for h in header.spare)}.")
    local, offset, dates_told = table.stamps.read(options.day_first)
    lines_at = np.array(table.lines, dtype=np.int64)
    values = _values(table, lines_at, options.scale, bool(is_outdoor), told)
    told += filter(None, [dates_told])
    local, offset, lines_at, values = _forward(local, offset, lines_at, values, told)
    utc_s, zone = _utc(local, offset, table.time_header, name, options, told)
    hours = hourly(name, utc_s, values)
    told += hours.told
    room_c = hours.values["temperature"]
    return Log(hours.utc, room_c, _humidity_pct(hours.values), zone, tuple(told), is_outdoor)


def _header(lines: Sequence[str], file: str, chosen: Mapping[str, str], where: str) -> tuple[str, Header]:
    """The separator that shows a row of headers, and that row; its place counts all lines."""
    best: list[list[str]] = []
    for separator in SEPARATORS:
        if separator == "  ":
            continue
        try:
            rows = list(csv.reader(_plain(lines[: HEADER_WITHIN + 1]), delimiter=separator, skipinitialspace=True))
        except csv.Error as error:
            raise Refusal(f"{file}: this is no table ({error}). {AS_CSV}.") from error
        if found := header_in(rows, chosen, where, file):
            return separator, found
        if max(map(len, rows), default=0) > max(map(len, best), default=0):
            best = rows
    raise no_header(file, best, chosen)


def _plain(lines: Sequence[str]) -> Iterator[str]:
    """Lines with comments emptied, so that each keeps its number."""
    for line in lines:
        yield "" if line.startswith(_COMMENT) else line


class _Table:
    """The cells that are wanted, column by column."""

    def __init__(self, file: str, header: Header, where: Mapping[str, str]) -> None:
        self.file, self.header = file, header
        of = header.of
        self.stamps = Stamps(file)
        self.time_roles = _time_roles(of)
        self.figures = {role: Figures(file, of[role]) for role in _AMOUNTS if role in of}
        if "humidity" in self.figures:
            self.figures.pop("dew_point", None)
        self.used = {*self.time_roles, *self.figures}
        self.lines: list[int] = []
        self.told: list[str] = []
        self.wanted = [(self._column(name), value) for name, value in where.items()]
        self.places: dict[str, int] = {}
        self.passed: list[int] = []
        self.width = max(c.place for role, c in of.items() if role in self.used) + 1

    @property
    def count(self) -> int:
        return len(self.lines)

    @property
    def time_header(self) -> str:
        return " ".join(self.header.of[role].header for role in self.time_roles)

    def _column(self, name: str) -> Column:
        for column in self.header.columns:
            if plain_header(name) == plain_header(column.header) or name.strip().upper() == column.letter:
                return column
        held = ", ".join(column.header for column in self.header.columns if column.header)
        raise Refusal(f"--where: there is no column “{name}” in {self.file}. It has: {held}.")

    def read(self, lines: Sequence[str], separator: str, progress: Progress | None) -> None:
        """Take every row below the header."""
        start = self.header.at + 1
        reader = csv.reader(_plain(lines[start:]), delimiter=separator, skipinitialspace=True)
        total, done = len(lines) - start, 0
        if total > MOST_ROWS:
            raise Refusal(f"{self.file}: more than {MOST_ROWS} rows. Cut the time you want out of it.")
        try:
            while rows := list(islice(reader, CHUNK)):
                if reader.line_num != done + len(rows):
                    raise Refusal(
                        f"{self.file}: a double quote opens before line {start + reader.line_num} and swallows whole rows. Take it out, or close it."
                    )
                self._take(rows, start + done + 1)
                done += len(rows)
                if progress:
                    progress(done, total)
        except csv.Error as error:
            raise Refusal(
                f"{self.file}, line {start + reader.line_num}: no row of a table ({error}). {AS_CSV}."
            ) from error
        self._finish()

    def _take(self, rows: list[list[str]], first_line: int) -> None:
        places = [self.header.of[role].place for role in self.time_roles]
        width, headers = self.width, max(len(self.header.columns), self.width)
        kept, lines = [], []
        for line, row in enumerate(rows, first_line):
            if not row or not any(row):
                continue
            if len(row) > headers and any(cell.strip() for cell in row[headers:]) and self.header.at >= 0:
                raise Refusal(
                    f"{self.file}, line {line}: {len(row)} cells under {headers} headers. Are the decimals written with commas, and "
                    "the cells parted by commas too? Save it anew with semicolons between the cells."
                )
            if len(row) < width or not any(sign.isdigit() for place in places for sign in row[place]):
                self.passed.append(line)
                continue
            kept.append(row)
            lines.append(line)
        kept, lines = self._of_place(kept, lines)
        self.lines += lines
        self.stamps.take(self._times(kept), lines)
        for figures in self.figures.values():
            place = figures.column.place
            figures.take([row[place] for row in kept], lines)

    def _of_place(self, rows: list[list[str]], lines: list[int]) -> tuple[list[list[str]], list[int]]:
        """Rows of the place asked for; notes the places there are."""
        for column, value in self.wanted:
            same = [
                len(row) > column.place and row[column.place].strip().lower() == value.strip().lower() for row in rows
            ]
            rows = [row for row, keep in zip(rows, same, strict=True) if keep]
            lines = [line for line, keep in zip(lines, same, strict=True) if keep]
        station = self.header.of.get("station")
        if station is not None:
            for line, row in zip(lines, rows, strict=True):
                if len(row) > station.place:
                    self.places.setdefault(row[station.place].strip(), line)
        return rows, lines

    def _times(self, rows: list[list[str]]) -> list[str]:
        of = self.header.of
        places = [of[role].place for role in self.time_roles]
        if len(places) == 1:
            place = places[0]
            return [row[place] for row in rows]
        if self.time_roles[0] == "date":
            date, clock = places
            is_hour = self.time_roles[1] == "hour"
            return [f"{row[date]} {row[clock]}{':00' if is_hour and ':' not in row[clock] else ''}" for row in rows]
        year, month, day, hour, *minute = places
        return [
            f"{row[year]}-{row[month]}-{row[day]} {row[hour]}:{row[minute[0]].zfill(2) if minute else '00'}"
            for row in rows
        ]

    def _finish(self) -> None:
        if not self.lines:
            asked = ", ".join(f"{column.header}={value}" for column, value in self.wanted)
            raise Refusal(
                f"{self.file}: there is no row below the headers{f' with {asked}' if asked else ''}. A log holds a row for each reading."
            )
        if len(self.passed) > len(self.lines):
            raise Refusal(
                f"{self.file}, line {self.passed[0]}: this line and {len(self.passed) - 1} more hold no time and values in the "
                "columns of the headers. Is a column missing or shifted?"
            )
        if self.passed:
            count = len(self.passed)
            self.told.append(
                f"{count} {'line is' if count == 1 else 'lines are'} no reading and passed over, the first in line {self.passed[0]}."
            )
        station = self.header.of.get("station")
        if station is not None and len(self.places) > 1:
            some = listed(list(self.places)[:6] + (["more"] if len(self.places) > 6 else []))
            raise Refusal(
                f"{self.file}: this log holds several places under “{station.header}”: {some}. Which one? Say "
                f"--where {station.header}={next(iter(self.places))}."
            )


def _time_roles(of: Mapping[str, Column]) -> tuple[str, ...]:
    """Which columns make the time, a single one before those in parts."""
    if "time" in of:
        return ("time",)
    if "date" in of:
        return ("date", "clock" if "clock" in of else "hour")
    if "hour" not in of:
        raise Refusal("The log says year, month and day, but no hour. A daily log does not show when to make a batch.")
    return ("year", "month", "day", "hour", *(["minute"] if "minute" in of else []))


def _is_outdoor(header: Header, name: str, said: bool | None) -> bool | None:
    if said is not None:
        return said
    if header.where:
        return header.where == "outdoors"
    plain = plain_header(name.replace("_", " "))
    if _OUTDOORS.search(plain) and not _INDOORS.search(plain):
        return True
    if _INDOORS.search(plain):
        return False
    return True if header.has_sky else None


def _values(table: _Table, lines: NDArray[np.int64], scale: str, is_outdoor: bool, told: list[str]) -> dict[str, Array]:
    """Temperature in °C and humidity in percent (or dew point in °C), row by row."""
    temperature = table.figures["temperature"]
    found, unit, why = celsius(temperature, np.array(temperature.held), lines, scale, is_outdoor)
    told.append(why)
    values = {"temperature": found}
    if "humidity" in table.figures:
        humidity = table.figures["humidity"]
        values["humidity"], said = percent(humidity, np.array(humidity.held), lines)
        told += filter(None, [said])
        return values
    dew = table.figures["dew_point"]
    values["dew_point"], _, why = celsius(dew, np.array(dew.held), lines, scale, is_outdoor, unit)
    told += [why, "There is no humidity in it; it follows from the dew point."]
    above = np.flatnonzero(values["dew_point"] > found + DEW_ABOVE_C)
    if above.size:
        at = int(above[0])
        raise Refusal(
            f"{table.file}, line {int(lines[at])}: the dew point, {values['dew_point'][at]:.1f} °C, lies above the temperature, "
            f"{found[at]:.1f} °C, which no air has. Are the two columns in different units, or the wrong ones?"
        )
    return values


def _humidity_pct(values: Mapping[str, Array]) -> Array:
    """Relative humidity of each hour, from the dew point where the log holds only that."""
    if "humidity" in values:
        return values["humidity"]
    found = np.full(values["temperature"].shape, np.nan)
    known = np.isfinite(values["temperature"]) & np.isfinite(values["dew_point"])
    found[known] = humidity_from_dew_point_pct(values["temperature"][known], values["dew_point"][known])
    return found


_Rows = tuple[NDArray[np.int64], NDArray[np.int64], NDArray[np.int64], dict[str, Array]]


def _forward(
    local: NDArray[np.int64],
    offset: NDArray[np.int64],
    lines: NDArray[np.int64],
    values: dict[str, Array],
    told: list[str],
) -> _Rows:
    """The rows with the oldest first, as far as the file has them in order."""
    steps = np.diff(local)
    ups, downs = int((steps > 0).sum()), int((steps < 0).sum())
    if downs > ups:
        told.append("The newest row stands first; they are read from the end.")
        return local[::-1], offset[::-1], lines[::-1], {name: column[::-1] for name, column in values.items()}
    if downs > 1 + len(local) // 4000:
        told.append("The rows are not in order of time; they are sorted.")
    return local, offset, lines, values


def _utc(
    local: NDArray[np.int64], offset: NDArray[np.int64], header: str, name: str, options: Options, told: list[str]
) -> tuple[NDArray[np.int64], str]:
    """Seconds in UTC of every row, and the clock the answer is told by."""
    in_header = offset_in_header(header)
    said = options.zone or options.workshop_zone
    by = "you say" if options.zone else "the workshop says"
    bare = offset == NO_OFFSET
    if not bare.any():
        last = int(offset[-1])
        zone = said or offset_name(last)
        zone_of(zone)
        told.append(f"Each row says its zone. Hours are told by the clock of {zone}.")
        return local - offset, zone
    if not bare.all():
        raise Refusal(
            f"{name}: some times say their zone and others do not. Write them all one way, or cut the log where it changes."
        )
    if in_header is not None:
        zone = said or offset_name(in_header)
        zone_of(zone)
        told.append(
            f"The times are {offset_name(in_header)}, as the header says. Hours are told by the clock of {zone}."
        )
        return local - in_header, zone
    zone = said or "UTC"
    utc, changes = to_utc(local, zone_of(zone))
    told.append(
        f"The times say no zone; they are taken by the clock of {zone}, as {by}."
        if said
        else "The times say no zone, and are taken for UTC. Say yours with --zone, such as --zone Europe/London."
    )
    told += changes
    return utc, zone
