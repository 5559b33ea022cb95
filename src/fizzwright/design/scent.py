"""More or less of the scent a recipe has: so many times, or the most that stays inside every limit at a given chance."""

from __future__ import annotations

from dataclasses import dataclass, field

from fizzwright.catalogue import Catalogue
from fizzwright.catalogue.workshop import Workshop
from fizzwright.design.changed import Changed, compare
from fizzwright.design.writing import Want, written
from fizzwright.recipe.amounts import parse_number
from fizzwright.recipe.document import read_text
from fizzwright.recipe.mix import Mix
from fizzwright.recipe.model import Recipe
from fizzwright.recipe.weigh import weigh
from fizzwright.refusal import Refusal
from fizzwright.review import Setting, skin
from fizzwright.review.figures import Notice
from fizzwright.review.kitchens import HABITS, inside, stopping
from fizzwright.review.limits import limit_words
from fizzwright.wording import listed, shown

LARGEST_TIMES = 1000
MOST_PCT = 10.0
"""Our own choice: beyond a tenth of the mix in essential oil nobody makes a fizzer, whatever the limits say."""
KITCHENS = 2**12
"""Kitchens drawn at each step: the chance is known to about a sixth of a percent near 99 %."""
ROUNDS = 40
"""Halvings at most; whole drops settle after a dozen."""
USUAL_CHANCE = 0.99


def times(recipe: Recipe, catalogue: Catalogue, workshop: Workshop | None, said: str) -> Changed:
    """Every scented line so many times over: "1/2", "2", "0.8"."""
    try:
        factor = parse_number(said)
    except ValueError as error:
        raise Refusal(
            f"scent: read {said!r}. Write a number of times above 0, such as 1/2 or 2, or the word most."
        ) from error
    if not 0 < factor <= LARGEST_TIMES:
        raise Refusal(f"scent: read {said!r}. Allowed: above 0 and up to {LARGEST_TIMES} times, or the word most.")
    mix = _scented(recipe, catalogue, workshop)
    text = _at(mix, float(factor), catalogue, workshop)
    notes = ("Drops are whole, and each oil keeps at least one.",) if _is_dropped(mix) else ()
    much = "half the scent" if 2 * factor == 1 else f"{said} times the scent"
    return compare(recipe, text, catalogue, workshop, f"{recipe.name} with {much}", notes=notes)


def most(
    recipe: Recipe,
    catalogue: Catalogue,
    workshop: Workshop | None,
    *,
    chance: float = USUAL_CHANCE,
    habit: str = "as_written",
) -> Changed:
    """The scent at the largest that the review does not stop and that this share of kitchens keeps inside every limit.

    All oils by one factor, drops whole. Refusal for a recipe without scent, for a chance nobody can promise, and where
    not even a drop of each fits.
    """
    if not 0 < chance < 1:
        raise Refusal(f"chance: read {chance:g}. Allowed: above 0 and below 1, such as 0.99.")
    if habit not in HABITS:
        raise Refusal(f"habit: read {habit!r}. Allowed: {', '.join(HABITS)}.")
    search = _Search(_scented(recipe, catalogue, workshop), catalogue, workshop, chance, habit)
    good, bad = search.bracket()
    for _ in range(ROUNDS):
        middle = (good + bad) / 2
        text = search.text(middle)
        if text == search.text(good):
            good = middle
        elif text == search.text(bad):
            bad = middle
        elif search.holds(middle):
            good = middle
        else:
            bad = middle
        if bad - good < 1e-6 * bad:
            break
    text = search.text(good)
    found = search.judged[text]
    said = (
        f"{100 * found.chance:.2f} % of {KITCHENS} kitchens that measure {_habit_words(habit)} stay inside every limit; "
        f"{100 * chance:.4g} % were asked."
    )
    notes = [said, f"What sets it: {search.judged[search.text(bad)].why}"]
    if _is_dropped(search.mix):
        notes.append("Drops are whole, and the oils keep to one another as well as whole drops can.")
    return compare(
        recipe, text, catalogue, workshop, f"{recipe.name} with the most scent that fits", notes=tuple(notes)
    )


def _habit_words(habit: str) -> str:
    words = {
        "as_written": "as the recipe is written",
        "scale": "by the scale",
        "levelled": "by levelled spoons",
        "scooped": "by scooping",
    }
    return words[habit]


def _scented(recipe: Recipe, catalogue: Catalogue, workshop: Workshop | None) -> Mix:
    mix = weigh(recipe, catalogue, lot_analyses=workshop.lot_analyses if workshop else None)
    if not mix.oil_mask.any():
        raise Refusal(f"{recipe.name} holds no essential oil, so there is no scent to change.")
    return mix


def _is_dropped(mix: Mix) -> bool:
    return any(m.is_oil and m.line.amount.unit == "drop" for m in mix.lines)


def _at(mix: Mix, factor: float, catalogue: Catalogue, workshop: Workshop | None) -> str:
    """The document with every scented line times the factor."""
    wants = [Want(i, m.id, m.grams * factor) for i, m in enumerate(mix.lines) if m.is_oil]
    return written(mix, catalogue, wants, workshop)


@dataclass(frozen=True, slots=True)
class _Judged:
    """Whether a document holds, and if not what it breaks first."""

    holds: bool
    chance: float
    why: str


@dataclass
class _Search:
    mix: Mix
    catalogue: Catalogue
    workshop: Workshop | None
    chance: float
    habit: str
    judged: dict[str, _Judged] = field(default_factory=dict)
    texts: dict[float, str] = field(default_factory=dict)

    def __post_init__(self) -> None:
        """What stops the recipe whatever its scent is no business of the scent."""
        self.setting = Setting(self.workshop)
        places = [i for i, m in enumerate(self.mix.lines) if m.is_oil]
        bare = written(self.mix, self.catalogue, [Want(i, self.mix.lines[i].id, 0.0) for i in places], self.workshop)
        self.known = {(n.figure, n.line) for n in self._stops(self._weighed(bare))}

    def _weighed(self, text: str) -> Mix:
        recipe = read_text(text, self.catalogue, self.mix.recipe.file)
        return weigh(recipe, self.catalogue, lot_analyses=self.mix.lot_analyses)

    def _stops(self, mix: Mix) -> list[Notice]:
        notices = skin.section(mix, self.catalogue, self.setting).notices
        return [n for n in notices if n.level == "stop"]

    def text(self, factor: float) -> str:
        """The document at a factor."""
        if factor not in self.texts:
            self.texts[factor] = _at(self.mix, factor, self.catalogue, self.workshop)
        return self.texts[factor]

    def holds(self, factor: float) -> bool:
        """True when nothing about the scent is stopped and enough kitchens stay inside."""
        text = self.text(factor)
        if text not in self.judged:
            self.judged[text] = self._judge(text)
        return self.judged[text].holds

    def _judge(self, text: str) -> _Judged:
        mix = self._weighed(text)
        scent_pct = 100 * float(mix.grams[mix.oil_mask].sum() / mix.grams.sum())
        if scent_pct > MOST_PCT:
            return _Judged(
                False, 0.0, f"no limit held here; {shown(MOST_PCT)} % of essential oil is where we stop looking."
            )
        stops = [n for n in self._stops(mix) if (n.figure, n.line) not in self.known]
        if stops:
            return _Judged(False, 0.0, f"a step more is stopped: {stops[0].text}")
        kitchens = inside(mix, self.catalogue, setting=self.setting, habit=self.habit, count=KITCHENS)
        if kitchens.chance < self.chance:
            return _Judged(
                False,
                kitchens.chance,
                f"with a step more only {100 * kitchens.chance:.2f} % of kitchens stay inside every limit, and "
                f"{100 * kitchens.over.get(kitchens.worst, 0.0):.1f} % pass {limit_words(kitchens.worst, mix, stopping(mix, self.catalogue))}.",
            )
        return _Judged(True, kitchens.chance, "")

    def bracket(self) -> tuple[float, float]:
        """A factor that holds and one above it that does not; Refusal where not even a drop of each holds."""
        factor = 1.0
        if self.holds(factor):
            while self.holds(2 * factor):
                factor *= 2
            return factor, 2 * factor
        while not self.holds(factor / 2):
            if self.text(factor / 2) == self.text(factor / 4) and not self.holds(factor / 4):
                why = self.judged[self.text(factor / 4)].why
                names = listed(m.name for m in self.mix.lines if m.is_oil)
                raise Refusal(
                    f"Not even the least of {names} together fits. {why} Choose other oils, or leave one out."
                )
            factor /= 2
        return factor / 2, factor
