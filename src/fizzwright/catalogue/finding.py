"""Finding an entry by what a maker types: id, common or label name, CAS, botanical name; slips allowed."""

from __future__ import annotations

import re
from collections.abc import Iterable, Iterator
from dataclasses import dataclass
from typing import TYPE_CHECKING

from rapidfuzz import fuzz, process, utils

from fizzwright.catalogue.model import Constituent, Entry, Material, Mould, Oil

if TYPE_CHECKING:
    from fizzwright.catalogue.holdings import Catalogue

_CAS = re.compile(r"\d{2,7}-\d{2}-\d")
_LEAST_SCORE = 72.0


@dataclass(frozen=True, slots=True)
class Hit:
    """One entry found."""

    entry: Entry
    kind: str
    """material, oil, constituent, mould, limit, allergen, colour, measure or fact."""
    score: float
    """0 to 100; 100 when what was typed is one of its names."""
    matched: str
    """The id, name or number that matched."""


def nearest(catalogue: Catalogue, wanted: str, among: str, n: int) -> list[str]:
    """The n ids most like `wanted`, best first."""
    pools: dict[str, Iterable[str]] = {
        "usable": [*catalogue.materials, *catalogue.oils, *catalogue.constituents],
        "mould": list(catalogue.moulds),
        "measure": list(catalogue.measures),
        "fact": list(catalogue.facts),
    }
    found = process.extract(wanted, pools[among], scorer=fuzz.WRatio, processor=utils.default_process, limit=n)
    return [choice for choice, _, _ in found]


def search(catalogue: Catalogue, query: str, limit: int) -> list[Hit]:
    """Entries that match, best first; at most `limit`."""
    query = query.strip()
    names = _names(catalogue)
    if _CAS.fullmatch(query):
        return [Hit(entry, kind, 100.0, name) for name, _, kind, entry in names if name == query][:limit]
    wanted = utils.default_process(query)
    if not wanted:
        return []
    best: dict[int, Hit] = {}
    found = process.extract(
        wanted, [plain for _, plain, _, _ in names], scorer=fuzz.WRatio, limit=limit * 12, score_cutoff=_LEAST_SCORE
    )
    for _, score, place in found:
        name, plain, kind, entry = names[place]
        score = 100.0 if plain == wanted else min(99.0, score)
        held = best.get(id(entry))
        if held is None or held.score < score:
            best[id(entry)] = Hit(entry, kind, round(score, 1), name)
    return sorted(best.values(), key=lambda hit: -hit.score)[:limit]


def _names(catalogue: Catalogue) -> list[tuple[str, str, str, Entry]]:
    """Every name of every entry: as written, plain for comparing, kind, entry."""
    return [
        (name, utils.default_process(name), kind, entry)
        for kind, entry in _entries(catalogue)
        for name in names_of(entry)
    ]


def _entries(catalogue: Catalogue) -> Iterator[tuple[str, Entry]]:
    for kind, entries in (
        ("material", catalogue.materials.values()),
        ("oil", catalogue.oils.values()),
        ("constituent", catalogue.constituents.values()),
        ("mould", catalogue.moulds.values()),
    ):
        for entry in entries:
            yield kind, entry


def names_of(entry: Entry) -> list[str]:
    """What an entry is called: id, name, label names, botanical name, CAS."""
    names = [entry.id, entry.name]
    if isinstance(entry, Material):
        names += [entry.inci, entry.inci_eu, entry.cas]
    elif isinstance(entry, Oil):
        names += [entry.botanical, entry.inci, entry.inci_eu, entry.cas]
    elif isinstance(entry, Constituent):
        names += [entry.cas, *entry.cas_aliases]
    elif isinstance(entry, Mould):
        names.append(entry.shape)
    return [name for name in dict.fromkeys(names) if name]
