"""The recipe card: a PDF to prop beside the bowl, weights in one column, steps with boxes to tick."""

from __future__ import annotations

import hashlib
import json
import re
from datetime import UTC, datetime
from pathlib import Path
from typing import Any

import typst

from fizzwright.catalogue import Catalogue
from fizzwright.catalogue.workshop import Workshop
from fizzwright.papers import glyphs
from fizzwright.plan.drawer import Drawer, read_drawer
from fizzwright.plan.spoons import Spoonful, kitchen, weighed, whole_error_pct
from fizzwright.recipe.mix import Mix, MixLine
from fizzwright.review.figures import Figure, Review
from fizzwright.wording import number_text

PAPERS = ("a5", "a4", "us-letter")
KINDS = {
    "fizzer": "Fizzer",
    "foaming": "Foaming fizzer",
    "layered": "Layered fizzer",
    "cored": "Fizzer with a core",
    "powder": "Fizzing powder",
}
AUDIENCES = {
    "adult": "for adults",
    "child_6_plus": "for children from 6 years",
    "child_2_plus": "for children from 2 years",
    "pregnancy": "for use in pregnancy",
}
DISCLAIMER = (
    "Figures are computed from the catalogue and compared with the limits named. They are no assessment: "
    "ask a qualified assessor, local law, and a clinician about a person."
)
EXACT_PCT = 0.05
"""Rounding errors below this read "exact": no kitchen measures that well."""
_ASIDE = re.compile(r"\. | \(|: ")
_LONG_WORD = re.compile(r"\S{25,}")


def card_pdf(
    review: Review,
    mix: Mix,
    catalogue: Catalogue,
    *,
    paper: str = "a5",
    workshop: Workshop | None = None,
    spoons: tuple[str, ...] = (),
) -> bytes:
    """The recipe card as PDF bytes; the same review and mix give the same bytes.

    `paper` is a5, a4 or us-letter. Scale weights are rounded to the workshop's scales (1 g and 0.01 g without one).
    `spoons` names the drawer to measure from; else the workshop's own, else a full set of the recipe's system.
    """
    if paper not in PAPERS:
        raise ValueError(f"paper {paper!r}: allowed are {', '.join(PAPERS)}")
    named, where = (spoons, "spoons") if spoons else (workshop.spoons if workshop else (), "workshop.toml, spoons")
    drawer = read_drawer(named, mix.recipe.measures, catalogue, where) if named else None
    glyphs.printable()  # says in words when the fonts are missing
    folder = Path(__file__).parent
    pdf: bytes = typst.compile(
        str(folder / "card.typ"),
        root=str(folder),
        font_paths=[str(glyphs.FONTS)],
        ignore_system_fonts=True,
        format="pdf",
        sys_inputs={"card": json.dumps(_card(review, mix, catalogue, paper, workshop, drawer))},
        timestamp=datetime(review.as_of.year, review.as_of.month, review.as_of.day, tzinfo=UTC),
    )
    return pdf


def _card(
    review: Review, mix: Mix, catalogue: Catalogue, paper: str, workshop: Workshop | None, drawer: Drawer | None
) -> dict[str, Any]:
    """All that the card shows, as strings ready to place."""
    recipe = mix.recipe
    making = review.section("making")
    stops = [n for _, n in review.notices if n.level == "stop"]
    # the card goes to other rooms and other days: what this room's air does is not on it
    notices = [(s, n) for s, n in review.notices if n.level != "stop" and s != "making_day"]
    minds = [n for s, n in notices if n.level == "mind" and not n.standing and not (stops and s in BATHING)]
    standing = [n for _, n in notices if n.standing]
    compared, within = _compared(review)
    fingerprint = hashlib.sha256(recipe.text.encode()).hexdigest()[:8]
    card: dict[str, Any] = {
        "paper": paper,
        "name": recipe.name,
        "what": f"{KINDS[recipe.kind]}, {AUDIENCES[recipe.audience]}{_markets(recipe.sold_in)}.",
        "makes": _makes(review, mix),
        "leftover": _leftover(review, mix),
        "missing": glyphs.missing_in_words("".join([recipe.name, *(m.name for m in mix.lines)])),
        "stops": [n.text for n in stops],
        "minds": [n.text for n in minds],
        "standing": [n.text for n in standing],
        "compared": compared,
        "within": within,
        "bath": [] if stops else _bath(review),
        "by-spoon": "Measured by spoon" if drawer else "By cup, spoon and drop",
        "measures": {"us": "US", "uk": "UK", "au": "Australian"}.get(recipe.measures, recipe.measures),
        "parts": _parts(mix, catalogue, workshop, drawer),
        "total": _weight(review.section("mix").figure("total_g"), workshop),
        "spoon-note": _spoon_note(mix, catalogue, drawer),
        "ready": list(making.ready),
        "steps": [{"title": s.title, "text": s.text, "cautions": [c.text for c in s.cautions]} for s in making.steps],
        "footer": f"Recipe {fingerprint}, {_day(review)}. Catalogue {review.catalogue_version}.",
        "disclaimer": DISCLAIMER,
    }
    fitted: dict[str, Any] = _fit(card)
    return fitted


def _fit(value: Any) -> Any:
    """Strings the page can set: the fonts lack the narrow no-break space, and a word must not run off the sheet."""
    if isinstance(value, str):
        plain = value.replace("\u202f", "\u00a0")
        return _LONG_WORD.sub(lambda word: "\u200b".join(re.findall(r".{1,12}", word[0])), plain)
    if isinstance(value, list):
        return [_fit(item) for item in value]
    if isinstance(value, dict):
        return {key: _fit(item) for key, item in value.items()}
    return value


def _day(review: Review) -> str:
    return f"{review.as_of.day} {review.as_of:%B %Y}"


def _markets(sold_in: tuple[str, ...]) -> str:
    names = {"us": "the US", "eu": "the EU", "uk": "the UK", "ca": "Canada", "au": "Australia"}
    return f", to be sold in {' and '.join(names[m] for m in sold_in)}" if sold_in else ", for use at home"


def _makes(review: Review, mix: Mix) -> str:
    mould = review.section("mould")
    pieces, piece = mould.figure("pieces"), mould.figure("piece_g")
    if mix.recipe.kind == "powder" or mix.mould is None:
        return f"Enough for {_number(pieces)} baths of {_range(piece)}."
    return f"Makes {_number(pieces)} in the {mix.mould.name}; each about {piece.value:.0f}\u00a0g ({_range(piece)})."


def _leftover(review: Review, mix: Mix) -> str:
    """One line when more than half a piece is left over."""
    mould = review.section("mould")
    left = mould.figure("leftover_g")
    if mix.recipe.kind == "powder" or float(left.value) <= float(mould.figure("piece_g").value) / 2:
        return ""
    return left.text


def _number(figure: Figure) -> str:
    return number_text(figure.value)


def _range(figure: Figure) -> str:
    low, high = f"{float(figure.low or 0):.0f}", f"{float(figure.high or 0):.0f}"
    return f"{low}\u00a0{figure.unit}" if low == high else f"{low} to {high}\u00a0{figure.unit}"


def _compared(review: Review) -> tuple[str, str]:
    """Which limits the scent was compared with and the closest, and "yes" when none is passed even at its range's top."""
    held = [f for f in review.section("skin").figures if f.id.startswith("limit.") and f.share_of_limit is not None]
    if not held:
        return "", "yes"
    closest = max(held, key=lambda f: f.share_of_limit or 0.0)
    passed = [
        f for f in held if f.high_allowed is not None and max(float(f.value), float(f.high or 0)) > f.high_allowed
    ]
    count = "One limit" if len(held) == 1 else f"{len(held)} limits"
    return f"{count} compared, as of {_day(review)}. The closest: {closest.text}", "no" if passed else "yes"


BATHING = ("tub", "air")
"""Sections about a bath nobody will take while something stops the piece."""
IN_THE_BATH = (
    ("tub", ("fizz_seconds", "ph_soaked", "water_colour")),
    ("air", ("intensity_0_10",)),
)
"""What the card says of the bath: whoever is handed the piece has only the card."""


def _bath(review: Review) -> list[str]:
    """What to expect in the tub and in the air: each figure's first sentence, up to its first aside."""
    sections = {s.id: s for s in review.sections}
    return [
        f"{_ASIDE.split(f.text)[0].rstrip('.')}."
        for section, ids in IN_THE_BATH
        for wanted in ids
        for f in sections[section].figures
        if f.id == wanted
    ]


def _weight(figure: Figure, workshop: Workshop | None) -> str:
    got = weighed(float(figure.value), workshop)
    return f"{got.grams_got:.{got.decimals}f}"


def _parts(mix: Mix, catalogue: Catalogue, workshop: Workshop | None, drawer: Drawer | None) -> list[dict[str, Any]]:
    """The weigh column, part by part in the order of the document."""
    names = {m.id: m.name for m in mix.lines}
    parts = []
    for part in dict.fromkeys(m.part for m in mix.lines):
        lines = [_line(m, mix, catalogue, workshop, names, drawer) for m in mix.lines if m.part == part]
        title = "" if part == "whole" else part.replace("_", " ").capitalize()
        parts.append({"title": title, "lines": lines})
    return parts


def _line(
    line: MixLine,
    mix: Mix,
    catalogue: Catalogue,
    workshop: Workshop | None,
    names: dict[str, str],
    drawer: Drawer | None,
) -> dict[str, str]:
    scale = weighed(line.grams, workshop)
    into = line.line.diluted_in
    return {
        "name": line.name,
        "kitchen": _kitchen_words(kitchen(line, mix, catalogue, drawer), line, drawer)
        + (f", into {names.get(into, into)}" if into else ""),
        "weight": f"{scale.grams_got:.{scale.decimals}f}",
        "lot": line.line.lot or "",
    }


def _kitchen_words(spoon: Spoonful | None, line: MixLine, drawer: Drawer | None) -> str:
    if spoon is None:
        return "none of these spoons does it: weigh it" if drawer else "too little for a spoon: weigh it"
    text = f"{line.line.amount.text}: {spoon.text}" if line.line.amount.unit == "to_consistency" else spoon.text
    if abs(spoon.error_pct) < EXACT_PCT:
        return text
    assumed = ", density assumed" if spoon.said else ""
    return f"{text} (rounding\u00a0{_signed(spoon.error_pct)}{assumed})"


def _spoon_note(mix: Mix, catalogue: Catalogue, drawer: Drawer | None) -> str:
    error = whole_error_pct(mix, catalogue, drawer)
    whole = "is right" if abs(error) < EXACT_PCT else f"is {_signed(error)} off"
    spoons = f"Spoons: {drawer.words}. " if drawer else ""
    return (
        f"{spoons}Rounding is what the nearest real spoons cost; scooping strays further by itself. "
        f"Spooned throughout, the whole mix {whole}. Weigh scent and colour whenever you can."
    )


def _signed(pct: float) -> str:
    return f"{pct:+.1f}\u00a0%".replace("-", "\u2212")
