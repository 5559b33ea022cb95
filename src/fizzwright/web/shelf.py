"""The recipe documents of a workshop folder: listed, read, and put back without losing what someone else wrote."""

from __future__ import annotations

import hashlib
import re
import threading
import unicodedata
from dataclasses import dataclass
from pathlib import Path

from fizzwright.recipe.document import file_text
from fizzwright.recipe.saving import write_new, write_text
from fizzwright.refusal import Refusal

LONGEST_STEM = 60
"""Of a name this house makes, characters; a maker's own file may be called as the disk allows."""
_saving = threading.Lock()
"""Two pages may save at once; the second must see what the first wrote."""


class Conflict(Exception):
    """The file was changed elsewhere since the page was opened; `theirs` is what stands in it now."""

    def __init__(self, theirs: str) -> None:
        self.theirs = theirs
        super().__init__("the file was changed elsewhere")


class NoRecipe(Exception):
    """There is no recipe document of that name."""


def fingerprint(text: str) -> str:
    """A short mark of a text: it differs when the text does."""
    return hashlib.sha256(text.encode("utf-8", "surrogatepass")).hexdigest()[:32]


def stem_of(name: str) -> str:
    """A file name for a recipe's name: "Orchard Rain" -> "orchard_rain"; "recipe" when nothing usable is left."""
    plain = unicodedata.normalize("NFKC", name).lower()
    stem = re.sub(r"[^\w]+", "_", plain, flags=re.UNICODE).strip("_")[:LONGEST_STEM].strip("_")
    while len(stem.encode()) > 200:
        stem = stem[:-1]
    return stem or "recipe"


@dataclass(frozen=True, slots=True)
class Shelf:
    """The folder `recipes` of a workshop."""

    folder: Path

    def stems(self) -> list[str]:
        """The names of all documents, in order; a link that leads out of the folder is none of them."""
        if not self.folder.is_dir():
            return []
        return sorted(p.stem for p in self.folder.glob("*.toml") if p.is_file() and self._is_inside(p.stem))

    def _is_inside(self, stem: str) -> bool:
        if not stem.isprintable() or stem.startswith(".") or "/" in stem or "\\" in stem or len(stem.encode()) > 240:
            return False
        return (self.folder / f"{stem}.toml").resolve().parent == self.folder.resolve()

    def path(self, stem: str) -> Path:
        """Where a document lies; NoRecipe for a name that could lead out of the folder."""
        if not stem or not self._is_inside(stem):
            raise NoRecipe(stem)
        return self.folder / f"{stem}.toml"

    def read(self, stem: str) -> str:
        """The text of a document; NoRecipe when there is none, RecipeRefused when it is no text."""
        path = self.path(stem)
        if not path.is_file():
            raise NoRecipe(stem)
        return file_text(path)

    def save(self, stem: str, text: str, seen: str) -> None:
        """Put a text in place of the one whose fingerprint was seen; Conflict when the file holds another by now.

        Saving the same text twice is saving it once. A file that was deleted meanwhile is written again.
        """
        path = self.path(stem)
        with _saving:
            if not path.is_file():
                write_new(path, text)
                return
            now = self.read(stem)
            text = _as_before(text, now)
            if text == now:
                return
            if fingerprint(now) != seen:
                raise Conflict(now)
            write_text(path, text)

    def add(self, stem: str, text: str) -> None:
        """A new document; Refusal when the name is taken by another text."""
        path = self.path(stem)
        with _saving:
            self.folder.mkdir(parents=True, exist_ok=True)
            if path.exists() and not (path.is_file() and path.read_bytes() == text.encode()):
                raise Refusal(f'There is already a recipe called "{stem}". It was left alone. Give another name.')
            if not path.exists():
                write_new(path, text)


def _as_before(text: str, before: str) -> str:
    """A text with the line ends and byte-order mark its file had."""
    text = text.removeprefix("\ufeff").replace("\r\n", "\n")
    if "\r\n" in before:
        text = text.replace("\n", "\r\n")
    return "\ufeff" + text if before.startswith("\ufeff") else text
