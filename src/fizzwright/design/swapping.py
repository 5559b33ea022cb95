"""Exchanging one thing of a recipe for another: what the old one was for is kept, the rest is told.

An acid is kept by its equivalents, a base by its own, a binder by what it binds, a colour and a preservative by where it
stands in its usual share, scent and everything else by its mass.
"""

from __future__ import annotations

from collections.abc import Collection, Iterable, Mapping, Sequence
from dataclasses import dataclass

import numpy as np

from fizzwright.catalogue import Catalogue
from fizzwright.catalogue.model import Constituent, Material, Oil, Usable
from fizzwright.catalogue.workshop import Workshop
from fizzwright.design import groups
from fizzwright.design.changed import Changed, compare
from fizzwright.design.writing import Want, written
from fizzwright.recipe.document import read_text
from fizzwright.recipe.mix import Mix, MixLine
from fizzwright.recipe.model import Recipe
from fizzwright.recipe.weigh import weigh
from fizzwright.refusal import Refusal
from fizzwright.review import review, review_mix
from fizzwright.review.chemistry import reagent_of
from fizzwright.review.room import usual_room
from fizzwright.review.wetting import wetting
from fizzwright.wording import listed, mass_text, sentence, shown

SCENT = "scent"
KINDS: dict[str, str] = {
    "acid": "acid",
    "base": "base",
    "filler": "bulk",
    "salt": "bulk",
    "botanical": "bulk",
    "desiccant": "bulk",
    "carrier_oil": "fat",
    "solid_fat": "fat",
    "binder_liquid": "binder",
    "humectant": "humectant",
    "solubiliser": "disperser",
    "emulsifier": "disperser",
    "surfactant": "foam",
    "hardener": "hardener",
    "thickener": "thickener",
    "preservative": "preservative",
    "colourant": "colour",
}
"""What a function does in the piece; only things of one kind can stand in for each other."""
BY_USUAL_SHARE = ("colour", "preservative", "thickener")
"""Kinds whose strength differs so much from one to the next that mass says nothing."""
SOLUBLE_G_100ML = 5.0
"""estimate: an acid that dissolves less than this in a decilitre is slow to fizz in a bath (common practice, no source)."""
WORTH_OF_STOCK = 2.0
"""Our own choice: what is on the shelf may be two clear differences further from the old one than what has to be bought."""
TRIED = 6
"""Candidates that are reviewed in full before one is chosen."""


@dataclass(frozen=True, slots=True)
class Measure:
    """How much of the new thing does the work of the old one, and what that was reckoned by."""

    grams: float
    kept: str


@dataclass(frozen=True, slots=True)
class Candidate:
    """Something that could stand in, and how well."""

    material: Material
    grams: float
    kept: str
    on_hand_g: float | None
    enough: bool
    """True when the workshop holds what is needed."""
    ask: str
    """What to ask about it, when the catalogue cannot tell that it is none of what is to be left out."""
    distance: float
    """How unlike the old one it is."""

    @property
    def rank(self) -> float:
        """Small for what is like the old one, on the shelf, and nothing to ask about."""
        return self.distance - (WORTH_OF_STOCK if self.enough else 0.0) + (1.0 if self.ask else 0.0)


def kind_of(entry: Usable) -> str:
    """What a thing does in a piece."""
    return SCENT if isinstance(entry, Oil | Constituent) else KINDS.get(entry.function, entry.function)


def swap(recipe: Recipe, catalogue: Catalogue, workshop: Workshop | None, old: str, new: str | None = None) -> Changed:
    """The recipe with `new` doing the work of `old`; the nearest of its kind, stock first, when no new one is named.

    Refusal when the recipe does not hold the old one, when the new one is unknown, or when it cannot do the same work.
    """
    mix = weigh(recipe, catalogue, lot_analyses=workshop.lot_analyses if workshop else None)
    places = [i for i, m in enumerate(mix.lines) if m.id == old]
    if not places:
        holds = ", ".join(dict.fromkeys(m.id for m in mix.lines))
        raise Refusal(f"read {old!r}: this recipe does not hold it. It holds {holds}.")
    if new is None:
        if kind_of(mix.lines[places[0]].entry) == SCENT:
            raise Refusal(f"{old} is a scent: name the oil to put in its place, or match the scent (--match stock).")
        return _replaced(mix, catalogue, workshop, {old: ""}, {}, {}, f"without {mix.lines[places[0]].name}")
    entry = catalogue.usable(new)
    if entry is None:
        near = ", ".join(catalogue.nearest(new))
        raise Refusal(f"read {new!r}: nothing in the catalogue is called that. Nearest: {near}.")
    if new == old:
        raise Refusal(f"read {old!r} twice: name two different things.")
    wants: list[Want] = []
    why: dict[str, str] = {}
    notes: list[str] = []
    for place in places:
        line = mix.lines[place]
        measure = stand_in(mix, line, entry, catalogue, workshop)
        wants.append(Want(place, new, measure.grams))
        why[new] = measure.kept
        notes.append(f"{sentence(entry.name)} for {line.name}: {measure.kept}.")
    notes += _about(mix.lines[places[0]].entry, entry, sum(w.grams for w in wants), workshop)
    summary = f"{recipe.name} with {entry.name} for {mix.lines[places[0]].name}"
    return _told(mix, catalogue, workshop, wants, summary, why, notes)


def without(recipe: Recipe, catalogue: Catalogue, workshop: Workshop | None, word: str) -> Changed:
    """The recipe without anything of a group: each is replaced by its kind, from the workshop's stock first.

    What the catalogue cannot tell stays, with what to ask the supplier. Refusal when there is no such group, or when
    nothing in the catalogue can take over.
    """
    group = groups.name_of(word)
    mix = weigh(recipe, catalogue, lot_analyses=workshop.lot_analyses if workshop else None)
    members, asked = groups.members(group, catalogue), groups.to_ask(group, catalogue)
    inside = {m.id: members[m.id] for m in mix.lines if m.id in members}
    questions = tuple(dict.fromkeys(f"{m.name}: {asked[m.id]}." for m in mix.lines if m.id in asked))
    what = f"with {groups.GROUPS[group]}"
    if not inside:
        summary = f"Nothing to replace in {recipe.name}: {groups.GROUPS[group]}"
        return compare(recipe, recipe.text, catalogue, workshop, summary, notes=questions)
    return _replaced(mix, catalogue, workshop, inside, members, asked, what, questions)


def _replaced(
    mix: Mix,
    catalogue: Catalogue,
    workshop: Workshop | None,
    inside: Mapping[str, str],
    barred: Mapping[str, str],
    asked: Mapping[str, str],
    what: str,
    questions: tuple[str, ...] = (),
) -> Changed:
    """Each of these uses replaced by the best of its kind that is none of those barred."""
    wants: list[Want] = []
    why: dict[str, str] = {}
    notes: list[str] = []
    for use, reason in inside.items():
        places = [i for i, m in enumerate(mix.lines) if m.id == use]
        line = mix.lines[places[0]]
        found = candidates(mix, line, catalogue, workshop, {*barred, *inside}, asked)
        best = _best(mix, places, found, catalogue, workshop)
        if best is None:
            raise Refusal(
                f"{sentence(line.name)}: nothing in the catalogue does its work and is none of what is to be left out. "
                f"Take the line out, or name one yourself: swap FILE {use} NEW."
            )
        wants += [
            Want(place, best.material.id, stand_in(mix, mix.lines[place], best.material, catalogue, workshop).grams)
            for place in places
        ]
        why[best.material.id] = best.kept
        because = f" ({reason[:1].lower()}{reason[1:]})" if reason else ""
        notes.append(f"{sentence(line.name)}{because} makes way for {best.material.name}: {best.kept}.")
        notes.append(_chosen(best, [c for c in found if c.material.id != best.material.id], line))
        notes += _about(line.entry, best.material, best.grams, workshop, with_stock=False)
        if best.ask:
            notes.append(f"{sentence(best.material.name)}: {best.ask}.")
    return _told(mix, catalogue, workshop, wants, f"{mix.recipe.name} {what}", why, [*notes, *questions])


def _told(
    mix: Mix,
    catalogue: Catalogue,
    workshop: Workshop | None,
    wants: Sequence[Want],
    summary: str,
    why: Mapping[str, str],
    notes: Iterable[str],
) -> Changed:
    text = written(mix, catalogue, wants, workshop)
    return compare(mix.recipe, text, catalogue, workshop, summary, why=why, notes=tuple(dict.fromkeys(notes)))


def stand_in(mix: Mix, line: MixLine, new: Usable, catalogue: Catalogue, workshop: Workshop | None) -> Measure:
    """How much of `new` does the work of a line; Refusal when it cannot do that work."""
    kind = kind_of(line.entry)
    if kind_of(new) != kind:
        same = [m.id for m in catalogue.materials.values() if kind_of(m) == kind and m.id != line.id][:12]
        others = f" Of its kind are: {', '.join(same)}." if same else ""
        raise Refusal(f"{new.id} is {_a(kind_of(new))}; it cannot do the work of {line.id}, {_a(kind)}.{others}")
    old = line.entry
    if isinstance(old, Material) and isinstance(new, Material):
        if kind in ("acid", "base"):
            return _by_equivalents(line.grams, old, new, kind)
        if kind == "binder":
            return _by_binding(mix, line.grams, old, new, catalogue, workshop)
        if kind in BY_USUAL_SHARE and old.typical_use_pct_max and new.typical_use_pct_max:
            ratio = new.typical_use_pct_max / old.typical_use_pct_max
            return Measure(line.grams * ratio, "as far up its usual share as the old one stood (common practice)")
    return Measure(line.grams, "the same mass")


def _a(kind: str) -> str:
    words = {"bulk": "a filler or salt", "fat": "an oil or fat", "foam": "a foaming agent", SCENT: "a scent"}
    return words.get(kind, f"a{'n' if kind[0] in 'aeiou' else ''} {kind}")


def _by_equivalents(grams: float, old: Material, new: Material, kind: str) -> Measure:
    """The same equivalents: grams over the molar mass of one equivalent."""
    masses = []
    for material in (old, new):
        reagent = reagent_of(material)
        equivalents = (reagent.acid_eq if kind == "acid" else reagent.base_eq) if reagent else 0
        if not equivalents or not material.molar_mass_g_mol:
            raise Refusal(
                f"{material.id}: the catalogue cannot tell how much {kind} a gram of it is, so that nothing can be reckoned "
                "against it. Choose another, or add molar mass and equivalents to the workshop's materials.csv."
            )
        masses.append(material.molar_mass_g_mol / equivalents)
    return Measure(
        grams * masses[1] / masses[0],
        f"the same {kind} equivalents ({masses[0]:.2f} g of the old and {masses[1]:.2f} g of the new make one)",
    )


def _by_binding(
    mix: Mix, grams: float, old: Material, new: Material, catalogue: Catalogue, workshop: Workshop | None
) -> Measure:
    """What binds as much at the first squeeze: alcohol has partly gone by then."""
    wet = wetting(mix, catalogue, usual_room(workshop, catalogue))
    if wet is None:
        return Measure(grams, "the same mass, as no powder is in it to bind")
    wet = wet.likely()
    minutes = wet.minutes_to_test
    still_ml = wet.binder(old).left_ml(grams, minutes)
    needed = wet.binder(new).put_in_g(np.array([still_ml]), minutes)
    return Measure(
        float(needed[0]), f"it binds as much at the first squeeze, after {minutes:.0f} minutes (an estimate)"
    )


def candidates(
    mix: Mix,
    line: MixLine,
    catalogue: Catalogue,
    workshop: Workshop | None,
    barred: Collection[str],
    asked: Mapping[str, str] | None = None,
) -> list[Candidate]:
    """Materials that can do the work of a line, best first: those in stock, then the nearest in nature."""
    found = []
    old = line.entry
    if not isinstance(old, Material):
        return []
    for material in catalogue.materials.values():
        if material.id in barred or material.id == old.id or kind_of(material) != kind_of(old):
            continue
        if "banned" in material.label_note.lower():
            continue
        try:
            measure = stand_in(mix, line, material, catalogue, workshop)
        except Refusal:
            continue
        on_hand = _on_hand_g(workshop, material.id)
        needed = sum(m.grams for m in mix.lines if m.id == line.id) / line.grams * measure.grams
        found.append(
            Candidate(
                material,
                needed,
                measure.kept,
                on_hand,
                on_hand is not None and on_hand >= needed + sum(m.grams for m in mix.lines if m.id == material.id),
                (asked or {}).get(material.id, ""),
                _distance(mix, old, material, needed, catalogue),
            )
        )
    return sorted(found, key=lambda c: (c.rank, c.material.id))


def _on_hand_g(workshop: Workshop | None, use: str) -> float | None:
    """Grams on hand in all lots; None when the workshop says nothing of it."""
    held = [p.on_hand_g for p in workshop.prices if p.use == use and p.on_hand_g is not None] if workshop else []
    return sum(held) if held else None


def _distance(mix: Mix, old: Material, new: Material, grams: float, catalogue: Catalogue) -> float:
    """How unlike two things of a kind are: our own sum of what a maker would feel, each about 1 for a clear difference."""
    gap = 0.0 if old.function == new.function else 1.0
    share = 100 * grams / float(mix.grams.sum())
    if new.typical_use_pct_max is not None:
        gap += 2.0 * max(0.0, share / max(new.typical_use_pct_max, 0.1) - 1.0)
    gap += 0.0 if old.water_solubility_class == new.water_solubility_class else 1.0
    gap += max(0.0, new.water_mass_pct - old.water_mass_pct) / 20.0
    for before, after, step in (
        (old.melting_point_c, new.melting_point_c, 20.0 if kind_of(old) == "fat" else 0.0),
        (old.critical_relative_humidity_pct_25c, new.critical_relative_humidity_pct_25c, 10.0),
    ):
        if before is not None and after is not None and step:
            # drawing less water from the air than the old one is no fault
            gap += (abs(after - before) if step == 20.0 else max(0.0, before - after)) / step
    was, now = catalogue.dyes.get(old.id), catalogue.dyes.get(new.id)
    if kind_of(old) == "colour":
        if was is None or now is None or was.shape != now.shape:
            gap += 3.0
        elif was.peak_nm is not None and now.peak_nm is not None:
            gap += abs(was.peak_nm - now.peak_nm) / 25.0
    return gap


def _best(
    mix: Mix,
    places: Sequence[int],
    found: Sequence[Candidate],
    catalogue: Catalogue,
    workshop: Workshop | None,
) -> Candidate | None:
    """The first of the best whose recipe the review does not stop for something new; the first of all if each stops."""
    known = {n.text for _, n in review_mix(mix, catalogue, workshop).notices if n.level == "stop"}
    for candidate in found[:TRIED]:
        wants = [
            Want(p, candidate.material.id, stand_in(mix, mix.lines[p], candidate.material, catalogue, workshop).grams)
            for p in places
        ]
        after = read_text(written(mix, catalogue, wants, workshop), catalogue, mix.recipe.file)
        stops = {n.text for _, n in review(after, catalogue, workshop).notices if n.level == "stop"}
        if stops <= known:
            return candidate
    return found[0] if found else None


def _chosen(best: Candidate, others: Sequence[Candidate], line: MixLine) -> str:
    """Why that one, and what else there was."""
    if best.enough:
        held, needed = mass_text(best.on_hand_g or 0.0), mass_text(best.grams)
        why = f"{sentence(best.material.name)} is on hand: {held}, and it takes {needed}"
    else:
        on_shelf = [c for c in others if c.on_hand_g is not None]
        why = f"Of what the catalogue holds, {best.material.name} is nearest to {line.name}"
        if on_shelf:
            told = listed(
                f"{c.material.name} ({mass_text(c.on_hand_g or 0.0)} on hand, {mass_text(c.grams)} needed)"
                for c in on_shelf
            )
            why += f"; what the workshop holds is too little or too unlike it: {told}"
    more = [f"{c.material.name} ({mass_text(c.grams)})" for c in others[:3]]
    return f"{why}." + (f" Others of its kind: {listed(more, 'or')}." if more else "")


def _about(old: Usable, new: Usable, grams: float, workshop: Workshop | None, *, with_stock: bool = True) -> list[str]:
    """What a maker should know of the new thing that no figure tells."""
    notes = []
    if isinstance(new, Material) and isinstance(old, Material):
        dissolves = new.water_solubility_g_per_100ml_25c
        if new.function == "acid" and dissolves is not None and dissolves < SOLUBLE_G_100ML:
            notes.append(
                f"{sentence(new.name)} dissolves slowly ({shown(dissolves)} g in 100 ml at 25 °C), so the fizz is slow and some "
                "may lie on the floor of the tub."
            )
        if new.function == "base" and old.function == "base":
            notes += _gas(old, new)
        if new.melting_point_c is not None and old.melting_point_c is not None and new.function != old.function:
            if new.function == "carrier_oil" and old.function == "solid_fat":
                notes.append(f"{sentence(new.name)} stays liquid, so the piece sets softer.")
            elif new.function == "solid_fat" and old.function == "carrier_oil":
                notes.append(f"{sentence(new.name)} has to be melted first, at {new.melting_point_c:.0f} °C or more.")
        if new.hazards and new.hazards != old.hazards:
            notes.append(f"When handling {new.name}: {new.hazards}.")
    held = _on_hand_g(workshop, new.id)
    if with_stock and workshop is not None and (held is None or held < grams):
        have = "none is on the workshop's list" if held is None else f"{mass_text(held)} are on hand"
        notes.append(f"Of {new.name} {mass_text(grams)} are needed; {have}.")
    return notes


def _gas(old: Material, new: Material) -> list[str]:
    """Bases bring different gas with the same equivalents."""
    ratio = []
    for material in (old, new):
        reagent = reagent_of(material)
        ratio.append(reagent.carbonate / reagent.base_eq if reagent and reagent.base_eq else 0.0)
    if not ratio[0] or abs(ratio[1] / ratio[0] - 1) < 1e-9:
        return []
    return [
        f"With the same base equivalents {new.name} holds {100 * ratio[1] / ratio[0]:.0f} % of the gas that {old.name} held."
    ]
