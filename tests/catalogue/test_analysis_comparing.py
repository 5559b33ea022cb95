"""An analysis beside its species: shares, ranges, and hints. Figures are invented; the ranges are the catalogue's."""

from __future__ import annotations

from collections.abc import Mapping

import numpy as np
import pytest

from fizzwright.catalogue import Catalogue
from fizzwright.catalogue.analysis.comparing import Analysis, analyse, likest
from fizzwright.catalogue.analysis.naming import answered, match_peaks
from fizzwright.catalogue.analysis.reading import read_report


def compared(catalogue: Catalogue, oil: str, rows: Mapping[str, object]) -> Analysis:
    table = "Compound;CAS;%\n" + "".join(f"{name};;{pct}\n" for name, pct in rows.items())
    report = read_report(table.encode(), "a.csv")
    matches = answered(match_peaks(report.peaks, catalogue, catalogue.oils[oil]), {}, catalogue, accept_near=True)
    return analyse(report, matches, catalogue.oils[oil], catalogue)


def typical(catalogue: Catalogue, oil: str, **changed: float) -> dict[str, object]:
    rows = {p.constituent: p.typical_pct for p in catalogue.oils[oil].constituents if p.typical_pct}
    names = {k.id: k.name for k in catalogue.constituents.values()}
    return {**rows, **{names[entry]: pct for entry, pct in changed.items()}}


def texts(analysis: Analysis) -> str:
    return "\n".join(f"{finding.level}: {finding.text}" for finding in analysis.findings)


def of(analysis: Analysis, constituent: str) -> tuple[float, float, float]:
    (share,) = (share for share in analysis.shares if share.constituent == constituent)
    return share.share.least, share.share.pct, share.share.most


@pytest.mark.parametrize(
    "oil", ["lavender", "tea_tree", "peppermint", "lemongrass", "geranium", "sweet_orange", "spearmint"]
)
def test_a_typical_lot_raises_nothing_and_is_most_like_itself(catalogue: Catalogue, oil: str) -> None:
    analysis = compared(catalogue, oil, typical(catalogue, oil))
    assert "mind" not in texts(analysis)
    assert analysis.likeness[0] == (oil, pytest.approx(1.0, abs=1e-3))


def test_likeness_is_the_cosine_of_square_roots_worked_by_hand(catalogue: Catalogue) -> None:
    # sweet birch and wintergreen: numpy's own dot product over the typical figures of both, named by constituent
    one, other = (
        {p.constituent: p.typical_pct or 0.0 for p in catalogue.oils[oil].constituents}
        for oil in ("sweet_birch", "wintergreen")
    )
    names = sorted({*one, *other})
    a, b = (np.sqrt([oil.get(name, 0.0) for name in names]) for oil in (one, other))
    wanted = float(a @ b / np.sqrt((a @ a) * (b @ b)))
    analysis = compared(catalogue, "sweet_birch", typical(catalogue, "sweet_birch"))
    assert dict(analysis.likeness)["wintergreen"] == pytest.approx(wanted, abs=1e-3)


def test_a_merged_peak_is_shared_out_as_the_species_holds_it(catalogue: Catalogue) -> None:
    analysis = compared(catalogue, "lavender", {"Linalool": 40, "Linalyl acetate": 35, "limonene + 1,8-cineole": 1.5})
    usual = {p.constituent: p.typical_pct or 0.0 for p in catalogue.oils["lavender"].constituents}
    part = usual["d-limonene"] / (usual["d-limonene"] + usual["1,8-cineole"])
    assert of(analysis, "d_limonene") == pytest.approx((0.0, 1.5 * part, 1.5))
    assert of(analysis, "1_8_cineole") == pytest.approx((0.0, 1.5 * (1 - part), 1.5))


def test_isomers_under_one_name_keep_their_known_sum(catalogue: Catalogue) -> None:
    analysis = compared(catalogue, "lemongrass", {"Citral": 75, "Myrcene": 5})
    parts = [of(analysis, entry) for entry in ("geranial", "neral")]
    assert [sum(column) for column in zip(*parts, strict=True)] == pytest.approx([75, 75, 75])


def test_peaks_of_one_constituent_are_added(catalogue: Catalogue) -> None:
    analysis = compared(
        catalogue, "lavender", {"(R)-Linalool": 30, "(S)-Linalool": 3, "Linalyl acetate": 40, "Linalol": "<0.2"}
    )
    assert of(analysis, "linalool") == pytest.approx((33.0, 33.1, 33.2))


@pytest.mark.parametrize(
    ("camphor", "said"),
    [
        # ISO 3515's ceiling for camphor as the catalogue read it: 1.5 %
        (1.5, ""), (1.51, "mind: camphor 1.51 % is above the usual 0 to 1.5 %"), (2.4, "mind: camphor 2.4 % is above"),
    ],
)  # fmt: skip
def test_what_lies_outside_a_published_range_is_told(catalogue: Catalogue, camphor: float, said: str) -> None:
    found = texts(compared(catalogue, "lavender", typical(catalogue, "lavender", camphor=camphor)))
    assert said in found and ("camphor" in found) is bool(said)


def test_what_is_below_or_missing_is_told(catalogue: Catalogue) -> None:
    rows = typical(catalogue, "lavender", linalyl_acetate=20.0)
    del rows["(z)-beta-ocimene"]
    found = texts(compared(catalogue, "lavender", rows))
    assert "mind: linalyl acetate 20 % is below the usual 25 to 47 %" in found
    assert "mind: (z)-beta-ocimene is not listed; Lavender usually holds 1 to 10 %" in found


def test_another_oil_is_told_by_its_profile(catalogue: Catalogue) -> None:
    found = texts(compared(catalogue, "lavender", typical(catalogue, "spike_lavender")))
    assert "more like Spike lavender" in found and "mixed up" in found


def test_an_aged_oil_is_hinted_at_without_a_verdict(catalogue: Catalogue) -> None:
    aged = typical(catalogue, "tea_tree", p_cymene=16.0, gamma_terpinene=11.0, alpha_terpinene=4.0)
    found = texts(compared(catalogue, "tea_tree", aged))
    assert "More p-cymene and less gamma-terpinene and alpha-terpinene than usual" in found
    assert "can look like this" in found
    for word in ("fake", "fraud", "adulterated", "safe"):
        assert word not in found


def test_what_the_species_does_not_name_is_told(catalogue: Catalogue) -> None:
    found = texts(compared(catalogue, "lavender", typical(catalogue, "lavender", methyl_eugenol=0.8)))
    assert "mind: methyl eugenol 0.8 % is not among what the tables name in Lavender, and it is limited" in found


def test_totals_and_what_has_no_name(catalogue: Catalogue) -> None:
    thin = compared(catalogue, "lavender", {"Linalool": 33, "Linalyl acetate": 30, "Peak 17": 3})
    assert "add up to only 66 %" in texts(thin)
    assert thin.unnamed_pct == 3 and "mind: 3 % has no name here" in texts(thin)
    full = compared(catalogue, "lavender", {"Linalool": 44, "Linalyl acetate": 45, "Lavandulyl acetate": 14})
    assert "add up to 103 %: rounding" in texts(full)


def test_a_stated_total_that_is_not_the_sum_is_told(catalogue: Catalogue) -> None:
    report = read_report(b"Compound;%\nLinalool;40\nCamphor;40\nTotal;98.5\n", "a.csv")
    oil = catalogue.oils["lavender"]
    found = texts(analyse(report, match_peaks(report.peaks, catalogue, oil), oil, catalogue))
    assert "states 98.5 % in all, its rows come to 80 %" in found


def test_nothing_matched_is_like_nothing(catalogue: Catalogue) -> None:
    report = read_report(b"Compound;%\nPeak 1;40\nPeak 2;40\n", "a.csv")
    assert likest(match_peaks(report.peaks, catalogue), catalogue) == ()
