"""The four views of the scent: in its carrier, in the piece, in the bath, and in the film on skin."""

from __future__ import annotations

import math
from collections.abc import Callable
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from fizzwright.catalogue import Catalogue
from fizzwright.catalogue.model import Oil
from fizzwright.recipe.mix import Array, Mix
from fizzwright.review.figures import Figure, Input, Working, from_draws, sources_of
from fizzwright.review.fitting import Way
from fizzwright.review.sizes import Piece
from fizzwright.review.tub_defaults import CHILD_AUDIENCES, Bath
from fizzwright.science import exposure
from fizzwright.wording import apart, listed, shown

RULE_OF_THUMB_PCT = 3.0
"""Most essential oil in a carrier by the kitchen rule (common practice, no source)."""
SCENT_DENSITY_G_ML = 0.9
"""estimate: most essential oils weigh 0.85-0.97 g/ml; used where the table holds no density."""
CARRIER_DENSITY_G_ML = 0.92
"""estimate: fixed oils weigh 0.91-0.93 g/ml; used where the table holds no density."""
CHILD_SKIN_M2 = (0.54, 0.80, 1.11)
"""estimate: Mosteller's formula, sqrt(cm x kg / 3600), for children of 87 cm 12 kg, 116 cm 20 kg and 138 cm 32 kg."""
PER_SCENT_G = (2.0, 4.0, 6.0)
"""estimate: grams of solubiliser that disperse a gram of essential oil; the catalogue notes 4:1 or more to be clear."""
PER_FIXED_OIL_G = (0.25, 0.5, 1.0)
"""estimate: grams of solubiliser that turn a gram of fixed oil to milk in the bath; nobody has published this one."""
SURFACTANT_WORTH = 0.5
"""estimate: a foaming powder disperses about half as well as a solubiliser once the bath has thinned it."""
NOT_DISPERSERS = frozenset({"dipropylene_glycol"})
"""Filed among the solubilisers, but a solvent: in a bath it washes out and leaves the oil behind."""


@dataclass(frozen=True)
class Group:
    """Scent that is stirred into one carrier before anything else; places of lines in the mix."""

    scent: tuple[int, ...]
    carrier: tuple[int, ...]


@dataclass(frozen=True)
class Scent:
    """What the views share: who is scent, who is fixed oil, who disperses, and the densities."""

    is_scent: NDArray[np.bool_]
    is_fixed: NDArray[np.bool_]
    dispersing: Array
    """Worth of each line as a solubiliser, grams a gram; shape lines."""
    density_g_ml: Array
    groups: tuple[Group, ...]

    @property
    def present(self) -> bool:
        """True when anything scented is in the mix."""
        return bool(self.is_scent.any())


def _density(mix: Mix, place: int) -> float:
    entry = mix.lines[place].entry
    if isinstance(entry, Oil):
        bounds = [d for d in (entry.density_g_ml_20c_min, entry.density_g_ml_20c_max) if d]
        return sum(bounds) / len(bounds) if bounds else SCENT_DENSITY_G_ML
    material = mix.lines[place].material
    if material is None:
        return SCENT_DENSITY_G_ML
    return material.true_density_g_ml or CARRIER_DENSITY_G_ML


def _worth(mix: Mix, place: int) -> float:
    material = mix.lines[place].material
    if material is None or material.id in NOT_DISPERSERS:
        return 0.0
    if material.function == "surfactant":
        return SURFACTANT_WORTH * (1 - material.water_mass_pct / 100)
    if material.function not in ("solubiliser", "emulsifier") or material.water_solubility_class == "insoluble":
        # Waxes that do not dissolve hold a cream together but set hard in a warm bath.
        return 0.0
    return 1 - material.water_mass_pct / 100


def _groups(mix: Mix, is_scent: NDArray[np.bool_], is_fixed: NDArray[np.bool_]) -> tuple[Group, ...]:
    """Who is stirred into what: by the key `in` where it is written, else the oils and fats of the same part."""
    groups = []
    scented = [i for i in range(len(mix.lines)) if is_scent[i]]
    targets: dict[tuple[str, str], list[int]] = {}
    loose: dict[str, list[int]] = {}
    for i in scented:
        line = mix.lines[i].line
        if line.diluted_in:
            targets.setdefault((line.diluted_in, line.part), []).append(i)
        else:
            loose.setdefault(line.part, []).append(i)
    claimed: set[int] = set()
    for (use, part), members in targets.items():
        named = [i for i, m in enumerate(mix.lines) if m.id == use and is_fixed[i]]
        carriers = [i for i in named if mix.lines[i].part == part] or named
        if not carriers:
            # Alcohol, water or a solubiliser is no oil: it spreads the scent in the bowl and thins nothing on the skin.
            loose.setdefault(part, []).extend(members)
            continue
        claimed.update(carriers)
        groups.append(Group(tuple(members), tuple(carriers)))
    for part, members in loose.items():
        oily = [i for i in range(len(mix.lines)) if is_fixed[i] and mix.lines[i].part == part]
        free = [i for i in oily if i not in claimed]
        if free or not oily:
            groups.append(Group(tuple(members), tuple(free)))
        else:
            # Every carrier here already holds an oil, so what is not told apart ends up together.
            together = [i for i in scented if mix.lines[i].part == part]
            groups.append(Group(tuple(together), tuple(oily)))
    return tuple(groups)


def scent_of(mix: Mix) -> Scent:
    """Sort the lines of a mix into scent, fixed oils and dispersers."""
    is_scent = mix.oil_mask
    is_fixed = mix.mask("carrier_oil", "solid_fat")
    places = range(len(mix.lines))
    return Scent(
        is_scent=is_scent,
        is_fixed=is_fixed,
        dispersing=np.array([_worth(mix, i) for i in places]),
        density_g_ml=np.array([_density(mix, i) for i in places]),
        groups=_groups(mix, is_scent, is_fixed),
    )


def in_carrier(scent: Scent, group: Group) -> Callable[[Array], Array]:
    """Percent by volume of a group's scent in its carrier, as a function of the grams of all lines, (..., lines)."""

    def compute(grams: Array) -> Array:
        volume = grams / scent.density_g_ml
        return np.asarray(
            exposure.share_by_volume_pct(
                volume[..., list(group.scent)].sum(axis=-1), volume[..., list(group.carrier)].sum(axis=-1)
            )
        )

    return compute


def strongest(mix: Mix, scent: Scent) -> Group:
    """The group with most essential oil in its carrier."""
    return max(scent.groups, key=lambda group: float(in_carrier(scent, group)(mix.grams)))


def dispersing(scent: Scent) -> Way:
    """That what disperses in the mix is enough for its oils, by the likely figures of `dispersal`."""
    return Way(PER_SCENT_G[1] * scent.is_scent + PER_FIXED_OIL_G[1] * scent.is_fixed - scent.dispersing)


def film_g(mix: Mix, scent: Scent) -> float:
    """Grams of scent and fixed oil together: the film when nothing disperses."""
    return float(mix.grams[scent.is_scent | scent.is_fixed].sum())


def together(value: float, *spreads: tuple[float, float, float]) -> tuple[float, float]:
    """Low and high of a product of independent factors: spreads (value, low, high) added in quadrature on a log scale."""
    down = math.sqrt(sum(math.log(v / low) ** 2 for v, low, _ in spreads if v > 0 and low > 0))
    up = math.sqrt(sum(math.log(high / v) ** 2 for v, _, high in spreads if v > 0))
    return value * math.exp(-down), value * math.exp(up)


def _line_inputs(mix: Mix, places: list[int], scent: Scent, volumes: bool) -> tuple[Input, ...]:
    inputs = []
    for i in places:
        mixed = mix.lines[i]
        inputs.append(Input(mixed.name, mixed.grams, "g", "; ".join(mixed.sources), mixed.basis))
        if volumes:
            inputs.append(Input(f"density of {mixed.name}", float(scent.density_g_ml[i]), "g/ml"))
    return tuple(inputs)


def _sources(mix: Mix, scent: Scent) -> tuple[str, ...]:
    return sources_of(*(mix.lines[i].sources for i in np.flatnonzero(scent.is_scent)))


def neat_in_carrier(mix: Mix, scent: Scent) -> Figure:
    """Essential oil in the oily phase, v/v, where it is strongest."""
    group = strongest(mix, scent)
    value, low, high = from_draws(in_carrier(scent, group), mix.grams, mix.draws_g)
    who = listed(mix.lines[i].name for i in group.scent)
    into = listed(mix.lines[i].name for i in group.carrier) or "no carrier at all"
    return Figure(
        id="neat_in_carrier_pct",
        value=value,
        unit="% v/v",
        text=f"{who} in {into}: {shown(value)} % by volume. The kitchen rule is at most {shown(RULE_OF_THUMB_PCT)} % "
        "(common practice, no source).",
        working=Working(
            exposure.EQUATIONS["share_by_volume_pct"],
            _line_inputs(mix, [*group.scent, *group.carrier], scent, True),
        ),
        low=low,
        high=high,
        sources=_sources(mix, scent),
        basis="estimate",
    )


def in_product(mix: Mix, scent: Scent) -> Figure:
    """Essential oil in the cured piece, w/w."""

    def compute(grams: Array) -> Array:
        product = (grams * mix.cured_fraction).sum(axis=-1)
        return np.asarray(exposure.share_by_mass_pct(grams[..., scent.is_scent].sum(axis=-1), product))

    value, low, high = from_draws(compute, mix.grams, mix.draws_g)
    places = [int(i) for i in np.flatnonzero(scent.is_scent)]
    product_g = float((mix.grams * mix.cured_fraction).sum())
    return Figure(
        id="in_product_pct",
        value=value,
        unit="% w/w",
        text=f"Scent is {shown(value)} % of the cured piece by mass.",
        working=Working(
            exposure.EQUATIONS["share_by_mass_pct"],
            (*_line_inputs(mix, places, scent, False), Input("cured grams of the whole mix", product_g, "g")),
        ),
        low=low,
        high=high,
        sources=_sources(mix, scent),
        basis="estimate",
    )


def scent_in_bath_g(product: Figure, piece: Piece) -> tuple[float, float, float]:
    """Grams of scent in one bath, with its 90 % interval."""
    share = (float(product.value), float(product.low or 0), float(product.high or 0))
    dose = (piece.per_bath_g.value, piece.per_bath_g.low, piece.per_bath_g.high)
    value = share[0] / 100 * dose[0]
    return (value, *together(value, share, dose))


def in_bath(product: Figure, piece: Piece, tub: Bath) -> Figure:
    """Essential oil in the bath water, all of it mixed in."""
    grams, low_g, high_g = scent_in_bath_g(product, piece)
    value = float(exposure.bath_mg_l(grams, tub.litres))
    # A smaller bath is a stronger one, so the low litres belong to the high end.
    water = (1 / tub.litres, 1 / tub.litres_high, 1 / tub.litres_low)
    low, high = together(value, (grams, low_g, high_g), water)
    return Figure(
        id="in_bath_mg_l",
        value=value,
        unit="mg/l",
        text=f"In {shown(tub.litres, 3)} litres of bath: {shown(value)} mg of scent a litre, if it all mixed in.",
        working=Working(
            exposure.EQUATIONS["bath_mg_l"],
            (
                Input("scent in the cured piece", float(product.value), "%"),
                Input("cured product in one bath", piece.per_bath_g.value, "g"),
                Input(f"litres ({tub.said})", tub.litres, "l", "; ".join(tub.sources), tub.basis),
                Input("smallest plausible litres", tub.litres_low, "l"),
            ),
        ),
        low=low,
        high=high,
        sources=tub.sources,
        basis="estimate",
    )


def film(mix: Mix, scent: Scent, dispersed_pct: float) -> Figure:
    """Worst case on the skin: scent in the floating film if nothing dispersed it."""

    def compute(grams: Array) -> Array:
        return np.asarray(
            exposure.film_pct(grams[..., scent.is_scent].sum(axis=-1), grams[..., scent.is_fixed].sum(axis=-1))
        )

    value, low, high = from_draws(compute, mix.grams, mix.draws_g)
    places = [int(i) for i in np.flatnonzero(scent.is_scent | scent.is_fixed)]
    return Figure(
        id="film_pct",
        value=value,
        unit="% w/w",
        text=f"If nothing dispersed it, the film that floats and meets skin would be {shown(value)} % essential oil."
        + (
            " There is enough solubiliser in the mix to disperse it, by kitchen practice."
            if dispersed_pct >= 100
            else ""
        ),
        working=Working(exposure.EQUATIONS["film_pct"], _line_inputs(mix, places, scent, False)),
        low=low,
        high=high,
        sources=_sources(mix, scent),
        basis="estimate",
    )


def film_on_skin(product: Figure, piece: Piece, catalogue: Catalogue, audience: str) -> Figure:
    """Mass of scent on skin if a whole bath's worth settled evenly on one bather."""
    grams, low_g, high_g = scent_in_bath_g(product, piece)
    sources: tuple[str, ...] = ()
    if audience in CHILD_AUDIENCES:
        small, area, large = CHILD_SKIN_M2
        how = "estimate"
    else:
        fact = catalogue.fact("skin_area_adult")
        area = fact.typical or 0.0
        small, large = fact.min or area, fact.max or area
        how, sources = fact.how_of("typical"), fact.sources_of("typical")
    value = float(exposure.film_mg_cm2(grams, area))
    low, high = together(value, (grams, low_g, high_g), (1 / area, 1 / large, 1 / small))
    return Figure(
        id="film_mg_cm2",
        value=value,
        unit="mg/cm2",
        text=f"If a whole bath's scent settled evenly on one bather: {shown(value)} mg on each square centimetre.",
        working=Working(
            exposure.EQUATIONS["film_mg_cm2"],
            (Input("scent in one bath", grams, "g"), Input("skin", area, "m2", "; ".join(sources), how)),
        ),
        low=low,
        high=high,
        sources=sources,
        basis="estimate",
    )


def dispersal(mix: Mix, scent: Scent) -> tuple[Figure, Figure]:
    """Solubiliser that would disperse the oils of the whole mix, and the share that what is in it can disperse."""
    oil_g = float(mix.grams[scent.is_scent].sum())
    fixed_g = float(mix.grams[scent.is_fixed].sum())
    low, need, high = (
        float(exposure.solubiliser_needed_g(oil_g, fixed_g, per_scent, per_fixed))
        for per_scent, per_fixed in zip(PER_SCENT_G, PER_FIXED_OIL_G, strict=True)
    )
    held = float((mix.grams * scent.dispersing).sum())
    shares = [100 * min(1.0, held / wanted) for wanted in (high, need, low)]
    inputs = (
        Input("essential oil", oil_g, "g"),
        Input("fixed oil and fat", fixed_g, "g"),
        Input(
            "solubiliser a gram of essential oil",
            PER_SCENT_G[1],
            f"g ({PER_SCENT_G[0]}-{PER_SCENT_G[2]})",
            "",
            "estimate",
        ),
        Input(
            "solubiliser a gram of fixed oil",
            PER_FIXED_OIL_G[1],
            f"g ({PER_FIXED_OIL_G[0]}-{PER_FIXED_OIL_G[2]})",
            "",
            "estimate",
        ),
    )
    needed = Figure(
        id="solubiliser_needed_g",
        value=need,
        unit="g",
        text=f"About {shown(need)} g of solubiliser in the whole mix would disperse the oils; anything from {shown(low)} to "
        f"{shown(high)} g may be right, so try a little in a glass of bath water.",
        working=Working(exposure.EQUATIONS["solubiliser_needed_g"], inputs),
        low=low,
        high=high,
        basis="estimate",
        range_kind="span of kitchen practice",
    )
    share = Figure(
        id="dispersed_share_pct",
        value=shares[1],
        unit="%",
        text="Nothing in the mix disperses the oils."
        if held <= 0
        else f"There is enough in the mix to disperse the oils: {shown(held)} g of solubiliser where about {shown(need)} g will do."
        if held >= need
        else "There is too little in the mix to disperse the oils: {} g of solubiliser where it takes about {} g.".format(
            *apart(held, need, 2)
        ),
        working=Working(
            "dispersed % = 100 x solubiliser held / solubiliser needed, at most 100",
            (
                Input("solubiliser held (foaming powders count half)", held, "g", "", "estimate"),
                Input("solubiliser needed", need, "g", "", "estimate"),
            ),
        ),
        low=shares[0],
        high=shares[2],
        basis="estimate",
        range_kind="span of kitchen practice",
    )
    return needed, share


def rule_of_thumb(mix: Mix, catalogue: Catalogue) -> Figure:
    """Drops in a tablespoon of carrier that make the kitchen rule's 3 %."""
    drops = catalogue.measures["drop_eo_per_ml"]
    spoon = catalogue.measures[f"{mix.recipe.measures}_tbsp"]
    spoon_ml = spoon.volume_ml or 0.0
    counts = [
        float(exposure.drops_per_tablespoon(RULE_OF_THUMB_PCT, 1 / per_ml, spoon_ml))
        for per_ml in (drops.value_min or 0, drops.value_typ or 0, drops.value_max or 0)
    ]
    return Figure(
        id="rule_of_thumb_drops_per_tbsp",
        value=counts[1],
        unit="drops",
        text=f"{shown(RULE_OF_THUMB_PCT)} % in a tablespoon ({shown(spoon_ml, 4)} ml) is about {shown(counts[1])} drops at "
        f"{shown(drops.value_typ or 0)} drops a ml. The old rule of eight or nine drops counts 20 a ml.",
        working=Working(
            exposure.EQUATIONS["drops_per_tablespoon"],
            (
                Input("most in the carrier", RULE_OF_THUMB_PCT, "% v/v", "COMMON_PRACTICE", "memory"),
                Input(
                    "drops a ml",
                    drops.value_typ or 0,
                    "drops/ml",
                    "; ".join(drops.sources_of("value_typ")),
                    drops.how_of("value_typ"),
                ),
                Input(
                    "tablespoon", spoon_ml, "ml", "; ".join(spoon.sources_of("volume_ml")), spoon.how_of("volume_ml")
                ),
            ),
        ),
        low=counts[0],
        high=counts[2],
        sources=sources_of(("COMMON_PRACTICE",), drops.sources_of("value_typ"), spoon.sources_of("volume_ml")),
        basis="estimate",
        range_kind="span of droppers",
    )
