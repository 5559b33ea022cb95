"""Reading a recipe document: strict, exact, and with everything that is wrong said at once."""

from __future__ import annotations

import re
import tomllib
from pathlib import Path
from typing import TYPE_CHECKING

from fizzwright.recipe import checks
from fizzwright.recipe.form import RECIPE, Form
from fizzwright.recipe.model import Recipe
from fizzwright.recipe.problems import Problem, RecipeRefused, file_name, shown
from fizzwright.recipe.values import as_date

if TYPE_CHECKING:
    from fizzwright.catalogue import Catalogue

MOST_BYTES = 1_000_000
"""A recipe is a page of text; what is larger is something else."""
MOST_IN_A_ROW = 2000
"""Characters in one row; a dotted key of a megabyte would take the reader of TOML hours and all memory."""
_PLACE = re.compile(r" ?\(at (?:line (\d+), column (\d+)|end of document)\)$")
_PLAINER = (
    (re.compile(r"Cannot (overwrite a value|declare .* twice|mutate .*)"), "this key or table stands twice. Keep one"),
    (re.compile(r"Expected '=' after a key"), "a row must read key = value"),
    (re.compile(r"Illegal character '\\[nr]'|Unterminated string"), "a quote is opened here but not closed"),
    (re.compile(r"Invalid value"), 'what stands after = is no value; text goes in "double quotes"'),
    (re.compile(r"Expected newline or end of document"), "something more follows a finished value on this row"),
)
"""What tomllib says, in a maker's words."""
_DAY = re.compile(r"\b\d{4}-\d{1,2}-\d{1,2}\b")
_LINE_HEADER = re.compile(r"^[ \t]*\[\[[ \t]*line[ \t]*\]\]", re.M)


def read_file(path: Path, catalogue: Catalogue) -> Recipe:
    """The recipe in a file; RecipeRefused with every problem found, also when the file cannot be opened."""
    path = Path(path)
    return read_text(file_text(path), catalogue, path)


def file_text(path: Path, what: str = "recipe") -> str:
    """The text of a recipe (or goal) file, which is only read; RecipeRefused when it is no text file of at most 1 MB."""
    if "\0" in str(path):
        raise _refused(path, "The file name holds a NUL character. Check the name.")
    try:
        if path.is_dir():
            raise _refused(path, f"This is a folder. Name the {what} file inside it.")
        if not path.exists():
            raise _refused(path, "There is no such file. Check the name and the folder.")
        if not path.is_file():
            raise _refused(path, "This is not an ordinary file.", "a text file ending in .toml")
        with path.open("rb") as stream:
            raw = stream.read(MOST_BYTES + 1)
    except OSError as error:
        raise _refused(path, f"The file cannot be opened: {error.strerror}.") from error
    if len(raw) > MOST_BYTES:
        raise _too_large(path, what)
    if raw.startswith((b"\xff\xfe", b"\xfe\xff")):
        raise _refused(path, "The file is saved as UTF-16. Save it again as UTF-8.", "UTF-8 text")
    try:
        return raw.decode("utf-8")
    except UnicodeDecodeError as error:
        row = raw.count(b"\n", 0, error.start) + 1
        raise RecipeRefused(
            [
                Problem(
                    file_name(path),
                    row,
                    "",
                    f"byte 0x{raw[error.start]:02x}",
                    "UTF-8 text",
                    "The file is not UTF-8 text. Open it in a text editor and save it as UTF-8.",
                )
            ]
        ) from error


def read_text(text: str, catalogue: Catalogue, file: Path | None = None) -> Recipe:
    """The recipe in a text; RecipeRefused with every problem found.

    `file` names the text in messages, and its folder is where "mesh:" moulds are looked for.
    """
    data, text = parse(text, file)
    reading = checks.Reading(catalogue, file)
    recipe = reading.recipe(data, text, _line_rows(text, data))
    if recipe is None or reading.found:
        raise RecipeRefused(reading.problems(text))
    return recipe


def parse(text: str, file: Path | None = None, form: Form = RECIPE) -> tuple[dict[str, object], str]:
    """The document as TOML values, and its text without byte-order mark and with \\n line ends."""
    what = form.what
    if len(text) > MOST_BYTES or (not text.isascii() and len(text.encode("utf-8", "replace")) > MOST_BYTES):
        raise _too_large(file, what)
    text = text.removeprefix("\ufeff").replace("\r\n", "\n")
    if not text.strip():
        raise _refused(file, f"The document is empty. Start with {form.start}.", what=what)
    if "\0" in text:
        raise _refused(
            file,
            "The document holds a NUL character, so it is not plain text. Save it again as UTF-8 text.",
            "UTF-8 text",
            row=text.count("\n", 0, text.index("\0")) + 1,
            what=what,
        )
    if len(text) > MOST_IN_A_ROW:
        for row, piece in enumerate(text.split("\n"), start=1):
            if len(piece) > MOST_IN_A_ROW:
                said = (
                    f"This row is {len(piece)} characters long, too long for a {what}. Check that it is the right file."
                )
                raise _refused(file, said, f"at most {MOST_IN_A_ROW} characters a row", row, what)
    try:
        return tomllib.loads(text), text
    except RecursionError as error:
        raise _refused(file, f"Brackets are nested too deeply to be a {what}.", what=what) from error
    except tomllib.TOMLDecodeError as error:
        raise _not_toml(str(error), text, file, what) from error


def _not_toml(said: str, text: str, file: Path | None, what_document: str) -> RecipeRefused:
    place = _PLACE.search(said)
    rows = text.split("\n")
    row = int(place[1]) if place and place[1] else len(text.rstrip().split("\n"))
    what = _PLACE.sub("", said)
    bad_day = _DAY.search(rows[row - 1]) if 0 < row <= len(rows) else None
    if bad_day and not as_date(bad_day[0]):
        what = f"there is no day {bad_day[0]}; write year-month-day, such as 2026-11-25"
    else:
        what = next((plain for pattern, plain in _PLAINER if pattern.match(what)), what[:1].lower() + what[1:])
    if not place:
        row = 0
    return RecipeRefused(
        [
            Problem(
                file_name(file, what_document),
                row,
                "",
                shown(rows[row - 1].strip()) if 0 < row <= len(rows) else "",
                "TOML",
                f"This is not a readable document (TOML): {what}.",
            )
        ]
    )


def _line_rows(text: str, data: dict[str, object]) -> list[int]:
    """The row of each [[line]]: by a quick look where that settles it, else by cutting the text up with care."""
    lines = data.get("line")
    count = len(lines) if isinstance(lines, list) else 0
    if '"""' not in text and "'''" not in text:
        found: list[int] = []
        row, seen = 1, 0
        for match in _LINE_HEADER.finditer(text):
            row += text.count("\n", seen, match.start())
            seen = match.start()
            found.append(row)
        if len(found) == count:
            return found
    from fizzwright.recipe import statements

    rows = statements.rows(text)
    return [rows.get(("line", index), rows.get(("line",), 0)) for index in range(count)]


def _too_large(file: Path | None, what: str) -> RecipeRefused:
    said = f"The document is larger than 1 MB, too large for a {what}. Check that it is the right file."
    return _refused(file, said, what=what)


def _refused(file: Path | None, text: str, allowed: str = "", row: int = 0, what: str = "recipe") -> RecipeRefused:
    return RecipeRefused([Problem(file_name(file, what), row, "", "", allowed, text)])
