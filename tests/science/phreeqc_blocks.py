"""PHREEQC (US Geological Survey) as a judge of bath water: its own database, with the acids of a fizzer added.

The inorganic constants are those of the phreeqc.dat that phreeqpython ships, not ours. Acids and their metal complexes
are written here afresh from the published values (see equilibria.csv for the citations), in PHREEQC's own keywords.
"""

import re
from dataclasses import dataclass
from pathlib import Path

import numpy as np
import phreeqpython

FOLDER = Path(phreeqpython.__file__).parent / "database"
GAS_J_MOL_K = 8.314462618

# name, charge, molar mass of the anion, then per proton: cumulative pK, sum of enthalpies (kJ/mol), of heat capacities
# (J/mol K), all of dissociation. Citric: Benezeth et al. 1997. Tartaric, malic: Goldberg et al. 2002. Others: CRC.
ACIDS = {
    "Citrate": (3, 189.102, [(6.397, -3.6, -231), (11.156, -1.4, -423), (14.283, 2.7, -585)]),
    "Tartrate": (2, 148.072, [(4.366, 0.93, -218), (7.402, 4.12, -365)]),
    "Malate": (2, 132.072, [(5.097, -1.42, 0), (8.556, 1.5, 0)]),
    "Fumarate": (2, 114.057, [(4.38, 0, 0), (7.40, 0, 0)]),
    "Succinate": (2, 116.073, [(5.64, 0, 0), (9.85, 0, 0)]),
    "Adipate": (2, 144.126, [(5.41, 0, 0), (9.82, 0, 0)]),
    "Ascorbate": (1, 175.116, [(4.04, 0, 0)]),
    "Lactate": (1, 89.070, [(3.86, 0, 0)]),
}
# reaction, log K and enthalpy in kJ/mol as minteq.v4.dat prints them (NIST Standard Reference Database 46)
COMPLEXES = """
Ca+2 + Citrate-3 = CaCitrate- ; 4.87 ; -8.368
Ca+2 + Citrate-3 + H+ = CaHCitrate ; 9.26 ; -0.8368
Ca+2 + Citrate-3 + 2 H+ = CaH2Citrate+ ; 12.257 ; 0
Mg+2 + Citrate-3 = MgCitrate- ; 4.89 ; 8.368
Mg+2 + Citrate-3 + H+ = MgHCitrate ; 8.91 ; 3.3472
Mg+2 + Citrate-3 + 2 H+ = MgH2Citrate+ ; 12.2 ; 0
Na+ + Citrate-3 = NaCitrate-2 ; 1.03 ; -2.8033
2 Na+ + Citrate-3 = Na2Citrate- ; 1.5 ; -5.1045
Na+ + Citrate-3 + H+ = NaHCitrate- ; 6.45 ; -3.5982
K+ + Citrate-3 = KCitrate-2 ; 1.1 ; 5.4392
Ca+2 + Tartrate-2 = CaTartrate ; 2.8 ; -8.368
Ca+2 + Tartrate-2 + H+ = CaHTartrate+ ; 5.86 ; -9.1211
Mg+2 + Tartrate-2 = MgTartrate ; 2.3 ; 0
Mg+2 + Tartrate-2 + H+ = MgHTartrate+ ; 5.75 ; 0
Na+ + Tartrate-2 = NaTartrate- ; 0.9 ; -0.8368
Na+ + Tartrate-2 + H+ = NaHTartrate ; 4.58 ; -2.8451
K+ + Tartrate-2 = KTartrate- ; 0.8 ; 0
"""
# what a mole of each reagent is in PHREEQC's elements
REAGENTS = {
    "sodium_bicarbonate": "NaHCO3",
    "potassium_bicarbonate": "KHCO3",
    "sodium_carbonate": "Na2CO3",
    "sodium_carbonate_monohydrate": "Na2CO3",
    "potassium_carbonate": "K2CO3",
    "sodium_sesquicarbonate": "Na3H(CO3)2",
    "citric_acid": "H3Citrate",
    "citric_acid_monohydrate": "H3Citrate",
    "tartaric_acid": "H2Tartrate",
    "cream_of_tartar": "KHTartrate",
    "malic_acid": "H2Malate",
    "fumaric_acid": "H2Fumarate",
    "succinic_acid": "H2Succinate",
    "adipic_acid": "H2Adipate",
    "ascorbic_acid": "HAscorbate",
    "lactic_acid": "HLactate",
    "lactic_powder": "Ca(Lactate)2",
    "trisodium_citrate": "Na3Citrate",
    "sea_salt": "NaCl",
    "table_salt": "NaCl",
    "rock_salt": "NaCl",
    "epsom_salt": "MgSO4",
    "magnesium_sulfate_dried": "MgSO4",
    "magnesium_chloride_flakes": "MgCl2",
    "sodium_sulfate": "Na2SO4",
}


def _analytic(pk: float, enthalpy_kj: float, capacity_j: float) -> str:
    """PHREEQC's a + b T + c / T + d log10 T of a protonation, fitted through the CRC Handbook's formula by least squares."""
    kelvin = np.linspace(278.15, 328.15, 60)
    t0 = 298.15
    ln_k = -pk * np.log(10) - enthalpy_kj * 1e3 / GAS_J_MOL_K * (1 / kelvin - 1 / t0)
    ln_k += capacity_j / GAS_J_MOL_K * (t0 / kelvin - 1 + np.log(kelvin / t0))
    terms = np.column_stack([np.ones_like(kelvin), 1 / kelvin, np.log10(kelvin)])
    fit, *_ = np.linalg.lstsq(terms, -ln_k / np.log(10), rcond=None)
    assert np.max(np.abs(terms @ fit + ln_k / np.log(10))) < 1e-8
    return f"{fit[0]:.12g} 0 {fit[1]:.12g} {fit[2]:.12g}"


def acids_block() -> str:
    """Master species and species of the acids."""
    masters, species = ["SOLUTION_MASTER_SPECIES"], ["SOLUTION_SPECIES"]
    for name, (charge, mass, steps) in ACIDS.items():
        anion = f"{name}-{charge}" if charge > 1 else f"{name}-"
        masters.append(f"{name} {anion} 0 {mass} {mass}")
        species.append(f"{anion} = {anion}\n log_k 0")
        for protons, step in enumerate(steps, start=1):
            left = charge - protons
            tail = "" if left == 0 else "-" if left == 1 else f"-{left}"
            count = "" if protons == 1 else str(protons)
            species.append(f"{count} H+ + {anion} = H{count}{name}{tail}\n -analytic {_analytic(*step)}")
    for line in COMPLEXES.strip().splitlines():
        reaction, log_k, heat = line.split(";")
        species.append(f"{reaction}\n log_k {log_k}\n delta_h {heat} kJ")
    return "\n".join([*masters, *species, "END\n"])


@dataclass(frozen=True)
class Bath:
    """What PHREEQC finds."""

    ph: float
    dic_mol_l: float
    calcite_si: float
    ionic_strength_mol_l: float


class Phreeqc:
    """PHREEQC with the acids; `davies` takes its own activity parameters out, so that it falls back on Davies."""

    def __init__(self, folder: Path, davies: bool) -> None:
        text = (FOLDER / "phreeqc.dat").read_text(encoding="latin-1")
        if davies:
            text = re.sub(r"(?m)^\s*-gamma.*$", "", text)
        (folder / "judge.dat").write_text(text, encoding="latin-1")
        self.judge = phreeqpython.PhreeqPython(database="judge.dat", database_directory=folder)
        self.judge.ip.run_string(acids_block())

    def solve(
        self,
        water: dict[str, float],
        dose: dict[str, float],
        temperature_c: float,
        pco2_atm: float | None = None,
    ) -> Bath:
        """One bath; water in mmol/l with ph and measured_at_c, dose in mol/l."""
        names = {
            "Ca": "calcium",
            "Mg": "magnesium",
            "Na": "sodium",
            "K": "potassium",
            "Cl": "chloride",
            "S(6)": "sulfate",
        }
        given = {element: water[f"{name}_mmol_l"] for element, name in names.items()}
        tap = self.judge.add_solution(
            {
                "pH": water["ph"],
                "temp": water["measured_at_c"],
                "Alkalinity": water["alkalinity_mmol_l"],
                "units": "mmol/kgw",
            }
            | {element: amount for element, amount in given.items() if amount > 0}
        )
        added: dict[str, float] = {}
        for name, amount in dose.items():
            added[REAGENTS[name]] = added.get(REAGENTS[name], 0.0) + 1e3 * amount
        if added:
            tap.change(added)
        tap.change_temperature(temperature_c)
        if pco2_atm is not None:
            tap.equalize(["CO2(g)"], [float(np.log10(pco2_atm))])
        found = Bath(tap.pH, tap.total_element("C") * 1e-3, tap.si("Calcite"), tap.I)
        tap.forget()
        return found
