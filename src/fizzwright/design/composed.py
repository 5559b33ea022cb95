"""What composing gives back: an answer with its proof, others nearly as good, what each demand costs, or what conflicts."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import asdict, dataclass, field
from typing import Any


@dataclass(frozen=True, slots=True)
class Promise:
    """One demand beside what the true model, not the programme, finds in the answer."""

    demand: str
    """Key of the goal, such as "water.ph_settled" or "limit.ifra.citral" for a rule that always holds."""
    asked: str
    """In plain words."""
    got: str
    holds: bool


@dataclass(frozen=True)
class Answer:
    """A recipe that keeps every demand."""

    text: str
    """The recipe document."""
    grams: Mapping[str, float]
    """By use, for the whole batch."""
    objective: float
    cost_piece_minor: float | None
    """Materials of one piece; None where a price is not known."""
    unpriced: tuple[str, ...]
    promises: tuple[Promise, ...]
    figures: Mapping[str, float]
    """What faces compare answers by: acid_to_base_eq, gas_l (a piece), ph_settled, essential_oil_pct, share_of_limit (the
    nearest one), scent_match_pct, cost_piece (minor units)."""
    differs: str = ""
    """How it differs from the best one, in a sentence; empty for the best."""


@dataclass(frozen=True, slots=True)
class Shadow:
    """What a demand costs: the answer with that demand eased a step, against the answer with it."""

    demand: str
    text: str
    """"One more drop of sweet orange would need ...", "A pH up to 7.6 instead of 7.4 would save 3 p a piece"."""
    gain: float
    """By how much the objective would better, zero when the demand does not bind."""


@dataclass(frozen=True, slots=True)
class Easing:
    """The least change of one demand that, with the others of its set kept, lets a recipe be found."""

    demand: str
    text: str
    amount: float
    """By how much, in the demand's own unit."""
    unit: str
    side: str = ""
    """Which end of a window moves outward: "low" or "high"; empty where a demand has one end."""


@dataclass(frozen=True)
class Conflict:
    """A smallest set of demands that cannot all hold: without any one of them the rest can."""

    demands: tuple[str, ...]
    words: tuple[str, ...]
    """Each in plain words, in the order of demands."""
    easings: tuple[Easing, ...]


@dataclass(frozen=True, slots=True)
class Progress:
    """A word while the search runs."""

    stage: str
    """finding, checking, alternatives, shadows, conflict."""
    text: str
    best: float | None
    bound: float | None
    seconds: float


@dataclass(frozen=True)
class Composed:
    """The outcome of a goal: an answer or a conflict, never a silent relaxation."""

    answer: Answer | None
    bound: float | None
    """No recipe of the programme can be better than this."""
    gap: float | None
    """(objective - bound) over the objective; 0 when proven."""
    is_proven: bool
    stopped: bool
    """True when the maker stopped the search: the answer is then the best found so far."""
    alternatives: tuple[Answer, ...] = ()
    shadows: tuple[Shadow, ...] = ()
    conflict: Conflict | None = None
    rounds: int = 0
    """Times the programme was drawn afresh round the last answer until the true model kept every promise."""
    solver_seconds: float = 0.0
    total_seconds: float = 0.0
    notes: tuple[str, ...] = field(default=())

    def as_dict(self) -> dict[str, Any]:
        """For --json."""
        return {"fizzwright": 1, **asdict(self)}
