"""The colour the water takes, moment by moment, and what it leaves on the tub and on skin."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from fizzwright.catalogue import Catalogue
from fizzwright.recipe.mix import Mix
from fizzwright.recipe.model import TapWater
from fizzwright.review.colouring import (
    ENAMEL,
    Colouring,
    colouring,
    depth_m,
    dry_colours,
    water_rgb,
    water_words,
)
from fizzwright.review.figures import Curve, Figure, Input, Notice, Working, interval, sources_of
from fizzwright.review.release import Release
from fizzwright.review.setting import Setting
from fizzwright.review.sizes import Piece
from fizzwright.review.tub_defaults import Bath, bath
from fizzwright.review.views import film_g, scent_of, together
from fizzwright.science import tint
from fizzwright.science.tint import EQUATIONS
from fizzwright.wording import listed, sentence, shown

__all__ = ["dry_colours", "figures"]

Array = NDArray[np.float64]
Moment = tuple[float, str, str]

FAINT_TINT, GOOD_TINT = 0.04, 0.1
"""estimate: distance in Oklab from the bath without its dyes below which the colour hardly shows, and from which nobody doubts
that the bath is coloured; about 0.02 is just seen side by side."""
STAINS_FROM_MG_L = 15.0
"""estimate: dissolved dye, mg a litre, from which skin and towels may take it up; several times what tints a tub well."""
LEFT_FOR_ROUNDING = 0.9
CLINGS = {"dye": 0.2, "plant": 0.5, "oil": 1.0, "pigment": 1.0, "glitter": 1.0, "cloud": 0.0}
"""estimate: share of a colour that can cling to the tub at the water's edge."""
WHITE_RING = 0.3
"""estimate: how much a white or clear powder that clings counts, since a white tub hides most of it."""
RING_MG, RING_OIL_G, RING_HARDNESS_MG_L = 50.0, 2.0, 120.0
"""estimate: colour that clings, free oil and hardness at which each part of the risk of a ring stands half way."""
RING = (
    f"risk = c (0.2 + 0.8 o) (0.7 + 0.3 h): c = m / (m + {RING_MG:g} mg), m the colour that clings in one bath (powders and oil "
    f"colours whole, white ones {WHITE_RING:g} of it, plant colours half, dyes a fifth); o = f / (f + {RING_OIL_G:g} g), f the oil that nothing disperses; "
    f"h = H / (H + {RING_HARDNESS_MG_L:g} mg/l), H the hardness as CaCO3 (all estimates)"
)
RING_MIDDLE, RING_HIGH = 0.15, 0.4
"""estimate: from where we call a ring on the tub possible, and likely."""
HARDNESS = {"soft": "hard_soft", "moderately_hard": "hard_moderate", "hard": "hard_hard", "very_hard": "hard_veryhard"}
USUAL_WATER = "moderately_hard"
VERY_HARD_MG_L = 250.0
"""estimate: the class has no upper end."""
CACO3_MG_MMOL = 100.087
"""Milligrams of calcium carbonate in a millimole (IUPAC 2021)."""
FACTORS: Array = np.geomspace(1.0, 50.0, 60)
"""How many times the colour is tried to find a plain tint."""


@dataclass(frozen=True)
class _Dose:
    """Colours of one bath when all has come apart."""

    colours: Colouring
    tub: Bath
    depth: float
    mg_l: Array
    """Milligrams of each line in a litre; shape (lines,)."""
    bath_g: Array
    """Grams of each line in one bath; shape (lines,)."""
    plain: Array
    """sRGB of the same bath with nothing in it."""

    def look(self, mg_l: Array) -> Array:
        """sRGB (..., 3) of the bath when it holds mg_l (..., lines)."""
        return water_rgb(self.colours, mg_l, self.depth)

    def words(self, mg_l: Array, rgb: Array) -> list[str]:
        """Baths in words; one a row of mg_l (n, lines) and of rgb (n, 3)."""
        return water_words(rgb, self.plain, mg_l @ self.colours.throws_back * self.depth)


def figures(
    mix: Mix, catalogue: Catalogue, setting: Setting, size: Piece, release: Release
) -> tuple[list[Figure], list[Notice], list[Curve], tuple[Moment, ...]]:
    """Colour of the water, how much of each colour a litre holds, the risk of a ring; notices; moments of the colour.

    A moment is (seconds, sRGB hex, words), taking the bath as stirred; `setting` is part of the contract of sections.
    """
    dose = _dose(mix, catalogue, size)
    moments = _moments(mix, release, dose)
    ring = _ring(mix, catalogue, dose)
    told = [_water_colour(mix, dose, size), *_amounts(mix, dose, size), ring]
    return told, _notices(mix, dose, ring), [], moments


def _dose(mix: Mix, catalogue: Catalogue, size: Piece) -> _Dose:
    tub, colours = bath(mix.recipe, catalogue), colouring(mix, catalogue)
    share = size.per_bath_g.value / size.cured_share / size.total_g if size.cured_share > 0 else 0.0
    bath_g = mix.grams * share
    depth = depth_m(tub.litres)
    plain = water_rgb(colours, np.zeros(len(mix.lines)), depth)
    return _Dose(colours, tub, depth, 1000 * bath_g / tub.litres, bath_g, plain)


def _dissolved(mix: Mix, release: Release, seconds: Array) -> Array:
    """Share of each line in the water; shape (moments, lines). What is in every part follows the parts by their mass."""
    parts = {p: float(mix.grams[[m.part == p for m in mix.lines]].sum()) for p in release.dissolved}
    total = sum(parts.values())
    every: Array = sum(
        (release.dissolved_at(p, seconds) * (g / total if total else 1 / len(parts)) for p, g in parts.items()),
        start=np.zeros_like(seconds),
    )
    columns = [release.dissolved_at(m.part, seconds) if m.part in release.dissolved else every for m in mix.lines]
    return np.stack(columns, axis=-1)


def _moments(mix: Mix, release: Release, dose: _Dose) -> tuple[Moment, ...]:
    """The colour from the first to the last: at even steps, and a little after each part shows."""
    end = release.gone_s.value
    times = {
        *np.linspace(0.0, end, 6).tolist(),
        *(s + 0.06 * end for s in release.shows_s.values() if 0 < s < 0.9 * end),
    }
    seconds = np.array(sorted(times))
    mg_l = _dissolved(mix, release, seconds) * dose.mg_l
    rgb = dose.look(mg_l)
    named = dose.words(mg_l, rgb)
    return tuple((float(s), tint.to_hex(c), said) for s, c, said in zip(seconds, rgb, named, strict=True))


def _inputs(dose: _Dose) -> tuple[Input, ...]:
    """What the colour was reckoned from."""
    inputs = []
    for dye in dose.colours.of_kind("dye", "plant", "oil", "pigment", "glitter", "cloud").values():
        mask = dose.colours.mask(dye.id)
        inputs.append(Input(f"{dye.name} in the bath", float(dose.mg_l[mask].sum()), "mg/l of powder"))
        if dye.e1pct_1cm and dye.dissolves_pct:
            source = "; ".join(dye.sources_of("e1pct_1cm"))
            peak = f"absorbance of 10 g/l of {dye.name} in 1 cm, at {shown(dye.peak_nm or 0.0, 3)} nm"
            inputs.append(Input(peak, dye.e1pct_1cm, "", source, dye.how_of("e1pct_1cm")))
    tub = dose.tub
    return (
        *inputs,
        Input(f"litres ({tub.said})", tub.litres, "l", "; ".join(tub.sources), tub.basis),
        Input("depth of the water", dose.depth, "m", "", "estimate"),
        Input("light that a white tub throws back", ENAMEL, "", "", "estimate"),
        Input("oil that is dispersed", 100 * dose.colours.dispersed, "%", "", "estimate"),
    )


def _water_colour(mix: Mix, dose: _Dose, size: Piece) -> Figure:
    """The colour when all has come apart, in words and as sRGB, from the weakest likely dose to the strongest."""
    spread = together(
        1.0, (1.0, *_relative(size.per_bath_g.low, size.per_bath_g.high, size.per_bath_g.value)), _water(dose.tub)
    )
    is_colour = np.array([d is not None and d.kind != "cloud" for d in dose.colours.dyes], dtype=bool)
    fewer = np.where(is_colour, 0.5, 1.0)
    ones = np.ones_like(fewer)
    steps = dose.mg_l * np.stack([ones, spread[0] * ones, spread[1] * ones, fewer, 1.0 / fewer])
    rgb = dose.look(steps)
    named = dose.words(steps, rgb)
    dyes = dose.colours.of_kind("dye", "plant", "oil", "pigment")
    if not dyes:
        text = f"No colour is in it: the water looks {named[0]}."
    else:
        text = f"Stirred, over a white tub in daylight, the water looks {named[0]}. Half the colour: {named[3]}; twice: {named[4]}."
    if glowing := [d.name for d in dyes.values() if d.glows]:
        text += f" {sentence(listed(glowing))} also glows, which is left out here."
    if dose.colours.unknown:
        text += f" Left out: {listed(m.name for m in dose.colours.unknown)}."
    return Figure(
        "water_colour",
        tint.to_hex(rgb[0]),
        "sRGB",
        text,
        Working("; ".join(EQUATIONS[k] for k in ("dissolved", "seen", "colour")), _inputs(dose)),
        tint.to_hex(rgb[1]),
        tint.to_hex(rgb[2]),
        sources_of(*(d.sources_of("e1pct_1cm") for d in dyes.values()), dose.tub.sources),
        "estimate",
        "from the weakest to the strongest likely dose",
    )


def _relative(low: float, high: float, value: float) -> tuple[float, float]:
    return (low / value, high / value) if value > 0 else (1.0, 1.0)


def _water(tub: Bath) -> tuple[float, float, float]:
    """One over the litres, relative to the likely ones: more water, less colour in a litre."""
    return 1.0, tub.litres / tub.litres_high, tub.litres / tub.litres_low


def _amounts(mix: Mix, dose: _Dose, size: Piece) -> list[Figure]:
    """Milligrams of each colour in a litre: dissolved for dyes, hanging in the water for powders."""
    found = []
    share = size.piece_g_draws * (1.0 if size.is_powder else size.pieces_per_bath) / size.total_g_draws
    for dye in dose.colours.of_kind("dye", "plant", "pigment").values():
        mask = dose.colours.mask(dye.id)
        pure = dose.colours.dissolves[mask].max()
        hangs = dye.kind == "pigment"
        worth = 1.0 - float(pure) if hangs else float(pure)
        value = worth * float(dose.mg_l[mask].sum())
        draws = 1000 * worth * mix.draws_g[:, mask].sum(axis=-1) * share / dose.tub.litres
        low, high = together(value, (value, *interval(draws)), _water(dose.tub))
        how = (
            f"{shown(value)} mg of {dye.name} hangs in each litre while the water moves, then settles."
            if hangs
            else f"{shown(value)} mg of {dye.name} is dissolved in each litre (the colour itself, {shown(100 * worth)} % of the powder)."
        )
        found.append(
            Figure(
                f"dye_mg_l.{dye.id}",
                value,
                "mg/l",
                how,
                Working(
                    "mg/l = grams in one bath x share that dissolves (of a powder: that does not) x 1000 / litres",
                    (
                        Input(f"{dye.name} in one bath", float(dose.bath_g[mask].sum()), "g"),
                        Input("colour in the powder", dye.purity_pct, "%", "", dye.how_of("purity_pct")),
                        Input("of that, dissolves", dye.dissolves_pct, "%", "", dye.how_of("dissolves_pct")),
                        Input(f"litres ({dose.tub.said})", dose.tub.litres, "l", "", dose.tub.basis),
                    ),
                ),
                low,
                high,
                sources_of(dye.sources_of("purity_pct"), dose.tub.sources),
                "estimate",
            )
        )
    return found


def _hardness(mix: Mix, catalogue: Catalogue) -> tuple[float, str]:
    """Hardness in mg/l as CaCO3, and where it comes from."""
    water = mix.recipe.tub.water
    if isinstance(water, TapWater):
        return CACO3_MG_MMOL * (water.calcium_mmol_l + water.magnesium_mmol_l), "the recipe's own water"
    fact = catalogue.fact(HARDNESS[water or USUAL_WATER])
    middle = VERY_HARD_MG_L if fact.max is None else ((fact.min or 0.0) + fact.max) / 2
    return middle, f"{'the recipe says' if water else 'none is given, taken as'} {fact.name}"


def _ring(mix: Mix, catalogue: Catalogue, dose: _Dose) -> Figure:
    """How likely a ring on the tub is, 0 to 1."""
    clinging = 1000 * sum(
        CLINGS[dye.kind] * (WHITE_RING if dye.shape == "none" else 1.0) * float(grams)
        for dye, grams in zip(dose.colours.dyes, dose.bath_g, strict=True)
        if dye is not None
    )
    total = float(mix.grams.sum())
    free = (
        film_g(mix, scent_of(mix)) * float(dose.bath_g.sum()) / total * (1 - dose.colours.dispersed) if total else 0.0
    )
    hard, said = _hardness(mix, catalogue)
    colour, oil, lime = (
        have / (have + half) for have, half in ((clinging, RING_MG), (free, RING_OIL_G), (hard, RING_HARDNESS_MG_L))
    )
    risk = colour * (0.2 + 0.8 * oil) * (0.7 + 0.3 * lime)
    level = "high" if risk >= RING_HIGH else "middle" if risk >= RING_MIDDLE else "low"
    return Figure(
        "ring_risk",
        risk,
        "of 1",
        f"Risk of a ring on the tub: {level} ({shown(risk)} of 1).",
        Working(
            RING,
            (
                Input("colour that clings, in one bath", clinging, "mg", "", "estimate"),
                Input("oil and fat that nothing disperses, in one bath", free, "g", "", "estimate"),
                Input(f"hardness ({said})", hard, "mg/l as CaCO3"),
            ),
        ),
        basis="estimate",
    )


def _notices(mix: Mix, dose: _Dose, ring: Figure) -> list[Notice]:
    return [*_ring_notice(dose, ring), *_stains(mix, dose), *_faint(mix, dose), *_not_dissolved(dose), *_unheld(dose)]


def _ring_notice(dose: _Dose, ring: Figure) -> list[Notice]:
    """That colour and oil may leave a ring, and what to do."""
    risk = float(ring.value)
    if risk < RING_MIDDLE:
        return []
    free = next(float(i.value) for i in ring.working.inputs if i.unit == "g")
    cures = ["less colour"]
    if free > RING_OIL_G / 4:
        cures += ["less oil", "an emulsifier for the oil"]
    return [
        Notice(
            "mind",
            f"This {'is likely to' if risk >= RING_HIGH else 'may'} leave a ring on the tub. Have the tub clean before: old "
            "soap film holds colour. Wipe it with washing-up liquid and a soft cloth as soon as the water is out. In the recipe, "
            f"{listed(cures, 'or')} helps.",
            f"Compared: the risk of a ring, {shown(risk)} of 1, with {shown(RING_MIDDLE)} (possible) and {shown(RING_HIGH)} (likely), "
            "our own estimates: colour times free oil times hardness of the water.",
            figure=ring.id,
            standing=risk < RING_HIGH,
        )
    ]


def _stains(mix: Mix, dose: _Dose) -> list[Notice]:
    """Too much dye: it goes onto skin and towels."""
    mg_l = float((dose.mg_l * dose.colours.dissolves) @ _strong(dose.colours))
    if mg_l <= STAINS_FROM_MG_L:
        return []
    dyes = dose.colours.of_kind("dye")
    grams = sum(float(mix.grams[dose.colours.mask(d)].sum()) for d in dyes)
    rest, per_bath = float(mix.grams.sum()) - grams, float(dose.bath_g.sum())
    # less dye leaves more of the rest in a bath, so the share is solved for, not scaled; a tenth is left for rounding
    allowed = STAINS_FROM_MG_L / mg_l * grams / (rest + grams) * per_bath
    fewer = LEFT_FOR_ROUNDING * allowed * rest / (per_bath - allowed)
    return [
        Notice(
            "mind",
            f"So much dye ({shown(mg_l)} mg in each litre) may tint skin, towels and grout. About "
            f"{shown(fewer)} g in this mix instead of {shown(grams)} g stays below what we warn of.",
            f"Compared: {listed(d.name for d in dyes.values())} dissolved in {shown(dose.tub.litres, 3)} litres with "
            f"{STAINS_FROM_MG_L:g} mg a litre (our own estimate; no published figure is held).",
            figure=f"dye_mg_l.{next(iter(dyes))}",
        )
    ]


def _strong(colours: Colouring) -> Array:
    return np.array([float(d is not None and d.kind == "dye") for d in colours.dyes])


def _faint(mix: Mix, dose: _Dose) -> list[Notice]:
    """Colour that hardly shows, with how much would."""
    dyes = dose.colours.of_kind("dye", "plant")
    if not dyes:
        return []
    mask = np.any([dose.colours.mask(d) for d in dyes], axis=0)
    without = dose.look(dose.mg_l * ~mask)
    seen = float(tint.apart(dose.look(dose.mg_l), without))
    if seen >= FAINT_TINT:
        return []
    tried = tint.apart(dose.look(dose.mg_l * np.where(mask, FACTORS[:, None], 1.0)), without)
    enough = np.flatnonzero(np.asarray(tried) >= GOOD_TINT)
    grams = float(mix.grams[mask].sum())
    more = (
        f"about {shown(grams * float(FACTORS[enough[0]]))} g in this mix" if enough.size else "no kitchen amount of it"
    )
    return [
        Notice(
            "mind",
            f"{sentence(listed(d.name for d in dyes.values()))}, {shown(grams)} g in the mix, hardly colours so much water; {more} "
            "would. See what the colour rules allow before putting in more.",
            f"Compared: {shown(dose.tub.litres, 3)} litres with and without the colour, {shown(seen)} apart in Oklab, with "
            f"{FAINT_TINT:g} (hardly seen) and {GOOD_TINT:g} (a plain tint), our own estimates.",
            figure="water_colour",
            standing=True,
        )
    ]


_KINDS = {
    "pigment": "seen in the water, but not dissolved. Such powder hangs there while the water moves, then settles on the floor of "
    "the tub. Rinse the tub after.",
    "glitter": "no colour for the water. Such flakes float, glitter and settle as a film. Rinse the tub before they dry.",
    "oil": "soluble in oil, not in water. Such a colour tints what floats and clings to the tub; an emulsifier spreads it.",
}


def _not_dissolved(dose: _Dose) -> list[Notice]:
    """What is seen but does not dissolve."""
    found = []
    for kind, text in _KINDS.items():
        dyes = dose.colours.of_kind(kind)
        if not dyes or (kind == "oil" and dose.colours.dispersed >= 1):
            continue
        found.append(
            Notice(
                "mind",
                f"{sentence(listed(d.name for d in dyes.values()))}: {text}",
                "Insoluble in water, by the catalogue. How long it hangs there depends on its grain, so no time is given.",
                sources_of(*(d.sources_of("") for d in dyes.values())),
                line=next(iter(dyes)),
                standing=True,
            )
        )
    return found


def _unheld(dose: _Dose) -> list[Notice]:
    if not dose.colours.unknown:
        return []
    names = listed(m.name for m in dose.colours.unknown)
    return [
        Notice(
            "mind",
            f"How {names} looks in water is not held here, so the colour of the water leaves it out. Try a pinch in a glass; a row in "
            "your workshop's dyes.csv tells it.",
            "no row in dyes.csv, and no colour of the same colour index number",
            line=dose.colours.unknown[0].id,
            standing=True,
        )
    ]
