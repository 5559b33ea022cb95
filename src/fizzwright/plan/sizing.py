"""Resize a recipe: to a count of pieces, to a total mass, to what is left in the bag, or to a whole last piece.

The resized recipe is a document again. Amounts keep the maker's units where real spoons and drops can still measure
them; where they cannot, the line is given in grams. What the rounding does is told line by line.
"""

from __future__ import annotations

import math
import tomllib
from collections.abc import Mapping
from dataclasses import asdict, dataclass, replace
from fractions import Fraction
from typing import Any

from fizzwright.catalogue import Catalogue
from fizzwright.catalogue.workshop import Workshop
from fizzwright.recipe.amounts import AmountRefused, format_amount, parse_amount, parse_number
from fizzwright.recipe.document import read_text
from fizzwright.recipe.measures import unit_ml
from fizzwright.recipe.mix import Mix, MixLine
from fizzwright.recipe.model import Amount, Recipe
from fizzwright.recipe.scaling import scaled
from fizzwright.recipe.tidy import add_line, set_value, with_amounts
from fizzwright.recipe.weigh import weigh
from fizzwright.refusal import Refusal
from fizzwright.review import review
from fizzwright.review.leftover import fill_up
from fizzwright.review.sizes import piece

SPOON_STEPS = {
    "cup": (Fraction(1, 4), Fraction(1, 3), Fraction(1, 8)),
    "tbsp": (Fraction(1, 2), Fraction(1, 3)),
    "tsp": (Fraction(1, 4), Fraction(1, 8)),
    "part": (Fraction(1, 8),),
    "fl_oz": (Fraction(1, 4),),
    "drop": (Fraction(1),),
    "spray": (Fraction(1),),
    "pinch": (Fraction(1),),
}
"""The finest steps real measures have, by unit; anything else is a plain decimal."""
OTHER_MEASURES = {"tsp": ("tbsp", "cup"), "tbsp": ("tsp", "cup"), "cup": ("tbsp",)}
MOST_SCOOPS = {"tsp": 6, "tbsp": 8}
"""Beyond these nobody counts right: another measure, or the scale."""
LEAST_SCOOPS = {"cup": 0.24, "tbsp": 0.5}
"""Below these there is no such measure in the drawer."""
WHOLE_ONLY = ("drop", "spray", "pinch", "part")
CLOSE_ENOUGH_PCT = 4.0
"""A level scoop strays further than this by itself (measures: scooping by hand, about 11 %)."""
UNSCALED = ("%", "to_consistency")
"""Shares stay shares when a recipe grows."""
HANDY_STEPS_G = ((50.0, 1.0), (10.0, 0.5), (1.0, 0.1))
"""From so many grams on, steps so coarse lose nothing that a bowl would notice."""
LARGEST_FACTOR = 1000.0
ROUNDS = 15
"""Tries at a count: each adds what rounding took from the last one."""


@dataclass(frozen=True, slots=True)
class Change:
    """What one line was and what it becomes."""

    use: str
    name: str
    before: str
    after: str
    rounding_pct: float
    """What writing it in a real measure does to the amount, percent."""


@dataclass(frozen=True, slots=True)
class Sized:
    """A resized recipe document with what changed."""

    text: str
    factor: float
    summary: str
    changes: tuple[Change, ...]
    notes: tuple[str, ...] = ()

    def as_dict(self) -> dict[str, Any]:
        """For --json."""
        return {"fizzwright": 1, **asdict(self)}


def resize(
    recipe: Recipe,
    catalogue: Catalogue,
    workshop: Workshop | None = None,
    *,
    count: int | None = None,
    total: str | None = None,
    bag: tuple[str, ...] = (),
    whole: bool = False,
    times: str | None = None,
    mould: str | None = None,
) -> Sized:
    """Resize a recipe in one of six ways; Refusal when none or several are asked, or when it cannot be done."""
    sized = _resized(
        recipe, catalogue, workshop, count=count, total=total, bag=bag, whole=whole, times=times, mould=mould
    )
    report = review(read_text(sized.text, catalogue, recipe.file), catalogue, workshop)
    if report.verdict != "stop":
        return sized
    return replace(
        sized,
        notes=(*sized.notes, "Stop: the review of this recipe stops it as it is written. Read it before you make any."),
    )


def _resized(
    recipe: Recipe,
    catalogue: Catalogue,
    workshop: Workshop | None,
    *,
    count: int | None,
    total: str | None,
    bag: tuple[str, ...],
    whole: bool,
    times: str | None,
    mould: str | None,
) -> Sized:
    asked = [
        name
        for name, given in (
            ("count", count is not None),
            ("total", total is not None),
            ("bag", bool(bag)),
            ("whole", whole),
            ("times", times is not None),
            ("mould", mould is not None),
        )
        if given
    ]
    if len(asked) != 1:
        said = f"read: {', '.join(asked)}" if asked else "nothing was asked"
        raise Refusal(
            f"Resize one way at a time ({said}): a count, a total, so many times, another mould, what is left in "
            "the bag, or a whole last piece."
        )
    if mould is not None:
        return _to_mould(recipe, catalogue, mould)
    if times is not None:
        return _times(recipe, catalogue, times)
    if count is None and recipe.makes.count is not None and any(line.amount.unit == "part" for line in recipe.lines):
        raise Refusal("The parts of this recipe fill the moulds that [makes] counts: resize it to another count.")
    mix = weigh(recipe, catalogue)
    step_g = (workshop.small_scale_step_g or workshop.scale_step_g) if workshop else 0.1
    if count is not None:
        return _to_count(mix, catalogue, count, step_g)
    if total is not None:
        factor = _grams(total, "total") / float(mix.grams.sum())
        return _counted(_scaled(mix, catalogue, factor, f"{recipe.name} for {total} of mix", step_g), mix, catalogue)
    if bag:
        return _to_bags(mix, catalogue, bag, step_g)
    return _to_whole(mix, catalogue)


def _times(recipe: Recipe, catalogue: Catalogue, times: str) -> Sized:
    """The recipe so many times over, exactly, in its own units: 2, 1/2, 1 1/2."""
    try:
        factor = parse_number(times)
    except ValueError as error:
        raise Refusal(f"times: read {times!r}. {error}") from error
    if not 0 < factor <= LARGEST_FACTOR:
        raise Refusal(f"times: read {times!r}. Allowed: above 0 and up to {LARGEST_FACTOR:.0f}.")
    try:
        text = scaled(recipe.text, factor)
    except AmountRefused as error:
        raise Refusal(f"times: {error}") from error
    again = [parse_amount(str(line["amount"])) for line in tomllib.loads(text)["line"]]
    changes = tuple(
        Change(line.use, line.use, line.amount.text, after.text, 0.0)
        for line, after in zip(recipe.lines, again, strict=True)
        if line.amount.text != after.text
    )
    sized = Sized(text, float(factor), f"{recipe.name}, {times} times", changes)
    return _counted(sized, weigh(recipe, catalogue), catalogue)


def _to_mould(recipe: Recipe, catalogue: Catalogue, mould: str) -> Sized:
    """The same mix in another mould: no amount changes, only how many pieces it makes."""
    before = weigh(recipe, catalogue)
    size = piece(before, catalogue)
    if size.is_powder or size.volume_ml is None:
        raise Refusal(f"{recipe.name} is not pressed in a mould with a shape, so it cannot change to another.")
    if mould == recipe.makes.mould:
        raise Refusal(f"mould: read {mould!r}. The recipe is pressed in that one already.")
    if mould not in catalogue.moulds and not mould.startswith("mesh:"):
        near = ", ".join(catalogue.nearest(mould, among="mould"))
        raise Refusal(f"mould: read {mould!r}. No mould is called that. Nearest: {near}.")
    text = set_value(recipe.text, ("makes", "mould"), mould)
    if any(line.amount.unit == "part" for line in recipe.lines) and recipe.makes.count is not None:
        # parts fill whatever is counted: as many of the new pieces as hold what the old ones held
        one = piece(
            weigh(read_text(set_value(text, ("makes", "count"), 1), catalogue, recipe.file), catalogue), catalogue
        )
        count = max(1, round(recipe.makes.count * size.piece_g.value / one.piece_g.value))
        text = set_value(text, ("makes", "count"), count)
    else:
        text = set_value(text, ("makes", "count"), None)
    made = piece(weigh(read_text(text, catalogue, recipe.file), catalogue), catalogue)
    if made.pieces < 1:
        raise Refusal(
            f"The mix comes to {size.total_g:.0f} g, and one piece of that mould takes {made.piece_g.value:.0f} g: too little for "
            "one. Resize to a count first."
        )
    if recipe.makes.count is not None:
        text = set_value(text, ("makes", "count"), made.pieces)
    noun = "piece" if made.pieces == 1 else "pieces"
    left = f", and {made.leftover_g.value:.0f} g are left" if made.leftover_g.value >= 1 else ""
    return Sized(
        text,
        1.0,
        f"{recipe.name} makes {made.pieces} {noun} of {made.piece_g.value:.0f} g in that mould{left}",
        (Change("makes.mould", "mould", recipe.makes.mould or "", mould, 0.0),),
        ("No amount changes. Another size fizzes and dries for longer or shorter, and brings another dose to a bath.",),
    )


def _grams(text: str, where: str) -> float:
    """Grams of an amount by weight."""
    try:
        amount = parse_amount(text)
    except ValueError as error:
        raise Refusal(f"{where}: read {text!r}. {error}") from error
    per_unit = {"g": 1.0, "kg": 1000.0, "oz": 28.349523125, "lb": 453.59237}
    if amount.number is None or amount.unit not in per_unit:
        raise Refusal(f"{where}: read {text!r}. Give a weight in g, kg, oz or lb, such as 900 g.")
    return float(amount.number) * per_unit[amount.unit]


def _to_count(mix: Mix, catalogue: Catalogue, count: int, step_g: float) -> Sized:
    """So much mix that it fills exactly so many pieces."""
    if not 1 <= count <= 100_000:
        raise Refusal(f"count: read {count}. Allowed: 1 to 100000 pieces.")
    size = piece(mix, catalogue)
    noun = "baths" if size.is_powder else "pieces"
    summary = f"{mix.recipe.name} for {count} {noun} of {size.piece_g.value:.0f} g"
    factor = count * size.piece_g.value / size.total_g
    # rounding to real spoons may leave the last piece a little short: then a little more of everything
    for _ in range(ROUNDS):
        # parts fill whatever count is asked for, so they stay as they are
        sized = _scaled(mix, catalogue, factor, summary, step_g, parts_stay=not size.is_powder)
        text = sized.text if size.is_powder else set_value(sized.text, ("makes", "count"), count)
        made = piece(weigh(read_text(text, catalogue, mix.recipe.file), catalogue), catalogue)
        if made.pieces >= count:
            break
        factor *= 1.01 + (count * made.piece_g.value - made.total_g) / made.total_g
    return replace(sized, text=text)


def _to_bags(mix: Mix, catalogue: Catalogue, bag: tuple[str, ...], step_g: float) -> Sized:
    """The most that can be made of what is left in the bags."""
    factors: dict[str, float] = {}
    for entry in bag:
        use, sign, amount = entry.partition("=")
        use = use.strip().lower().replace(" ", "_")
        need = sum(float(g) for g, m in zip(mix.grams, mix.lines, strict=True) if m.id == use)
        if not sign or need <= 0:
            holds = ", ".join(dict.fromkeys(m.id for m in mix.lines))
            raise Refusal(
                f"bag: read {entry!r}. Write it as id=amount, such as citric_acid=250g; this recipe holds {holds}."
            )
        factors[use] = _grams(amount, f"bag {use}") / need
    first = min(factors, key=lambda use: factors[use])
    held = {
        use: factors[use] * sum(float(g) for g, m in zip(mix.grams, mix.lines, strict=True) if m.id == use)
        for use in factors
    }
    sized = _scaled(
        mix, catalogue, factors[first], f"{mix.recipe.name} for what is left in the bag: {first} runs out first", step_g
    )
    return _counted(_within_bags(mix, catalogue, sized, held, step_g), mix, catalogue)


def _within_bags(mix: Mix, catalogue: Catalogue, sized: Sized, held: Mapping[str, float], step_g: float) -> Sized:
    """The same, with no line taking more than its bag holds: rounding up to a spoon must not ask for what is not there."""
    again = weigh(read_text(sized.text, catalogue, mix.recipe.file), catalogue)
    amounts: dict[int, str] = {}
    for row, (line, grams) in enumerate(zip(mix.lines, again.grams, strict=True)):
        if line.id in held and float(grams) > held[line.id]:
            amounts[row] = weighable(min(line.grams * sized.factor, held[line.id]), step_g, down=True)[0]
    changes = tuple(
        replace(change, after=amounts[row], rounding_pct=0.0) if (row := _row_of(mix, change)) in amounts else change
        for change in sized.changes
    )
    return replace(sized, text=with_amounts(sized.text, amounts), changes=changes)


def _row_of(mix: Mix, change: Change) -> int:
    """The line a change is about."""
    return next(
        row for row, line in enumerate(mix.lines) if line.id == change.use and line.line.amount.text == change.before
    )


def _counted(sized: Sized, mix: Mix, catalogue: Catalogue) -> Sized:
    """The same with [makes] count set to what the new mix fills, where the recipe counts at all."""
    if mix.recipe.makes.count is None:
        return sized
    unbound = set_value(sized.text, ("makes", "count"), None)
    made = piece(weigh(read_text(unbound, catalogue, mix.recipe.file), catalogue), catalogue).pieces
    if made < 1:
        return replace(sized, notes=(*sized.notes, "This is too little mix for one piece."))
    return replace(sized, text=set_value(sized.text, ("makes", "count"), made))


def _to_whole(mix: Mix, catalogue: Catalogue) -> Sized:
    """Add filler until the last piece is whole."""
    size = piece(mix, catalogue)
    if size.is_powder:
        raise Refusal("A powder has no last piece to make whole: resize it to a count of baths or a total.")
    fill = fill_up(mix, catalogue, size)
    missing, filler = fill.grams, fill.filler
    if missing > 0.5 * size.total_g:
        raise Refusal(
            f"{missing:.0f} g of filler would be needed for another {size.piece_g.value:.0f} g piece: too much for {size.total_g:.0f} g of mix. "
            "Resize to a count instead."
        )
    amount = f"{missing:.1f} g"
    text = mix.recipe.text
    rows = [i for i, m in enumerate(mix.lines) if m.id == filler.id]
    if rows:
        row = rows[0]
        new = f"{missing + float(mix.grams[row]):.1f} g"
        text = with_amounts(text, {row: new})
        change = Change(filler.id, filler.name, mix.lines[row].line.amount.text, new, 0.0)
    else:
        part = next((m.part for m in mix.lines if m.part != "whole"), None)
        text = add_line(text, filler.id, amount, part=part)
        change = Change(filler.id, filler.name, "", amount, 0.0)
    return Sized(
        text,
        1.0,
        f"{mix.recipe.name} with {missing:.0f} g more {filler.name}, so that {fill.pieces} pieces are whole",
        (change,),
        ("More filler means less gas in every piece: see filler_to_whole_g in the mould section of the review.",),
    )


def _scaled(
    mix: Mix, catalogue: Catalogue, factor: float, summary: str, step_g: float, *, parts_stay: bool = False
) -> Sized:
    """Every line times the factor, in units a kitchen can measure."""
    if not 0 < factor <= LARGEST_FACTOR:
        raise Refusal(f"That would make {factor:.3g} times the recipe. Allowed: up to {LARGEST_FACTOR:.0f} times.")
    changes, amounts, notes = [], {}, []
    for row, line in enumerate(mix.lines):
        amount = line.line.amount
        if amount.unit in UNSCALED or (amount.unit == "part" and parts_stay):
            continue
        after, rounding = measurable(line, factor, step_g, mix.recipe.measures, catalogue)
        amounts[row] = after
        changes.append(Change(line.id, line.name, amount.text, after, rounding))
        if abs(rounding) > 10:
            notes.append(f"{line.name}: {after} is {rounding:+.0f} % off, the nearest that can be measured.")
    if not amounts and not parts_stay:
        raise Refusal("Every line is a share (%), so there is nothing to resize: set [makes] count instead.")
    return Sized(with_amounts(mix.recipe.text, amounts), factor, summary, tuple(changes), tuple(dict.fromkeys(notes)))


def measurable(line: MixLine, factor: float, step_g: float, system: str, catalogue: Catalogue) -> tuple[str, float]:
    """The amount times the factor as a kitchen can measure it, and the percent that rounding adds or takes.

    A line keeps its unit while a real spoon comes within a few percent; else it is given in grams. Drops and sprays
    are always whole.
    """
    amount = line.line.amount
    if amount.number is None:
        return amount.text, 0.0
    exact = float(amount.number) * factor
    if amount.unit == "g":
        return weighable(exact, step_g)
    if amount.unit not in SPOON_STEPS:
        rounded = Fraction(f"{exact:.3g}") if exact < 1000 else Fraction(round(exact))
        return format_amount(Amount("", rounded, amount.unit, amount.habit)), 100 * (float(rounded) / exact - 1)
    for unit in (amount.unit, *OTHER_MEASURES.get(amount.unit, ())):
        wanted = exact * _ml(amount.unit, system, catalogue) / _ml(unit, system, catalogue)
        if not LEAST_SCOOPS.get(unit, 0.0) <= wanted <= MOST_SCOOPS.get(unit, float("inf")):
            continue
        steps = SPOON_STEPS[unit]
        if unit == "tsp" and wanted > 1:
            steps = steps[:1]
        candidates = [max(1, round(wanted / float(step))) * step for step in steps]
        best = min(candidates, key=lambda number: abs(float(number) - wanted))
        error = 100 * (float(best) / wanted - 1)
        if abs(error) <= CLOSE_ENOUGH_PCT or unit in WHOLE_ONLY:
            return format_amount(Amount("", best, unit, amount.habit)), error
    return weighable(line.grams * factor, step_g)


def weighable(grams: float, step_g: float, *, down: bool = False) -> tuple[str, float]:
    """The mass as a scale shows it and a hand can reach it, with the percent that rounding adds or takes."""
    handy = next((step for least, step in HANDY_STEPS_G if grams >= least), 0.01)
    step = Fraction(str(max(handy, step_g)))
    count = math.floor(grams / float(step) + 1e-9) if down else round(grams / float(step))
    weighed = max(1, count) * step
    return format_amount(Amount("", weighed, "g")), 100 * (float(weighed) / grams - 1)


def _ml(unit: str, system: str, catalogue: Catalogue) -> float:
    """Volume of a spoon or cup; drops and sprays have no larger measure, so 1 stands for them."""
    return unit_ml(unit, system, catalogue).ml if unit in ("cup", "tbsp", "tsp", "fl_oz") else 1.0
