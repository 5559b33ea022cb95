"""What the pages ask for: a recipe looked at as typed, with its review or with what is wrong beside each box."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from dataclasses import dataclass, field, replace
from datetime import UTC, date, datetime
from functools import cached_property, lru_cache
from pathlib import Path

from fizzwright.catalogue import Catalogue
from fizzwright.catalogue.workshop import Workshop
from fizzwright.plan.readings import TodaysRoom, clock_of, todays_room
from fizzwright.recipe.document import read_text
from fizzwright.recipe.model import Recipe
from fizzwright.recipe.problems import RecipeRefused
from fizzwright.refusal import Refusal
from fizzwright.review import Review, review
from fizzwright.review.room import Room
from fizzwright.web.forms import Faults, NoForm, RecipeForm, Written, faults_of, plain_name, written
from fizzwright.web.shelf import Shelf, fingerprint
from fizzwright.wording import air_text


def utc_now() -> datetime:
    """This moment, in UTC."""
    return datetime.now(UTC)


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
    held: int | None = None
    """The new line that is still being typed and was left out of the figures."""

    @property
    def is_unsaved(self) -> bool:
        """True when what is typed would change the document the page was opened on."""
        typed, opened = (t.removeprefix("\ufeff").replace("\r\n", "\n") for t in (self.text, self.form.loaded))
        return typed != opened or self.held is not None


@dataclass(frozen=True, slots=True)
class AirTold:
    """The air of the making room in words."""

    text: str
    at: str
    """When it was read today, by the workshop's clock; empty when it was not."""
    trouble: str
    """Why the file of readings could not be used; empty when nothing is wrong."""


@dataclass(frozen=True)
class Bench:
    """A workshop open on the workbench."""

    catalogue: Catalogue
    workshop: Workshop
    shelf: Shelf
    clock: Callable[[], date] = field(default=date.today)
    now: Callable[[], datetime] = field(default=utc_now)
    """The moment a reading is kept at, aware."""

    @cached_property
    def ids(self) -> Mapping[str, str]:
        """The id for each name a maker may type in its place, compared as `plain_name` says.

        An id goes before a name, a name before an other name, that before a label name; a name two entries share at
        the first rank it appears stands for neither.
        """
        catalogue = self.catalogue
        entries = [*catalogue.materials.values(), *catalogue.oils.values(), *catalogue.constituents.values()]
        ranks = (
            [(entry.id, entry.id) for entry in entries],
            [(entry.name, entry.id) for entry in entries],
            [(also, material.id) for material in catalogue.materials.values() for also in material.also],
            [(label, m.id) for m in catalogue.materials.values() for label in (m.inci, m.inci_eu)]
            + [(label, oil.id) for oil in catalogue.oils.values() for label in (oil.inci, oil.inci_eu)],
        )
        found: dict[str, str] = {}
        for rank in ranks:
            claims: dict[str, set[str]] = {}
            for name, entry_id in rank:
                claims.setdefault(plain_name(name), set()).add(entry_id)
            for name, claimed in claims.items():
                found.setdefault(name, claimed.pop() if len(claimed) == 1 else "")
        return {name: entry_id for name, entry_id in found.items() if name and entry_id}

    @cached_property
    def names(self) -> list[tuple[str, str]]:
        """Id and name of everything a line may use, for the list that opens under its box."""
        entries = [*self.catalogue.materials.values(), *self.catalogue.oils.values()]
        return [(entry.id, entry.name) for entry in sorted(entries, key=lambda e: e.name.casefold())]

    def name_of(self, typed: str) -> str:
        """The catalogue's name of what stands in a line's box; nothing when it holds none of that name."""
        entry = self.catalogue.usable(self.ids.get(plain_name(typed), typed))
        return entry.name if entry else ""

    @cached_property
    def _reviewed(self) -> Callable[[str, Path, bool, date, tuple[tuple[str, int], ...], Room], tuple[Recipe, Review]]:
        @lru_cache(maxsize=256)
        def reviewed(
            text: str, path: Path, leave_on: bool, today: date, meshes: tuple[tuple[str, int], ...], room: Room
        ) -> tuple[Recipe, Review]:
            recipe = read_text(text, self.catalogue, path)
            as_of = recipe.made_on or today
            return recipe, review(recipe, self.catalogue, self.workshop, leave_on=leave_on, as_of=as_of, room=room)

        return reviewed

    def review(self, text: str, stem: str, *, leave_on: bool = False) -> tuple[Recipe, Review]:
        """A document read and reviewed; RecipeRefused or Refusal when it cannot be."""
        meshes = tuple((p.name, p.stat().st_mtime_ns) for p in sorted(self.shelf.folder.glob("*.stl")))
        return self._reviewed(text, self.shelf.path(stem), leave_on, self.clock(), meshes, self.todays_room().room)

    def todays_room(self) -> TodaysRoom:
        """The air recipes are reckoned with: today's newest reading, else the room as it usually is."""
        return todays_room(self.workshop, self.catalogue, self.now())

    def clock_time(self, at: datetime) -> str:
        """A moment by the workshop's clock: 08:30."""
        return f"{at.astimezone(clock_of(self.workshop)):%H:%M}"

    def air(self) -> AirTold:
        """The air the figures are worked out with, as a page tells it."""
        found = self.todays_room()
        at = self.clock_time(found.kept.time) if found.kept else ""
        text = f"{air_text(found.room.room_c, found.room.humidity_pct)}, {found.room.told}"
        return AirTold(f"{text} at {at}" if at else text, at, found.trouble)

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

    def glimpse(self, form: RecipeForm, stem: str) -> Looked:
        """What is typed at this moment: a new line still being typed is no fault, it is not counted yet."""
        at = form.at if form.at is not None and form.at < len(form.lines) else None
        if at is None or form.lines[at].was is not None or form.lines[at].out or form.lines[at].is_blank:
            return self.look(form, stem)
        if not form.lines[at].is_half_typed:
            whole = self.look(form, stem)
            if not any(box.startswith(f"line-{at}-") for box in whole.faults.by_box):
                return whole
        return replace(self.look(form.without_line(at), stem), form=form, held=at)

    def _stale(self, form: RecipeForm, stem: str, document: Written, faults: Faults) -> Looked:
        try:
            recipe, report = self.review(form.good, stem, leave_on=form.leave_on)
        except (RecipeRefused, Refusal, NoForm):
            return Looked(form, document.text, faults, None, None)
        return Looked(form, document.text, faults, report, recipe, stale=True)
