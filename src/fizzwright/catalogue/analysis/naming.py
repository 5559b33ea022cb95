"""Which constituent of the catalogue a laboratory's name or CAS number means, and how sure that is."""

from __future__ import annotations

import csv
import re
from collections import defaultdict
from collections.abc import Iterable, Mapping
from dataclasses import dataclass, replace
from functools import lru_cache
from pathlib import Path

from fizzwright.catalogue.analysis.reading import Peak
from fizzwright.catalogue.analysis.spelling import is_cas, key, keys, plain
from fizzwright.catalogue.holdings import Catalogue, Held
from fizzwright.catalogue.model import Constituent, Oil
from fizzwright.refusal import Refusal

NAMES = Path(__file__).parent / "names.csv"
NEAR_SCORE = 84.0
"""estimate: of 100; below it two names are too unlike to be one with a slip."""
LONGEST_NAME = 200
"""Characters: no name or merged peak comes near it."""
UNNAMED = "none"
"""The answer that leaves a peak without a name."""
_MERGED = re.compile(r"\s*(?:\+(?!\)|/-|-)|&|\band\b|\bet\b|\bund\b|;)\s*")
_KINDRED = re.compile(r"epi|iso|neo|nor|allo|hydro|deoxy|methyl|ethyl|acetyl|oxide|epoxide")
_CAS = re.compile(r"\d{2,7}-\d{2}-\d")
HOW_WORDS = {
    "cas": "CAS number",
    "name": "name",
    "spelling": "other name or spelling",
    "near": "nearly this name",
    "told": "as you said",
    "none": "no name here",
}


@dataclass(frozen=True, slots=True)
class Match:
    """What one peak was taken for."""

    peak: Peak
    ids: tuple[str, ...]
    """Constituents; several when the peak is merged or its isomers are not told apart; none when nothing fits."""
    how: str
    """cas, name, spelling, near, told or none."""
    score: float
    """0 to 100."""
    question: str = ""
    """What a person must confirm; nothing when there is no doubt."""
    remark: str = ""
    isomers: bool = False
    """True when the several ids are isomers of one substance, so that their sum is known."""
    nearest: tuple[str, ...] = ()
    """What else it may be."""

    @property
    def label(self) -> str:
        """What the laboratory wrote."""
        return self.peak.name or self.peak.cas or f"row {self.peak.row}"

    @property
    def proposal(self) -> str:
        """What is proposed, as an answer is written."""
        return "+".join(self.ids) or UNNAMED


@dataclass(frozen=True)
class Lookup:
    """The catalogue's constituents by number and by name."""

    by_cas: Mapping[str, tuple[str, ...]]
    """The constituent whose own number it is first; else all that are counted under it."""
    by_key: Mapping[str, tuple[str, ...]]
    named: frozenset[tuple[str, str]]
    """Keys that are the catalogue's own names, with their constituent."""


def lookup(catalogue: Catalogue) -> Lookup:
    """The names and numbers of a catalogue, made once for each."""
    return _lookup(Held(catalogue))


@lru_cache(maxsize=4)
def _lookup(held: Held) -> Lookup:
    constituents = held.catalogue.constituents
    own: dict[str, list[str]] = defaultdict(list)
    under: dict[str, list[str]] = defaultdict(list)
    by_key: dict[str, list[str]] = defaultdict(list)
    named = set()
    for entry in constituents.values():
        if entry.cas:
            own[entry.cas].append(entry.id)
        for number in entry.cas_aliases:
            under[number].append(entry.id)
        named.add((key(entry.name), entry.id))
        by_key[key(entry.name)].append(entry.id)
    with NAMES.open(encoding="utf-8", newline="") as file:
        for row in csv.DictReader(file):
            if row["constituent"] in constituents and row["constituent"] not in by_key[key(row["also"])]:
                by_key[key(row["also"])].append(row["constituent"])
    by_cas = {number: tuple(ids) for number, ids in under.items()} | {number: tuple(ids) for number, ids in own.items()}
    return Lookup(by_cas, {name: tuple(ids) for name, ids in by_key.items()}, frozenset(named))


def isomers_of(catalogue: Catalogue, generic: Constituent) -> tuple[str, ...]:
    """The constituents that are counted under the number of an unspecific one: geranial and neral for citral."""
    if not generic.cas:
        return ()
    return tuple(k.id for k in catalogue.constituents.values() if k.id != generic.id and generic.cas in k.cas_aliases)


def match_peaks(peaks: Iterable[Peak], catalogue: Catalogue, oil: Oil | None = None) -> tuple[Match, ...]:
    """What each peak means; with an oil, unspecific names are read as the isomers that the species holds."""
    listed = (
        {k.id for part in oil.constituents if (k := catalogue.constituent_named(part.constituent))} if oil else set()
    )
    return tuple(_match(peak, catalogue, lookup(catalogue), listed) for peak in peaks)


def _match(peak: Peak, catalogue: Catalogue, names: Lookup, listed: set[str]) -> Match:
    if len(peak.name) > LONGEST_NAME and not peak.cas:
        return Match(peak, (), "none", 0.0, remark="Too long for the name of a substance; it was passed over.")
    numbers = _CAS.findall(peak.cas) or _CAS.findall(peak.name)
    parts = _parts(peak.name, names)
    if len(parts) > 1:
        return _merged(peak, parts, catalogue, names, listed)
    by_number = names.by_cas.get(numbers[0], ()) if len(numbers) == 1 else ()
    by_name, as_written = _named(peak.name, names)
    remark = ""
    if numbers and not all(map(is_cas, numbers)):
        remark = f"The check digit of the CAS number {peak.cas} does not fit; it was passed over."
        by_number = ()
    elif peak.cas and not numbers:
        remark = f"{peak.cas[:40]!r} is no CAS number; it was passed over."
    elif numbers and not by_number and by_name:
        remark = f"The catalogue does not hold the CAS number {numbers[0]}; the name decided."
    if by_number and by_name:
        both = tuple(entry for entry in by_number if entry in by_name)
        if both or _akin(catalogue, by_number, by_name):
            return _settled(Match(peak, both or by_number, "cas", 100.0, remark=remark), catalogue, listed)
        said = f"the number is that of {_names(catalogue, by_number)}, the name that of {_names(catalogue, by_name)}"
        return Match(peak, by_number, "cas", 50.0, f"Number and name disagree: {said}.", nearest=(*by_number, *by_name))
    if by_number:
        return _settled(Match(peak, by_number, "cas", 100.0, remark=remark), catalogue, listed)
    if by_name:
        own = any((key(peak.name), entry) in names.named for entry in by_name)
        how = "name" if own and as_written else "spelling"
        return _settled(Match(peak, by_name, how, 100.0 if how == "name" else 95.0, remark=remark), catalogue, listed)
    return _near(peak, catalogue, names, listed, remark)


def _named(name: str, names: Lookup) -> tuple[tuple[str, ...], bool]:
    for wanted, as_written in keys(_CAS.sub("", name)) if name else ():
        if (found := names.by_key.get(wanted)) and wanted != "||":
            return found, as_written
    return (), False


def _parts(name: str, names: Lookup) -> list[str]:
    """The names in a merged peak; a stroke parts names only when a name stands on either side of it."""
    parts = [part for part in _MERGED.split(name) if part.strip()]
    if len(parts) == 1 and "/" in name:
        strokes = [part.strip() for part in name.split("/") if part.strip()]
        if len(strokes) > 1 and all(_named(part, names)[0] for part in strokes):
            return strokes
    return parts if len(parts) > 1 and any(_named(part, names)[0] for part in parts) else [name]


def _merged(peak: Peak, parts: list[str], catalogue: Catalogue, names: Lookup, listed: set[str]) -> Match:
    ids: list[str] = []
    unknown = []
    for part in parts:
        found = _narrowed(_named(part, names)[0], catalogue, listed)[0]
        ids += [entry for entry in found if entry not in ids]
        if not found:
            unknown.append(part)
    lost = f" {', '.join(unknown)} is not known here and would get nothing." if unknown else ""
    question = (
        f"One peak for {_names(catalogue, ids)}: nobody can part it. Shared out as the species usually holds them, each from "
        f"nothing to all of it?{lost}"
    )
    return Match(peak, tuple(ids), "spelling", 60.0, question, nearest=tuple(ids))


def _settled(match: Match, catalogue: Catalogue, listed: set[str]) -> Match:
    ids, remark = _narrowed(match.ids, catalogue, listed)
    return replace(match, ids=ids, isomers=len(ids) > 1, remark=" ".join(filter(None, (match.remark, remark))))


def _narrowed(ids: tuple[str, ...], catalogue: Catalogue, listed: set[str]) -> tuple[tuple[str, ...], str]:
    """An unspecific name as the isomers the species holds; without any, the unspecific one itself."""
    if not ids or (len(ids) == 1 and ids[0] in listed):
        return ids, ""
    wider = dict.fromkeys(ids)
    for entry in ids:
        wider |= dict.fromkeys(isomers_of(catalogue, catalogue.constituents[entry]))
    if len(wider) == 1:
        return ids, ""
    held = tuple(entry for entry in wider if entry in listed)
    if held:
        return held, f"Read as {_names(catalogue, held)}, which the species holds."
    return (max(ids, key=lambda entry: len(isomers_of(catalogue, catalogue.constituents[entry]))),), ""


def _near(peak: Peak, catalogue: Catalogue, names: Lookup, listed: set[str], remark: str) -> Match:
    from rapidfuzz import fuzz, process

    wanted = key(peak.name)
    nothing = Match(peak, (), "none", 0.0, remark=remark)
    if len(wanted.rpartition("|")[2]) < 5:
        return nothing
    found = process.extract(wanted, list(names.by_key), scorer=fuzz.ratio, score_cutoff=NEAR_SCORE, limit=6)
    # the Greek letter and isomer, when they agree, must not make up for another stem: gamma-pinene, gamma-terpinene
    stem = wanted.rpartition("|")[2]
    options = [(names.by_key[name], fuzz.ratio(stem, name.rpartition("|")[2]), name) for name, _, _ in found]
    nearest = tuple(dict.fromkeys(entry for ids, _, _ in options for entry in _narrowed(ids, catalogue, listed)[0]))
    # A slip of the pen does not change alpha to gamma or 1,4 to 1,8: those are other substances.
    alike = [
        (ids, score)
        for ids, score, name in options
        if score >= NEAR_SCORE and _marks(name) == _marks(wanted) and _ending(name) == _ending(wanted)
    ]
    if not alike:
        question = f"Not known here; perhaps {_names(catalogue, nearest[:3], 'or')}?" if nearest else ""
        return replace(nothing, question=question, nearest=nearest)
    ids = _narrowed(alike[0][0], catalogue, listed)[0]
    score = round(min(alike[0][1], 94.0), 1)
    return Match(peak, ids, "near", score, f"Is this {_names(catalogue, ids)}?", remark, len(ids) > 1, nearest)


def _marks(name: str) -> tuple[str, ...]:
    """What tells one substance from another of nearly the same name: isomer, Greek letter, places, and such as epi or iso."""
    isomer, greek, rest = name.split("|")
    return isomer, greek, re.sub(r"\D", "", rest), *sorted(_KINDRED.findall(rest))


def _ending(name: str) -> str:
    """ene, ol, one, al: what kind of substance it is."""
    found = re.search(r"(ene|ol|one|al|ate|oxide|ane|ide)[a-z]?$", name)
    return found[1] if found else ""


def _akin(catalogue: Catalogue, one: tuple[str, ...], other: tuple[str, ...]) -> bool:
    """True when two readings share a number, as isomers counted under one do."""

    def numbers(ids: tuple[str, ...]) -> set[str]:
        entries = [catalogue.constituents[entry] for entry in ids]
        return {number for k in entries for number in (k.cas, *k.cas_aliases) if number}

    return bool(numbers(one) & numbers(other))


def _names(catalogue: Catalogue, ids: Iterable[str], last: str = "and") -> str:
    from fizzwright.wording import listed

    return listed((catalogue.constituents[entry].name for entry in ids), last)


def questions(matches: Iterable[Match]) -> tuple[Match, ...]:
    """The matches that a person must confirm."""
    return tuple(match for match in matches if match.question)


def answered(
    matches: Iterable[Match], answers: Mapping[str, str], catalogue: Catalogue, *, accept_near: bool = False
) -> tuple[Match, ...]:
    """The matches with a person's answers; Refusal for an answer that names nothing known or nobody asked for.

    answers: name as the laboratory wrote it -> constituent (id or name; several joined by "+" for a merged peak), or
    "none". accept_near: every proposal that is left is taken.
    """
    matches = tuple(matches)
    given = {plain(name): answer for name, answer in answers.items()}
    if lost := set(given) - {plain(match.label) for match in matches}:
        raise Refusal(
            f"{listed_names(lost)}: no peak of this report is called that. Write the name as the report has it."
        )
    found = []
    for match in matches:
        answer = given.get(plain(match.label))
        if answer is None:
            found.append(replace(match, question="") if accept_near and match.question else match)
            continue
        ids = _told(answer, match, catalogue)
        isomers = match.isomers and ids == match.ids
        how = "told" if ids else "none"
        found.append(replace(match, ids=ids, how=how, score=100.0 if ids else 0.0, question="", isomers=isomers))
    return tuple(found)


def listed_names(names: Iterable[str]) -> str:
    """Names in quotes, in order."""
    return ", ".join(f"“{name}”" for name in sorted(names))


def _told(answer: str, match: Match, catalogue: Catalogue) -> tuple[str, ...]:
    if answer.strip().casefold() == UNNAMED:
        return ()
    ids = []
    for part in re.split(r"\+(?!\))", answer):
        known = catalogue.constituent_named(part)
        if known is None:
            near = ", ".join(catalogue.nearest(part, among="constituent"))
            raise Refusal(
                f"{match.label}: answered with {part.strip()!r}, which is no constituent of the catalogue. Nearest: {near}. "
                f"Or answer “{UNNAMED}” to leave it without a name."
            )
        ids.append(known.id)
    return tuple(dict.fromkeys(ids))
