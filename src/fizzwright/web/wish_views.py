"""What the Wish page prints: the answer, its proof, what each demand costs, and what conflicts."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

from fizzwright.catalogue.workshop import Workshop
from fizzwright.design.composed import Answer, Composed, Easing
from fizzwright.design.goal import MEASURED_IN, RANGES, SEEKS, Goal
from fizzwright.design.goal_checks import families
from fizzwright.design.goal_form import KINDS
from fizzwright.design.groups import GROUPS
from fizzwright.design.told import figure_rows, proof
from fizzwright.design.tradeoff import Front
from fizzwright.recipe.problems import RecipeRefused
from fizzwright.science.packing import HARDNESS_WORDS
from fizzwright.web import wish_chart, words
from fizzwright.web.bench import Bench
from fizzwright.web.pages import views_of
from fizzwright.web.wish_form import LISTS, WINDOWS, WishForm, box_of, window_of
from fizzwright.wording import listed, sentence, with_unit

if TYPE_CHECKING:
    from fizzwright.design.glimpse import Glimpse

SEEK_WORDS = {
    "nearest": "the nearest to this wish and to common practice",
    "cheapest": "the cheapest",
    "most_fizz": "the most fizz",
    "most_scent": "the most scent",
}
MEASURED_WORDS = {"grams": "grams, on a scale", "spoons": "spoons and drops"}
RANGE_WORDS = {"worst": "each oil at its strongest", "typical": "each oil as it usually is"}


def choices(bench: Bench) -> dict[str, Any]:
    """What may be chosen in the form."""
    catalogue = bench.catalogue
    colours = sorted((m.name, m.id) for m in catalogue.materials.values() if m.function == "colourant")
    return {
        "kinds": [(kind, words.kind_word(kind)) for kind in KINDS],
        "audiences": words.AUDIENCE_OPTIONS,
        "systems": words.SYSTEM_OPTIONS,
        "markets": words.MARKET_OPTIONS,
        "moulds": words.mould_options(catalogue),
        "waters": [option for option in words.WATER_OPTIONS if option[0] != "own"],
        "smells": [[("", word), *((f, f) for f in families(catalogue))] for word in ("of nothing", "none")],
        "seeks": [(seek, SEEK_WORDS[seek]) for seek in SEEKS],
        "measured": [(m, MEASURED_WORDS[m]) for m in MEASURED_IN],
        "ranges": [(r, RANGE_WORDS[r]) for r in RANGES],
        "hardnesses": [("", "does not matter"), *((w, f"{w} or more") for w in HARDNESS_WORDS[1:])],
        "colours": [("", "does not matter"), ("none", "none"), *((i, name) for name, i in colours)],
        "group_options": list(GROUPS.items()),
        "windows": WINDOWS,
        "currency": bench.workshop.currency,
    }


def answer_view(bench: Bench, composed: Composed, goal: Goal) -> dict[str, Any] | None:
    """An answer with what stands beside it; None when there is none."""
    if composed.answer is None:
        return None
    return {
        "best": _one(bench, composed.answer),
        "proof": proof(composed, goal),
        "promises": composed.answer.promises,
        "others": [_one(bench, other) for other in composed.alternatives],
        "shadows": [shadow.text for shadow in composed.shadows],
        "notes": composed.notes,
        "took": f"Found in {with_unit(composed.total_seconds, 's')}, in {_times(composed.rounds)}.",
    }


def _times(rounds: int) -> str:
    return "one round" if rounds <= 1 else f"{rounds} rounds"


def _one(bench: Bench, answer: Answer) -> dict[str, Any]:
    """A recipe as the page shows it: its lines as a maker would write them, and what it comes to."""
    found: dict[str, Any] = {
        "text": answer.text,
        "differs": answer.differs,
        "glance": figure_rows(answer, bench.workshop.currency),
        "unpriced": listed(bench.name_of(use) or use for use in answer.unpriced),
        "lines": (),
        "verdict": "",
        "minds": (),
        "spooned": False,
    }
    try:
        recipe, report = bench.review(answer.text, "wish")
    except RecipeRefused as refused:
        return found | {"verdict": "change", "word": "Needs a change", "said": str(refused.problems[0])}
    view = views_of(bench).review(report, recipe.kind)
    minds = [n.text for _, n in report.notices if n.level in ("stop", "mind") and not n.standing]
    return found | {
        "lines": view.lines,
        "spooned": any(not line.written.endswith(" g") for line in view.lines),
        "verdict": report.verdict,
        "word": view.word,
        "said": view.sentence,
        "minds": minds,
    }


def feasible_words(found: Glimpse | None, has_faults: bool) -> dict[str, Any]:
    """The quick word while one types: level, word and sentences."""
    if has_faults:
        return {"level": "mind", "word": "Not read yet", "texts": ["Put right what is marked."]}
    if found is not None and found.conflict is not None:
        texts = ["Not all of this can hold at once:", *map(sentence, found.conflict.words)]
        return {"level": "stop", "word": "Conflict", "texts": texts}
    if found is None or not found.holds:
        return {
            "level": "mind",
            "word": "Not known yet",
            "texts": ["This takes longer. Press Compose to search it all."],
        }
    texts = ["As far as a quick look tells, all of this can hold at once. Compose finds the best of it."]
    return {"level": "good", "word": "Can be done", "texts": texts}


def shown_conflict(composed: Composed, form: WishForm, goal: Goal, workshop: Workshop) -> dict[str, Any] | None:
    """The demands that cannot all hold, and the least change of each that would mend it."""
    conflict = composed.conflict
    if conflict is None:
        return None
    return {
        "words": [sentence(text) for text in conflict.words],
        "easings": [
            (sentence(easing.text), eased(form, goal, easing, workshop) != form) for easing in conflict.easings
        ],
        "notes": composed.notes,
    }


def eased(form: WishForm, goal: Goal, easing: Easing, workshop: Workshop) -> WishForm:
    """The form with one demand eased as far as it takes; the same form when no box holds that demand."""
    box, entry = box_of(easing.demand), easing.demand.rpartition(".")[2]
    pair = box.removesuffix("_low")
    if pair in WINDOWS and pair != box:
        wide = window_of(goal, pair).eased(easing.amount, easing.side)
        return form.but(**{f"{pair}_low": _typed(wide.low), f"{pair}_high": _typed(wide.high)})
    if box == "cost" and goal.cost_most_minor is not None:
        return form.with_cost(goal.cost_most_minor + abs(easing.amount), workshop.currency_digits)
    if box in LISTS:
        return form.without(box, entry)
    if box == "groups" and entry in form.ticked("groups"):
        return form.unticked("groups", entry)
    if box == "most_oils" and goal.scent.most_oils is not None:
        return form.but(most_oils=_typed(goal.scent.most_oils + easing.amount))
    # a scale needs no drawer of spoons; a colour or a hardness is done without
    let_go = {"amounts": {"amounts": "grams", "drawer": ""}, "hardness": {"hardness": ""}, "colour": {"colour": ""}}
    return form.but(**let_go.get(box, {}))


def _typed(value: float | None) -> str:
    return "" if value is None else f"{value:.4g}"


def front_view(found: Front, job_id: str) -> dict[str, Any]:
    """A trade-off, ready to print."""
    return {
        "title": wish_chart.title(found) if found.points else "",
        "svg": wish_chart.drawn(found, lambda i: f"/wish/{job_id}/{found.along}/{i}"),
        "rows": wish_chart.rows(found),
        "x_name": found.x_name,
        "y_name": found.y_name,
        "notes": found.notes,
        "conflict": found.conflict.words if found.conflict else (),
        "stopped": found.stopped,
        "beaten": found.beaten,
    }
