"""The documents tell the truth: their examples run, their files exist, their commands are the command's."""

import re
import tomllib
from pathlib import Path

import pytest

from fizzwright.catalogue import Catalogue, open_workshop
from fizzwright.cli import app
from fizzwright.recipe.document import read_text
from fizzwright.review import review

ROOT = Path(__file__).resolve().parents[2]
PAGES = [ROOT / "README.md", ROOT / "CONTRIBUTING.md", *sorted((ROOT / "docs").glob("*.md"))]


def blocks(page: Path, language: str) -> list[str]:
    return re.findall(rf"```{language}\n(.*?)```", page.read_text(encoding="utf-8"), re.S)


def test_the_recipe_of_the_manual_is_reviewed(catalogue: Catalogue):
    (text,) = blocks(ROOT / "docs/recipe.md", "toml")
    assert review(read_text(text, catalogue), catalogue).section("mould").figure("pieces").value >= 1


def test_the_workshop_of_the_manual_opens(tmp_path: Path):
    (text,) = blocks(ROOT / "docs/workshop.md", "toml")
    (tmp_path / "workshop.toml").write_text(text, encoding="utf-8")
    _, workshop = open_workshop(tmp_path)
    assert workshop.rates is not None and workshop.rates.margin_pct == 45


def test_the_start_of_a_recipe_in_the_readme_is_toml():
    (text,) = blocks(ROOT / "README.md", "toml")
    assert tomllib.loads(text)["line"]


@pytest.mark.parametrize("page", PAGES, ids=lambda page: page.name)
def test_links_lead_somewhere(page: Path):
    for target in re.findall(r"\]\(([^)#]+)\)", page.read_text(encoding="utf-8")):
        assert (page.parent / target).exists(), f"{page.name} links to {target}"


def test_the_readme_names_commands_that_exist_and_misses_none():
    said = set(re.findall(r"`fizzwright (\w+)", (ROOT / "README.md").read_text(encoding="utf-8")))
    names = {c.name or c.callback.__name__ for c in app.registered_commands if c.callback}
    names |= {
        group.name or (group.typer_instance and group.typer_instance.info.name) for group in app.registered_groups
    }
    assert said <= names
    documented = "".join(page.read_text(encoding="utf-8") for page in PAGES)
    missing = {name for name in names if f"fizzwright {name}" not in documented}
    assert not missing, f"no document tells of {missing}"
