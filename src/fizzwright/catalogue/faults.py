"""What is wrong in a table, said so that a maker can put it right: all of it at once."""

from __future__ import annotations

from dataclasses import dataclass

from fizzwright.refusal import Refusal


@dataclass(frozen=True, slots=True)
class Fault:
    """One thing wrong in one cell (or row, or file)."""

    table: str
    """File the row stands in: materials.csv, lots/SO-2411.csv, workshop.toml."""
    row: str
    """Id of the row, or its line number when it has no id; "" when the whole file is meant."""
    column: str
    read: str
    """What stands there."""
    allowed: str
    """What may stand there, and what to do."""

    def __str__(self) -> str:
        where = ", ".join(part for part in (self.table, self.row, self.column) if part)
        return f"{where}: read {self.read!r}; {self.allowed}"


class CatalogueFaults(Refusal, ValueError):
    """All faults found in one reading, in `faults`; the text lists each on its own line."""

    def __init__(self, faults: list[Fault]) -> None:
        self.faults = tuple(faults)
        count = "1 fault" if len(faults) == 1 else f"{len(faults)} faults"
        super().__init__("\n".join([f"{count} in the tables:", *(f"  {fault}" for fault in faults)]))
