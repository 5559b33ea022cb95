"""The fold "Change one thing" of the recipe page: what was asked, and the changed recipe beside the old one."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field, replace

from starlette.datastructures import FormData

from fizzwright.design.asking import STOCK, Ask, change
from fizzwright.design.changed import Changed, label_words
from fizzwright.design.groups import GROUPS
from fizzwright.design.scent import USUAL_CHANCE
from fizzwright.recipe.document import read_text
from fizzwright.recipe.model import Recipe
from fizzwright.refusal import Refusal
from fizzwright.review.figures import LEVEL_WORDS
from fizzwright.web.bench import Bench, Looked
from fizzwright.web.forms import Faults, LineForm, RecipeForm, of_document, plain_name

BOXES = {
    "swap": "change_new",
    "without": "change_group",
    "allergen": "change_allergen",
    "nearest": "change_allergen",
    "most": "change_chance",
    "times": "change_times",
    "families": "change_families",
    "like": "change_like",
}
"""Box of the page beside which a refusal of each button is told."""
TYPED = ("change_old", "change_new", "change_group", "change_allergen", "change_chance", "change_times",
         "change_families", "change_like")  # fmt: skip


@dataclass(frozen=True)
class Fold:
    """The fold as it stands on the page."""

    typed: Mapping[str, str]
    is_open: bool = False
    changed: Changed | None = None
    groups: tuple[tuple[str, str], ...] = tuple((name, words) for name, words in GROUPS.items())
    likes: tuple[tuple[str, str], ...] = field(default=())
    """Stem and name of each recipe whose scent can be copied."""

    @property
    def rows(self) -> list[tuple[str, str, str]]:
        """Line, was, becomes."""
        if self.changed is None:
            return []
        return [(r.name, r.before or "not in it", r.after or "taken out") for r in self.changed.rows]

    @property
    def moved(self) -> list[tuple[str, str, str]]:
        """Figures that change: name, was, becomes."""
        return (
            [(f.name, f.before_text, f.after_text) for f in self.changed.figures if not f.kept] if self.changed else []
        )

    @property
    def label(self) -> str:
        """What becomes of the label."""
        return label_words(self.changed) if self.changed else ""

    @property
    def word(self) -> str:
        """The verdict of the review, as a word."""
        return LEVEL_WORDS[self.changed.verdict] if self.changed else ""


def fold_of(bench: Bench, stem: str, data: FormData | None = None) -> Fold:
    """The fold as posted; empty when nothing was."""
    typed = {name: str(data.get(name, "")).strip() if data is not None else "" for name in TYPED}
    typed["change_chance"] = typed["change_chance"] or f"{100 * USUAL_CHANCE:g}"
    likes = tuple((other, other.replace("_", " ")) for other in bench.shelf.stems() if other != stem)
    return Fold(typed, likes=(("", "choose a recipe"), *likes))


def changed_in(fold: Fold, looked: Looked, bench: Bench, which: str) -> tuple[Fold, Looked]:
    """The fold with its answer; or the page's faults with what stands in the way."""
    fold = replace(fold, is_open=True)
    if looked.faults or looked.recipe is None:
        return fold, looked
    try:
        ask = _ask(fold.typed, bench, which)
        recipe = replace(looked.recipe, made_on=looked.recipe.made_on or bench.clock())
        found = change(recipe, bench.catalogue, bench.workshop, ask, lambda stem: _other(bench, stem))
    except Refusal as refused:
        return fold, replace(looked, faults=Faults({BOXES.get(which, ""): [str(refused)]}))
    return replace(fold, changed=found), looked


def _other(bench: Bench, stem: str) -> Recipe | None:
    if stem not in bench.shelf.stems():
        return None
    return read_text(bench.shelf.read(stem), bench.catalogue, bench.shelf.path(stem))


def _ask(typed: Mapping[str, str], bench: Bench, which: str) -> Ask:
    """What a button asks for, from the boxes beside it; Refusal when a box it needs is empty."""

    def needed(box: str, what: str) -> str:
        if not typed[box]:
            raise Refusal(what)
        return typed[box]

    def use(box: str) -> str:
        return bench.ids.get(plain_name(typed[box]), typed[box])

    if which == "swap":
        needed("change_old", "Choose the line that is to go.")
        return Ask(old=use("change_old"), new=use("change_new"))
    if which == "without":
        return Ask(without=needed("change_group", "Choose what is to be left out."))
    if which in ("allergen", "nearest"):
        name = needed("change_allergen", "Write the allergen, such as Limonene.")
        return Ask(without_allergen=name, anyway=which == "nearest")
    if which == "most":
        return Ask(scent="most", chance=_percent(typed["change_chance"]))
    if which == "times":
        return Ask(scent=needed("change_times", "Write how many times the scent, such as 1/2."))
    if which == "families":
        return Ask(match=needed("change_families", "Write families with weights, such as citrus=3 woody=1."))
    if which == "like":
        return Ask(match=needed("change_like", "Choose the recipe whose scent this one is to have."))
    if which == "stock":
        return Ask(match=STOCK)
    if which == "cheaper":
        return Ask(cheaper=True)
    raise Refusal("That button is not one of this page's.")


def _percent(typed: str) -> float:
    try:
        return float(typed.removesuffix("%").strip().replace(",", ".")) / 100
    except ValueError as error:
        raise Refusal(f'Read: "{typed}". Write a number of percent, such as 99.') from error


def put(form: RecipeForm, looked: Looked, text: str) -> RecipeForm:
    """The form holding the changed document, each line still tied to the line of the file it came from.

    A line that changed what it uses keeps the place of the one it took over from; the rest that went stands as taken out.
    """
    fresh = of_document(text, form.seen)
    old = [form.lines[place] for place in looked.order]
    free = list(range(len(old)))
    tied: dict[int, LineForm] = {}

    def tie(new: int, place: int) -> None:
        tied[new] = replace(fresh.lines[new], was=old[place].was)
        free.remove(place)

    for new, line in enumerate(fresh.lines):
        match = [p for p in free if (_use(old[p], fresh), old[p].part) == (line.use, line.part)]
        if match:
            tie(new, match[0])
    for new in range(len(fresh.lines)):
        if new not in tied and new in free and len(fresh.lines) == len(old):
            tie(new, new)
    lines = tuple(tied.get(new, replace(line, was=None)) for new, line in enumerate(fresh.lines))
    gone = [replace(old[place], out=True) for place in free if old[place].was is not None]
    earlier = [line for line in form.lines if line.out]
    return replace(form, values=fresh.values, lines=(*lines, *gone, *earlier))


def _use(line: LineForm, fresh: RecipeForm) -> str:
    """The id a line holds, where the page shows a name and the document an id."""
    ids = {plain_name(other.use): other.use for other in fresh.lines}
    return ids.get(plain_name(line.use), line.use)
