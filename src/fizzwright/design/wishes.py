"""What a goal, common practice and the rules demand of a recipe, each as named rows of the programme."""

from __future__ import annotations

from collections.abc import Iterator, Sequence

import numpy as np
from numpy.typing import NDArray

from fizzwright.catalogue.model import Fact
from fizzwright.design.demands import Demand, Draft, Quantity, gas_sides, window_words
from fizzwright.design.goal import Window
from fizzwright.design.pantry import FEEL, Pantry
from fizzwright.design.solving import INFINITE, Row
from fizzwright.review.fitting import Bound
from fizzwright.review.fizz import CACO3_MG_MMOL_EQ, CHILD_LEFT
from fizzwright.review.limits import Check, rule_words
from fizzwright.review.tap import span
from fizzwright.review.tub_defaults import CHILD_AUDIENCES
from fizzwright.science import packing
from fizzwright.wording import listed, money_text, shown

Array = NDArray[np.float64]

MOST_LINES = 12
"""Our own choice: a recipe of more lines is not mixed on a kitchen table."""
MOST_OILS = 4
"""Our own choice where the goal says nothing."""
USUAL_RATIO = Window(0.5, 1.0)
"""estimate: acid for base where the goal says nothing of fizz or water: two to one by volume is about 0.6, and above 1 is sour."""
SPARE = 0.01
"""Our own choice: up to a hundredth more mix than the moulds take, so that none comes out short."""
SPOON_SPARE = 0.1
"""The same where cups and spoons are all there is to measure by."""
INSIDE = 1e-6
"""Share by which a limit is kept clear of, so that rounding in the arithmetic does not pass it."""
WORTH_A_LINE_PCT = 0.3
"""Our own choice: a binder of which less than this percent of the mix is wanted is left to the hand with the sprayer."""
DISPERSING = ("solubiliser", "emulsifier")
"""Functions of what mixes oil into the bath."""
FEW_DROPS = 0.02
"""Our own choice: percent of the piece that counts as scented at all where the goal names no least."""


def usual(fact: Fact, window: Window) -> Window:
    """A window of the goal, or that of common practice where the goal leaves it open."""
    low, _, high = span(fact)
    return Window(low, high) if window.is_open else window


def all_demands(draft: Draft) -> list[Demand]:
    """Every demand on a recipe, the maker's first."""
    found = [
        *_fizz(draft), *_water(draft), *_feel(draft), *_dispersing(draft), *_hardness(draft), *_colour(draft), *_scent(draft),
        *_wanted(draft), *_stock(draft), *_cost(draft), *_binder(draft), *_lines(draft), *_limits(draft), *_cautions(draft), *_sour(draft),
    ]  # fmt: skip
    return [demand for demand in found if demand.rows]


def _bounded(
    draft: Draft, key: str, words: str, kind: str, num: Array, den: Array, window: Window, unit: str
) -> Demand:
    quantity = Quantity(draft.grams(num), draft.grams(den), window.low, window.high, unit)
    return Demand(key, words, kind, quantity.rows(), (quantity,))


def _fizz(draft: Draft) -> Iterator[Demand]:
    pantry, goal = draft.pantry, draft.pantry.goal
    ratio = goal.acid_to_base_eq
    if not ratio.is_open:
        words = f"acid for base {window_words(ratio)} to 1"
        yield _bounded(draft, "fizz.acid_to_base", words, "wish", pantry.acid_eq, pantry.base_eq, ratio, "to 1")
    elif goal.gas_l.is_open and goal.ph_settled.is_open:
        words = f"acid for base {window_words(USUAL_RATIO)} to 1 (common practice)"
        yield _bounded(draft, "house.acid_to_base", words, "house", pantry.acid_eq, pantry.base_eq, USUAL_RATIO, "to 1")
    else:
        words = "no more acid than the base can use (common practice)"
        yield _bounded(
            draft, "house.acid_to_base", words, "house", pantry.acid_eq, pantry.base_eq, Window(None, 1.0), "to 1"
        )
    if goal.gas_l.is_open:
        return
    by_acid, by_base = gas_sides(pantry)
    words = f"gas in a piece {window_words(goal.gas_l, ' l')}"
    sides = [draft.grams(by_acid), draft.grams(by_base)]
    rows: list[Row] = []
    pieces = draft.grams(pantry.pieces)
    if goal.gas_l.low is not None:
        rows += [Row.dense(side - goal.gas_l.low * pieces, low=0.0) for side in sides]
    if goal.gas_l.high is not None:
        rows += draft.either([side - goal.gas_l.high * pieces for side in sides])
    width = len(pieces)
    yield Demand(
        "fizz.gas_l",
        words,
        "wish",
        tuple(rows),
        tuple(Quantity(side[:width], pieces, goal.gas_l.low, goal.gas_l.high, "l of gas a piece") for side in sides),
    )


def _water(draft: Draft) -> Iterator[Demand]:
    pantry, window = draft.pantry, draft.pantry.goal.ph_settled
    if window.is_open:
        return
    words = f"pH of the settled bath {window_words(window)}"
    residue = pantry.base_eq - pantry.acid_eq
    yield _bounded(draft, "water.ph_settled", words, "wish", residue, pantry.pieces, draft.lens.residue, "mol a piece")


def _feel(draft: Draft) -> Iterator[Demand]:
    pantry, goal = draft.pantry, draft.pantry.goal
    facts = pantry.catalogue
    names = {"filler_pct": "fillers", "oil_pct": "oils and fats", "foam_pct": "foaming powder"}
    for key, fact in (("filler_pct", "comp_filler"), ("oil_pct", "comp_oil"), ("foam_pct", "comp_surf")):
        own: Window = getattr(goal, key)
        num = pantry.of(*FEEL[key])
        if key == "foam_pct" and own.is_open and goal.kind != "foaming":
            continue
        window = usual(facts.fact(fact), own)
        # a fizzer with more clay than usual has more filler than usual
        if key == "filler_pct" and own.is_open and goal.clay_pct.low:
            window = Window(window.low, max(window.high or 0.0, goal.clay_pct.low + 10.0))
        words = f"{names[key]} {window_words(window, ' % of the piece')}"
        kind = "house" if own.is_open else "wish"
        told = f"{words} (common practice)" if own.is_open else words
        yield _bounded(
            draft,
            f"{'house' if own.is_open else 'feel'}.{key}",
            told,
            kind,
            num * pantry.cured,
            pantry.cured / 100,
            window,
            "% of the piece",
        )
    if not goal.clay_pct.is_open:
        words = f"clay {window_words(goal.clay_pct, ' % of the piece')}"
        yield _bounded(
            draft, "feel.clay_pct", words, "wish", pantry.clay * pantry.cured, pantry.cured / 100, goal.clay_pct, "% of the piece"
        )  # fmt: skip


def _dispersing(draft: Draft) -> Iterator[Demand]:
    """All that disperses together as much as is usual of one; a goal that names one may have that one's own most."""
    pantry = draft.pantry
    named = [use in pantry.goal.with_materials for use in pantry.uses]
    which = pantry.of(*DISPERSING)
    most = max(span(pantry.catalogue.fact("comp_emul"))[2], float((which * named * pantry.most_pct).max(initial=0.0)))
    words = f"what mixes oil into the bath at most {shown(most)} % of the piece in all (common practice)"
    yield _bounded(
        draft, "house.dispersing_pct", words, "house", which * pantry.cured, pantry.cured / 100, Window(None, most), "% of the piece"
    )  # fmt: skip


def _hardness(draft: Draft) -> Iterator[Demand]:
    """science.packing's index, which is concave in the shares, so that helping columns state it exactly."""
    pantry, wanted = draft.pantry, draft.pantry.goal.hardness_at_least
    if wanted is None:
        return
    least = (0.0, *packing.HARDNESS_BOUNDS)[packing.HARDNESS_WORDS.index(wanted)]
    model, total = draft.model, np.ones(draft.n)
    shares = (
        (pantry.of("binder_liquid"), 1.0, 4.0),
        (pantry.of("carrier_oil", "scent"), 1.0, 3.0),
        (pantry.of("solid_fat"), 0.5, 4.0),
        (pantry.of("filler"), 0.06, 25.0),
        (pantry.of("hardener"), 0.5, 3.0),
    )
    terms: dict[int, float] = {}
    for which, worth, most in shares:
        part = model.column(0.0, INFINITE)
        terms[part] = 100.0 * worth
        for weights in (which, most / 100.0 * total):
            row = draft.grams(-weights)
            row[part] = 1.0
            draft.fixed.append(Row.dense(row, high=0.0))
    num = draft.grams(1.5 * total - 60.0 * pantry.of("carrier_oil", "scent"))
    for part, worth in terms.items():
        num[part] = worth
    quantity = Quantity(num, draft.grams(total), least, None, "of 10")
    yield Demand("feel.hardness_at_least", f"dry, at least {wanted}", "wish", quantity.rows(), (quantity,))


def _colour(draft: Draft) -> Iterator[Demand]:
    colour = draft.pantry.goal.colour
    if colour in draft.pantry.uses:
        name = draft.pantry.entries[draft.pantry.uses.index(colour)].name
        yield Demand("colour.use", f"coloured with {name}", "wish", _needed(draft, [colour]))


def _needed(draft: Draft, uses: Sequence[str]) -> tuple[Row, ...]:
    return tuple(Row.of({column: 1.0}, low=1.0) for column in draft.used(uses))


def _scent(draft: Draft) -> Iterator[Demand]:
    pantry, goal = draft.pantry, draft.pantry.goal
    wish, scent = goal.scent, pantry.scent
    if not wish.is_asked:
        return
    window = wish.total_pct
    if window.is_open:
        low, _, high = span(pantry.catalogue.fact("comp_eo"))
        window = Window(FEW_DROPS, low if goal.audience in CHILD_AUDIENCES else high)
        words, kind, key = (
            f"essential oil {window_words(window, ' % of the piece')} (common practice)",
            "house",
            "house.total_pct",
        )
    else:
        words, kind, key = f"essential oil {window_words(window, ' % of the piece')}", "wish", "scent.total_pct"
        window = Window(FEW_DROPS if window.low is None else window.low, window.high)
    yield _bounded(draft, key, words, kind, scent * pantry.cured, pantry.cured / 100, window, "% of the piece")
    oils = [draft.n + int(i) for i in np.flatnonzero(scent)]
    most = wish.most_oils or max(MOST_OILS, len(wish.oils))
    words = f"at most {most} different oils" + ("" if wish.most_oils else " (our own choice)")
    kind = "wish" if wish.most_oils else "house"
    quantity = Quantity(_ones(draft, oils), _one(draft), None, float(most), "oils")
    yield Demand("scent.most_oils" if wish.most_oils else "house.most_oils", words, kind, (Row.of(dict.fromkeys(oils, 1.0), high=float(most)),), (quantity,) if wish.most_oils else ())  # fmt: skip
    for name in goal.avoid_allergens:
        parts = pantry.found.labels.get(name, ())
        allergen = next((a for a in pantry.catalogue.allergens if a.label_name == name), None)
        if not parts or allergen is None:
            continue
        brings = np.zeros(draft.n)
        for part in parts:
            brings[part.line] += part.max_pct if goal.limits_by == "worst" else part.typical_pct
        most_pct = allergen.rinse_off_threshold_pct * (1 - INSIDE)
        words = (
            f"{name} at most {shown(allergen.rinse_off_threshold_pct)} % of the piece, so that no label has to name it"
        )
        yield _bounded(draft, f"avoid.allergens.{name}", words, "wish", brings, pantry.cured, Window(None, most_pct), "% of the piece")  # fmt: skip


def _ones(draft: Draft, columns: Sequence[int]) -> Array:
    vector = np.zeros(len(draft.model.cost))
    vector[list(columns)] = 1.0
    return vector


def _one(draft: Draft) -> Array:
    """A divisor of 1: every batch fills its moulds, so pieces over their count is 1 within the spare."""
    return draft.grams(draft.pantry.pieces / draft.pantry.count)


def _wanted(draft: Draft) -> Iterator[Demand]:
    pantry, goal = draft.pantry, draft.pantry.goal
    for use in goal.with_materials:
        name = pantry.entries[pantry.uses.index(use)].name
        yield Demand(f"with.materials.{use}", f"{name} in it", "wish", _needed(draft, [use]))
    for key, uses in pantry.avoided.items():
        names = listed(pantry.entries[pantry.uses.index(use)].name for use in list(uses)[:4])
        more = " and others" if len(uses) > 4 else ""
        rows = tuple(Row.of({column: 1.0}, high=0.0) for column in draft.used(list(uses)))
        told = (
            f"nothing of {key.rsplit('.', 1)[1].replace('_', ' ')} ({names}{more})"
            if ".groups." in key
            else f"no {names}"
        )
        yield Demand(key, told, "wish", rows)
    for use, why in pantry.barred.items():
        name = pantry.entries[pantry.uses.index(use)].name
        rows = tuple(Row.of({column: 1.0}, high=0.0) for column in draft.used([use]))
        yield Demand(f"barred.{use}", f"{name} is barred: {why.rstrip('.')}", "law", rows)


def _stock(draft: Draft) -> Iterator[Demand]:
    pantry = draft.pantry
    if not pantry.goal.stock_only:
        return
    rows = tuple(Row.of({i: 1.0}, high=float(held)) for i, held in enumerate(pantry.stock_g) if np.isfinite(held))
    yield Demand("stock.only", "no more of anything than is on hand", "wish", rows)


def _cost(draft: Draft) -> Iterator[Demand]:
    pantry, most = draft.pantry, draft.pantry.goal.cost_most_minor
    if most is None or pantry.workshop is None or not np.isfinite(pantry.minor).any():
        return
    minor = np.nan_to_num(pantry.minor, nan=0.0) / pantry.count
    words = f"materials of a piece for at most {money_text(most, pantry.workshop.currency)}"
    quantity = Quantity(draft.grams(minor), _one(draft), None, float(most), f"{pantry.workshop.currency} minor a piece")
    yield Demand("cost.piece_at_most", words, "wish", (Row.dense(quantity.num, high=float(most)),), (quantity,))


def _binder(draft: Draft) -> Iterator[Demand]:
    """One liquid to bind with, as much as this mix wants; what a powder in a jar does without."""
    pantry, lens = draft.pantry, draft.lens
    places = np.flatnonzero(pantry.of("binder_liquid"))
    if not len(places) or pantry.goal.kind == "powder":
        return
    # a mix that its oils bind already wants none
    wants_any = any(lens.binder_pct.get(pantry.uses[i], WORTH_A_LINE_PCT) >= WORTH_A_LINE_PCT for i in places)
    rows = [Row.of({draft.n + int(i): 1.0 for i in places}, low=float(wants_any), high=1.0)]
    for i in places:
        wants = lens.binder_pct.get(pantry.uses[i])
        wants = 0.5 * (pantry.least_pct[i] + pantry.most_pct[i]) if wants is None else wants
        grams = max(wants, 0.1) / 100.0 * lens.batch_g
        about = 0.3 if pantry.goal.measured_in == "spoons" else 0.1
        for low, high, times in ((0.0, INFINITE, 1.0 - about), (-INFINITE, 0.0, 1.0 + about)):
            rows.append(Row.of({int(i): 1.0, draft.n + int(i): -times * grams}, low, high))
    yield Demand("house.binder", "one liquid to bind it with, as much as the mix wants", "house", tuple(rows))


def _lines(draft: Draft) -> Iterator[Demand]:
    columns = range(draft.n, 2 * draft.n)
    rows = (Row.of(dict.fromkeys(columns, 1.0), high=float(MOST_LINES)),)
    yield Demand("house.lines", f"at most {MOST_LINES} lines (our own choice)", "house", rows)


def _brings(check: Check, n: int, worst: bool) -> Array:
    brings = np.zeros(n)
    for part in check.level.parts:
        brings[part.line] += part.max_pct if worst else part.typical_pct
    return brings


def _limits(draft: Draft) -> Iterator[Demand]:
    pantry = draft.pantry
    worst = pantry.goal.limits_by == "worst"
    for check in pantry.checks:
        allowed = check.limit.limit_pct
        if not check.stops or allowed is None:
            continue
        brings = _brings(check, draft.n, worst)
        share = pantry.goal.limit_share
        most = Window(None, allowed * share * (1 - INSIDE) * (1 - draft.lens.margin))
        rule = rule_words(check, pantry.mix, brief=True)
        rule = rule if share == 1 else f"{shown(100 * share, 3)} % of {rule}"
        words = f"{check.limit.substance} at most {shown(allowed * share, 3)} % of the piece ({rule})"
        yield _bounded(draft, check.figure_id, words, "law", brings, pantry.cured, most, "% of the piece")


def _cautions(draft: Draft) -> Iterator[Demand]:
    pantry = draft.pantry
    per_bath = pantry.pieces_per_bath * pantry.pieces
    for place, bound in enumerate(pantry.bounds):
        rows = draft.either([_way(draft, bound, k, per_bath) for k in range(len(bound.ways))])
        yield Demand(f"caution.{place}", f"no more scent than stops a piece ({bound.what})", "law", rows)


def _way(draft: Draft, bound: Bound, k: int, per_bath: Array) -> Array:
    """A way of the review as a row: what is per bath goes by the pieces in it over the pieces the mix fills."""
    way = bound.ways[k]
    weights = way.fixed.astype(float)
    if way.per_bath is not None:
        # fixed holds minus the most for every gram of the mix: most x total becomes most x pieces
        most = -float(way.fixed.max())
        weights = draft.pantry.pieces_per_bath * way.per_bath - most * draft.pantry.pieces
    slack = INSIDE * np.abs(weights).max() * (way.fixed > 0)
    return draft.grams(weights + slack)


def _sour(draft: Draft) -> Iterator[Demand]:
    """Acid left in the bath, beside what the water takes up: what the fizz section stops."""
    pantry = draft.pantry
    takes = _alkalinity_mmol_l(pantry) * (CHILD_LEFT[0] if pantry.goal.audience in CHILD_AUDIENCES else 1.0)
    most = takes * pantry.tub.litres_low / 1000.0 / pantry.pieces_per_bath * (1 - INSIDE)
    words = "no more acid left in the bath than its water takes up"
    yield _bounded(
        draft, "caution.acid_left", words, "law", pantry.acid_eq - pantry.base_eq, pantry.pieces, Window(None, most), "mol a piece"
    )  # fmt: skip


def _alkalinity_mmol_l(pantry: Pantry) -> float:
    own = getattr(pantry.goal.tub.water, "alkalinity_mmol_l", None)
    return own if own is not None else (pantry.catalogue.fact("alk_range").typical or 0.0) / CACO3_MG_MMOL_EQ
