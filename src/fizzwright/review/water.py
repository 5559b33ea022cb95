"""What the bath water becomes: its pH from the tap through the fizz to rest, its salts, and the gas it gives the room."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from fizzwright.catalogue import Catalogue
from fizzwright.recipe.mix import Mix
from fizzwright.review.airing import SOAK_S, STIRRING_W_KG, WATER_M2
from fizzwright.review.figures import Curve, Figure, Input, Notice, Working, interval, sources_of
from fizzwright.review.release import Release
from fizzwright.review.setting import Setting
from fizzwright.review.sizes import Piece
from fizzwright.review.tap import DRAWS, Span, TapReading, log_spread, normals, span, spread, water_of
from fizzwright.review.tub_defaults import Bath, bath
from fizzwright.review.water_notices import notices_of, too_strong
from fizzwright.science import equilibrium, fizzing, transfer
from fizzwright.science.aqueous import DOSES
from fizzwright.science.equilibrium import EQUATIONS, MOST_MMOL_L, BathState, Water
from fizzwright.science.neutralisation import CO2_G_MOL, co2_litres
from fizzwright.wording import duration_text, shown

Array = NDArray[np.float64]
Numbers = float | Array

SOAK_DRAWS = 32
"""Draws of the water at the end of a soak, which is costlier to work out."""
ESCAPES: Span = (0.2, 0.5, 0.9)
"""estimate: share of the fizz's gas that rises and is gone at once. A 2 mm bubble that crosses 0.2 m of water in a second
dissolves by about half (film velocity 2e-4 m/s); a piece that floats gives more of it straight to the air."""
MOMENTS = 25
"""Moments of the fizz, and of the soak after it, that the curves are drawn through."""
DRAWN_FOR_S = 1.5 * SOAK_S


def dose_of(mix: Mix, grams: Array, size: Piece, litres: float | Array) -> dict[str, Array]:
    """What one bath gets of each reagent known to equilibrium, mol/l; grams (..., lines) of the mix or of its draws."""
    per_bath = 1.0 if size.is_powder else size.pieces_per_bath
    share = np.asarray(size.piece_g.value * per_bath / size.total_g)
    if grams.ndim > 1:
        share = (size.piece_g_draws * per_bath / size.total_g_draws)[: len(grams)]
    dose: dict[str, Array] = {}
    for index, line in enumerate(mix.lines):
        material = line.material
        if material is None or material.id not in DOSES or material.molar_mass_g_mol is None:
            continue
        mol_l = grams[..., index] * share / material.molar_mass_g_mol / litres
        dose[material.id] = dose.get(material.id, np.zeros(())) + mol_l
    return dose


@dataclass(frozen=True)
class Waters:
    """One bath before, with everything in it, and at rest with the room; floats, or arrays of draws."""

    start: BathState
    dissolved: BathState
    settled: BathState
    released_l: Array
    """Litres of CO2 that leave until the water is at rest."""
    soaked: BathState
    """At the end of a usual soak."""
    soaked_l: Array
    """Litres of CO2 in the air by then."""


def _waters(
    water: Water,
    dose: Mapping[str, Array],
    tub: Bath,
    litres: Numbers,
    room_atm: Numbers,
    kla_per_s: Numbers,
    escapes: Numbers,
    fizz_s: float,
    few: int | None = None,
) -> Waters:
    """Work out one bath or its draws; of draws only the first `few` are followed through the soak."""
    start = equilibrium.solve(water, {}, tub.temperature_c)
    dissolved = equilibrium.solve(water, dose, tub.temperature_c)
    settled = equilibrium.solve(water, dose, tub.temperature_c, room_atm)
    head = slice(None) if few is None else slice(few)

    def first(value: object) -> Array:
        array = np.asarray(value, dtype=float)
        return array[head] if array.ndim else array

    totals = {name: first(total) for name, total in dissolved.totals_mol_l.items()}
    gone = first(escapes) * np.maximum(first(dissolved.co2_mol_l) - first(start.co2_mol_l), 0.0)
    totals["carbonate"] = totals["carbonate"] - gone
    fizzed = equilibrium.rest(totals, first(dissolved.unnamed_eq_l), tub.temperature_c)
    # half of the fizz on average is in the water while it lasts
    soaked = equilibrium.degas(fizzed, max(SOAK_S - 0.5 * fizz_s, 0.0), first(kla_per_s), first(room_atm))
    lost = np.asarray(dissolved.dic_mol_l) - np.asarray(settled.dic_mol_l)
    return Waters(
        start,
        dissolved,
        settled,
        _told_litres(co2_litres(lost * litres, tub.temperature_c)),
        soaked.state,
        _told_litres(co2_litres((gone + np.asarray(soaked.released_mol_l)) * first(litres), tub.temperature_c)),
    )


def _told_litres(litres: Numbers) -> Array:
    """Litres of gas, with what is less than a bubble taken as none: the solver leaves such crumbs where nothing fizzes."""
    return np.where(np.abs(litres) < BUBBLE_L, 0.0, litres)


def _kla_per_s(temperature_c: float, stirring: float | Array, open_m2: float | Array, litres: float | Array) -> Array:
    """How fast CO2 passes the water's surface, for the whole depth."""
    return np.asarray(transfer.water_side_m_s(CO2_G_MOL, temperature_c, stirring) * open_m2 / litres * 1000.0)


def figures(
    mix: Mix, catalogue: Catalogue, setting: Setting, size: Piece, release: Release
) -> tuple[list[Figure], list[Notice], list[Curve]]:
    """ph_start, ph_dissolved, ph_soaked, ph_settled, alkalinity, sodium, ionic strength, calcite and CO2 of one bath."""
    tap, tub, z = water_of(mix.recipe, catalogue), bath(mix.recipe, catalogue), normals()
    strongest = dose_of(mix, mix.draws_g[:DRAWS], size, min(tub.litres, tub.litres_low))
    if any(float(np.max(amount)) > MOST_MMOL_L * 1e-3 for amount in strongest.values()):
        return [], [too_strong(tub.litres)], []
    air = catalogue.fact("air_co2")
    room = span(air)
    dose = dose_of(mix, mix.grams, size, tub.litres)
    kla = _kla_per_s(tub.temperature_c, STIRRING_W_KG[1], WATER_M2[1], tub.litres)
    likely = _waters(
        tap.water,
        dose,
        tub,
        tub.litres,
        room[1],
        kla,
        ESCAPES[1],
        release.gone_s.value,
    )
    wide = slice(0, DRAWS)
    litres = log_spread((tub.litres_low, tub.litres, tub.litres_high), z[:, 3])
    drawn = _waters(
        tap.draws,
        dose_of(mix, mix.draws_g[wide], size, litres),
        tub,
        litres,
        log_spread(room, z[:, 4]),
        _kla_per_s(tub.temperature_c, log_spread(STIRRING_W_KG, z[:, 5]), WATER_M2[1], litres),
        np.clip(spread(ESCAPES, z[::-1, 5]), 0.0, 1.0),
        release.gone_s.value,
        SOAK_DRAWS,
    )
    curves = _curves(mix, size, tap, tub, release, likely, float(kla), room[1])
    inputs = _inputs(mix, tap, tub, dose)
    sources = sources_of(tap.sources, tub.sources, *(m.sources for m in mix.lines if m.id in dose))
    basis = (
        "estimate"
        if "estimate" in (tap.basis, tub.basis) or any(m.basis == "estimate" for m in mix.lines)
        else "published"
    )
    found = _told(likely, drawn, Context(tap, tub, inputs, sources, basis))
    acidity = next(iter(curves[0].lines.values()))
    seen = [ph for minute, ph in zip(curves[0].x, acidity, strict=True) if 60.0 * minute <= SOAK_S]
    return found, notices_of(mix, catalogue, (min(seen), max(seen)), found), curves


@dataclass(frozen=True)
class Context:
    """What every figure of the water shares."""

    tap: TapReading
    tub: Bath
    inputs: tuple[Input, ...]
    sources: tuple[str, ...]
    basis: str


def _inputs(mix: Mix, tap: TapReading, tub: Bath, dose: Mapping[str, Array]) -> tuple[Input, ...]:
    """The water and what goes into it, so that the sum can be done again elsewhere."""
    water = tap.water
    names = {m.id: m.name for m in mix.lines}
    report = {
        "alkalinity": water.alkalinity_mmol_l,
        "calcium": water.calcium_mmol_l,
        "magnesium": water.magnesium_mmol_l,
        "sodium": water.sodium_mmol_l,
        "potassium": water.potassium_mmol_l,
        "chloride": water.chloride_mmol_l,
        "sulfate": water.sulfate_mmol_l,
    }
    cited = "; ".join(tap.sources)
    return (
        Input("pH of the tap water", float(water.ph), "", cited, tap.basis),
        *(
            Input(f"{name} of the tap water", round(float(value), 3), "mmol/l", cited, tap.basis)
            for name, value in report.items()
            if value is not None and float(value) > 0
        ),
        Input("water", tap.said),
        Input("bath", round(tub.litres, 1), "l", "; ".join(tub.sources)),
        Input("water temperature", tub.temperature_c, "°C"),
        *(Input(names[name], round(1000.0 * float(mol_l), 3), "mmol/l of bath") for name, mol_l in dose.items()),
    )


def _told(likely: Waters, drawn: Waters, context: Context) -> list[Figure]:
    """The figures of the water."""
    solved = "; ".join(EQUATIONS[x] for x in ("charge", "mass_action", "davies", "ionic_strength", "tap"))

    def figure(
        name: str,
        value: Numbers,
        draws: Numbers,
        unit: str,
        text: str,
        equation: str = solved,
        more: tuple[Input, ...] = (),
    ) -> Figure:
        likely_value = float(np.asarray(value))
        low, high = interval(np.asarray(draws, dtype=float)) if np.ndim(draws) else (likely_value, likely_value)
        # a lopsided spread may leave the likely value outside; it is part of what is likely all the same
        low, high = min(low, likely_value), max(high, likely_value)
        return Figure(
            name,
            likely_value,
            unit,
            text,
            Working(equation, (*context.inputs, *more)),
            low,
            high,
            context.sources,
            context.basis,
        )

    start, dissolved, settled, soaked = likely.start, likely.dissolved, likely.settled, likely.soaked
    surface = (
        Input("stirring of the water", STIRRING_W_KG[1], "W/kg", "", "estimate"),
        Input("share of the gas that rises at once", ESCAPES[1], "", "", "estimate"),
    )
    losing = "; ".join((EQUATIONS["surface"], EQUATIONS["saturation"], fizzing.EQUATIONS["fizzing"]))
    litres, early = float(likely.released_l), float(likely.soaked_l)
    found = [
        figure(
            "ph_start", start.ph, drawn.start.ph, "",
            f"The water starts at pH {float(start.ph):.1f} ({context.tap.said}).",
        ),
        figure(
            "ph_dissolved", dissolved.ph, drawn.dissolved.ph, "",
            f"With all dissolved and no gas lost it would stand at pH {float(dissolved.ph):.1f}.",
        ),
        figure(
            "ph_soaked", soaked.ph, drawn.soaked.ph, "",
            f"After a soak of {duration_text(SOAK_S)} the water is near pH {float(soaked.ph):.1f}.",
            f"{solved}; {losing}", surface,
        ),
        figure(
            "ph_settled", settled.ph, drawn.settled.ph, "",
            f"Left standing for hours, until the gas is gone, it settles at pH {float(settled.ph):.1f}.",
            f"{solved}; {EQUATIONS['open']}",
        ),
        figure(
            "alkalinity_mmol_l", 1e3 * dissolved.alkalinity_eq_l, 1e3 * np.asarray(drawn.dissolved.alkalinity_eq_l), "mmol/l",
            f"The bath takes up {shown(1e3 * float(dissolved.alkalinity_eq_l))} mmol of acid a litre, "
            f"the tap water alone {shown(1e3 * float(start.alkalinity_eq_l))}.",
            EQUATIONS["alkalinity"],
        ),
        figure(
            "sodium_mmol_l", 1e3 * dissolved.sodium_mol_l, 1e3 * np.asarray(drawn.dissolved.sodium_mol_l), "mmol/l",
            f"Sodium comes to {shown(1e3 * float(dissolved.sodium_mol_l))} mmol a litre.",
            "sodium of the tap water + sodium of what dissolves; what a water report leaves out meets the charges",
        ),
        figure(
            "ionic_strength_mol_l", dissolved.ionic_strength_mol_l, drawn.dissolved.ionic_strength_mol_l, "mol/l",
            f"All salts together come to an ionic strength of {shown(float(dissolved.ionic_strength_mol_l))} mol a litre"
            f"{_against_the_sea(float(dissolved.ionic_strength_mol_l))}.",
            EQUATIONS["ionic_strength"],
        ),
        figure(
            "co2_released_l", litres, drawn.released_l, "l",
            f"In the end {shown(litres)} litres of carbon dioxide leave the water, "
            f"about {shown(max(early, 0.0))} of them within {duration_text(SOAK_S)}."
            if litres > 0
            else "The water takes up carbon dioxide from the room rather than giving any.",
            f"CO2 = carbonate with all dissolved - carbonate at rest with the room; {EQUATIONS['open']}",
        ),
        figure(
            "co2_in_soak_l", early, drawn.soaked_l, "l",
            f"By the end of a soak {shown(early)} litres of carbon dioxide are in the air."
            if early > 0
            else "No carbon dioxide comes into the air during a soak.",
            losing, surface,
        ),
    ]  # fmt: skip
    if np.isfinite(settled.calcite_si):
        at_rest = float(settled.calcite_si)
        word = "may leave a little scale" if at_rest > SCALES_ABOVE else "leaves hardly any scale"
        draws = np.asarray(drawn.settled.calcite_si)
        text = f"At rest the water {word}: calcite index {at_rest:+.1f}, scale forms well above nought."
        found.append(figure("calcite_si", at_rest, draws, "", text, EQUATIONS["calcite"]))
    return found


BUBBLE_L = 1e-6
SCALES_ABOVE = 0.8
"""estimate: below some 0.8 calcite hardly forms within hours, less still beside citric acid, which holds it off."""
SEA_MOL_L = 0.7
"""Ionic strength of sea water of salinity 35 (Millero 2013, Chemical Oceanography; memory)."""


def _against_the_sea(ionic_strength_mol_l: float) -> str:
    return f", {shown(100.0 * ionic_strength_mol_l / SEA_MOL_L)} % of the sea's"


def _curves(
    mix: Mix,
    size: Piece,
    tap: TapReading,
    tub: Bath,
    release: Release,
    likely: Waters,
    kla_per_s: float,
    room_atm: float,
) -> list[Curve]:
    """pH and litres of CO2 over a soak and half as long again."""
    gone_s = float(release.seconds[-1])
    seconds = np.linspace(0.0, gone_s, MOMENTS)
    dose: dict[str, Array] = {}
    for part in dict.fromkeys(line.part for line in mix.lines):
        own = mix.grams * np.array([line.part == part for line in mix.lines])
        for name, mol_l in dose_of(mix, own, size, tub.litres).items():
            dose[name] = dose.get(name, np.zeros(MOMENTS)) + mol_l * release.dissolved_at(part, seconds)
    course = fizzing.course(tap.water, dose, tub.temperature_c, seconds, kla_per_s, ESCAPES[1], room_atm)
    after = np.linspace(0.0, max(DRAWN_FOR_S - gone_s, 0.2 * gone_s), MOMENTS)[1:]
    later = equilibrium.degas(course.last, after, kla_per_s, room_atm)
    minutes = tuple(float(t) for t in np.concatenate([seconds, gone_s + after]) / 60.0)
    ph = np.concatenate([course.ph, np.asarray(later.state.ph)])
    mol_l = np.concatenate([course.released_mol_l, course.released_mol_l[-1] + np.asarray(later.released_mol_l)])
    litres = np.asarray(co2_litres(mol_l * tub.litres, tub.temperature_c))
    settled, total = float(likely.settled.ph), float(likely.released_l)
    ended = {"all dissolved": gone_s / 60.0}
    return [
        Curve(
            "ph_over_time",
            f"The water goes from pH {ph[0]:.1f} to {ph[len(seconds) - 1]:.1f} as it fizzes, then slowly towards {settled:.1f}",
            "time",
            "min",
            "pH",
            "",
            minutes,
            {"pH of the water": tuple(float(x) for x in ph)},
            ended,
            {"at rest, hours later": settled},
        ),
        Curve(
            "co2_over_time",
            f"After {minutes[-1]:.0f} minutes {shown(float(litres[-1]))} litres of carbon dioxide are in the air",
            "time",
            "min",
            "carbon dioxide in the air",
            "l",
            minutes,
            {"given off so far": tuple(float(x) for x in litres)},
            ended,
            {"all that leaves in the end": total} if total > 0 else {},
        ),
    ]
