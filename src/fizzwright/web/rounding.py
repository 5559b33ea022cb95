"""The fold "Round to real spoons" of the recipe page: what was ticked and typed, and the answer line by line."""

from __future__ import annotations

from dataclasses import dataclass, replace

from starlette.datastructures import FormData

from fizzwright.plan.drawer import FULL_SET
from fizzwright.plan.rounding import CHANCE, Rounded, round_to_spoons
from fizzwright.plan.spoons import WITHIN_PCT
from fizzwright.recipe.weigh import weigh
from fizzwright.refusal import Refusal
from fizzwright.web.bench import Bench, Looked
from fizzwright.web.forms import Faults
from fizzwright.web.views import rounding_text
from fizzwright.wording import THIN_SPACE, sentence

BOXES = {"spoons": "round_spoons", "within": "round_within", "chance": "round_chance"}
"""Where a refusal that begins so is told."""


@dataclass(frozen=True, slots=True)
class Fold:
    """The fold as it stands on the page."""

    spoons: tuple[tuple[str, bool], ...]
    """Every measure offered, and whether it is ticked."""
    within: str
    chance: str
    is_open: bool = False
    rounded: Rounded | None = None
    is_put: bool = False
    """The amounts were put in the form, unsaved."""

    @property
    def ticked(self) -> tuple[str, ...]:
        """What lies in the drawer."""
        return tuple(name for name, is_there in self.spoons if is_there)

    @property
    def rows(self) -> list[tuple[str, str, str, str, str, str]]:
        """Line, as written, by spoon, by scale, rounding, how far it strays by itself."""
        return [
            (
                row.name,
                row.before,
                row.by_spoon or "weigh it",
                row.by_scale,
                rounding_text(row.error_pct),
                f"{row.scatter_pct:.0f}{THIN_SPACE}%",
            )
            for row in (self.rounded.rows if self.rounded else ())
        ]


def fold_of(bench: Bench, data: FormData | None = None) -> Fold:
    """The fold as posted; as the workshop's drawer has it when nothing was."""
    own = bench.workshop.spoons
    posted = data is not None and "round_within" in data
    there = {str(name) for name in data.getlist("round_spoon")} if data is not None and posted else set(own or FULL_SET)
    offered = dict.fromkeys((*FULL_SET, *own))
    within, chance = f"{WITHIN_PCT:g}", f"{CHANCE * 100:g}"
    if data is not None and posted:
        within, chance = (str(data.get(box, "")).strip() for box in ("round_within", "round_chance"))
    return Fold(tuple((name, name in there) for name in offered), within, chance)


def rounded_in(fold: Fold, looked: Looked, bench: Bench) -> tuple[Fold, Looked]:
    """The fold with its answer; or the page's faults with what stands in the way."""
    fold = replace(fold, is_open=True)
    if looked.faults or looked.recipe is None:
        return fold, looked
    try:
        if not fold.ticked:
            raise Refusal("spoons: no measure is ticked. Tick what lies in the drawer.")
        within, chance = _percent(fold.within, "within", "5"), _percent(fold.chance, "chance", "99")
        as_of = looked.recipe.made_on or bench.clock()
        mix = weigh(looked.recipe, bench.catalogue, as_of=as_of, lot_analyses=bench.workshop.lot_analyses)
        rounded = round_to_spoons(
            mix, bench.catalogue, bench.workshop, spoons=fold.ticked, within_pct=within, chance=chance / 100.0
        )
    except Refusal as refused:
        where, _, said = str(refused).partition(": ")
        box = BOXES.get(where, "")
        return fold, replace(looked, faults=Faults({box: [sentence(said) if box else str(refused)]}))
    return replace(fold, rounded=rounded), looked


def _percent(typed: str, where: str, example: str) -> float:
    try:
        return float(typed.removesuffix("%").strip().replace(",", "."))
    except ValueError as error:
        raise Refusal(f'{where}: read "{typed}". Write a number of percent, such as {example}.') from error
