"""A damp batch left standing, 10,000 draws at once, against a loop over scipy.integrate.solve_ivp (at least 50 times)."""

from __future__ import annotations

import math
from time import perf_counter

import numpy as np
from scipy.integrate import solve_ivp

from fizzwright.science.runaway import Batch, stand

DRAWS, LOOPED = 10_000, 150
MINUTES = np.array([5.0, 20.0, 60.0, 120.0, 240.0])
AT_LEAST, AGREE = 50.0, 1e-4


def draws(count: int) -> dict[str, np.ndarray]:
    """Batches from bone dry to foaming over, the same on every run."""
    rng = np.random.default_rng(2026)

    def ratio(low: float, high: float) -> np.ndarray:
        return np.exp(rng.uniform(np.log(low), np.log(high), count))

    kilos = ratio(0.1, 5)
    return {
        "fizz_mol": 4.5 * kilos,
        "capacity_g": ratio(1, 25) * kilos,
        "water_g": ratio(1, 40) * kilos,
        "alcohol_g": rng.uniform(0, 30, count) * kilos,
        "alcohol_lifetime_s": ratio(300, 6000),
        "rate_mol_g_s": ratio(5e-6, 5e-4),
        "hydrate_share": rng.uniform(0, 0.66, count),
        "air_g_s": ratio(5e-4, 8e-3) * kilos ** (2 / 3),
        "humidity": rng.uniform(0.2, 0.95, count),
        "danger": rng.uniform(0.3, 0.7, count),
    }


def alone(of: dict[str, float], method: str, rtol: float) -> np.ndarray:
    """One batch by scipy, with the right side in plain floats, the quickest it has without other tools."""
    capacity, made = of["capacity_g"], 18.015 * of["fizz_mol"]
    hydrate, rate, air = of["hydrate_share"] * made, of["rate_mol_g_s"] / of["fizz_mol"], of["air_g_s"]
    alcohol_g, per_s, humidity, danger = of["alcohol_g"], 1 / of["alcohol_lifetime_s"], of["humidity"], of["danger"]

    def slope(t: float, y: np.ndarray) -> tuple[float, float]:
        water, spent = float(y[0]), float(y[1])
        bound = capacity + hydrate * spent
        alcohol = alcohol_g * math.exp(-t * per_s)
        fizz = rate * max(water - bound, 0.0) * water / max(water + alcohol, 1e-30) * (1.0 - spent)
        return air * (humidity - danger * min(water / bound, 1.0)) + made * fizz, fizz

    start, seconds = [of["water_g"], 0.0], 60 * MINUTES
    small = [rtol * 0.01 * capacity, rtol * 0.01]
    return np.asarray(solve_ivp(slope, (0, seconds[-1]), start, method, seconds, rtol=rtol, atol=small).y)


def main() -> bool:
    """Print the ratios, each side at the coarsest power of ten at which it agrees to 1e-4; True when the promise holds.

    Agreement is relative, in water and in the share spent, with solve_ivp at 1e-12 on the sample; a share below a thousandth
    counts as a thousandth.
    """
    of = draws(DRAWS)
    batch = Batch(**of)
    sample = range(0, DRAWS, DRAWS // LOOPED)
    some = [{name: float(values[i]) for name, values in of.items()} for i in sample]
    exact = np.stack([alone(one, "LSODA", 1e-12) for one in some], axis=-1)

    def off(values: np.ndarray) -> float:
        return float((np.abs(values - exact) / np.maximum(np.abs(exact), 1e-3)).max())

    ours, mine, water_spent = np.inf, np.inf, np.zeros(())
    for rtol in 10.0 ** -np.arange(4, 10):
        for again in range(3):
            start = perf_counter()
            water_spent = np.stack(stand(batch, 240.0, rtol).at(MINUTES))
            ours = min(ours, perf_counter() - start) if again else perf_counter() - start
        mine = off(water_spent[:, :, sample])
        if mine <= AGREE:
            break
    wild = int((water_spent[1, -1] > 0.5).sum())
    print(f"standing batch, {DRAWS} draws ({wild} lose more than half): {ours:.3f} s at {rtol:.0e}, off by {mine:.1e}")
    ratios = []
    for method in ("RK45", "LSODA"):
        for rtol in 10.0 ** -np.arange(6, 11):
            start = perf_counter()
            looped = np.stack([alone(one, method, rtol) for one in some], axis=-1)
            theirs = (perf_counter() - start) * DRAWS / len(some)
            if off(looped) <= AGREE:
                break
        ratios.append(theirs / ours)
        print(
            f"  a loop over solve_ivp({method}{', its default' if method == 'RK45' else ''}): {theirs:.1f} s at {rtol:.0e}, off by "
            f"{off(looped):.1e} (scaled from {len(some)}) = {ratios[-1]:.0f} x; asked at least {AT_LEAST:.0f} x"
        )
    return mine <= AGREE and min(ratios) >= AT_LEAST


if __name__ == "__main__":
    raise SystemExit(0 if main() else 1)
