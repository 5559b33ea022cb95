"""What the colours of a mix do to light: dissolved in bath water, hanging in it, or dry in the piece; and colours in words."""

from __future__ import annotations

import re
from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray

from fizzwright.catalogue import Catalogue
from fizzwright.catalogue.model import Dye, Material
from fizzwright.recipe.mix import Mix
from fizzwright.review.colours import is_colour
from fizzwright.review.views import dispersal, scent_of
from fizzwright.science import tint

Array = NDArray[np.float64]

UNCOLOURED = "#f3efe6"
"""sRGB of a dry piece without colour: bicarbonate, citric acid and starch, a shade warmer than paper (estimate)."""
ENAMEL = 0.8
"""estimate: share of light that white enamel or acrylic throws back."""
WATER_PLAN_M2 = 0.5
"""estimate: surface of the water in a common tub, about 1.2 by 0.42 m inside: 150 l stand 0.3 m deep."""
SHALLOWEST_M, DEEPEST_M = 0.09, 0.45
"""estimate: a baby bath is filled 8 to 10 cm deep (fact baby_depth); tubs that hold more than the second are wider."""
LAKE_DYE_PCT, LAKE_BLEEDS_PCT, LAKE_M2_G = 25.0, 30.0, 0.2
"""estimate: a lake holds a tenth to two fifths of its dye; it keeps it at pH 4 to 9 but bleeds a little in warm salt water."""
MILK_M2_G = 0.05
"""estimate: light that a gram of oil throws back once an emulsifier has made droplets of it."""
POWDER_PER_M, POWDER_G_M3, SPECKS = 2.0e4, 1.0e6, 0.2
"""estimate: light that packed white powder of grains near 0.05 mm throws back, a metre; its density; and how much less a
dye colours as dry specks than dissolved."""
JUST_SEEN = 0.02
"""estimate: distance in Oklab from which two colours side by side are told apart."""


@dataclass(frozen=True)
class Colouring:
    """What each line of a mix does to light, for one milligram of it in a litre of water."""

    dyes: tuple[Dye | None, ...]
    """How each line takes light; None where it does nothing that is held."""
    unknown: tuple[Material, ...]
    """Colours that nothing is held of."""
    absorbs: Array
    """Shape (lines, wavelengths), per metre."""
    throws_back: Array
    """Shape (lines,), per metre."""
    dissolves: Array
    """Milligrams of the colour itself that go into solution from each milligram; shape (lines,)."""
    dispersed: float
    """Share of the oils that the mix disperses, 0 to 1."""

    def of_kind(self, *kinds: str) -> dict[str, Dye]:
        """The colours of these kinds by id."""
        return {d.id: d for d in self.dyes if d is not None and d.kind in kinds}

    def mask(self, dye_id: str) -> NDArray[np.bool_]:
        """Which lines are that colour; shape (lines,)."""
        return np.array([d is not None and d.id == dye_id for d in self.dyes], dtype=bool)


def dye_of(material: Material, catalogue: Catalogue) -> Dye | None:
    """How a material takes light: by its own row, else by that of its colour index number; a lake is reckoned from its dye."""
    own = catalogue.dyes.get(material.id)
    number = re.search(r"\bCI \d{5}", f"{material.inci} {material.inci_eu}")
    if own is not None or number is None:
        return own
    kin = [m.id for m in catalogue.materials.values() if m.id in catalogue.dyes and number[0] in m.inci_eu]
    if not kin:
        return None
    dye = replace(catalogue.dyes[kin[0]], id=material.id, name=material.name)
    if dye.kind != "dye" or "lake" not in f"{material.name} {material.inci}".casefold().split():
        return dye
    return replace(
        dye,
        kind="pigment",
        purity_pct=LAKE_DYE_PCT,
        dissolves_pct=LAKE_BLEEDS_PCT,
        absorbs_m2_g=LAKE_M2_G,
        scatters_m2_g=LAKE_M2_G / 4,
        how={"": "estimate"},
    )


def spectrum(dye: Dye) -> Array:
    """How a colour takes light over the wavelengths, 1 at its peak; shape (wavelengths,)."""
    taken = tint.shape(dye.shape, dye.peak_nm or 0.0, dye.short_nm or 1.0, dye.long_nm or 1.0)
    if dye.peak2_nm and dye.short2_nm and dye.long2_nm:
        taken = taken + (dye.share2 or 0.0) * tint.shape("band", dye.peak2_nm, dye.short2_nm, dye.long2_nm)
    return taken


def colouring(mix: Mix, catalogue: Catalogue) -> Colouring:
    """What each line of a mix does to light."""
    scent = scent_of(mix)
    oily = scent.is_scent | scent.is_fixed
    dispersed = float(dispersal(mix, scent)[1].value) / 100 if oily.any() else 0.0
    dyes = tuple(dye_of(m.material, catalogue) if m.material is not None else None for m in mix.lines)
    unknown = {
        m.id: m.material
        for m, dye in zip(mix.lines, dyes, strict=True)
        if m.material is not None and dye is None and is_colour(m.material)
    }
    absorbs = np.zeros((len(dyes), len(tint.WAVELENGTHS_NM)))
    dissolves = np.zeros(len(dyes))
    throws: Array = MILK_M2_G * dispersed * oily.astype(float)
    for i, dye in enumerate(dyes):
        if dye is None:
            continue
        # what dissolves in the oil colours the water only as far as the oil is dispersed in it
        share = dispersed if dye.kind == "oil" else dye.dissolves_pct / 100
        dissolves[i] = dye.purity_pct / 100 * share
        taken = tint.absorbed_per_m(dissolves[i], dye.e1pct_1cm or 0.0) + (dye.absorbs_m2_g or 0.0)
        absorbs[i] = taken * spectrum(dye)
        throws[i] = dye.scatters_m2_g or 0.0
    return Colouring(dyes, tuple(unknown.values()), absorbs, throws, dissolves, dispersed)


def depth_m(litres: float) -> float:
    """How deep the water stands in a common tub (estimate)."""
    return min(max(litres / 1000 / WATER_PLAN_M2, SHALLOWEST_M), DEEPEST_M)


def water_rgb(colours: Colouring, mg_l: Array, depth: float) -> Array:
    """sRGB (..., 3) of bath water that holds mg_l (..., lines) of each line, over a white tub."""
    absorbs = tint.WATER_PER_M + mg_l @ colours.absorbs
    throws = (mg_l @ colours.throws_back)[..., None]
    return tint.srgb(np.minimum(tint.seen(absorbs, throws, depth, ENAMEL) / ENAMEL, 1.0))


def dry_colours(mix: Mix, catalogue: Catalogue) -> dict[str, str]:
    """Part -> sRGB hex of the dry piece as it is pressed: its powders mixed, an estimate; near white when uncoloured."""
    found = {}
    for part in dict.fromkeys(m.part for m in mix.lines):
        places = [i for i, m in enumerate(mix.lines) if m.part == part]
        part_g = float(mix.grams[places].sum())
        absorbs = np.zeros(len(tint.WAVELENGTHS_NM))
        throws = POWDER_PER_M
        for i in places:
            material = mix.lines[i].material
            dye = dye_of(material, catalogue) if material is not None else None
            if dye is None or part_g <= 0:
                continue
            g_m3 = POWDER_G_M3 * float(mix.grams[i]) / part_g
            dissolved = SPECKS * tint.absorbed_per_m(dye.purity_pct / 100, dye.e1pct_1cm or 0.0)
            absorbs = absorbs + g_m3 * (dissolved + (dye.absorbs_m2_g or 0.0)) * spectrum(dye)
            throws += g_m3 * (dye.scatters_m2_g or 0.0)
        found[part] = tint.to_hex(tint.srgb(tint.heap(absorbs, throws)) * tint.from_hex(UNCOLOURED))
    return found


_HUES = (
    (15.0, "pink", "crimson"),
    (40.0, "salmon pink", "red"),
    (75.0, "apricot", "orange"),
    (97.0, "straw yellow", "golden yellow"),
    (118.0, "yellow", "yellow"),
    (133.0, "yellow-green", "yellow-green"),
    (165.0, "green", "green"),
    (190.0, "sea green", "sea green"),
    (215.0, "turquoise", "turquoise"),
    (275.0, "blue", "blue"),
    (318.0, "lilac", "violet"),
    (345.0, "mauve", "magenta"),
    (360.0, "pink", "crimson"),
)
"""Hue angle in Oklab up to which a colour has its pale and its full name (our own choice, after plain English)."""
PALE_FROM, PALE_CHROMA, GREY_BELOW = 0.8, 0.12, 0.02
_GREYS = ((0.93, "near white"), (0.75, "pale grey"), (0.45, "grey"), (0.25, "dark grey"), (0.0, "near black"))
CLOUDY_FROM, MILKY_FROM = 0.3, 1.0
"""estimate: S times depth from which the floor of the tub blurs, and from which it is as good as hidden."""


def words(rgb: Array) -> str:
    """A colour in plain words, from where it stands in Oklab: how light, how strong, and the hue's plain name."""
    return _named(*tint.oklch(rgb).tolist())


def _named(light: float, chroma: float, hue: float) -> str:
    if chroma < GREY_BELOW:
        return next(name for least, name in _GREYS if light >= least)
    if 30.0 <= hue < 110.0 and chroma < 0.13 and light < (0.82 if chroma < 0.09 else 0.62):
        return "sandy brown" if light >= 0.62 else "brown" if light >= 0.4 else "dark brown"
    is_pale = light >= PALE_FROM and chroma < PALE_CHROMA
    name = next(pale if is_pale else full for up_to, pale, full in _HUES if hue <= up_to)
    if is_pale:
        return f"{'very pale' if chroma < 0.05 else 'pale'} {name}"
    if light < 0.62 and 180.0 <= hue < 225.0:
        name = "teal"
    if light >= 0.65 and name == "crimson":
        name = "pink"
    if light < 0.45:
        return f"{'very dark' if light < 0.22 else 'deep'} {name}"
    return f"greyish {name}" if chroma < 0.06 else name


def water_words(rgb: Array, plain: Array, hidden: Array) -> list[str]:
    """Baths in words, one a row of rgb (n, 3); `plain` is the bath with nothing in it, `hidden` (n,) is S times depth."""
    changed = np.asarray(tint.apart(rgb, plain)) >= JUST_SEEN
    found = []
    for place, cloud, differs in zip(tint.oklch(rgb).tolist(), hidden.tolist(), changed.tolist(), strict=True):
        haze = "milky" if cloud >= MILKY_FROM else "cloudy" if cloud >= CLOUDY_FROM else ""
        named = _named(*place)
        if not differs or named == "near white":
            named = "white" if haze else "almost clear" if differs else "clear"
        found.append(f"{haze} {named}".strip())
    return found
