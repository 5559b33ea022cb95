"""From a bath-fizzer recipe to a reviewed, sized and costed piece."""

__version__ = "0.1.0"
