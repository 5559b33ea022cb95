"""The recipe card: its words against a golden text, its layout against the sheet, and odd names against plain reading."""

from __future__ import annotations

import io
import os
from dataclasses import replace
from datetime import date
from pathlib import Path

import pypdf
import pypdfium2
import pytest

from fizzwright.catalogue import load, open_workshop
from fizzwright.demo import folder
from fizzwright.papers.card import card_pdf
from fizzwright.recipe.document import read_file, read_text
from fizzwright.recipe.weigh import weigh
from fizzwright.review import review
from fizzwright.review.figures import Figure, Notice, Review, Section, Step, Working

GOLDEN = Path(__file__).parent / "golden" / "card.txt"
DEMOS = sorted((folder() / "recipes").glob("*.toml"))
PAGES_AT_MOST = {"a5": 5, "a4": 2, "us-letter": 3}
SHEETS_MM = {"a5": (148, 210), "a4": (210, 297), "us-letter": (215.9, 279.4)}
SMALL = """
name = "Bench test"
kind = "fizzer"
made_on = 2026-11-25
[makes]
mould = "sphere_65"
count = 2
[[line]]
use = "sodium_bicarbonate"
amount = "197 g"
[[line]]
use = "citric_acid"
amount = "95 g"
[[line]]
use = "olive_oil"
amount = "10 g"
[[line]]
use = "lavender"
amount = "7 drops"
in = "olive_oil"
lot = "LV-2608-01"
"""


def words(pdf: bytes) -> str:
    """All text of a PDF with every run of white space as one space."""
    return " ".join(" ".join(page.extract_text() for page in pypdf.PdfReader(io.BytesIO(pdf)).pages).split())


def fixed_review(stops: tuple[Notice, ...] = (), left: float = 24.0) -> Review:
    """A review written by hand, so that the golden text changes only when the card does."""
    note = Working("as written in the test")
    caution = Notice("mind", "Acid stings.", "a reason that is not printed")
    return Review(
        "Bench test",
        date(2026, 11, 25),
        "2026.1",
        (
            Section("mix", "The mix", (Figure("total_g", 302.4, "g", "", note),)),
            Section(
                "mould",
                "Moulds",
                (Figure("pieces", 2, "", "", note), Figure("piece_g", 139.0, "g", "", note, low=125.2, high=155.4),
                 Figure("leftover_g", left, "g", f"About {left:.0f} g remain.", note)),
            ),
            Section("tub", "In the tub", (Figure("fizz_seconds", 228.0, "s", "It fizzes for about 3.8 minutes.", note),)),
            Section("air", "In the air", (Figure("intensity_0_10", 2.5, "", "The scent is faint.", note),)),
            Section(
                "skin",
                "Skin",
                (
                    Figure(
                        "limit.ifra.citral", 0.1, "%", "Citral: 0.1 % against 1.2 % allowed (a rule, as of a day).", note,
                        high_allowed=1.2, share_of_limit=0.083,
                    ),
                ),
                (*stops, Notice("mind", "Mind the film.", "a reason"), Notice("good", "All well.", "a reason")),
            ),
            Section(
                "making", "Making it", steps=(Step("Add the acid last", "Stir it in.", ("citric_acid",), (caution,)),),
                ready=("gloves", "a dry bowl"),
            ),
        ),
    )  # fmt: skip


def small_card(text: str = SMALL, stops: tuple[Notice, ...] = (), paper: str = "a5") -> bytes:
    catalogue = load()
    mix = weigh(read_text(text, catalogue), catalogue)
    return card_pdf(fixed_review(stops), mix, catalogue, paper=paper)


def test_the_card_says_what_the_golden_text_says() -> None:
    said = words(small_card())
    if os.environ.get("FIZZWRIGHT_GOLDEN"):
        GOLDEN.parent.mkdir(exist_ok=True)
        GOLDEN.write_text(said + "\n", encoding="utf-8")
    assert said == GOLDEN.read_text(encoding="utf-8").strip()


def test_a_stop_stands_before_the_weights() -> None:
    said = words(small_card(stops=(Notice("stop", "Far over the limit.", "Compared: this with that."),)))
    assert said.index("Stop: do not make this") < said.index("Far over the limit.") < said.index("sodium bicarbonate")
    assert "Stop" not in words(small_card())


@pytest.mark.parametrize("paper", SHEETS_MM)
def test_the_sheet_has_the_size_that_was_asked_for(paper: str) -> None:
    box = pypdf.PdfReader(io.BytesIO(small_card(paper=paper))).pages[0].mediabox
    size = (float(box.width) / 72 * 25.4, float(box.height) / 72 * 25.4)
    assert size == pytest.approx(SHEETS_MM[paper], abs=0.2)


def test_another_paper_is_refused_with_the_ones_allowed() -> None:
    with pytest.raises(ValueError, match="a5, a4, us-letter"):
        small_card(paper="a3")


def test_the_same_card_is_the_same_bytes() -> None:
    assert small_card() == small_card()


@pytest.mark.parametrize(
    "name",
    [
        '#panic("no")',
        "*bold* _thin_ `raw`",
        "$x^2$ \\\\ // note",
        "[a](b) <label> @ref #{1+1}",
        '#include \\"card.typ\\"',
    ],
)
def test_what_a_maker_types_is_never_read_as_markup(name: str) -> None:
    text = SMALL.replace("Bench test", name.replace('"no"', '\\"no\\"'))
    wanted = name.replace('\\"', '"').replace("\\\\", "\\")
    assert "".join(wanted.split()) in "".join(words(small_card(text)).split())


def test_signs_the_font_lacks_are_named_in_one_line() -> None:
    said = words(small_card(SMALL.replace("Bench test", "Bath שלום 🛁")))
    assert "The print font has no sign for: hebrew letter shin" in said
    assert "The print font" not in words(small_card())


def inside(pdf: bytes) -> None:
    """Every printed character lies within the side margins (12 mm) and above the lower edge of the sheet."""
    margin = 12 / 25.4 * 72
    for page in pypdfium2.PdfDocument(pdf):
        text = page.get_textpage()
        count = text.count_chars()
        # a space that ends a line hangs over the margin unseen
        boxes = [text.get_charbox(i) for i in range(count) if text.get_text_range(i, 1).strip()]
        seen = [box for box in boxes if box[2] > box[0] and box[3] > box[1]]
        assert seen
        assert min(box[0] for box in seen) > margin - 1
        assert max(box[2] for box in seen) < page.get_width() - margin + 1
        assert min(box[1] for box in seen) > 8
        assert max(box[3] for box in seen) < page.get_height() - 8


def test_a_very_long_name_wraps() -> None:
    inside(small_card(SMALL.replace("Bench test", "Wringwatersalt" * 7)))


@pytest.mark.parametrize("file", DEMOS, ids=lambda f: f.stem)
def test_every_demo_prints_inside_few_sheets_with_every_line_and_step(file: Path) -> None:
    catalogue, workshop = open_workshop(folder())
    recipe = read_file(file, catalogue)
    reviewed = review(recipe, catalogue, workshop)
    mix = weigh(recipe, catalogue, lot_analyses=workshop.lot_analyses)
    for paper, most in PAGES_AT_MOST.items():
        pdf = card_pdf(reviewed, mix, catalogue, paper=paper, workshop=workshop)
        assert len(pypdf.PdfReader(io.BytesIO(pdf)).pages) <= most, paper
        inside(pdf)
        said = "".join(words(pdf).split())
        for wanted in [*(m.name for m in mix.lines), *(s.title for s in reviewed.section("making").steps)]:
            assert "".join(wanted.split()) in said
    assert ("Stop:" in words(pdf)) == (reviewed.verdict == "stop")


def test_more_than_half_a_piece_left_over_is_said() -> None:
    catalogue = load()
    mix = weigh(read_text(SMALL, catalogue), catalogue)
    for left, told in ((69.0, False), (70.0, True)):
        said = words(card_pdf(fixed_review(left=left), mix, catalogue))
        assert (f"About {left:.0f} g remain." in said) == told


def test_a_card_that_says_stop_asks_for_nothing_and_records_no_batch() -> None:
    said = words(small_card(stops=(Notice("stop", "Far over the limit.", "a reason"),)))
    for heading in ("Have ready", "This batch"):
        assert heading not in said
        assert heading in words(small_card())


def test_scale_weights_follow_the_scales_of_the_workshop() -> None:
    catalogue, workshop = open_workshop(folder())
    mix = weigh(read_text(SMALL, catalogue), catalogue)
    for own, shown in ((workshop, "197.0 g"), (replace(workshop, scale_step_g=5.0), "195 g"), (None, "197 g")):
        assert shown in words(card_pdf(fixed_review(), mix, catalogue, workshop=own))


def test_a_named_drawer_is_what_the_card_measures_from() -> None:
    """197 g of soda, 95 g of acid and 10 g of oil are each far from a whole number of cups (NIST SP 1038: 236.6 ml)."""
    book = load()
    mix = weigh(read_text(SMALL, book), book)
    report = review(mix.recipe, book)
    said = words(card_pdf(report, mix, book, spoons=("1 cup", "1/2 cup", "1/4 cup", "1 tbsp")))
    assert "Measured by spoon (US measures)" in said and "By scale" in said
    assert "Spoons: 1 cup, 1/2 cup, 1/4 cup, 1 tbsp." in said
    only = words(card_pdf(report, mix, book, spoons=("1 cup",)))
    assert only.count("none of these spoons does it: weigh it") == 3 and "7 drops" in only
    assert "none of these" not in words(card_pdf(report, mix, book))
