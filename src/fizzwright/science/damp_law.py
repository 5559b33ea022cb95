"""The law a damp batch follows as it stands open, and how to step along it, many batches at once (see runaway.py)."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from fizzwright.science.products import times

Array = NDArray[np.float64]
Wet = NDArray[np.bool_]

WATER_G_MOL = 18.015
NO_FIZZ_MOL = 1e-5
"""A batch that can free less than this (a quarter of a millilitre of gas) counts as one that frees nothing."""


class Law:
    """The right side of the equations on flat columns; y is (water, spent share), shape (2, columns).

    A film makes all the difference, and it begins at once where water passes what is bound. So every function takes `wet`,
    which columns have a film: each side is smooth by itself and goes on smoothly past the point where it ends.
    """

    def __init__(self, of: dict[str, Array]) -> None:
        mol = of["fizz_mol"]
        self.humidity, self.danger, self.air = of["humidity"], of["danger"], of["air_g_s"]
        self.capacity, self.added, self.alcohol = of["capacity_g"], of["added_g_s"], of["alcohol_g"]
        self.water, self.per_s = of["water_g"], 1.0 / of["alcohol_lifetime_s"]
        self.made = WATER_G_MOL * mol
        self.hydrate = of["hydrate_share"] * self.made
        self.rate = np.divide(of["rate_mol_g_s"], mol, out=np.zeros_like(mol), where=mol > NO_FIZZ_MOL)
        self.over_film = self.air * (self.humidity - self.danger) + self.added
        self.from_air = self.air * self.humidity + self.added
        self.draw = self.air * self.danger

    def take(self, keep: NDArray[np.intp]) -> Law:
        """The same law for some of the columns."""
        some = object.__new__(Law)
        for name, array in vars(self).items():
            setattr(some, name, array[keep])
        return some

    def beyond(self, y: Array) -> Array:
        """Water beyond what is bound; below zero where more could be bound."""
        return np.asarray(y[0] - self.capacity - self.hydrate * y[1])

    def loss(self, y: Array) -> Array:
        """Water the air takes, g/s; below zero where it brings some."""
        fill = np.minimum(y[0] / (self.capacity + self.hydrate * y[1]), 1.0)
        return np.asarray(self.air * (self.danger * fill - self.humidity))

    def alcohol_g(self, t: Array) -> Array:
        """Alcohol left at these times."""
        return np.asarray(self.alcohol * np.exp(-self.per_s * t))

    def slope(self, alcohol: Array, y: Array, wet: Wet) -> Array:
        """dy/dt, with so much alcohol left."""
        water, spent = y
        # in place, as this is asked six times a step of every column
        bound = self.hydrate * spent
        bound += self.capacity
        liquid = water + alcohol
        film = wet.astype(float)
        out = np.empty_like(y)
        fizz = np.subtract(water, bound, out=out[1])
        fizz *= film
        fizz *= self.rate
        fizz *= 1.0 - spent
        fizz *= water
        fizz /= np.maximum(liquid, 1e-30, out=liquid)
        air = np.divide(water, bound, out=bound)
        air *= self.draw
        np.subtract(self.from_air, air, out=air)
        film *= self.over_film - air
        air += film
        np.multiply(self.made, fizz, out=out[0])
        out[0] += air
        return out

    def bends(self, alcohol: Array, y: Array, wet: Wet) -> tuple[Array, Array, Array, Array, Array]:
        """The Jacobian (ww, ws, sw, ss) and the part of d2(spent)/dt2 that comes from the clock alone."""
        water, spent = y
        bound = self.capacity + self.hydrate * spent
        liquid = np.maximum(water + alcohol, 1e-30)
        film, rate = water - bound, self.rate * wet
        share, left = water / liquid, 1.0 - spent
        quick = rate * left
        away = alcohol / liquid
        sw = quick * (share + film * away / liquid)
        ss = -rate * share * (film + left * self.hydrate)
        dry = np.where(wet, 0.0, self.draw / bound)
        clock = quick * film * share * away * self.per_s
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
# Dormand & Prince 1980, fifth order with a fourth-order companion, seven stages of which the last begins the next step, and
# Shampine's fourth-order curve between the ends, as set out in Hairer, Norsett & Wanner, Solving Ordinary Differential
# Equations I, 2nd ed. 1993, sec. II.5 and II.6 (basis: memory; the tests measure the order of both).
_PLAIN: tuple[tuple[float, ...], ...] = (
    (1 / 5,),
    (3 / 40, 9 / 40),
    (44 / 45, -56 / 15, 32 / 9),
    (19372 / 6561, -25360 / 2187, 64448 / 6561, -212 / 729),
    (9017 / 3168, -355 / 33, 46732 / 5247, 49 / 176, -5103 / 18656),
)
_PLAIN_ENDS = (35 / 384, 0.0, 500 / 1113, 125 / 192, -2187 / 6784, 11 / 84)
_PLAIN_ERRS = (71 / 57600, 0.0, -71 / 16695, 71 / 1920, -17253 / 339200, 22 / 525, -1 / 40)
_PLAIN_SWELLS = (
    -12715105075 / 11282082432, 0.0, 87487479700 / 32700410799, -10690763975 / 1880347072, 701980252875 / 199316789632,
    -1453857185 / 822651844, 69997945 / 29380423,
)  # fmt: skip
Stepped = tuple[Array, Array, Array, Array]
"""y and its error at the end of a step, the slope there, and how far the curve between swells out beyond a cubic."""


def _on_the_way(law: Law, t: Array, h: Array) -> tuple[Array, ...]:
    """Alcohol left 2, 3, 8 tenths, 8 ninths and all of the way: powers of what a ninetieth leaves, as exponentials cost."""
    ninetieth = np.exp(-law.per_s * h / 90.0)
    eight = ninetieth**2
    eight *= eight
    eight *= eight
    tenth = eight * ninetieth
    tenths_2 = tenth * tenth
    tenths_3 = tenths_2 * tenth
    tenths_8 = tenths_2 * tenths_2
    tenths_8 *= tenths_8
    now = law.alcohol_g(t)
    return now * tenths_2, now * tenths_3, now * tenths_8, now * tenths_8 * eight, now * tenths_8 * tenths_2


def plain_step(law: Law, wet: Wet, t: Array, y: Array, slope: Array, h: Array) -> Stepped:
    """One step of Dormand and Prince's method of each column's own length."""
    stages = np.empty((len(_PLAIN) + 2, *y.shape))
    flat = stages.reshape(len(stages), -1)
    stages[0] = slope

    def of(weights: tuple[float, ...]) -> Array:
        return np.asarray(h * times(np.array(weights), flat[: len(weights)]).reshape(y.shape))

    for stage, (alcohol, weights) in enumerate(zip(_on_the_way(law, t, h), _PLAIN, strict=True), start=1):
        stages[stage] = law.slope(alcohol, y + of(weights), wet)
    new = y + of(_PLAIN_ENDS)
    stages[-1] = law.slope(alcohol, new, wet)
    return new, of(_PLAIN_ERRS), stages[-1], of(_PLAIN_SWELLS)


def stiff_step(law: Law, wet: Wet, t: Array, y: Array, slope: Array, h: Array) -> Stepped:
    """One step of Rodas4 of each column's own length."""
    ww, ws, sw, ss, clock = law.bends(law.alcohol_g(t), y, wet)
    shift = 1.0 / (_GAMMA * h)
    a, d = shift - ww, shift - ss
    scale = 1.0 / (a * d - ws * sw)
    stages: list[Array] = []
    total = y
    for at, by_clock, ahead, mixed in zip(_AT, _CLOCK, _A, _C, strict=True):
        if stages:
            total = y + sum(c * u for c, u in zip(ahead, stages, strict=True))
            right = (
                law.slope(law.alcohol_g(t + at * h), total, wet)
                + sum(c * u for c, u in zip(mixed, stages, strict=True)) / h
            )
        else:
            right = slope.copy()
        if by_clock:
            # the clock acts on the fizz, and through it on the water made
            pull = by_clock * h * clock
            right[0] += law.made * pull
            right[1] += pull
        stages.append(np.stack([d * right[0] + ws * right[1], sw * right[0] + a * right[1]]) * scale)
    new = total + stages[-1]
    return new, stages[-1], law.slope(law.alcohol_g(t + h), new, wet), np.zeros_like(y)
