"""Bath water while a piece fizzes in it: the pH and the gas over time."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from fizzwright.science.equilibrium import ROOM_PCO2_ATM, BathState, Water, log10_henry, rest, saturation_atm, solve

Array = NDArray[np.float64]

EQUATIONS: dict[str, str] = {
    "fizzing": "of the CO2 that the fizz makes a share rises as bubbles and is gone at once, the rest dissolves; "
    "d(gone)/dt = share x d(CO2 made)/dt + kLa (CO2 - K_H x CO2 of the room)",
}


@dataclass(frozen=True)
class Course:
    """A bath while a piece fizzes in it and after; arrays over time."""

    seconds: Array
    ph: Array
    released_mol_l: Array
    """CO2 given to the air so far, per litre of bath."""
    co2_mol_l: Array
    last: BathState
    """The bath at the last of the times."""


def course(
    water: Water,
    dose: Mapping[str, Array],
    temperature_c: float,
    seconds: Array,
    kla_per_s: float,
    escapes: float,
    room_pco2_atm: float = ROOM_PCO2_ATM,
) -> Course:
    """A bath whose dose comes in over time: `dose` holds what has dissolved by each of `seconds`, mol/l, shape (n,).

    Of the CO2 the fizz makes, the share `escapes` rises at once; the rest dissolves, and what is above saturation
    bubbles off. The loss through the surface is found by repetition, which suits a fizz of minutes; a long rest after it
    is the business of degas.
    """
    kept = solve(water, dose, temperature_c)
    totals, unnamed = dict(kept.totals_mol_l), kept.unnamed_eq_l
    carbonate, dissolved = (np.broadcast_to(x, seconds.shape) for x in (kept.dic_mol_l, kept.co2_mol_l))
    made = np.maximum.accumulate(dissolved)
    at_most = rest(totals, unnamed, temperature_c, saturation_atm(temperature_c))
    fullest = np.broadcast_to(at_most.dic_mol_l, seconds.shape)
    room = room_pco2_atm * 10.0 ** float(log10_henry(temperature_c))
    bubbles = escapes * (made - made[0])
    lost, before = bubbles, np.full_like(made, np.inf)
    state = kept
    for _ in range(12):
        surface = kla_per_s * (dissolved - room)
        each = np.diff(bubbles) + np.diff(seconds) * 0.5 * (surface[1:] + surface[:-1])
        gone = np.zeros_like(made)
        for i, more in enumerate(each, start=1):
            gone[i] = max(gone[i - 1] + more, carbonate[i] - fullest[i])
        lost = np.minimum(gone, carbonate)
        state = rest({**totals, "carbonate": carbonate - lost}, unnamed, temperature_c)
        dissolved = np.asarray(state.co2_mol_l)
        if np.max(np.abs(lost - before)) < 1e-9:
            break
        before = lost
    ends = {name: np.asarray(total)[-1] if np.ndim(total) else total for name, total in totals.items()}
    last = rest({**ends, "carbonate": (carbonate - lost)[-1]}, unnamed, temperature_c)
    return Course(seconds, np.asarray(state.ph), lost, dissolved, last)
