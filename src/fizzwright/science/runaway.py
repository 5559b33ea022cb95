"""A mixed batch that stands open: water in, water made, water lost, fizz spent; and when it begins to feed itself.

One column a batch (or a draw of one), all integrated together: masses in grams, amounts in mol, times in seconds unless
a name says minutes, humidities as fractions of saturation. The batch is taken as well mixed. Water is bound by starch and
crystal surfaces up to a capacity; what is beyond it is a film in which acid and carbonate dissolve and meet. The film is a
saturated solution, so its own humidity, the danger humidity, stays the same while solids last.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass, fields

import numpy as np
from numpy.typing import NDArray

Array = NDArray[np.float64]
Numbers = float | Array

WATER_G_MOL = 18.015

EQUATIONS: dict[str, str] = {
    "water": "dw/dt = G (RH - a) + water added + 18.015 r; a = danger x min(w / bound, 1), G = air film x surface x "
    "vapour density at saturation",
    "bound": "bound = capacity + hydrate share x 18.015 x CO2 so far; film = max(w - bound, 0)",
    "fizz": "r = d CO2/dt = k film [w / (w + alcohol)] (1 - spent); spent = CO2 so far / CO2 the mix can free",
    "alcohol": "alcohol = alcohol at the start x exp(-t / lifetime)",
    "onset": "first moment at which the film gains more from the reaction than the air takes, "
    "(1 - hydrate share) 18.015 r > max(G (a - RH), 0), while r grows; none when less than a fifth of the fizz goes in all",
}
NO_FIZZ_MOL = 1e-9
"""A batch that can free less than this (a fortieth of a microlitre) counts as one that frees nothing."""
RUNS_AWAY = 0.2
"""Share of the fizz that must go within the time looked at for a self-feeding batch to count as run away: a film that feeds
itself for a while may yet dry out."""


@dataclass(frozen=True, slots=True)
class Batch:
    """What stands in the bowl and the air over it; every field broadcasts against the others."""

    fizz_mol: Numbers
    """Mol of CO2 the mix can free; each makes a mol of water (neutralisation.react)."""
    capacity_g: Numbers
    """Water the mix binds harmlessly in air at its danger humidity; more than zero."""
    water_g: Numbers
    """All water in it at the start, bound or not (hydrate water of its salts apart)."""
    alcohol_g: Numbers
    alcohol_lifetime_s: Numbers
    """Time in which the alcohol falls to 37 %."""
    rate_mol_g_s: Numbers
    """k: mol of CO2 a second in a gram of film without alcohol, at this warmth."""
    hydrate_share: Numbers
    """Share of the water made that the new salt builds into its crystals, 0 to 1."""
    air_g_s: Numbers
    """G: water the air would bring in a second if it were saturated and the mix bone dry."""
    humidity: Numbers
    danger: Numbers
    """Humidity over the film, more than 0, at most 1."""
    added_g_s: Numbers = 0.0
    """Water that fresh binder brings, spread over the time."""

    def columns(self) -> dict[str, Array]:
        """All fields as arrays of one flat shape; ValueError for a value no batch has."""
        wide = np.broadcast_arrays(*(np.asarray(getattr(self, f.name), dtype=float) for f in fields(self)))
        found = {f.name: array.ravel() for f, array in zip(fields(self), wide, strict=True)}
        above = {"capacity_g", "alcohol_lifetime_s", "danger"}
        for name, array in found.items():
            top = 1.0 if name in ("hydrate_share", "humidity", "danger") else np.inf
            bad = ~((array > 0 if name in above else array >= 0) & (array <= top) & np.isfinite(array))
            if bad.any():
                span = f"{'above 0' if name in above else '0 or more'}{', at most 1' if top == 1.0 else ''}"
                raise ValueError(f"{name}: read {float(array[bad][0]):g}; allowed is {span}")
        return found

    @property
    def shape(self) -> tuple[int, ...]:
        """The shape all fields broadcast to."""
        return np.broadcast_shapes(*(np.shape(getattr(self, f.name)) for f in fields(self)))


class _Law:
    """The right side of the equations on flat columns; y is (water, spent share), shape (2, columns)."""

    def __init__(self, of: dict[str, Array]) -> None:
        mol = of["fizz_mol"]
        self.humidity, self.danger, self.air = of["humidity"], of["danger"], of["air_g_s"]
        self.capacity, self.added, self.alcohol = of["capacity_g"], of["added_g_s"], of["alcohol_g"]
        self.per_s = 1.0 / of["alcohol_lifetime_s"]
        self.made = WATER_G_MOL * mol
        self.hydrate = of["hydrate_share"] * self.made
        self.rate = np.divide(of["rate_mol_g_s"], mol, out=np.zeros_like(mol), where=mol > NO_FIZZ_MOL)

    def take(self, keep: NDArray[np.intp]) -> _Law:
        """The same law for some of the columns."""
        some = object.__new__(_Law)
        for name, array in vars(self).items():
            setattr(some, name, array[keep])
        return some

    def flux(self, y: Array) -> Array:
        """Water the air brings (or takes, below zero), g/s."""
        fill = np.minimum(y[0] / (self.capacity + self.hydrate * y[1]), 1.0)
        return np.asarray(self.air * (self.humidity - self.danger * fill))

    def slope(self, t: Array, y: Array) -> Array:
        """dy/dt."""
        water, spent = y
        bound = self.capacity + self.hydrate * spent
        alcohol = self.alcohol * np.exp(-t * self.per_s)
        share = water / np.maximum(water + alcohol, 1e-30)
        fizz = self.rate * np.maximum(water - bound, 0.0) * share * (1.0 - spent)
        flux = self.air * (self.humidity - self.danger * np.minimum(water / bound, 1.0))
        return np.stack([flux + self.added + self.made * fizz, fizz])

    def bends(self, t: Array, y: Array) -> tuple[Array, Array, Array, Array, Array]:
        """The Jacobian (ww, ws, sw, ss) and the part of d2(spent)/dt2 that comes from the clock alone."""
        water, spent = y
        bound = self.capacity + self.hydrate * spent
        alcohol = self.alcohol * np.exp(-t * self.per_s)
        liquid = np.maximum(water + alcohol, 1e-30)
        film = np.maximum(water - bound, 0.0)
        wet = water > bound
        share, left = water / liquid, 1.0 - spent
        sw = self.rate * left * (share * wet + film * alcohol / liquid**2)
        ss = -self.rate * share * (film + left * self.hydrate * wet)
        dry = np.where(wet, 0.0, self.air * self.danger / bound)
        clock = self.rate * left * film * share / liquid * alcohol * self.per_s
        return self.made * sw - dry, self.made * ss + dry * water / bound * self.hydrate, sw, ss, clock


# Rodas4 of Hairer & Wanner, Solving Ordinary Differential Equations II, 2nd ed. 1996, sec. IV.10 (basis: memory; the tests
# measure its order): six stages, fourth order with a third-order companion, L-stable.
_GAMMA = 0.25
_AT = (0.0, 0.386, 0.21, 0.63, 1.0, 1.0)
_CLOCK = (0.25, -0.1043, 0.1035, -0.0362, 0.0, 0.0)
_LAST = (1.221224509226641, 6.019134481288629, 12.53708332932087, -0.6878860361058950)
_A: tuple[tuple[float, ...], ...] = (
    (),
    (1.544,),
    (0.9466785280815826, 0.2557011698983284),
    (3.314825187068521, 2.896124015972201, 0.9986419139977817),
    _LAST,
    (*_LAST, 1.0),
)
_C: tuple[tuple[float, ...], ...] = (
    (),
    (-5.6688,),
    (-2.430093356833875, -0.2063599157091915),
    (-0.1073529058151375, -9.594562251023355, -20.47028614809616),
    (7.496443313967647, -10.24680431464352, -33.99990352819905, 11.70890893206160),
    (8.083246795921522, -7.981132988064893, -31.52159432874371, 16.31930543123136, -6.058818238834054),
)
_SMALLEST_STEP = 1e-6
"""Of the whole time: a step as short as this is taken whatever its error, so that the sum always ends."""


def _step(law: _Law, t: Array, y: Array, slope: Array, h: Array) -> tuple[Array, Array]:
    """One step of Rodas4 of each column's own length: the new y and its error."""
    ww, ws, sw, ss, clock = law.bends(t, y)
    shift = 1.0 / (_GAMMA * h)
    a, d = shift - ww, shift - ss
    scale = 1.0 / (a * d - ws * sw)
    stages: list[Array] = []
    total = y
    for at, by_clock, ahead, mixed in zip(_AT, _CLOCK, _A, _C, strict=True):
        if stages:
            total = y + sum(c * u for c, u in zip(ahead, stages, strict=True))
            right = law.slope(t + at * h, total) + sum(c * u for c, u in zip(mixed, stages, strict=True)) / h
        else:
            right = slope.copy()
        if by_clock:
            # the clock acts on the fizz, and through it on the water made
            pull = by_clock * h * clock
            right[0] += law.made * pull
            right[1] += pull
        stages.append(np.stack([d * right[0] + ws * right[1], sw * right[0] + a * right[1]]) * scale)
    return total + stages[-1], stages[-1]


@dataclass(frozen=True)
class Course:
    """How a batch fares: knots of each column in time, with a cubic between any two; see its methods."""

    law: _Law
    shape: tuple[int, ...]
    seconds: Array
    """Shape (knots, columns), rising; a column that is done repeats its last knot."""
    y: Array
    """(water g, share of the fizz spent) at the knots: shape (knots, 2, columns)."""
    slopes: Array

    def _between(self, after: NDArray[np.intp], column: NDArray[np.intp]) -> Callable[[Array], Array]:
        """y by time, between knot after - 1 and knot after of a column; y comes first on the answer's axes."""
        start = self.seconds[after - 1, column]
        span = self.seconds[after, column] - start
        per_s = 1.0 / np.where(span > 0, span, 1.0)
        y0, s0 = (np.moveaxis(of[after - 1, :, column], -1, 0) for of in (self.y, self.slopes))
        y1, s1 = (np.moveaxis(of[after, :, column], -1, 0) for of in (self.y, self.slopes))
        rise, s0, s1 = y1 - y0, s0 * span, s1 * span
        square, cube = 3 * rise - 2 * s0 - s1, s0 + s1 - 2 * rise

        def at(t: Array) -> Array:
            u = np.clip((t - start) * per_s, 0.0, 1.0)
            return np.asarray(((cube * u + square) * u + s0) * u + y0)

        return at

    def _at(self, minutes: Numbers) -> Array:
        asked = 60.0 * np.atleast_1d(np.asarray(minutes, dtype=float))
        last = float(self.seconds[-1].min())
        if asked.ndim != 1 or not np.all((asked >= 0) & (asked <= last * (1 + 1e-12))):
            raise ValueError(f"minutes: from 0 to {last / 60:g}, in one row")
        columns = np.arange(self.seconds.shape[1])
        after = np.clip((self.seconds[None] < asked[:, None, None]).sum(axis=1), 1, len(self.seconds) - 1)
        return self._between(after, np.broadcast_to(columns, after.shape))(asked[:, None])

    def _shaped(self, values: Array, minutes: Numbers) -> Array:
        return values.reshape(np.shape(minutes) + self.shape)

    def spent(self, minutes: Numbers) -> Array:
        """Share of the fizz spent after so many minutes, 0 to 1; shape of minutes, then of the batch."""
        return self._shaped(np.clip(self._at(minutes)[1], 0.0, 1.0), minutes)

    def water_g(self, minutes: Numbers) -> Array:
        """All water in the mix after so many minutes, bound or not."""
        return self._shaped(self._at(minutes)[0], minutes)

    def film_g(self, minutes: Numbers) -> Array:
        """Water beyond what the mix binds."""
        y = self._at(minutes)
        return self._shaped(np.maximum(y[0] - self.law.capacity - self.law.hydrate * y[1], 0.0), minutes)

    def _first(self, holds: Callable[[_Law, Array, Array], NDArray[np.bool_]]) -> Array:
        """Seconds at which something first holds, by knots and then by halving; infinite where it never does."""
        told = holds(self.law, self.seconds, np.moveaxis(self.y, 1, 0))
        first = told.argmax(axis=0)
        found = np.full(self.seconds.shape[1], np.inf)
        found[told[0]] = 0.0
        at = np.flatnonzero(told.any(axis=0) & ~told[0])
        if not at.size:
            return found
        after, law = first[at], self.law.take(at)
        between = self._between(after, at)
        low, high = self.seconds[after - 1, at], self.seconds[after, at]
        for _ in range(20):
            middle = (low + high) / 2
            yes = holds(law, middle, between(middle))
            low, high = np.where(yes, low, middle), np.where(yes, middle, high)
        found[at] = high
        return found

    def minutes_until(self, share: float) -> Array:
        """Minutes until this share of the fizz is spent; infinite when it is not within the time looked at."""
        return (self._first(lambda _, t, y: y[1] >= share) / 60.0).reshape(self.shape)

    @property
    def onset_min(self) -> Array:
        """Minutes until the batch feeds itself, as EQUATIONS["onset"] says; infinite when it never does."""
        onset = np.where(self.y[-1, 1] >= RUNS_AWAY, self._first(_feeds_itself), np.inf)
        return (onset / 60.0).reshape(self.shape)


def _feeds_itself(law: _Law, t: Array, y: Array) -> NDArray[np.bool_]:
    slope = law.slope(t, y)
    _, _, sw, ss, clock = law.bends(t, y)
    faster = sw * slope[0] + ss * slope[1] + clock > 0
    return np.asarray(((law.made - law.hydrate) * slope[1] > np.maximum(-law.flux(y), 0.0)) & faster)


def stand(batch: Batch, minutes: float, rtol: float = 1e-6) -> Course:
    """Let batches stand open for so many minutes; rtol is the error allowed a step, relative.

    Every column takes steps of its own length, all columns at once; runaway is an answer like any other.
    """
    if not (np.isfinite(minutes) and minutes > 0):
        raise ValueError(f"minutes: read {minutes:g}; allowed is more than 0")
    columns = batch.columns()
    law, end = _Law(columns), 60.0 * minutes
    size = columns["water_g"].size
    small = np.stack([columns["capacity_g"] + columns["water_g"], np.ones(size)]) * (0.01 * rtol)
    t, y = np.zeros(size), np.stack([columns["water_g"], np.zeros(size)])
    slope = law.slope(t, y)
    h = np.full(size, end / 50.0)
    knots: tuple[list[Array], list[Array], list[Array]] = ([t], [y], [slope])
    while np.any(t < end):
        h = np.where(t < end, np.minimum(np.maximum(h, _SMALLEST_STEP * end), end - t), end)
        # a step far too long may overflow; it is refused like any other that errs too much
        with np.errstate(over="ignore", invalid="ignore"):
            new, error = _step(law, t, y, slope, h)
        off = np.sqrt(np.mean((error / (small + rtol * np.maximum(np.abs(y), np.abs(new)))) ** 2, axis=0))
        off = np.where(np.isfinite(off), off, 1e9)
        good = ((off <= 1.0) | (h <= _SMALLEST_STEP * end)) & (t < end)
        near = good & (h >= end - t)
        t = np.where(near, end, np.where(good, t + h, t))
        y = np.where(good & (off < 1e9), np.stack([np.maximum(new[0], 0.0), np.clip(new[1], y[1], 1.0)]), y)
        slope = law.slope(t, y)
        h = h * np.clip(0.9 * np.maximum(off, 1e-10) ** -0.25, 0.2, 6.0)
        for list_, value in zip(knots, (t, y, slope), strict=True):
            list_.append(value)
    return Course(law, batch.shape, np.stack(knots[0]), np.stack(knots[1]), np.stack(knots[2]))
