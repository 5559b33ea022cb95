"""A laboratory's file as peaks: what each row names and how much of the oil it is, with all that was passed over."""

from __future__ import annotations

import csv
import io
import re
from collections.abc import Iterator, Mapping
from dataclasses import dataclass

from fizzwright.catalogue.analysis.amounts import Share, is_blank, is_negative, read_share, share_text
from fizzwright.catalogue.analysis.columns import ROLES, Column, Header, header_in, no_header, plain_header
from fizzwright.catalogue.analysis.sheets import Sheet, read_sheets
from fizzwright.catalogue.lots import MOST_TOTAL_PCT
from fizzwright.refusal import Refusal
from fizzwright.wording import listed

ROUNDING_PCT = 100.5
LEAST_TOTAL_PCT = 70.0
"""The catalogue's own rule for an oil that is known well enough."""
_TOTAL = re.compile(
    r"(grand |sub ?)?(total|sum|somme|summe|suma|totale|gesamt)\b.*|.*\b(total|identified|identifies|identifiziert)( %)?|identified\b.*"
)
_CLASS = re.compile(
    r"(other |oxygenated |oxidi[sz]ed |aliphatic |aromatic |phenolic )*"
    r"((mono|sesqui|di|tri)?terpen\w*|hydrocarbons?|alcohols?|esters?|aldehydes?|ketones?|phenols?|oxides?|ethers?|lactones?|"
    r"phenylpropanoids?|coumarins?|others?|miscellaneous)"
    r"( (hydrocarbons?|alcohols?|esters?|aldehydes?|ketones?|phenols?|oxides?|derivatives|oxygenated|and|compounds|others))*"
)
_LOT = re.compile(
    r"\b(?:lot|batch|charge|lote|lotto|los)\b[^A-Za-z0-9]*(?:(?:no|nr|num|number|nummer|n|code)\b[^A-Za-z0-9]*)?(.*)",
    re.I,
)
_LOT_CODE = re.compile(r"[A-Za-z0-9][\w./-]*\d[\w./-]*")


@dataclass(frozen=True, slots=True)
class Peak:
    """One row of the table: what the laboratory calls it, its CAS number, and how much of the oil it is."""

    row: int
    name: str
    cas: str
    written: str
    """The percent as it stands in the report."""
    share: Share


@dataclass(frozen=True, slots=True)
class Passed:
    """A row that was read and not counted, with the reason."""

    row: int
    text: str
    why: str


@dataclass(frozen=True)
class Report:
    """A laboratory's report, read."""

    file: str
    form: str
    columns: tuple[Column, ...]
    preamble: tuple[str, ...]
    """What stands above the table, a line a row."""
    peaks: tuple[Peak, ...]
    passed: tuple[Passed, ...]
    stated_total_pct: float | None
    notes: tuple[str, ...]

    @property
    def total_pct(self) -> float:
        """The sum of all figures."""
        return sum(peak.share.pct for peak in self.peaks)

    @property
    def lot(self) -> str:
        """The lot code that stands above the table; nothing when none does."""
        for line in self.preamble:
            found = _LOT.search(line)
            code = _LOT_CODE.match(found[1]) if found else None
            if code:
                return code[0].rstrip(".")
        return ""

    def as_csv(self) -> str:
        """The same report as a plain table: what is above it, then name, CAS and percent of each peak."""
        text = io.StringIO()
        table = csv.writer(text, lineterminator="\n")
        table.writerows([line] for line in self.preamble)
        table.writerow(["Compound", "CAS", "%"])
        table.writerows([peak.name, peak.cas, share_text(peak.share)] for peak in self.peaks)
        if self.stated_total_pct is not None:
            table.writerow(["Total", "", f"{self.stated_total_pct:.10g}"])
        return text.getvalue()


def read_report(raw: bytes, file: str, columns: Mapping[str, str] | None = None) -> Report:
    """A report from the bytes of its file; Refusal saying what was read, where, what is allowed and what to do.

    columns: headers (or letters) of the columns name, cas, pct where the guess would be wrong.
    """
    chosen = dict(columns or {})
    if unknown := sorted(set(chosen) - set(ROLES)):
        raise Refusal(
            f"{file}: column {unknown[0]}={chosen[unknown[0]]}: a column can be named as {listed(ROLES, 'or')}, such as pct=HEADER."
        )
    sheets = read_sheets(raw, file)
    found: list[tuple[int, Sheet, Header]] = []
    for sheet in sheets:
        header = header_in(sheet.rows, chosen)
        if header is not None:
            rows = len(sheet.rows) - header.at
            found.append(
                (len([c for c in header.columns if c.role in ("name", "cas", "pct")]) * 10_000 + rows, sheet, header)
            )
    if not found:
        fullest = max(sheets, key=lambda sheet: sum(len(cells) for _, cells in sheet.rows))
        raise no_header(file, fullest.rows, chosen)
    _, sheet, header = max(found, key=lambda item: item[0])
    return _report(file, sheet, header)


def _report(file: str, sheet: Sheet, header: Header) -> Report:
    peaks: list[Peak] = []
    passed: list[Passed] = []
    stated: float | None = None
    width = max(column.place for column in header.columns) + 1
    heads = {place: plain_header(c.header) for place, c in enumerate(header.columns)}
    for number, cells in sheet.rows[header.at + 1 :]:
        row = _mended(cells, width, file, number, sheet.form)
        for name, cas, written, times in _cells(row, header):
            if not (name or cas or written):
                continue
            text = " | ".join(cell for cell in (name, cas, written) if cell)[:120]
            # the word of a total often stands where the numbers of the peaks do
            kind = plain_header(name or next((cell for cell in row if cell), ""))
            if name and kind in heads.values() and plain_header(written) in heads.values():
                passed.append(Passed(number, text, "the headers once more"))
            elif is_blank(written):
                passed.append(Passed(number, text, "it gives no percent"))
            elif _TOTAL.fullmatch(kind) and not cas:
                share = read_share(written, times)
                stated = share.pct if share else stated
                passed.append(Passed(number, text, "a total"))
            elif _CLASS.fullmatch(kind) and not cas:
                passed.append(Passed(number, text, "a total of a class"))
            else:
                peaks.append(Peak(number, name, cas, written, _share(written, times, file, number, name or cas)))
    if not peaks:
        raise Refusal(
            f"{file}: the table under row {header.at + 1} holds no row with a name and a percent. Check that it is complete."
        )
    notes = list(header.notes)
    if any(block["pct"].times != 1.0 for block in header.blocks):
        notes.append(f"“{header.blocks[0]['pct'].header}” was turned into percent.")
    report = Report(
        file=file,
        form=sheet.form,
        columns=tuple(column for column in header.columns if column.header),
        preamble=tuple(" ".join(cells)[:300] for _, cells in sheet.rows[: header.at])[:40],
        peaks=tuple(peaks),
        passed=tuple(passed),
        stated_total_pct=stated,
        notes=tuple(notes),
    )
    _check_total(report)
    return report


def _cells(row: tuple[str, ...], header: Header) -> Iterator[tuple[str, str, str, float]]:
    """Name, CAS and percent of each block of a row, and what turns its unit into percent."""
    for block in header.blocks:
        name, cas, written = (
            row[block[role].place].strip() if role in block and block[role].place < len(row) else ""
            for role in ("name", "cas", "pct")
        )
        yield name, cas, written, block["pct"].times


def _mended(cells: tuple[str, ...], width: int, file: str, number: int, form: str) -> tuple[str, ...]:
    """A row with names such as 1,8-cineole put together again where their comma was taken for the end of a cell."""
    if len(cells) <= width or "commas" not in form:
        return cells
    row = list(cells)
    place = 0
    while place + 1 < len(row) and len(row) > width:
        if re.fullmatch(r"\(?\d{1,2}[a-zA-Z]?", row[place]) and re.match(r"\d{1,2}[a-z]?[),-]", row[place + 1]):
            row[place : place + 2] = [f"{row[place]},{row[place + 1]}"]
        else:
            place += 1
    if len(row) > width:
        raise Refusal(
            f"{file}: row {number} has {len(cells)} cells where the headers name {width}. A comma inside a name or a number was "
            "taken for the end of a cell. Save the table with semicolons or as XLSX, or put such cells in double quotes."
        )
    return tuple(row)


def _share(written: str, times: float, file: str, number: int, name: str) -> Share:
    if is_negative(written):
        raise Refusal(
            f"{file}: row {number}, {name[:60]}: read {written!r}. Less than nothing cannot be in an oil. Ask the laboratory."
        )
    share = read_share(written, times)
    if share is None:
        raise Refusal(
            f"{file}: row {number}, {name[:60]}: read {written[:60]!r} for the percent. Allowed are a number (33.1 or 33,1, with or "
            "without %), <0.1, tr, n.d. or nothing. Put it right, or name another column: --column pct=HEADER."
        )
    if share.pct > 100.0 + 1e-9:
        raise Refusal(
            f"{file}: row {number}, {name[:60]}: read {written[:60]!r}, more than 100 %. If these are peak areas and not percent, "
            "name the percent column: --column pct=HEADER."
        )
    return share


def _check_total(report: Report) -> None:
    total = report.total_pct
    if total > MOST_TOTAL_PCT:
        raise Refusal(
            f"{report.file}: the {len(report.peaks)} figures add up to {total:.4g} %. At most {MOST_TOTAL_PCT:g} % is allowed "
            "(100 % and some rounding). Look for rows that stand twice, totals of classes, or two samples in one table."
        )
    if total <= 1.5 and len(report.peaks) > 1:
        raise Refusal(
            f"{report.file}: the {len(report.peaks)} figures add up to only {total:.3g} %. If they are fractions of one, multiply them "
            "by 100; if this is the wrong column, name the right one: --column pct=HEADER."
        )
