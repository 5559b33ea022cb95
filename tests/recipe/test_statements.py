"""Cutting a document into statements: rows and values agree with what tomlkit and tomllib read."""

import tomllib

from hypothesis import given

from fizzwright.recipe.statements import join, key_value_comment, rows, split

from .documents import ORCHARD, documents

AWKWARD = '''\
name = """a [[line]] inside
[[line]]
a text"""
sold_in = [ "us", # [ not a bracket
  "eu" ]
"kind" = 'fizz#er' # a comment
tub.litres = 150
[ makes ] # spaced
count=4
[[ line ]]
use = "a\\"b#"
[[line]]
use = 'c'
in = """""quoted""""" # end
'''


def test_joining_gives_the_document_back() -> None:
    for text in (ORCHARD, AWKWARD):
        assert join(split(text)) == text


def test_rows_are_where_a_person_would_look() -> None:
    found = rows(AWKWARD)
    table = AWKWARD.split("\n")
    assert table[found["kind",] - 1].startswith('"kind"')
    assert table[found["tub", "litres"] - 1].startswith("tub.litres")
    assert table[found["makes", "count"] - 1] == "count=4"
    assert table[found["line", 0] - 1] == "[[ line ]]"
    assert table[found["line", 0, "use"] - 1] == 'use = "a\\"b#"'
    assert table[found["line", 1, "in"] - 1].startswith("in =")


def test_keys_values_and_comments_come_apart() -> None:
    for statement in split(AWKWARD):
        if statement.kind == "key":
            key, value, comment = key_value_comment(statement.text)
            assert tomllib.loads(f"{key} = {value}") == tomllib.loads(statement.text)
            assert not comment or comment.strip().startswith("#")
    assert key_value_comment('a.b = "x # y"   # z ') == ("a.b", '"x # y"', "   # z")


@given(documents())
def test_every_statement_of_a_good_document_is_good_alone(text: str) -> None:
    found = split(text)
    assert join(found) == text.rstrip("\n") + "\n"
    for statement in found:
        tomllib.loads(statement.text)
    keys = [s for s in found if s.kind == "key"]
    assert all(s.text == "\n".join(text.split("\n")[s.row - 1 :][: s.text.count("\n") + 1]) for s in keys)
