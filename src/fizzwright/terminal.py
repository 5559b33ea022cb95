"""What the command prints for eyes: the review, one figure's working, catalogue hits, a resized recipe."""

from __future__ import annotations

import json
import sys
from dataclasses import asdict
from pathlib import Path
from typing import Any

from rich.console import Console
from rich.padding import Padding
from rich.table import Table
from rich.text import Text

from fizzwright.catalogue import Catalogue
from fizzwright.catalogue.describe import describe
from fizzwright.catalogue.finding import Hit
from fizzwright.plan.sizing import Sized
from fizzwright.refusal import Refusal
from fizzwright.review.figures import LEVEL_SHAPES, LEVEL_WORDS, Figure, Notice, Review, amount_text, range_text
from fizzwright.wording import number_text, with_unit

INK = {"stop": "bold red", "mind": "yellow", "good": "green"}


class _Paper(Console):
    """A console that lets a broken pipe through, so that the exit code stays a verdict."""

    def on_broken_pipe(self) -> None:
        """Leave it to the command."""
        raise BrokenPipeError


def _console() -> Console:
    return _Paper(highlight=False, markup=False, emoji=False)


def _level(level: str) -> Text:
    """Word and shape; the colour only repeats them."""
    return Text(f"{LEVEL_SHAPES[level]} {LEVEL_WORDS[level]}", style=INK[level])


def _notice(console: Console, notice: Notice) -> None:
    line = _level(notice.level)
    line.append(": ", style="default")
    line.append(notice.text, style="default not bold")
    console.print(Padding(line, (0, 0, 0, 2)))
    sources = f" [{', '.join(notice.sources)}]" if notice.sources else ""
    console.print(Padding(Text(notice.reason + sources, style="dim"), (0, 0, 0, 4)))


def _figures(console: Console, figures: tuple[Figure, ...], section_id: str) -> None:
    table = Table(box=None, padding=(0, 2, 0, 0), show_header=False, pad_edge=False)
    table.add_column(justify="right", no_wrap=True)
    table.add_column(no_wrap=True, style="dim")
    table.add_column(overflow="fold")
    for figure in figures:
        said = Text(figure.text).append(f"  {section_id}.{figure.id}", style="dim")
        table.add_row(amount_text(figure), range_text(figure), said)
    console.print(Padding(table, (0, 0, 0, 2)))


def show_review(report: Review) -> None:
    """Print the review: verdict and notices first, then the weigh column, then the figures by section."""
    console = _console()
    console.print(Text(report.name, style="bold"))
    verdict = _level(report.verdict)
    verdict.append(f"   rules as of {report.as_of.isoformat()}, catalogue {report.catalogue_version}", style="dim")
    console.print(verdict)
    console.print()
    for _, notice in report.notices:
        if notice.level != "good" and not notice.standing:
            _notice(console, notice)
    console.print()
    _composition(console, report)
    if report.assumptions:
        console.print(
            Padding(Text("Assumed while weighing: " + " ".join(report.assumptions), style="dim"), (0, 0, 0, 2))
        )
    for section in report.sections:
        console.print()
        console.print(Text(section.title, style="bold"))
        for notice in section.notices:
            if notice.level == "good":
                _notice(console, notice)
        # The shares stand in the composition table already.
        _figures(console, tuple(f for f in section.figures if not f.id.startswith("share_pct.")), section.id)
        if section.ready:
            console.print(Padding(Text("Have ready: " + "; ".join(section.ready) + "."), (0, 0, 0, 2)))
        for number, step in enumerate(section.steps, 1):
            console.print(Padding(Text(f"{number}. {step.title}. {step.text}"), (0, 0, 0, 2)))
            for caution in step.cautions:
                _notice(console, caution)
    standing = [notice for _, notice in report.notices if notice.standing]
    if standing:
        console.print()
        console.print(Text("Cautions that go with pieces like this", style="bold"))
        for notice in standing:
            _notice(console, notice)
    console.print()
    console.print(
        Text(
            "Compared with published figures only; not a safety assessment. Ask a qualified assessor before you sell, "
            "and a clinician before you bathe anyone ill, pregnant or very young.",
            style="dim",
        )
    )
    console.print(Text("The working of any figure: fizzwright review FILE --why ID", style="dim"))


def _composition(console: Console, report: Review) -> None:
    table = Table(box=None, padding=(0, 2, 0, 0), pad_edge=False, header_style="dim")
    table.add_column("grams", justify="right", no_wrap=True)
    table.add_column("90 % between", no_wrap=True, style="dim")
    table.add_column("line", overflow="fold")
    table.add_column("as written", overflow="fold")
    table.add_column("share", justify="right", no_wrap=True)
    for row in report.composition:
        part = "" if row["part"] == "whole" else f" ({row['part']})"
        table.add_row(
            number_text(row["grams"]),
            f"{number_text(row['grams_low'])} to {number_text(row['grams_high'])}",
            row["name"] + part,
            row["written"],
            with_unit(row["share_pct"], "%"),
        )
    console.print(Padding(table, (0, 0, 0, 2)))


def find_figure(report: Review, wanted: str) -> tuple[str, Figure]:
    """The figure named `section.id`, or by its id alone when only one section has it."""
    hits = [(s.id, f) for s in report.sections for f in s.figures if wanted in (f"{s.id}.{f.id}", f.id)]
    exact = [hit for hit in hits if f"{hit[0]}.{hit[1].id}" == wanted] or hits
    if len(exact) == 1:
        return exact[0]
    names = [f"{s.id}.{f.id}" for s in report.sections for f in s.figures]
    if exact:
        raise Refusal(
            f"--why {wanted}: more than one figure has this id. Say which: {', '.join(f'{s}.{f.id}' for s, f in exact)}"
        )
    from rapidfuzz import process

    near = [name for name, _, _ in process.extract(wanted, names, limit=3)]
    raise Refusal(f"--why {wanted}: this review has no such figure. Nearest: {', '.join(near)}")


def show_working(report: Review, wanted: str, catalogue: Catalogue, *, as_json: bool = False) -> None:
    """Print one figure with its equation, its inputs and its sources in full."""
    section_id, figure = find_figure(report, wanted)
    citations = [
        {"id": s, "citation": catalogue.sources[s].citation if s in catalogue.sources else s} for s in figure.sources
    ]
    if as_json:
        data = {"fizzwright": 1, "section": section_id, "figure": asdict(figure), "citations": citations}
        sys.stdout.write(json.dumps(data, ensure_ascii=False, indent=2, allow_nan=False) + "\n")
        return
    console = _console()
    console.print(Text(f"{section_id}.{figure.id}", style="bold"))
    console.print(f"{amount_text(figure)}   {range_text(figure)}   ({figure.basis.replace('_', ' ')})")
    console.print(figure.text)
    console.print()
    console.print("How this was worked out")
    console.print(Padding(figure.working.equation, (0, 0, 0, 2)))
    table = Table(box=None, padding=(0, 2, 0, 0), pad_edge=False, header_style="dim")
    for name, justify in (("input", "left"), ("value", "right"), ("unit", "left"), ("source", "left"), ("how", "left")):
        table.add_column(name, justify=justify, overflow="fold")  # type: ignore[arg-type]
    for entry in figure.working.inputs:
        value = f"{entry.value:.6g}" if isinstance(entry.value, float) else str(entry.value)
        table.add_row(entry.name, value, entry.unit, entry.source, entry.how)
    console.print(Padding(table, (0, 0, 0, 2)))
    if citations:
        console.print()
        console.print("Sources")
        for citation in citations:
            console.print(Padding(f"{citation['id']}: {citation['citation']}", (0, 0, 0, 2)))


def hits_as_dict(hits: list[Hit], catalogue: Catalogue) -> dict[str, Any]:
    """Catalogue hits for --json, each with its described values."""
    return {
        "fizzwright": 1,
        "catalogue_version": catalogue.version,
        "hits": [
            {
                "id": hit.entry.id,
                "kind": hit.kind,
                "name": hit.entry.name,
                "score": hit.score,
                "matched": hit.matched,
                "origin": hit.entry.origin,
                "values": [asdict(row) for row in describe(hit.entry, catalogue)],
            }
            for hit in hits
        ],
    }


def show_hits(query: str, hits: list[Hit], catalogue: Catalogue) -> None:
    """Print the best hit with all its values and sources, and the others by name."""
    console = _console()
    if not hits:
        console.print(
            f"{query!r}: nothing in the catalogue is called that or nearly that. "
            "Try a shorter word, a CAS number or a label name."
        )
        return
    best = hits[0]
    console.print(Text(f"{best.entry.name}  ({best.kind}: {best.entry.id})", style="bold"))
    if best.entry.origin != "catalogue":
        console.print(f"from the workshop's own table: {best.entry.origin}")
    table = Table(box=None, padding=(0, 2, 0, 0), pad_edge=False, header_style="dim")
    table.add_column("value", justify="right", overflow="fold")
    table.add_column("unit")
    table.add_column("what", overflow="fold")
    table.add_column("how")
    table.add_column("source", overflow="fold")
    for row in describe(best.entry, catalogue):
        table.add_row(row.value_text, row.unit, row.label, row.how, ", ".join(row.sources))
    console.print(Padding(table, (0, 0, 0, 2)))
    if best.entry.note:
        console.print(Padding(Text(f"Note: {best.entry.note}", style="dim"), (0, 0, 0, 2)))
    if len(hits) > 1:
        console.print()
        console.print("Also found")
        for hit in hits[1:]:
            console.print(Padding(f"{hit.entry.name}  ({hit.kind}: {hit.entry.id})", (0, 0, 0, 2)))


def show_sized(sized: Sized, out: Path | None) -> None:
    """Print what was resized, line by line, or the document itself when it was not written anywhere."""
    console = _console()
    console.print(Text(sized.summary, style="bold"))
    table = Table(box=None, padding=(0, 2, 0, 0), pad_edge=False, header_style="dim")
    for name in ("line", "was", "becomes", "rounding"):
        table.add_column(name, overflow="fold")
    for change in sized.changes:
        table.add_row(
            change.name, change.before, change.after, f"{change.rounding_pct:+.1f} %" if change.rounding_pct else ""
        )
    console.print(Padding(table, (0, 0, 0, 2)))
    for note in sized.notes:
        console.print(Padding(note, (0, 0, 0, 2)))
    console.print()
    console.print(f"Written to {out}." if out is not None else "Not written anywhere; add --out FILE to keep it.")
