"""What a changed recipe is told by: its lines before and after, its figures beside the old ones, and what is new to mind."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import asdict, dataclass
from typing import Any

from fizzwright.catalogue import Catalogue
from fizzwright.catalogue.workshop import Workshop
from fizzwright.recipe.document import read_text
from fizzwright.recipe.model import Recipe
from fizzwright.review import Review, Setting, review
from fizzwright.review.figures import LEVEL_WORDS, Figure
from fizzwright.wording import listed, with_unit

BESIDE: tuple[tuple[str, str, str], ...] = (
    ("mix", "total_g", "mix in all"),
    ("mould", "piece_g", "one piece"),
    ("mould", "pieces", "whole pieces"),
    ("mould", "hardness_0_10", "hardness (0 to 10)"),
    ("fizz", "acid_to_base_eq", "acid to base"),
    ("fizz", "co2_potential_l", "gas in the whole mix"),
    ("tub", "fizz_seconds", "fizz of a piece"),
    ("tub", "ph_soaked", "pH of the bath after a soak"),
    ("tub", "ph_settled", "pH of the bath at rest"),
    ("mix", "oil_total_pct", "oils of every kind"),
    ("mix", "essential_oil_pct", "essential oil"),
    ("air", "intensity_0_10", "scent in the room (0 to 10)"),
    ("skin", "dispersed_share_pct", "scent the solubiliser disperses"),
    ("cost", "materials", "materials of the batch"),
    ("cost", "piece", "cost of a piece"),
)
"""Section, figure and what a maker calls it, in the order they are told."""
KEPT_SHARE = 0.03
"""Our own choice: within three in a hundred nobody at a bowl tells the difference."""
KEPT_PH = 0.1
"""Our own choice: what a pH strip cannot tell apart."""


@dataclass(frozen=True, slots=True)
class Row:
    """One line before and after; an empty text where it was not, or is no more."""

    use: str
    name: str
    before: str
    after: str
    before_g: float
    after_g: float
    why: str = ""


@dataclass(frozen=True, slots=True)
class Beside:
    """One figure of the review before and after."""

    id: str
    """section.figure."""
    name: str
    before: float | None
    after: float | None
    before_text: str
    after_text: str
    kept: bool
    """True when nobody would tell the difference."""


@dataclass(frozen=True)
class Changed:
    """A changed recipe beside the one it came from."""

    text: str
    """The new document."""
    summary: str
    rows: tuple[Row, ...]
    figures: tuple[Beside, ...]
    label_gone: tuple[str, ...]
    """Names that leave the label: materials by their label name, allergens by theirs."""
    label_new: tuple[str, ...]
    notes: tuple[str, ...]
    """What was kept and why, and what could not be; plain sentences."""
    stops: tuple[str, ...]
    """What the review of the new recipe stops for."""
    new_to_mind: tuple[str, ...]
    """What the review of the new recipe takes care of and that of the old one did not."""
    verdict: str
    verdict_before: str
    is_changed: bool = True
    """False when there was nothing to change."""

    @property
    def kept(self) -> tuple[str, ...]:
        """Names of the figures that stay."""
        return tuple(f.name for f in self.figures if f.kept)

    @property
    def verdict_words(self) -> str:
        """The verdict as every face prints it."""
        return LEVEL_WORDS[self.verdict]

    def as_dict(self) -> dict[str, Any]:
        """For --json."""
        return {"fizzwright": 1, **asdict(self)}


def compare(
    before: Recipe,
    text: str,
    catalogue: Catalogue,
    workshop: Workshop | None,
    summary: str,
    *,
    why: Mapping[str, str] | None = None,
    notes: tuple[str, ...] = (),
    setting: Setting | None = None,
) -> Changed:
    """The new document beside the old recipe, both reviewed in full; `why` by use of the new or old line.

    RecipeRefused when the new document cannot be read.
    """
    after = read_text(text, catalogue, before.file)
    leave_on = setting.leave_on if setting else False
    day = before.made_on
    old = review(before, catalogue, workshop, leave_on=leave_on, as_of=day)
    new = review(after, catalogue, workshop, leave_on=leave_on, as_of=day)
    return Changed(
        text=text,
        summary=summary,
        rows=_rows(old, new, why or {}),
        figures=_beside(old, new, _unpriced(old, workshop), _unpriced(new, workshop)),
        label_gone=tuple(sorted(_label(old, catalogue) - _label(new, catalogue))),
        label_new=tuple(sorted(_label(new, catalogue) - _label(old, catalogue))),
        notes=notes,
        stops=tuple(n.text for _, n in new.notices if n.level == "stop"),
        new_to_mind=_new_to_mind(old, new),
        verdict=new.verdict,
        verdict_before=old.verdict,
        is_changed=text != before.text,
    )


def _rows(old: Review, new: Review, why: Mapping[str, str]) -> tuple[Row, ...]:
    """Lines that differ, matched by use and part in the order they stand."""

    def keyed(report: Review) -> dict[tuple[str, str, int], dict[str, Any]]:
        found: dict[tuple[str, str, int], dict[str, Any]] = {}
        for line in report.composition:
            count = sum(1 for use, part, _ in found if (use, part) == (line["use"], line["part"]))
            found[line["use"], line["part"], count] = line
        return found

    was, now = keyed(old), keyed(new)
    rows = []
    for key in dict.fromkeys([*was, *now]):
        left, right = was.get(key), now.get(key)
        if left and right and left["written"] == right["written"]:
            continue
        line = right or left
        assert line is not None
        rows.append(
            Row(
                line["use"],
                line["name"],
                left["written"] if left else "",
                right["written"] if right else "",
                left["grams"] if left else 0.0,
                right["grams"] if right else 0.0,
                why.get(line["use"], ""),
            )
        )
    return tuple(rows)


def _found(report: Review, section_id: str, figure_id: str) -> Figure | None:
    return next(
        (f for s in report.sections if s.id == section_id for f in s.figures if f.id == figure_id),
        None,
    )


def _unpriced(report: Review, workshop: Workshop | None) -> bool:
    """True when a line has no price, so that a sum of money is only a part of it."""
    return workshop is None or any(workshop.price_of(line["use"]) is None for line in report.composition)


def _beside(old: Review, new: Review, part_before: bool, part_after: bool) -> tuple[Beside, ...]:
    rows = []
    for section_id, figure_id, name in BESIDE:
        was, now = _found(old, section_id, figure_id), _found(new, section_id, figure_id)
        if was is None and now is None:
            continue
        before, after = (_number(f) for f in (was, now))
        texts = [with_unit(f.value, f.unit) if f else "none" for f in (was, now)]
        same = _same(figure_id, before, after)
        if section_id == "cost":
            partial = (part_before, part_after)
            texts = [f"at least {text}" if is_part else text for text, is_part in zip(texts, partial, strict=True)]
            same = same and not any(partial)
        rows.append(Beside(f"{section_id}.{figure_id}", name, before, after, texts[0], texts[1], same))
    near = (_nearest(old), _nearest(new))
    if any(near):
        before, after = (f.share_of_limit if f else None for f in near)
        said = [
            f"{with_unit(100 * (f.share_of_limit or 0.0), '%')} ({f.text.partition(':')[0]})" if f else "none"
            for f in near
        ]
        same = _same("", before, after)
        rows.append(Beside("skin.limit", "nearest limit, share of it", before, after, said[0], said[1], same))
    return tuple(rows)


def _number(figure: Figure | None) -> float | None:
    return float(figure.value) if figure and not isinstance(figure.value, str) else None


def _nearest(report: Review) -> Figure | None:
    """The limit a typical level comes nearest to."""
    limits = [f for s in report.sections for f in s.figures if f.id.startswith("limit.") and f.share_of_limit]
    return max(limits, key=lambda f: f.share_of_limit or 0.0, default=None)


def _same(figure_id: str, before: float | None, after: float | None) -> bool:
    if before is None or after is None:
        return before is after
    if figure_id.startswith("ph_"):
        return abs(after - before) <= KEPT_PH
    return abs(after - before) <= KEPT_SHARE * max(abs(before), abs(after))


def _label(report: Review, catalogue: Catalogue) -> set[str]:
    """What a label names: every line by its label name, and each allergen that passes its threshold."""
    names = set()
    for line in report.composition:
        entry = catalogue.materials.get(line["use"]) or catalogue.oils.get(line["use"])
        names.add((entry.inci if entry else "") or line["name"])
    for section in report.sections:
        for figure in section.figures:
            if figure.id.startswith("allergen.") and (figure.share_of_limit or 0.0) > 1:
                label = next(a.label_name for a in catalogue.allergens if f"allergen.{a.id}" == figure.id)
                names.add(label)
    return names


def _new_to_mind(old: Review, new: Review) -> tuple[str, ...]:
    """Cautions the change brings; one about the same figure or line as before is no new one."""
    known = {(s, n.figure, n.line) for s, n in old.notices if n.level != "good" and (n.figure or n.line)}
    known_texts = {n.text for _, n in old.notices}
    return tuple(
        n.text
        for s, n in new.notices
        if n.level == "mind" and not n.standing and n.text not in known_texts and (s, n.figure, n.line) not in known
    )


def label_words(changed: Changed) -> str:
    """What becomes of the label, in a sentence; empty when it stays."""
    said = []
    if changed.label_gone:
        said.append(f"no longer names {listed(changed.label_gone)}")
    if changed.label_new:
        said.append(f"newly names {listed(changed.label_new)}")
    return f"The label {' and '.join(said)}." if said else ""
