"""A recipe rounded to the spoons a kitchen really has: the fewest scoops inside a stated error and a stated chance."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import asdict, dataclass, replace
from typing import Any

import numpy as np

from fizzwright.catalogue import Catalogue
from fizzwright.catalogue.model import Material
from fizzwright.catalogue.workshop import Workshop
from fizzwright.plan.drawer import FULL_SET, Drawer, Pile, amount_text, nearest, piles, read_drawer
from fizzwright.plan.holding import Holding, drawn, hold, limit_text, percent
from fizzwright.plan.piling import Choice, pick
from fizzwright.plan.spoons import DROPS_AT_MOST, WITHIN_PCT, drops_of, weighed
from fizzwright.recipe import measures
from fizzwright.recipe.amounts import WEIGHED
from fizzwright.recipe.document import read_text
from fizzwright.recipe.mix import Mix, MixLine
from fizzwright.recipe.tidy import with_amounts
from fizzwright.recipe.weigh import weigh
from fizzwright.refusal import Refusal
from fizzwright.review import review
from fizzwright.review.chemistry import acid_to_base_eq, reagent_of
from fizzwright.review.kitchens import draw
from fizzwright.review.sizes import piece
from fizzwright.wording import listed, sentence, shown

CHANCE = 0.99
LEAST_PCT, MOST_PCT = 0.1, 25.0
LEAST_CHANCE, MOST_CHANCE = 0.5, 0.9999
"""A chance below one half would let the recipe as written pass a limit; above, the draws cannot tell."""
SCOOPS_AT_MOST = 60
"""Scoops for one line: beyond these nobody counts right, as with drops."""
DRAWS = 2**12
HABIT = "levelled"
AS_WRITTEN = ("spray", "pinch", "to_consistency")
"""Counted or added by feel: no spoon does it better."""
WELL_UNDER = 1e-6
EXACT_PCT = 0.05
"""No kitchen tells a smaller error from none."""


@dataclass(frozen=True, slots=True)
class Row:
    """One line, by spoon and by scale."""

    use: str
    name: str
    before: str
    """The amount as written."""
    amount: str
    """The amount in the rounded document."""
    by_spoon: str
    """"1 cup + 2 tbsp" or "7 drops"; empty when no spoon of the drawer does it."""
    by_scale: str
    wanted_g: float
    got_g: float
    error_pct: float
    """What the rounding does, percent of what was wanted."""
    scatter_pct: float
    """How far such a measuring strays by itself from kitchen to kitchen, one standard deviation, percent."""
    scoops: int
    """Scoops and drops; 0 for what is sprayed, pinched, added by feel or weighed."""
    said: str = ""
    """What there is to know about this line, in a sentence."""


@dataclass(frozen=True, slots=True)
class Rounded:
    """A recipe document in real spoons, with what that costs."""

    text: str
    summary: str
    rows: tuple[Row, ...]
    drawer: str
    scoops: int
    within_pct: float
    worst_error_pct: float
    """The largest error of a line, as a size."""
    acid_to_base_before: float | None
    acid_to_base_after: float | None
    """Equivalents; None without a base."""
    acid_to_base_low: float | None
    acid_to_base_high: float | None
    """What nine in ten kitchens with levelled spoons get."""
    chance_wanted: float
    chance: float
    """Share of kitchens with levelled spoons that pass no limit that stops."""
    over: str
    """Figure of the limit passed most often; empty when none is."""
    over_chance: float
    notes: tuple[str, ...] = ()

    @property
    def sentences(self) -> tuple[str, ...]:
        """What became of acid against base, and how many kitchens stay inside every limit."""
        said = []
        if self.acid_to_base_after is not None:
            said.append(
                f"Acid to base is {self.acid_to_base_after:.2f} (as written {self.acid_to_base_before:.2f}); nine in ten "
                f"kitchens with levelled spoons get {self.acid_to_base_low:.2f} to {self.acid_to_base_high:.2f}."
            )
        said.append(
            f"Of kitchens with levelled spoons {drawn(self.chance)} stay inside every published limit compared; asked was "
            f"{percent(self.chance_wanted)}."
        )
        return tuple(said)

    def as_dict(self) -> dict[str, Any]:
        """For --json."""
        return {"fizzwright": 1, **asdict(self)}


@dataclass(frozen=True, slots=True)
class _Way:
    """One way to measure a line, on its way to a choice."""

    amount: str
    by_spoon: str
    grams: float
    scoops: int
    drops: int | None = None


@dataclass(frozen=True, slots=True)
class _Ways:
    """A line with the ways that may measure it; a single one where there is no choice."""

    line: MixLine
    ways: tuple[_Way, ...]
    said: str = ""


def round_to_spoons(
    mix: Mix,
    catalogue: Catalogue,
    workshop: Workshop | None = None,
    *,
    spoons: tuple[str, ...] = (),
    within_pct: float = WITHIN_PCT,
    chance: float = CHANCE,
) -> Rounded:
    """Round a weighed recipe to the spoons named: the workshop's when none are, else a full set.

    Each line keeps within `within_pct` where the drawer can, and so does acid against base; in `chance` of all kitchens
    with levelled spoons the piece passes no limit that stops, if need be with fewer drops. Refusal when it cannot be.
    """
    _check(within_pct, chance)
    names, where = spoons or (workshop.spoons if workshop else ()), "spoons" if spoons else "workshop.toml, spoons"
    drawer = read_drawer(names or FULL_SET, mix.recipe.measures, catalogue, where)
    lines = [_ways(line, drawer, catalogue, workshop, within_pct) for line in mix.lines]
    by_scale = [line for line in lines if line.ways[0].by_spoon == ""]
    if by_scale and all(way.drops or not way.scoops for line in lines for way in line.ways):
        raise Refusal(
            f"spoons: read {drawer.words}. None of them measures any line of this recipe within {within_pct:g} %. "
            + " ".join(dict.fromkeys(line.said for line in by_scale))
        )
    taken = _taken(mix, lines, within_pct)
    counts = {row: way.drops for row, way in enumerate(taken) if way.drops is not None}
    wanted = {row: drops_of(mix.lines[row], catalogue) for row in counts}
    text = with_amounts(mix.recipe.text, {row: way.amount for row, way in enumerate(taken) if way.amount})
    held = hold(text, mix, catalogue, counts, wanted, chance=chance, habit=HABIT)
    for row, drops in held.drops.items():
        taken[row] = _drop_way(mix.lines[row], drops, catalogue)
    return _told(mix, catalogue, workshop, drawer, lines, taken, counts, held, within_pct, chance)


def _check(within_pct: float, chance: float) -> None:
    if not LEAST_PCT <= within_pct <= MOST_PCT:
        raise Refusal(
            f"within: read {within_pct:g}. Allowed: {LEAST_PCT:g} to {MOST_PCT:g} percent; {WITHIN_PCT:g} is usual."
        )
    if not LEAST_CHANCE <= chance <= MOST_CHANCE:
        raise Refusal(
            f"chance: read {chance:g}, {percent(chance)} of kitchens. Allowed: {percent(LEAST_CHANCE)} to {percent(MOST_CHANCE)} "
            f"({LEAST_CHANCE:g} to {MOST_CHANCE:g} as a share; {CHANCE:g} means 99 of 100 kitchens)."
        )


def _ways(line: MixLine, drawer: Drawer, catalogue: Catalogue, workshop: Workshop | None, within_pct: float) -> _Ways:
    """What may measure a line: piles within the error, else the nearest drops, else the scale."""
    amount = line.line.amount
    material = line.material
    if amount.unit in AS_WRITTEN or (material is not None and amount.unit == "drop"):
        return _Ways(line, (_Way("", amount.text, line.grams, 0),))
    density, said = _density(line)
    volume = line.grams / density
    if material is None and (drops := drops_of(line, catalogue)) <= DROPS_AT_MOST:
        return _dropped(line, drops, catalogue, workshop, within_pct)
    habit = amount.habit if material is not None and not measures.is_poured(material) else None
    edge = within_pct / 100.0
    fit = [p for p in piles(volume * (1 - edge), volume * (1 + edge), drawer) if p.scoops <= SCOOPS_AT_MOST]
    if fit:
        return _Ways(
            line,
            tuple(
                _Way(amount_text(p, drawer, catalogue, habit), p.text(drawer), p.volume_ml * density, p.scoops)
                for p in fit
            ),
            said,
        )
    return _by_scale(line, drawer, nearest(volume, drawer), volume, workshop, within_pct)


def _density(line: MixLine) -> tuple[float, str]:
    """Grams a millilitre as this line is measured, with a sentence when it had to be assumed."""
    if line.density_g_ml and not line.is_oil:
        return line.density_g_ml, ""
    known = measures.density(line.entry, line.line.amount.habit)
    return known.g_ml, known.said


def _drop_way(line: MixLine, drops: int, catalogue: Catalogue) -> _Way:
    grams = drops * line.grams / drops_of(line, catalogue)
    text = f"{drops} drop{'' if drops == 1 else 's'}"
    return _Way(text, text, grams, drops, drops)


def _dropped(line: MixLine, drops: float, catalogue: Catalogue, workshop: Workshop | None, within_pct: float) -> _Ways:
    # the nearest count, never the fewest: a drop less saves no work worth another recipe
    near = round(drops)
    if near == 0:
        why = f"that is {shown(drops)} of a drop, and one drop would be {signed_pct(100 / drops - 100)}"
        return _on_scale(line, f"no count of drops gives {{}}; {why}.", workshop, within_pct)
    way = _drop_way(line, near, catalogue)
    if abs(near - drops) <= drops * within_pct / 100.0 + WELL_UNDER:
        return _Ways(line, (way,))
    said = (
        f"{sentence(line.name)}: {way.amount} for {shown(drops)}: a drop cannot be halved, so this is "
        f"{signed_pct(near / drops * 100 - 100)}, the nearest there is."
    )
    return _Ways(line, (way,), said)


def signed_pct(pct: float) -> str:
    """An error in whole percent: +10 %."""
    return f"{pct:+.0f} %".replace("-", "\u2212")


def _by_scale(
    line: MixLine, drawer: Drawer, near: Pile, volume_ml: float, workshop: Workshop | None, within_pct: float
) -> _Ways:
    """A line the drawer cannot measure: what is nearest, and what spoon would do."""
    if near.scoops > SCOOPS_AT_MOST:
        why = f"{near.text(drawer)} is more than anyone counts right"
    else:
        why = f"the nearest is {near.text(drawer)}, {signed_pct(near.volume_ml / volume_ml * 100 - 100)}"
    said = f"no spoon of these comes within {within_pct:g} % of {{}}; {why}."
    return _on_scale(line, said, workshop, within_pct, f", or a measure of {shown(volume_ml)} ml")


def _on_scale(line: MixLine, said: str, workshop: Workshop | None, within_pct: float, also: str = "") -> _Ways:
    """A line left to the scale; {} in what is said stands for its weight, and `also` for what else would do."""
    scale = weighed(line.grams, workshop)
    weight = f"{scale.grams_got:.{scale.decimals}f} g"
    is_weighed = line.line.amount.unit in WEIGHED
    way = _Way("", "", line.grams, 0) if is_weighed else _Way(weight, "", scale.grams_got, 0)
    does = f"A scale does it{also}."
    if abs(scale.error_pct) > within_pct:
        does = f"A scale shows {weight} at the nearest, {signed_pct(scale.error_pct)}: a larger batch can be measured."
        weight = f"{shown(line.grams)} g"
    return _Ways(line, (way,), f"{sentence(line.name)}: {said.format(weight)} {does}")


def _taken(mix: Mix, lines: list[_Ways], within_pct: float) -> list[_Way]:
    """One way a line: the fewest scoops that also keep acid against base."""
    ratio = float(acid_to_base_eq(mix.grams, mix))
    choices = [[_choice(line.line, way) for way in line.ways] for line in lines]
    wanted = ratio if np.isfinite(ratio) and ratio > 0 else None
    picked = pick(choices, wanted, within_pct)
    if picked.strays_pct > 0:
        raise Refusal(
            f"spoons: each line comes within {within_pct:g} %, but acid against base strays {within_pct + picked.strays_pct:.1f} % "
            f"at the least. Allow that much (--within {np.ceil(within_pct + picked.strays_pct):.0f}), or add a smaller spoon."
        )
    return [line.ways[i] for line, i in zip(lines, picked.choices, strict=True)]


def _choice(line: MixLine, way: _Way) -> Choice:
    acid = base = 0.0
    material: Material | None = line.material
    reagent = reagent_of(material) if material is not None else None
    if material is not None and reagent is not None and material.molar_mass_g_mol:
        acid = way.grams / material.molar_mass_g_mol * reagent.acid_eq
        base = way.grams / material.molar_mass_g_mol * reagent.base_eq
    return Choice(way.scoops, _error_pct(way.grams, line.grams), acid, base)


def _error_pct(got_g: float, wanted_g: float) -> float:
    """What is added to a dry mass of nothing, to consistency, is none and stays none."""
    return (got_g / wanted_g - 1.0) * 100.0 if wanted_g > 0 else 0.0


def _told(
    mix: Mix,
    catalogue: Catalogue,
    workshop: Workshop | None,
    drawer: Drawer,
    lines: list[_Ways],
    taken: list[_Way],
    first: Mapping[int, int],
    held: Holding,
    within_pct: float,
    chance: float,
) -> Rounded:
    """The rounded document weighed and reviewed as any other, and told line by line."""
    recipe = read_text(held.text, catalogue, mix.recipe.file)
    made = weigh(recipe, catalogue, as_of=mix.as_of, lot_analyses=mix.lot_analyses)
    rows = []
    for row, (before, after, way) in enumerate(zip(mix.lines, made.lines, taken, strict=True)):
        scale = weighed(after.grams, workshop)
        said = lines[row].said
        if row in held.drops:
            off = _error_pct(after.grams, before.grams)
            outside = f", outside the {within_pct:g} % asked" if abs(off) > within_pct else ""
            said = (
                f"{sentence(before.name)}: {way.by_spoon}, not {first[row]}: the largest count that stays inside every "
                f"limit in {percent(chance)} of kitchens. That is {signed_pct(off)}{outside}."
            )
        rows.append(
            Row(
                use=before.id,
                name=before.name,
                before=before.line.amount.text,
                amount=after.line.amount.text,
                by_spoon=way.by_spoon,
                by_scale=f"{scale.grams_got:.{scale.decimals}f} g" if after.grams > 0 else "",
                wanted_g=before.grams,
                got_g=after.grams,
                error_pct=_error_pct(after.grams, before.grams),
                scatter_pct=after.spread_pct,
                scoops=way.scoops,
                said=said,
            )
        )
    scoops = sum(row.scoops for row in rows)
    ratios = [float(acid_to_base_eq(m.grams, m)) for m in (mix, made)]
    before_eq, after_eq = (ratio if np.isfinite(ratio) else None for ratio in ratios)
    low = high = None
    if after_eq is not None:
        kitchens = draw(made, catalogue, count=DRAWS, habit=HABIT)
        low, high = (float(q) for q in np.quantile(acid_to_base_eq(kitchens.mix.draws_g, made), (0.05, 0.95)))
    worst = max(abs(row.error_pct) for row in rows)
    by_scale = [row.name for row in rows if not row.by_spoon]
    summary = f"{recipe.name} in {scoops} {'scoop or drop' if scoops == 1 else 'scoops and drops'}"
    if by_scale:
        summary += f", with {listed(by_scale)} on the scale"
    return Rounded(
        text=held.text,
        summary=summary,
        rows=tuple(rows),
        drawer=drawer.words,
        scoops=scoops,
        within_pct=within_pct,
        worst_error_pct=worst,
        acid_to_base_before=before_eq,
        acid_to_base_after=after_eq,
        acid_to_base_low=low,
        acid_to_base_high=high,
        chance_wanted=chance,
        chance=held.inside.chance,
        over=held.inside.worst,
        over_chance=held.inside.over.get(held.inside.worst, 0.0),
        notes=_notes(mix, made, catalogue, workshop, rows, held),
    )


def _notes(
    mix: Mix, made: Mix, catalogue: Catalogue, workshop: Workshop | None, rows: list[Row], held: Holding
) -> tuple[str, ...]:
    notes = [row.said for row in rows if row.said]
    scattered = [row.scatter_pct for row in rows if row.scoops and row.by_spoon]
    if scattered:
        off = max(abs(row.error_pct) for row in rows)
        costs = f"The rounding is off by {off:.1f} % at the most" if off >= EXACT_PCT else "The rounding costs nothing"
        notes.append(
            f"{costs}; measuring strays by itself, up to {max(scattered):.0f} % (one standard deviation). A scale ends that."
        )
    unbound = [replace(m, recipe=replace(m.recipe, makes=replace(m.recipe.makes, count=None))) for m in (mix, made)]
    before, after = (piece(m, catalogue) for m in unbound)
    if not after.is_powder and after.pieces < min(before.pieces, mix.recipe.makes.count or before.pieces):
        notes.append(f"This fills {after.pieces} moulds; as written it filled {before.pieces}.")
    report = review(made.recipe, catalogue, workshop, as_of=mix.as_of)
    if held.inside.worst:
        chance = drawn(held.inside.over[held.inside.worst])
        notes.append(f"The limit passed most often, in {chance} of kitchens: {limit_text(report, held.inside.worst)}")
    if report.verdict == "stop":
        notes.append("Stop: the review of this recipe stops it as it is written. Read it before you make any.")
    return tuple(dict.fromkeys(notes))
