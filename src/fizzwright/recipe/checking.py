"""Checking TOML values against the form of a document: every fault is kept, none is raised on the way.

What a recipe and a goal have in common stands here: who bathes, where it is sold, what it makes, the bath.
"""

from __future__ import annotations

import math
import unicodedata
from collections.abc import Sequence
from dataclasses import asdict, replace
from datetime import date
from pathlib import Path
from typing import TYPE_CHECKING, Any

from fizzwright.recipe.form import MOST_NAME, WATERS, Form
from fizzwright.recipe.model import DOORS, FANS, MARKETS, Makes, TapWater, Tub
from fizzwright.recipe.problems import Problem, file_name, shown
from fizzwright.recipe.statements import Path as Place
from fizzwright.recipe.values import as_date, mesh_path_fault, nearest_words

if TYPE_CHECKING:
    from fizzwright.catalogue import Catalogue

MOST_PROBLEMS = 100
_MORE = f"There is more to put right than these {MOST_PROBLEMS} things. Check that it is the right file."
_BIDI_CONTROLS = set("\u202a\u202b\u202c\u202d\u202e\u2066\u2067\u2068\u2069")
"""Characters that turn the order of what follows; a name in any script reads right without them."""


class Said(str):
    """Words of ours that stand for what was read, to be shown without quotes."""


class Checking:
    """One reading of one document: collects what is wrong."""

    def __init__(self, form: Form, catalogue: Catalogue, file: Path | None) -> None:
        self.form = form
        self.catalogue = catalogue
        self.file = file
        self.found: list[tuple[Place, Problem]] = []

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
        said = "" if read is None else read if isinstance(read, Said) else shown(read)
        name = file_name(self.file, self.form.what)
        self.found.append((place, Problem(name, row, field, said, allowed, text, tuple(nearest), index)))

    def _keys(self, table: dict[str, Any], level: str, place: Place) -> None:
        """Unknown keys, with the nearest known one, and needed keys that are missing."""
        known = self.form.keys[level]
        where = f"in [{level}]" if level else "at the top of the document"
        for key in table:
            if key not in known and len(self.found) <= MOST_PROBLEMS:
                owner = next((lvl for lvl, keys in self.form.keys.items() if key in keys and lvl), None)
                hint = f" It belongs in [{owner}]." if owner and owner != level else " Correct it or remove it."
                if key == "lines" and "line" in known:
                    hint = " Write each line under its own [[line]]."
                self._note(
                    (*place, key),
                    f'There is no key "{shown(key)[1:-1]}" {where}.{hint}',
                    ", ".join(known),
                    Said(shown(key)[1:-1]),
                    nearest_words(key, known),
                )
        for key in self.form.needed.get(level, ()):
            if key not in table:
                example = self.form.examples[key]
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
        allowed = f"text of 1 to {MOST_NAME} characters"
        if not isinstance(value, str):
            self._note(place, f'{key} must be text. Put it in "double quotes".', allowed, value)
            return None
        value = value.strip()
        if not value:
            self._note(place, f"{key} is empty.", allowed, value)
        elif len(value) > MOST_NAME:
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
        bounds = self.form.numbers[f"{level}.{key}"]
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
            nearest = self.catalogue.nearest(mould[:MOST_NAME], among="mould", n=3) if isinstance(mould, str) else []
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
            read = {key: self.number(water, key, "tub.water", at) for key in self.form.keys["tub.water"]}
            water = TapWater(**{"alkalinity_mmol_l": 0.0, **{k: v for k, v in read.items() if v is not None}})
            self._possible(water, at)
        elif water is not None and (not isinstance(water, str) or water not in WATERS):
            allowed = ", ".join(WATERS) + ", or a table with " + ", ".join(self.form.keys["tub.water"])
            near = nearest_words(water, WATERS)
            self._note(("tub", "water"), "That kind of water is not known here.", allowed, water, near)
            water = None
        numbers = {
            key: self.number(table, key, "tub", place)
            for key in self.form.keys["tub"]
            if f"tub.{key}" in self.form.numbers
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
