"""Choosing oils in words, the same on screen and in the terminal."""

from __future__ import annotations

from fizzwright.design.choosing import VERDICT_LEVELS, VERDICTS, Choice, Chosen
from fizzwright.review.figures import LEVEL_SHAPES
from fizzwright.wording import listed, money_text, shown

DEFER = (
    "This compares figures with published limits and cautions; it is no medical opinion and no assessment. Ask a clinician "
    "about a person, a qualified assessor about a piece for sale, and the law of the place."
)
WHO = {
    "adult": "adults",
    "child_6_plus": "children from 6",
    "child_2_plus": "children from 2",
    "pregnancy": "pregnancy",
}


def asked_words(chosen: Chosen) -> str:
    """What was asked for, in a sentence."""
    said = f"Oils for a bath, {WHO[chosen.audience]}, {'sold in ' + listed(chosen.sold_in) if chosen.sold_in else 'for home'}"
    if chosen.wish:
        said += f", smelling {chosen.wish}"
    if chosen.without:
        said += f", without {listed(chosen.without, 'or')} above what a label must name"
    return f"{said}; rules of {chosen.as_of.isoformat()}."


def piece_words(chosen: Chosen) -> str:
    """What the room is reckoned in, in sentences."""
    return (
        f"Most is percent of the cured piece that clears every stop, each oil alone in {chosen.piece}, by the largest contents "
        f"held of the species. A piece is taken to want about {shown(chosen.usual_pct)} % (common practice, from memory), "
        "or what strength alone leaves to any oil, if that is less."
    )


def first_word(choice: Choice) -> str:
    """The one reason to read first: the first against it, else what sets the room."""
    return next((reason.text for reason in choice.reasons if reason.against), f"Its room is set by {choice.set_by}.")


def stock_words(choice: Choice, currency: str) -> str:
    """Price a drop and what is on hand, as far as known."""
    said = []
    if choice.minor_per_drop is not None:
        price = money_text(10 * choice.minor_per_drop, currency)
        said.append(f"{price} for 10 drops")
    if choice.on_hand_g:
        said.append(f"{shown(choice.on_hand_g)} g in stock")
    return ", ".join(said)


def mark(verdict: str) -> str:
    """The shape that goes with a verdict, as colour is never the signal."""
    return LEVEL_SHAPES[VERDICT_LEVELS[VERDICTS.index(verdict)]]
