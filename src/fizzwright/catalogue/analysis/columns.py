"""Which column is which in a laboratory's table, by its header words in several languages."""

from __future__ import annotations

import re
import unicodedata
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from itertools import pairwise, zip_longest

from fizzwright.catalogue.analysis.amounts import is_blank, read_share
from fizzwright.refusal import Refusal

ROLES = ("name", "cas", "pct")
"""What is read; other columns (peak numbers, times, indices) are named and passed over."""
ROLE_WORDS = {
    "name": "the name",
    "cas": "the CAS number",
    "pct": "the percent",
    "pct_not_taken": "another percent, not taken",
    "other": "passed over",
}
_NAMES = {
    "compound", "component", "constituent", "name", "substance", "analyte", "molecule", "identification", "identity",
    "ingredient", "compose", "nom", "verbindung", "substanz", "komponente", "inhaltsstoff", "bezeichnung", "bestandteil",
    "constituant", "compuesto", "componente", "nombre", "sustancia", "composto", "componenti", "sostanza", "nome",
    "peakname", "compoundname",
}  # fmt: skip
_OTHER = re.compile(
    r"\b(min|max|minimum|maximum|iso|eoa|pharm|limit|limits|norm|norme|spec|specification|range|standard|std|sd|rsd|"
    r"deviation|match|similarity|similitude|quality|qual|prob|probability|purity|score|cv|height|hohe|lod|loq|reference)\b"
)
_PCT_WORDS = re.compile(
    r"%|\b(pct|percent|percentage|prozent|pourcentage|porcentaje|percentuale|porcentagem)|prozent\b"
)
_MASS_WORDS = re.compile(
    r"\b(content|conc|concentration|teneur|gehalt|anteil|contenido|contenuto|teor|mass|masse|wt|w w|m m|g 100 ?g|amount|"
    r"abundance|result|resultat|ergebnis|relative|rel|proportion)\b"
)
_AREA_WORDS = re.compile(r"\b(area|aire|surface|flache|flachen\w*|areas|fid|tic)\b")
_UNITS = {"mg kg": 1e-4, "ppm": 1e-4, "mg g": 0.1, "g kg": 0.1, "g 100 g": 1.0, "g 100g": 1.0}


@dataclass(frozen=True, slots=True)
class Column:
    """One column: its place, what its header says, and what it was taken for."""

    place: int
    header: str
    role: str
    """name, cas, pct, pct_not_taken or other."""
    times: float = 1.0
    """What turns its unit into percent."""
    rank: int = 0

    @property
    def letter(self) -> str:
        """The column as a spreadsheet letters it."""
        first, last = divmod(self.place, 26)
        return (chr(64 + first) if first else "") + chr(65 + last)


def plain_header(text: str) -> str:
    """A header as compared: small letters without accents, punctuation as spaces."""
    text = unicodedata.normalize("NFKD", text)
    text = "".join(letter for letter in text if not unicodedata.combining(letter)).casefold().replace("ß", "ss")
    return re.sub(r"[^a-z0-9%#]+", " ", text).strip()


def column_of(place: int, header: str) -> Column:
    """What a header cell says its column is."""
    text = plain_header(header)
    words = text.split()
    singular = {word.removesuffix("s") for word in words} | {"".join(words)}
    if "cas" in words:
        return Column(place, header, "cas")
    if _OTHER.search(text) or len(text) > 60:
        return Column(place, header, "other")
    times = next((factor for unit, factor in _UNITS.items() if re.search(rf"\b{unit}\b", text)), 0.0)
    if times:
        return Column(place, header, "pct", times, rank=2)
    percent, mass, area = (bool(words.search(text)) for words in (_PCT_WORDS, _MASS_WORDS, _AREA_WORDS))
    if percent or (mass and not area):
        return Column(place, header, "pct", 1.0, rank=2 * percent + mass + (not area))
    if singular & _NAMES:
        return Column(place, header, "name", rank=0)
    if area:
        # plain peak areas are counts as a rule, so they come last of all that could be percent
        return Column(place, header, "pct", 1.0, rank=-1)
    return Column(place, header, "other")


@dataclass(frozen=True, slots=True)
class Header:
    """The header of a table: its row and the blocks of columns side by side."""

    at: int
    """Place of its last row among the rows."""
    columns: tuple[Column, ...]
    blocks: tuple[Mapping[str, Column], ...]
    """For each table standing side by side: the column of each role."""
    notes: tuple[str, ...] = ()


def header_in(rows: Sequence[tuple[int, tuple[str, ...]]], chosen: Mapping[str, str]) -> Header | None:
    """The first row (or two rows, one above the other) that names a name or CAS column and a percent column."""
    for at, (_, cells) in enumerate(rows[:200]):
        if found := _header(at, cells, chosen):
            return _with_units(found, rows, chosen)
    for at, ((_, cells), (_, below)) in enumerate(pairwise(rows[:200]), 1):
        if any(re.search(r"\d", cell) for cell in below):
            continue
        joined = zip_longest(cells, below, fillvalue="")
        if found := _header(at, tuple(f"{up} {down}".strip() for up, down in joined), chosen):
            return found
    return None


def _with_units(header: Header, rows: Sequence[tuple[int, tuple[str, ...]]], chosen: Mapping[str, str]) -> Header:
    """The header with the row below it, when that holds more header words (mostly units) and no figures."""
    cells, below = rows[header.at][1], rows[header.at + 1][1] if header.at + 1 < len(rows) else ()
    block = header.blocks[0]

    def cell(role: str) -> str:
        return below[block[role].place] if role in block and block[role].place < len(below) else ""

    is_peak = bool(cell("name") or cell("cas")) and (is_blank(cell("pct")) or read_share(cell("pct")) is not None)
    is_words = not cell("pct") or column_of(0, cell("pct")).role == "pct"
    if is_peak or not is_words or not below or any(read_share(text) for text in below):
        return header
    joined = zip_longest(cells, below, fillvalue="")
    return _header(header.at + 1, tuple(f"{up} {down}".strip() for up, down in joined), chosen) or header


def _header(at: int, cells: Sequence[str], chosen: Mapping[str, str]) -> Header | None:
    columns = [column_of(place, cell) for place, cell in enumerate(cells)]
    if len([column for column in columns if column.header]) < 2:
        return None
    for role, wanted in chosen.items():
        place = next((c.place for c in columns if plain_header(c.header) == plain_header(wanted)), None)
        if place is None:
            place = next((c.place for c in columns if c.letter == wanted.strip().upper()), None)
        if place is None:
            return None
        times = columns[place].times if columns[place].role == "pct" else 1.0
        columns = [
            Column(c.place, c.header, role, times, rank=99)
            if c.place == place
            else (Column(c.place, c.header, "other") if c.role == role else c)
            for c in columns
        ]
    names = [c for c in columns if c.role == "name"] or [c for c in columns if c.role == "cas"]
    shares = [c for c in columns if c.role == "pct"]
    if not names or not shares:
        return None
    blocks = _side_by_side(columns, names, shares) or (_block(columns, names[0], shares),)
    taken = {column.place for block in blocks for column in block.values()}
    notes = []
    spare = [c for c in shares if c.place not in taken]
    if spare:
        said = ", ".join(f"“{c.header}”" for c in spare)
        notes.append(f"Taken for the percent: “{blocks[0]['pct'].header}”. Not taken: {said}.")
    told = tuple(
        c if c.place in taken else Column(c.place, c.header, "pct_not_taken" if c.role == "pct" else "other")
        for c in columns
    )
    return Header(at, told, blocks, tuple(notes))


def _side_by_side(
    columns: Sequence[Column], names: Sequence[Column], shares: Sequence[Column]
) -> tuple[dict[str, Column], ...]:
    """Blocks when the same table stands twice or more beside itself; nothing when it does not."""
    if len(names) < 2 or len({plain_header(c.header) for c in names}) > 1:
        return ()
    edges = [c.place for c in names[1:]] + [len(columns)]
    blocks = []
    for name, edge in zip(names, edges, strict=True):
        within = [c for c in shares if name.place < c.place < edge]
        if not within:
            return ()
        numbers = [c for c in columns if c.role == "cas" and name.place < c.place < edge]
        blocks.append(_block([name, *numbers], name, within))
    return tuple(blocks)


def _block(columns: Sequence[Column], name: Column, shares: Sequence[Column]) -> dict[str, Column]:
    numbers = [c for c in columns if c.role == "cas"]
    best = max(shares, key=lambda c: c.rank)
    return {name.role: name, "pct": best, **({"cas": numbers[0]} if numbers else {})}


def no_header(file: str, rows: Sequence[tuple[int, tuple[str, ...]]], chosen: Mapping[str, str]) -> Refusal:
    """Why no header was found, with the row that comes nearest to one."""

    def likeness(cells: tuple[str, ...]) -> int:
        return len({c.role for c in map(column_of, range(len(cells)), cells)} & set(ROLES))

    number, nearest = max(rows[:200], key=lambda row: likeness(row[1]), default=(0, ()))
    read = " | ".join(nearest)[:200]
    if chosen:
        said = ", ".join(f"{role} = {header}" for role, header in chosen.items())
        return Refusal(
            f"{file}: no row of headers holds the columns you named ({said}) beside a name and a percent. Nearest is row "
            f"{number}: {read}. Name a header as it stands there, or the letter of its column."
        )
    roles = {c.role for c in map(column_of, range(len(nearest)), nearest)}
    lacks = (
        "a percent column"
        if roles & {"name", "cas"}
        else "a column of names or CAS numbers"
        if "pct" in roles
        else "headers"
    )
    return Refusal(
        f"{file}: found no row with {lacks}. Nearest is row {number}: {read}. Needed is one row of headers such as "
        "“Compound, CAS, Area %” above the figures. Add it, or say which column is which: --column pct=HEADER --column name=HEADER."
    )
