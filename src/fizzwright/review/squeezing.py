"""What a squeezed handful says: how much more binder or powder, and when to stop."""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import Literal

import numpy as np

from fizzwright.catalogue import Catalogue
from fizzwright.recipe.measures import MOSTLY_ALCOHOL_PCT
from fizzwright.recipe.mix import Mix, MixLine
from fizzwright.review import damp
from fizzwright.review.room import Room
from fizzwright.review.setting import Setting
from fizzwright.review.sizes import Piece, true_densities
from fizzwright.review.standing import LONGEST_MINUTES
from fizzwright.review.wetting import Binder, Wetting, as_bound, chosen, dose, plain_name, plan, wetting
from fizzwright.science import binding
from fizzwright.wording import duration_text, listed, shown

Answer = Literal["crumbles", "holds", "wet"]

ANSWERS: dict[Answer, str] = {
    "crumbles": "falls to dust, or breaks at the first touch",
    "holds": "keeps its shape and shows the lines of your fingers; the hand stays nearly clean",
    "wet": "shines, sticks to the hand like wet sand, or swells and crackles",
}
"""What a squeezed handful does, and how that looks and feels."""
FAINTER = 2.0 / 3.0
"""A handful that holds begins to crumble again when a third of its binder is gone (binder_wetness: 1.6 against 2.4)."""
DRY_STEPS = (0.03, 0.1)
"""estimate: least and most dry powder worth adding to a wet mix before it is squeezed again, as a share of it."""


@dataclass(frozen=True)
class Squeeze:
    """What to do after squeezing a handful."""

    answer: str
    do: str
    add_g: float
    add_use: str
    """Id of the binder or of the dry line to add; "" when nothing is added."""
    add_words: str
    """The addition as a kitchen measures it: "3 sprays, 0.4 g"."""
    is_last: bool
    stop_when: str
    level: str = "mind"
    """"good" when the mix is right and in time, else "mind"."""


def _checked(name: str, value: float, unit: str) -> float:
    if not (isinstance(value, int | float) and math.isfinite(value) and value >= 0):
        raise ValueError(f"{name}: read {value!r}; it must be a number of {unit}, 0 or more. Give what went in so far.")
    return float(value)


def squeeze(
    mix: Mix,
    catalogue: Catalogue,
    setting: Setting,
    size: Piece,
    room: Room,
    answer: Answer,
    added_g: float = 0.0,
    minutes_open: float = 0.0,
) -> Squeeze:
    """What to do after squeezing a handful: so much binder went in so far, and the bowl has stood open so long since.

    ValueError in words for an unknown answer, or an amount that is negative or no number.
    """
    if answer not in ANSWERS:
        told_as = listed((f"{a} ({looks})" for a, looks in ANSWERS.items()), "or")
        raise ValueError(f"read {answer!r}; a squeezed handful {told_as}. Say which.")
    added, minutes = _checked("added so far", added_g, "grams"), _checked("minutes open", minutes_open, "minutes")
    wet = None if size.is_powder else wetting(as_bound(mix, catalogue, room), catalogue, room)
    if wet is None:
        why = "A loose powder is not pressed" if size.is_powder else "There is no powder in this mix to bind"
        return Squeeze(answer, f"{why}: add no binder.", 0.0, "", "", True, "There is nothing to squeeze for.")
    return answered(wet.likely(), size, answer, added, minutes)


def answered(
    wet: Wetting, size: Piece, answer: Answer, added_g: float, minutes: float = 0.0, *, by_the_clock: bool = True
) -> Squeeze:
    """The same for a mix whose wetness is known already; without the clock it leaves out how long a good mix stays so."""
    binder = wet.binder(chosen(wet.mix, wet.catalogue))
    if answer == "holds":
        return _holds(wet, binder, size, added_g, minutes, by_the_clock)
    if answer == "wet":
        return _is_wet(wet, binder, added_g, minutes)
    return _crumbles(wet, binder, added_g, minutes)


def _crumbles(wet: Wetting, binder: Binder, added_g: float, minutes: float) -> Squeeze:
    worth, lands = float(binder.worth_ml_g[0]), float(binder.lands[0])
    name = plain_name(binder.material)
    still, most = float(wet.still_ml[0].sum()), float(wet.room_ml[0])
    held = binder.left_ml(added_g, minutes)
    step_g = float(binding.next_ml(held, still, most)) / worth / lands
    if added_g == 0 and still > 0:
        step_g = float(plan(wet, binder).first[0])
    room_g = (most - held) / worth / lands
    least_g, _ = dose(0.0, binder.material, wet.mix, wet.catalogue)
    if room_g < least_g:
        return Squeeze(
            "crumbles",
            f"Add no more {name}: it is as wet as it may be. Something else is wrong: grains too coarse (sieve, or crush them), "
            "too little fine filler, or lumps that hold the oil. Rub it through a sieve, cover it for ten minutes, squeeze again.",
            0.0,
            "",
            "",
            True,
            "Stop here: more would make it pasty and start the fizz.",
        )
    add_g, words = dose(min(step_g, room_g), binder.material, wet.mix, wet.catalogue)
    most_g, _ = dose(added_g + room_g, binder.material, wet.mix, wet.catalogue)
    gone = binder.gone_g(added_g, minutes)
    since = (
        f" Some {shown(gone)} g of what went in has gone off since." if gone > 0.1 * added_g and gone >= least_g else ""
    )
    mist = " as a fine mist" if binder.material.function == "binder_liquid" else " by drops"
    mist = "" if "fine mist" in words else mist
    return Squeeze(
        "crumbles",
        f"Add {words} of {name}{mist}, stirring all the while; squeeze again at once.{since}",
        round(add_g, 2),
        binder.material.id,
        words,
        add_g > room_g - least_g,
        f"Stop as soon as a handful holds, and at {shown(most_g)} g in all.",
    )


def _holds(wet: Wetting, binder: Binder, size: Piece, added_g: float, minutes: float, by_the_clock: bool) -> Squeeze:
    pieces = size.pieces if size.asked is None else size.asked
    work = max(wet.room.pace.piece_min * pieces, 1.0)
    word = "piece takes" if pieces == 1 else "pieces take"
    bowl = _bowl_min(wet, size)
    if by_the_clock and LONGEST_MINUTES > bowl <= minutes:
        stood, lasts = duration_text(60 * minutes), duration_text(60 * bowl)
        told = (
            f"Add nothing. It has stood {stood}, and in this air a twentieth of the fizz goes in {lasts}: drop a spoonful in a glass of "
            "warm water first. If it fizzes well, press at once; if not, keep it as loose powder for yourself."
        )
        return Squeeze("holds", told, 0.0, "", "", True, "Stop here: more binder would spend more fizz.")
    told = f"Add nothing and press at once: {pieces} {word} about {duration_text(60 * work)}."
    told += _lasts(wet, binder, size, added_g, work, minutes) if by_the_clock else " Cover what waits."
    return Squeeze("holds", told, 0.0, "", "", True, "Stop now: the mix is right.", "good")


def _bowl_min(wet: Wetting, size: Piece) -> float:
    return float(damp.open_bowl_minutes(wet.mix, wet.catalogue, size, wet.room.room_c, wet.room.humidity_pct))


def _lasts(wet: Wetting, binder: Binder, size: Piece, added_g: float, work: float, minutes: float) -> str:
    """How long it stays right: until binder has gone off, or the damp of the air has spent fizz, whichever comes first."""
    fades = binder.fades_min(added_g, FAINTER) if added_g > 0 else math.inf
    bowl = _bowl_min(wet, size)
    spent = bowl - minutes if bowl < LONGEST_MINUTES else math.inf
    first = max(min(fades, spent), 1.0)
    if math.isinf(first):
        return " Nothing hurries you but the air: cover what waits."
    within = duration_text(60 * first)
    if spent <= fades:
        late = " Make less at a time next time." if spent < work else ""
        return f" In this air it loses fizz you would miss within about {within}: cover what waits.{late}"
    again = ", and give it a spray when it does." if fades < work else "."
    return f" Open to the air it begins to crumble again in about {within}: cover what waits{again}"


def _is_wet(wet: Wetting, binder: Binder, added_g: float, minutes: float) -> Squeeze:
    """Dry powder to the amount that would bring it back, never acid by itself."""
    mix, catalogue = wet.mix, wet.catalogue
    wanted, total_g = float(wet.wanted_ml[0].sum()), float(mix.grams.sum())
    there = float(wet.held_ml[0].sum() + wet.damp[0] * wanted) + binder.left_ml(added_g, minutes)
    # a hand that finds it wet is right, whatever the reckoning says: the least is added then
    pores = float(binding.dry_pores_ml(max(there - wanted, 0.0), float(wet.wetness[0])))
    lines = _dry_lines(mix)
    if not lines:
        return Squeeze(
            "wet",
            f"Nothing in this mix would dry it: spread it thin in dry, dehumidified air. Never acid by itself.{_or_wait(wet, binder, added_g, minutes)}",
            0.0,
            "",
            "",
            False,
            "Press it when a handful breaks cleanly as you poke it.",
        )
    grams = np.array([m.grams for m in lines])
    places = [i for i, m in enumerate(mix.lines) if any(m is line for line in lines)]
    per_g = (grams / true_densities(mix)[places]).sum() / grams.sum() * (1.0 / float(wet.solid_fraction[0]) - 1.0)
    share = min(max(pores / float(per_g) / total_g, DRY_STEPS[0]), DRY_STEPS[1])
    doses = [
        dose(share * total_g * m.grams / float(grams.sum()), m.material, mix, catalogue) for m in lines if m.material
    ]
    add_g = sum(got for got, _ in doses)
    words = listed(
        f"{amount} of {plain_name(m.material)}" for m, (_, amount) in zip(lines, doses, strict=True) if m.material
    )
    thinner = 100.0 * add_g / (total_g + add_g)
    if len(lines) == 1 and lines[0].material is not None and lines[0].material.function == "base":
        effect = " It leaves more bicarbonate over than the recipe meant"
    elif len(lines) == 1:
        effect = f" It thins the fizz by {thinner:.0f} % and leaves the balance of acid and base as it is"
    else:
        effect = " Mixed dry first, in the recipe's own proportion, they leave the balance of acid and base as it is"
    return Squeeze(
        "wet",
        f"Stir in {words}.{effect}. Never acid by itself.{_or_wait(wet, binder, added_g, minutes)} If it fizzes, do not press: spread it thin in dry, dehumidified air.",
        round(add_g, 2),
        lines[0].id,
        words if len(lines) > 1 else doses[0][1],
        False,
        "Stop as soon as it breaks cleanly when you poke it. If it is still wet when a quarter of its own weight has "
        "gone in, let it dry spread out and keep it as loose powder.",
    )


def _or_wait(wet: Wetting, binder: Binder, added_g: float, minutes: float) -> str:
    """That alcohol goes off by itself, and when, where it is alcohol that makes the mix wet."""
    still, whole = float(wet.still_ml[0].sum()), binder.left_ml(added_g, 0.0)
    if binder.material.alcohol_mass_pct < MOSTLY_ALCOHOL_PCT or not 0 < still < binder.left_ml(added_g, minutes):
        return ""
    more = binder.fades_min(added_g, still / whole) - minutes
    return (
        f" Or stir it for some {duration_text(60 * max(more, 1.0))} more: the alcohol goes off by itself."
        if more < 60
        else ""
    )


def _dry_lines(mix: Mix) -> list[MixLine]:
    """What dries a wet mix: its largest fine filler; else its base, with its acid where it has both; none but acid, nothing."""

    def largest(*functions: str) -> list[MixLine]:
        found = [m for m in mix.lines if m.material and m.material.function in functions and m.grams > 0]
        return [m for m in found if not m.material or not m.material.is_liquid]

    fillers = largest("filler")
    if fillers:
        return [max(fillers, key=lambda m: m.grams)]
    base, acid = largest("base"), largest("acid")
    if base:
        return [max(base, key=lambda m: m.grams), *([max(acid, key=lambda m: m.grams)] if acid else [])]
    dry = [m for m in mix.lines if m.material and not m.material.is_liquid and m.material.function != "acid"]
    return [max(dry, key=lambda m: m.grams)] if dry else []
