"""Makes an invented day at Fenwick Hollow, with the traps planted in it, and the truth behind them.

    python tests/python/make_demo_day.py            writes the shipped day and its truth
    make_day(seed)                                  gives another day of the same plan

The arithmetic is written out here with its own atomic weights; nothing of the library is used. The truth goes to
tests/data/, where the library never reads it.
"""

import json
import pathlib
import random
import sys

sys.path.insert(0, str(pathlib.Path(__file__).parent))
from demo_spectrometer import (
    ANALYTE,
    CALIBRATED,
    CLASS_OF,
    DEAD,
    PROGRAMME,
    STANDARDS,
    TABLETS,
    TIMES,
    U_CONTENT,
    U_DEAD,
    Spectrometer,
    coefficient_documents,
    evaluated,
    intensities,
    left_out,
    time_of,
)

A = {"H": 1.008, "C": 12.011, "N": 14.007, "O": 15.999, "Na": 22.98977, "Mg": 24.305, "Al": 26.98154, "Si": 28.085,
     "S": 32.06, "Ca": 40.078, "Mn": 54.93804, "Fe": 55.845, "Zn": 65.38, "Li": 6.94, "Br": 79.904}
OXIDE = {"Fe": ("Fe2O3", 2, 3), "Mn": ("Mn3O4", 3, 4), "Si": ("SiO2", 1, 2), "Al": ("Al2O3", 2, 3),
         "Ca": ("CaO", 1, 1), "Mg": ("MgO", 1, 1), "Zn": ("ZnO", 1, 1), "S": ("SO3", 1, 3)}
MINERALS = {
    "Fe3O4": {"Fe": 3, "O": 4}, "CaMgSi2O6": {"Ca": 1, "Mg": 1, "Si": 2, "O": 6}, "SiO2": {"Si": 1, "O": 2},
    "Ca3Fe2Si3O12": {"Ca": 3, "Fe": 2, "Si": 3, "O": 12}, "Mn3O4": {"Mn": 3, "O": 4}, "Al2O3": {"Al": 2, "O": 3},
    "H2O": {"H": 2, "O": 1}, "CaMg(CO3)2": {"Ca": 1, "Mg": 1, "C": 2, "O": 6}, "CaCO3": {"Ca": 1, "C": 1, "O": 3},
    "ZnS": {"Zn": 1, "S": 1}, "FeS2": {"Fe": 1, "S": 2},
}
MATERIALS = {
    "skarn": {"Fe3O4": 0.620, "CaMgSi2O6": 0.225, "Ca3Fe2Si3O12": 0.118, "Mn3O4": 0.004, "Al2O3": 0.030, "H2O": 0.003},
    "marble": {"CaMg(CO3)2": 0.905, "CaCO3": 0.052, "SiO2": 0.029, "Al2O3": 0.006, "Fe3O4": 0.0074, "Mn3O4": 0.0006},
    "ore": {"ZnS": 0.284, "FeS2": 0.126, "SiO2": 0.402, "CaMg(CO3)2": 0.158, "Al2O3": 0.030},
}
DECLARED = {
    "skarn": {"what": "magnetite skarn, gains mass", "class": "magnetite skarn", "moisture_percent": [0.40, 0.02], "basis": "dried",
              "form": "oxides", "budget": "Fe2O3"},
    "marble": {"what": "dolomite marble, loses nearly half", "class": "dolomite marble", "moisture_percent": [0.90, 0.03],
               "basis": "as received", "form": "oxides", "budget": "MgO"},
    "ore": {"what": "zinc-iron sulfide ore, must be oxidised", "class": "sulfide ore", "moisture_percent": [0.55, 0.02], "basis": "dried",
            "form": ["Zn", "Fe", "S"], "budget": "Zn"},
}
IGNITION_C = 1000
LOTS = {"F-118": 0.0038, "F-121": 0.0062}  # the second was opened at noon
U_LOT, KEPT, U_KEPT, RETAINED, U_RETAINED, TABLET, U_TABLET = 0.00015, 0.985, 0.010, 0.5, 0.03, 0.0300, 0.0003
U_MASS, U_BALANCE = 0.0001, 0.00005  # one weighing; what the balance adds to every weighing alike
U_LOI, U_FEO, U_S, U_CO2, U_MINERAL, U_TRIAL = 0.0003, 0.0015, 0.0010, 0.0005, 0.0015, 0.0010
DEFICIT = 0.042  # g, of two beads
RULES = {"name": "Fenwick Hollow", "version": "1", "total_percent": [98.0, 101.5, 4.0], "bead_mass_k": 4.0,
         "agreement_k": 4.0, "drift_percent": [1.0, 2.0],
         # 4 standard deviations of the difference of two beads of this day
         "repeatability_percent": {"Fe2O3": [0.46, "this day's plan"], "CaO": [0.24, "this day's plan"],
                                   "Zn": [0.24, "this day's plan"]},
         "expected_loss_percent": {"skarn": [-3.0, 0.5, "plan"], "marble": [43.0, 48.0, "plan"]}}
# bead, sample, sample mass, flux mass, flux lot, what is wrong with it
PLAN = [
    ("B-01", "SK-1", 0.8004, 8.0021, "F-118", None), ("B-02", "SK-1", 0.7997, 7.9988, "F-118", "lost melt"),
    ("B-03", "SK-2", 0.8011, 8.0009, "F-118", None), ("B-04", "SK-2", 0.8006, 8.0035, "F-118", "lost powder"),
    ("B-05", "SK-3", 0.8002, 8.0012, "F-118", "loss clipped"), ("B-06", "SK-3", 0.7995, 7.9993, "F-118", "loss clipped"),
    ("B-07", "RM-1", 0.8008, 8.0017, "F-118", "bromine"), ("B-08", "RM-1", 0.7991, 8.0026, "F-118", "reference off"),
    ("B-09", "MA-1", 0.8003, 8.0004, "F-118", "below in total"), ("B-10", "MA-1", 0.8010, 7.9996, "F-118", None),
    ("B-11", "MA-2", 0.7999, 8.0011, "F-118", "blind loss"), ("B-12", "MA-2", 0.8007, 8.0019, "F-118", "blind loss"),
    ("B-13", "MA-3", 0.8005, 8.0003, "F-121", "ignited as dried"), ("B-14", "MA-3", 0.7998, 8.0025, "F-121", None),
    ("B-15", "MA-4", 0.8001, 7.9991, "F-121", None), ("B-16", "MA-4", 0.8009, 8.0014, "F-121", "swapped"),
    ("B-17", "SK-4", 0.7996, 8.0008, "F-121", "swapped"), ("B-18", "SK-4", 0.8004, 8.0016, "F-121", None),
    ("B-19", "OR-1", 0.4002, 8.0012, "F-121", None), ("B-20", "OR-1", 0.3995, 7.9993, "F-121", "inhomogeneous"),
    ("B-21", "OR-2", 0.4007, 8.0021, "F-121", "sulfur lost"), ("B-22", "OR-2", 0.3998, 8.0005, "F-121", None),
    ("B-23", "OR-3", 0.4001, 7.9997, "F-121", "wrong lot"), ("B-24", "OR-3", 0.4004, 8.0010, "F-121", "sulfur unmeasured"),
]
SWAPPED = {"B-16": "B-17", "B-17": "B-16"}
MATERIAL_OF = {"SK": "skarn", "RM": "skarn", "MA": "marble", "OR": "ore"}
LEADING = {"skarn": "Fe2O3", "marble": "CaO", "ore": "Zn"}
# which findings each trap must raise on its bead; what else it may raise has a size in the truth too
MUST = {
    "lost melt": ["bead-mass.differs", "bead-mass.explained"],
    "lost powder": ["bead-mass.differs", "bead-mass.explained", "closure.outside-spread", "closure.outside-window"],
    "loss clipped": ["loss.clipped", "closure.outside-spread", "bead-mass.differs"],
    "reference off": ["reference.differs"],
    "below in total": ["closure.not-counted"],
    "bromine": ["overlap.not-held", "reference.differs"],
    "blind loss": ["loss.above-ceiling", "closure.blind", "calibration.other-basis"],
    "ignited as dried": ["basis.ignited-as-dried", "closure.outside-spread", "closure.outside-window", "bead-mass.differs"],
    "swapped": ["identity.swapped", "closure.outside-spread", "closure.outside-window", "coefficients.outside-range"],
    "inhomogeneous": [],
    "sulfur lost": ["result.disagrees", "closure.outside-spread", "bead-mass.differs"],
    "wrong lot": ["bead-mass.differs", "flux.other-lot-fits"],
    "sulfur unmeasured": ["component.not-declared"],
}
# what the total must tell the bead's mass by
NAMED = {"lost melt": "melt left in the crucible", "lost powder": "powder lost before the fusion"}
DIFFERING_SAMPLES = ["SK-2", "MA-3", "MA-4", "SK-4", "OR-1", "OR-3"]


def mass(atoms):
    return sum(A[element] * n for element, n in atoms.items())


def elements(minerals):
    """Grams of each element per gram of dried powder."""
    out = {}
    for mineral, content in minerals.items():
        for element, n in MINERALS[mineral].items():
            out[element] = out.get(element, 0.0) + content * A[element] * n / mass(MINERALS[mineral])
    return out


def oxides(minerals, sulfur_kept=0.0):
    """Grams of each oxide that stays, per gram of dried powder."""
    grams = elements(minerals)
    out = {}
    for element, (oxide, cations, oxygens) in OXIDE.items():
        if element in grams:
            kept = sulfur_kept if element == "S" else 1.0
            if kept > 0.0:
                out[oxide] = grams[element] * kept * (cations * A[element] + oxygens * A["O"]) / (cations * A[element])
    return out


def as_element(oxide):
    """Grams of the element per gram of its oxide."""
    (element, cations, oxygens), = [(e, c, o) for e, (name, c, o) in OXIDE.items() if name == oxide]
    return element, cations * A[element] / (cations * A[element] + oxygens * A["O"])


def varied(draw, minerals):
    moved = {mineral: content * draw.uniform(0.97, 1.03) for mineral, content in minerals.items()}
    return {mineral: content / sum(moved.values()) for mineral, content in moved.items()}


NITRATE = (2 * A["Na"] + A["O"]) / (2 * (A["Na"] + A["N"] + 3 * A["O"]))


def agent(tablet, retained):
    """Grams of glass from a tablet of LiBr: the bromine that stays takes the place of half an oxygen."""
    return tablet * (A["Li"] + A["O"] / 2 + retained * (A["Br"] - A["O"] / 2)) / (A["Li"] + A["Br"])


class Sample:
    """One powder: what it is, and what the laboratory knows of it."""

    def __init__(self, name, draw):
        self.name, self.material = name, MATERIAL_OF[name[:2]]
        self.minerals = varied(draw, MATERIALS[self.material])
        residue = oxides(self.minerals)
        self.loss = 1.0 - sum(residue.values())
        self.ferrous = self.minerals.get("Fe3O4", 0.0) * (A["Fe"] + A["O"]) / mass(MINERALS["Fe3O4"])
        grams = elements(self.minerals)
        self.sulfur = grams.get("S", 0.0)
        self.co2 = grams.get("C", 0.0) * (A["C"] + 2 * A["O"]) / A["C"]
        # the loss as entered: what is wrong with it is planted, the rest is noise
        self.entered_loss = {"SK-3": 0.0, "MA-2": self.loss + 0.015}.get(name, self.loss)
        noisy = draw.gauss(self.entered_loss, U_LOI)
        self.row = {"sample": name, "material": self.material}
        if self.material == "ore":
            declared = {m: [round(draw.gauss(c, U_MINERAL) * 100, 3), U_MINERAL * 100] for m, c in self.minerals.items()}
            self.row |= {"minerals_percent": declared, "sulfur_kept": [KEPT, U_KEPT],
                         "sulfur_by_combustion_percent": [round(draw.gauss(self.sulfur, U_S) * 100, 3), U_S * 100],
                         "co2_by_combustion_percent": [round(draw.gauss(self.co2, U_CO2) * 100, 3), U_CO2 * 100]}
        else:
            self.row["loss_on_ignition_percent"] = [0.0 if name == "SK-3" else round(noisy * 100, 3), U_LOI * 100]
            self.row["ignition_c"] = IGNITION_C
        if self.material == "skarn":
            self.row["ferrous_by_titration_percent"] = [round(draw.gauss(self.ferrous, U_FEO) * 100, 3), U_FEO * 100]
        true = self.reported()
        expected = {}
        for species, content in true.items():
            u = 0.004 + 0.05 * content
            expected[species] = [round(draw.gauss(content, u) * 100, 3), round(u * 100, 3)]
        self.row["expected_percent"] = expected
        if name == "RM-1":
            self.row["assigned_percent"] = {species: [round(draw.gauss(content, 0.0002) * 100, 4), 0.02]
                                            for species, content in true.items()}

    def reported(self):
        """What the laboratory would report on the dried basis, without error."""
        out = oxides(self.minerals, sulfur_kept=1.0)
        if self.material == "ore":
            for oxide in ["ZnO", "Fe2O3", "SO3"]:
                element, share = as_element(oxide)
                out[element] = out.pop(oxide) * share
        return out


def standard_beads(draw, spectrometer, read, true_loss, retained):
    """The standards as weighed, known and counted with the monitor of the calibration."""
    standards = []
    for name, contents in STANDARDS.items():
        m_s, m_f = 0.8 + draw.gauss(0.0, 0.0005), 8.0 + draw.gauss(0.0, 0.001)
        bromide = sum(draw.gauss(TABLET, U_TABLET) for _ in range(TABLETS[name])) * retained
        there = {component: content * draw.gauss(1.0, U_CONTENT) for component, content in contents.items()}
        ratio = m_f * (1.0 - true_loss["F-118"]) / m_s
        net = intensities(CALIBRATED, list(ANALYTE), ratio, there | {"LiBr": bromide / m_s})
        standards.append({
            "standard": name, "sample_mass_g": read(m_s), "flux_mass_g": read(m_f), "tablets": TABLETS[name],
            "known_percent": {c: [round(w * 100, 3), round(w * U_CONTENT * 100, 4)] for c, w in contents.items()},
            "counts": spectrometer.count(net)})
    return standards


INSTRUMENT = {"anode": "Rh", "kv": 50, "beryllium_um": 125, "electrons_deg": 90, "tube_take_off_deg": 45,
              "incidence_deg": 63, "take_off_deg": 40, "mould_mm": [35.0, 0.1],
              "depth_lines": ["Fe Ka", "Sn La", "Sn Ka"], "tin_percent": 0.05,
              "resolution_ev": {"Mg Ka": 30.0, "Al Ka": 25.0, "Mn Ka": 60.0},
              "present": ["Fe", "Mn", "Si", "Al", "Ca", "Mg", "Zn", "S", "Na", "Br", "Cr"]}


def make_day(seed):
    draw = random.Random(seed)
    balance = draw.gauss(0.0, U_BALANCE)
    true_loss = {lot: draw.gauss(loss, U_LOT) for lot, loss in LOTS.items()}
    kept = draw.gauss(KEPT, U_KEPT)
    retained = draw.gauss(RETAINED, U_RETAINED)  # a property of the programme, the same in every bead
    samples = {name: Sample(name, draw) for name in dict.fromkeys(row[1] for row in PLAN)}
    read = lambda grams: round(grams + balance + draw.gauss(0.0, U_MASS), 4)
    spectrometer = Spectrometer(draw)
    standards = standard_beads(draw, spectrometer, read, true_loss, retained)
    made = {}
    for place, (bead, name, m_s, m_f, lot, trap) in enumerate(PLAN):
        sample = samples[name]
        minerals = sample.minerals
        if trap == "inhomogeneous":  # more sphalerite, less quartz in this portion
            minerals = minerals | {"ZnS": minerals["ZnS"] + 0.0134, "SiO2": minerals["SiO2"] - 0.0134}
        ignited = trap in ("ignited as dried", "blind loss")
        kept_here = kept * 0.9 if trap == "sulfur lost" else kept
        per_gram = oxides(minerals, kept_here if sample.material == "ore" else 0.0)
        if ignited:
            per_gram = {oxide: content / (1.0 - sample.loss) for oxide, content in per_gram.items()}
        stays = sum(per_gram.values())
        powder = m_s - (DEFICIT / stays if trap == "lost powder" else 0.0)
        if trap == "reference off":
            per_gram["MgO"] += 0.0016
        tablet = draw.gauss(TABLET, U_TABLET)
        oxidant = 1.2 + draw.gauss(0.0, 0.002) if sample.material == "ore" else 0.0
        others = oxidant * NITRATE + agent(tablet, retained)
        glass = powder * stays + m_f * (1.0 - true_loss[lot]) + others
        # the same charge as it stands in the laboratory's book, without errors but with the mistake
        entered_lot = "F-118" if trap == "wrong lot" else lot
        if sample.material == "ore":
            entered_stays = sum(oxides(sample.minerals, kept).values())
        else:
            entered_stays = 1.0 if trap == "blind loss" else 1.0 - sample.entered_loss
        predicted = m_s * entered_stays + m_f * (1.0 - true_loss[entered_lot]) + others
        made[bead] = {
            "sample": sample, "trap": trap, "predicted": predicted, "m_s": m_s, "time": time_of(place),
            # per gram of what is in the bead
            "class": CLASS_OF[sample.material], "ratio": m_f * (1.0 - true_loss[lot]) / powder,
            "amounts": per_gram | {"LiBr": tablet * retained / powder, "Na2O": oxidant * NITRATE / powder},
            # per gram of what was entered
            "entered_ratio": m_f * (1.0 - true_loss[entered_lot]) / m_s, "entered_soda": oxidant * NITRATE / m_s,
            "weighed_glass": glass - (DEFICIT if trap == "lost melt" else 0.0), "entered_stays": entered_stays,
            "oxidant": oxidant, "entered_lot": entered_lot, "lot": lot, "m_f": m_f,
        }
    rows, truth = [], {"clean": [], "beads": {}, "samples": {}}
    for bead, it in made.items():
        sample, trap = it["sample"], it["trap"]
        measured = [line for line in PROGRAMME[sample.material] if not (trap == "sulfur unmeasured" and line == "S Ka")]
        there = made[SWAPPED.get(bead, bead)]
        net = intensities(there["class"], measured, there["ratio"], there["amounts"])
        time, share = it["time"]
        row = {
            "bead": bead, "sample": sample.name,
            "basis": f"ignited at {IGNITION_C} C" if trap == "blind loss" else "dried",
            "sample_mass_g": read(it["m_s"]), "flux_mass_g": read(it["m_f"]), "flux_lot": it["entered_lot"],
            "oxidant_mass_g": read(it["oxidant"]) if it["oxidant"] else 0.0, "bead_mass_g": read(it["weighed_glass"]),
            "method": "2025-4" if trap == "bromine" else "2026-1", "at": time, "counts": spectrometer.count(net, share),
        }
        if trap == "below in total":
            row["elsewhere_percent"] = {"TiO2": "<0.1"}
        if trap == "sulfur unmeasured":  # entered without its minerals: a trial fusion says how much it loses
            loss = 1.0 - it["entered_stays"]
            row["loss_on_fusion_percent"] = [round(draw.gauss(loss, U_TRIAL) * 100, 3), U_TRIAL * 100]
        rows.append(row)
        # what the library would find without noise
        overlap, of = trap != "bromine", CLASS_OF[sample.material]
        of_bead = evaluated(of, net, it["entered_ratio"], {"Na2O": it["entered_soda"]}, overlap)
        found = {oxide: value for oxide, value in of_bead.items() if oxide != "LiBr"}
        per_entered = dict(found)
        loss = sample.entered_loss
        if trap == "blind loss":
            found = {oxide: value * (1.0 - loss) for oxide, value in found.items()}
        if sample.material == "ore":
            for oxide in [oxide for oxide in ["ZnO", "Fe2O3", "SO3"] if oxide in found]:
                element, portion = as_element(oxide)
                found[element] = found.pop(oxide) * portion / (kept if element == "S" else 1.0)
            total = sum(found.values()) + sample.co2 + (0.0 if "S" in found else sample.sulfur)
        else:
            total = sum(found.values()) + loss
        it["found"] = found
        co2 = A["C"] + 2 * A["O"]
        ceiling = co2 / (A["Ca"] + A["O"]) * found.get("CaO", 0.0) + co2 / (A["Mg"] + A["O"]) * found.get("MgO", 0.0)
        true = sample.reported()
        sizes = {
            "bead-mass.differs": it["weighed_glass"] - it["predicted"],
            "closure.outside-spread": total - 1.0, "closure.outside-window": total,
        }
        sizes["bead-mass.explained"] = sizes["bead-mass.differs"]
        if trap == "loss clipped":
            sizes["loss.clipped"] = -sample.ferrous * (A["O"] / 2) / (A["Fe"] + A["O"])
        if trap == "bromine":  # all the bromine of the books, counted as so much aluminium: the most that it can do
            bromine = TABLET * RETAINED * A["Br"] / (A["Li"] + A["Br"]) / it["m_s"]
            sizes["overlap.not-held"] = bromine * (2 * A["Al"] + 3 * A["O"]) / (2 * A["Al"])
            sizes["reference.differs"] = {s: value - true[s] for s, value in found.items()}
        if trap == "blind loss":
            sizes |= {"loss.above-ceiling": loss - ceiling, "closure.blind": 0.0, "calibration.other-basis": None}
        if trap == "ignited as dried":
            sizes["basis.ignited-as-dried"] = total - 1.0
            dilution = it["predicted"] / it["m_s"]
            sizes["calibration.extrapolated"] = {s: value / dilution for s, value in per_entered.items()}
        if trap == "wrong lot":
            sizes["flux.other-lot-fits"] = true_loss[it["lot"]]
        if trap == "below in total":
            sizes["closure.not-counted"] = 0.001
        if trap == "reference off":
            sizes["reference.differs"] = {"MgO": found["MgO"] - true["MgO"]}
        if "S" in found:
            sizes["result.disagrees"] = found["S"] - sample.sulfur
        if trap == "swapped":
            sizes["identity.swapped"] = {s: value - true[s] for s, value in found.items() if s in true}
            sizes["coefficients.outside-range"] = per_entered
        if trap == "sulfur unmeasured":
            effects = left_out(of, net, of_bead, "SO3")
            effects.pop("LiBr")
            sizes["component.not-declared"] = max(effects.values(), key=abs)
        if trap is None:
            truth["clean"].append(bead)
        else:
            truth["beads"][bead] = {"trap": trap, "must": MUST[trap], "sizes": sizes}
            if trap in NAMED:
                truth["beads"][bead]["named"] = {"bead-mass.explained": NAMED[trap]}
    for name, sample in samples.items():
        first, second = [it for it in made.values() if it["sample"] is sample]
        species = LEADING[sample.material]
        difference = first["found"].get(species, 0.0) - second["found"].get(species, 0.0)
        must = ["duplicates.differ"] if name in DIFFERING_SAMPLES else []
        truth["samples"][name] = {"must": must, "sizes": {"duplicates.differ": difference}}
    day = {"day": "Fenwick Hollow, invented", "weights": "CIAAW 2024", "rules": RULES,
           "lots": [{"name": lot, "blend": {"Li2B4O7": 50, "LiBO2": 50}, "programme": "1050 C, 18 min",
                     "loss_percent": [loss * 100, U_LOT * 100]} for lot, loss in LOTS.items()],
           "release_agent": {"species": "LiBr", "tablet_g": [TABLET, U_TABLET], "retained": [RETAINED, U_RETAINED],
                             "minutes_before_pouring": 3.0},
           "balance": {"u_g": U_MASS, "shared_u_g": U_BALANCE},
           "materials": DECLARED, "counting_s": TIMES, "monitor": spectrometer.monitor,
           "coefficients": coefficient_documents(), "instrument": INSTRUMENT,
           "method": {"name": "Fenwick Hollow", "version": "2026-1", "source": "invented",
                      "dead_time_s": [DEAD, U_DEAD], "overlaps": [["Al Ka", "Br Ka", *spectrometer.overlap]]},
           "older_methods": {"2025-4": "as 2026-1, before the overlap of bromine was measured; invented"},
           "calibration": {"name": "Fenwick Hollow calibration", "version": "2026-03-02",
                           "source": "three synthetic beads, invented", "flux_lot": "F-118", "standards": standards},
           "samples": [sample.row for sample in samples.values()], "beads": rows}
    return day, truth


def lines(data):
    """JSON with one bead, sample or table on a line."""
    def block(value):
        if isinstance(value, list) and value and isinstance(value[0], dict):
            return "[\n  " + ",\n  ".join(json.dumps(item) for item in value) + "\n ]"
        if isinstance(value, dict) and all(isinstance(item, dict) for item in value.values()):
            return "{\n  " + ",\n  ".join(f"{json.dumps(k)}: {json.dumps(v)}" for k, v in value.items()) + "\n }"
        return json.dumps(value)
    return "{\n " + ",\n ".join(f"{json.dumps(key)}: {block(value)}" for key, value in data.items()) + "\n}\n"


def main():
    top = pathlib.Path(__file__).resolve().parents[2]
    day, truth = make_day(20261125)
    (top / "python/beadchem/demo/day.json").write_text(lines(day))
    (top / "tests/data/demo_truth.json").write_text(lines(truth))


if __name__ == "__main__":
    main()
