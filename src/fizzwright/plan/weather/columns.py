"""Which column of a log is which, by its header words; what was taken for what is always told."""

from __future__ import annotations

import re
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from itertools import pairwise, zip_longest

from fizzwright.catalogue.analysis.columns import plain_header
from fizzwright.refusal import Refusal

ROLE_WORDS = {
    "time": "the time",
    "date": "the date",
    "clock": "the time of day",
    "year": "the year",
    "month": "the month",
    "day": "the day",
    "hour": "the hour",
    "minute": "the minute",
    "temperature": "the temperature",
    "humidity": "the humidity",
    "dew_point": "the dew point",
    "station": "the place",
}
CHOOSABLE = ("time", "date", "clock", "temperature", "humidity", "dew_point")
"""Roles a maker may give by hand: --column temperature=HEADER."""
HEADER_WITHIN = 200
"""A header stands in the first so many lines, below whatever the logger writes above it."""
LONGEST_HEADER = 60
"""Characters of a header; a longer cell is a sentence."""
_TEMPERATURE = re.compile(
    r"\b(temp|temps|temper\w*|tempr|tempc|tempf|tmp|tmpf|tmpc|tair|ta|t|t2m|drybulb|dry bulb|lufttemp\w*|celsius|fahrenheit)\b"
)
_HUMIDITY = re.compile(
    r"\b(humidity|humid|hum|rh|rhum|relh|relhum|rel hum|r h|rf|hr|\w*feuchte|\w*feuchtigkeit|humidite|humedad|umidita|"
    r"umidade|hygro|luftfukt\w*)\b"
)
_DEW = re.compile(r"\b(dew|dewpoint|dewp|dwpt|dwpf|dwpc|dp|tdew|td|taupunkt\w*|rosee|rocio|rugiada|dauwpunt)\b")
_NOT_AIR = re.compile(
    r"\b(feels|apparent|heat index|heatindex|chill|windchill|wet|wetbulb|soil|ground|surface|water|sea|sst|battery|chip|cpu|"
    r"absolute|specific|mixing|deficit|vpd|flag|quality|qc|std|deviation|attributes|source|pool|fridge|bulb only)\b"
)
_EXTREME = re.compile(r"\b(min|max|minimum|maximum|low|high|lowest|highest|mean|avg|average)\b")
_TIME = re.compile(
    r"\b(time|times|timestamp|datetime|date time|datum zeit|zeit|zeitpunkt|zeitstempel|uhrzeit|utc|epoch|unix\w*|ts|when|"
    r"recorded|valid|heure|hora|ora|tijd|last changed|created at|date)\b"
)
_DATE_ONLY = {"date", "datum", "fecha", "data", "day date", "dag"}
_CLOCK_ONLY = {"time", "zeit", "uhrzeit", "heure", "hora", "ora", "tijd", "time of day", "clock"}
_PARTS = {"year": {"year", "yr", "yyyy", "jahr"}, "month": {"month", "mon", "mo", "mm", "monat"},
          "day": {"day", "dd", "tag", "mday"}, "hour": {"hour", "hr h", "hh", "hrs", "stunde"},
          "minute": {"minute", "min", "mi", "minutes"}}  # fmt: skip
_STATION = re.compile(
    r"\b(station\w*|origin|site|location|device|sensor|place|airport|usaf|entity id|channel|name|ort)\b"
)
_OUTDOORS = re.compile(r"\b(outdoors?|outside|out|exterior|external|aussen\w*|exterieur|garden|balcony)\b")
_INDOORS = re.compile(r"\b(indoors?|inside|in|interior|internal|innen\w*|interieur|room|workroom|kitchen)\b")
_SKY = re.compile(
    r"\b(wind\w*|gust|rain|precip\w*|snow\w*|cloud\w*|pressure|slp|visib\w*|sky|radiation|solar|sunshine|weather code|pres)\b"
)
_FIGURE = re.compile(r"[-+−]?\d+(?:[.,]\d+)?\s*(?:°?[CF]|%)?")
"""A cell that is no header but a reading."""
_UNIT_SIGNS = re.compile(
    r"(?:°|º|˚|deg|degrees?)\s*([CFK])\b|[([,/]\s*([CFK])\s*[)\]]?\s*$|\b(celsius|fahrenheit|kelvin)\b|℃|℉|"
    r"[_ ]([CF])(?:[_ ]|$)|^(?:temp|tmp|dwp|dewp?)([CF])$",
    re.IGNORECASE,
)


@dataclass(frozen=True, slots=True)
class Column:
    """One column: its place, what its header says, and what it was taken for."""

    place: int
    header: str
    role: str
    """One of ROLE_WORDS, or "" for a column passed over."""
    unit: str = ""
    """C, F or K; % for a humidity that says so; "" when the header is silent."""
    where: str = ""
    """indoors or outdoors, when the header says so."""
    rank: int = 0

    @property
    def letter(self) -> str:
        """The column as a spreadsheet letters it."""
        first, last = divmod(self.place, 26)
        return (chr(64 + first) if first else "") + chr(65 + last)


@dataclass(frozen=True)
class Header:
    """The header of a log."""

    at: int
    """Place of its last row among the rows given; -1 when there is none and the columns were named by letter."""
    columns: tuple[Column, ...]
    of: Mapping[str, Column]
    """The column taken for each role."""
    where: str
    """indoors or outdoors, as the headers say; "" when they do not."""
    has_sky: bool
    """True when wind, rain or the like stand in it: a weather station's."""
    spare: tuple[str, ...] = ()
    """Headers that could have been taken for a role as well."""


def temperature_unit(header: str) -> str:
    """C, F or K where a header (or a cell) says so, else ""."""
    found = _UNIT_SIGNS.search(header.strip())
    if not found:
        return ""
    said = next((group for group in found.groups() if group), {"℃": "C", "℉": "F"}.get(found[0], ""))
    return said[:1].upper()


def column_of(place: int, header: str) -> Column:
    """What a header cell says its column is."""
    apart = re.sub(r"(?<=[a-z])(?=[A-Z])", " ", header)
    text = plain_header(apart.replace("_", " "))
    where = "outdoors" if _OUTDOORS.search(text) else "indoors" if _INDOORS.search(text) else ""
    if not text or len(header) > LONGEST_HEADER:
        return Column(place, header, "")
    rank = -1 if _EXTREME.search(text) else 0
    for role, words in _PARTS.items():
        if text in words:
            return Column(place, header, role)
    if _NOT_AIR.search(text):
        return Column(place, header, "")
    if _DEW.search(text):
        return Column(place, header, "dew_point", temperature_unit(header), where, rank)
    if _HUMIDITY.search(text):
        return Column(place, header, "humidity", "%" if re.search(r"%|\b(pct|percent)\b", text) else "", where, rank)
    if _TEMPERATURE.search(text) or text in ("c", "f"):
        unit = temperature_unit(header) or text.upper() * (text in ("c", "f"))
        return Column(place, header, "temperature", unit, where, rank)
    if text in _DATE_ONLY:
        return Column(place, header, "date")
    if _TIME.search(text):
        plain = re.sub(r"\b(utc|gmt|local|h|hh|mm|ss|\d+)\b", " ", text).strip()
        return Column(place, header, "time", "", "", 0 if plain in _CLOCK_ONLY else 1)
    if _STATION.search(text):
        return Column(place, header, "station")
    return Column(place, header, "")


def header_in(
    rows: Sequence[Sequence[str]], chosen: Mapping[str, str], where: str = "", file: str = "the log"
) -> Header | None:
    """The first row that names a time, a temperature and a humidity (or a dew point); units may stand in the row below.

    `chosen` gives roles by header or letter; `where` (indoors, outdoors) settles which of two temperatures is meant.
    Refusal when a log holds both and nothing settles it.
    """
    for at, (cells, below) in enumerate(pairwise([*rows[:HEADER_WITHIN], ()])):
        if not (found := _header(at, cells, chosen, where, file)):
            continue
        if any(cell.strip() for cell in below) and not any(re.search(r"\d", cell) for cell in below):
            joined = [f"{up} {down}".strip() for up, down in zip_longest(cells, below, fillvalue="")]
            found = _header(at + 1, joined, chosen, where, file) or found
        return found
    letters = {role: letter.strip().upper() for role, letter in chosen.items()}
    has_all = ("time" in letters or {"date", "clock"} <= set(letters)) and "temperature" in letters
    width = max(map(_place, letters.values()), default=0)
    is_wide = any(len(row) >= width for row in rows)
    if is_wide and has_all and {"humidity", "dew_point"} & set(letters) and all(map(_place, letters.values())):
        columns = tuple(Column(_place(letter) - 1, letter, role) for role, letter in letters.items())
        return Header(-1, columns, {column.role: column for column in columns}, "", False)
    return None


def _place(letter: str) -> int:
    """One-based place of a column named by its letter; 0 when it is no letter."""
    if not re.fullmatch(r"[A-Z]{1,2}", letter):
        return 0
    return sum(26**power * (ord(sign) - 64) for power, sign in enumerate(reversed(letter)))


def _header(at: int, cells: Sequence[str], chosen: Mapping[str, str], where: str, file: str) -> Header | None:
    columns = [column_of(place, cell.strip()) for place, cell in enumerate(cells)]
    if len([column for column in columns if column.header]) < 2:
        return None
    for role, wanted in chosen.items():
        named = [c for c in columns if plain_header(c.header) == plain_header(wanted)]
        named = named or [c for c in columns if c.letter == wanted.strip().upper()]
        if not named:
            return None
        columns = [
            replace(c, role=role, unit=c.unit or temperature_unit(c.header), rank=99) if c is named[0] else c
            for c in columns
        ]
    has_clock = any(c.role == "time" and c.rank == 0 for c in columns)
    has_date = any(c.role == "date" for c in columns)
    if has_date and has_clock:
        columns = [replace(c, role="clock") if c.role == "time" and c.rank == 0 else c for c in columns]
    of: dict[str, Column] = {}
    spare: list[str] = []
    for role in ROLE_WORDS:
        found = [c for c in columns if c.role == role]
        if role in ("temperature", "humidity", "dew_point"):
            found = _in_place(found, where, role, file)
        if found:
            of[role] = max(found, key=lambda c: (c.rank, -c.place))
            spare += [c.header for c in found if c is not of[role] and role in ("temperature", "humidity", "dew_point")]
    if any(_FIGURE.fullmatch(of[role].header) for role in ("temperature", "humidity", "dew_point") if role in of):
        return None
    split = {"year", "month", "day"} <= set(of)
    if "date" in of and "clock" not in of and "hour" not in of and "time" not in of:
        of["time"] = of.pop("date")
    dated = "time" in of or "date" in of or split
    if not dated or "temperature" not in of or not {"humidity", "dew_point"} & set(of):
        return None
    places = {of[role].where for role in ("temperature", "humidity", "dew_point") if role in of} - {""}
    return Header(
        at,
        tuple(columns),
        of,
        places.pop() if len(places) == 1 else "",
        any(_SKY.search(plain_header(c.header.replace("_", " "))) for c in columns),
        tuple(spare),
    )


def _in_place(found: list[Column], where: str, role: str, file: str) -> list[Column]:
    """Columns of one place, when a log holds the air of two."""
    if any(c.rank == 99 for c in found) or len({c.where for c in found} - {""}) < 2:
        matching = [c for c in found if c.where == where and where]
        return matching or found
    if not where:
        said = ", ".join(f"“{c.header}”" for c in found)
        raise Refusal(
            f"{file}: this log holds {ROLE_WORDS[role]} indoors and outdoors: {said}. Which is to be read? "
            "Say --indoors or --outdoors."
        )
    return [c for c in found if c.where == where]


def no_header(file: str, rows: Sequence[Sequence[str]], chosen: Mapping[str, str]) -> Refusal:
    """Why no header was found, with the row that comes nearest to one."""

    def roles(cells: Sequence[str]) -> set[str]:
        found = {c.role for c in (column_of(place, cell.strip()) for place, cell in enumerate(cells))} - {""}
        return found & set(ROLE_WORDS)

    number, nearest = max(enumerate(rows[:HEADER_WITHIN], 1), key=lambda row: len(roles(row[1])), default=(0, ()))
    held = roles(nearest)
    read = " | ".join(nearest)[:160]
    if chosen:
        said = ", ".join(f"{role} = {header}" for role, header in chosen.items())
        return Refusal(
            f"{file}: no row of headers holds the columns you named ({said}) beside what else is needed: a time, a temperature and "
            f"a humidity (or a dew point). Nearest is line {number}: {read}. Name a header as it stands there, or its letter."
        )
    lacks = [
        word
        for word, any_of in (
            ("a time", {"time", "date", "year"}),
            ("a temperature", {"temperature"}),
            ("a humidity or dew point", {"humidity", "dew_point"}),
        )
        if not held & any_of
    ]
    return Refusal(
        f"{file}: found no row of headers with a time, a temperature and a humidity (or a dew point). Nearest is line {number}: "
        f"{read or 'nothing'}. It lacks {', '.join(lacks) or 'nothing but a matching row'}. Add one line of headers such as "
        "“time, temperature °C, humidity %”, or say which column is which by letter: --column time=A --column temperature=B "
        "--column humidity=C."
    )
