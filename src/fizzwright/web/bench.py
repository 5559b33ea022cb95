"""What the pages ask for: a recipe looked at as typed, with its review or with what is wrong beside each box."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from dataclasses import dataclass, field
from datetime import date
from functools import cached_property, lru_cache
from pathlib import Path

from fizzwright.catalogue import Catalogue
from fizzwright.catalogue.workshop import Workshop
from fizzwright.recipe.document import read_text
from fizzwright.recipe.model import Recipe
from fizzwright.recipe.problems import RecipeRefused
from fizzwright.refusal import Refusal
from fizzwright.review import Review, review
from fizzwright.web.forms import Faults, NoForm, RecipeForm, Written, faults_of, written
from fizzwright.web.shelf import Shelf, fingerprint


@dataclass(frozen=True, slots=True)
class Looked:
    """A form looked at."""

    form: RecipeForm
    text: str
    """The document as typed."""
    faults: Faults
    review: Review | None
    """Of what was typed, or of the last form that could be worked out when `stale`; None when there is neither."""
    recipe: Recipe | None
    order: tuple[int, ...] = ()
    """For each line reviewed, its place in the form; empty when stale."""
    stale: bool = False


@dataclass(frozen=True)
class Bench:
    """A workshop open on the workbench."""

    catalogue: Catalogue
    workshop: Workshop
    shelf: Shelf
    clock: Callable[[], date] = field(default=date.today)

    @cached_property
    def ids(self) -> Mapping[str, str]:
        """Names a maker may type in place of an id."""
        entries = [*self.catalogue.oils.values(), *self.catalogue.materials.values()]
        return {entry.name.casefold(): entry.id for entry in reversed(entries)}

    @cached_property
    def names(self) -> list[tuple[str, str]]:
        """Id and name of everything a line may use, for the list that opens under its box."""
        entries = [*self.catalogue.materials.values(), *self.catalogue.oils.values()]
        return [(entry.id, entry.name) for entry in sorted(entries, key=lambda e: e.name.casefold())]

    @cached_property
    def _reviewed(self) -> Callable[[str, Path, bool, date, tuple[tuple[str, int], ...]], tuple[Recipe, Review]]:
        @lru_cache(maxsize=256)
        def reviewed(
            text: str, path: Path, leave_on: bool, today: date, meshes: tuple[tuple[str, int], ...]
        ) -> tuple[Recipe, Review]:
            recipe = read_text(text, self.catalogue, path)
            as_of = recipe.made_on or today
            return recipe, review(recipe, self.catalogue, self.workshop, leave_on=leave_on, as_of=as_of)

        return reviewed

    def review(self, text: str, stem: str, *, leave_on: bool = False) -> tuple[Recipe, Review]:
        """A document read and reviewed; RecipeRefused or Refusal when it cannot be."""
        meshes = tuple((p.name, p.stat().st_mtime_ns) for p in sorted(self.shelf.folder.glob("*.stl")))
        return self._reviewed(text, self.shelf.path(stem), leave_on, self.clock(), meshes)

    def base(self, form: RecipeForm, stem: str) -> str:
        """The document the form was opened on: the file itself when it still is that one."""
        if form.loaded and not self.shelf.path(stem).is_file():
            return form.loaded
        now = self.shelf.read(stem)
        return now if fingerprint(now) == form.seen else form.loaded

    def write(self, form: RecipeForm, stem: str) -> Written:
        """The form written into the document it was opened on."""
        return written(form, self.base(form, stem), self.ids)

    def look(self, form: RecipeForm, stem: str) -> Looked:
        """What was typed, worked out; or what is wrong with it, beside the last that could be worked out."""
        document = self.write(form, stem)
        try:
            recipe, report = self.review(document.text, stem, leave_on=form.leave_on)
        except RecipeRefused as refused:
            return self._stale(form, stem, document, faults_of(refused.problems, document.order, form))
        except Refusal as refused:
            return self._stale(form, stem, document, Faults({"": [str(refused)]}))
        return Looked(form, document.text, Faults(), report, recipe, document.order)

    def _stale(self, form: RecipeForm, stem: str, document: Written, faults: Faults) -> Looked:
        try:
            recipe, report = self.review(form.good, stem, leave_on=form.leave_on)
        except (RecipeRefused, Refusal, NoForm):
            return Looked(form, document.text, faults, None, None)
        return Looked(form, document.text, faults, report, recipe, stale=True)
