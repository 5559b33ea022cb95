"""What composing found, in the words every face uses: how sure it is, and what an answer is compared by."""

from __future__ import annotations

from fizzwright.design.composed import Answer, Composed
from fizzwright.design.goal import Goal
from fizzwright.wording import money_text, shown

BETTER = {
    "nearest": "comes nearer to the wish",
    "cheapest": "is cheaper by more than 1 %",
    "most_fizz": "has more fizz by more than 1 %",
    "most_scent": "has more scent by more than 1 %",
}
"""What a better recipe would do, by what the goal seeks."""
FIGURES = (
    ("gas_l", "gas in a piece", " l"),
    ("acid_to_base_eq", "acid for one of base", ""),
    ("ph_settled", "pH of the bath once settled", ""),
    ("essential_oil_pct", "essential oil in the piece", " %"),
    ("scent_match_pct", "likeness to the scent wished", " %"),
)


def proof(composed: Composed, goal: Goal) -> str:
    """How sure it is that nothing better was missed; empty when there is no answer."""
    if composed.answer is None:
        return ""
    if composed.is_proven:
        cut = " Stopped before all others and all costs were looked for." if composed.stopped else ""
        better = BETTER[goal.seek]
        if goal.seek != "nearest" and (goal.scent.families or goal.scent.oils):
            # the scent comes first, whatever is sought, and then what is sought inside a little leeway of it
            better = (
                f"comes more than 5 points of 100 nearer to the scent as wished, and of those inside that none {better}"
            )
        return f"No recipe inside these demands {better}; proven.{cut}"
    start = "Stopped before it was proven" if composed.stopped else "Not proven"
    if composed.gap is None or composed.bound is None:
        return f"{start}: this is the best found so far, and nothing yet says how much better another could be."
    return (
        f"{start}: this is the best found so far. By the measure used, at most {shown(100 * composed.gap, 2)} % could still "
        "be gained."
    )


def figure_rows(answer: Answer, currency: str) -> list[tuple[str, str]]:
    """Name and value of what answers are compared by, as far as they are known."""
    rows = [(name, f"{shown(answer.figures[key], 3)}{unit}") for key, name, unit in FIGURES if key in answer.figures]
    if (share := answer.figures.get("share_of_limit")) is not None:
        rows.append(("most that is used of any limit", f"{shown(100 * share, 2)} %"))
    if answer.cost_piece_minor is not None:
        rows.insert(0, ("materials of one piece", money_text(answer.cost_piece_minor, currency)))
    return rows
