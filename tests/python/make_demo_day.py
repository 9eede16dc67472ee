"""Makes the invented weighings and readings of the demo, and the truth behind them.

Run from the top of the checkout: python tests/python/make_demo_day.py. The arithmetic is written out here with its own
atomic weights; nothing of the library is used. The truth goes to tests/data/, where the library never reads it.
"""

import json
import pathlib
import random

A = {"H": 1.008, "C": 12.011, "N": 14.007, "O": 15.999, "Na": 22.98977, "Mg": 24.305, "Al": 26.98154, "Si": 28.085,
     "S": 32.06, "Ca": 40.078, "Mn": 54.93804, "Fe": 55.845, "Zn": 65.38, "Li": 6.94, "Br": 79.904}
OXIDE = {"Fe": (2, 3), "Mn": (3, 4), "Si": (1, 2), "Al": (2, 3), "Ca": (1, 1), "Mg": (1, 1), "Zn": (1, 1), "S": (1, 3)}
NAME = {"Fe": "Fe2O3", "Mn": "Mn3O4", "Si": "SiO2", "Al": "Al2O3", "Ca": "CaO", "Mg": "MgO", "Zn": "ZnO", "S": "SO3"}

# mineral: atoms; contents in g per g of dried sample
MINERALS = {
    "Fe3O4": {"Fe": 3, "O": 4}, "CaMgSi2O6": {"Ca": 1, "Mg": 1, "Si": 2, "O": 6}, "SiO2": {"Si": 1, "O": 2},
    "Ca3Fe2Si3O12": {"Ca": 3, "Fe": 2, "Si": 3, "O": 12}, "Mn3O4": {"Mn": 3, "O": 4}, "Al2O3": {"Al": 2, "O": 3},
    "H2O": {"H": 2, "O": 1}, "CaMg(CO3)2": {"Ca": 1, "Mg": 1, "C": 2, "O": 6}, "CaCO3": {"Ca": 1, "C": 1, "O": 3},
    "ZnS": {"Zn": 1, "S": 1}, "FeS2": {"Fe": 1, "S": 2},
}
MATERIALS = {
    "skarn": {"Fe3O4": 0.620, "CaMgSi2O6": 0.225, "Ca3Fe2Si3O12": 0.118, "Mn3O4": 0.004, "Al2O3": 0.030, "H2O": 0.003},
    "marble": {"CaMg(CO3)2": 0.905, "CaCO3": 0.052, "SiO2": 0.029, "Al2O3": 0.006, "Fe3O4": 0.008},
    "ore": {"ZnS": 0.284, "FeS2": 0.126, "SiO2": 0.402, "CaMg(CO3)2": 0.158, "Al2O3": 0.030},
}
LOSS = {"F-118": 0.0038}
SULFUR_KEPT = 0.985
# what the laboratory declares: each number with its standard uncertainty
LOTS = [{"name": "F-118", "blend": {"Li2B4O7": 50, "LiBO2": 50}, "programme": "1050 C, 18 min",
         "loss_percent": [0.38, 0.03]}]
DECLARED = {
    "skarn": {"what": "magnetite skarn, gains mass", "loss_on_fusion_percent": [-1.85, 0.03],
              "moisture_percent": [0.40, 0.02], "basis": "dried", "form": "oxides", "budget": "Fe2O3"},
    "marble": {"what": "dolomite marble, loses nearly half", "loss_on_fusion_percent": [45.43, 0.05],
               "moisture_percent": [0.90, 0.03], "basis": "as received", "form": "oxides", "budget": "MgO"},
    "ore": {"what": "zinc-iron sulfide ore, must be oxidised", "minerals_percent": {
                "ZnS": [28.3, 0.2], "FeS2": [12.6, 0.2], "SiO2": [40.2, 0.3], "CaMg(CO3)2": [15.9, 0.2],
                "Al2O3": [3.0, 0.1]},
            "sulfur_kept": [0.985, 0.010], "moisture_percent": [0.55, 0.02], "basis": "dried", "form": "elements",
            "budget": "Zn"},
}


def mass(atoms):
    return sum(A[e] * n for e, n in atoms.items())


def melted(material):
    """Oxides in the glass per gram of dried sample, sulfur with its kept share; and the glass the sample makes."""
    oxides = {}
    for mineral, content in MATERIALS[material].items():
        for element, n in MINERALS[mineral].items():
            if element in OXIDE:
                cations, oxygens = OXIDE[element]
                kept = SULFUR_KEPT if element == "S" else 1.0
                grams = content / mass(MINERALS[mineral]) * n / cations * (cations * A[element] + oxygens * A["O"])
                oxides[NAME[element]] = oxides.get(NAME[element], 0.0) + grams * kept
    return oxides, sum(oxides.values())


def main():
    draw = random.Random(20261125)
    nitrate = (2 * A["Na"] + A["O"]) / (2 * (A["Na"] + A["N"] + 3 * A["O"]))
    bromide = 0.5 * (A["Li"] + A["Br"]) / (A["Li"] + A["Br"]) + 0.5 * (A["Li"] + A["O"] / 2) / (A["Li"] + A["Br"])
    beads, truth = [], {}
    plan = [("B-01", "skarn", 0.8004, 8.0021), ("B-02", "skarn", 0.7997, 7.9988), ("B-03", "marble", 0.8011, 8.0009),
            ("B-04", "marble", 0.8006, 8.0035), ("B-05", "ore", 0.4002, 8.0012), ("B-06", "ore", 0.3995, 7.9993)]
    for bead, material, sample, flux in plan:
        oxides, per_gram = melted(material)
        agent = draw.gauss(0.0300, 0.0003)
        oxidant = round(draw.gauss(1.2, 0.001), 4) if material == "ore" else 0.0
        glass = sample * per_gram + flux * (1 - LOSS["F-118"]) + oxidant * nitrate + agent * bromide
        readings = {}
        for oxide, content in oxides.items():
            true = content * sample / glass * 100
            u = 0.0008 + 0.0010 * true
            readings[oxide] = [round(draw.gauss(true, u), 4), round(u, 4)]
        beads.append({
            "bead": bead, "material": material, "sample_mass_g": sample, "flux_mass_g": flux, "flux_lot": "F-118",
            "oxidant_mass_g": oxidant, "bead_mass_g": round(draw.gauss(glass, 0.0003), 4), "in_glass_percent": readings,
        })
        # what the library should return on the dried basis, before noise: sulfur as it was in the sample
        truth[bead] = {
            "dried_percent": {o: c / (SULFUR_KEPT if o == "SO3" else 1.0) * 100 for o, c in oxides.items()},
            "loss_on_fusion_percent": (1 - per_gram) * 100, "glass_mass_g": glass,
        }
    top = pathlib.Path(__file__).resolve().parents[2]
    day = {"day": "Fenwick Hollow, invented", "weights": "CIAAW 2024", "k": 4, "lots": LOTS, "materials": DECLARED,
           "beads": beads}
    (top / "python/beadchem/demo/day.json").write_text(json.dumps(day, indent=1) + "\n")
    (top / "tests/data/demo_truth.json").write_text(json.dumps(truth, indent=1) + "\n")


if __name__ == "__main__":
    main()
