"""Checking TOML values against the form of a recipe: every fault is kept, none is raised on the way."""

from __future__ import annotations

import math
import unicodedata
from collections.abc import Sequence
from dataclasses import asdict, replace
from datetime import date
from fractions import Fraction
from pathlib import Path
from typing import TYPE_CHECKING, Any

from fizzwright.recipe import form
from fizzwright.recipe.amounts import COUNTED, TO_CONSISTENCY, AmountRefused, parse_amount
from fizzwright.recipe.measures import consistency_range, is_poured
from fizzwright.recipe.model import (
    AUDIENCES,
    DOORS,
    FANS,
    KINDS,
    MARKETS,
    SYSTEMS,
    Amount,
    Line,
    Makes,
    Recipe,
    TapWater,
    Tub,
)
from fizzwright.recipe.problems import Problem, file_name, shown
from fizzwright.recipe.statements import Path as Place
from fizzwright.recipe.values import as_date, leads_back, mesh_path_fault, nearest_words

if TYPE_CHECKING:
    from fizzwright.catalogue import Catalogue

MOST_LISTED = 12
MOST_PROBLEMS = 100
_MORE = f"There is more to put right than these {MOST_PROBLEMS} things. Check that it is the right file."
_BIDI_CONTROLS = set("\u202a\u202b\u202c\u202d\u202e\u2066\u2067\u2068\u2069")
"""Characters that turn the order of what follows; a name in any script reads right without them."""


class _Said(str):
    """Words of ours that stand for what was read, to be shown without quotes."""


class Reading:
    """One reading of one document: collects what is wrong while building the recipe."""

    def __init__(self, catalogue: Catalogue, file: Path | None) -> None:
        self.catalogue = catalogue
        self.file = file
        self.found: list[tuple[Place, Problem]] = []
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

    def problems(self, text: str) -> list[Problem]:
        """All that was found, each with its row."""
        from fizzwright.recipe import statements

        rows = statements.rows(text)

        def row(place: Place) -> int:
            for end in range(len(place), 0, -1):
                if place[:end] in rows:
                    return rows[place[:end]]
            return 0

        return [p if p.row else replace(p, row=row(place)) for place, p in self.found]

    def _note(
        self,
        place: Place,
        text: str,
        allowed: str,
        read: object = None,
        nearest: Sequence[str] = (),
        row: int = 0,
    ) -> None:
        if len(self.found) > MOST_PROBLEMS:
            return
        if len(self.found) == MOST_PROBLEMS:
            place, text, allowed, read, nearest, row = (), _MORE, "", None, (), 0
        index = next((part for part in place if isinstance(part, int)), None)
        field = ".".join(str(part) for part in place if not isinstance(part, int))
        said = "" if read is None else read if isinstance(read, _Said) else shown(read)
        name = file_name(self.file)
        self.found.append((place, Problem(name, row, field, said, allowed, text, tuple(nearest), index)))

    def _keys(self, table: dict[str, Any], level: str, place: Place) -> None:
        """Unknown keys, with the nearest known one, and needed keys that are missing."""
        known = form.KEYS[level]
        where = f"in [{level}]" if level else "at the top of the document"
        for key in table:
            if key not in known and len(self.found) <= MOST_PROBLEMS:
                owner = next((lvl for lvl, keys in form.KEYS.items() if key in keys and lvl), None)
                hint = f" It belongs in [{owner}]." if owner and owner != level else " Correct it or remove it."
                if not level and key == "lines":
                    hint = " Write each line under its own [[line]]."
                self._note(
                    (*place, key),
                    f'There is no key "{shown(key)[1:-1]}" {where}.{hint}',
                    ", ".join(known),
                    _Said(shown(key)[1:-1]),
                    nearest_words(key, known),
                )
        for key in form.NEEDED[level]:
            if key not in table:
                examples = {
                    "name": 'name = "Orchard Rain"',
                    "kind": 'kind = "fizzer"',
                    "line": "[[line]]",
                    "use": 'use = "sodium_bicarbonate"',
                    "amount": 'amount = "1 1/2 cup"',
                }
                example = examples.get(key, f"{key} = 1.9")
                self._note((*place, key), f"{key} is missing. Write for example {example}", "")

    def _table(self, data: dict[str, Any], key: str, place: Place, example: str) -> dict[str, Any] | None:
        value = data.get(key)
        if value is None:
            return None
        if not isinstance(value, dict):
            self._note((*place, key), f"{key} must be a table. Write for example {example}", "a table", value)
            return None
        return value

    def _words(self, table: dict[str, Any], key: str, place: Place) -> str | None:
        """A name or code: text of one line, any script, nothing that hides or turns the letters."""
        value = table.get(key)
        if value is None:
            return None
        place = (*place, key)
        allowed = f"text of 1 to {form.MOST_NAME} characters"
        if not isinstance(value, str):
            self._note(place, f'{key} must be text. Put it in "double quotes".', allowed, value)
            return None
        value = value.strip()
        if not value:
            self._note(place, f"{key} is empty.", allowed, value)
        elif len(value) > form.MOST_NAME:
            self._note(place, f"{key} is {len(value)} characters long. Shorten it.", allowed, value)
        elif any(c in _BIDI_CONTROLS or unicodedata.category(c) in ("Cc", "Zl", "Zp", "Cs") for c in value):
            self._note(
                place,
                f"{key} holds a hidden character that breaks the line or turns the direction of reading. "
                "Type it again by hand.",
                "letters of any script, digits, signs and emoji",
                value,
            )
        else:
            return value
        return None

    def _one_of(
        self, table: dict[str, Any], key: str, words: Sequence[str], default: str | None, place: Place = ()
    ) -> str | None:
        value = table.get(key, default)
        if value is None or (isinstance(value, str) and value in words):
            return value
        near = nearest_words(value, words)
        self._note((*place, key), f"{key} is none of the words it may be.", ", ".join(words), value, near)
        return None

    def _markets(self, data: dict[str, Any]) -> tuple[str, ...]:
        value = data.get("sold_in", [])
        allowed = "a list of " + ", ".join(MARKETS)
        if not isinstance(value, list):
            self._note(("sold_in",), 'sold_in must be a list. Write for example ["us", "eu"].', allowed, value)
            return ()
        for market in value:
            if not isinstance(market, str) or market not in MARKETS:
                near = nearest_words(market, MARKETS)
                self._note(("sold_in",), "sold_in names a market not known here.", allowed, market, near)
        return tuple(dict.fromkeys(m for m in value if isinstance(m, str)))

    def _date(self, data: dict[str, Any]) -> date | None:
        value = data.get("made_on")
        if value is None:
            return None
        day = as_date(value)
        if day is None or not 1900 <= day.year <= 2200:
            self._note(
                ("made_on",),
                "made_on must be a day that exists. Write it year first.",
                "a date such as 2026-11-25",
                value,
            )
            return None
        return day

    def number(self, table: dict[str, Any], key: str, level: str, place: Place) -> float | None:
        """A number inside its bounds; None when missing or noted as wrong."""
        value = table.get(key)
        if value is None:
            return None
        bounds = form.NUMBERS[f"{level}.{key}"]
        place = (*place, key)
        if not isinstance(value, int | float) or isinstance(value, bool) or not math.isfinite(value):
            quoted = ' Write it without "quotes".' if isinstance(value, str) else ""
            self._note(place, f"{key} must be a plain number.{quoted}", bounds.allowed, value)
        elif not bounds.low <= value <= bounds.high:
            self._note(place, f"{key} is out of range.", bounds.allowed, value)
        elif bounds.whole and value != int(value):
            self._note(place, f"{key} must be a whole number.", bounds.allowed, value)
        else:
            return float(value)
        return None

    def _makes(self, data: dict[str, Any], kind: str | None) -> Makes:
        table = self._table(data, "makes", (), '[makes] and below it mould = "sphere_65"')
        if table is None:
            return Makes()
        self._keys(table, "makes", ("makes",))
        count = self.number(table, "count", "makes", ("makes",))
        mould = table.get("mould")
        place: Place = ("makes", "mould")
        if mould is not None and kind == "powder":
            self._note(place, "A powder goes into a jar, not a mould. Remove mould, or change kind.", "no mould", mould)
        elif isinstance(mould, str) and mould.startswith("mesh:"):
            why = mesh_path_fault(mould.removeprefix("mesh:"))
            if why:
                self._note(place, why, '"mesh:FILE.stl" beside the recipe', mould)
        elif mould is not None and (not isinstance(mould, str) or mould not in self.catalogue.moulds):
            nearest = (
                self.catalogue.nearest(mould[: form.MOST_NAME], among="mould", n=3) if isinstance(mould, str) else []
            )
            self._note(
                place,
                "No mould of that id is in the catalogue. Choose one, or name your own shape.",
                'a mould id such as "sphere_65", or "mesh:FILE.stl"',
                mould,
                nearest,
            )
        return Makes(mould if isinstance(mould, str) else None, None if count is None else int(count))

    def _tub(self, data: dict[str, Any]) -> Tub:
        table = self._table(data, "tub", (), "[tub] and below it litres = 150")
        if table is None:
            return Tub()
        place: Place = ("tub",)
        self._keys(table, "tub", place)
        water = table.get("water")
        if isinstance(water, dict):
            at: Place = ("tub", "water")
            self._keys(water, "tub.water", at)
            read = {key: self.number(water, key, "tub.water", at) for key in form.KEYS["tub.water"]}
            water = TapWater(**{"alkalinity_mmol_l": 0.0, **{k: v for k, v in read.items() if v is not None}})
            self._possible(water, at)
        elif water is not None and (not isinstance(water, str) or water not in form.WATERS):
            allowed = ", ".join(form.WATERS) + ", or a table with " + ", ".join(form.KEYS["tub.water"])
            near = nearest_words(water, form.WATERS)
            self._note(("tub", "water"), "That kind of water is not known here.", allowed, water, near)
            water = None
        numbers = {
            key: self.number(table, key, "tub", place) for key in form.KEYS["tub"] if f"tub.{key}" in form.NUMBERS
        }
        door, fan = self._one_of(table, "door", DOORS, None, place), self._one_of(table, "fan", FANS, None, place)
        return Tub(water=water, door=door, fan=fan, **numbers)

    def _possible(self, water: TapWater, at: Place) -> None:
        """Note a water whose figures do not go together, such as a pH that its alkalinity cannot have."""
        from fizzwright.science.equilibrium import Water, solve

        if water.ph is None or self.found:
            return
        try:
            solve(Water(**asdict(water)), {}, 25.0)
        except ValueError as error:
            self._note(at, f"No tap water is like this. {error}.", "figures of one report that go together")

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
                ("line",), "The recipe has too many lines.", f"at most {form.MOST_LINES} lines", _Said(str(len(tables)))
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
        said = _Said(f"{float(total):.6g} %")
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
