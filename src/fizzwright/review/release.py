"""How what goes into one bath comes apart over time: what the water, the colour and the scent are all fed by."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from fizzwright.review.sizes import Range

Array = NDArray[np.float64]


@dataclass(frozen=True)
class Release:
    """The dissolving of one bath's pieces or powder, worked out once and read by every section about the tub and the air."""

    seconds: Array
    """Shape (n,): from 0 until all is gone, evenly spaced."""
    dissolved: Mapping[str, Array]
    """Part ("whole", "shell", "core", "layer_1" ...) -> share of that part's mass in the water, 0 to 1, shape (n,)."""
    gone_s: Range
    """When the last of it is gone, with its 90 % interval."""
    shows_s: Mapping[str, float]
    """When each part first meets the water; 0 for what lies outside."""
    basis: str
    """estimate, or your_own_batches when a timed test or a speed of the maker's own was given."""

    def dissolved_at(self, part: str, seconds: Array) -> Array:
        """Share of a part in the water at given times; after the end all of it."""
        return np.interp(seconds, self.seconds, self.dissolved[part])
