"""The command as a maker types it: in a process of its own, with the exit codes and messages of the contract."""

import json
import os
import re
import subprocess
import sys
from pathlib import Path

import pytest

from fizzwright.catalogue import open_workshop
from fizzwright.recipe.document import read_file
from fizzwright.review import review

COMMAND = Path(sys.executable).parent / "fizzwright"

CONTRACT = {
    "mix": ["total_g", "cured_g", "share_pct.sodium_bicarbonate", "oil_total_pct"],
    "mould": ["volume_ml", "piece_g", "pieces", "leftover_g", "packed_density_g_ml"],
    "fizz": [
        "acid_to_base_eq",
        "citric_to_bicarb_mass",
        "co2_potential_g",
        "co2_potential_l",
        "leftover_base_g",
        "leftover_acid_g",
    ],
    "tub": [
        "ph_start",
        "ph_dissolved",
        "ph_settled",
        "alkalinity_mmol_l",
        "sodium_mmol_l",
        "ionic_strength_mol_l",
        "fizz_seconds",
        "floats",
        "co2_released_l",
    ],
    "air": [
        "peak_mg_m3.d_limonene",
        "odour_activity.d_limonene",
        "intensity_0_10",
        "minutes_to_peak",
        "guide_share.d_limonene",
    ],
    "skin": ["neat_in_carrier_pct", "in_product_pct", "in_bath_mg_l", "film_pct"],
    "cost": ["batch", "piece", "price_for_margin"],
    "kitchen": ["chance_over_limit.ifra.citral", "piece_g", "acid_to_base_eq", "ph_settled"],
}
"""Figure ids of design section 4, for the sections of this stage."""


def run(*words: object, cwd: Path | None = None) -> subprocess.CompletedProcess[str]:
    return subprocess.run([COMMAND, *map(str, words)], capture_output=True, text=True, cwd=cwd, timeout=120)


@pytest.fixture
def orchard(quillmoor: Path) -> Path:
    return quillmoor / "recipes/orchard_rain.toml"


def test_review_as_json_holds_the_contract(orchard):
    done = run("review", orchard, "--json")
    assert done.returncode == 0, done.stderr
    data = json.loads(done.stdout)
    assert data["fizzwright"] == 1
    assert list(data["sections"]) == [
        "mix",
        "mould",
        "fizz",
        "tub",
        "air",
        "skin",
        "making",
        "making_day",
        "cost",
        "kitchen",
    ]
    for section, wanted in CONTRACT.items():
        figures = {f["id"]: f for f in data["sections"][section]["figures"]}
        assert set(wanted) <= set(figures)
        for figure in figures.values():
            if not isinstance(figure["value"], str):
                assert figure["low"] <= figure["value"] <= figure["high"], figure["id"]
            assert figure["text"].strip().endswith((".", "!", "?")), figure["id"]
            assert figure["working"]["equation"], figure["id"]
            assert figure["basis"] in ("exact", "published", "estimate", "your_own_batches")
    assert data["sections"]["making"]["steps"]


def test_every_demo_recipe_has_the_verdict_it_was_written_for(quillmoor):
    catalogue, workshop = open_workshop(quillmoor)
    paths = sorted((quillmoor / "recipes").glob("*.toml"))
    verdicts = {path.stem: review(read_file(path, catalogue), catalogue, workshop).verdict for path in paths}
    assert {name for name, verdict in verdicts.items() if verdict == "stop"} == {"hearth", "noon"}
    assert {path.stem: run("review", path).returncode for path in paths if path.stem in ("hearth", "drift")} == {
        "hearth": 1,
        "drift": 0,
    }


def test_every_citation_of_every_review_is_in_the_catalogue(quillmoor):
    catalogue, workshop = open_workshop(quillmoor)
    for path in sorted((quillmoor / "recipes").glob("*.toml")):
        data = review(read_file(path, catalogue), catalogue, workshop).as_dict()
        for section in data["sections"].values():
            for thing in (*section["figures"], *section["notices"]):
                unknown = [s for s in thing["sources"] if s not in catalogue.sources]
                assert not unknown, (path.name, thing, unknown)


def test_no_review_calls_anything_safe(quillmoor):
    catalogue, workshop = open_workshop(quillmoor)
    for path in sorted((quillmoor / "recipes").glob("*.toml")):
        said = json.dumps(review(read_file(path, catalogue), catalogue, workshop).as_dict())
        assert not re.search(r"\bsafe(ly)?\b", said, re.I), path.name


def test_the_working_of_a_figure(orchard):
    done = run("review", orchard, "--why", "mould.piece_g")
    assert done.returncode == 0 and "mould volume x packed density" in done.stdout
    data = json.loads(run("review", orchard, "--why", "mould.piece_g", "--json").stdout)
    inputs = {i["name"]: i["value"] for i in data["figure"]["working"]["inputs"]}
    assert data["figure"]["value"] == pytest.approx(inputs["mould volume"] * inputs["packed density"], rel=1e-3)
    two = run("review", orchard, "--why", "piece_g")
    assert two.returncode == 2 and "mould.piece_g, kitchen.piece_g" in two.stderr
    missed = run("review", orchard, "--why", "mould.peace_g")
    assert missed.returncode == 2 and "mould.piece_g" in missed.stderr


@pytest.mark.parametrize(
    ("name", "data", "words"),
    [
        ("empty.toml", b"", "empty"),
        ("prose.toml", b"two cups of soda, one of acid", "line 1"),
        ("binary.toml", bytes(range(256)), ""),
        ("large.toml", b"# " + b"x" * 10_000_000, "larg"),
        (
            "unknown.toml",
            b'name="A"\nkind="fizzer"\n[[line]]\nuse="sodium_bicarbonat"\namount="3 g"\n',
            "sodium_bicarbonate",
        ),
        ("nan.toml", b'name="A"\nkind="fizzer"\n[[line]]\nuse="citric_acid"\namount="nan g"\n', "line 5"),
        ("huge.toml", b'name="A"\nkind="fizzer"\n[[line]]\nuse="citric_acid"\namount="1e308 g"\n', "line 5"),
        ("none.toml", b'name="A"\nkind="fizzer"\n', "line"),
    ],
)
def test_what_cannot_be_read_is_refused_with_a_reason(tmp_path, name, data, words):
    path = tmp_path / name
    path.write_bytes(data)
    done = run("review", path)
    assert done.returncode == 2, done.stdout
    assert name in done.stderr and words in done.stderr
    assert "Traceback" not in done.stderr
    assert path.read_bytes() == data


@pytest.mark.parametrize("command", [("tidy",), ("size", "--count", "3"), ("paper", "card")])
def test_no_command_writes_for_a_recipe_it_cannot_read(tmp_path, command):
    path = tmp_path / "unknown.toml"
    path.write_text('name="A"\nkind="fizzer"\n[[line]]\nuse="sodium_bicarbonat"\namount="3 g"\n')
    before = path.read_bytes()
    done = run(*command, path)
    assert done.returncode == 2 and "sodium_bicarbonate" in done.stderr and "Traceback" not in done.stderr
    assert path.read_bytes() == before
    assert sorted(p.name for p in tmp_path.iterdir()) == ["unknown.toml"]


def test_a_file_that_is_not_there(tmp_path):
    done = run("review", tmp_path / "gone.toml")
    assert done.returncode == 2 and "no such file" in done.stderr


def test_tidy_keeps_comments_and_meaning(orchard):
    before = orchard.read_text(encoding="utf-8")
    orchard.write_text("# mine\n" + before.replace('"1 1/2 cup"', '"1½ cups"  # heaped? no'), encoding="utf-8")
    assert "would be" in run("tidy", "--check", orchard).stdout
    assert run("tidy", orchard).returncode == 0
    after = orchard.read_text(encoding="utf-8")
    assert "# mine" in after and "# heaped? no" in after and '"1 1/2 cup"' in after
    assert "already tidy" in run("tidy", orchard).stdout


def test_size_never_writes_over_a_file(orchard, tmp_path):
    out = tmp_path / "eight.toml"
    assert run("size", orchard, "--count", 8, "--out", out).returncode == 0
    kept = out.read_bytes()
    done = run("size", orchard, "--count", 9, "--out", out)
    assert done.returncode == 2 and "already a file" in done.stderr
    assert out.read_bytes() == kept
    pieces = json.loads(run("review", out, "--json").stdout)["sections"]["mould"]["figures"]
    assert next(f["value"] for f in pieces if f["id"] == "pieces") in (7, 8)


def test_catalogue_finds_in_spite_of_slips():
    data = json.loads(run("catalogue", "lavander", "--json").stdout)
    assert data["hits"][0]["id"] == "lavender"
    assert any(row["sources"] for row in data["hits"][0]["values"])
    assert "sodium_bicarbonate" in run("catalogue", "144-55-8").stdout
    missed = run("catalogue", "qqqqzzzz")
    assert missed.returncode == 0 and "nothing in the catalogue" in missed.stdout


def test_card_is_a_pdf(orchard, tmp_path):
    out = tmp_path / "card.pdf"
    done = run("paper", "card", orchard, "--out", out)
    assert done.returncode == 0, done.stderr
    assert out.read_bytes().startswith(b"%PDF-")
    assert run("paper", "poster", orchard).returncode == 2
    kept = orchard.read_bytes()
    for target in (orchard, orchard.parent.parent / "prices.csv"):
        assert run("paper", "card", orchard, "--out", target).returncode == 2
    disguised = tmp_path / "prices.pdf"
    disguised.write_text("use,supplier")
    refused = run("paper", "card", orchard, "--out", disguised)
    assert refused.returncode == 2 and "no PDF" in refused.stderr and disguised.read_text() == "use,supplier"
    assert orchard.read_bytes() == kept


def test_schema_is_json():
    assert json.loads(run("schema").stdout)["$schema"].startswith("https://json-schema.org/")


def test_serve_refuses_a_folder_that_is_no_workshop(tmp_path):
    done = run("serve", tmp_path)
    assert done.returncode == 2 and "workshop.toml" in done.stderr


def test_a_reader_that_has_enough_is_no_verdict(orchard):
    # a reader that is gone before the first word: with `head -1` all may be written before it leaves
    reader, writer = os.pipe()
    os.close(reader)
    try:
        done = subprocess.run(
            [COMMAND, "review", orchard], stdout=writer, stderr=subprocess.PIPE, text=True, timeout=120
        )
    finally:
        os.close(writer)
    assert done.returncode == 141 and "Traceback" not in done.stderr


def test_tidy_follows_a_link_and_leaves_a_read_only_file(orchard, tmp_path):
    text = orchard.read_text(encoding="utf-8").replace("\n", "\r\n").replace('"1 1/2 cup"', '"1½ cups"')
    orchard.write_bytes(text.encode())
    link = tmp_path / "mine.toml"
    link.symlink_to(orchard)
    assert run("tidy", link).returncode == 0
    after = orchard.read_bytes()
    assert link.is_symlink() and b'"1 1/2 cup"' in after
    assert after.count(b"\r\n") == after.count(b"\n")
    orchard.write_bytes(after.replace(b'"1 1/2 cup"', b'"1.5 cup"'))
    orchard.chmod(0o444)
    refused = run("tidy", orchard)
    assert refused.returncode == 2 and "read-only" in refused.stderr


def test_the_demo_says_where_it_cannot_be_laid():
    done = run("demo", "--folder", "/dev/null/x")
    assert done.returncode == 2 and "cannot be laid here" in done.stderr


def test_the_short_review_keeps_its_ids_whole_and_all_tells_the_rest(orchard):
    short, full = run("review", orchard).stdout, run("review", orchard, "--all").stdout
    assert "mould.piece_g" in short and "skin.neat_in_carrier_pct" in short
    assert len(short.splitlines()) < len(full.splitlines())
    assert "mould.filler_to_whole_g" in full and "mould.filler_to_whole_g" not in short
    assert "to mind" in short.splitlines()[1]
    order = [
        short.index(words)
        for words in ("Name on the label", "as written", "mould.piece_g", "Step by step", "Goes with")
    ]
    assert order == sorted(order)


def test_on_a_narrow_screen_sentences_are_not_squeezed_by_long_ids(quillmoor, monkeypatch):
    monkeypatch.setenv("COLUMNS", "80")
    lines = run("review", quillmoor / "recipes/hearth.toml").stdout.splitlines()
    assert any(line.strip() == "skin.limit.ifra.cinnamaldehyde" for line in lines)
    assert max(map(len, lines)) <= 80
    skin = lines[lines.index("On the skin") + 1 : lines.index("Making day")]
    assert len(skin) < 60, "a dozen figures of a few lines each"


def test_a_review_in_todays_air(quillmoor):
    drift = quillmoor / "recipes/orchard_rain.toml"
    damp, dry = (
        json.loads(run("review", drift, "--json", "--room", air).stdout)["sections"]["making_day"]
        for air in ("21 C 75 %", "70 F 38 %")
    )
    word = {
        name: next(f for f in section["figures"] if f["id"] == "day")
        for name, section in (("damp", damp), ("dry", dry))
    }
    assert (word["damp"]["value"], word["dry"]["value"]) == ("wait", "dry")
    assert "read today" in word["dry"]["text"]
    refused = run("review", drift, "--room", "21 C 120 %")
    assert refused.returncode == 2 and "120" in refused.stderr and "0 to 100" in refused.stderr
