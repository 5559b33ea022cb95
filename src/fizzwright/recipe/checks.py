"""Checking TOML values against the form of a recipe: every fault is kept, none is raised on the way."""

from __future__ import annotations

from collections.abc import Sequence
from fractions import Fraction
from pathlib import Path
from typing import TYPE_CHECKING, Any

from fizzwright.recipe import form
from fizzwright.recipe.amounts import COUNTED, TO_CONSISTENCY, AmountRefused, parse_amount
from fizzwright.recipe.checking import Checking, Said
from fizzwright.recipe.measures import consistency_range, is_poured
from fizzwright.recipe.model import AUDIENCES, KINDS, SYSTEMS, Amount, Line, Makes, Recipe
from fizzwright.recipe.problems import shown
from fizzwright.recipe.statements import Path as Place
from fizzwright.recipe.values import leads_back, nearest_words

if TYPE_CHECKING:
    from fizzwright.catalogue import Catalogue

MOST_LISTED = 12


class Reading(Checking):
    """One reading of one recipe: collects what is wrong while building it."""

    def __init__(self, catalogue: Catalogue, file: Path | None) -> None:
        super().__init__(form.RECIPE, catalogue, file)
        self.index_of: dict[int, int] = {}
        """Where each readable line stands among all lines, by id()."""

    def recipe(self, data: dict[str, Any], text: str, line_rows: Sequence[int]) -> Recipe | None:
        """The recipe of parsed TOML; None when a part without which there is none is missing or wrong."""
        self._keys(data, "", ())
        name = self._words(data, "name", ())
        kind = self._one_of(data, "kind", KINDS, None)
        audience = self._one_of(data, "audience", AUDIENCES, "adult")
        measures = self._one_of(data, "measures", SYSTEMS, "us")
        sold_in = self._markets(data)
        made_on = self._date(data)
        makes = self._makes(data, kind)
        tub = self._tub(data)
        lines = self._lines(data, kind, line_rows)
        if lines:
            self._repeats(lines)
            self._dilutions(lines)
            self._scale(lines, makes)
        if name is None or kind is None or audience is None or measures is None or not lines or self.found:
            return None
        return Recipe(
            name=name,
            kind=kind,
            lines=tuple(lines),
            audience=audience,
            sold_in=sold_in,
            measures=measures,
            made_on=made_on,
            makes=makes,
            tub=tub,
            file=self.file,
            text=text,
        )

    def _lines(self, data: dict[str, Any], kind: str | None, rows: Sequence[int]) -> list[Line]:
        tables = data.get("line")
        if tables is None:
            return []
        if not isinstance(tables, list) or not all(isinstance(t, dict) for t in tables):
            self._note(("line",), "Each line needs its own header with two brackets: [[line]].", "[[line]]", tables)
            return []
        if not tables:
            self._note(("line",), "The recipe has no lines. Add a [[line]] with use and amount.", "[[line]]")
        if len(tables) > form.MOST_LINES:
            self._note(
                ("line",), "The recipe has too many lines.", f"at most {form.MOST_LINES} lines", Said(str(len(tables)))
            )
            return []
        lines: list[Line] = []
        for index, table in enumerate(tables):
            line = self._line(table, index, kind, rows[index])
            if line is not None:
                lines.append(line)
                self.index_of[id(line)] = index
        return lines

    def _line(self, table: dict[str, Any], index: int, kind: str | None, row: int) -> Line | None:
        place: Place = ("line", index)
        self._keys(table, "line", place)
        use = table.get("use")
        entry = None
        if use is not None:
            entry = self.catalogue.usable(use) if isinstance(use, str) else None
            if entry is None:
                nearest = (
                    self.catalogue.nearest(use[: form.MOST_NAME], among="usable", n=3) if isinstance(use, str) else []
                )
                self._note(
                    (*place, "use"),
                    "Nothing of that id is in the catalogue. Choose an id, or add your own in the workshop folder.",
                    "the id of a material, an oil or an aroma substance",
                    use,
                    nearest,
                )
        amount = self._amount(table.get("amount"), (*place, "amount"))
        if amount is not None and entry is not None:
            if amount.unit in COUNTED and not is_poured(entry):
                self._note(
                    (*place, "amount"),
                    f"{entry.name} is dry here, so it cannot be dropped or sprayed. Weigh it or use a spoon.",
                    "g, tsp, tbsp, cup, pinch, %, parts",
                    amount.text,
                )
            if amount.unit == TO_CONSISTENCY and consistency_range(entry) is None:
                self._note(
                    (*place, "amount"),
                    f'"To consistency" is for what binds the mix. How much {entry.name} goes in must be said.',
                    "a number and a unit",
                    amount.text,
                )
        part = self._part(table, kind, place)
        target = table.get("in")
        if target is not None and not isinstance(target, str):
            self._note((*place, "in"), "in must be the use of another line, as text.", "the use of a line", target)
            target = None
        lot = self._words(table, "lot", place)
        if amount is None or entry is None or not isinstance(use, str):
            return None
        return Line(use, amount, part, target, lot, row)

    def _amount(self, value: object, place: Place) -> Amount | None:
        if value is None:
            return None
        if not isinstance(value, str):
            hint = 'The amount must be text. Write for example "7.5 g".'
            if isinstance(value, int | float) and not isinstance(value, bool) and 0 < value < 10**6:
                hint = f'A number alone does not say of what. Write the unit too, in quotes, perhaps "{value:g} g".'
            self._note(place, hint, 'text such as "7.5 g"', value)
            return None
        try:
            return parse_amount(value)
        except AmountRefused as refused:
            self._note(place, str(refused), refused.allowed, value, refused.nearest)
            return None

    def _part(self, table: dict[str, Any], kind: str | None, place: Place) -> str:
        part = table.get("part", "whole")
        if part == "whole" or kind is None:
            return "whole"
        allowed = form.PARTS.get(kind, ())
        if not allowed:
            text = f"A piece of kind {kind} has one part. Remove part, or make the kind layered or cored."
            self._note((*place, "part"), text, "no part", part)
        elif not isinstance(part, str) or part not in allowed:
            text = f"A {kind} piece has no such part."
            self._note((*place, "part"), text, ", ".join(allowed), part, nearest_words(part, allowed))
        return part if isinstance(part, str) else "whole"

    def _repeats(self, lines: list[Line]) -> None:
        first: dict[tuple[str, str, str | None, str | None], Line] = {}
        for line in lines:
            before = first.setdefault((line.use, line.part, line.diluted_in, line.lot), line)
            if before is not line:
                self._note(
                    ("line", self.index_of[id(line)], "use"),
                    f"{line.use} stands twice, on rows {before.row} and {line.row}. Add the two up into one line.",
                    "each use once in a part, a lot or a dilution",
                    line.use,
                )

    def _dilutions(self, lines: list[Line]) -> None:
        into: dict[str, set[str]] = {}
        for line in lines:
            if line.diluted_in is not None:
                into.setdefault(line.use, set()).add(line.diluted_in)
        for line in lines:
            target = line.diluted_in
            if target is None:
                continue
            place: Place = ("line", self.index_of[id(line)], "in")
            others = sorted({other.use for other in lines if other.use != line.use})
            allowed = ": ".join(filter(None, ("the use of another line", ", ".join(others[:MOST_LISTED]))))
            homes = [other for other in lines if other.use == target]
            if target == line.use:
                self._note(place, f"{line.use} cannot be diluted in itself.", allowed, target)
            elif not homes:
                near = nearest_words(target, others)
                text = f"{line.use} is to be diluted in {shown(target)[1:-1]}, but no line uses that."
                self._note(place, text, allowed, target, near)
            elif line.part != "whole" and not any(home.part in (line.part, "whole") for home in homes):
                text = f"{line.use} is in the {line.part}, but {target} is in another part."
                self._note(place, text, "a line of the same part", target)
            elif leads_back(line.use, into):
                text = f"{line.use} is diluted in {target}, which in the end is diluted in {line.use}. Break the ring."
                self._note(place, text, allowed, target)

    def _scale(self, lines: list[Line], makes: Makes) -> None:
        """Something must say how much there is in all, and the % lines must leave room for the rest."""
        shares = [line for line in lines if line.amount.unit == "%"]
        measured = [line for line in lines if line.amount.unit not in ("%", TO_CONSISTENCY)]
        total = sum((line.amount.number or 0 for line in shares), start=Fraction(0))
        said = Said(f"{float(total):.6g} %")
        row = (shares or lines)[-1].row
        if not shares and not measured:
            text = "No line says how much, so the mix weighs nothing. Give at least one line by weight or measure."
            self._note(("line",), text, "one line by weight or measure", row=row)
        elif total > 100:
            self._note(("line",), "The % lines exceed the whole mix.", "at most 100 % together", said, row=row)
        elif measured and total == 100:
            text = "The % lines already add up to the whole mix, so nothing is left for the other lines."
            self._note(("line",), text, "less than 100 % together", said, row=row)
        elif not measured and (total != 100 or len(shares) < len(lines)):
            text = "Only % says how much there is, and it does not add up to the whole mix. Weigh at least one line."
            self._note(("line",), text, "exactly 100 % in % lines, or one line by weight or measure", said, row=row)
        elif not measured and (makes.mould is None or makes.count is None):
            text = "All lines are in %, so nothing says how much to make. Give mould and count, or weigh one line."
            self._note(("line",), text, "mould and count in [makes], or one line by weight or measure", said, row=row)
