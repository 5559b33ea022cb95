"""What to tell of the scent in the room: too much for it, hardly any, or above what people should live in."""

from __future__ import annotations

import math
from collections.abc import Mapping

import numpy as np
from numpy.typing import NDArray

from fizzwright.recipe.mix import Mix
from fizzwright.review.airing import Air, soak_mean
from fizzwright.review.figures import Notice
from fizzwright.review.tub_defaults import CHILD_AUDIENCES
from fizzwright.science import aroma
from fizzwright.wording import listed, sentence, shown

Array = NDArray[np.float64]

STRONG = 8.0
"""Above it a scent is overwhelming."""
STRONG_FOR_A_CHILD = 5.0
"""estimate: the middle of the scale, "clear" to a grown person; children breathe more air for their weight."""
HARDLY = 2.0
"""Below it a scent is hardly noticed."""
MUCH_LEFT_OUT = 0.1
"""From this share of the scent that nothing is known of, the strength is said to be the least it may be."""
SCALE = ((1.0, "not noticed"), (HARDLY, "hardly noticed"), (4.0, "faint"), (6.5, "clear"), (STRONG, "strong"))


def word(intensity: float) -> str:
    """The word for a strength on the scale of ten."""
    return next((said for most, said in SCALE if intensity <= most), "overwhelming")


def nothing_known(mix: Mix) -> list[Notice]:
    """That scent is in the mix and its fate in the air cannot be told."""
    names = [m.name for m in mix.lines if m.is_oil]
    if not names:
        return []
    return [
        Notice(
            "mind",
            f"How {listed(names)} would smell in the room cannot be told here: nothing is known of what is in it that could be "
            "reckoned with. Try one piece first, with the door open.",
            "The constituents of the oil, their vapour pressures and their odour thresholds are what the reckoning needs.",
        )
    ]


def scale_to(air: Air, most: float) -> float:
    """Share of the scent at which its height just comes to `most` (1 when it does not reach it).

    The air answers in proportion and Stevens' law is a power, so the share is exact.
    """
    peak = float(air.strength[:, 0].max())
    return 1.0 if peak <= most else (most / peak) ** (1 / air.exponent)


def fewer(air: Air, mix: Mix, keep: float) -> str:
    """The cut to a share `keep` of the scent as a maker can make it: in drops when all of it is in drops, else in grams."""
    amounts = [mix.lines[place].line.amount for place in air.vapours.places]
    counted = [amount.number for amount in amounts if amount.unit == "drop" and amount.number is not None]
    if len(counted) == len(amounts):
        drops = float(sum(counted))
        cut = min(math.ceil(drops * (1 - keep) - 1e-9), math.floor(drops))
        if cut < drops:
            return f"{cut} drop{'s' if cut != 1 else ''} fewer of the {shown(drops)} in the whole mix"
    grams = float(mix.grams[list(air.vapours.places)].sum())
    left = grams * keep
    return f"{shown(grams - left)} g less of the {shown(grams)} g of scent in the whole mix, so {shown(left)} g in all"


def _overwhelming(air: Air, mix: Mix, rooms: Mapping[str, Array]) -> list[Notice]:
    peak = float(air.strength[:, 0].max())
    child = mix.recipe.audience in CHILD_AUDIENCES
    most = STRONG_FOR_A_CHILD if child else STRONG
    if peak <= most:
        return []
    keep = scale_to(air, most)
    several = len(air.vapours.places) > 1
    others = []
    for said, response in rooms.items():
        other = min(aroma.MOST_INTENSE, float(air.strength_of(air.likely(response=response)).max()))
        others.append(f"with the {_room(said)} it comes to {shown(other)}")
    return [
        Notice(
            "mind",
            f"{'Too strong for a child in' if child else 'Overwhelming for'} this room ({air.room.said}): the scent comes to {shown(min(peak, aroma.MOST_INTENSE))} of 10. "
            f"{sentence(fewer(air, mix, keep))}{', taken evenly from all oils,' if several else ''} would keep it {'clear' if child else 'strong'} and no more, for the room alone. "
            + f"{sentence('; '.join(others))}.",
            f"Compared: the strength of the scent at its height with {shown(most)} of 10, from which we call it "
            f"{'too strong for a child' if child else 'overwhelming'} (our own estimate). Thresholds of smell differ tenfold between people and ways of testing.",
            air.room.sources,
            "intensity_0_10",
        )
    ]


def _hardly(air: Air) -> list[Notice]:
    peak = float(air.strength[:, 0].max())
    if peak >= HARDLY or air.vapours.left_out_share > MUCH_LEFT_OUT:
        return []
    return [
        Notice(
            "good",
            f"The scent will be {word(peak)} in this room: {shown(peak)} of 10 at its height. Mind the limits for skin before "
            "adding more.",
            f"Compared: the strength of the scent at its height with {shown(HARDLY)} of 10 (our own estimate).",
            air.room.sources,
            "intensity_0_10",
        )
    ]


def _above_action(air: Air, rooms: Mapping[str, Array]) -> list[Notice]:
    """What passes, by its mean over the soak, the value at which an indoor room calls for action."""
    known = air.vapours
    elsewhere = {said: air.likely(response=response) for said, response in rooms.items()}
    over: list[str] = []
    sources: list[str] = []
    remembered = False
    for name, members in known.groups().items():
        lead = known.entries[members[0]]
        action = float(known.action_mg_m3[members[0]])

        def mean(mg_m3: Array, members: list[int] = members) -> float:
            return float(soak_mean(air, mg_m3[:, members].sum(axis=-1)))

        if not mean(air.mg_m3[:, 0]) > action:
            continue
        others = ", ".join(f"with the {_room(said)} {shown(mean(values))}" for said, values in elsewhere.items())
        over.append(f"{name} come to {shown(mean(air.mg_m3[:, 0]))} mg/m³, above {shown(action)} ({others})")
        sources += lead.sources_of("inhalation_action_value_mg_m3")
        remembered |= lead.how_of("inhalation_action_value_mg_m3") == "memory"
    if not over:
        return []
    return [
        Notice(
            "mind",
            f"Much for the airways: over the soak {'; '.join(over)}. From that level a lived-in room should be aired"
            f"{' (values from memory)' if remembered else ''}. Use less, and air the room afterwards.",
            "Compared: the mean over the soak with the action values of the German indoor guide values. They are set for staying "
            "in a room for long; there are none for a bath.",
            tuple(dict.fromkeys(sources)),
        )
    ]


def _room(said: str) -> str:
    """The name of a room as a sentence has it: door ajar and the fan off."""
    return said.replace(", ", " and the ")


def advise(air: Air, mix: Mix, rooms: Mapping[str, Array]) -> list[Notice]:
    """Notices on the scent in the room; rooms: the likely response with another door or fan, by name."""
    return [*_overwhelming(air, mix, rooms), *_hardly(air), *_above_action(air, rooms)]
