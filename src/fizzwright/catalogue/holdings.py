"""Everything the catalogue holds, read once and kept."""

from __future__ import annotations

import json
import re
from collections.abc import Mapping
from dataclasses import dataclass
from functools import cache, cached_property
from pathlib import Path
from typing import TYPE_CHECKING, Any

from fizzwright.catalogue.faults import CatalogueFaults, Fault
from fizzwright.catalogue.model import (
    Allergen,
    Caution,
    ColourRule,
    Constituent,
    Dye,
    Entry,
    Fact,
    Limit,
    Material,
    Measure,
    Mould,
    OdourWords,
    Oil,
    OilConstituent,
    Source,
    Usable,
)
from fizzwright.catalogue.tables import RecordT, Row, read_number, read_record, read_rows, split_list

if TYPE_CHECKING:
    from fizzwright.catalogue.finding import Hit, Name

DATA = Path(__file__).parent / "data"
MOULD_DIMS = (
    "diameter_mm",
    "length_mm",
    "width_mm",
    "height_mm",
    "depth_mm",
    "ring_mm",
    "tube_mm",
    "bottom_mm",
    "top_mm",
)
NAME_COLUMN: dict[type[Entry], str] = {
    Limit: "substance",
    Allergen: "label_name",
    Caution: "subject",
    ColourRule: "colourant",
}


def slug(text: str) -> str:
    """snake_case of a name, as used in ids."""
    return re.sub(r"[^a-z0-9]+", "_", text.lower()).strip("_")


# without its repr: a failing test would print half a megabyte
@dataclass(frozen=True, repr=False)
class Catalogue:
    """What things are: every record by its id, the rules, and the citations they rest on."""

    version: str
    sources: Mapping[str, Source]
    materials: Mapping[str, Material]
    oils: Mapping[str, Oil]
    constituents: Mapping[str, Constituent]
    moulds: Mapping[str, Mould]
    measures: Mapping[str, Measure]
    facts: Mapping[str, Fact]
    limits: tuple[Limit, ...]
    allergens: tuple[Allergen, ...]
    cautions: tuple[Caution, ...]
    colours: Mapping[str, ColourRule]
    dyes: Mapping[str, Dye]
    """How colours take light in bath water, by the id of the material."""
    odour_words: Mapping[str, OdourWords]
    """What constituents smell of, by the id of the constituent."""

    def usable(self, use: str) -> Usable | None:
        """What a recipe line may name: a material, an oil or a single aroma substance; None when unknown."""
        return self.materials.get(use) or self.oils.get(use) or self.constituents.get(use)

    def fact(self, fact_id: str) -> Fact:
        """One figure on tubs, water, air, drying, wrapping or exposure; KeyError naming the nearest when unknown."""
        try:
            return self.facts[fact_id]
        except KeyError:
            near = ", ".join(self.nearest(fact_id, among="fact"))
            raise KeyError(f"no fact {fact_id!r} in facts.csv; nearest: {near}") from None

    @cached_property
    def _constituents_by_name(self) -> dict[str, Constituent]:
        return {c.name.casefold(): c for c in self.constituents.values()}

    def constituent_named(self, name: str) -> Constituent | None:
        """The constituent of that name as oil_constituents.csv writes it (or of that id); None when unknown."""
        return self._constituents_by_name.get(name.strip().casefold()) or self.constituents.get(name)

    @cached_property
    def _names(self) -> list[Name]:
        from fizzwright.catalogue.finding import all_names

        return all_names(self)

    def nearest(self, wanted: str, among: str = "usable", n: int = 3) -> list[str]:
        """The n ids most like `wanted`, best first, for "did you mean".

        `among` is usable, mould, measure, fact, or constituent (names, not ids, as analyses write them).
        """
        from fizzwright.catalogue.finding import nearest

        return nearest(self, self._names, wanted, among, n)

    def search(self, query: str, limit: int = 20) -> list[Hit]:
        """Entries that match by id, common, label or botanical name, or CAS; best first, typing slips allowed."""
        from fizzwright.catalogue.finding import search

        return search(self._names, query, limit)


class Held:
    """A catalogue as a key: two keys are equal when they hold the very same catalogue."""

    def __init__(self, catalogue: Catalogue) -> None:
        self.catalogue = catalogue

    def __hash__(self) -> int:
        return id(self.catalogue)

    def __eq__(self, other: object) -> bool:
        return isinstance(other, Held) and other.catalogue is self.catalogue


def read_entries(
    path: Path, record: type[RecordT], faults: list[Fault], table: str = "", **more: Any
) -> dict[str, RecordT]:
    """A table as its records by id; faults are added to `faults`."""
    table = table or path.name
    found: dict[str, RecordT] = {}
    name_column = NAME_COLUMN.get(record)
    for line, row in read_rows(path, faults, table, needs=("id", name_column or "name")):
        named = {"name": row.get(name_column, "")} if name_column else {}
        entry = read_record(record, row, table, line, faults, **named, **more)
        keep(found, entry, table, line, faults)
    return found


def keep(found: dict[str, RecordT], entry: RecordT | None, table: str, line: int, faults: list[Fault]) -> None:
    """Add an entry under its id; a second row of the same id is a fault."""
    if entry is None:
        return
    if entry.id in found:
        faults.append(Fault(table, f"line {line}", "id", entry.id, "each id once; another row has it already"))
    found[entry.id] = entry


def read_moulds(path: Path, faults: list[Fault], table: str = "", **more: Any) -> dict[str, Mould]:
    """The moulds; the dimension columns become keyword arguments of the volume."""
    table = table or path.name
    found: dict[str, Mould] = {}
    for line, row in read_rows(path, faults, table):
        dims: dict[str, float] = {}
        for column in MOULD_DIMS:
            cell = row.pop(column, "").strip()
            if not cell:
                continue
            try:
                dims[column] = read_number(cell)
            except ValueError:
                allowed = "a number of millimetres such as 65"
                faults.append(Fault(table, row.get("id", "") or f"line {line}", column, cell, allowed))
        keep(found, read_record(Mould, row, table, line, faults, dims_mm=dims, **more), table, line, faults)
    return found


def read_oil_constituents(path: Path, faults: list[Fault], table: str = "") -> dict[str, list[OilConstituent]]:
    """Constituents by oil id."""
    table = table or path.name
    found: dict[str, list[OilConstituent]] = {}
    for line, row in read_rows(path, faults, table, needs=("oil_id", "constituent")):
        constituent = oil_constituent(row, table, line, faults)
        if constituent is not None:
            found.setdefault(row.get("oil_id", ""), []).append(constituent)
    return found


def oil_constituent(row: Row, table: str, line: int, faults: list[Fault]) -> OilConstituent | None:
    """One row of a constituent table; None when a figure in it does not fit."""
    where = f"line {line}, {row.get('oil_id', '')}, {row.get('constituent', '')}"
    figures: dict[str, float | None] = {}
    for column in ("min_pct", "typical_pct", "max_pct"):
        cell = row.get(column, "").strip()
        try:
            figures[column] = read_number(cell) if cell else None
        except ValueError:
            allowed = "a percentage such as 33, or nothing when it is not known"
            faults.append(Fault(table, where, column, cell, allowed))
    if len(figures) < 3:
        return None
    return OilConstituent(
        constituent=row["constituent"],
        cas=row.get("cas", ""),
        min_pct=figures["min_pct"],
        typical_pct=figures["typical_pct"],
        max_pct=figures["max_pct"],
        relevance=row.get("relevance", ""),
        sources=split_list(row.get("source", "")),
        how=row.get("how", ""),
        typical_sources=split_list(row.get("typical_source", "")),
        typical_how=row.get("typical_how", ""),
        note=row.get("note", ""),
    )


def read_oils(
    path: Path, shares: Mapping[str, list[OilConstituent]], faults: list[Fault], table: str = "", **more: Any
) -> dict[str, Oil]:
    """The oils, each with its constituents."""
    table = table or path.name
    found: dict[str, Oil] = {}
    for line, row in read_rows(path, faults, table):
        constituents = tuple(shares.get(row.get("id", ""), ()))
        entry = read_record(Oil, row, table, line, faults, constituents=constituents, **more)
        keep(found, entry, table, line, faults)
    return found


def read_sources(path: Path, faults: list[Fault]) -> dict[str, Source]:
    """The citations."""
    return {
        row["id"]: Source(id=row["id"], citation=row["citation"], url=row["url"], note=row["note"])
        for _, row in read_rows(path, faults, needs=("id", "citation", "url", "note"))
    }


def read_tables(folder: Path, faults: list[Fault]) -> Catalogue:
    """The catalogue in a data folder, less the rows that cannot be read: those are added to `faults`."""
    package = json.loads((folder / "datapackage.json").read_text(encoding="utf-8"))
    shares = read_oil_constituents(folder / "oil_constituents.csv", faults)
    return Catalogue(
        version=package["version"],
        sources=read_sources(folder / "sources.csv", faults),
        materials=read_entries(folder / "materials.csv", Material, faults),
        oils=read_oils(folder / "oils.csv", shares, faults),
        constituents=read_entries(folder / "constituents.csv", Constituent, faults),
        moulds=read_moulds(folder / "moulds.csv", faults),
        measures=read_entries(folder / "measures.csv", Measure, faults),
        facts=read_entries(folder / "facts.csv", Fact, faults),
        limits=tuple(read_entries(folder / "limits.csv", Limit, faults).values()),
        allergens=tuple(read_entries(folder / "allergens.csv", Allergen, faults).values()),
        cautions=tuple(read_entries(folder / "cautions.csv", Caution, faults).values()),
        colours=read_entries(folder / "colour_rules.csv", ColourRule, faults),
        dyes=read_entries(folder / "dyes.csv", Dye, faults),
        odour_words=read_entries(folder / "odour_words.csv", OdourWords, faults),
    )


def read_catalogue(folder: Path) -> Catalogue:
    """The catalogue in a data folder; raises CatalogueFaults naming every cell that cannot be read."""
    faults: list[Fault] = []
    catalogue = read_tables(folder, faults)
    if faults:
        raise CatalogueFaults(faults)
    return catalogue


@cache
def load() -> Catalogue:
    """The catalogue that comes with the house, read once a run."""
    return read_catalogue(DATA)
