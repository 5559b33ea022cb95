"""The fizz: acid against carbonate, the gas it can free, and what is left in the water."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from fizzwright.catalogue import Catalogue
from fizzwright.recipe.mix import Mix
from fizzwright.review.chemistry import Fizz, acid_to_base_eq, fizz_of, reagent_of
from fizzwright.review.figures import Figure, Input, Notice, Section, Working, from_draws, sources_of
from fizzwright.review.setting import Setting
from fizzwright.review.sizes import piece
from fizzwright.review.tub_defaults import CHILD_AUDIENCES, bath
from fizzwright.science import neutralisation
from fizzwright.science.neutralisation import EQUATIONS
from fizzwright.wording import listed, shown

Array = NDArray[np.float64]

SOUR_ABOVE = 1.02
WEAK_BELOW = 0.35
"""estimate: below a third of the acid the carbonate could use, kitchen recipes are felt to fizz weakly (common practice,
no source: two parts bicarbonate to one of citric acid by volume comes to about 0.6)."""
NO_GAS_PCT = 0.1
FAINT_GAS_PCT = 2.0
"""estimate: carbon dioxide, percent of the mix: below the first nobody sees a fizz, below the second hardly anybody. The usual
two to one frees about a fifth of the piece's weight."""
CACO3_MG_MMOL_EQ = 50.04
"""Milligrams of calcium carbonate in a milliequivalent: half its molar mass of 100.087 g/mol (IUPAC 2021)."""
CHILD_LEFT = (0.5, 0.1)
"""estimate: shares of the water's alkalinity from which left-over acid, and untouched carbonate, stop a child's piece."""


def section(mix: Mix, catalogue: Catalogue, setting: Setting) -> Section:
    """Figures of the fizz and notices on what hinders it."""
    fizz = fizz_of(mix, mix.grams)
    draws = fizz_of(mix, mix.draws_g)
    notices = _missing(fizz)
    if not fizz.acids or not fizz.bases:
        return Section("fizz", "Fizz", tuple(_gas(mix, catalogue, fizz, draws)), tuple(notices))
    figures = [
        _ratio(mix, "acid_to_base_eq", fizz, None),
        *_parts(mix),
        *_mass_ratio(mix, fizz),
        *_gas(mix, catalogue, fizz, draws),
        _left(mix, "leftover_base_g", fizz, draws, fizz.bases, _base_left(mix, fizz)),
        _left(mix, "leftover_acid_g", fizz, draws, fizz.acids, "acid finds no partner and stays in the water"),
    ]
    notices += _gas_notice(mix, fizz) or _balance(float(fizz.acid_to_base_eq), mix, fizz)
    notices += _left_in_the_bath(mix, catalogue, fizz)
    return Section("fizz", "Fizz", tuple(figures), tuple(notices))


def _reagent_inputs(mix: Mix, names: tuple[str, ...], fizz: Fizz) -> tuple[Input, ...]:
    """Moles and molar mass of each reagent, so that a person can do the sum again."""
    inputs = []
    for name in names:
        material = next(m.material for m in mix.lines if m.id == name)
        reagent = reagent_of(material) if material else None
        if material is None or reagent is None:
            continue
        equivalents = reagent.acid_eq or reagent.base_eq
        inputs += [
            Input(f"{material.name}", round(float(fizz.moles[name]) * fizz.molar_mass_g_mol[name], 2), "g"),
            Input(
                f"molar mass of {material.name}",
                fizz.molar_mass_g_mol[name],
                "g/mol",
                "; ".join(material.sources_of("molar_mass_g_mol")),
                material.how_of("molar_mass_g_mol"),
            ),
            Input(f"{'acid' if reagent.acid_eq else 'base'} equivalents of {material.name}", equivalents, "per mol"),
        ]
    return tuple(inputs)


def _sources(mix: Mix, names: tuple[str, ...]) -> tuple[str, ...]:
    """Citations of the molar masses and of the amounts."""
    return sources_of(
        *(m.material.sources_of("molar_mass_g_mol") for m in mix.lines if m.material and m.id in names),
        *(m.sources for m in mix.lines if m.id in names),
    )


def _ratio(mix: Mix, figure_id: str, fizz: Fizz, part: str | None, where: str = "") -> Figure:
    """Acid equivalents over base equivalents."""
    value, low, high = from_draws(acid_to_base_eq, mix.grams, mix.draws_g, mix, part)
    used = (
        f"The acid can use {100 * value:.0f} % of the carbonate."
        if value <= 1
        else f"There is {value:.2f} times the acid that the carbonate can use."
    )
    return Figure(
        figure_id,
        value,
        "",
        where + used,
        Working(
            "acid to base = sum(acid mol x acid equivalents) / sum(base mol x base equivalents)",
            _reagent_inputs(mix, (*fizz.acids, *fizz.bases), fizz),
        ),
        low,
        high,
        _sources(mix, (*fizz.acids, *fizz.bases)),
    )


def _parts(mix: Mix) -> list[Figure]:
    """The same ratio for each part of a layered or cored piece."""
    parts = list(dict.fromkeys(m.part for m in mix.lines))
    figures: list[Figure] = []
    if len(parts) < 2:
        return figures
    for part in parts:
        fizz = fizz_of(mix, mix.grams, part)
        if fizz.acids and fizz.bases:
            name = part.replace("_", " ")
            figures.append(
                _ratio(
                    mix,
                    f"acid_to_base_eq.{part}",
                    fizz,
                    part,
                    f"In the {name}: ",
                )
            )
    return figures


def _mass_ratio(mix: Mix, fizz: Fizz) -> list[Figure]:
    """Citric acid over bicarbonate by mass, where the recipe holds both."""
    citric = np.array([m.id in ("citric_acid", "citric_acid_monohydrate") for m in mix.lines])
    bicarb = np.array([m.id in ("sodium_bicarbonate", "potassium_bicarbonate") for m in mix.lines])
    if not citric.any() or not bicarb.any():
        return []
    value, low, high = from_draws(
        lambda g: (g * citric).sum(axis=-1) / (g * bicarb).sum(axis=-1), mix.grams, mix.draws_g
    )
    return [
        Figure(
            "citric_to_bicarb_mass",
            value,
            "",
            f"By weight there is 1 part citric acid to {1 / value:.2f} parts bicarbonate{_even(fizz)}.",
            Working(
                "ratio = grams of citric acid / grams of bicarbonate",
                (
                    Input("citric acid", round(float((mix.grams * citric).sum()), 2), "g"),
                    Input("bicarbonate", round(float((mix.grams * bicarb).sum()), 2), "g"),
                ),
            ),
            low,
            high,
            sources_of(*(m.sources for m, c, b in zip(mix.lines, citric, bicarb, strict=True) if c or b)),
        )
    ]


def _even(fizz: Fizz) -> str:
    """The ratio at which the two would use each other up, when there is just one acid and one base."""
    if len(fizz.acids) != 1 or len(fizz.bases) != 1:
        return ""
    (acid,), (base,) = fizz.acids, fizz.bases
    ratio = neutralisation.base_to_acid_mass_ratio(base, acid, fizz.molar_mass_g_mol[base], fizz.molar_mass_g_mol[acid])
    return f"; at {float(ratio):.2f} parts they would use each other up"


def _gas(mix: Mix, catalogue: Catalogue, fizz: Fizz, draws: Fizz) -> list[Figure]:
    """Carbon dioxide of the whole mix, by mass and as the litres it fills in bath water."""
    tub = bath(mix.recipe, catalogue)
    value = float(fizz.co2_g)
    low, high = (float(x) for x in np.quantile(draws.co2_g, [0.05, 0.95]))
    mol = float(fizz.reaction.co2_mol)
    litres = float(neutralisation.co2_litres(mol, tub.temperature_c))
    per_g = litres / value if value > 0 else 0.0
    names = (*fizz.acids, *fizz.bases)
    return [
        Figure(
            "co2_potential_g",
            value,
            "g",
            f"The whole mix can free {value:.1f} g of carbon dioxide.",
            Working(EQUATIONS["balance"] + "; grams = CO2 x 44.009 g/mol", _reagent_inputs(mix, names, fizz)),
            low,
            high,
            _sources(mix, names),
        ),
        Figure(
            "co2_potential_l",
            litres,
            "l",
            f"The whole mix holds {litres:.1f} litres of gas, at {tub.temperature_c:.0f} °C and if all of it bubbled out.",
            Working(
                EQUATIONS["co2_litres"] + "; " + EQUATIONS["water_vapour_pa"],
                (
                    Input("carbon dioxide", round(mol, 4), "mol"),
                    Input("water temperature", tub.temperature_c, "°C", "; ".join(tub.sources)),
                    Input("pressure", 101325, "Pa", "standard atmosphere", "exact"),
                ),
            ),
            low * per_g,
            high * per_g,
            tub.sources,
        ),
    ]


def _left(mix: Mix, figure_id: str, fizz: Fizz, draws: Fizz, names: tuple[str, ...], meaning: str) -> Figure:
    """Grams of base or acid that find no partner."""
    value = float(fizz.leftover_g(names))
    low, high = (float(x) for x in np.quantile(draws.leftover_g(names), [0.05, 0.95]))
    kind = "base" if figure_id == "leftover_base_g" else "acid"
    text = f"Of the whole mix {value:.0f} g of the {meaning}." if value >= 0.5 else f"No {kind} is left over."
    return Figure(
        figure_id,
        value,
        "g",
        text,
        Working(
            EQUATIONS["leftover"] + "; shown as grams of what was put in",
            _reagent_inputs(mix, (*fizz.acids, *fizz.bases), fizz),
        ),
        low,
        high,
        _sources(mix, names),
    )


def _missing(fizz: Fizz) -> list[Notice]:
    """No acid or no carbonate: no fizz."""
    if fizz.acids and fizz.bases:
        return []
    what, add = ("acid", "citric acid") if not fizz.acids else ("carbonate", "sodium bicarbonate")
    if not fizz.acids and not fizz.bases:
        what, add = "acid and no carbonate", "sodium bicarbonate and citric acid"
    return [
        Notice(
            "stop",
            f"This will not fizz: the recipe holds no {what}. Add {add}.",
            "gas comes only where an acid meets a carbonate in water",
        )
    ]


def _names(mix: Mix, uses: list[str]) -> str:
    return listed(m.name for m in mix.lines if m.id in uses)


def _strong(mix: Mix, fizz: Fizz) -> list[str]:
    """The bases that are more than bicarbonate: washing soda and its kin."""
    strong = []
    for mixed in mix.lines:
        reagent = reagent_of(mixed.material) if mixed.material is not None else None
        if reagent is not None and reagent.base_eq > reagent.carbonate and mixed.id in fizz.bases:
            strong.append(mixed.id)
    return strong


def _stays(mix: Mix, fizz: Fizz) -> str:
    """What base it is that stays in the water: acid meets carbonate first, so bicarbonate is what is mostly left."""
    strong = _strong(mix, fizz)
    if float(fizz.reaction.leftover_carbonate_mol) > 0:
        return _names(mix, list(fizz.bases))
    mild = [use for use in fizz.bases if use not in strong]
    made = f"bicarbonate made from the {_names(mix, strong)}" if strong else ""
    return " and ".join(part for part in (_names(mix, mild), made) if part)


def _base_left(mix: Mix, fizz: Fizz) -> str:
    if float(fizz.reaction.leftover_carbonate_mol) > 0:
        return (
            f"{_names(mix, list(fizz.bases))} stays in the water, part of it untouched, and makes it strongly alkaline"
        )
    return f"base stays in the water, as {_stays(mix, fizz)}, and makes it mildly alkaline"


def _gas_notice(mix: Mix, fizz: Fizz) -> list[Notice]:
    """That hardly any gas comes, whatever the ratio says."""
    gas_pct = 100 * float(fizz.co2_g) / float(mix.grams.sum())
    if gas_pct >= FAINT_GAS_PCT:
        return []
    strong = _names(mix, _strong(mix, fizz))
    why = (
        f"the acid goes into turning {strong} into bicarbonate before any gas comes"
        if strong and float(fizz.acid_to_base_eq) < 1
        else "there is too little acid or too little carbonate in it"
    )
    none = gas_pct < NO_GAS_PCT
    text = f"This will {'not' if none else 'hardly'} fizz: {why}."
    return [
        Notice(
            "stop" if none else "mind",
            text + (" Use bicarbonate in its place." if strong else " Use more of what is short."),
            f"Compared: carbon dioxide, {shown(gas_pct)} % of the mix by mass, with {shown(FAINT_GAS_PCT)} % (our own estimate); "
            "the usual two to one frees about a fifth of its weight.",
            figure="co2_potential_g",
        )
    ]


def _left_in_the_bath(mix: Mix, catalogue: Catalogue, fizz: Fizz) -> list[Notice]:
    """Acid, or carbonate that no acid touched, beside what the bath water itself takes up: more than that is harsh."""
    size, tub = piece(mix, catalogue), bath(mix.recipe, catalogue)
    if size.cured_share <= 0:
        return []
    share = size.per_bath_g.value / size.cured_share / size.total_g
    acid = 1000 * share * float(fizz.reaction.leftover_acid_eq) / tub.litres_low
    carbonate = 1000 * share * float(fizz.reaction.leftover_carbonate_mol) / tub.litres_low
    fact = catalogue.fact("alk_range")
    own = getattr(mix.recipe.tub.water, "alkalinity_mmol_l", None)
    takes = own if own is not None else (fact.typical or 0.0) / CACO3_MG_MMOL_EQ
    water = "the recipe's own water" if own is not None else "a usual tap water (the value is our own choice)"
    child = mix.recipe.audience in CHILD_AUDIENCES
    sources = () if own is not None else fact.sources_of("typical")
    if acid > takes * (CHILD_LEFT[0] if child else 1.0):
        return [
            Notice(
                "stop",
                f"Far too much acid{' for a child' if child else ''}: {shown(acid)} mmol a litre is left in the bath, and the water "
                f"takes up {shown(takes)} before it turns truly sour. It stings eyes and skin. Were acid and bicarbonate swapped?",
                f"Compared: acid equivalents left over by one bath in {shown(tub.litres_low, 3)} litres with the alkalinity of "
                f"{water}; a child's bath stops at half of it (our own estimate).",
                sources,
                "leftover_acid_g",
            )
        ]
    strong = _names(mix, _strong(mix, fizz))
    if carbonate <= takes * CHILD_LEFT[1] or not strong:
        return []
    stops = child or carbonate > takes
    return [
        Notice(
            "stop" if stops else "mind",
            f"{strong[:1].upper()}{strong[1:]} stays in the bath untouched by acid, {shown(carbonate)} mmol a litre: strongly alkaline "
            "water that dries and irritates skin and stings eyes. Use bicarbonate in its place.",
            f"Compared: carbonate left over by one bath in {shown(tub.litres_low, 3)} litres with the alkalinity of {water}, "
            f"{shown(takes)} mmol a litre; level with it the water stands near pH 10 (second step of carbonic acid, pKa 10.3). A "
            "child's bath stops at a tenth of it (our own estimate).",
            sources,
            "leftover_base_g",
        )
    ]


def _balance(ratio: float, mix: Mix, fizz: Fizz) -> list[Notice]:
    """What the balance of acid and base means for the fizz and for the bather."""
    if ratio > SOUR_ABOVE:
        return [
            Notice(
                "mind",
                f"There is more acid than {_names(mix, list(fizz.bases))} can use ({ratio:.2f} to 1), so the bath turns sour and can "
                "sting. Less acid or more bicarbonate settles it.",
                "compared with: equal equivalents (ratio 1), where nothing is left over",
                figure="acid_to_base_eq",
            )
        ]
    if ratio < WEAK_BELOW:
        return [
            Notice(
                "mind",
                f"There is little acid for so much {_names(mix, list(fizz.bases))} ({ratio:.2f} to 1): it fizzes weakly and leaves the water alkaline.",
                f"compared with: {WEAK_BELOW} (estimate); the usual two to one by volume comes to about 0.6",
                figure="acid_to_base_eq",
            )
        ]
    return [
        Notice(
            "good",
            f"Acid and base are in a usual balance ({ratio:.2f} to 1): it fizzes well, and some {_stays(mix, fizz)} stays in the water."
            if ratio < 0.98
            else f"Acid and base use each other up ({ratio:.2f} to 1).",
            "compared with: 1, where all is used up, and the usual two to one by volume, about 0.6 (common practice, no source)",
            figure="acid_to_base_eq",
        )
    ]
