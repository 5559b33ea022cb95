"""How fast a maker works: minutes from the acid going in to the last piece pressed."""

from __future__ import annotations

from dataclasses import dataclass

from fizzwright.catalogue.workshop import Workshop
from fizzwright.review.sizes import Piece, handled_pieces

SHARE_OF_BATCH, SHARE_OF_PIECE = 0.25, 0.5
"""estimate: of the workshop's own minutes, what falls between the acid going in and the last press: a quarter of those a
batch takes (the rest is weighing and cleaning), half of those a piece takes (the rest is turning out and wrapping)."""


@dataclass(frozen=True, slots=True)
class Pace:
    """Minutes the mix lies open with the acid in it: so many a batch, so many for each piece."""

    batch_min: float = 10.0
    piece_min: float = 1.0
    """estimate, for a maker who timed nothing."""
    told: str = "estimate"

    def minutes(self, size: Piece, times: float = 1.0) -> float:
        """For so many times the batch; a powder is only stirred."""
        return self.batch_min + self.piece_min * times * (0 if size.is_powder else handled_pieces(size))

    def pieces_in(self, minutes: float) -> int:
        """Whole pieces that can be pressed in so many minutes."""
        return (
            int((minutes - self.batch_min) // self.piece_min) if self.piece_min > 0 and minutes > self.batch_min else 0
        )


UNTIMED = Pace()
"""A maker who timed nothing."""


def pace_of(workshop: Workshop | None) -> Pace:
    """By the workshop's own times where it has them (basis: estimate)."""
    rates = workshop.rates if workshop else None
    if rates is None or not (rates.minutes_per_batch or rates.minutes_per_piece):
        return UNTIMED
    return Pace(SHARE_OF_BATCH * rates.minutes_per_batch, SHARE_OF_PIECE * rates.minutes_per_piece, "your own times")
