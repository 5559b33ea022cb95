"""The most of each oil that clears every stop it takes part in, solved for the mix as it shrinks, and said in one way."""

from __future__ import annotations

import math
from collections.abc import Callable, Iterable, Mapping, Sequence
from dataclasses import dataclass, field, replace
from fractions import Fraction

import numpy as np

from fizzwright.catalogue import Catalogue
from fizzwright.catalogue.model import Oil, Usable
from fizzwright.recipe.measures import density, drop_ml
from fizzwright.recipe.mix import Array, Mix
from fizzwright.recipe.model import Amount
from fizzwright.recipe.weigh import SCALES_G, weigh
from fizzwright.review.figures import Notice
from fizzwright.wording import listed, shown

MAIN_SHARE = 0.1
"""Our own choice: what brings less than a tenth of the excess is not cut, as long as cutting the others will do."""
ROUNDS = 200
"""Cuts tried before an oil counts as fitting in no amount; each takes off at least a step of the scale."""
PERCENT_STEP = 0.001
"""Step of a line written as percent of the mix."""
CLOSE = 1e-9
"""Share of a bound that counts as reached, so that the last digit of the arithmetic cannot tip it over."""


@dataclass(frozen=True, slots=True)
class Way:
    """One way to hold a bound: (fixed + bath_g x per_bath) . grams <= 0, bath_g the mix in one bath; shapes lines."""

    fixed: Array
    per_bath: Array | None = None


@dataclass(frozen=True, slots=True)
class Bound:
    """What must hold for a piece not to be stopped: any one of its ways."""

    what: str
    """The rule in words."""
    brings: Array
    """What a gram of each line brings of it; shape lines."""
    ways: tuple[Way, ...]
    afloat: bool = False
    """True when it speaks of the film, so that a solubiliser is a way too."""


@dataclass(frozen=True, slots=True)
class Fit:
    """The most of one oil in the whole mix, all its lines together."""

    use: str
    name: str
    grams: float
    """Rounded down to the step of the scale; 0 for none of it."""
    drops: int | None
    """Rounded down from the grams; None for what is no essential oil."""
    percent: float | None
    """For an oil written as percent of the mix: what to write instead."""
    why: str
    """What sets the amount."""
    afloat: bool = False
    """True when a solubiliser would leave room for more."""
    barred: bool = False
    """True when no amount counts at all."""
    later: bool = False
    """True when it stops nothing now, and would once the others have been cut."""


@dataclass(frozen=True)
class Fits:
    """The amounts of one page: each oil has one."""

    by_use: Mapping[str, Fit] = field(default_factory=dict)

    def of(self, uses: Iterable[str]) -> list[Fit]:
        """The amounts of these oils, in order, each once."""
        return [self.by_use[use] for use in dict.fromkeys(uses) if use in self.by_use]

    def cure(self, uses: Iterable[str]) -> str:
        """What to do about these oils, in a sentence or two; empty when none of them is cut."""
        fits = self.of(uses)
        out = [fit for fit in fits if fit.grams <= 0]
        said = []
        if barred := [fit.name for fit in out if fit.barred]:
            said.append(f"Leave out {listed(barred)}.")
        for afloat in (False, True):
            if names := [fit.name for fit in out if not fit.barred and fit.afloat is afloat]:
                start = "Without a solubiliser not" if afloat else "Not"
                said.append(f"{start} even one drop of {listed(names, 'or')} fits: leave it out or choose another.")
        if kept := [_most(fit) for fit in fits if fit.grams > 0]:
            said.append(f"Use at most {listed(kept)}.")
        return " ".join(said)

    def later(self) -> list[Notice]:
        """The oils that come to stand too strong in what the others leave; those no stop speaks of yet."""
        uses = [use for use, fit in self.by_use.items() if fit.later]
        if not uses:
            return []
        text = f"With that mended, what is left of the scent changes too. {self.cure(uses)}"
        reason = f"Less of one oil leaves a larger share to the others, in the piece and in the film.{self.why(uses)}"
        return [Notice("mind", text, reason, (), "", uses[0])]

    def why(self, uses: Iterable[str]) -> str:
        """What set the amounts, for the reason of a notice."""
        fits = [fit for fit in self.of(uses) if not fit.barred]
        if not fits:
            return ""
        set_by = listed(f"{fit.name}: {fit.why}" for fit in fits)
        room = " More of it fits once a solubiliser keeps it from floating." if any(f.afloat for f in fits) else ""
        return (
            f" The amounts clear every stop at once, in the mix as it is then, rounded down; set by: {set_by}.{room} Less than "
            "one drop counts as none."
        )


def _most(fit: Fit) -> str:
    drops = "" if fit.drops is None else f" ({fit.drops} drop{'' if fit.drops == 1 else 's'})"
    if fit.percent is not None:
        return f"{shown(fit.percent, 6)} % of the mix of {fit.name}, which is {shown(fit.grams, 6)} g{drops}"
    return f"{shown(fit.grams, 6)} g of {fit.name}{drops}"


@dataclass
class _Line:
    """One oil on its way to a fit."""

    use: str
    places: list[int]
    entry: Usable
    percent: float | None
    """As written, when every line of it is percent of the mix."""
    whole: float = 0.0
    """What is written of it, in the unit it is told in: grams, or percent."""
    keep: float = 1.0
    """Share of what is written."""
    bound: Bound | None = None


def _down(value: float, step: float) -> float:
    return math.floor(value / step + 1e-6) * step


def _step(grams: float) -> float:
    return next(step for least, step in SCALES_G if grams >= least)


class _Bench:
    """The mix with less of some oils, and the bounds it passes."""

    def __init__(
        self, mix: Mix, catalogue: Catalogue, bounds: Sequence[Bound], barred: Mapping[str, str],
        bath_g: Callable[[Array], float],
    ) -> None:  # fmt: skip
        self.mix, self.catalogue, self.bounds, self.bath_g = mix, catalogue, bounds, bath_g
        self.lines: dict[str, _Line] = {}
        for place, mixed in enumerate(mix.lines):
            if mixed.is_oil:
                self.lines.setdefault(mixed.id, _Line(mixed.id, [], mixed.entry, None)).places.append(place)
        for line in self.lines.values():
            amounts = [mix.lines[place].line.amount for place in line.places]
            if all(amount.unit == "%" for amount in amounts):
                line.percent = sum(float(amount.number or 0) for amount in amounts)
            line.whole = line.percent if line.percent is not None else float(mix.grams[line.places].sum())
            if line.use in barred:
                line.keep = 0.0
        # Where other lines are shares of the whole, taking scent away moves them too.
        self.shares = any(mixed.line.amount.unit in ("%", "part") for mixed in mix.lines)
        ways = [way for bound in bounds for way in bound.ways]
        none = np.zeros(len(mix.lines))
        self.fixed = np.array([way.fixed for way in ways])
        self.per_bath = np.array([none if way.per_bath is None else way.per_bath for way in ways])
        self.starts = np.cumsum([0, *(len(bound.ways) for bound in bounds)])[:-1]

    def grams(self) -> Array:
        """Grams of each line with every oil kept as far as it is."""
        keep = np.ones(len(self.mix.lines))
        for line in self.lines.values():
            keep[line.places] = line.keep
        if not self.shares:
            return self.mix.grams * keep
        written = []
        for mixed, kept, grams in zip(self.mix.recipe.lines, keep, self.mix.grams, strict=True):
            amount = mixed.amount
            if kept < 1 and amount.unit == "%":
                amount = replace(amount, number=(amount.number or 0) * Fraction(float(kept)))
            elif kept < 1:
                amount = Amount("", Fraction(float(kept * grams)), "g")
            written.append(replace(mixed, amount=amount))
        return weigh(replace(self.mix.recipe, lines=tuple(written)), self.catalogue, draws=2).grams

    def passed(self, grams: Array) -> tuple[list[Bound], float]:
        """The bounds that are not held, and the mix in one bath."""
        if not self.bounds or not grams[self.mix.oil_mask].any():
            return [], 0.0
        bath_g = self.bath_g(grams)
        weights = self.fixed + bath_g * self.per_bath
        over = weights @ grams > -CLOSE * (np.abs(weights) @ grams)
        broken = np.logical_and.reduceat(over, self.starts)
        return [bound for bound, is_broken in zip(self.bounds, broken, strict=True) if is_broken], bath_g

    def step(self, line: _Line, amount: float) -> float:
        """The step its amount is rounded to."""
        return PERCENT_STEP if line.percent is not None else _step(amount)

    def cut(self, bound: Bound, grams: Array, bath_g: float) -> None:
        """Take what brings most of a bound down to where it holds, by one factor."""
        part = bound.brings * grams * self.mix.oil_mask
        main = part >= MAIN_SHARE * part.sum()
        uses = {self.mix.lines[i].id for i in np.flatnonzero(main & (part > 0))}
        factor = self._factor(bound, grams, bath_g, uses)
        if factor is None:
            uses = {self.mix.lines[i].id for i in np.flatnonzero(part > 0)}
            factor = self._factor(bound, grams, bath_g, uses) or 0.0
        for use in uses:
            line = self.lines[use]
            now = line.percent * line.keep if line.percent is not None else float(grams[line.places].sum())
            step = self.step(line, factor * now)
            target = min(_down(factor * now, step), _down(now - self.step(line, now) / 2, self.step(line, now)))
            # Another bound of this round may have cut it further already.
            if target < line.keep * line.whole:
                line.keep = max(0.0, target / line.whole)
                line.bound = bound

    def _factor(self, bound: Bound, grams: Array, bath_g: float, uses: set[str]) -> float | None:
        own = np.array([mixed.id in uses for mixed in self.mix.lines])
        found = []
        for way in bound.ways:
            weights = way.fixed if way.per_bath is None else way.fixed + bath_g * way.per_bath
            rest, mine = float(weights[~own] @ grams[~own]), float(weights[own] @ grams[own])
            if rest <= 0 < mine:
                found.append(min(1.0, -rest / mine))
        return max(found) if found else None

    def grow(self, line: _Line) -> None:
        """Put back as much of one oil as the bounds let stand, the others staying: they may have been cut since."""
        good, bad = line.keep * line.whole, line.whole
        middle = good + self.step(line, good)
        while good < middle < bad:
            line.keep = middle / line.whole
            good, bad = (good, middle) if self.passed(self.grams())[0] else (middle, bad)
            step = self.step(line, good)
            middle = max(_down((good + bad) / 2, self.step(line, (good + bad) / 2)), _down(good + step, step))
            if middle > bad - step / 2:
                break
        line.keep = good / line.whole

    def drops(self, line: _Line, grams: float) -> int | None:
        """Whole drops in so many grams; None for what is no essential oil."""
        if not isinstance(line.entry, Oil):
            return None
        return math.floor(grams / (drop_ml(line.entry, self.catalogue).ml * density(line.entry, None).g_ml) + 1e-9)


def solve(
    mix: Mix, catalogue: Catalogue, bounds: Sequence[Bound], barred: Mapping[str, str], bath_g: Callable[[Array], float]
) -> Fits:
    """The most of each oil with which no bound is passed and nothing barred is left; only oils that must come down.

    bounds: from limits, people, strength and sun; barred: uses that no amount makes right, with the reason; bath_g: grams
    (lines) to the grams of the mix in one bath.
    """
    bench = _Bench(mix, catalogue, bounds, barred, bath_g)
    now = bench.passed(mix.grams)[0]
    if not barred and not now:
        return Fits()
    stopping = {mix.lines[i].id for bound in now for i in np.flatnonzero(bound.brings)} | barred.keys()
    _settle(bench)
    for line in sorted(bench.lines.values(), key=lambda line: line.keep):
        if 0 < line.keep < 1:
            bench.grow(line)
        # What comes to less than a drop cannot be put in by hand.
        if 0 < line.keep < 1 and bench.drops(line, float(bench.grams()[line.places].sum())) == 0:
            line.keep = 0.0
            _settle(bench)
    grams = bench.grams()
    found = {}
    for use, line in bench.lines.items():
        if line.keep >= 1:
            continue
        kept = float(grams[line.places].sum())
        # A percent line is told in the percent to write; its grams only help the hand, so they are rounded down too.
        kept = _down(kept, _step(kept)) if line.percent is not None else round(kept, 6)
        bound = line.bound
        found[use] = Fit(
            use,
            line.entry.name,
            kept if line.keep else 0.0,
            bench.drops(line, kept),
            round(line.keep * line.percent, 6) if line.percent is not None else None,
            barred.get(use) or (bound.what if bound else ""),
            bound is not None and bound.afloat,
            use in barred,
            use not in stopping,
        )
    return Fits(found)


def _settle(bench: _Bench) -> None:
    """Cut until nothing is passed; what will not settle is left out."""
    for _ in range(ROUNDS):
        grams = bench.grams()
        passed, bath_g = bench.passed(grams)
        if not passed:
            return
        for bound in passed:
            bench.cut(bound, grams, bath_g)
    for line in bench.lines.values():
        if line.keep < 1:
            line.keep = 0.0
