"""Taking a laboratory's report into the workshop: which oil, which lot, what is doubtful, and the lot's own file."""

from __future__ import annotations

import csv
import io
import re
import tempfile
from collections.abc import Mapping
from dataclasses import dataclass
from datetime import date
from pathlib import Path
from typing import Any

from fizzwright.catalogue import Catalogue
from fizzwright.catalogue.analysis.comparing import Analysis, analyse, likest
from fizzwright.catalogue.analysis.naming import Match, answered, match_peaks, questions
from fizzwright.catalogue.analysis.reading import Report
from fizzwright.catalogue.faults import CatalogueFaults, Fault
from fizzwright.catalogue.lots import COLUMNS, read_lots
from fizzwright.catalogue.model import Oil
from fizzwright.catalogue.workshop import Workshop
from fizzwright.recipe.saving import write_new, write_text
from fizzwright.refusal import Refusal

LOT_FILE_COLUMNS = (*COLUMNS, "min_pct", "max_pct", "written", "matched", "remark", "report", "supplier", "imported_on")
LONGEST_LOT = 60


@dataclass(frozen=True)
class Taken:
    """A report as far as it is understood; `analysis` is None while nobody has said which oil it is."""

    report: Report
    lot: str
    matches: tuple[Match, ...]
    questions: tuple[Match, ...]
    oil: Oil | None
    oil_asked: bool
    """True when the oil is only a guess and must be confirmed."""
    likeness: tuple[tuple[str, float], ...]
    analysis: Analysis | None
    supplier: str = ""

    @property
    def is_settled(self) -> bool:
        """True when nothing is left to confirm and the lot can be kept."""
        return self.analysis is not None and not self.questions and not self.oil_asked and bool(self.lot)

    def as_dict(self) -> dict[str, Any]:
        """What --json prints."""
        analysis = self.analysis
        return {
            "fizzwright": 1,
            "file": self.report.file,
            "read_as": self.report.form,
            "columns": [{"column": c.letter, "header": c.header, "taken_for": c.role} for c in self.report.columns],
            "lot": self.lot,
            "oil": self.oil.id if self.oil else None,
            "oil_to_confirm": self.oil_asked,
            "likeness": [{"oil": oil, "likeness": near} for oil, near in self.likeness],
            "total_pct": round(self.report.total_pct, 4),
            "stated_total_pct": self.report.stated_total_pct,
            "notes": list(self.report.notes),
            "passed_over": [{"row": p.row, "text": p.text, "why": p.why} for p in self.report.passed],
            "peaks": [
                {
                    "row": m.peak.row, "written": m.label, "cas": m.peak.cas, "pct": m.peak.share.pct,
                    "as_written": m.peak.written, "constituents": list(m.ids), "how": m.how, "confidence": m.score,
                    "question": m.question, "remark": m.remark, "nearest": list(m.nearest),
                }
                for m in self.matches
            ],
            "doubtful": [{"written": m.label, "proposal": m.proposal, "question": m.question} for m in self.questions],
            "unnamed_pct": round(analysis.unnamed_pct, 4) if analysis else None,
            "shares": [
                {
                    "constituent": s.constituent, "name": s.name, "pct": round(s.share.pct, 4),
                    "min_pct": round(s.share.least, 4), "max_pct": round(s.share.most, 4), "written": s.written,
                    "matched": s.how, "remark": s.remark,
                }
                for s in (analysis.shares if analysis else ())
            ],
            "findings": [
                {"level": f.level, "text": f.text, "reason": f.reason, "sources": list(f.sources)}
                for f in (analysis.findings if analysis else ())
            ],
        }  # fmt: skip


def take(
    report: Report,
    catalogue: Catalogue,
    *,
    oil: str = "",
    lot: str = "",
    answers: Mapping[str, str] | None = None,
    accept_near: bool = False,
    supplier: str = "",
) -> Taken:
    """A report understood as far as it goes; Refusal for an oil, lot or answer that cannot be.

    oil: its id; guessed from the report's own words, its lot code or its profile when not given.
    """
    chosen, asked = _oil(report, catalogue, oil)
    lot = _lot_code(lot or report.lot)
    matches = answered(match_peaks(report.peaks, catalogue, chosen), answers or {}, catalogue, accept_near=accept_near)
    analysis = analyse(report, matches, chosen, catalogue) if chosen else None
    likeness = analysis.likeness if analysis else likest(matches, catalogue)
    return Taken(report, lot, matches, questions(matches), chosen, asked, likeness, analysis, supplier.strip())


def _oil(report: Report, catalogue: Catalogue, wanted: str) -> tuple[Oil | None, bool]:
    """The oil of a report, and whether it is a guess."""
    if wanted:
        found = catalogue.oils.get(wanted.strip())
        if found is None:
            near = [entry for entry in catalogue.nearest(wanted, n=8) if entry in catalogue.oils][:3]
            said = f" Nearest: {', '.join(near)}." if near else ""
            raise Refusal(
                f"oil {wanted[:80]!r} is not in the catalogue.{said} Give the id of an oil, such as lavender."
            )
        return found, False
    words = f" {' '.join((*report.preamble, report.file))} ".casefold().replace("_", " ")
    named = [
        oil
        for oil in catalogue.oils.values()
        if any(
            name and f" {name.casefold()} " in re.sub(r"[^\w]+", " ", words)
            for name in (oil.name, oil.id.replace("_", " "), oil.botanical)
        )
    ]
    like = likest(match_peaks(report.peaks, catalogue), catalogue)
    near = [oil for oil, _ in like]
    named.sort(key=lambda oil: (near.index(oil.id) if oil.id in near else len(near), -len(oil.name)))
    if named:
        return named[0], True
    return (catalogue.oils[near[0]], True) if near else (None, True)


def _lot_code(text: str) -> str:
    code = text.strip()
    if not code:
        return ""
    if len(code) > LONGEST_LOT or not code.isprintable() or code[0] in "=+-@." or re.search(r"[,;\"'<>|\\]", code):
        raise Refusal(
            f"lot {text[:80]!r}: write the code as on the bottle, at most {LONGEST_LOT} characters: letters, digits, - . / and _, "
            "such as LV-2608-01."
        )
    return code


def lot_path(folder: Path, lot: str) -> Path:
    """Where the file of a lot belongs."""
    return folder / "lots" / f"{re.sub(r'[^A-Za-z0-9._-]+', '_', lot)}.csv"


def keep(taken: Taken, catalogue: Catalogue, workshop: Workshop, *, today: date, replace: bool = False) -> Path:
    """Write the lot's file, whole or not at all, and return its path; Refusal while something is to be confirmed.

    A lot or file that is there already is left alone unless `replace`; a file with other lots in it always is.
    """
    if not taken.is_settled:
        raise Refusal(f"{taken.report.file}: nothing was kept, as something is still to be confirmed.")
    path = lot_path(workshop.folder, taken.lot)
    held = workshop.lot_analyses.get(taken.lot)
    if held is not None and held.table != f"lots/{path.name}":
        raise Refusal(
            f"lot {taken.lot} stands in {held.table} already, and it was left alone. Take its rows out of that file first, or give "
            "another lot code."
        )
    others = [
        lot for lot, other in workshop.lot_analyses.items() if other.table == f"lots/{path.name}" and lot != taken.lot
    ]
    if others:
        raise Refusal(f"lots/{path.name} holds lot {others[0]} too, and it was left alone. Give another lot code.")
    if path.exists() and not replace:
        raise Refusal(
            f"lot {taken.lot}: there is an analysis of it already (lots/{path.name}), and it was left alone. To put this one in its "
            "place, say so (--replace)."
        )
    text = lot_csv(taken, today)
    _check_readable(text, path.name, catalogue)
    path.parent.mkdir(exist_ok=True)
    if replace:
        write_text(path, text)
    else:
        write_new(path, text)
    return path


def _check_readable(text: str, name: str, catalogue: Catalogue) -> None:
    """Refuse a lot that would keep the workshop from being opened, before anything is written."""
    faults: list[Fault] = []
    with tempfile.TemporaryDirectory() as folder:
        (Path(folder) / "lots").mkdir()
        (Path(folder) / "lots" / name).write_text(text, encoding="utf-8")
        read_lots(catalogue, Path(folder), faults)
    if faults:
        raise CatalogueFaults(faults)


def lot_csv(taken: Taken, today: date) -> str:
    """The file of a lot: a row a constituent, then a row a peak without a name."""
    analysis = taken.analysis
    if analysis is None:
        raise Refusal(f"{taken.report.file}: nobody has said which oil this is.")
    text = io.StringIO()
    table = csv.writer(text, lineterminator="\n")
    table.writerow(LOT_FILE_COLUMNS)
    end = (taken.report.file, taken.supplier, today.isoformat())

    def row(constituent: str, pct: str, least: str, most: str, written: str, matched: str, remark: str) -> None:
        cells = (taken.lot, analysis.oil.id, constituent, pct, least, most, written, matched, remark, *end)
        table.writerow([_plain_cell(cell) for cell in cells])

    for held in analysis.shares:
        share = held.share
        bounds = ("", "") if share.least == share.pct == share.most else (_pct(share.least), _pct(share.most))
        row(held.name, _pct(share.pct), *bounds, held.written, held.how, held.remark)
    for peak in analysis.unnamed:
        row("", _pct(peak.share.pct), "", "", peak.name or peak.cas or f"row {peak.row}", "not named here", "")
    return text.getvalue()


def _pct(value: float) -> str:
    return f"{value:.6g}"


def _plain_cell(text: str) -> str:
    """A cell that a spreadsheet takes for text and not for a formula."""
    return f"'{text}" if text[:1] in ("=", "+", "-", "@") else text
