"""Numbers that can be computed, computed again from outside: atomic weights, geometry, the registry's check digit."""

import math
import re
from collections.abc import Mapping

import pytest
import scipy.constants

from fizzwright.catalogue import Catalogue
from fizzwright.catalogue.checks import cas_is_right

# IUPAC/CIAAW abridged standard atomic weights 2021 (Prohaska et al., Pure Appl. Chem. 94 (2022) 573), four to five digits.
ATOMIC_WEIGHTS = {
    "H": 1.008, "B": 10.81, "C": 12.011, "N": 14.007, "O": 15.999, "Na": 22.990, "Mg": 24.305, "Al": 26.982,
    "Si": 28.085, "P": 30.974, "S": 32.06, "Cl": 35.45, "K": 39.098, "Ca": 40.078, "Ti": 47.867, "Cr": 51.996,
    "Mn": 54.938, "Fe": 55.845, "Zn": 65.38, "Bi": 208.98,
}  # fmt: skip


def molar_mass(formula: str, weights: Mapping[str, float] = ATOMIC_WEIGHTS) -> float:
    total = 0.0
    for part in formula.split("."):
        body = part.lstrip("0123456789")
        count = part.removesuffix(body)
        stack = [0.0]
        for element, number, opening, closing, times in re.findall(r"([A-Z][a-z]?)(\d*)|(\()|(\))(\d*)", body):
            if opening:
                stack.append(0.0)
            elif closing:
                inner = stack.pop()
                stack[-1] += inner * int(times or 1)
            else:
                stack[-1] += weights.get(element, 0.0) * int(number or 1)
        total += int(count or 1) * stack[0]
    return total


def test_the_parser_gives_the_handbook_molar_masses() -> None:
    # CRC Handbook of Chemistry and Physics: citric acid, sodium bicarbonate, Epsom salt, monocalcium phosphate.
    assert molar_mass("C6H8O7") == pytest.approx(192.124, abs=0.005)
    assert molar_mass("NaHCO3") == pytest.approx(84.007, abs=0.005)
    assert molar_mass("MgSO4.7H2O") == pytest.approx(246.475, abs=0.02)
    assert molar_mass("Ca(H2PO4)2") == pytest.approx(234.05, abs=0.02)


def test_molar_masses_follow_from_formulas(catalogue: Catalogue) -> None:
    checked = 0
    for entry in (*catalogue.materials.values(), *catalogue.constituents.values()):
        if entry.molar_mass_g_mol is not None:
            assert entry.formula, entry.id
            assert entry.molar_mass_g_mol == pytest.approx(molar_mass(entry.formula), abs=0.02), entry.id
            checked += 1
    assert checked > 300


def test_the_stoichiometric_masses(catalogue: Catalogue) -> None:
    # 3 NaHCO3 : 1 citric acid by mole is 1.312 : 1 by mass (the check value).
    base = catalogue.materials["sodium_bicarbonate"]
    acid = catalogue.materials["citric_acid"]
    assert base.molar_mass_g_mol and acid.molar_mass_g_mol and acid.acid_equivalents_per_mol
    ratio = acid.acid_equivalents_per_mol * base.molar_mass_g_mol / acid.molar_mass_g_mol
    assert ratio == pytest.approx(1.312, abs=0.0005)
    assert catalogue.fact("ratio_stoich_citric").typical == pytest.approx(ratio, abs=0.0005)


def test_carbonate_counts_follow_from_formulas(catalogue: Catalogue) -> None:
    for material in catalogue.materials.values():
        if material.carbonate_per_mol is not None:
            # Every carbon of these salts is a carbonate carbon.
            carbons = molar_mass(material.formula, {"C": 1.0})
            assert material.carbonate_per_mol == carbons, material.id


def test_only_carbonates_free_gas_and_only_acids_and_bases_count(catalogue: Catalogue) -> None:
    for material in catalogue.materials.values():
        assert (material.carbonate_per_mol is None) or material.function == "base", material.id
        assert (material.acid_equivalents_per_mol is None) == (material.function != "acid"), material.id
        assert (material.base_equivalents_per_mol is None) == (material.function != "base"), material.id


def test_the_cas_check_digit_by_the_registry_s_own_example() -> None:
    # The registry's page explains the digit with 107-07-3; 58-08-2 (caffeine) is another well known number.
    assert cas_is_right("107-07-3")
    assert cas_is_right("58-08-2")
    assert not cas_is_right("107-07-4")
    assert not cas_is_right("107-70-3")
    assert not cas_is_right("107073")
    assert not cas_is_right("")


def test_sphere_volumes(catalogue: Catalogue) -> None:
    spheres = [m for m in catalogue.moulds.values() if m.shape == "sphere" and m.volume_ml is not None]
    assert len(spheres) == 9
    for mould in spheres:
        assert mould.volume_ml == pytest.approx(4 / 3 * math.pi * (mould.dims_mm["diameter_mm"] / 20) ** 3, abs=0.051)


def test_dimensionless_henry_constants(catalogue: Catalogue) -> None:
    checked = 0
    for constituent in catalogue.constituents.values():
        if constituent.henry_pa_m3_mol and constituent.henry_dimensionless_kaw_25c:
            expected = constituent.henry_pa_m3_mol / (scipy.constants.R * 298.15)
            assert constituent.henry_dimensionless_kaw_25c == pytest.approx(expected, rel=0.01), constituent.id
            checked += 1
    assert checked > 80


def test_vapour_pressure_falls_along_the_alkanes(catalogue: Catalogue) -> None:
    names = ("heptadecane", "nonadecane", "eicosane", "heneicosane", "tricosane")
    pressures = [p for name in names if (p := catalogue.constituents[name].vapour_pressure_pa_25c) is not None]
    assert len(pressures) >= 3
    assert pressures == sorted(pressures, reverse=True)


def test_alcohol_shares_follow_from_volume_percent(catalogue: Catalogue) -> None:
    # Density of pure 2-propanol 0.785 g/ml and ethanol 0.789 g/ml at 20 C: CRC Handbook.
    for material_id, volume_share, pure in (
        ("isopropyl_alcohol_70", 0.70, 0.785),
        ("isopropyl_alcohol_91", 0.91, 0.785),
        ("ethanol_95", 0.955, 0.789),
        ("witch_hazel", 0.145, 0.789),
    ):
        material = catalogue.materials[material_id]
        assert material.true_density_g_ml
        expected = 100 * volume_share * pure / material.true_density_g_ml
        assert material.alcohol_mass_pct == pytest.approx(expected, abs=1.0), material_id
        assert material.alcohol_mass_pct + material.water_mass_pct == pytest.approx(100.0)


def test_isopropyl_exposure_limits_convert(catalogue: Catalogue) -> None:
    # The pocket guide to chemical hazards prints 400 ppm as 980 mg/m3 (24.45 l/mol at 25 C).
    assert catalogue.fact("ipa_osha").max == 400
    mass = catalogue.materials["isopropyl_alcohol_99"].molar_mass_g_mol
    assert mass
    assert 400 * mass / 24.45 == pytest.approx(980, rel=0.005)


@pytest.mark.parametrize(
    ("use", "l_mol_cm"),
    # Molar absorptivities that teaching laboratories print for the food dyes (from memory), at the peak in water.
    [("fdc_blue_1", 130_000), ("fdc_red_40", 25_900), ("fdc_yellow_5", 27_300), ("dc_red_28", 103_000)],
)
def test_specific_absorbances_of_dyes_fit_their_molar_ones(catalogue: Catalogue, use: str, l_mol_cm: float) -> None:
    g_mol = catalogue.materials[use].molar_mass_g_mol or 829.6  # phloxine B, C20H2Br4Cl4Na2O5
    dye = catalogue.dyes[use]
    assert (dye.e1pct_1cm or 0.0) * g_mol / 10 == pytest.approx(l_mol_cm, rel=0.05)


def test_every_colour_of_the_materials_says_how_it_takes_light(catalogue: Catalogue) -> None:
    colours = {m.id for m in catalogue.materials.values() if m.function == "colourant"}
    assert colours <= catalogue.dyes.keys()
    for dye in catalogue.dyes.values():
        assert dye.name == catalogue.materials[dye.id].name
        dissolves = catalogue.materials[dye.id].water_solubility_class == "soluble"
        assert (dye.dissolves_pct == 100) == dissolves, dye.id
