"""Temperature laws against the chemicals library, film velocities against handbook diffusivities and pool evaporation."""

import numpy as np
import pytest
from chemicals import vapor_pressure
from chemicals.environment import logP

from fizzwright.catalogue import load
from fizzwright.science import transfer
from fizzwright.science.neutralisation import water_vapour_pa


def antoine_or_perry(cas: str, kelvin: float) -> float | None:
    """A vapour pressure curve of the chemicals library (Perry 8th ed. table 2-8, else Poling, else VDI), in Pa."""
    perry = vapor_pressure.Psat_data_Perrys2_8
    if cas in perry.index:
        row = perry.loc[cas]
        c1, c2, c3, c4, c5 = (float(row[c]) for c in ("C1", "C2", "C3", "C4", "C5"))
        return float(np.exp(c1 + c2 / kelvin + c3 * np.log(kelvin) + c4 * kelvin**c5))
    poling = vapor_pressure.Psat_data_AntoinePoling
    if cas in poling.index:
        row = poling.loc[cas]
        return float(10 ** (float(row["A"]) - float(row["B"]) / (kelvin + float(row["C"]))))
    return None


# The table's vapour pressures come from EPI's measured set (read); the curves are Perry's and Poling's, fitted apart.
def test_table_vapour_pressures_lie_near_the_curves_of_the_chemicals_library():
    found = {}
    for entry in load().constituents.values():
        curve = antoine_or_perry(entry.cas, 298.15) if entry.cas else None
        # acids and long alkanes are solid at 25 C, where a liquid's curve is no guide
        if curve and entry.vapour_pressure_pa_25c and curve > 1:
            found[entry.id] = entry.vapour_pressure_pa_25c / curve
    assert len(found) >= 8, found
    assert all(0.6 < ratio < 1.6 for ratio in found.values()), found


def test_vapour_pressures_rise_with_warmth_as_the_library_says():
    # Perry and Poling again, from 25 to 38 C: the one-figure law keeps within 15 % of each curve's own rise
    rises = {}
    for entry in load().constituents.values():
        low, high = (antoine_or_perry(entry.cas, t) if entry.cas else None for t in (298.15, 311.15))
        if low and high and low > 1:
            rises[entry.id] = float(transfer.vapour_pressure_pa(low, 38.0)) / low / (high / low)
    assert len(rises) >= 8
    assert all(0.85 < ratio < 1.15 for ratio in rises.values()), rises


# The table's log P (EPI) against the CRC Handbook's own list as bundled with the chemicals library.
def test_table_partition_coefficients_agree_with_the_crc_list():
    apart = {}
    for entry in load().constituents.values():
        crc = logP(entry.cas, method="CRC") if entry.cas else None
        if crc is not None and entry.logp is not None:
            apart[entry.id] = entry.logp - crc
    assert len(apart) >= 12
    assert all(abs(difference) < 0.3 for difference in apart.values()), apart


# Two ways to one constant: Sander's compilation against vapour pressure (EPI) x molar mass / solubility (EPI).
def test_henry_constants_agree_with_vapour_pressure_over_solubility():
    ratios = []
    for c in load().constituents.values():
        if "SANDER" in " ".join(c.sources_of("henry_pa_m3_mol")) and None not in (
            c.vapour_pressure_pa_25c,
            c.molar_mass_g_mol,
            c.water_solubility_mg_l_25c,
        ):
            other = c.vapour_pressure_pa_25c * c.molar_mass_g_mol / c.water_solubility_mg_l_25c
            ratios.append(np.log10(c.henry_pa_m3_mol / other))
    assert len(ratios) >= 40
    # half of them within a factor of 2, nine in ten within a factor of 10: what measured Henry constants scatter by
    assert np.quantile(np.abs(ratios), 0.5) < np.log10(2)
    assert np.quantile(np.abs(ratios), 0.9) < 1.0


def test_henry_follows_the_solubility_slope_both_ways():
    # limonene, Sander: slope 4500 K; by hand exp(4500 (1/298.15 - 1/311.15)) = exp(0.6306) = 1.879
    assert float(transfer.henry_at(3310.0, 4500.0, 38.0)) / 3310.0 == pytest.approx(1.879, rel=1e-3)
    assert float(transfer.henry_at(3310.0, 4500.0, 25.0)) == 3310.0


def test_kaw_of_limonene_as_the_table_computed_it():
    limonene = load().constituents["d_limonene"]
    assert float(transfer.air_over_water(limonene.henry_pa_m3_mol, 25.0)) == pytest.approx(
        limonene.henry_dimensionless_kaw_25c, rel=5e-3
    )


# CRC Handbook, "Viscosity of water": 0.890 mPa s at 25 C, 0.653 at 40 C (memory). The formula is good to 2.5 %.
@pytest.mark.parametrize(("celsius", "mpa_s"), [(20, 1.002), (25, 0.890), (40, 0.653)])
def test_viscosity_of_water(celsius, mpa_s):
    assert float(transfer.water_viscosity_pa_s(celsius)) * 1000 == pytest.approx(mpa_s, rel=0.025)


# CRC Handbook, "Diffusion of gases" and "Diffusion coefficients in liquids at infinite dilution" (memory), 25 C:
# cm2/s in air: water 0.25, ethanol 0.12, benzene 0.093; 1e-5 cm2/s in water: oxygen 2.1, ethanol 1.24, benzene 1.02.
# The molar-mass rules miss by up to a quarter; ethanol, which drags water along, is slower in it than any rule says, by
# a third to a half. Velocities follow the two-thirds power and the square root, so they miss by less.
@pytest.mark.parametrize(("mass", "air"), [(18.0, 0.25), (46.1, 0.12), (78.1, 0.093)])
def test_diffusion_in_air(mass, air):
    assert float(transfer.diffusivity_air_m2_s(mass, 25.0)) * 1e4 == pytest.approx(air, rel=0.25)


@pytest.mark.parametrize(("mass", "water", "within"), [(32.0, 2.1, 0.25), (46.1, 1.24, 0.5), (78.1, 1.02, 0.25)])
def test_diffusion_in_water(mass, water, within):
    assert float(transfer.diffusivity_water_m2_s(mass, 25.0)) * 1e9 == pytest.approx(water, rel=within)


# Evaporation from an indoor pool, ASHRAE Handbook HVAC Applications, "Natatoriums" (Carrier 1918), still air:
# w = F (p_w - p_a)[kPa] x 0.089 / latent heat [kJ/kg], kg/(s m2), with the activity factor F from 0.5 (a quiet home pool)
# to 1 (a public one with bathers), all from memory. A tub belongs between the two; measured pools scatter by some 15 %.
@pytest.mark.parametrize(("water_c", "room_c", "humidity"), [(38, 25, 85), (38, 22, 60), (34, 26, 50), (30, 24, 60)])
def test_gas_side_evaporates_water_as_pools_do(water_c, room_c, humidity):
    missing = float(water_vapour_pa(water_c)) - humidity / 100 * float(water_vapour_pa(room_c))
    carrier = missing / 1000 * 0.089 / 2415
    kelvin = (water_c + room_c) / 2 + 273.15
    ours = float(transfer.gas_side_m_s(18.015, water_c, room_c, humidity)) * missing * 0.018015 / (8.314 * kelvin)
    assert 0.5 * 0.85 < ours / carrier < 1.0 * 1.15


def test_two_films_add_like_resistances_and_the_slower_rules():
    assert float(transfer.overall_m_s(1e-5, 1e-2, 10.0)) == pytest.approx(1e-5, rel=1e-3)
    assert float(transfer.overall_m_s(1e-5, 1e-2, 1e-6)) == pytest.approx(1e-8, rel=2e-3)


def test_cold_water_under_a_warm_room_keeps_the_still_air_velocity():
    warm, cold = (float(transfer.gas_side_m_s(136.0, t, 25.0, 60.0)) for t in (38.0, 15.0))
    assert 0 < cold < warm
