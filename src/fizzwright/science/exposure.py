"""Essential oil seen four ways: in the carrier, in the product, in the bath, and in the film that floats to the skin.

An oil dropped into carrier oil is diluted, not dispersed: in water both rise together, so the film is a fifth number
that the first three do not show.
"""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

Array = NDArray[np.float64]
Numbers = float | Array

EQUATIONS: dict[str, str] = {
    "share_by_volume_pct": "share = 100 x oil / (oil + carrier), by volume",
    "share_by_mass_pct": "share = 100 x oil / product, by mass",
    "bath_mg_l": "concentration = 1000 x oil / litres, as if all of it were spread evenly",
    "film_pct": "film = 100 x oil (1 - d) / (oil (1 - d) + carrier), by mass; d the share of the oil that disperses",
    "film_mg_cm2": "load = 1000 x oil / (10,000 x skin m2), as if all of it met the skin",
    "constituent_totals_pct": "total = sum over oils (oil x percent of the constituent in it) / product",
    "solubiliser_needed_g": "solubiliser = oil x parts a part of essential oil + fixed oil x parts a part of fixed oil",
    "drops_per_tablespoon": "drops = tablespoon x percent / 100 / drop",
}


def _amount(name: str, value: Numbers) -> Array:
    """The value as an array; ValueError unless finite and not negative."""
    array = np.asarray(value, dtype=float)
    if not np.all(np.isfinite(array) & (array >= 0)):
        raise ValueError(f"{name} must be a number, zero or more; read {value!r}")
    return array


def _positive(name: str, value: Numbers) -> Array:
    """The value as an array; ValueError unless finite and above zero."""
    array = _amount(name, value)
    if not np.all(array > 0):
        raise ValueError(f"{name} must be above zero; read {value!r}")
    return array


def _percent(part: Array, whole: Array) -> Numbers:
    """100 part / whole, and 0 where there is no whole (nor, then, any part)."""
    part, whole = np.broadcast_arrays(part, whole)
    share: Array = np.divide(100.0 * part, whole, out=np.zeros(part.shape), where=whole > 0)
    return share[()]


def share_by_volume_pct(oil_ml: Numbers, carrier_ml: Numbers) -> Numbers:
    """Essential oil in the oily phase, percent by volume: the number a "3 % dilution" means; 100 with no carrier."""
    oil = _amount("oil_ml", oil_ml)
    return _percent(oil, oil + _amount("carrier_ml", carrier_ml))


def share_by_mass_pct(oil_g: Numbers, product_g: Numbers) -> Numbers:
    """Essential oil in the finished product, percent by mass: the number most limits are written in."""
    oil, product = _amount("oil_g", oil_g), _positive("product_g", product_g)
    if np.any(oil > product * (1 + 1e-9)):
        raise ValueError("there is more oil than product: check that product_g counts the oil too")
    return _percent(oil, product)


def bath_mg_l(oil_g: Numbers, litres: Numbers) -> Numbers:
    """Essential oil in the bath water in mg/l, if it were spread evenly."""
    return (1000.0 * _amount("oil_g", oil_g) / _positive("litres", litres))[()]


def film_pct(oil_g: Numbers, oily_phase_g: Numbers, dispersed_fraction: Numbers = 0.0) -> Numbers:
    """Essential oil in the floating film, percent by mass; 100 with no carrier, 0 with no film.

    oily_phase_g: fixed oils and fats apart from the essential oil. dispersed_fraction: share of the essential oil that
    a solubiliser carries into the water (0, the worst case, without one); the carrier is taken to stay in the film.
    """
    dispersed = _amount("dispersed_fraction", dispersed_fraction)
    if np.any(dispersed > 1):
        raise ValueError(f"dispersed_fraction is a share from 0 to 1; read {dispersed_fraction!r}")
    floating = _amount("oil_g", oil_g) * (1.0 - dispersed)
    return _percent(floating, floating + _amount("oily_phase_g", oily_phase_g))


def film_mg_cm2(oil_g: Numbers, skin_m2: Numbers) -> Numbers:
    """Essential oil a square centimetre of skin would carry if all of it ended there, mg/cm2: an upper bound."""
    return (1000.0 * _amount("oil_g", oil_g) / (_positive("skin_m2", skin_m2) * 10_000.0))[()]


def constituent_totals_pct(oil_g: Numbers, constituent_pct: Array, product_g: Numbers) -> Array:
    """Percent of each constituent in the product, summed over all oils.

    oil_g: shape (..., oils), draws first. constituent_pct: (oils, constituents) or (..., oils, constituents), percent
    of the oil by mass. product_g: shape (...). Returns (..., constituents).
    """
    oils = _amount("oil_g", oil_g)
    shares = _amount("constituent_pct", constituent_pct)
    if shares.ndim < 2 or oils.ndim < 1 or oils.shape[-1] != shares.shape[-2]:
        raise ValueError(
            f"oil_g ends in {oils.shape[-1:]} oils and constituent_pct in {shares.shape[-2:]} (oils, constituents): "
            "both must count the same oils"
        )
    if np.any(shares > 100):
        raise ValueError("a constituent cannot be more than 100 % of its oil")
    totals: Array = np.matmul(oils[..., None, :], shares)[..., 0, :] / _positive("product_g", product_g)[..., None]
    return totals


def solubiliser_needed_g(oil_g: Numbers, fixed_oil_g: Numbers, ratio_oil: Numbers, ratio_fixed: Numbers) -> Numbers:
    """Grams of solubiliser to carry oils into the water: parts by mass a part of essential oil and of fixed oil.

    The ratios differ with every oil and solubiliser; a maker settles them by a trial in a glass of bath-warm water.
    """
    return (
        _amount("oil_g", oil_g) * _amount("ratio_oil", ratio_oil)
        + _amount("fixed_oil_g", fixed_oil_g) * _amount("ratio_fixed", ratio_fixed)
    )[()]


US_TABLESPOON_ML = 14.78676
"""Half a US fluid ounce of 29.57353 ml (NIST Handbook 44, appendix C)."""


def drops_per_tablespoon(pct: Numbers, drop_ml: Numbers, tbsp_ml: Numbers = US_TABLESPOON_ML) -> Numbers:
    """Drops of essential oil in one tablespoon of carrier at pct by volume, not rounded.

    The rule of thumb "3 % is 8 to 9 drops" (common practice, no source) holds for 20 drops a ml, 0.05 ml each; at 30
    drops a ml the same 3 % is 13 drops, and 9 drops are 2 %.
    """
    return (_positive("tbsp_ml", tbsp_ml) * _amount("pct", pct) / 100.0 / _positive("drop_ml", drop_ml))[()]
