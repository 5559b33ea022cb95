"""What `fizzwright oil import` prints for eyes."""

from __future__ import annotations

from pathlib import Path

from rich.console import Console
from rich.padding import Padding
from rich.table import Table
from rich.text import Text

from fizzwright.catalogue import Catalogue
from fizzwright.catalogue.analysis.amounts import Share
from fizzwright.catalogue.analysis.columns import ROLE_WORDS
from fizzwright.catalogue.analysis.naming import HOW_WORDS
from fizzwright.plan.lots import Taken
from fizzwright.wording import shown

MOST_PASSED = 8
MARKS = {"mind": "▲ Take care", "note": "· Note"}


def pct_text(share: Share) -> str:
    """A share as a maker reads it: 33.1, or 0.6 (0 to 1.2)."""
    likely = shown(share.pct, 3)
    return likely if share.least == share.most else f"{likely} ({shown(share.least, 3)} to {shown(share.most, 3)})"


def show_taken(taken: Taken, written: Path | None, catalogue: Catalogue) -> None:
    """Print what was read, what each name was taken for, the comparison, and where it was kept."""
    console = Console(highlight=False, markup=False, emoji=False)
    report = taken.report
    oil = f"{taken.oil.name}{' (a guess)' if taken.oil_asked else ''}" if taken.oil else "an oil nobody has named"
    console.print(Text(f"{report.file}: {oil}, lot {taken.lot or 'not said'}", style="bold"))
    console.print(
        f"Read as {report.form}. Columns: "
        + "; ".join(f"{c.header} = {ROLE_WORDS[c.role]}" for c in report.columns)
        + "."
    )
    for note in report.notes:
        console.print(note)
    table = Table(box=None, padding=(0, 2, 0, 0), pad_edge=False)
    table.add_column("In the report", overflow="fold")
    table.add_column("%", justify="right", no_wrap=True)
    table.add_column("Taken for", overflow="fold")
    table.add_column("How", style="dim", overflow="fold")
    for match in taken.matches:
        names = " + ".join(catalogue.constituents[entry].name for entry in match.ids) or "no name here"
        how = HOW_WORDS[match.how] if match.ids else HOW_WORDS["none"]
        how += f", {match.score:.0f} of 100" if 0 < match.score < 100 else ""
        how += ", to be confirmed" if match.question else ""
        table.add_row(match.label, pct_text(match.peak.share), names, ". ".join(filter(None, (how, match.remark))))
    console.print(Padding(table, (1, 0, 0, 2)))
    total = f"In all {shown(report.total_pct, 4)} %"
    if report.passed:
        passed = "; ".join(f"{p.text} ({p.why})" for p in report.passed[:MOST_PASSED])
        total += f". Passed over: {passed}"
        if len(report.passed) > MOST_PASSED:
            total += f"; and {len(report.passed) - MOST_PASSED} more rows"
    console.print(Padding(Text(total + ".", style="dim"), (0, 0, 1, 2)))
    if taken.likeness:
        like = ", ".join(f"{catalogue.oils[oil].name} {near:.2f}" for oil, near in taken.likeness)
        console.print(Padding(Text(f"Most like, by its profile (1 is the same): {like}."), (0, 0, 0, 2)))
    findings = taken.analysis.findings if taken.analysis else ()
    for finding in findings:
        console.print(Padding(Text(f"{MARKS[finding.level]}: {finding.text}"), (0, 0, 0, 2)))
        console.print(Padding(Text(finding.reason, style="dim"), (0, 0, 0, 4)))
    if taken.analysis and not findings:
        console.print(
            Padding(Text(f"Nothing lies outside what the catalogue holds of {taken.analysis.oil.name}."), (0, 0, 0, 2))
        )
    if written is not None:
        console.print(f'Kept as {written}. A recipe names it with lot = "{taken.lot}".')
