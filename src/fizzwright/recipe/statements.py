"""A recipe document cut into its statements, so that messages can name a row and edits can keep every comment.

The text must already be good TOML: tomllib decides that, this module only finds where things stand.
"""

from __future__ import annotations

import re
import tomllib
from dataclasses import dataclass

Path = tuple[str | int, ...]
"""Where a value stands: ("name",), ("tub", "litres"), ("line", 2, "amount"), lines counted from 0."""

_TOKEN = re.compile(
    r'"""(?:\\.|[^\\])*?"{3,5}(?!")'
    r"|'''.*?'{3,5}(?!')"
    r'|"(?:\\.|[^"\\\n])*"'
    r"|'[^'\n]*'"
    r"|#[^\n]*"
    r"|[\[\]{}\n]"
    r"|[^\"'#\[\]{}\n]+"
    r"|.",
    re.S,
)
_KEY_PART = re.compile(r'\s*("(?:\\.|[^"\\])*"|\'[^\']*\'|[A-Za-z0-9_-]+)\s*(\.?)')


@dataclass(slots=True)
class Statement:
    """One header, one `key = value`, or one blank or comment row."""

    kind: str
    """header, key or trivia."""
    text: str
    """As it stands, without the line end; may run over several rows."""
    row: int
    """First row, counted from 1."""
    path: Path
    """Of a header the table it opens, of a key the value it sets, of trivia the table it stands in."""


def split(text: str) -> list[Statement]:
    """The statements of a good TOML document with \\n line ends, in order; joined by \\n they are the document."""
    found: list[Statement] = []
    table: Path = ()
    arrays: dict[Path, int] = {}
    for row, piece in _pieces(text):
        bare = piece.strip()
        if not bare or bare.startswith("#"):
            found.append(Statement("trivia", piece, row, table))
        elif bare.startswith("["):
            many = bare.startswith("[[")
            table = ()
            keys = _keys(bare[2 if many else 1 :])
            for place, key in enumerate(keys):
                table = (*table, key)
                if many and place == len(keys) - 1:
                    arrays[table] = arrays.get(table, -1) + 1
                if table in arrays:
                    table = (*table, arrays[table])
            found.append(Statement("header", piece, row, table))
        else:
            found.append(Statement("key", piece, row, (*table, *_keys(bare))))
    return found


def join(statements: list[Statement]) -> str:
    """The document the statements make, ending with one line end."""
    return "\n".join(s.text for s in statements).rstrip("\n") + "\n"


def rows(text: str) -> dict[Path, int]:
    """The row of every header and key of a good TOML document."""
    return {s.path: s.row for s in reversed(split(text)) if s.kind != "trivia"}


def _pieces(text: str) -> list[tuple[int, str]]:
    """Row and text of each statement: a line end inside brackets or a string does not end one."""
    pieces: list[tuple[int, str]] = []
    start, row, first, depth = 0, 1, 1, 0
    for match in _TOKEN.finditer(text):
        token = match[0]
        if token == "\n":
            row += 1
            if depth == 0:
                pieces.append((first, text[start : match.start()]))
                start, first = match.end(), row
        elif token in "[{":
            depth += 1
        elif token in "]}":
            depth -= 1
        else:
            row += token.count("\n")
    if start < len(text):
        pieces.append((first, text[start:]))
    return pieces


def _keys(text: str) -> list[str]:
    """The parts of a dotted key at the start of the text."""
    parts: list[str] = []
    place = 0
    while match := _KEY_PART.match(text, place):
        word = match[1]
        parts.append(next(iter(tomllib.loads(f"{word} = 0"))) if word[0] in "\"'" else word)
        place = match.end()
        if not match[2]:
            break
    return parts


def key_value_comment(text: str) -> tuple[str, str, str]:
    """A `key = value` statement as its key, its value, and its comment with the space before it (or "")."""
    place = 0
    while match := _KEY_PART.match(text, place):
        place = match.end()
        if not match[2]:
            break
    equals = text.index("=", place)
    key, rest = text[:place].strip(), text[equals + 1 :]
    end = depth = 0
    for match in _TOKEN.finditer(rest):
        token = match[0]
        depth += (token in "[{") - (token in "]}") if len(token) == 1 else 0
        if depth == 0 and token.startswith("#"):
            break
        end = match.end()
    value = rest[:end]
    return key, value.strip(), value[len(value.rstrip()) :] + rest[end:].rstrip()
