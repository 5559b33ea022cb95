"""An analysis beside what the species usually holds: shares by constituent, totals, and what lies outside."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from functools import lru_cache

import numpy as np

from fizzwright.catalogue.analysis.amounts import Share
from fizzwright.catalogue.analysis.naming import HOW_WORDS, Match
from fizzwright.catalogue.analysis.reading import LEAST_TOTAL_PCT, ROUNDING_PCT, Peak, Report
from fizzwright.catalogue.holdings import Catalogue, Held
from fizzwright.catalogue.model import Oil, OilConstituent
from fizzwright.wording import listed, shown

MISSED_PCT = 0.5
"""estimate: what a species always holds this much of, every laboratory lists."""
FOREIGN_PCT = 0.5
"""estimate: below it, what the tables of a species leave out is no news."""
STATED_APART_PCT = 1.0
"""estimate: rounding of the rows takes a stated total this far from their sum."""
NEARER = 0.03
"""estimate: likeness by which another oil must be nearer than the one named before it is told."""
AGEING: tuple[tuple[str, tuple[str, ...], tuple[str, ...]], ...] = (
    ("p-cymene", ("p_cymene",), ("gamma_terpinene", "alpha_terpinene", "d_limonene", "l_limonene", "alpha_phellandrene")),
    ("caryophyllene oxide", ("caryophyllene_oxide",), ("beta_caryophyllene",)),
    ("linalool oxides", ("linalool_oxide", "e_linalool_oxide", "z_linalool_oxide"), ("linalool",)),
    (
        "carvone and carveol",
        ("l_carvone", "d_carvone", "carvone_d_l", "e_carveol", "z_carveol"),
        ("d_limonene", "l_limonene"),
    ),
)  # fmt: skip
"""memory: what air makes of terpenes, and of which. Remembered from the literature on oxidation of oils, no text read."""


@dataclass(frozen=True, slots=True)
class LotShare:
    """What the lot holds of one constituent, percent of the oil."""

    constituent: str
    """Id in the catalogue."""
    name: str
    share: Share
    written: str
    """The names in the report."""
    how: str
    remark: str = ""


@dataclass(frozen=True, slots=True)
class Finding:
    """One thing the comparison shows; level mind or note."""

    level: str
    text: str
    reason: str
    sources: tuple[str, ...] = ()


@dataclass(frozen=True)
class Analysis:
    """A report as an analysis of one oil."""

    report: Report
    oil: Oil
    matches: tuple[Match, ...]
    shares: tuple[LotShare, ...]
    unnamed: tuple[Peak, ...]
    """Peaks that have no name here."""
    findings: tuple[Finding, ...]
    likeness: tuple[tuple[str, float], ...]
    """The oils whose profile is most like this one, and how much, 0 to 1."""

    @property
    def unnamed_pct(self) -> float:
        """Percent of the oil without a name."""
        return sum(peak.share.pct for peak in self.unnamed)


def analyse(report: Report, matches: Iterable[Match], oil: Oil, catalogue: Catalogue) -> Analysis:
    """The report compared with an oil."""
    matches = tuple(matches)
    shares = _shares(matches, oil, catalogue)
    unnamed = tuple(match.peak for match in matches if not match.ids and match.peak.share.most > 0)
    likeness = likest(matches, catalogue)
    findings = (
        *_totals(report, unnamed),
        *_mixed_up(matches, oil, likeness, catalogue),
        *_ranges(shares, oil, catalogue),
    )
    findings = tuple(sorted(findings, key=lambda finding: finding.level != "mind"))
    return Analysis(report, oil, matches, shares, unnamed, findings, likeness)


def _parted(match: Match, oil: Oil, catalogue: Catalogue) -> list[tuple[str, Share]]:
    """A peak's share by constituent: a merged one goes by what the species usually holds of each."""
    whole = match.peak.share
    if len(match.ids) < 2:
        return [(entry, whole) for entry in match.ids]
    usual = {part.constituent: usual_pct(part) for part in oil.constituents}
    weights = [usual.get(catalogue.constituents[entry].name, 0.0) for entry in match.ids]
    if sum(weights) <= 0:
        weights = [1.0] * len(match.ids)
    parts = []
    for entry, weight in zip(match.ids, weights, strict=True):
        part = weight / sum(weights)
        # Isomers are limited and labelled as one, so their known sum must not be counted twice; what merely shares a
        # peak may be all of it.
        least, most = (whole.least * part, whole.most * part) if match.isomers else (0.0, whole.most)
        parts.append((entry, Share(whole.pct * part, least, most, whole.kind)))
    return parts


def usual_pct(part: OilConstituent) -> float:
    """The typical percent of a constituent; the middle of its range when nobody has said what is typical."""
    if part.typical_pct is not None:
        return part.typical_pct
    low = part.min_pct or 0.0
    return (low + part.max_pct) / 2 if part.max_pct is not None else low


def _shares(matches: Iterable[Match], oil: Oil, catalogue: Catalogue) -> tuple[LotShare, ...]:
    found: dict[str, LotShare] = {}
    for match in matches:
        for entry, share in _parted(match, oil, catalogue):
            held = found.get(entry)
            remark = match.remark
            if len(match.ids) > 1 and not match.isomers:
                remark = "one peak with others, shared out as the species usually holds them"
            if held is not None:
                known = held.share
                share = Share(known.pct + share.pct, known.least + share.least, known.most + share.most)
                remark = " ".join(dict.fromkeys(filter(None, (held.remark, remark, "several peaks added"))))
            written = match.label if held is None else f"{held.written}; {match.label}"
            name = catalogue.constituents[entry].name
            share = Share(share.pct, share.least, min(share.most, 100.0), share.kind)
            found[entry] = LotShare(entry, name, share, written, HOW_WORDS[match.how], remark)
    return tuple(sorted(found.values(), key=lambda share: -share.share.pct))


def _totals(report: Report, unnamed: tuple[Peak, ...]) -> list[Finding]:
    total = report.total_pct
    found = []
    if total < LEAST_TOTAL_PCT:
        found.append(
            Finding(
                "mind",
                f"The figures add up to only {shown(total, 3)} %. What is not listed keeps the range of the species.",
                f"Compared: the sum of all rows with {LEAST_TOTAL_PCT:g} %, below which an oil counts as little known here.",
            )
        )
    elif total > ROUNDING_PCT:
        found.append(
            Finding(
                "note",
                f"The figures add up to {shown(total, 4)} %: rounding, most likely.",
                "Compared: the sum of all rows with 100 %.",
            )
        )
    stated = report.stated_total_pct
    if stated is not None and abs(stated - total) > STATED_APART_PCT:
        found.append(
            Finding(
                "mind",
                f"The report states {shown(stated, 4)} % in all, its rows come to {shown(total, 4)} %. Is a row missing or read wrongly?",
                f"Compared: the stated total with the sum, {STATED_APART_PCT:g} % apart at most (our own estimate).",
            )
        )
    nameless = sum(peak.share.pct for peak in unnamed)
    if nameless > 0:
        found.append(
            Finding(
                "mind" if nameless >= 2.0 else "note",
                f"{shown(nameless)} % has no name here and can be compared with no limit.",
                "The sum of the peaks that match no constituent of the catalogue. It is kept with the lot.",
            )
        )
    return found


# -- the species


def _ranges(shares: tuple[LotShare, ...], oil: Oil, catalogue: Catalogue) -> list[Finding]:
    by_name = {share.name: share for share in shares}
    found: list[Finding] = []
    above: list[OilConstituent] = []
    below: list[OilConstituent] = []
    for part in oil.constituents:
        held = by_name.get(part.constituent)
        if held is None:
            if (part.min_pct or 0.0) >= MISSED_PCT:
                below.append(part)
                found.append(
                    _outside(part, oil, f"{part.constituent} is not listed; {oil.name} usually holds {_range(part)}.")
                )
            continue
        if part.max_pct is not None and held.share.least > part.max_pct:
            above.append(part)
            found.append(
                _outside(
                    part, oil, f"{part.constituent} {shown(held.share.pct, 3)} % is above the usual {_range(part)}."
                )
            )
        elif part.min_pct is not None and held.share.most < part.min_pct:
            below.append(part)
            found.append(
                _outside(
                    part, oil, f"{part.constituent} {shown(held.share.pct, 3)} % is below the usual {_range(part)}."
                )
            )
    found += _foreign(shares, oil, catalogue)
    return [*_aged(by_name, above, oil, catalogue), *_stretched(above, below), *found]


def _range(part: OilConstituent) -> str:
    if part.max_pct is None:
        return f"{shown(part.min_pct or 0.0, 3)} % or more"
    return f"{shown(part.min_pct or 0.0, 3)} to {shown(part.max_pct, 3)} %"


def _outside(part: OilConstituent, oil: Oil, text: str) -> Finding:
    known = "read in" if part.how == "read" else "from memory" if part.how == "memory" else f"by {part.how}, in"
    reason = f"Compared: the lot's figure with the range of {oil.name} in the catalogue, {known}"
    reason += f" {listed(part.sources)}." if part.how != "memory" else ", no text read."
    return Finding(
        "mind" if part.how == "read" else "note", text, reason + (f" {part.note}." if part.note else ""), part.sources
    )


def _foreign(shares: tuple[LotShare, ...], oil: Oil, catalogue: Catalogue) -> list[Finding]:
    usual = {part.constituent for part in oil.constituents}
    found = []
    for share in shares:
        if share.name in usual or share.share.pct < FOREIGN_PCT:
            continue
        limited = catalogue.constituents[share.constituent].limit_substances
        found.append(
            Finding(
                "mind" if limited else "note",
                f"{share.name} {shown(share.share.pct, 3)} % is not among what the tables name in {oil.name}"
                + (", and it is limited." if limited else "."),
                f"Compared: the constituents of the lot from {FOREIGN_PCT:g} % on with those of the species. The tables of a species are "
                "never complete.",
            )
        )
    return found


def _aged(
    by_name: Mapping[str, LotShare], above: list[OilConstituent], oil: Oil, catalogue: Catalogue
) -> list[Finding]:
    usual = {part.constituent: usual_pct(part) for part in oil.constituents}
    high = {part.constituent for part in above}
    found = []
    for name, made, of in AGEING:
        grown = [k for k in (catalogue.constituents[i].name for i in made if i in catalogue.constituents) if k in high]
        spent = [
            k
            for k in (catalogue.constituents[i].name for i in of if i in catalogue.constituents)
            if k in by_name and by_name[k].share.pct < usual.get(k, 0.0)
        ]
        if grown and spent:
            found.append(
                Finding(
                    "mind",
                    f"More {name} and less {listed(spent)} than usual: an oil that stood open, warm or long can look like this. So can "
                    "another harvest. Ask for its age and peroxide value.",
                    "Compared: what air makes of terpenes with the top of the species range, and what it is made of with the typical "
                    "figure. Which makes which is from memory.",
                )
            )
    return found


def _stretched(above: list[OilConstituent], below: list[OilConstituent]) -> list[Finding]:
    main = [part.constituent for part in above if usual_pct(part) >= 10.0]
    markers = [part.constituent for part in below if usual_pct(part) < 10.0 and part.how == "read"]
    if not main or len(markers) < 2:
        return []
    return [
        Finding(
            "mind",
            f"{listed(main)} above the usual while {listed(markers)} are below: a redistilled or blended oil, or another origin, can look "
            "like this. Ask the supplier how the lot was made.",
            "Compared: main and minor constituents with the ranges of the species. This says nothing of anyone's intent.",
        )
    ]


# -- which oil it is most like


@lru_cache(maxsize=4)
def _profiles(held: Held) -> tuple[tuple[str, ...], Mapping[str, int], np.ndarray]:
    """Oil ids, the place of each constituent, and the oils' profiles: shape oils x places, each of length one."""
    catalogue = held.catalogue
    group = _groups(catalogue)
    places = {root: place for place, root in enumerate(dict.fromkeys(group.values()))}
    place_of = {entry: places[root] for entry, root in group.items()}
    oils = tuple(oil.id for oil in catalogue.oils.values() if oil.constituents)
    profiles = np.zeros((len(oils), len(places)))
    for row, oil in enumerate(oils):
        for part in catalogue.oils[oil].constituents:
            known = catalogue.constituent_named(part.constituent)
            if known is not None:
                profiles[row, place_of[known.id]] += usual_pct(part)
    profiles = np.sqrt(profiles)
    lengths = np.linalg.norm(profiles, axis=1, keepdims=True)
    return oils, place_of, profiles / np.where(lengths > 0, lengths, 1.0)


def _groups(catalogue: Catalogue) -> dict[str, str]:
    """Each constituent's group: those that share a CAS number are one, as reports do not tell them apart."""
    root = {entry: entry for entry in catalogue.constituents}
    first: dict[str, str] = {}
    for entry, k in catalogue.constituents.items():
        for number in filter(None, (k.cas, *k.cas_aliases)):
            one = first.setdefault(number, root[entry])
            old, new = root[entry], root[one]
            if old != new:
                root = {e: new if r == old else r for e, r in root.items()}
    return root


def likest(matches: Iterable[Match], catalogue: Catalogue, most: int = 3) -> tuple[tuple[str, float], ...]:
    """The oils most like the matched peaks, and how much: the cosine between square roots of percentages, 0 to 1.

    Square roots let the small peaks that tell one species from another have a say beside a large common one.
    """
    oils, place_of, profiles = _profiles(Held(catalogue))
    lot = np.zeros(profiles.shape[1])
    for match in matches:
        for entry in match.ids:
            lot[place_of[entry]] += match.peak.share.pct / len(match.ids)
    length = float(np.sqrt(lot.sum()))
    if length <= 0:
        return ()
    likeness = profiles @ np.sqrt(lot) / length
    return tuple((oils[place], round(float(likeness[place]), 4)) for place in np.argsort(-likeness)[:most])


def _mixed_up(
    matches: tuple[Match, ...], oil: Oil, likeness: tuple[tuple[str, float], ...], catalogue: Catalogue
) -> list[Finding]:
    own = dict(likest(matches, catalogue, most=len(catalogue.oils))).get(oil.id)
    if not likeness or own is None or likeness[0][1] <= own + NEARER:
        return []
    other, near = likeness[0]
    return [
        Finding(
            "mind",
            f"By its profile this lot is more like {catalogue.oils[other].name} ({near:.2f} of 1) than {oil.name} ({own:.2f}). Look at the "
            "bottle and the report: were two mixed up?",
            "Compared: the cosine between the square roots of all percentages of the lot and of each oil's typical figures.",
        )
    ]
