"""Which species a water holds: mass balances, mass action and charge solved together, many waters at a time.

Unknown are the logarithms of the free activities of hydrogen and the metals. Ligands drop out: of each, the total over
the sum of its forms gives the free anion. What is left is the gradient of a convex function, so Newton steps of bounded
length arrive; the activity coefficients are one more unknown on the way. The first steps, and the slopes of all, are
taken in single precision, which is enough to show the way; what is left over is always weighed in double precision.
Waters that have arrived leave the others.
"""

from __future__ import annotations

import copy
from collections.abc import Mapping
from dataclasses import dataclass
from typing import Any

import numpy as np
from numpy.typing import NDArray

from fizzwright.science.aqueous import (
    COMPONENT_CHARGE,
    LIGANDS,
    LN10,
    METALS,
    Plan,
    basis,
    davies_a,
    light,
    plan,
)
from fizzwright.science.products import times

Array = NDArray[np.float64]
Floats = NDArray[np.floating[Any]]
"""In either precision."""

BLOCK = 4096
"""Waters worked on together, so that they stay in the processor's cache."""
LONGEST_STEP = 2.0
"""Newton steps end at a factor e^2, near one pH unit: on a single buffer longer ones may swing to and fro."""
ROUGH_STEPS, ROUGH_TAP_STEPS = (3, 1), (2, 1)
"""Steps in single precision, with a slope of their own and with the last one again, that bring nearly all waters close: of
a bath, and of a tap water whose pH is known."""
WILD_STEPS, MOST_STEPS = 12, 300
CLOSES, CLOSES_EQ_L = 1e-10, 9e-13
"""What the balances may leave over, as a share of all charges and in eq/l of charge, when a water counts as solved."""
IONIC_CLOSES = 1e-5
"""The share of the ionic strength that the activity coefficients may be behind."""
TAP_CLOSES = 1e-6
"""The same share for the carbonate of a tap water, of which only the total is kept."""
MOST_IONIC = 1.0
"""mol/l; beyond, activity coefficients stay as they are here, for the Davies equation turns senseless."""
LOOSE_CLOSES = 1e-4
"""The share by which the free sodium and potassium may be off when a water counts as solved; balances are closed with what pairs leave of them."""
FLOOR = 1e-18
"""mol/l that stands for none, so that logarithms exist."""


@dataclass(frozen=True)
class Speciated:
    """Waters solved; every array of shape (n,)."""

    ln_activity: Mapping[str, Array]
    """Of H and the metals present."""
    free: Mapping[str, Array]
    """Activity of the free form of each ligand present; of carbonate it is CO2."""
    carbonate_mol_l: Array
    """All dissolved carbonate."""
    co2_mol_l: Array
    bicarbonate_mol_l: Array
    ionic_strength_mol_l: Array
    charge_eq_l: Array
    """What the charges of all species leave over."""


class _Waters:
    """Waters on their way to a solution.

    Rows of x are ln activity of hydrogen and the metals, -ln gamma of a single charge, -ln gamma of a neutral species,
    and six powers of temperature. The third of these kinds is an unknown too: a species takes part in it with its
    charge squared, as it does in a metal it holds. Where the pH is given, CO2 is unknown in place of hydrogen.
    """

    def __init__(
        self, found: Plan, held: Array, needed: Array, inert: Array, unnamed: Array, temperature_c: Array
    ) -> None:
        self.found, self.last = found, len(needed)
        self.size = found.leading
        self.held, self.inert, self.unnamed = held, inert, unnamed
        self.needed, self.loose = needed[: self.size], needed[self.size :]
        self.others = inert + np.abs(unnamed)
        self.x: Floats = np.empty((self.last + 8, inert.size))
        self.x[0], self.x[-6:] = 0.0, basis(temperature_c)
        self.ln_a: Floats = np.broadcast_to(LN10 * davies_a(temperature_c), inert.shape)
        self.co2: Floats | None = None
        self.seeks_co2 = False
        self.constants: Floats | None = None
        self.slope: Floats = np.empty((self.size + 1, self.size + 1, 0), dtype=np.float32)
        squared = np.array([[float(COMPONENT_CHARGE[m] ** 2)] for m in found.metals]).reshape(-1, 1)
        self.ionic: Floats = 0.5 * (self.others + held.sum(axis=0) + (squared * needed[1:]).sum(axis=0)) + 1e-7
        self.gammas()
        self.x[1 : self.last] = np.log(needed[1:]) - squared * self.x[self.last]

    def lighter(self) -> _Waters:
        """The same waters in single precision, with their constants worked out."""
        less = copy.copy(self)
        less.found = light(self.found)
        for name in ("held", "needed", "loose", "inert", "unnamed", "others", "ln_a", "ionic"):
            setattr(less, name, getattr(self, name).astype(np.float32))
        less.x = self.x[:-6].astype(np.float32)
        less.co2 = None if self.co2 is None else self.co2.astype(np.float32)
        less.constants = (times(self.found.forms[:, -6:], self.x[-6:])).astype(np.float32)
        return less

    def gammas(self) -> None:
        """Set both -ln gamma by the ionic strength."""
        bounded = np.minimum(self.ionic, MOST_IONIC)
        root = np.sqrt(bounded)
        np.multiply(self.ln_a, root / (1.0 + root) - 0.3 * bounded, out=self.x[self.last])
        np.multiply(bounded, -0.1 * LN10, out=self.x[self.last + 1])

    def growth(self) -> Floats:
        """How fast ionic strength grows with -ln gamma of a single charge."""
        root = np.sqrt(np.minimum(self.ionic, MOST_IONIC))
        once = 1.0 / (1.0 + root)
        return np.asarray(1.0 / np.maximum(self.ln_a * (0.5 * once * once / root - 0.3), 1e-3))

    def weigh(self) -> tuple[Floats, list[Floats]]:
        """Concentrations of all species, and the free ligands."""
        species = times(self.found.forms, self.x)
        if self.constants is not None:
            species += self.constants
        np.exp(species, out=species)
        free = []
        for ligand, group, total in zip(self.found.ligands, self.found.groups, self.held, strict=True):
            given = self.co2 if ligand == "carbonate" else None
            one = given if given is not None else total / species[group].sum(axis=0)
            species[group] *= one
            free.append(one)
        return species, free

    def guess(self) -> None:
        """Set hydrogen as carbonate and citrate alone would have it, and metals as citrate leaves them."""
        found, x, base = self.found, self.x, -self.needed[0]
        if "carbonate" not in found.ligands:
            x[0] = -LN10 * np.where(base > 0, 9.0, 4.5)
            return
        carbonate = self.held[found.ligands.index("carbonate")]
        first = self.constant("HCO3") * np.exp(x[self.last])
        pool = self.held[found.ligands.index("citrate")] if "citrate" in found.ligands else np.zeros_like(base)
        third = self.constant("H1Cit") * np.exp(-5.0 * x[self.last]) if pool.any() else base
        # one metal for both, as citrate holds calcium and magnesium nearly alike
        count = sum(metal in ("Ca", "Mg") for metal in found.metals) if "Ca" in found.metals and pool.any() else 0
        metal, left = self.needed[1 : 1 + count].sum(axis=0), np.ones_like(base)
        bound = self.constant("CaCit") * np.exp(-12.0 * x[self.last]) if count else base
        taken, h = base, base
        for _ in range(3 if pool.any() else 1):
            acid = carbonate - taken if self.co2 is None else self.co2
            ratio = np.maximum(acid, 1e-3 * np.abs(taken) + 1e-9) / np.maximum(taken, 1e-2 * np.abs(acid) + 1e-9)
            h = np.clip(ratio * first, 1e-11, 1e-3)
            held = third * h
            if count:
                strength = bound / (1.0 + held)
                less = 1.0 + strength * (pool - metal)
                left = 2.0 / (less + np.sqrt(less * less + 4.0 * strength * metal))
            taken = base + (pool - metal * (1.0 - left)) * held / (1.0 + held)
        np.log(h, out=x[0])
        if count:
            x[1 : 1 + count] += np.log(left)
        if pool.any():
            loose, bare = pool - metal * (1.0 - left), 1.0 / (1.0 + third * h)
            charges = np.maximum(taken, 0.0) + loose * (4.0 + 5.0 * bare) + metal * (1.0 + 3.0 * left)
            better = 0.5 * (self.others + self.loose.sum(axis=0) + charges + h)
            self.ionic = np.maximum(better, 0.1 * self.ionic)

    def constant(self, name: str) -> Floats:
        """The constant of one species at these temperatures."""
        row = self.found.names.index(name)
        if self.constants is not None:
            return np.asarray(np.exp(self.constants[row]))
        return np.asarray(np.exp(times(self.found.forms[row, -6:], self.x[-6:])))

    def seek_co2(self, ph: Array) -> None:
        """Hold the pH and set out to find CO2 instead, beginning with what hydrogencarbonate alone would have."""
        self.x[0] = -LN10 * ph
        # where the report is rounded below what its pH needs, next to no carbonate is found
        alone = slice(0, self.found.groups[0].start)
        without = times(self.found.takes_part[0, alone], np.exp(times(self.found.forms[alone], self.x)))
        self.needed[0] = np.minimum(self.needed[0], without - 0.02 * np.abs(without) - 1e-10)
        carried = without - self.needed[0]
        self.co2 = carried * np.exp(self.x[0] - self.x[self.last]) / self.constant("HCO3")
        self.seeks_co2 = True

    def balance(self, species: Floats) -> tuple[Floats, Floats, Floats, Floats]:
        """What each balance leaves over, the charges, twice the ionic strength, and the ratio by which loose metals are off."""
        total = times(self.found.takes_part, species)
        miss, charge, paired = total[: self.size + 1], total[self.size + 1], total[self.size + 2 :]
        too_much = (paired - self.loose).sum(axis=0)
        charge += self.unnamed - self.inert - too_much
        miss[:-1] -= self.needed
        twice = miss[-1] + (self.others - too_much)
        miss[-1] = twice - 2.0 * self.ionic
        return miss, charge, twice, self.loose / paired

    def solved(self, fresh: int, stale: int, ph: Array | None = None) -> Array:
        """Newton steps until all have arrived; rows as Speciated reads them.

        In single precision `fresh` steps with a slope of their own and `stale` ones with the last slope again; then two
        in double precision. The few that have not arrived by then go on together.
        """
        count = self.inert.size
        out = np.empty((self.last + len(self.found.ligands) + 5, count))
        late, places = [], []
        for start in range(0, count, BLOCK):
            part = self.part(slice(start, start + BLOCK))
            if ph is not None:
                part.seek_co2(ph[start : start + BLOCK])
            part.approach(fresh, stale)
            place = part.arrive(out, np.arange(start, start + part.inert.size), 2, fresh=False)
            if place.size:
                late.append(part)
                places.append(place)
        if late:
            place = np.concatenate(places)
            whole = self.part(place)
            whole.x = np.concatenate([part.x for part in late], axis=1)
            whole.needed = np.concatenate([part.needed for part in late], axis=1)
            whole.ionic = np.concatenate([part.ionic for part in late])
            if late[0].co2 is not None:
                whole.co2 = np.concatenate([part.co2 for part in late if part.co2 is not None])
            whole.seeks_co2 = late[0].seeks_co2
            if whole.arrive(out, place, MOST_STEPS, fresh=True).size:
                raise ArithmeticError(f"a water was not solved in {MOST_STEPS} steps")
        return out

    def approach(self, fresh: int, stale: int) -> None:
        """Come near the solution in single precision."""
        rough = self.lighter()
        if not self.seeks_co2:
            rough.guess()
        for count in range(fresh + stale):
            rough.gammas()
            species, _ = rough.weigh()
            miss, _, _, off = rough.balance(species)
            rough.step(species, miss, off, fresh=count < fresh)
        self.x[self.seeks_co2 : self.last] = rough.x[self.seeks_co2 : self.last]
        self.ionic, self.slope = rough.ionic.astype(float), rough.slope
        if self.seeks_co2 and rough.co2 is not None:
            self.co2 = rough.co2.astype(float)

    def arrive(self, out: Array, places: NDArray[np.int64], tries: int, fresh: bool) -> NDArray[np.int64]:
        """Write those that arrive within so many looks to their places in `out`; the places of the others, which stay."""
        closes = TAP_CLOSES if self.seeks_co2 else CLOSES
        for look in range(tries):
            self.gammas()
            species, free = self.weigh()
            miss, charge, twice, off = self.balance(species)
            # so near, the activity coefficients may stay as they are
            drifts = np.abs(miss[-1]) > IONIC_CLOSES * twice
            for ratio in off:
                drifts |= np.abs(ratio - 1.0) > LOOSE_CLOSES
            if look == 0 and not self.seeks_co2:
                # out of single precision no bath arrives at once
                self.step(species, miss.astype(np.float32), off, fresh=fresh, drifts=drifts)
                continue
            arrived = np.abs(miss[:-1]).sum(axis=0) <= closes * (twice + 1e-6)
            arrived &= ~drifts
            if not self.seeks_co2:
                arrived &= np.abs(charge) <= CLOSES_EQ_L
            there = np.count_nonzero(arrived)
            is_last = look == tries - 1
            if there * 4 > arrived.size or (is_last and there):
                rows = self.rows(species, free, 0.5 * twice, charge)
                if there == arrived.size:
                    out[:, places] = rows
                    return places[:0]
                out[:, places[arrived]] = rows[:, arrived]
                stay = np.flatnonzero(~arrived)
                places = places[stay]
                self.keep(stay)
                miss, off = miss.take(stay, axis=1), off.take(stay, axis=1)
                twice, drifts = twice[stay], drifts[stay]
                species = species.take(stay, axis=1) if fresh else species[:, :0]
            if is_last:
                break
            if look < WILD_STEPS:
                self.step(species, miss.astype(np.float32), off, fresh=fresh, drifts=drifts)
                continue
            # far off, hydrogen and the activity coefficients may chase each other: one after the other they arrive
            self.step(species, miss.astype(np.float32), off, fresh=True, drifts=np.zeros_like(drifts))
            self.x[self.size : self.last] += np.log(off)
            self.ionic = np.clip(0.5 * twice, 0.3 * self.ionic, 3.0 * self.ionic)
        return places

    def rows(self, species: Floats, free: list[Floats], ionic: Floats, charge: Floats) -> Array:
        """What is told of a water."""
        none = np.zeros_like(ionic)
        carbonate = [none, none, none]
        if "carbonate" in self.found.ligands:
            group = species[self.found.groups[self.found.ligands.index("carbonate")]]
            carbonate = [group.sum(axis=0), group[0], group[1]]
        return np.stack([*self.x[: self.last], *free, *carbonate, ionic, charge])

    def part(self, some: slice | NDArray[np.int64]) -> _Waters:
        """Some of the waters."""
        less = copy.copy(self)
        for name in ("x", "held", "needed", "loose"):
            setattr(less, name, getattr(self, name)[:, some])
        for name in ("inert", "unnamed", "others", "ln_a", "ionic"):
            setattr(less, name, getattr(self, name)[some])
        less.co2 = None if self.co2 is None else self.co2[some]
        return less

    def keep(self, some: NDArray[np.int64]) -> None:
        """Go on with some of the waters."""
        for name in ("x", "held", "needed", "loose"):
            setattr(self, name, getattr(self, name).take(some, axis=1))
        for name in ("inert", "unnamed", "others", "ln_a", "ionic"):
            setattr(self, name, getattr(self, name)[some])
        self.co2 = None if self.co2 is None else self.co2[some]
        if self.slope.shape[2]:
            self.slope = self.slope.take(some, axis=2)

    def step(
        self,
        species: Floats,
        miss: Floats,
        off: Floats,
        fresh: bool,
        drifts: NDArray[np.bool_] | None = None,
    ) -> None:
        """One Newton step of all waters, its slope in single precision: their own, or the last one again.

        Where `drifts` is given and false, the activity coefficients stay.
        """
        growth = self.growth()
        if fresh:
            self.slope = _factored(self.own_slope(species.astype(np.float32, copy=False), growth))
        step = _stepped(self.slope, miss, drifts)
        np.clip(step, -LONGEST_STEP, LONGEST_STEP, out=step)
        if self.seeks_co2 and self.co2 is not None:
            self.co2 = self.co2 * np.exp(-step[0].astype(self.co2.dtype))
            step[0] = 0.0
        self.x[: self.size] -= step[:-1]
        self.x[self.size : self.last] += np.log(off) if drifts is None else np.log(off) * drifts
        self.ionic = np.clip(self.ionic - growth * step[-1], 0.3 * self.ionic + 1e-9, 3.0 * self.ionic)

    def own_slope(self, species: Floats, growth: Floats) -> Floats:
        """How each balance changes with each unknown; shape (unknowns, unknowns, n)."""
        found = light(self.found) if self.constants is None else self.found
        unknowns = self.size + 1
        slope = times(found.products, species).reshape(unknowns, unknowns, -1)
        # what eliminating a ligand takes away: the products of its means
        for ligand, group, part, total in zip(found.ligands, found.groups, found.of_ligand, self.held, strict=True):
            if ligand != "carbonate" or self.co2 is None:
                means = times(part, species[group])
                slope -= means[:, None] * (means / total.astype(np.float32, copy=False))
        if self.seeks_co2:
            place = found.ligands.index("carbonate")
            slope[:, 0] = times(found.of_ligand[place], species[found.groups[place]])
        slope[-1, -1] -= 2.0 * growth.astype(np.float32, copy=False)
        return slope


def _factored(slope: Floats) -> Floats:
    """Lower and upper factors of a slope for each water, in place; its diagonal leads, so rows stay in order."""
    for k in range(len(slope) - 1):
        share = slope[k + 1 :, k]
        share /= slope[k, k]
        slope[k + 1 :, k + 1 :] -= share[:, None] * slope[k, k + 1 :]
    return slope


def _stepped(factors: Floats, miss: Floats, last_moves: NDArray[np.bool_] | None) -> Floats:
    """The step that makes up for what is missed, in place; the last unknown only where it is to move."""
    for k in range(len(miss) - 1):
        miss[k + 1 :] -= factors[k + 1 :, k] * miss[k]
    for k in reversed(range(len(miss))):
        miss[k] /= factors[k, k]
        if last_moves is not None and k == len(miss) - 1:
            miss[k] *= last_moves
        miss[:k] -= factors[:k, k] * miss[k]
    return miss


def _waters(totals: Mapping[str, Array], unnamed_eq_l: Array, temperature_c: Array, has_carbonate: bool) -> _Waters:
    """Waters of these totals, unsolved."""
    n = unnamed_eq_l.size
    some = {name: total for name, total in totals.items() if np.any(total > 0)}
    if has_carbonate:
        some["carbonate"] = np.zeros(n)
    found = plan(tuple(x for x in LIGANDS if x in some), tuple(m for m in METALS if m in some))
    protons = -unnamed_eq_l
    for name, total in some.items():
        if COMPONENT_CHARGE[name]:
            protons = protons - COMPONENT_CHARGE[name] * total
    held = np.stack([np.maximum(some[x], FLOOR) for x in found.ligands]) if found.ligands else np.empty((0, n))
    needed = np.stack([protons, *(np.maximum(some[m], FLOOR) for m in found.metals)])
    return _Waters(found, held, needed, some.get("Cl", np.zeros(n)), unnamed_eq_l, temperature_c)


def solve(
    totals: Mapping[str, Array],
    unnamed_eq_l: Array,
    temperature_c: Array,
    co2_activity: Array | None = None,
) -> Speciated:
    """Solve waters of given totals in mol/l (see COMPONENT_CHARGE), each of shape (n,); temperature (n,) or (1,).

    All carbonate stays (closed); with co2_activity, that of CO2 is held and totals["carbonate"] not read (open).
    """
    waters = _waters(totals, unnamed_eq_l, temperature_c, co2_activity is not None)
    waters.co2 = co2_activity
    return _read(waters.found, waters.solved(*ROUGH_STEPS))


def solve_carbonate(
    totals: Mapping[str, Array], unnamed_eq_l: Array, temperature_c: Array, ph: Array, alkalinity_eq_l: Array
) -> Speciated:
    """Find the carbonate of waters without acids from pH and alkalinity; next to none where less would be needed."""
    waters = _waters(totals, unnamed_eq_l, temperature_c, True)
    waters.needed[0] = -alkalinity_eq_l
    return _read(waters.found, waters.solved(*ROUGH_TAP_STEPS, ph))


def _read(found: Plan, rows: Array) -> Speciated:
    """The rows of a solution by name."""
    unknown = ("H", *found.metals)
    after = len(unknown) + len(found.ligands)
    return Speciated(
        dict(zip(unknown, rows, strict=False)),
        dict(zip(found.ligands, rows[len(unknown) :], strict=False)),
        *rows[after : after + 5],
    )
