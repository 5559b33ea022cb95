"""The fizz: acid against carbonate, the gas it can free, and what is left in the water."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from fizzwright.catalogue import Catalogue
from fizzwright.recipe.mix import Mix
from fizzwright.review.chemistry import Fizz, acid_to_base_eq, fizz_of, reagent_of
from fizzwright.review.figures import Figure, Input, Notice, Section, Working, from_draws, sources_of
from fizzwright.review.setting import Setting
from fizzwright.review.tub_defaults import bath
from fizzwright.science import neutralisation
from fizzwright.science.neutralisation import EQUATIONS

Array = NDArray[np.float64]

SOUR_ABOVE = 1.02
WEAK_BELOW = 0.35
"""estimate: below a third of the acid the carbonate could use, kitchen recipes are felt to fizz weakly (common practice,
no source: two parts bicarbonate to one of citric acid by volume comes to about 0.6)."""


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
        _left(
            mix, "leftover_base_g", fizz, draws, fizz.bases, "carbonate stays in the water and makes it mildly alkaline"
        ),
        _left(mix, "leftover_acid_g", fizz, draws, fizz.acids, "acid finds no partner and stays in the water"),
    ]
    notices += _balance(float(fizz.acid_to_base_eq), mix)
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
            f"That is {litres:.1f} litres of gas at {tub.temperature_c:.0f} °C, if all of it bubbled out.",
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
    text = f"{value:.0f} g of the {meaning}." if value >= 0.5 else f"No {kind} is left over."
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


def _balance(ratio: float, mix: Mix) -> list[Notice]:
    """What the balance of acid and base means for the fizz and for the bather."""
    if ratio > SOUR_ABOVE:
        return [
            Notice(
                "mind",
                f"There is more acid than the carbonate can use ({ratio:.2f} to 1), so the bath turns sour and can sting. "
                "Less acid or more bicarbonate settles it.",
                "compared with: equal equivalents (ratio 1), where nothing is left over",
                figure="acid_to_base_eq",
            )
        ]
    if ratio < WEAK_BELOW:
        return [
            Notice(
                "mind",
                f"There is little acid for so much bicarbonate ({ratio:.2f} to 1): it fizzes weakly and leaves the water alkaline.",
                f"compared with: {WEAK_BELOW} (estimate); the usual two to one by volume comes to about 0.6",
                figure="acid_to_base_eq",
            )
        ]
    return [
        Notice(
            "good",
            f"Acid and bicarbonate are in a usual balance ({ratio:.2f} to 1): it fizzes well, and a little bicarbonate stays to soften the water."
            if ratio < 0.98
            else f"Acid and bicarbonate use each other up ({ratio:.2f} to 1).",
            "compared with: 1, where all is used up, and the usual two to one by volume, about 0.6 (common practice, no source)",
            figure="acid_to_base_eq",
        )
    ]
