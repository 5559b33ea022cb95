"""Rewriting a recipe document: into canonical form, or one value at a time, without losing a comment."""

from __future__ import annotations

import contextlib
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field
from datetime import date
from typing import Any

import tomlkit
from tomlkit.items import Array, InlineTable

from fizzwright.recipe import form
from fizzwright.recipe.amounts import AmountRefused, format_amount, parse_amount
from fizzwright.recipe.document import parse
from fizzwright.recipe.statements import Path, Statement, join, key_value_comment, split

Value = str | int | float | bool | date | Sequence[str] | Mapping[str, float]


@dataclass(slots=True)
class _Block:
    """A header or a key with the comments that belong to it."""

    statement: Statement
    above: list[str] = field(default_factory=list)
    below: list[str] = field(default_factory=list)


@dataclass(slots=True)
class _Section:
    """A table: its header (None at the top of the document) and its keys."""

    header: _Block | None
    keys: list[_Block] = field(default_factory=list)


def tidy(text: str) -> str:
    """The document in canonical form: keys and tables in order, amounts in one spelling, comments kept beside theirs.

    The meaning never changes, and tidying twice is the same as once. RecipeRefused when the text is not TOML.
    """
    windows = "\r\n" in text
    head, sections, tail = _sections(split(parse(text)[1]))
    sections[1:] = sorted(sections[1:], key=_section_rank)
    rows: list[str] = [*head, ""] if head else []
    for section in sections:
        level = ""
        if section.header is not None:
            path = section.header.statement.path
            level = ".".join(str(part) for part in path if not isinstance(part, int))
            rows += ["", *section.header.above, _tidy_header(section.header.statement.text), *section.header.below]
        for block in sorted(section.keys, key=lambda b: _key_rank(b.statement.path, section, level)):
            rows += [*block.above, _tidy_key(block.statement), *block.below]
    if tail:
        rows += ["", *tail]
    tidied = "\n".join(rows).strip("\n") + "\n"
    return tidied.replace("\n", "\r\n") if windows else tidied


def with_amounts(text: str, amounts: Mapping[int, str]) -> str:
    """The document with new amounts for some lines, by the line's place counted from 0; nothing else changes."""
    for index, amount in amounts.items():
        text = set_value(text, ("line", index, "amount"), amount)
    return text


def set_value(text: str, path: Path, value: Value | None) -> str:
    """The document with one value set, or removed when None; comments and everything else stay.

    `path` is where it stands: ("name",), ("makes", "count"), ("tub", "litres"), ("line", 2, "amount"). A table that is
    not there yet is made; a line must exist (KeyError when it does not).
    """
    found = split(parse(text)[1])
    for place, statement in enumerate(found):
        if statement.kind != "key":
            continue
        if statement.path == path:
            if value is None:
                del found[place]
            else:
                key, _, comment = key_value_comment(statement.text)
                statement.text = f"{key} = {_toml(value)}{comment}"
            return join(found)
        if statement.path == path[: len(statement.path)]:
            key, raw, comment = key_value_comment(statement.text)
            statement.text = f"{key} = {_inside(raw, path[len(statement.path) :], value)}{comment}"
            return join(found)
    found = [s for s in found if s.kind == "trivia" or s.path[: len(path)] != path]
    if value is not None:
        _insert(found, path, value)
    return join(found)


def add_line(
    text: str, use: str, amount: str, *, part: str | None = None, diluted_in: str | None = None, lot: str | None = None
) -> str:
    """The document with one more [[line]] after the last; part "whole" need not be written and is not."""
    data, text = parse(text)
    found = split(text)
    given = {"use": use, "amount": amount, "lot": lot, "in": diluted_in, "part": None if part == "whole" else part}
    values = {key: value for key, value in given.items() if value is not None}
    for statement in found:
        if statement.kind == "key" and statement.path == ("line",):
            key, raw, comment = key_value_comment(statement.text)
            array: Any = tomlkit.value(raw)
            array.append(_inline(values))
            statement.text = f"{key} = {array.as_string()}{comment}"
            return join(found)
    lines = data.get("line")
    count = len(lines) if isinstance(lines, list) else 0
    end = _end_of(found, ("line", count - 1)) if count else len(found)
    new = ["", "[[line]]", *(f"{key} = {_toml(value)}" for key, value in values.items())]
    found[end:end] = [Statement("trivia", row, 0, ()) for row in new]
    return join(found)


def remove_line(text: str, index: int) -> str:
    """The document without one [[line]], counted from 0, and without the comments right above and inside it."""
    found = split(parse(text)[1])
    for statement in found:
        if statement.kind == "key" and statement.path == ("line",):
            key, raw, comment = key_value_comment(statement.text)
            array: Any = tomlkit.value(raw)
            del array[index]
            statement.text = f"{key} = {array.as_string()}{comment}"
            return join(found)
    start = _header(found, ("line", index))
    end = _end_of(found, ("line", index))
    while start > 0 and found[start - 1].text.strip().startswith("#"):
        start -= 1
    if start > 0 and not found[start - 1].text.strip():
        start -= 1
    del found[start:end]
    return join(found)


def _sections(found: list[Statement]) -> tuple[list[str], list[_Section], list[str]]:
    """The document as head comment, tables with their comments, and closing comment."""
    head: list[str] = []
    sections = [_Section(None)]
    before: _Block | None = None
    groups: list[list[str]] = [[]]
    for statement in [*found, None]:
        if statement is not None and statement.kind == "trivia":
            row = statement.text.strip()
            if row:
                groups[-1].append(row)
            else:
                groups.append([])
            continue
        if before is not None and (len(groups) > 1 or statement is None):
            before.below = groups.pop(0)
        if statement is None:
            break
        if before is None and len(groups) > 1:
            last = groups.pop()
            head = [row for group in groups for row in group]
            groups = [last]
        before = _Block(statement, above=[row for group in groups for row in group])
        groups = [[]]
        if statement.kind == "header":
            sections.append(_Section(before))
        else:
            sections[-1].keys.append(before)
    return head, sections, [row for group in groups for row in group]


def _section_rank(section: _Section) -> tuple[int, int]:
    path = section.header.statement.path if section.header else ()
    rank = _rank(form.KEYS[""], str(path[0]))
    return rank, 0 if path[0] == "line" or rank == len(form.KEYS[""]) else len(path)


def _key_rank(path: Path, section: _Section, level: str) -> int:
    depth = len(section.header.statement.path) if section.header else 0
    return _rank(form.KEYS.get(level, ()), str(path[depth]))


def _rank(order: Sequence[str], key: str) -> int:
    return order.index(key) if key in order else len(order)


def _tidy_header(text: str) -> str:
    _, header, comment = key_value_comment(f"x = {text}")  # a header reads like an array, quoted names included
    return header + (f"  {comment.strip()}" if comment else "")


def _tidy_key(statement: Statement) -> str:
    key, raw, comment = key_value_comment(statement.text)
    if len(statement.path) == 3 and statement.path[0] == "line" and statement.path[2] == "amount":
        value = tomlkit.value(raw).unwrap()
        if isinstance(value, str):
            # what cannot be read is left as it stands, for the reader to name
            with contextlib.suppress(AmountRefused):
                raw = _toml(format_amount(parse_amount(value)))
    return f"{key} = {raw}" + (f"  {comment.strip()}" if comment else "")


def _toml(value: Value) -> str:
    """A value as TOML on one row."""
    if isinstance(value, Mapping):
        return str(_inline(value).as_string())
    return tomlkit.item(list(value) if isinstance(value, list | tuple) else value).as_string()


def _inline(values: Mapping[str, Any]) -> Any:
    table = tomlkit.inline_table()
    table.update({key: value for key, value in values.items() if value is not None})
    return table


def _inside(raw: str, path: Path, value: Value | None) -> str:
    """An inline table or array of them with one value inside it changed."""
    item: Any = tomlkit.value(raw)
    if not isinstance(item, Array | InlineTable):
        item = tomlkit.inline_table()
    here = item
    for part in path[:-1]:
        if isinstance(part, str) and part not in here:
            here[part] = tomlkit.inline_table()
        here = here[part]
    if value is None:
        here.pop(path[-1], None)
    else:
        here[path[-1]] = _inline(value) if isinstance(value, Mapping) else value
    return str(item.as_string())


def _header(found: list[Statement], path: Path) -> int:
    for place, statement in enumerate(found):
        if statement.kind == "header" and statement.path == path:
            return place
    raise KeyError(f"the document has no {'.'.join(map(str, path))} (lines are counted from 0)")


def _end_of(found: list[Statement], path: Path) -> int:
    """Just after the last statement of a table."""
    return 1 + max(place for place, s in enumerate(found) if s.kind != "trivia" and s.path[: len(path)] == path)


def _insert(found: list[Statement], path: Path, value: Value) -> None:
    table, key = path[:-1], path[-1]
    new = Statement("key", f"{key} = {_toml(value)}", 0, path)
    own = [i for i, s in enumerate(found) if s.kind == "key" and s.path[:-1] == table]
    if own:
        found.insert(own[-1] + 1, new)
    elif not table:
        found.insert(0, new)
    elif any(s.kind == "header" and s.path == table for s in found):
        found.insert(_header(found, table) + 1, new)
    elif any(isinstance(part, int) for part in table):
        _header(found, table)
    else:
        at = next((i for i, s in enumerate(found) if s.kind == "header" and s.path[0] == "line"), len(found))
        while at > 0 and found[at - 1].text.strip().startswith("#"):
            at -= 1
        header = Statement("header", f"[{'.'.join(map(str, table))}]", 0, table)
        found[at:at] = [header, new, Statement("trivia", "", 0, ())]
