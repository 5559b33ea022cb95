"""Weighing a recipe: every amount into grams, with an honest spread for how it was measured."""

from __future__ import annotations

import math
from collections.abc import Mapping
from dataclasses import dataclass
from datetime import date
from typing import TYPE_CHECKING

import numpy as np

from fizzwright.catalogue.model import LotAnalysis, Usable
from fizzwright.recipe import measures
from fizzwright.recipe.amounts import TO_CONSISTENCY, WEIGHED, format_amount
from fizzwright.recipe.mix import Mix, MixLine
from fizzwright.recipe.model import Line, Recipe
from fizzwright.recipe.mould import Inside, inside_of
from fizzwright.recipe.problems import RecipeRefused, line_problem
from fizzwright.science import measuring, sampling

if TYPE_CHECKING:
    from fizzwright.catalogue import Catalogue

DRAWS = 1024
PRESSED_G_ML = 1.0
"""Density of a pressed piece, for filling moulds by parts (estimate: 125 to 155 g in a 65 mm sphere is 0.87 to 1.08)."""
SCALES_G = ((20.0, 1.0), (1.0, 0.1), (0.0, 0.01))
"""From how many grams up which scale is taken to be used, by its step (estimate: fine things on a fine scale)."""
SCOOP = "var_scoop_powder_sd"
POUR = "var_pour_water_sd"
DROP = "drop_eo_suggest_sigma"
SCALE = "var_scale_kitchen"


@dataclass(slots=True)
class _Pan:
    """One line on its way to grams: either grams, or a share of something not yet known."""

    line: Line
    entry: Usable
    poured: bool
    grams: float = 0.0
    part_g: float = 0.0
    """Grams when one part is one cup; scaled with all other parts."""
    of_total: float = 0.0
    of_dry: float = 0.0
    volume_ml: float | None = None
    density_g_ml: float | None = None
    equation: str = ""
    spread: float = 0.0
    why: str = ""
    sources: tuple[str, ...] = ()
    basis: str = "exact"


def weigh(
    recipe: Recipe,
    catalogue: Catalogue,
    *,
    as_of: date | None = None,
    lot_analyses: Mapping[str, LotAnalysis] | None = None,
    draws: int = DRAWS,
    seed: int = 0,
) -> Mix:
    """The recipe in grams: most likely masses, and `draws` of what a maker really gets, the same for one seed.

    Cups and spoons go by volume and filling habit; % is a share of the whole mix; parts are parts by volume; "to
    consistency" is estimated from the dry mass. RecipeRefused when the amounts cannot all hold or the mould is unusable.
    """
    said: list[str] = []
    inside = inside_of(recipe, catalogue)
    pans = [_measured(recipe, line, catalogue, said) for line in recipe.lines]
    _share_out(recipe, pans, inside, said)
    for pan in pans:
        _weighing_spread(pan, catalogue)
    grams = np.array([pan.grams for pan in pans])
    spread = np.array([pan.spread for pan in pans])
    draws_g = grams * sampling.lognormal_factors(spread, sampling.standard_normals(draws, len(pans), seed))
    if recipe.makes.mould is None and recipe.kind != "powder":
        said.append("No mould is named, so pieces are not counted.")
    held = lot_analyses or {}
    lots = {line.lot: held[line.lot] for line in recipe.lines if line.lot is not None and line.lot in held}
    said.extend(
        f"No analysis of lot {line.lot} is held; the range of the species was taken for {line.use}."
        for line in recipe.lines
        if line.lot is not None and line.lot not in held and line.use in catalogue.oils
    )
    return Mix(
        recipe=recipe,
        as_of=as_of or recipe.made_on or date.today(),
        lines=tuple(_mix_line(pan) for pan in pans),
        grams=grams,
        draws_g=draws_g,
        mould=inside.mould if inside else None,
        mould_volume_ml=inside.volume_ml if inside else None,
        assumptions=tuple(dict.fromkeys(said)),
        lot_analyses=lots,
    )


def _measured(recipe: Recipe, line: Line, catalogue: Catalogue, said: list[str]) -> _Pan:
    """A line as far as it can be weighed by itself."""
    entry = catalogue.usable(line.use)
    if entry is None:
        raise KeyError(f"{line.use} is not in the catalogue this recipe is weighed with; read the recipe with it first")
    pan = _Pan(line, entry, measures.is_poured(entry))
    unit, number = line.amount.unit, line.amount.number
    if number is None:
        _to_consistency(pan, said)
    elif unit == "%":
        pan.of_total = float(number) / 100.0
        pan.why = "weighed as a share of the mix"
    elif unit in WEIGHED:
        _by_weight(pan, catalogue)
    else:
        _by_volume(pan, recipe, catalogue, said)
    return pan


def _to_consistency(pan: _Pan, said: list[str]) -> None:
    low, high = measures.consistency_range(pan.entry) or (0.0, 0.0)
    pan.of_dry = (low + high) / 200.0
    ratio = high / low if low > 0 else 10.0
    pan.spread = math.sqrt(math.expm1((math.log(ratio) / (2.0 * measuring.Z90)) ** 2))
    pan.why = "added by feel until the mix holds"
    pan.sources = pan.entry.sources_of("typical_use_pct_max")
    pan.basis = "estimate"
    said.append(
        f"{_capital(pan.entry.name)} to consistency was taken as {pan.of_dry * 100:.2g} % of the dry mass, "
        f"the middle of the usual {low:g} to {high:g} %."
    )


def _by_weight(pan: _Pan, catalogue: Catalogue) -> None:
    number = float(pan.line.amount.number or 0)
    unit = pan.line.amount.unit
    if unit in ("g", "kg"):
        each, pan.sources = (1.0 if unit == "g" else 1000.0), ()
    else:
        row = catalogue.measures[f"{unit}_weight"]
        each, pan.sources = _held(row.value_typ, row.id), row.sources_of("value_typ")
    pan.grams = number * each
    pan.equation = f"{format_amount(pan.line.amount)} as weighed"
    if unit != "g":
        pan.equation = f"{format_amount(pan.line.amount)} x {each:.6g} g"


def _by_volume(pan: _Pan, recipe: Recipe, catalogue: Catalogue, said: list[str]) -> None:
    amount = pan.line.amount
    number = float(amount.number or 0)
    weight = measures.density(pan.entry, amount.habit)
    if amount.unit == "drop":
        each = measures.drop_ml(pan.entry, catalogue)
        hand, why, row = _percent(catalogue, DROP), "drops differ from bottle to bottle", DROP
    elif amount.unit == "spray":
        each = measures.spray_ml(catalogue)
        hand, why, row = measures.SPRAY_SD, "sprays differ from head to head", ""
    else:
        each = measures.unit_ml("cup" if amount.unit == "part" else amount.unit, recipe.measures, catalogue)
        if not pan.poured:
            hand, why, row = _percent(catalogue, SCOOP), "no two scoops are filled alike", SCOOP
        elif amount.unit in ("tsp", "tbsp", "pinch"):
            hand, why, row = measures.SPOON_POUR_SD, "no two spoons are poured alike", "var_spoon_large"
        else:
            hand, why, row = _percent(catalogue, POUR), "poured to a line by eye", POUR
    said.extend(filter(None, (each.said, weight.said)))
    if amount.habit is not None and pan.poured:
        said.append(f'"{amount.habit}" says nothing of {pan.entry.name}, which is poured or melted; it was left aside.')
    pan.volume_ml = number * each.ml
    pan.density_g_ml = weight.g_ml
    mass = pan.volume_ml * weight.g_ml
    if amount.unit == "part":
        pan.part_g = mass
    else:
        pan.grams = mass
    how = f" ({amount.habit or 'spooned'})" if not pan.poured else ""
    pan.equation = f"{format_amount(amount)} x {each.ml:.4g} ml x {weight.g_ml:.3g} g/ml{how}"
    pan.spread = math.hypot(weight.sd_fraction, hand)
    pan.why = f"{why} ({hand * 100:.3g} %), and {weight.why} ({weight.sd_fraction * 100:.2g} %)"
    hand_sources = catalogue.measures[row].sources_of("value_typ") if row else ()
    pan.sources = tuple(dict.fromkeys((*each.sources, *weight.sources, *hand_sources)))
    pan.basis = "estimate" if "estimate" in (each.basis, weight.basis) else "published"


def _share_out(recipe: Recipe, pans: list[_Pan], inside: Inside | None, said: list[str]) -> None:
    """Grams for the lines that are shares: % of the whole mix, parts of a volume, to consistency of the dry mass.

    Linear in the total T and the size p of a part (1 = a cup): T = F + p G + P T + C D, D = F_d + p G_d + P_d T, with
    F, G, P, C the fixed, part, percent and consistency sums, and index d the dry lines only.
    """
    fixed, fixed_dry = _sums(pans, "grams")
    parts, parts_dry = _sums(pans, "part_g")
    share, share_dry = _sums(pans, "of_total")
    by_feel = sum(pan.of_dry for pan in pans)
    left = 1.0 - share - by_feel * share_dry
    size = 1.0
    wanted = _wanted_g(recipe, inside)
    if parts > 0 and wanted is not None:
        size = (wanted * left - fixed - by_feel * fixed_dry) / (parts + by_feel * parts_dry)
        if size <= 0:
            raise _refused(
                recipe,
                pans,
                "part",
                f"The lines by weight and measure already fill the moulds ({wanted:.0f} g), so no room is left for the "
                "parts. Make more pieces, or take less of the other lines.",
                "parts that still find room in mould and count",
            )
        said.append(
            f"The parts were scaled so that the mix fills {recipe.makes.count} moulds, pressed to {PRESSED_G_ML:g} "
            f"g/ml: {wanted:.0f} g in all (estimate)."
        )
    elif parts > 0:
        said.append("One part was taken as one cup, because no count of moulds says how much to make.")
    if fixed == 0 and parts == 0:
        total = wanted or 0.0  # the reader lets only-% recipes through with mould and count alone
        said.append(f"The % lines were scaled to fill {recipe.makes.count} moulds: {total:.0f} g in all (estimate).")
    elif left <= 1e-9:
        raise _refused(
            recipe,
            pans,
            "%",
            "The % lines and the binder leave nothing for the other lines.",
            "% lines that add to less",
        )
    else:
        total = (fixed + size * parts + by_feel * (fixed_dry + size * parts_dry)) / left
    dry = fixed_dry + size * parts_dry + share_dry * total
    for pan in pans:
        number = format_amount(pan.line.amount)
        if pan.part_g:
            pan.grams = size * pan.part_g
            pan.volume_ml = size * (pan.volume_ml or 0.0)
            if size != 1.0:
                pan.equation += f" x {size:.3g} to fill the moulds"
                pan.basis = "estimate"
        elif pan.of_total:
            pan.grams = pan.of_total * total
            pan.equation = f"{number} x {_rounded(total)} g of mix"
            pan.basis = "exact" if all(p.basis == "exact" for p in pans) and fixed > 0 else "estimate"
        elif pan.line.amount.unit == TO_CONSISTENCY:
            pan.grams = pan.of_dry * dry
            pan.equation = f"{pan.of_dry * 100:.3g} % x {_rounded(dry)} g dry mass"


def _sums(pans: list[_Pan], name: str) -> tuple[float, float]:
    """The sum of one field over all lines, and over the dry ones."""
    values = [(float(getattr(pan, name)), pan.poured) for pan in pans]
    return sum(value for value, _ in values), sum(value for value, poured in values if not poured)


def _wanted_g(recipe: Recipe, inside: Inside | None) -> float | None:
    """The mass that fills the moulds asked for; None when no count is given."""
    if inside is None or recipe.makes.count is None:
        return None
    piece_g = inside.mould.piece_g_typ if inside.volume_ml is None else inside.volume_ml * PRESSED_G_ML
    return None if piece_g is None else recipe.makes.count * piece_g


def _weighing_spread(pan: _Pan, catalogue: Catalogue) -> None:
    """The spread of what goes over a scale, now that its mass is known."""
    if pan.line.amount.unit not in (*WEIGHED, "%") or pan.grams <= 0:
        return
    row = catalogue.measures[SCALE]
    step = next(step for least, step in SCALES_G if pan.grams >= least)
    sd_g = _held(row.value_typ, row.id) * step
    pan.spread = sd_g / pan.grams
    pan.why = f"weighed on a scale of {step:g} g steps, good to {sd_g:.2g} g"
    pan.sources = tuple(dict.fromkeys((*pan.sources, *row.sources_of("value_typ"))))


def _mix_line(pan: _Pan) -> MixLine:
    low, high = measuring.interval_g(pan.grams, pan.spread)
    return MixLine(
        line=pan.line,
        entry=pan.entry,
        grams=pan.grams,
        grams_low=low,
        grams_high=high,
        volume_ml=pan.volume_ml,
        density_g_ml=pan.density_g_ml,
        equation=f"{pan.equation} = {_rounded(pan.grams)} g",
        spread_pct=pan.spread * 100.0,
        spread_why=pan.why,
        sources=pan.sources,
        basis=pan.basis,
    )


def _percent(catalogue: Catalogue, row_id: str) -> float:
    return _held(catalogue.measures[row_id].value_typ, row_id) / 100.0


def _held(value: float | None, row_id: str) -> float:
    if value is None:
        raise ValueError(f"measures.csv, row {row_id}: value_typ is empty; weighing needs it")
    return value


def _rounded(grams: float) -> str:
    """Grams as a maker writes them: three figures, never with an exponent."""
    places = max(0, 2 - math.floor(math.log10(grams))) if grams > 0 else 0
    return f"{grams:.{min(places, 9)}f}"


def _capital(text: str) -> str:
    return text[:1].upper() + text[1:]


def _refused(recipe: Recipe, pans: list[_Pan], unit: str, text: str, allowed: str) -> RecipeRefused:
    index = next(i for i, pan in enumerate(pans) if pan.line.amount.unit == unit)
    line = pans[index].line
    return RecipeRefused([line_problem(recipe.file, index, line, "amount", text, allowed, f'"{line.amount.text}"')])
