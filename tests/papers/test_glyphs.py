"""Which signs the paper fonts hold, and what a maker is told of those they lack."""

from __future__ import annotations

import pytest

from fizzwright.papers import glyphs


def test_there_are_paper_fonts() -> None:
    assert len(list(glyphs.FONTS.glob("*.ttf"))) == 8


def test_greek_and_polish_print_and_hebrew_and_pictures_are_named() -> None:
    assert glyphs.missing_in_words("Świeży λουτρό Морской ½ °C") == ""
    said = glyphs.missing_in_words("ש 🛁")
    assert "hebrew letter shin" in said
    assert "bathtub" in said


def test_many_missing_signs_are_counted_not_listed() -> None:
    assert "and 6 more" in glyphs.missing_in_words("אבגדהוזחטי")


def test_without_fonts_the_maker_is_told_what_to_do(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(glyphs, "FONTS", glyphs.FONTS / "nowhere")
    glyphs.printable.cache_clear()
    with pytest.raises(glyphs.FontsMissing, match="make run"):
        glyphs.printable()
    glyphs.printable.cache_clear()
