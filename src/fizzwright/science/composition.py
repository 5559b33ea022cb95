"""Shares that must add up: what one lot of an oil may be made of, each share in its own range and all of them the whole oil."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

Array = NDArray[np.float64]

EQUATIONS: dict[str, str] = {
    "triangular": "x = low + sqrt(u (high - low)(mode - low)) up to the mode, high - sqrt((1 - u)(high - low)(high - mode)) above",
    "closed": "share = low + (high - low) t o / (1 + t o), o = (x - low) / (high - x); one t a draw, so that the shares add up",
}
ROUNDS = 60
CLOSE = 1e-10
"""Error of the sum, as a share of the whole, at which the search for the multiplier ends."""
LEAST = 1e-12
"""Odds stay this far from nought and from endless, so that no share is stuck at the end of its range."""


def triangular(uniform: Array, low: Array, mode: Array, high: Array) -> Array:
    """Draws of triangular spreads from draws between 0 and 1 (Kotz & van Dorp, Beyond Beta, 2004, ch. 1).

    uniform: (..., parts); low, mode, high: (parts,), rising. Where low and high are the same, that.
    """
    width = high - low
    if np.any(width < 0) or np.any(mode < low) or np.any(mode > high):
        raise ValueError("each range needs low, mode and high in rising order")
    turn = np.divide(mode - low, width, out=np.zeros_like(width), where=width > 0)
    rising = low + np.sqrt(uniform * width * (mode - low))
    falling = high - np.sqrt((1.0 - uniform) * width * (high - mode))
    return np.asarray(np.where(uniform <= turn, rising, falling))


def closed(shares: Array, low: Array, high: Array, total: float = 100.0) -> Array:
    """The shares moved so that each draw adds up to `total`, none leaving its range: one multiplier a draw on all odds.

    shares: (..., parts) between low and high (parts,). What is nearer the end of its range moves less, and what is known
    does not move, so two shares of one oil draw apart by themselves: more of one is less of the others. ValueError when
    the ranges cannot add up to the total: sum(low) above it, or sum(high) below.
    """
    least, most = float(np.sum(low)), float(np.sum(high))
    slack = CLOSE * total
    if least > total + slack or most < total - slack:
        raise ValueError(f"shares between {least:g} and {most:g} in all cannot add up to {total:g}")
    width = np.asarray(high - low, dtype=float)
    free = width > 0
    result = np.array(np.broadcast_to(low, shares.shape), dtype=float)
    if not free.any():
        return result
    width, start = width[free], low[free]
    place = np.clip((shares[..., free] - start) / width, LEAST, 1.0 - LEAST)
    odds = place / (1.0 - place)
    wanted = total - least
    if not slack < wanted < most - least - slack:
        result[..., free] = start + (width if wanted > slack else 0.0)
        return result
    # Newton on the logarithm of the multiplier, held inside a bracket: the sum rises with it from sum(low) to sum(high)
    power = np.zeros(odds.shape[:-1])
    bottom, top = np.full_like(power, -80.0), np.full_like(power, 80.0)
    share = place
    for _ in range(ROUNDS):
        lifted = odds * np.exp(power)[..., None]
        share = lifted / (1.0 + lifted)
        # no @ here: it would share one small sum among threads, whose number must not bear on the answer
        error = np.einsum("...i,i->...", share, width) - wanted
        if np.max(np.abs(error)) <= slack:
            break
        bottom = np.where(error < 0, power, bottom)
        top = np.where(error > 0, power, top)
        slope = np.einsum("...i,i->...", share * (1.0 - share), width)
        step = np.divide(error, slope, out=np.full_like(error, np.inf), where=slope > 0)
        trial = power - step
        power = np.where((trial > bottom) & (trial < top), trial, 0.5 * (bottom + top))
    result[..., free] = start + width * share
    return result
