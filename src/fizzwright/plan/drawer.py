"""The drawer: which cups and spoons a kitchen has, and every way to pile them up to a volume."""

from __future__ import annotations

import re
from collections.abc import Iterable
from fractions import Fraction
from functools import lru_cache
from itertools import combinations, product
from typing import NamedTuple

import numpy as np
from numpy.typing import NDArray

from fizzwright.catalogue import Catalogue
from fizzwright.recipe.amounts import AmountRefused, format_amount, parse_amount
from fizzwright.recipe.measures import unit_ml
from fizzwright.recipe.model import Amount
from fizzwright.refusal import Refusal

TERMS_AT_MOST = 3
"""More than three different measures for one ingredient is a puzzle, not a recipe."""
SMALLER_AT_MOST = 8
"""Scoops below the largest measure for one ingredient: beyond these nobody counts right."""
SPOONS_AT_MOST = 12
LEAST_ML, MOST_ML = 0.1, 1000.0
"""From a smidgen to a litre jug: outside, something else was typed."""
FULL_SET = ("1 cup", "1/2 cup", "1/3 cup", "1/4 cup", "1 tbsp", "1 tsp", "1/2 tsp", "1/4 tsp", "1/8 tsp")
"""The cups and spoons sold as a set."""
ALLOWED = "cups and spoons such as 1 cup, 1/3 cup, 1 tbsp, 1/4 tsp, 15 ml"
UNITS = ("cup", "tbsp", "tsp", "fl_oz", "pinch", "ml")
SAME = 1e-4
"""Volumes closer than this, as a share, are one: the catalogue's own digits."""
EDGE_ML = 1e-9
"""A volume at the very edge of what is asked counts as inside."""
_TAIL = re.compile(r"\s+(scoops?|spoons?|measures?)$", re.IGNORECASE)
_WRITTEN = (("cup", 4, 1e9), ("tbsp", 1, 12), ("tsp", 8, 12), ("cup", 8, 1e9), ("tbsp", 8, 1e9), ("tsp", 8, 1e9))
"""How a volume is written: the first unit that takes it with no finer fraction and no larger number than these."""

Array = NDArray[np.float64]


class Spoon(NamedTuple):
    """One measure of the drawer."""

    label: str
    """How it is marked: "1/2 cup", "15 ml"; "cup" for a whole one, so that 2 of them read "2 cups"."""
    volume_ml: float


class Drawer(NamedTuple):
    """The measures of one kitchen, largest first, in one system."""

    system: str
    spoons: tuple[Spoon, ...]

    @property
    def words(self) -> str:
        """All its measures in a row: "1 cup, 1/2 cup, 1 tsp"."""
        return ", ".join(words(spoon.label, 1) for spoon in self.spoons)


class Pile(NamedTuple):
    """Some scoops that make up one amount."""

    volume_ml: float
    scoops: int
    counts: tuple[int, ...]
    """How often each measure of the drawer is used."""

    def text(self, drawer: Drawer) -> str:
        """The pile as a cook says it: "1 cup + 2 tbsp"."""
        return " + ".join(
            words(spoon.label, count) for spoon, count in zip(drawer.spoons, self.counts, strict=True) if count
        )


def words(label: str, count: int) -> str:
    """A measure so many times: "1/2 cup", "2 x 1/3 cup", "3 cups", "2 tbsp"."""
    if label[0].isdigit():
        return label if count == 1 else f"{count} x {label}"
    return f"{count} {label}{'s' if label == 'cup' and count > 1 else ''}"


def read_drawer(names: Iterable[str], system: str, catalogue: Catalogue, where: str = "spoons") -> Drawer:
    """The drawer that holds these measures, read in one system: us, metric, uk or au.

    Takes "1 cup", "1/3 cup", "tbsp", "15 ml", "5 ml scoop". Two names for one volume count once. Refusal names the
    measure that cannot be read; `where` says where it stood.
    """
    found: list[Spoon] = []
    for name in names:
        spoon = _read_spoon(name, system, catalogue, where)
        if all(abs(spoon.volume_ml / other.volume_ml - 1.0) > SAME for other in found):
            found.append(spoon)
    if not found:
        raise Refusal(f"{where}: no measure is named. Name what lies in the drawer: {ALLOWED}.")
    if len(found) > SPOONS_AT_MOST:
        raise Refusal(
            f"{where}: read {len(found)} measures. Allowed: up to {SPOONS_AT_MOST}; leave out those in between."
        )
    return Drawer(system, tuple(sorted(found, key=lambda spoon: -spoon.volume_ml)))


def read_names(text: str, where: str = "spoons") -> tuple[str, ...]:
    """The measures named in one line, parted by commas or semicolons."""
    names = tuple(name.strip() for name in re.split(r"[,;]", text))
    if not all(names):
        raise Refusal(f"{where}: read {text!r}. Between two commas stands nothing. Write {ALLOWED}.")
    return names


@lru_cache(maxsize=16)
def _full(system: str, sizes: tuple[float, ...]) -> Drawer:
    labels = [name.removeprefix("1 ") for name in FULL_SET]
    return Drawer(system, tuple(Spoon(label, ml) for label, ml in zip(labels, sizes, strict=True)))


def full_drawer(system: str, catalogue: Catalogue) -> Drawer:
    """A whole set of cups and spoons of one system (the catalogue's cup and spoons, and their halves)."""
    cup, tbsp, tsp = (unit_ml(unit, system, catalogue).ml for unit in ("cup", "tbsp", "tsp"))
    return _full(system, (cup, cup / 2, cup / 3, cup / 4, tbsp, tsp, tsp / 2, tsp / 4, tsp / 8))


def _read_spoon(name: str, system: str, catalogue: Catalogue, where: str) -> Spoon:
    plain = _TAIL.sub("", name.strip())
    try:
        amount = parse_amount(plain if plain[:1].isnumeric() or plain[:1] in "-+." else f"1 {plain}")
    except AmountRefused as error:
        raise Refusal(f"{where}: read {name!r}. {error} Allowed: {ALLOWED}.") from error
    if amount.number is None or amount.unit not in UNITS:
        raise Refusal(f"{where}: read {name!r}. That is no cup or spoon. Allowed: {ALLOWED}.")
    if amount.habit is not None:
        raise Refusal(f'{where}: read {name!r}. How it is filled ("{amount.habit}") goes with a line of the recipe.')
    volume = float(amount.number) * unit_ml(amount.unit, system, catalogue).ml
    if not LEAST_ML <= volume <= MOST_ML:
        raise Refusal(f"{where}: read {name!r}, {volume:.3g} ml. Allowed: measures of {LEAST_ML:g} to {MOST_ML:g} ml.")
    label = format_amount(Amount("", amount.number, amount.unit))
    return Spoon(amount.unit if amount.number == 1 and amount.unit != "ml" else label, volume)


def _often(spoon: Spoon, larger: tuple[Spoon, ...]) -> int:
    """How often one ingredient may use a measure: once less than makes up a larger one exactly."""
    ratios = [other.volume_ml / spoon.volume_ml for other in larger]
    whole = [round(r) for r in ratios if round(r) > 1 and abs(r / round(r) - 1.0) < SAME]
    return min(min(whole, default=SMALLER_AT_MOST + 1) - 1, SMALLER_AT_MOST)


class _Piles(NamedTuple):
    """Every pile below the largest measure, by rising volume."""

    volume_ml: Array
    scoops: Array
    terms: Array
    counts: tuple[tuple[int, ...], ...]


@lru_cache(maxsize=32)
def _piles(drawer: Drawer) -> _Piles:
    many = len(drawer.spoons)
    often = [_often(spoon, drawer.spoons[:i]) for i, spoon in enumerate(drawer.spoons)]
    counts = [(0,) * many]
    for terms in range(1, min(TERMS_AT_MOST, many - 1) + 1):
        for group in combinations(range(1, many), terms):
            for taken in product(*(range(1, often[i] + 1) for i in group)):
                if sum(taken) <= SMALLER_AT_MOST:
                    row = dict(zip(group, taken, strict=True))
                    counts.append(tuple(row.get(i, 0) for i in range(many)))
    table = np.array(counts)
    volume = table @ np.array([spoon.volume_ml for spoon in drawer.spoons])
    order = np.lexsort((table.sum(axis=1), volume))
    table = table[order]
    return _Piles(
        volume[order],
        table.sum(axis=1).astype(float),
        (table > 0).sum(axis=1).astype(float),
        tuple(counts[i] for i in order),
    )


def piles(least_ml: float, most_ml: float, drawer: Drawer) -> list[Pile]:
    """Every pile of up to three different measures between two volumes; of equal volumes the one of fewest scoops.

    The largest measure may be used as often as it takes, the others less often than makes up a larger one.
    """
    below, largest = _piles(drawer), drawer.spoons[0].volume_ml
    top = float(below.volume_ml[-1])
    found: dict[int, Pile] = {}
    for whole in range(max(int((least_ml - top) // largest), 0), int((most_ml + EDGE_ML) // largest) + 1):
        first, last = np.searchsorted(
            below.volume_ml, (least_ml - whole * largest - EDGE_ML, most_ml - whole * largest + EDGE_ML)
        )
        for i in range(int(first), int(last)):
            scoops = int(below.scoops[i]) + whole
            if below.terms[i] + (whole > 0) > TERMS_AT_MOST or scoops == 0:
                continue
            volume = whole * largest + float(below.volume_ml[i])
            key = round(volume / SAME / LEAST_ML)
            if key not in found or scoops < found[key].scoops:
                found[key] = Pile(volume, scoops, (whole, *below.counts[i][1:]))
    return sorted(found.values())


def nearest(volume_ml: float, drawer: Drawer, good_enough_pct: float = 0.0) -> Pile:
    """The pile closest to a volume; errors below `good_enough_pct` count as equal, and the fewest scoops win."""

    def rank(pile: Pile) -> tuple[float, int, float]:
        off = abs(pile.volume_ml - volume_ml)
        return max(off / volume_ml * 100.0, good_enough_pct), pile.scoops, off

    smallest = drawer.spoons[-1].volume_ml
    reach = max(volume_ml * max(good_enough_pct, 1.0) / 100.0, 1e-6)
    while not (found := piles(volume_ml - reach, volume_ml + reach, drawer)):
        reach = min(reach * 2.0, reach + smallest)
    # a wider look may find fewer scoops at no greater error only inside good_enough_pct, which is all in sight
    return min(found, key=rank)


def amount_text(pile: Pile, drawer: Drawer, catalogue: Catalogue, habit: str | None = None) -> str:
    """The volume of a pile as one amount of a recipe document: "1 1/8 cup", "5 tbsp", "22.5 ml"."""
    marked_ml = all(s.label.endswith(" ml") for s, count in zip(drawer.spoons, pile.counts, strict=True) if count)
    for unit, finest, most in () if marked_ml else _WRITTEN:
        number = pile.volume_ml / unit_ml(unit, drawer.system, catalogue).ml
        near = Fraction(number).limit_denominator(finest)
        if near > 0 and number <= most and abs(float(near) / number - 1.0) < SAME / 10:
            return format_amount(Amount("", near, unit, habit))
    return format_amount(Amount("", Fraction(f"{pile.volume_ml:.3f}"), "ml", habit))
