"""Writing new grams into a recipe document: lines changed, exchanged, taken out or added, in measures a kitchen has."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from fractions import Fraction

from fizzwright.catalogue import Catalogue
from fizzwright.catalogue.model import Constituent, Oil, Usable
from fizzwright.catalogue.workshop import Workshop
from fizzwright.plan.sizing import measurable, weighable
from fizzwright.recipe.amounts import TO_CONSISTENCY, format_amount
from fizzwright.recipe.measures import density, drop_ml, is_poured
from fizzwright.recipe.mix import Mix, MixLine
from fizzwright.recipe.model import Amount
from fizzwright.recipe.tidy import add_line, remove_line, set_value
from fizzwright.recipe.weigh import weigh

POURED_ONLY = ("drop", "spray")
OILY = ("carrier_oil", "solid_fat", "solubiliser", "emulsifier", "humectant", "binder_liquid")
"""What scent can be diluted in."""


@dataclass(frozen=True, slots=True)
class Want:
    """What one line is to be: its place in the recipe (None for a new one), what it holds and how much."""

    place: int | None
    use: str
    grams: float
    """0 takes the line out."""
    diluted_in: str | None = None
    """For a new line."""
    part: str | None = None


def fine_step_g(workshop: Workshop | None) -> float:
    """The finest step of the maker's scales."""
    return (workshop.small_scale_step_g or workshop.scale_step_g) if workshop else 0.1


def drop_g(entry: Usable, catalogue: Catalogue) -> float:
    """Grams of one drop."""
    return drop_ml(entry, catalogue).ml * density(entry, None).g_ml


def drops(entry: Usable, grams: float, catalogue: Catalogue) -> int:
    """The nearest whole number of drops, at least one."""
    return max(1, round(grams / drop_g(entry, catalogue)))


def amount_text(mix: Mix, line: MixLine, entry: Usable, grams: float, catalogue: Catalogue, step_g: float) -> str:
    """The grams of `entry` in the measure that `line` is written in, or on the scale where no such measure comes near."""
    amount = line.line.amount
    if amount.unit == TO_CONSISTENCY:
        return amount.text
    if amount.unit == "%":
        share = Fraction(f"{100 * grams / float(mix.grams.sum()):.3g}")
        return format_amount(Amount("", share, "%"))
    if amount.unit in POURED_ONLY and not is_poured(entry):
        return weighable(grams, step_g)[0]
    swapped = tuple(
        replace(other, use=entry.id, lot=other.lot if entry.id == line.id else None) if other is line.line else other
        for other in mix.recipe.lines
    )
    place = next(i for i, other in enumerate(mix.recipe.lines) if other is line.line)
    again = weigh(replace(mix.recipe, lines=swapped), catalogue, draws=2)
    if amount.unit == "part":
        return _parts(mix, again, place, grams)
    return measurable(again.lines[place], grams / again.lines[place].grams, step_g, mix.recipe.measures, catalogue)[0]


def _parts(mix: Mix, again: Mix, place: int, grams: float) -> str:
    """Parts of it so that it stands to another line of parts as it should: parts fill the moulds, whatever they are."""
    amount = mix.lines[place].line.amount
    others = [i for i, m in enumerate(mix.lines) if i != place and m.line.amount.unit == "part"]
    if not others:
        return format_amount(amount)
    wanted, got = (
        grams / mix.lines[others[0]].grams,
        again.lines[place].grams / again.lines[others[0]].grams,
    )
    eighths = max(1, round(float(amount.number or 1) * wanted / got * 8))
    return format_amount(Amount("", Fraction(eighths, 8), "part", amount.habit))


def new_amount(entry: Usable, grams: float, catalogue: Catalogue, step_g: float) -> str:
    """The grams of something no line holds yet: scent in drops, the rest on the scale."""
    if isinstance(entry, Oil | Constituent):
        return f"{(count := drops(entry, grams, catalogue))} drop{'' if count == 1 else 's'}"
    return weighable(grams, step_g)[0]


def written(mix: Mix, catalogue: Catalogue, wants: Sequence[Want], workshop: Workshop | None) -> str:
    """The document with every want in it; a line whose new use stands elsewhere in its part is added to that line."""
    step_g = fine_step_g(workshop)
    text, gone, fresh = mix.recipe.text, [], []
    totals: dict[int, float] = {}
    uses: dict[int, str] = {}
    for want in wants:
        if want.place is None:
            fresh.append(want)
            continue
        twin = _twin(mix, want)
        if twin is not None and want.grams > 0:
            totals[twin] = totals.get(twin, float(mix.grams[twin])) + want.grams
            gone.append(want.place)
        elif want.grams > 0:
            totals[want.place] = totals.get(want.place, 0.0) + want.grams
            uses[want.place] = want.use
        else:
            gone.append(want.place)
    for place, grams in totals.items():
        line, use = mix.lines[place], uses.get(place, mix.lines[place].id)
        entry = catalogue.usable(use)
        assert entry is not None, f"{use} was looked up before it was wanted"
        text = set_value(text, ("line", place, "amount"), amount_text(mix, line, entry, grams, catalogue, step_g))
        if use != line.id:
            text = set_value(text, ("line", place, "use"), use)
            if line.line.lot is not None:
                text = set_value(text, ("line", place, "lot"), None)
    moved = {
        mix.lines[want.place].id: want.use if want.grams > 0 else None
        for want in wants
        if want.place is not None and (want.use != mix.lines[want.place].id or want.grams <= 0)
    }
    text = _homes(mix, catalogue, text, moved, gone, uses)
    for place in sorted(gone, reverse=True):
        text = remove_line(text, place)
    for want in fresh:
        entry = catalogue.usable(want.use)
        assert entry is not None, f"{want.use} was looked up before it was wanted"
        amount = new_amount(entry, want.grams, catalogue, step_g)
        text = add_line(text, want.use, amount, part=want.part, diluted_in=want.diluted_in)
    return text


def _twin(mix: Mix, want: Want) -> int | None:
    """Another line that holds the wanted use in the same part."""
    if want.place is None or want.use == mix.lines[want.place].id:
        return None
    part = mix.lines[want.place].part
    return next((i for i, m in enumerate(mix.lines) if m.id == want.use and m.part == part and i != want.place), None)


def _homes(
    mix: Mix,
    catalogue: Catalogue,
    text: str,
    moved: Mapping[str, str | None],
    gone: Sequence[int],
    uses: Mapping[int, str],
) -> str:
    """The document with scent diluted in what took the place of its old carrier, or in nothing where nothing oily did."""
    staying = {m.id for i, m in enumerate(mix.lines) if i not in gone and uses.get(i, m.id) == m.id}
    for place, mixed in enumerate(mix.lines):
        home = mixed.line.diluted_in
        if place in gone or home is None or home in staying or home not in moved:
            continue
        new = moved[home]
        is_oily = new is not None and new in catalogue.materials and catalogue.materials[new].function in OILY
        text = set_value(text, ("line", place, "in"), new if is_oily else None)
    return text
