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
from fizzwright.review.figures import (
    LEVEL_SHAPES,
    LEVEL_WORDS,
    OWN_NOTICES,
    Figure,
    Notice,
    Review,
    Section,
    amount_text,
    key_figures,
    range_text,
)
from fizzwright.wording import duration_text, number_text, with_unit

LABEL_WORDS = "Name on the label"
"""How the notice of label names begins: it belongs with the notices, though it goes with nearly every piece."""
NARROWEST_SENTENCE = 28
"""Columns a sentence needs beside its id."""
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


def _notice(console: Console, notice: Notice, *, reason: bool = True) -> None:
    line = _level(notice.level)
    line.append(": ", style="default")
    line.append(notice.text, style="default not bold")
    console.print(Padding(line, (0, 0, 0, 2)))
    if not reason:
        return
    sources = f" [{', '.join(notice.sources)}]" if notice.sources else ""
    console.print(Padding(Text(notice.reason + sources, style="dim"), (0, 0, 0, 4)))


def _figures(console: Console, figures: tuple[Figure, ...], section_id: str) -> None:
    """Number, range, sentence; the id stands whole, to be pasted into --why: at the end, or below where that leaves no room."""
    if not figures:
        return
    rows = [(amount_text(f), range_text(f), f.text, f"{section_id}.{f.id}") for f in figures]
    amount, span, _, id_ = (max(map(len, column)) for column in zip(*rows, strict=True))
    is_beside = console.width - 2 - amount - span - id_ - 8 >= NARROWEST_SENTENCE
    table = Table(box=None, padding=(0, 2, 0, 0), show_header=False, pad_edge=False)
    table.add_column(justify="right", no_wrap=True)
    table.add_column(no_wrap=True, style="dim")
    table.add_column(overflow="fold")
    if is_beside:
        table.add_column(no_wrap=True, style="dim")
        for row in rows:
            table.add_row(*row)
    else:
        for *shown, text, name in rows:
            table.add_row(*shown, Text(text).append(f"\n{name}", style="dim"))
    console.print(Padding(table, (0, 0, 0, 2)))


def _count(report: Review) -> str:
    """How many things stop it or are to be minded."""
    own = [n.level for _, n in report.notices if n.level == "stop" or not n.standing]
    counts = [(own.count("stop"), "to change before it is made"), (own.count("mind"), "to mind")]
    return ", ".join(f"{count} {what}" for count, what in counts if count) or "nothing stands out"


def show_review(report: Review, *, everything: bool = False) -> None:
    """Print the review: verdict and notices first, then the weigh column, the key figures and the steps.

    everything: also the reasons, the lesser figures and the cautions in full.
    """
    console = _console()
    console.print(Text(report.name, style="bold"))
    verdict = _level(report.verdict).append(f": {_count(report)}.", style="default not bold")
    verdict.append(f"   Rules as of {report.as_of.isoformat()}, catalogue {report.catalogue_version}.", style="dim")
    console.print(verdict)
    console.print()
    for _, notice in report.notices:
        if notice.level == "stop" or (notice.level == "mind" and not notice.standing):
            _notice(console, notice, reason=everything or notice.level == "stop")
    standing = [n for s, n in report.notices if n.standing and n.level != "stop" and s not in OWN_NOTICES]
    labels = [notice for notice in standing if notice.text.startswith(LABEL_WORDS)]
    for notice in labels:
        _notice(console, notice, reason=everything)
    console.print()
    _composition(console, report)
    if report.assumptions:
        assumed = Text("Assumed while weighing: " + " ".join(report.assumptions), style="dim")
        console.print(Padding(assumed, (0, 0, 0, 2)))
    for section in report.sections:
        _section(console, section, everything)
    for section in report.sections:
        _steps(console, section)
    if standing:
        console.print()
        console.print(Text("Goes with pieces like this", style="bold"))
        for notice in (n for n in standing if n not in labels):
            if everything:
                _notice(console, notice)
            else:
                console.print(Padding(f"- {notice.text}", (0, 0, 0, 2)))
    console.print()
    console.print(
        Text(
            "Compared with published figures only; not a safety assessment. Ask a qualified assessor before you sell, "
            "and a clinician before you bathe anyone ill, pregnant or very young.",
            style="dim",
        )
    )
    more = "" if everything else "Every figure, reason and caution: --all. "
    console.print(Text(f"{more}The working of one figure: --why ID", style="dim"))


def _section(console: Console, section: Section, everything: bool) -> None:
    """One section: what is in order, and the figures."""
    # The shares stand in the composition table already.
    shown = tuple(
        f for f in (section.figures if everything else key_figures(section)[0]) if not f.id.startswith("share_pct.")
    )
    is_own = section.id in OWN_NOTICES
    here = [n for n in section.notices if (n.level == "good" and not n.standing) or (is_own and n.standing)]
    if not (shown or here):
        return
    console.print()
    console.print(Text(section.title, style="bold"))
    for notice in here:
        _notice(console, notice, reason=everything)
    _figures(console, shown, section.id)
    if everything:
        _curves(console, section)


def _curves(console: Console, section: Section) -> None:
    """What changes over time, at a handful of moments."""
    for curve in section.curves:
        places = curve.moments
        console.print()
        console.print(Padding(Text(curve.title), (0, 0, 0, 2)))
        table = Table(box=None, padding=(0, 2, 0, 0), pad_edge=False, header_style="dim")
        table.add_column(
            " ".join(filter(None, (curve.y_name, f"({curve.y_unit})" if curve.y_unit else ""))), overflow="fold"
        )
        for i in places:
            table.add_column(with_unit(float(f"{curve.x[i]:.3g}"), curve.x_unit), justify="right")
        for name, values in curve.lines.items():
            table.add_row(name, *(number_text(values[i]) for i in places))
        console.print(Padding(table, (0, 0, 0, 2)))
        for word, at in curve.marks.items():
            console.print(Padding(f"{word}: {with_unit(at, curve.x_unit)}", (0, 0, 0, 4)))
    for told in section.tables:
        console.print()
        console.print(Padding(Text(told.title), (0, 0, 0, 2)))
        table = Table(box=None, padding=(0, 2, 0, 0), pad_edge=False, header_style="dim")
        for word in told.head:
            table.add_column(word, overflow="fold")
        for row in told.rows:
            table.add_row(*row)
        console.print(Padding(table, (0, 0, 0, 2)))
        console.print(Padding(Text(told.note, style="dim"), (0, 0, 0, 4)))
    for swatch in section.swatches:
        console.print(Padding(f"After {duration_text(swatch.seconds)} the water is {swatch.words}.", (0, 0, 0, 2)))


def _steps(console: Console, section: Section) -> None:
    """What to have ready, and the steps with their cautions."""
    if not section.steps:
        return
    console.print()
    console.print(Text("Step by step", style="bold"))
    if section.ready:
        console.print(Padding(Text("Have ready: " + "; ".join(section.ready) + "."), (0, 0, 0, 2)))
    for number, step in enumerate(section.steps, 1):
        console.print(Padding(Text(f"{number}. {step.title}. {step.text}"), (0, 0, 0, 2)))
        for caution in step.cautions:
            console.print(
                Padding(_level(caution.level).append(f": {caution.text}", style="default not bold"), (0, 0, 0, 5))
            )


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
    table.add_column("input", overflow="fold")
    table.add_column("value", justify="right", overflow="fold")
    for name in ("unit", "source", "how"):
        table.add_column(name, overflow="fold")
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
