"""How a kitchen measures each line: what it gets on average, and which doubts it shares with the other lines."""

from __future__ import annotations

import math
from collections.abc import Mapping
from dataclasses import dataclass
from fractions import Fraction

from fizzwright.catalogue import Catalogue
from fizzwright.catalogue.model import Material
from fizzwright.recipe.amounts import WEIGHED
from fizzwright.recipe.measures import SPOON_POUR_SD, SPRAY_SD, density, drop_ml, dry_density, is_poured
from fizzwright.recipe.mix import MixLine
from fizzwright.recipe.weigh import DROP, POUR, SCALE, SCALES_G, SCOOP
from fizzwright.science.measuring import combined_sd

HABITS = ("as_written", "scale", "levelled", "scooped")
"""How a kitchen measures: as the recipe says, all over a scale, level with a knife, or dipped and heaped by eye."""
PIPETTE = "pipette"
"""As written, but what is dropped goes by a graduated pipette: a remedy the section tells, no habit."""
SHARED = ("cups", "hand", "pouring", "dropper", "scale")
"""Doubts that all lines of one kitchen share that are measured that way."""

TOLERANCE = "var_cup_hardware"
SAME_PERSON = "var_flour_same_person"
BETWEEN_PEOPLE = "var_flour_between_people"
DROPPER = "drop_usp_water"
RANGE_OF_TEN = 3.078
"""Range of ten normal draws in standard deviations (Tippett 1925; ISO 7870-2, factor d2 for n = 10)."""
BY_HAND = 0.75
"""estimate: of the variance of a scoop or a pour, the share that goes with the person and is the same for all they fill."""
LEVELLED = 0.5
"""estimate: a knife drawn over the rim leaves half of the difference between people."""
BY_DROPPER = 0.5
"""estimate: of the variance between bottles' drops, the share that goes with how this person drops."""
BY_SCALE = 0.5
"""estimate: of the variance of a weighing, the share that is the scale's own and the same for all it weighs."""
PIPETTE_ML = 0.02
"""estimate: reading a 1 ml pipette graduated in tenths, one standard deviation."""


@dataclass(frozen=True, slots=True)
class Spreads:
    """The hand's doubts as fractions, from the catalogue's measures: one standard deviation each."""

    tolerance: float
    hand: Mapping[str, float]
    """By habit, shared by all dry fills."""
    scoop: Mapping[str, float]
    """By habit, of one scoop."""
    pour: float
    dropper: float
    """Shared by all drops; a bottle's own is the same again."""
    bottle: float
    drop: float
    """Of a single drop."""
    scale_steps: float
    """Standard uncertainty of a weighing in steps of the scale."""


def spreads(catalogue: Catalogue) -> Spreads:
    """Read the rows of measures.csv; how each is split between person and scoop is our estimate."""

    def held(row_id: str, name: str = "value_typ") -> float:
        value = getattr(catalogue.measures[row_id], name)
        if value is None:
            raise ValueError(f"measures.csv, row {row_id}: {name} is empty; the kitchens are drawn with it")
        return float(value)

    scoop, bottles, own = held(SCOOP) / 100.0, held(DROP) / 100.0, held(SAME_PERSON, "value_max") / 100.0
    # what two level cups of one person differ by: most (90 %) below the figure, and a difference holds two errors
    level = own / 1.645 / math.sqrt(2.0)
    people = (held(BETWEEN_PEOPLE, "value_max") - held(BETWEEN_PEOPLE, "value_min")) / 100.0 / RANGE_OF_TEN
    # least and most of a calibrated dropper, taken as two standard deviations either way
    each_drop = (held(DROPPER, "value_max") - held(DROPPER, "value_min")) / held(DROPPER) / 4.0
    by_hand, by_scoop = math.sqrt(BY_HAND), math.sqrt(1.0 - BY_HAND)
    return Spreads(
        # ends of the range taken as two standard deviations either way
        tolerance=held(TOLERANCE, "value_max") / 200.0,
        hand={"as_written": by_hand * scoop, "levelled": LEVELLED * by_hand * scoop, "scooped": by_hand * people},
        scoop={"as_written": by_scoop * scoop, "levelled": level, "scooped": by_scoop * people},
        pour=held(POUR) / 100.0,
        dropper=math.sqrt(BY_DROPPER) * bottles,
        bottle=math.sqrt(1.0 - BY_DROPPER) * bottles,
        drop=each_drop,
        scale_steps=held(SCALE),
    )


@dataclass(frozen=True, slots=True)
class Measured:
    """One line in such a kitchen: `times` what the recipe's own reading gives, and the doubts of its logarithm."""

    times: float = 1.0
    shared: Mapping[str, float] | None = None
    """By name of SHARED, one standard deviation as a fraction."""
    entry: float = 0.0
    """Doubt that goes with the bag or bottle: the same for two lines of one thing."""
    own: float = 0.0
    """Doubt of this line alone."""
    by_feel: bool = False
    """Added to the dry mass as it is, until it holds."""

    @property
    def total(self) -> float:
        """All together, one standard deviation as a fraction."""
        return combined_sd(*(self.shared or {}).values(), self.entry, self.own)


def fills(number: Fraction) -> float:
    """What the scatter of one fill comes to over all fills of an amount: each whole one once, and the part in one more.

    n fills of one vessel scatter by 1 / sqrt(n) of the whole, as independent errors do.
    """
    whole, part = divmod(number, 1)
    return math.sqrt(float(whole + part * part)) / float(number)


def measured(mixed: MixLine, catalogue: Catalogue, habit: str, sd: Spreads) -> Measured:
    """How one line is measured in kitchens of a habit (or PIPETTE)."""
    amount = mixed.line.amount
    if amount.number is None:
        return Measured(own=mixed.spread_pct / 100.0, by_feel=True)
    if mixed.grams <= 0:
        return Measured()
    if habit == "scale" or amount.unit in (*WEIGHED, "%"):
        return _weighed(mixed, catalogue, sd, weighed_as_written=amount.unit in (*WEIGHED, "%"))
    if amount.unit in ("drop", "spray"):
        bottle = density(mixed.entry, None).sd_fraction
        count = max(float(amount.number), 1.0)
        if amount.unit == "spray":
            return Measured(entry=combined_sd(bottle, SPRAY_SD), own=sd.drop / math.sqrt(count))
        if habit == PIPETTE:
            return Measured(entry=bottle, own=PIPETTE_ML / max(mixed.volume_ml or 0.0, PIPETTE_ML))
        return Measured(
            shared={"dropper": sd.dropper}, entry=combined_sd(bottle, sd.bottle), own=sd.drop / math.sqrt(count)
        )
    return _filled(mixed, habit, sd, fills(amount.number))


def _weighed(mixed: MixLine, catalogue: Catalogue, sd: Spreads, *, weighed_as_written: bool) -> Measured:
    """Over a scale; what comes in drops can be had no finer than half a drop."""
    step = next(step for least, step in SCALES_G if mixed.grams >= least)
    error = sd.scale_steps * step / mixed.grams
    grain = 0.0
    if mixed.is_oil and not weighed_as_written:
        drop_g = drop_ml(mixed.entry, catalogue).ml * density(mixed.entry, None).g_ml
        # even chance anywhere within the last drop
        grain = drop_g / math.sqrt(12.0) / mixed.grams
    return Measured(
        shared={"scale": math.sqrt(BY_SCALE) * error}, own=combined_sd(math.sqrt(1.0 - BY_SCALE) * error, grain)
    )


def _filled(mixed: MixLine, habit: str, sd: Spreads, share: float) -> Measured:
    """By cup or spoon."""
    entry, amount = mixed.entry, mixed.line.amount
    if isinstance(entry, Material) and not is_poured(entry):
        way = "as_written" if habit == PIPETTE else habit
        lies = dry_density(entry, {"levelled": "spooned", "scooped": "scooped"}.get(way) or amount.habit or "spooned")
        times = lies.g_ml / mixed.density_g_ml if mixed.density_g_ml else 1.0
        return Measured(times, {"cups": sd.tolerance, "hand": sd.hand[way]}, lies.sd_fraction, sd.scoop[way] * share)
    pour = SPOON_POUR_SD if amount.unit in ("tsp", "tbsp", "pinch") else sd.pour
    return Measured(
        shared={"cups": sd.tolerance, "pouring": math.sqrt(BY_HAND) * pour},
        entry=density(entry, None).sd_fraction,
        own=math.sqrt(1.0 - BY_HAND) * pour * share,
    )
