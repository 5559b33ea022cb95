"""`fizzwright oil import` as a maker types it, to the review that uses the lot."""

from __future__ import annotations

import json
import os
import pty
import subprocess
from pathlib import Path

import pytest

from fizzwright.catalogue import open_workshop
from tests.cli.test_commands import COMMAND, run


@pytest.fixture
def report(quillmoor: Path) -> Path:
    return quillmoor / "reports/LV-2608-01.csv"


def test_without_answers_it_refuses_and_lists_what_is_doubtful(quillmoor: Path, report: Path) -> None:
    done = run("oil", "import", report)
    assert done.returncode == 2
    for said in (
        "--oil lavender?",
        "limonene + 1,8-cineole",
        "Lavendulyl acetate",
        "--accept-near",
        "--yes-to 'limonene + 1,8-cineole=d_limonene+1_8_cineole'",
        "nothing was kept",
    ):
        assert said in done.stderr
    assert "camphor 2.4 % is above" in " ".join(done.stdout.split())
    assert not (quillmoor / "lots/LV-2608-01.csv").exists()


def test_with_answers_it_keeps_the_lot_and_the_review_uses_it(quillmoor: Path, report: Path) -> None:
    done = run(
        "oil", "import", report, "--oil", "lavender", "--supplier", "Greenbank Oils", "--json",
        "--yes-to", "limonene + 1,8-cineole=d_limonene+1_8_cineole",
        "--yes-to", "Lavendulyl acetate=lavandulyl acetate", "--yes-to", "epi-α-Bisabolol=none",
    )  # fmt: skip
    assert done.returncode == 0, done.stderr
    data = json.loads(done.stdout)
    assert data["oil"] == "lavender" and data["lot"] == "LV-2608-01" and not data["doubtful"]
    assert {c["header"]: c["taken_for"] for c in data["columns"]}["Area %"] == "pct"
    assert [f["text"] for f in data["findings"] if f["level"] == "mind"] == [
        "camphor 2.4 % is above the usual 0 to 1.5 %."
    ]
    analysis = open_workshop(quillmoor)[1].lot_analyses["LV-2608-01"]
    assert analysis.oil == "lavender" and analysis.unnamed_pct == pytest.approx(0.35)
    recipe = quillmoor / "recipes/quay.toml"
    text = (quillmoor / "recipes/orchard_rain.toml").read_text(encoding="utf-8")
    recipe.write_text(
        text.replace('use = "sweet_orange"', 'use = "lavender"').replace("SO-2411-02", "LV-2608-01"), encoding="utf-8"
    )
    reviewed = json.loads(run("review", recipe, "--json").stdout)
    cited = {source for f in reviewed["sections"]["skin"]["figures"] for source in f["sources"]}
    assert "lot LV-2608-01" in cited


def test_at_a_terminal_it_asks_and_takes_the_answers(quillmoor: Path, report: Path) -> None:
    ours, theirs = pty.openpty()
    words = [COMMAND, "oil", "import", report]
    try:
        asked = subprocess.Popen(words, stdin=theirs, stdout=subprocess.PIPE, stderr=subprocess.PIPE)
        # the oil and the merged peak as proposed, then the two doubtful names
        os.write(ours, b"\n\nlavandulyl acetate\nnone\n")
        out, err = asked.communicate(timeout=60)
    finally:
        os.close(ours)
        os.close(theirs)
    assert asked.returncode == 0, err.decode()
    assert "Which oil is this?" in err.decode() and b"Kept as" in out
    shares = {s.constituent for s in open_workshop(quillmoor)[1].lot_analyses["LV-2608-01"].shares}
    assert {"lavandulyl acetate", "1,8-cineole", "d-limonene"} <= shares and "alpha-bisabolol" not in shares


def test_a_lot_there_already_is_left_alone_unless_told(quillmoor: Path, report: Path) -> None:
    words = ("oil", "import", report, "--oil", "lavender", "--accept-near")
    assert run(*words).returncode == 0
    path = quillmoor / "lots/LV-2608-01.csv"
    before = path.read_bytes()
    again = run(*words, "--supplier", "Other")
    assert again.returncode == 2 and "left alone" in again.stderr and path.read_bytes() == before
    assert run(*words, "--supplier", "Other", "--replace").returncode == 0
    assert path.read_bytes() != before
    elsewhere = run("oil", "import", report, "--oil", "sweet_orange", "--accept-near", "--lot", "SO-2411-02")
    assert elsewhere.returncode == 2 and "left alone" in elsewhere.stderr


def test_a_dry_run_keeps_nothing_and_needs_no_workshop(tmp_path: Path, report: Path) -> None:
    alone = tmp_path / "alone"
    alone.mkdir()
    copy = alone / "table.csv"
    copy.write_bytes(report.read_bytes())
    before = sorted(alone.rglob("*"))
    done = run("oil", "import", copy, "--dry-run", "--json", cwd=alone)
    assert done.returncode == 0, done.stderr
    assert json.loads(done.stdout)["likeness"][0]["oil"] == "lavender"
    assert sorted(alone.rglob("*")) == before
    lost = run("oil", "import", copy, "--oil", "lavender", cwd=alone)
    assert lost.returncode == 2 and "--workshop DIR" in lost.stderr


@pytest.mark.parametrize(
    ("words", "said"),
    [
        (("--oil", "lavendar"), "Nearest: lavender"),
        (("--oil", "nosuch"), "is not in the catalogue. Give the id of an oil"),
        (("--column", "percent=Area %"), "a column can be named as name, cas or pct"),
        (("--oil", "lavender", "--lot", "a;b"), "as on the bottle"),
        (("--yes-to", "nonsense"), "NAME=VALUE"),
        (("--yes-to", "Nerol=nerol"), "no peak of this report is called that"),
        (("--column", "pct=Nothing"), "no row of headers holds the columns you named"),
        (("--workshop", "/tmp"), "no workshop.toml"),
    ],
)
def test_wrong_words_are_refused_with_the_reason(report: Path, words: tuple[str, ...], said: str) -> None:
    done = run("oil", "import", report, *words)
    assert done.returncode == 2
    assert said in done.stderr and "Traceback" not in done.stderr


@pytest.mark.parametrize("name", ["none.csv", "."])
def test_a_file_that_is_not_there_is_said(quillmoor: Path, name: str) -> None:
    done = run("oil", "import", quillmoor / name)
    assert done.returncode == 2 and "Traceback" not in done.stderr


def test_the_demo_report_reads_the_same_as_a_workbook(quillmoor: Path, report: Path) -> None:
    from openpyxl import Workbook

    book = Workbook()
    sheet = book.active
    assert sheet is not None
    for line in report.read_text(encoding="utf-8").splitlines():
        sheet.append(line.split(";"))
    path = quillmoor / "reports/table.xlsx"
    book.save(path)
    one, other = (
        json.loads(run("oil", "import", file, "--oil", "lavender", "--dry-run", "--json").stdout)
        for file in (report, path)
    )
    assert one["shares"] == other["shares"]
