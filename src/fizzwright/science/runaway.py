"""A mixed batch that stands open: water in, water made, water lost, fizz spent; and when it begins to feed itself.

One column a batch (or a draw of one), all integrated together: masses in grams, amounts in mol, times in seconds unless
a name says minutes, humidities as fractions of saturation. The batch is taken as well mixed. Water is bound by starch and
crystal surfaces up to a capacity; what is beyond it is a film in which acid and carbonate dissolve and meet. The film is a
saturated solution, so its own humidity, the danger humidity, stays the same while solids last.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass, fields
from itertools import count

import numpy as np
from numpy.typing import NDArray

from fizzwright.science.damp_law import Law, plain_step, stiff_step

Array = NDArray[np.float64]
Numbers = float | Array

EQUATIONS: dict[str, str] = {
    "water": "dw/dt = G (RH - a) + water added + 18.015 r; a = danger x min(w / bound, 1), G = air film x surface x "
    "vapour density at saturation",
    "bound": "bound = capacity + hydrate share x 18.015 x CO2 so far; film = max(w - bound, 0)",
    "fizz": "r = d CO2/dt = k film [w / (w + alcohol)] (1 - spent); spent = CO2 so far / CO2 the mix can free",
    "alcohol": "alcohol = alcohol at the start x exp(-t / lifetime)",
    "onset": "first moment at which the film gains more from the reaction than the air takes, "
    "(1 - hydrate share) 18.015 r > max(G (a - RH), 0), while r grows; none when less than a fifth of the fizz goes in all",
}
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


_SMALLEST_STEP = 1e-12
"""Of the whole time: a step as short as this is taken whatever its error, so that the sum always ends."""
_PLAIN_ROUNDS = 150
"""A batch that is not through after so many steps is stiff, and goes on with the method for stiff ones."""


@dataclass(frozen=True)
class Course:
    """How a batch fares: the steps of all columns one after another, with a curve between any two; see its methods."""

    law: Law
    shape: tuple[int, ...]
    end_s: float
    column: NDArray[np.intp]
    """Which column each step belongs to, rising; in one column time rises from 0 to the end. Shape (steps,)."""
    seconds: Array
    y: Array
    """(water g, share of the fizz spent) at the steps: shape (2, steps)."""
    slopes: Array
    swells: Array
    """How far each curve swells out beyond a cubic, kept where it ends."""

    def _between(self, after: NDArray[np.intp]) -> Callable[[Array], Array]:
        """y by time, between each of these steps and the one before it."""
        start = self.seconds[after - 1]
        span = self.seconds[after] - start
        per_s = 1.0 / span
        y0, s0 = self.y[:, after - 1], self.slopes[:, after - 1] * span
        rise, s1, swell = self.y[:, after] - y0, self.slopes[:, after] * span, self.swells[:, after]
        square, cube = 3 * rise - 2 * s0 - s1, s0 + s1 - 2 * rise

        def at(t: Array) -> Array:
            u = np.clip((t - start) * per_s, 0.0, 1.0)
            left = 1.0 - u
            return np.asarray(((cube * u + square + swell * left * left) * u + s0) * u + y0)

        return at

    def at(self, minutes: Numbers) -> tuple[Array, Array]:
        """All water in the mix in g, bound or not, and the share of the fizz spent, 0 to 1, after so many minutes.

        Shape of minutes (one number or one row), then of the batch. ValueError beyond the time looked at.
        """
        water, spent = self._at(minutes)
        shape = np.shape(minutes) + self.shape
        return water.reshape(shape), np.clip(spent, 0.0, 1.0).reshape(shape)

    def _at(self, minutes: Numbers) -> Array:
        asked = 60.0 * np.atleast_1d(np.asarray(minutes, dtype=float))
        if asked.ndim != 1 or not np.all((asked >= 0) & (asked <= self.end_s * (1 + 1e-12))):
            raise ValueError(f"minutes: from 0 to {self.end_s / 60:g}, in one row")
        # one ladder of all columns, each rung above the last: a column stands higher than its neighbour by two lengths
        columns = np.arange(self.law.made.size)
        ladder = self.column * (2.0 * self.end_s) + self.seconds
        sought = columns * (2.0 * self.end_s) + np.clip(asked, 1e-9 * self.end_s, self.end_s)[:, None]
        after = np.searchsorted(ladder, sought * (1 - 1e-15))
        return self._between(after)(asked[:, None])

    def spent(self, minutes: Numbers) -> Array:
        """Share of the fizz spent after so many minutes, as in at."""
        return self.at(minutes)[1]

    def water_g(self, minutes: Numbers) -> Array:
        """All water in the mix after so many minutes, bound or not, as in at."""
        return self.at(minutes)[0]

    def film_g(self, minutes: Numbers) -> Array:
        """Water beyond what the mix binds, as in at."""
        y = self._at(minutes)
        film = np.maximum(y[0] - self.law.capacity - self.law.hydrate * y[1], 0.0)
        return np.asarray(film.reshape(np.shape(minutes) + self.shape))

    def _first(self, holds: Callable[[Law, Array, Array], NDArray[np.bool_]]) -> Array:
        """Seconds at which something first holds, by steps and then by halving; infinite where it never does."""
        found = np.full(self.law.made.size, np.inf)
        told = np.flatnonzero(holds(self.law.take(self.column), self.seconds, self.y))
        columns, first = np.unique(self.column[told], return_index=True)
        after = told[first]
        found[columns] = self.seconds[after]
        later = self.seconds[after] > 0
        columns, after = columns[later], after[later]
        if not columns.size:
            return found
        between, law = self._between(after), self.law.take(columns)
        low, high = self.seconds[after - 1], self.seconds[after]
        for _ in range(20):
            middle = (low + high) / 2
            yes = holds(law, middle, between(middle))
            low, high = np.where(yes, low, middle), np.where(yes, middle, high)
        found[columns] = high
        return found

    def minutes_until(self, share: float) -> Array:
        """Minutes until this share of the fizz is spent; infinite when it is not within the time looked at."""
        return (self._first(lambda _, t, y: y[1] >= share) / 60.0).reshape(self.shape)

    @property
    def onset_min(self) -> Array:
        """Minutes until the batch feeds itself, as EQUATIONS["onset"] says; infinite when it never does."""
        last = np.append(np.flatnonzero(np.diff(self.column)), self.column.size - 1)
        onset = np.where(self.y[1, last] >= RUNS_AWAY, self._first(_feeds_itself), np.inf)
        return (onset / 60.0).reshape(self.shape)


def _feeds_itself(law: Law, t: Array, y: Array) -> NDArray[np.bool_]:
    wet = law.beyond(y) > 0
    alcohol = law.alcohol_g(t)
    slope = law.slope(alcohol, y, wet)
    _, _, sw, ss, clock = law.bends(alcohol, y, wet)
    faster = sw * slope[0] + ss * slope[1] + clock > 0
    return np.asarray(((law.made - law.hydrate) * slope[1] > np.maximum(law.loss(y), 0.0)) & faster)


def _to_the_film(g0: Array, g1: Array, s0: Array, s1: Array) -> Array:
    """Where a cubic from g0 to g1, of other signs, with these slopes passes zero; 0 to 1, by false position."""
    square, cube = 3 * (g1 - g0) - 2 * s0 - s1, s0 + s1 - 2 * (g1 - g0)
    low, high, at_low, at_high = np.zeros(g0.shape), np.ones(g0.shape), g0, g1
    u = low
    for _ in range(12):
        u = low - at_low * (high - low) / np.where(at_high == at_low, 1.0, at_high - at_low)
        g = ((cube * u + square) * u + s0) * u + g0
        near = (g > 0) == (g0 > 0)
        # the side that stays counts for half, so that it does not stay for ever (Illinois)
        low, at_low, at_high = np.where(near, u, low), np.where(near, g, at_low / 2), np.where(near, at_high / 2, g)
        high = np.where(near, high, u)
    return np.asarray(u)


def stand(batch: Batch, minutes: float, rtol: float = 1e-6) -> Course:
    """Let batches stand open for so many minutes; rtol is the error allowed a step, relative.

    Every column takes steps of its own length, all columns at once, and none steps across the moment at which its film
    begins or ends. Runaway is an answer like any other.
    """
    if not (np.isfinite(minutes) and minutes > 0):
        raise ValueError(f"minutes: read {minutes:g}; allowed is more than 0")
    law, end = Law(batch.columns()), 60.0 * minutes
    shortest, size = _SMALLEST_STEP * end, law.made.size
    t, y = np.zeros(size), np.stack([law.water, np.zeros(size)])
    excess = law.beyond(y)
    wet = np.where(np.abs(excess) > 1e-12 * law.capacity, excess > 0, law.over_film > 0)
    slope, h, landing = law.slope(law.alcohol, y, wet), np.full(size, end / 50.0), np.zeros(size, dtype=bool)
    small = np.stack([law.capacity + y[0], np.ones(size)]) * (0.01 * rtol)
    at, whole = np.arange(size), law
    told, columns, kept = [np.concatenate([t[None], y, slope, np.zeros((2, size))])], [at], [at >= 0]
    stiff = False
    for rounds in count():
        h = np.minimum(np.maximum(h, shortest), end - t)
        # a step far too long may overflow; it is refused like any other that errs too much
        with np.errstate(over="ignore", invalid="ignore"):
            new, error, next_slope, swell = (stiff_step if stiff else plain_step)(law, wet, t, y, slope, h)
            error /= small + rtol * np.maximum(y, np.abs(new))
            off = np.fmin(np.sqrt(0.5 * (error[0] * error[0] + error[1] * error[1])), 1e9)
        at_last = h <= shortest
        good = (off <= 1.0) | at_last
        lost = np.flatnonzero(off >= 1e9)
        # where nothing sound comes of even the shortest step, the batch waits out that instant
        new[:, lost], next_slope[:, lost], swell[:, lost] = y[:, lost], slope[:, lost], 0.0
        past = law.beyond(new)
        # fizz only ever goes, and no more than there is; the water made goes along with it, so that none is lost
        spent = np.minimum(np.maximum(new[1], y[1]), 1.0)
        new[0] = np.maximum(new[0] + law.made * (spent - new[1]), 0.0)
        new[1] = spent
        crossed = good & ((past > 0) != wet)
        lands = good & (crossed | landing) & ((np.abs(past) <= small[0]) | at_last)
        landing = crossed & ~lands
        next_h = h * np.minimum(np.maximum(0.9 * np.maximum(off, 1e-10) ** (-0.25 if stiff else -0.2), 0.2), 6.0)
        over = np.flatnonzero(landing)
        if over.size:
            s0, s1 = (h[over] * (s[0, over] - law.hydrate[over] * s[1, over]) for s in (slope, next_slope))
            next_h[over] = h[over] * _to_the_film(law.beyond(y)[over], past[over], s0, s1)
            good[over] = False
        later = t + h
        later[h >= end - t] = end
        edge = np.flatnonzero(lands)
        if edge.size:
            new[0, edge] = law.capacity[edge] + law.hydrate[edge] * new[1, edge]
            wet[edge] = law.over_film[edge] > 0
            # the way to the edge says nothing of how long a step may be beyond it
            next_h[edge] = np.maximum(next_h[edge], 1e-3 * end)
            # at the film's edge both sides have the same slope
            some = law.take(edge)
            next_slope[:, edge] = some.slope(some.alcohol_g(later[edge]), new[:, edge], wet[edge])
        bad = np.flatnonzero(~good)
        later[bad], new[:, bad], next_slope[:, bad] = t[bad], y[:, bad], slope[:, bad]
        t, y, slope, h = later, new, next_slope, next_h
        stiff = rounds >= _PLAIN_ROUNDS
        told.append(np.concatenate([t[None], y, slope, swell]))
        columns.append(at)
        kept.append(good)
        going = np.flatnonzero(t < end)
        if not going.size:
            break
        if going.size < at.size:
            law, at, t, y, slope, small = (
                law.take(going),
                at[going],
                t[going],
                y[:, going],
                slope[:, going],
                small[:, going],
            )
            h, wet, landing = h[going], wet[going], landing[going]
    column = np.concatenate(columns)
    steps = np.flatnonzero(np.concatenate(kept))
    steps = steps[np.argsort(column[steps], kind="stable")]
    # a step a row, so that picking the steps reads them whole
    rows = np.concatenate([part.T for part in told])[steps].T
    return Course(whole, batch.shape, end, column[steps], rows[0], rows[1:3], rows[3:5], rows[5:7])
