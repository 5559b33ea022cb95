"""What each page is given: texts ready to print, nothing to compute."""

from __future__ import annotations

import re
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import Any

from fizzwright.catalogue.model import Source
from fizzwright.review import Figure, Notice, Review, Section
from fizzwright.review.figures import KEY_FIGURES, OWN_NOTICES, Curve, Table
from fizzwright.wording import THIN_SPACE, duration_text, number_text, sentence, shown, with_unit

WORDS = {"stop": "Stop", "mind": "Take care", "good": "Fine"}
BASES = {
    "exact": "counted or measured exactly",
    "published": "from published figures",
    "estimate": "an estimate",
    "your_own_batches": "learnt from your own batches",
}
HOWS = {
    "read": "read in the source",
    "library": "from the named library",
    "memory": "from memory, not checked",
    "estimate": "an estimate",
    "published": "from published figures",
    "exact": "exact",
    "": "",
}
FAMILIES = ("share_pct.", "limit.", "allergen.")
"""Figures that come many at a time and are shown as their own list."""
GLANCE = (
    ("A piece", "mould", "piece_g"),
    ("Pieces", "mould", "pieces"),
    ("The whole mix", "mix", "total_g"),
    ("Acid to base", "fizz", "acid_to_base_eq"),
    ("A piece costs", "cost", "piece"),
)
"""Name, section and figure of what stands right under the verdict."""
POWDER_LABELS = {"A piece": "A bath", "Pieces": "Baths", "A piece costs": "A bath costs"}
HANDFUL = 4
SHORT = 80
"""Characters of a thing that must change, where it is only named."""
FAR = 0.1
"""Below this share of its limit a level is folded away."""
LONG_UNIT = 4
"""Characters of unit that fit beside a number in the weigh column."""


@dataclass(frozen=True, slots=True)
class InputView:
    """One input of a working."""

    name: str
    value: str
    sources: tuple[tuple[str, str], ...]
    """Citation id and what it is; the id alone when the catalogue does not hold it."""
    how: str


@dataclass(frozen=True, slots=True)
class FigureView:
    """One figure with its working."""

    anchor: str
    text: str
    weight: str
    """Number and unit, as it stands in the weigh column."""
    beneath: tuple[str, ...]
    """Small words under it: the rest of the unit, the range, what it was compared with."""
    basis: str
    range: str
    equation: str
    inputs: tuple[InputView, ...]
    sources: tuple[tuple[str, str], ...]
    colour: str = ""
    """sRGB hex, when the figure is a colour: shown as one."""


@dataclass(frozen=True, slots=True)
class NoticeView:
    """One notice."""

    level: str
    word: str
    text: str
    reason: str
    sources: tuple[tuple[str, str], ...]
    figure: str
    """Anchor of the figure it speaks about, or nothing."""


@dataclass(frozen=True, slots=True)
class StepView:
    """One step of the making."""

    title: str
    text: str
    cautions: tuple[NoticeView, ...]


@dataclass(frozen=True, slots=True)
class CurveView:
    """One curve: its picture is drawn apart; the table tells the same at a handful of moments."""

    section: str
    id: str
    title: str
    head: tuple[str, ...]
    """What the table is of, then its moments."""
    rows: tuple[tuple[str, ...], ...]
    marks: tuple[str, ...]


@dataclass(frozen=True, slots=True)
class SwatchView:
    """The colour of the water at one moment."""

    colour: str
    words: str
    when: str


@dataclass(frozen=True, slots=True)
class SectionView:
    """One section of the review."""

    id: str
    title: str
    figures: tuple[FigureView, ...]
    """The key figures."""
    more: tuple[FigureView, ...]
    """The rest of its own figures, folded away."""
    limits: tuple[FigureView, ...]
    """Levels that come near what they were compared with, or have nothing to be compared with."""
    far: tuple[FigureView, ...]
    """Levels far below what they were compared with."""
    notices: tuple[NoticeView, ...]
    """What is in order here; what is to be minded stands at the top of the page."""
    steps: tuple[StepView, ...]
    ready: tuple[str, ...]
    curves: tuple[CurveView, ...] = ()
    swatches: tuple[SwatchView, ...] = ()
    tables: tuple[Table, ...] = ()


@dataclass(frozen=True, slots=True)
class LineView:
    """One line of the composition."""

    name: str
    part: str
    written: str
    grams: str
    range: str
    share: str
    equation: str


@dataclass(frozen=True, slots=True)
class ReviewView:
    """A whole review."""

    verdict: str
    word: str
    sentence: str
    short: str
    """The sentence in a few words, for the strip where one types."""
    as_of: str
    catalogue_version: str
    glance: tuple[tuple[str, str], ...]
    """The few figures a maker asks for first: name and weight."""
    notices: tuple[NoticeView, ...]
    """Stop and mind, worst first: what this recipe makes you mind."""
    standing: tuple[NoticeView, ...]
    """Cautions that go with nearly every piece like this."""
    sections: tuple[SectionView, ...]
    lines: tuple[LineView, ...]
    assumptions: tuple[str, ...]


@dataclass(frozen=True, slots=True)
class RecipeCard:
    """One recipe in the list."""

    stem: str
    name: str
    kind: str
    verdict: str
    """stop, mind, good, or change when the file cannot be read."""
    word: str
    sentence: str
    piece: str
    cost: str
    per: str
    """"a piece", or "a bath" of powder."""


class Views:
    """Turns reviews into views, with the citations of one catalogue and the step of one scale."""

    def __init__(self, sources: Mapping[str, Source], step_g: float = 0.1) -> None:
        self.sources = sources
        self.step_g = step_g

    def cited(self, ids: Sequence[str]) -> tuple[tuple[str, str], ...]:
        """Citation ids with what they are."""
        return tuple((i, self.sources[i].citation if i in self.sources else "") for i in ids if i)

    def quantity(self, value: float | int | str, unit: str) -> str:
        """Number and unit: grams to the scale's step, tiny shares in plain decimals."""
        if isinstance(value, float) and unit == "g" and abs(value) >= self.step_g:
            return f"{plain_grams(value, self.step_g)}{THIN_SPACE}g"
        if isinstance(value, float) and 0 < abs(value) < 1e-2 and not unit.endswith(" minor"):
            return with_unit(shown(value), unit)
        return with_unit(value, unit)

    def figure(self, section_id: str, figure: Figure) -> FigureView:
        """One figure."""
        is_colour = figure.unit == "sRGB"
        unit, rest = split_unit("" if is_colour else figure.unit)
        span = self.span(figure)
        beneath = (rest, span)
        if figure.high_allowed is not None:
            against = with_unit(f"{figure.high_allowed:g}", unit)
            beneath = (f"named from {against}" if figure.id.startswith("allergen.") else f"of {against} allowed", span)
        return FigureView(
            anchor=anchor(section_id, figure.id),
            text=figure.text,
            weight=self.quantity(figure.value, unit),
            beneath=tuple(b for b in beneath if b),
            basis=BASES[figure.basis],
            range=f"{span} ({figure.range_kind})" if span else "",
            equation=figure.working.equation,
            inputs=tuple(
                InputView(
                    i.name, self.input_text(i.value, i.unit), self.cited(i.source.split("; ")), HOWS.get(i.how, i.how)
                )
                for i in figure.working.inputs
            ),
            sources=self.cited(figure.sources),
            colour=str(figure.value) if is_colour else "",
        )

    def span(self, figure: Figure) -> str:
        """The range of a figure, or nothing when it is exact."""
        low, high = figure.low, figure.high
        if low is None or high is None or (low == figure.value == high):
            return ""
        if figure.unit.endswith(" minor"):
            texts = with_unit(low, figure.unit), with_unit(high, figure.unit)
        else:
            unit = "g" if figure.unit == "g" else ""
            texts = self.quantity(low, unit).removesuffix(f"{THIN_SPACE}g"), self.quantity(high, unit)
        return "" if texts[0] == texts[1] else f"{texts[0]} to {texts[1]}"

    def input_text(self, value: float | str, unit: str) -> str:
        """An input of a working, with all the digits that were used up to six."""
        text = f"{value:.6g}" if isinstance(value, float) else number_text(value)
        return f"{text}{THIN_SPACE}{unit}" if unit else text

    def notice(self, section_id: str, notice: Notice) -> NoticeView:
        """One notice."""
        place = anchor(section_id, notice.figure) if notice.figure else ""
        return NoticeView(
            notice.level, WORDS[notice.level], notice.text, notice.reason, self.cited(notice.sources), place
        )

    def section(self, section: Section) -> SectionView:
        """One section: its own figures, and apart from them those that were compared with a limit, closest first."""
        limits = [f for f in section.figures if f.id.startswith(("limit.", "allergen."))]
        limits.sort(key=lambda f: -(f.share_of_limit or 0.0))
        far = [f for f in limits if f.share_of_limit is not None and f.share_of_limit < FAR]
        own = [f for f in section.figures if not f.id.startswith(FAMILIES)]
        noticed = {n.figure for n in section.notices if n.level != "good"}
        here = [
            n
            for n in section.notices
            if (n.level == "good" and not n.standing) or (n.standing and section.id in OWN_NOTICES)
        ]
        keys = KEY_FIGURES.get(section.id, tuple(f.id for f in own))
        first = [
            f
            for f in own
            if f.id in keys
            or f.id in noticed
            or (f.high_allowed is not None and (f.share_of_limit is None or f.share_of_limit >= FAR))
        ]
        return SectionView(
            id=section.id,
            title=section.title,
            figures=tuple(self.figure(section.id, f) for f in own if f in first),
            more=tuple(self.figure(section.id, f) for f in own if f not in first),
            limits=tuple(self.figure(section.id, f) for f in limits if f not in far),
            far=tuple(self.figure(section.id, f) for f in far),
            notices=tuple(self.notice(section.id, n) for n in here),
            steps=tuple(
                StepView(s.title, s.text, tuple(self.notice(section.id, c) for c in s.cautions)) for s in section.steps
            ),
            ready=section.ready,
            tables=section.tables,
            curves=tuple(curve_view(section.id, curve) for curve in section.curves),
            swatches=tuple(
                SwatchView(w.colour, w.words, f"after {duration_text(w.seconds)}" if w.seconds else "at first")
                for w in section.swatches
            ),
        )

    def review(self, report: Review, kind: str) -> ReviewView:
        """The whole review of a recipe of that kind."""
        shown = [(s, n) for s, n in report.notices if n.level == "stop" or not n.standing]
        notices = tuple(self.notice(s, n) for s, n in shown if n.level != "good")
        standing = tuple(
            self.notice(s, n) for s, n in report.notices if n.standing and n.level != "stop" and s not in OWN_NOTICES
        )
        return ReviewView(
            verdict=report.verdict,
            word=WORDS[report.verdict],
            sentence=verdict_sentence(report),
            short=verdict_short(report),
            as_of=report.as_of.isoformat(),
            catalogue_version=report.catalogue_version,
            glance=self.glance(report, kind),
            notices=notices,
            standing=standing,
            sections=tuple(self.section(s) for s in report.sections),
            lines=tuple(self.line(row) for row in report.composition),
            assumptions=report.assumptions,
        )

    def line(self, row: Mapping[str, Any]) -> LineView:
        """One line of the composition."""
        low, high = self.quantity(row["grams_low"], "g"), self.quantity(row["grams_high"], "g")
        return LineView(
            name=row["name"],
            part="" if row["part"] == "whole" else str(row["part"]).replace("_", " "),
            written=row["written"],
            grams=self.quantity(row["grams"], "g"),
            range="" if low == high else f"{low.removesuffix(f'{THIN_SPACE}g')} to {high}",
            share=self.quantity(row["share_pct"], "%"),
            equation=row["equation"],
        )

    def card(self, stem: str, kind: str, kind_word: str, report: Review) -> RecipeCard:
        """One recipe in the list; all that stops it is named at once, each in a few words."""
        stops = [briefly(n.text) for _, n in report.notices if n.level == "stop"]
        said = verdict_sentence(report)
        return RecipeCard(
            stem=stem,
            name=report.name,
            kind=kind_word,
            verdict=report.verdict,
            word=WORDS[report.verdict],
            sentence=" ".join((said, *(f"{stop}." for stop in stops))).replace("….", "…"),
            piece=self.told(report, "mould", "piece_g"),
            cost=self.told(report, "cost", "piece"),
            per="a bath" if kind == "powder" else "a piece",
        )

    def glance(self, report: Review, kind: str) -> tuple[tuple[str, str], ...]:
        """The figures a maker asks for first, those of them the review has."""
        glance = [(POWDER_LABELS.get(row[0], row[0]) if kind == "powder" else row[0], *row[1:]) for row in GLANCE]
        told = ((label, self.told(report, section, figure)) for label, section, figure in glance)
        return tuple((label, weight) for label, weight in told if weight)

    def told(self, report: Review, section_id: str, figure_id: str) -> str:
        """The weigh column of one figure; nothing when the review has none (a powder has no piece, a price may lack)."""
        found = [f for s in report.sections if s.id == section_id for f in s.figures if f.id == figure_id]
        return self.figure(section_id, found[0]).weight if found else ""


def curve_view(section_id: str, curve: Curve) -> CurveView:
    """The table of a curve."""
    return CurveView(
        section=section_id,
        id=curve.id,
        title=curve.title,
        head=(
            f"{curve.y_name}, {curve.y_unit}" if curve.y_unit else curve.y_name,
            *(with_unit(number_text(curve.x[i]), curve.x_unit) for i in curve.moments),
        ),
        rows=tuple((name, *(number_text(values[i]) for i in curve.moments)) for name, values in curve.lines.items()),
        marks=tuple(f"{word}: {with_unit(number_text(at), curve.x_unit)}" for word, at in curve.marks.items()),
    )


def anchor(section_id: str, figure_id: str) -> str:
    """The id of a figure on a page."""
    return f"figure-{section_id}-{figure_id.replace('.', '-')}"


def split_unit(unit: str) -> tuple[str, str]:
    """What stands beside the number and what stands beneath it: "%", "of the cured piece"."""
    if unit.endswith(" minor"):
        return unit, ""
    if unit.startswith("of "):
        return "", unit
    first, _, rest = unit.replace("m3", "m³").partition(" ")
    return ("", f"{first} {rest}".strip()) if len(first) > LONG_UNIT else (first, rest)


def plain_grams(value: float, step_g: float) -> str:
    """Grams with the digits the scale can show: rounding shown is rounding weighed."""
    decimals = 0 if step_g >= 1 or abs(value) >= 100 else 1 if step_g >= 0.1 or abs(value) >= 10 else 2
    return f"{value:,.{decimals}f}".replace(",", THIN_SPACE)


def rounding_text(pct: float) -> str:
    """What rounding to a real measure adds or takes: "+0.7 %", "none" when it does not show."""
    text = f"{pct:+.1f}"
    return "none" if text in ("+0.0", "-0.0") else f"{text}{THIN_SPACE}%".replace("-", "\u2212")


def verdict_sentence(report: Review) -> str:
    """The answer in one sentence: how many things stop it, or are to be minded."""
    levels = [n.level for _, n in report.notices if n.level == "stop" or not n.standing]
    stops, minds = levels.count("stop"), levels.count("mind")
    if stops:
        return f"{sentence(counted(stops, 'thing'))} must change before this is made."
    if minds:
        return f"No limit we hold is passed; {counted(minds, 'thing')} to mind."
    return "No limit we hold is passed, and nothing stands out."


def verdict_short(report: Review) -> str:
    """The answer in a few words."""
    levels = [n.level for _, n in report.notices if n.level == "stop" or not n.standing]
    stops, minds = levels.count("stop"), levels.count("mind")
    return (
        f"{counted(stops, 'thing')} must change"
        if stops
        else f"{counted(minds, 'thing')} to mind"
        if minds
        else "no limit passed"
    )


def briefly(text: str) -> str:
    """What a notice is about, in a few words: up to the first pause after a handful, cut at a word when still long."""
    pauses = [m.start() for m in re.finditer(r"[;:,]\s|\.\s|\.$", text)]
    clause = text[: next((p for p in pauses if text[:p].count(" ") >= HANDFUL), len(text))]
    if len(clause) > SHORT:
        clause = f"{clause[:SHORT].rsplit(' ', 1)[0]}…"
    return clause


def counted(count: int, noun: str) -> str:
    """A count with its noun: one thing, 3 things."""
    return f"one {noun}" if count == 1 else f"{count} {noun}s"
