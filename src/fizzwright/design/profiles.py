"""What a scent is made of, as numbers two scents can be laid side by side by: constituents as a nose weighs them, and families.

Over an ideal mixture a constituent's odour activity goes by its share times its vapour pressure over its odour threshold
(Raoult); a nose compresses that by Stevens' power. Both steps are kept linear in the grams, so that blends add up: each
constituent counts its share times (vapour pressure / threshold) to the power of Stevens' exponent. The other half of a
profile is the share of each odour family in each note class, by mass, as the catalogue names them.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from functools import lru_cache

import numpy as np
from numpy.typing import NDArray

from fizzwright.catalogue import Catalogue
from fizzwright.catalogue.holdings import Held
from fizzwright.catalogue.model import Oil
from fizzwright.design.wheel import family_words
from fizzwright.review.airing import EXPONENT
from fizzwright.review.joins import likely_pct
from fizzwright.review.vapours import airborne

Array = NDArray[np.float64]

HALF = 0.5
"""Our own choice: constituents and families count half each in how near two scents are."""


families = family_words
"""The odour families an oil belongs to, as the catalogue names them: "floral-herbal" is both."""


def classes(oil: Oil) -> tuple[str, ...]:
    """Its note classes: top, middle, base."""
    return tuple(word.strip() for word in oil.note_class.split("/") if word.strip())


@dataclass(frozen=True)
class Profiles:
    """The profiles of all oils of a catalogue, a row each."""

    oils: tuple[str, ...]
    constituents: Array
    """Shape (oils, constituents): what a gram brings, weighed as a nose does."""
    constituent_ids: tuple[str, ...]
    kinds: Array
    """Shape (oils, families x classes): share of a gram; a row sums to 1."""
    kind_names: tuple[tuple[str, str], ...]
    """Family and note class of each column."""

    def place(self, oil: str) -> int:
        """Row of an oil; ValueError when the catalogue has none of that id."""
        return self.oils.index(oil)

    def blend(self, grams: Mapping[str, float]) -> tuple[Array, Array]:
        """The two halves of a blend's profile: sums over its oils."""
        rows = [self.place(oil) for oil in grams]
        amounts = np.array(list(grams.values()), dtype=float)
        return amounts @ self.constituents[rows], amounts @ self.kinds[rows]

    def alike(self, one: Mapping[str, float], other: Mapping[str, float]) -> float:
        """Overlap of two blends whatever their strength, 0 to 1: half by constituents, half by families and notes."""
        total = 0.0
        for left, right in zip(self.blend(one), self.blend(other), strict=True):
            if left.sum() > 0 and right.sum() > 0:
                total += HALF * float(np.minimum(left / left.sum(), right / right.sum()).sum())
        return total

    def covers(self, wanted: Mapping[str, float], made: Mapping[str, float]) -> float:
        """How much of a wanted scent a blend brings, gram for gram, 0 to 1: a faint likeness covers little of it."""
        total = 0.0
        for left, right in zip(self.blend(wanted), self.blend(made), strict=True):
            if left.sum() > 0:
                total += HALF * float(np.minimum(left, right).sum() / left.sum())
        return total

    def family_shares(self, grams: Mapping[str, float]) -> dict[str, float]:
        """Share of each odour family in a blend, most first."""
        found: dict[str, float] = {}
        kinds = self.blend(grams)[1]
        for (family, _), value in zip(self.kind_names, kinds / kinds.sum(), strict=True):
            found[family] = found.get(family, 0.0) + float(value)
        return {name: share for name, share in sorted(found.items(), key=lambda pair: -pair[1]) if share > 0}


def _weights(oil: Oil, catalogue: Catalogue) -> dict[str, float]:
    """What a gram of an oil brings to a nose, by constituent id; what nothing is known of is left out."""
    # typical figures of a species are collected one by one and can add up to more than the oil
    over = max(100.0, sum(likely_pct(row)[0] for row in oil.constituents))
    found: dict[str, float] = {}
    for row in oil.constituents:
        entry = catalogue.constituent_named(row.constituent)
        known = airborne(entry) if entry is not None else None
        if entry is not None and known is not None:
            nose = (known.vapour_pressure_pa / known.threshold_mg_m3) ** EXPONENT[1]
            found[entry.id] = found.get(entry.id, 0.0) + likely_pct(row)[0] / over * nose
    return found


@lru_cache(maxsize=4)
def _profiles(held: Held) -> Profiles:
    catalogue = held.catalogue
    oils = tuple(catalogue.oils)
    weights = [_weights(oil, catalogue) for oil in catalogue.oils.values()]
    ids = tuple(sorted({name for row in weights for name in row}))
    names = tuple(sorted({(f, c) for oil in catalogue.oils.values() for f in families(oil) for c in classes(oil)}))
    kinds = np.zeros((len(oils), len(names)))
    for row, entry in enumerate(catalogue.oils.values()):
        own = [names.index((f, c)) for f in families(entry) for c in classes(entry)]
        kinds[row, own] = 1.0 / max(len(own), 1)
    table = np.array([[row.get(name, 0.0) for name in ids] for row in weights])
    return Profiles(oils, table.reshape(len(oils), len(ids)), ids, kinds, names)


def profiles(catalogue: Catalogue) -> Profiles:
    """The profiles of a catalogue's oils, made once for each catalogue."""
    return _profiles(Held(catalogue))


def profile(oil: str, catalogue: Catalogue) -> Array:
    """What a gram of an oil brings to a nose, by constituent in the order of `profiles(catalogue).constituent_ids`."""
    known = profiles(catalogue)
    row: Array = known.constituents[known.place(oil)]
    return row


def nearest(oil: str, among: Sequence[str], catalogue: Catalogue) -> list[tuple[str, float]]:
    """Other oils by how alike they smell, most first."""
    known = profiles(catalogue)
    return sorted(((o, known.alike({oil: 1.0}, {o: 1.0})) for o in among if o != oil), key=lambda p: (-p[1], p[0]))
