"""Reading a table of the catalogue: one CSV file, one record a row, typed by the record's own fields.

A `source` or `how` cell speaks for the whole row ("EU_1223;GHS") or for columns ("flash_point_c: HPE | bulk*: HPE").
Pieces part at "|", columns at ",", citation ids at ";", and a column may end in "*". What follows "/" in an id names
a data set inside that source.
"""

from __future__ import annotations

import csv
import io
from collections.abc import Callable, Iterator, Mapping
from dataclasses import MISSING, fields
from datetime import date
from functools import lru_cache
from math import isfinite
from pathlib import Path
from typing import TYPE_CHECKING, Any, TypeVar

from fizzwright.catalogue.faults import Fault
from fizzwright.catalogue.model import Entry

if TYPE_CHECKING:
    from _csv import Reader as CsvReader

Row = dict[str, str]
Provenance = Mapping[str, tuple[str, ...]]
RecordT = TypeVar("RecordT", bound=Entry)


def split_list(cell: str) -> tuple[str, ...]:
    """The items of a list cell, parted by ";"."""
    return tuple(item for part in cell.split(";") if (item := part.strip()))


def read_number(cell: str) -> float:
    """A finite number; ValueError otherwise."""
    number = float(cell)
    if not isfinite(number):
        raise ValueError(cell)
    return number


def read_flag(cell: str) -> bool:
    """Yes or no; ValueError otherwise."""
    if cell not in ("yes", "no"):
        raise ValueError(cell)
    return cell == "yes"


_READERS: dict[str, tuple[Callable[[str], Any], str]] = {
    "str": (str, "text"),
    "float": (read_number, "a number such as 0.93"),
    "float | None": (read_number, "a number such as 0.93, or nothing when it is not known"),
    "int": (int, "a whole number such as 4"),
    "bool": (read_flag, "yes or no"),
    "date | None": (date.fromisoformat, "a date such as 2026-11-25, or nothing when it is not known"),
    "tuple[str, ...]": (split_list, "items parted by ;"),
}


@lru_cache(maxsize=4096)
def _columns_meant(names: str, columns: tuple[str, ...]) -> tuple[str, ...]:
    """The columns that a list of names with "*" endings means; ValueError naming one that means none."""
    meant: list[str] = []
    for name in names.split(","):
        name = name.strip()
        matching = [c for c in columns if c == name or (name.endswith("*") and c.startswith(name[:-1]))]
        if not matching:
            raise ValueError(name)
        meant += matching
    return tuple(meant)


@lru_cache(maxsize=4096)
def _ids(cell: str) -> tuple[str, ...]:
    return tuple(item.partition("/")[0] for item in split_list(cell))


@lru_cache(maxsize=4096)
def provenance(cell: str, columns: tuple[str, ...]) -> Provenance:
    """Citation ids (or ways of knowing) by column, "" for the whole row; ValueError when a column is unknown.

    A later piece wins over an earlier one.
    """
    found: dict[str, tuple[str, ...]] = {}
    for piece in cell.split("|"):
        names, colon, ids = piece.rpartition(":")
        items = _ids(ids)
        if colon:
            found.update(dict.fromkeys(_columns_meant(names, columns), items))
        elif items:
            found[""] = items
    return found


_FOUND: dict[str, Mapping[str, tuple[Callable[[str], Any], str, Any]]] = {}


def _readers(record: type[Entry]) -> Mapping[str, tuple[Callable[[str], Any], str, Any]]:
    if record.__name__ in _FOUND:
        return _FOUND[record.__name__]
    table: dict[str, tuple[Callable[[str], Any], str, Any]] = {}
    for item in fields(record):
        if item.name in ("sources", "how", "origin") or str(item.type) not in _READERS:
            continue
        default = item.default if item.default is not MISSING else ""
        table[item.name] = (*_READERS[str(item.type)], default)
    _FOUND[record.__name__] = table
    return table


def read_rows(
    path: Path, faults: list[Fault], table: str = "", needs: tuple[str, ...] = ("id", "name")
) -> Iterator[tuple[int, Row]]:
    """Line number and cells of each row; a missing column, or a row with too many or too few cells, is a fault."""
    table = table or path.name
    try:
        text = path.read_text(encoding="utf-8-sig")
    except UnicodeDecodeError as error:
        faults.append(Fault(table, "", "", f"byte {error.start}", "save the file as UTF-8 text"))
        return
    reader = csv.reader(io.StringIO(text, newline=""))
    try:
        yield from _rows(reader, faults, table, needs)
    except csv.Error as error:
        faults.append(Fault(table, f"line {reader.line_num}", "", str(error), "a table of cells parted by commas"))


def _rows(reader: CsvReader, faults: list[Fault], table: str, needs: tuple[str, ...]) -> Iterator[tuple[int, Row]]:
    header = [name.strip() for name in next(reader, [])]
    if missing := [column for column in needs if column not in header]:
        read = "no column " + ", ".join(missing)
        faults.append(Fault(table, "line 1", "", read, "a first line with at least the columns " + ", ".join(needs)))
        return
    for cells in reader:
        if not any(cell.strip() for cell in cells):
            continue
        if len(cells) != len(header):
            allowed = f"{len(header)} cells are allowed, one a column; put text with a comma in double quotes"
            faults.append(Fault(table, f"line {reader.line_num}", "", f"{len(cells)} cells", allowed))
            continue
        yield reader.line_num, dict(zip(header, cells, strict=True))


def read_record(
    record: type[RecordT], row: Row, table: str, line: int, faults: list[Fault], **more: Any
) -> RecordT | None:
    """One row as its record; each cell that does not fit is added to `faults`, and then None is returned.

    `more` holds fields that come from elsewhere than the cell of their own name.
    """
    readers = _readers(record)
    row_id = row.get("id", "") or f"line {line}"
    before = len(faults)
    values: dict[str, Any] = {}
    for column, cell in row.items():
        if column in ("source", "how") or column in more:
            continue
        if column not in readers:
            allowed = "no such column; allowed are " + ", ".join([*readers, "source", "how"])
            faults.append(Fault(table, row_id, column, cell, allowed))
            continue
        read, allowed, default = readers[column]
        cell = cell.strip()
        if not cell:
            if column in ("id", "name"):
                faults.append(Fault(table, row_id, column, "", "an id and a name in every row"))
            if default is not None:
                values[column] = default
            continue
        try:
            values[column] = read(cell)
        except ValueError:
            faults.append(Fault(table, row_id, column, cell, allowed))
    columns = tuple(readers)
    for column, field_name in (("source", "sources"), ("how", "how")):
        try:
            found = provenance(row.get(column, ""), columns)
        except ValueError as error:
            faults.append(Fault(table, row_id, column, str(error), "a column of this table before the colon"))
            continue
        values[field_name] = found if column == "source" else {name: ways[0] for name, ways in found.items() if ways}
    if len(faults) > before:
        return None
    return record(**values, **more)
