"""Finding an entry by what a maker types: id, common or label name, CAS, botanical name; slips allowed."""

from __future__ import annotations

import re
from collections.abc import Iterable, Iterator
from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np
from rapidfuzz import fuzz, process, utils

from fizzwright.catalogue.model import Allergen, ColourRule, Constituent, Entry, Limit, Material, Mould, Oil

if TYPE_CHECKING:
    from fizzwright.catalogue.holdings import Catalogue

_CAS = re.compile(r"\d{2,7}-\d{2}-\d")
_LEAST_SCORE = 72.0
_STARTS_SCORE = 96.0
_WORDS_SCORE = 95.0
_PART_SHARE = 0.9
"""A slip inside one word of a long name counts a little less than the same slip in the whole name."""
_COLOUR_SHARE = 0.97
_SUBSTANCE_SHARE = 0.98
_RULE_SHARE = 0.92
"""What can be put in a bowl comes before the rules about it."""


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


@dataclass(frozen=True, slots=True)
class Name:
    """One of the names of one entry."""

    written: str
    plain: str
    """Lower case, punctuation turned to spaces, as compared."""
    kind: str
    entry: Entry


KINDS_AMONG = {"usable": ("material", "oil", "constituent"), "mould": ("mould",)}


def nearest(catalogue: Catalogue, names: list[Name], wanted: str, among: str, n: int) -> list[str]:
    """The n ids most like `wanted`, best first: by any name a maker may know them by, then by the letters of the id."""
    kinds = KINDS_AMONG.get(among, ())
    by_name = (
        [hit.entry.id for hit in search([name for name in names if name.kind in kinds], wanted, n)] if kinds else []
    )
    pools: dict[str, Iterable[str]] = {
        "usable": [*catalogue.materials, *catalogue.oils, *catalogue.constituents],
        "mould": list(catalogue.moulds),
        "measure": list(catalogue.measures),
        "fact": list(catalogue.facts),
        "constituent": [constituent.name for constituent in catalogue.constituents.values()],
    }
    found = process.extract(wanted, pools[among], scorer=fuzz.WRatio, processor=utils.default_process, limit=n)
    return list(dict.fromkeys([*by_name, *(choice for choice, _, _ in found)]))[:n]


def search(names: list[Name], query: str, limit: int) -> list[Hit]:
    """Entries that match, best first; at most `limit`."""
    query = query.strip()
    best: dict[int, Hit] = {}
    if _CAS.fullmatch(query):
        for name in names:
            if name.written == query:
                best.setdefault(id(name.entry), Hit(name.entry, name.kind, 100.0, name.written))
        return list(best.values())[:limit]
    wanted = _plain(query)
    if not wanted:
        return []
    plain = [name.plain for name in names]
    whole = process.cdist([wanted], plain, scorer=fuzz.token_sort_ratio)[0]
    part = process.cdist([wanted], plain, scorer=fuzz.partial_ratio)[0] * _PART_SHARE
    longer = np.array([len(text) >= len(wanted) for text in plain])
    for name, score in zip(names, np.where(longer, np.maximum(whole, part), whole).tolist(), strict=True):
        score = _bettered(score, wanted, name)
        held = best.get(id(name.entry))
        if score >= _LEAST_SCORE and (held is None or held.score < score):
            best[id(name.entry)] = Hit(name.entry, name.kind, round(score, 1), name.written)
    return sorted(best.values(), key=lambda hit: -hit.score)[:limit]


def _plain(text: str) -> str:
    """As compared: lower case, punctuation as spaces, numbers apart from their unit (65mm is 65 mm)."""
    return re.sub(r"(?<=\d)(?=[a-z])|(?<=[a-z])(?=\d)", " ", str(utils.default_process(text)))


def _share(name: Name) -> float:
    """What is most often meant comes first: what goes into a bowl by the cup, then colours and single aroma substances."""
    if isinstance(name.entry, Material) and name.entry.function == "colourant":
        return _COLOUR_SHARE
    if name.kind == "constituent":
        return _SUBSTANCE_SHARE
    return 1.0 if name.kind in ("material", "oil", "mould") else _RULE_SHARE


def _bettered(score: float, wanted: str, name: Name) -> float:
    """A name typed in full, or only begun, beats any likeness; the shorter the rest of the name, the better."""
    plain = name.plain
    share = _share(name)
    if plain == wanted:
        return 100.0 if name.kind in ("material", "oil", "constituent", "mould") else 100.0 * share
    rest = min(4.0, 0.1 * (len(plain) - len(wanted)))
    if plain.startswith(wanted):
        score = max(score, _STARTS_SCORE - rest)
    elif wanted[0] in plain:
        words = plain.split()
        if all(any(word.startswith(typed) for word in words) for typed in wanted.split()):
            score = max(score, _WORDS_SCORE - rest)
    return min(99.0, score) * share


def all_names(catalogue: Catalogue) -> list[Name]:
    """Every name of every entry that can be looked up."""
    return [
        Name(written, _plain(written), kind, entry)
        for kind, entry in _entries(catalogue)
        for written in names_of(entry)
    ]


def _entries(catalogue: Catalogue) -> Iterator[tuple[str, Entry]]:
    groups: tuple[tuple[str, Iterable[Entry]], ...] = (
        ("material", catalogue.materials.values()),
        ("oil", catalogue.oils.values()),
        ("constituent", catalogue.constituents.values()),
        ("mould", catalogue.moulds.values()),
        ("limit", catalogue.limits),
        ("allergen", catalogue.allergens),
        ("colour", catalogue.colours.values()),
        ("measure", catalogue.measures.values()),
        ("fact", catalogue.facts.values()),
    )
    for kind, entries in groups:
        for entry in entries:
            yield kind, entry


def names_of(entry: Entry) -> list[str]:
    """What an entry is called: id, name, label names, botanical name, CAS."""
    names = [entry.id, entry.name]
    if isinstance(entry, Material):
        names += [*entry.also, entry.inci, entry.inci_eu, *entry.cas.replace(";", " ").split()]
    elif isinstance(entry, Oil):
        names += [entry.botanical, entry.inci, entry.inci_eu, entry.cas]
    elif isinstance(entry, Constituent):
        names += [entry.cas, *entry.cas_aliases]
    elif isinstance(entry, Mould):
        names.append(entry.shape)
    elif isinstance(entry, Limit | Allergen):
        names += entry.cas
    elif isinstance(entry, ColourRule):
        names += [entry.ci_number, f"CI {entry.ci_number}" if entry.ci_number else "", entry.label_name_us]
    return [name for name in dict.fromkeys(names) if name]
