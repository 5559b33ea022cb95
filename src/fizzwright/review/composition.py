"""How well the make-up of each oil is known: what no table names cannot be compared with any limit."""

from __future__ import annotations

from fizzwright.catalogue.model import Oil, OilConstituent
from fizzwright.recipe.mix import Mix
from fizzwright.review.figures import Notice
from fizzwright.review.joins import analysis_of, doubted, likely_pct, rows_of
from fizzwright.wording import shown

KNOWN_ENOUGH_PCT = 70.0
"""The catalogue's own rule: below this sum of typical figures an oil's remainder is told."""
UNEXPLAINED_PCT = 50.0
"""Our own choice: an oil of which less than half is named, and nothing said of the rest, counts as unknown."""
UNNAMED_TOLD_PCT = 2.0
"""estimate: less than this without a name is what every gas chromatogram leaves over."""
FAR_ABOVE = 3.0
"""estimate: times the top of the species range from which a lot's figure looks like another oil or a slip."""
FAR_ABOVE_PCT = 10.0
"""estimate: and by at least so many percent of the oil, so that traces do not cry wolf."""


def _blank(oil: Oil, known_pct: float) -> bool:
    """True when less than half of an oil is named and nothing is said of the rest."""
    return known_pct < UNEXPLAINED_PCT and not oil.remainder


def barred(mix: Mix) -> dict[str, str]:
    """Oils that may not be in a piece for children or pregnancy, as nobody knows what is in them."""
    if mix.recipe.audience == "adult":
        return {}
    found = {}
    for place, mixed in enumerate(mix.lines):
        oil = mixed.entry
        if isinstance(oil, Oil) and _blank(oil, _known_pct(mix, place, oil)):
            found[mixed.id] = "what it is made of is not known"
    return found


def _known_pct(mix: Mix, place: int, oil: Oil) -> float:
    analysis = analysis_of(mix, place)
    if analysis and doubted(oil, analysis):
        analysis = ()
    return sum(likely_pct(row)[0] for row, _ in rows_of(oil, analysis))


def _unknown(mix: Mix, place: int, oil: Oil, known_pct: float) -> Notice:
    tender = mix.recipe.audience != "adult"
    blank = _blank(oil, known_pct)
    ask = f"Ask the supplier for the analysis of {'your lot' if not mix.lines[place].line.lot else 'this lot'}."
    if known_pct <= 0:
        text = f"Nothing is known here of what {oil.name} is made of, so no limit could be compared for it. {ask}"
    else:
        what = f" ({oil.remainder})" if oil.remainder else ""
        text = (
            f"About {shown(100 - known_pct)} % of {oil.name} is unknown here{what} and was compared with nothing. {ask}"
        )
    stops = blank and tender
    if stops:
        text += " Leave it out of a piece for these people until then."
    return Notice(
        "stop" if stops else "mind",
        text,
        f"Compared: the sum of what the tables name in it, {shown(known_pct)} % of the oil, with {shown(KNOWN_ENOUGH_PCT)} %. "
        "Limits and cautions go by what is named."
        + (" For children and in pregnancy we stop what cannot be compared (our own choice)." if blank else ""),
        oil.sources_of("remainder"),
        "",
        mix.lines[place].id,
    )


def _lot_notices(mix: Mix, place: int, oil: Oil, analysis: tuple[OilConstituent, ...]) -> list[Notice]:
    lot = mix.lines[place].line.lot or ""
    sources = tuple(dict.fromkeys(source for row in analysis for source in row.sources))
    if doubted(oil, analysis):
        total = sum(row.typical_pct or 0.0 for row in analysis)
        return [
            Notice(
                "mind",
                f"The analysis of lot {lot} of {oil.name} adds up to only {shown(total)} %, far below what the species holds: "
                "were fractions typed for percent? It was not used; the species range was compared instead.",
                "Compared: the analysis with what the species typically holds of the same constituents. Below a fifth of that we "
                "take it for a slip (our own estimate).",
                sources,
                "",
                mix.lines[place].id,
            )
        ]
    tops = {row.constituent: row.max_pct for row in oil.constituents if row.max_pct is not None}
    far = [
        f"{row.constituent} {shown(row.typical_pct or 0)} % where the species holds at most {shown(tops[row.constituent])} %"
        for row in analysis
        if row.constituent in tops
        and (row.typical_pct or 0) > max(FAR_ABOVE * tops[row.constituent], tops[row.constituent] + FAR_ABOVE_PCT)
    ]
    if not far:
        return []
    return [
        Notice(
            "mind",
            f"The analysis of lot {lot} lies far above {oil.name}: {'; '.join(far)}. Is it the right oil? The lot's own figures "
            "were compared.",
            f"Compared: each figure of the lot with {shown(FAR_ABOVE)} times the top of the species range (our own estimate).",
            sources,
            "",
            mix.lines[place].id,
        )
    ]


def _held_notices(mix: Mix, place: int, oil: Oil) -> list[Notice]:
    """What is to be said of an analysis as a whole: that it is of another oil, or how much of it has no name."""
    held = mix.lot_analyses.get(mix.lines[place].line.lot or "")
    if held is None:
        return []
    source = (f"lot {held.lot}",)
    if held.oil != mix.lines[place].id:
        return [
            Notice(
                "mind",
                f"Lot {held.lot} is held as a lot of {held.oil.replace('_', ' ')}, and the recipe names it for {oil.name}. Its analysis "
                "was not used; the species range was compared instead. Look at the bottle: is it the oil or the lot code?",
                f"Compared: the oil of this line with the oil named in {held.table or 'the lot file'}.",
                source,
                "",
                mix.lines[place].id,
            )
        ]
    if held.unnamed_pct < UNNAMED_TOLD_PCT:
        return []
    return [
        Notice(
            "mind",
            f"The analysis of lot {held.lot} of {oil.name} holds {shown(held.unnamed_pct)} % that has no name here. It was compared "
            "with no limit.",
            f"Compared: the sum of the peaks without a name with {shown(UNNAMED_TOLD_PCT)} % of the oil (our own choice).",
            source,
            "",
            mix.lines[place].id,
        )
    ]


def doubts(mix: Mix) -> list[Notice]:
    """What is not known of the oils of a mix, and analyses that look like slips; each oil and lot once."""
    notices = []
    seen = set()
    for place, mixed in enumerate(mix.lines):
        oil = mixed.entry
        if not isinstance(oil, Oil) or (mixed.id, mixed.line.lot) in seen:
            continue
        seen.add((mixed.id, mixed.line.lot))
        analysis = analysis_of(mix, place)
        if analysis:
            notices += _lot_notices(mix, place, oil, analysis)
        notices += _held_notices(mix, place, oil)
        known_pct = _known_pct(mix, place, oil)
        if known_pct < KNOWN_ENOUGH_PCT:
            notices.append(_unknown(mix, place, oil, known_pct))
    return notices
