"""A laboratory's file as rows of cells: text parted by tabs, semicolons, commas or wide gaps, or a workbook (XLSX).

Everything is bounded before it is read: a file that is no table, or far too large for one, costs little and is refused.
"""

from __future__ import annotations

import csv
import io
import re
import warnings
import zipfile
from collections.abc import Iterable, Iterator
from dataclasses import dataclass
from itertools import islice
from typing import Any

from fizzwright.refusal import Refusal

MOST_BYTES = 5_000_000
MOST_ROWS = 2_000
"""Of a text, or of all sheets of a workbook together."""
MOST_COLUMNS = 40
MOST_CELL = 2_000
"""Characters: a longer cell is a paragraph or junk."""
MOST_UNPACKED = 20_000_000
"""Bytes a workbook may unpack to; a table of MOST_ROWS rows comes to far less."""
SEPARATORS = {"\t": "tabs", ";": "semicolons", "|": "upright strokes", ",": "commas", "  ": "wide gaps"}
AS_TABLE = "Save the laboratory's table as CSV or XLSX and import that"
_CONTROLS = re.compile(r"[\x00-\x08\x0e-\x1f\x7f]")
_OTHER_FILES = {
    b"%PDF": "a PDF",
    b"\xd0\xcf\x11\xe0": "a workbook of the old kind (XLS) or another program's document",
    b"\x89PNG": "a picture",
    b"\xff\xd8\xff": "a picture",
    b"{\\rtf": "a text with formats (RTF)",
    b"<htm": "a web page",
    b"<!DO": "a web page",
    b"\x1f\x8b": "a packed file",
}

Cells = tuple[str, ...]


@dataclass(frozen=True, slots=True)
class Sheet:
    """The cells of a file: rows with the numbers a maker sees in their own program."""

    form: str
    """How it was read: "CSV, UTF-8, parted by semicolons" or "XLSX, sheet Results"."""
    rows: tuple[tuple[int, Cells], ...]


def read_sheets(raw: bytes, name: str) -> list[Sheet]:
    """Every way a file can be read as rows of cells, likeliest first: each separator found, or each sheet of a workbook.

    Refusal when it is empty, no text, or too large.
    """
    if len(raw) > MOST_BYTES:
        raise Refusal(
            f"{name}: more than {MOST_BYTES // 1_000_000} MB. An analysis of one oil holds at most some hundred rows. "
            "Check that it is the right file, or cut the table out of it."
        )
    if raw[:4] == b"PK\x03\x04":
        return _workbook(raw, name)
    text, encoding = text_of(raw, name)
    sheets = [
        Sheet(f"text, {encoding}, parted by {SEPARATORS[separator]}", rows)
        for separator in SEPARATORS
        if separator in text and (rows := _parted(text, separator, name))
    ]
    if not sheets:
        raise Refusal(
            f"{name}: there is only one column in this file. Needed: a name and a percent in each row. {AS_TABLE}."
        )
    return sheets


def text_of(raw: bytes, name: str, advice: str = AS_TABLE) -> tuple[str, str]:
    """The text of a file and what it was written in; UTF-8 before UTF-16 before Western European.

    Refusal, with the advice, when it is empty or no text.
    """
    if not raw.strip(b"\x00 \t\r\n\xef\xbb\xbf"):
        raise Refusal(f"{name}: the file is empty. {advice}.")
    for start, what in _OTHER_FILES.items():
        if raw[:8].lstrip()[: len(start)].upper() == start.upper():
            raise Refusal(f"{name}: this is {what}, not a table. {advice}.")
    ways = ["utf-8-sig", "cp1252", "latin-1"]
    if raw[:2] in (b"\xff\xfe", b"\xfe\xff"):
        ways = ["utf-16"]
    elif raw[1:200:2].count(0) > len(raw[:200]) // 4:
        ways = ["utf-16-le"]
    for way in ways:
        try:
            text = raw.decode(way)
        except UnicodeDecodeError:
            continue
        if found := _CONTROLS.search(text):
            raise Refusal(
                f"{name}: read the character code {ord(found[0])} at place {found.start() + 1}, which no table of text holds. "
                f"{advice}."
            )
        return text, {"utf-8-sig": "UTF-8", "cp1252": "Western European", "latin-1": "Western European"}.get(
            way, "UTF-16"
        )
    raise Refusal(f"{name}: this is not text in UTF-8, UTF-16 or a Western European code. {advice}.")


def _parted(text: str, separator: str, name: str) -> tuple[tuple[int, Cells], ...]:
    lines = io.StringIO(text, newline="")
    if separator == "  ":
        pairs: Iterator[tuple[int, Iterable[str]]] = (
            (number, re.split(r"\s{2,}", line.strip())) for number, line in enumerate(lines, 1)
        )
        return _bounded(pairs, name)
    reader = csv.reader(lines, delimiter=separator, skipinitialspace=True)

    def rows() -> Iterator[tuple[int, Iterable[str]]]:
        for cells in reader:
            if any("\n" in cell and separator in cell for cell in cells):
                raise Refusal(
                    f"{name}: a double quote opens before line {reader.line_num} and swallows whole rows. Take it out, or close it."
                )
            yield reader.line_num, cells

    try:
        return _bounded(rows(), name)
    except csv.Error as error:
        raise Refusal(f"{name}: line {reader.line_num} is no row of a table ({error}). {AS_TABLE}.") from error


def _bounded(rows: Iterable[tuple[int, Iterable[str]]], name: str, before: int = 0) -> tuple[tuple[int, Cells], ...]:
    """Rows that hold something, trimmed; Refusal as soon as they, with those before, are too many, or they are too wide."""
    kept = []
    for count, (number, cells) in enumerate(rows, before):
        if count >= MOST_ROWS:
            raise Refusal(
                f"{name}: more than {MOST_ROWS} rows. An analysis of one oil holds at most some hundred. Check that it is the "
                "right file, or cut the table out of it."
            )
        row = [" ".join(cell[: MOST_CELL + 1].split()) for cell in islice(cells, MOST_COLUMNS + 1)]
        while row and not row[-1]:
            row.pop()
        if len(row) > MOST_COLUMNS:
            raise Refusal(f"{name}: row {number} has more than {MOST_COLUMNS} cells. {AS_TABLE}.")
        if any(len(cell) > MOST_CELL for cell in row):
            raise Refusal(f"{name}: row {number} has a cell of more than {MOST_CELL} characters. {AS_TABLE}.")
        if row:
            kept.append((number, tuple(row)))
    return tuple(kept)


def _workbook(raw: bytes, name: str) -> list[Sheet]:
    try:
        packed = zipfile.ZipFile(io.BytesIO(raw))
        parts = packed.infolist()
    except (zipfile.BadZipFile, ValueError, OSError, NotImplementedError) as error:
        raise Refusal(
            f"{name}: this begins like a workbook, but it is damaged ({error}). Save it anew as XLSX or CSV."
        ) from error
    if "xl/workbook.xml" not in {part.filename for part in parts}:
        raise Refusal(f"{name}: this is a packed file, but no XLSX workbook. {AS_TABLE}.")
    # What a part claims to unpack to is all that the library below will unpack of it.
    if sum(part.file_size for part in parts) > MOST_UNPACKED or len(parts) > 1000:
        raise Refusal(
            f"{name}: the workbook unpacks to more than {MOST_UNPACKED // 1_000_000} MB, far more than one analysis. "
            "Save the sheet with the table alone, as CSV or XLSX."
        )
    try:
        with warnings.catch_warnings():
            # It warns of styles and extensions it leaves out: only the values are wanted.
            warnings.simplefilter("ignore")
            return _sheets(raw, name)
    except Refusal:
        raise
    except Exception as error:
        # A damaged workbook makes the library raise whatever the broken part leads to: XML, zip, key and type errors.
        raise Refusal(
            f"{name}: the workbook cannot be read ({type(error).__name__}: {error}). Save it anew as XLSX or CSV."
        ) from error


def _sheets(raw: bytes, name: str) -> list[Sheet]:
    from openpyxl import load_workbook

    book = load_workbook(io.BytesIO(raw), read_only=True, data_only=True, keep_links=False)
    try:
        sheets: list[Sheet] = []
        for sheet in book.worksheets[:20]:
            # the size a sheet claims may be wrong or huge; the rows themselves are counted
            sheet.reset_dimensions()
            rows = (
                (number, [_cell(cell) for cell in row])
                for number, row in enumerate(sheet.iter_rows(max_col=MOST_COLUMNS), 1)
            )
            read = sum(len(other.rows) for other in sheets)
            if found := _bounded(rows, f"{name}, sheet {sheet.title}", read):
                sheets.append(Sheet(f"XLSX, sheet {sheet.title}", found))
    finally:
        book.close()
    if not sheets:
        raise Refusal(f"{name}: the workbook is empty. {AS_TABLE}.")
    return sheets


def _cell(cell: Any) -> str:
    """A cell as it shows; a number shown as percent is held as a fraction."""
    value = cell.value
    if isinstance(value, bool) or not isinstance(value, int | float):
        return "" if value is None else str(value)
    if "%" in str(cell.number_format or ""):
        return f"{value * 100:.10g} %"
    return f"{value:.10g}"
