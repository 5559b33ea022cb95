"""The analyses of lots in a workshop folder: lots/*.csv, one row a constituent."""

from __future__ import annotations

from pathlib import Path

from fizzwright.catalogue.faults import Fault
from fizzwright.catalogue.holdings import Catalogue
from fizzwright.catalogue.model import LotAnalysis, Oil, OilConstituent, Source
from fizzwright.catalogue.tables import Row, read_number, read_rows

COLUMNS = ("lot", "oil_id", "constituent", "pct")
"""Needed. Where known also: min_pct and max_pct (a trace, a merged peak), written (the name in the report), matched (how it
was found), remark, report (the laboratory's file), supplier, imported_on. A row without constituent has no name here."""
MOST_TOTAL_PCT = 105.0
"""estimate: rounding of some dozens of figures and overlapping peaks take a sum over 100 %, but hardly further."""
FRACTION_SUSPECTED = 0.05
"""estimate: an analysis that comes to less than a twentieth of what the species usually holds was typed as fractions."""


def source_id(lot: str) -> str:
    """Under what a lot's own figures are cited."""
    return f"lot {lot}"


def read_lots(
    catalogue: Catalogue, folder: Path, faults: list[Fault]
) -> tuple[dict[str, Source], dict[str, LotAnalysis]]:
    """The analyses by lot code, and the citation of each; what does not fit is added to `faults`."""
    sources: dict[str, Source] = {}
    shares: dict[str, list[OilConstituent]] = {}
    oil_of: dict[str, Oil] = {}
    unnamed: dict[str, float] = {}
    tables: dict[str, str] = {}
    for path in sorted((folder / "lots").glob("*.csv")):
        table = f"lots/{path.name}"
        for line, row in read_rows(path, faults, table, needs=COLUMNS):
            lot, oil = row["lot"].strip(), catalogue.oils.get(row["oil_id"].strip())
            before = len(faults)
            nameless = not row["constituent"].strip() and bool(row.get("written", "").strip())
            part = (
                _unnamed(row, lot, oil, table, line, faults)
                if nameless
                else _share(catalogue, row, lot, oil, table, line, faults)
            )
            if oil is None or part is None or len(faults) > before:
                continue
            if oil_of.setdefault(lot, oil).id != oil.id:
                allowed = f"{oil_of[lot].id}, as in the rows before: a lot is of one oil"
                faults.append(Fault(table, f"line {line}", "oil_id", oil.id, allowed))
                continue
            if lot not in sources:
                report = f", from the report {row['report'].strip()}" if row.get("report", "").strip() else ""
                sources[lot] = Source(source_id(lot), f"Analysis of lot {lot} of {oil.name}{report}, {table}")
                tables[lot] = table
            held = shares.setdefault(lot, [])
            if isinstance(part, float):
                unnamed[lot] = unnamed.get(lot, 0.0) + part
            elif any(p.constituent == part.constituent for p in held):
                faults.append(
                    Fault(table, f"line {line}", "constituent", part.constituent, "each constituent once a lot")
                )
            else:
                held.append(part)
    analyses = {
        lot: LotAnalysis(lot, oil_of[lot].id, tuple(parts), unnamed.get(lot, 0.0), tables[lot])
        for lot, parts in shares.items()
    }
    for analysis in analyses.values():
        _check_sum(analysis, oil_of[analysis.lot], faults)
    return {source.id: source for source in sources.values()}, analyses


def _check_sum(analysis: LotAnalysis, oil: Oil, faults: list[Fault]) -> None:
    total = sum(part.typical_pct or 0.0 for part in analysis.shares)
    usual = {part.constituent: part.typical_pct or 0.0 for part in oil.constituents}
    expected = sum(usual.get(part.constituent, 0.0) for part in analysis.shares)
    if total < FRACTION_SUSPECTED * expected:
        allowed = f"percent, not fractions of one; the same constituents of {oil.id} usually come to {expected:.3g} %"
        faults.append(Fault("lots", analysis.lot, "pct", f"sum {total:.3g}", allowed))
    if total + analysis.unnamed_pct > MOST_TOTAL_PCT + 0.01:  # rows are rounded when kept
        allowed = f"shares that sum to at most {MOST_TOTAL_PCT:g} %"
        faults.append(Fault("lots", analysis.lot, "pct", f"sum {total + analysis.unnamed_pct:.1f}", allowed))


def _check_lot(row: Row, lot: str, oil: Oil | None, table: str, where: str, faults: list[Fault], near: str) -> None:
    if not lot:
        faults.append(Fault(table, where, "lot", "", "the lot code, as on the bottle"))
    if oil is None:
        faults.append(Fault(table, where, "oil_id", row["oil_id"], f"an oil's id; nearest: {near}"))


def _unnamed(row: Row, lot: str, oil: Oil | None, table: str, line: int, faults: list[Fault]) -> float | None:
    """The percent of a peak that has no name here."""
    _check_lot(row, lot, oil, table, f"line {line}", faults, "look it up in the catalogue")
    return percent(row, "pct", table, f"line {line}", faults)


def _share(
    catalogue: Catalogue, row: Row, lot: str, oil: Oil | None, table: str, line: int, faults: list[Fault]
) -> OilConstituent | None:
    where = f"line {line}"
    _check_lot(row, lot, oil, table, where, faults, ", ".join(catalogue.nearest(row["oil_id"])) if oil is None else "")
    known = catalogue.constituent_named(row["constituent"])
    if known is None:
        near = ", ".join(
            hit.entry.name for hit in catalogue.search(row["constituent"], 20) if hit.kind == "constituent"
        )
        allowed = f"a constituent's name as constituents.csv writes it; nearest: {near}"
        faults.append(Fault(table, where, "constituent", row["constituent"], allowed))
    likely = percent(row, "pct", table, where, faults)
    least, most = (
        percent(row, column, table, where, faults) if row.get(column, "").strip() else likely
        for column in ("min_pct", "max_pct")
    )
    if likely is None or least is None or most is None or oil is None or known is None:
        return None
    if not least <= likely <= most:
        faults.append(
            Fault(table, where, "pct", f"{least:g}, {likely:g}, {most:g}", "min_pct, pct and max_pct in rising order")
        )
        return None
    species = next((part for part in oil.constituents if part.constituent == known.name), None)
    cited = (source_id(lot),)
    return OilConstituent(
        constituent=known.name,
        cas=known.cas,
        min_pct=least,
        typical_pct=likely,
        max_pct=most,
        relevance=species.relevance if species else ("limit" if known.limit_substances else "scent"),
        sources=cited,
        how="read",
        typical_sources=cited,
        typical_how="read",
        note=row.get("remark", "").strip(),
    )


def percent(row: Row, column: str, table: str, where: str, faults: list[Fault]) -> float | None:
    """A percentage of a row; None, and a fault, when it is none."""
    cell = row.get(column, "").strip()
    try:
        number = read_number(cell)
    except ValueError:
        faults.append(Fault(table, where, column, cell, "a number from 0 to 100"))
        return None
    if not 0.0 <= number <= 100.0:
        faults.append(Fault(table, where, column, cell, "0 to 100"))
        return None
    return number
