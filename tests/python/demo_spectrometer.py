"""The invented spectrometer of Fenwick Hollow: from what is in a bead to what was counted, and back without errors.

Everything is written out from the equation of the intensities; nothing of the library is used. Coefficients are rounded and
invented, of the size that a rhodium tube and these oxides have; geometry, dead time, drift and backgrounds are invented.
"""

import math

COMPONENTS = ["Fe2O3", "Mn3O4", "SiO2", "Al2O3", "CaO", "MgO", "ZnO", "SO3", "Na2O", "LiBr"]
ANALYTE = {"Fe Ka": "Fe2O3", "Mn Ka": "Mn3O4", "Si Ka": "SiO2", "Al Ka": "Al2O3", "Ca Ka": "CaO", "Mg Ka": "MgO",
           "Zn Ka": "ZnO", "S Ka": "SO3", "Br Ka": "LiBr"}
# what one gram of a component does to a line, F0 = 10 and around a magnetite skarn
SKARN = {
    "Fe Ka": [0.708, 0.633, 0.436, 0.386, 1.467, 0.351, 0.247, 0.533, 0.308, 0.606],
    "Mn Ka": [0.543, 0.675, 0.432, 0.383, 1.430, 0.349, 0.385, 0.525, 0.306, 0.589],
    "Si Ka": [0.262, 0.227, 0.141, 0.299, 0.155, 0.290, 0.398, 0.145, 0.264, 0.552],
    "Al Ka": [0.254, 0.220, 0.120, 0.113, 0.152, 0.278, 0.380, 0.133, 0.254, 0.148],
    "Ca Ka": [0.238, 0.213, 0.398, 0.358, 0.394, 0.331, 0.376, 0.474, 0.293, 0.706],
    "Mg Ka": [0.244, 0.212, 0.110, 0.098, 0.148, 0.090, 0.363, 0.123, 0.235, 0.114],
    "Zn Ka": [2.785, 2.542, 0.448, 0.394, 1.591, 0.356, 1.342, 0.555, 0.310, 0.200],
    "S Ka": [0.274, 0.237, 0.368, 0.327, 0.163, 0.304, 0.426, 0.199, 0.274, 0.675],
    "Br Ka": [2.980, 2.700, 0.444, 0.388, 1.638, 0.350, 4.780, 0.556, 0.303, 2.372],
}
MARBLE = SKARN | {
    "Fe Ka": [0.755, 0.677, 0.436, 0.386, 1.469, 0.351, 0.247, 0.533, 0.308, 0.606],
    "Mn Ka": [0.587, 0.654, 0.432, 0.383, 1.431, 0.349, 0.385, 0.525, 0.306, 0.589],
    "Al Ka": [0.255, 0.220, 0.119, 0.113, 0.147, 0.278, 0.380, 0.132, 0.254, 0.147],
    "Ca Ka": [0.222, 0.193, 0.396, 0.357, 0.325, 0.329, 0.376, 0.471, 0.292, 0.703],
    "Mg Ka": [0.244, 0.212, 0.109, 0.098, 0.143, 0.090, 0.363, 0.122, 0.235, 0.113],
}
# half a sample in the same flux: F0 = 20
ORE = {line: [round(a / 2, 4) for a in row] for line, row in SKARN.items()} | {
    "Fe Ka": [0.379, 0.317, 0.218, 0.193, 0.735, 0.176, 0.124, 0.267, 0.154, 0.303],
    "Ca Ka": [0.101, 0.107, 0.198, 0.179, 0.174, 0.165, 0.188, 0.236, 0.147, 0.353],
    "S Ka": [0.136, 0.119, 0.184, 0.164, 0.079, 0.152, 0.213, 0.099, 0.137, 0.338],
}
# theoretical sensitivities, in one arbitrary unit
THEORY = {"Fe Ka": 4.85e-12, "Mn Ka": 5.79e-12, "Si Ka": 2.67e-10, "Al Ka": 5.50e-10, "Ca Ka": 3.21e-11, "Mg Ka": 1.15e-9,
          "Zn Ka": 1.88e-12, "S Ka": 8.54e-11, "Br Ka": 8.83e-13}
CLASSES = {
    "magnetite skarn": {
        "ratio": 10.0, "low": 8.5, "high": 11.5, "rows": SKARN, "theory": THEORY, "ranges": {"Fe2O3": [0.40, 0.90]},
        "centroid": {"Fe2O3": 0.68, "Mn3O4": 0.004, "SiO2": 0.165, "Al2O3": 0.03, "CaO": 0.097, "MgO": 0.042, "LiBr": 0.019}},
    "dolomite marble": {
        "ratio": 10.0, "low": 8.5, "high": 11.5, "rows": MARBLE, "ranges": {"CaO": [0.20, 0.60], "Fe2O3": [0.0, 0.10]},
        "theory": THEORY | {"Fe Ka": 4.79e-12, "Mn Ka": 5.72e-12, "Ca Ka": 3.27e-11},
        "centroid": {"Fe2O3": 0.008, "Mn3O4": 0.001, "SiO2": 0.03, "Al2O3": 0.006, "CaO": 0.304, "MgO": 0.198, "LiBr": 0.019}},
    "sulfide ore": {
        "ratio": 20.0, "low": 17.0, "high": 23.0, "rows": ORE, "ranges": {"ZnO": [0.0, 0.40]},
        "theory": {line: 2 * k for line, k in THEORY.items()} | {"Fe Ka": 9.58e-12, "Ca Ka": 6.52e-11},
        "centroid": {"Fe2O3": 0.084, "SiO2": 0.40, "Al2O3": 0.03, "CaO": 0.048, "MgO": 0.035, "ZnO": 0.237, "SO3": 0.39,
                     "Na2O": 1.09, "LiBr": 0.037}},
}
CALIBRATED = "magnetite skarn"
CLASS_OF = {"skarn": "magnetite skarn", "marble": "dolomite marble", "ore": "sulfide ore"}
PROGRAMME = {"skarn": ["Fe Ka", "Mn Ka", "Si Ka", "Al Ka", "Ca Ka", "Mg Ka", "Br Ka"],
             "ore": ["Fe Ka", "Si Ka", "Al Ka", "Ca Ka", "Mg Ka", "Zn Ka", "S Ka", "Br Ka"]}
PROGRAMME["marble"] = PROGRAMME["skarn"]
# true sensitivities of this spectrometer, g/g per cps; background, cps; counting times of peak and background, s
SENSITIVITY = {"Fe Ka": 7.3e-6, "Mn Ka": 2.0e-5, "Si Ka": 1.2e-5, "Al Ka": 2.0e-5, "Ca Ka": 4.0e-6, "Mg Ka": 2.0e-5,
               "Zn Ka": 1.5e-6, "S Ka": 1.5e-5, "Br Ka": 3.0e-7}
BACKGROUND = {"Fe Ka": 95.0, "Mn Ka": 30.0, "Si Ka": 12.0, "Al Ka": 15.0, "Ca Ka": 60.0, "Mg Ka": 6.0, "Zn Ka": 240.0,
              "S Ka": 20.0, "Br Ka": 900.0}
TIMES = {"Fe Ka": [40.0, 10.0], "Mn Ka": [100.0, 50.0], "Si Ka": [80.0, 20.0], "Al Ka": [100.0, 40.0], "Ca Ka": [40.0, 10.0],
         "Mg Ka": [100.0, 40.0], "Zn Ka": [40.0, 10.0], "S Ka": [80.0, 20.0], "Br Ka": [20.0, 10.0]}
DEAD, U_DEAD = 2.5e-7, 2e-9  # s
OVERLAP, U_OVERLAP = 0.0120, 0.00003  # counts on Al Ka per count on Br Ka
# how far the monitor has moved by 17:00, and which share of it by each reading
MOVED = {"Fe Ka": -0.009, "Mn Ka": -0.009, "Si Ka": -0.012, "Al Ka": -0.012, "Ca Ka": -0.010, "Mg Ka": -0.013, "Zn Ka": -0.006,
         "S Ka": -0.011, "Br Ka": -0.005}
READ = {"2026-03-02T08:00": 0.0, "2026-03-02T12:30": 0.45, "2026-03-02T17:00": 1.0}
U_MONITOR = 2e-4  # relative, of one line of one reading
MONITOR_CPS = {"Fe Ka": 42_000.0, "Mn Ka": 9_000.0, "Si Ka": 14_000.0, "Al Ka": 6_000.0, "Ca Ka": 31_000.0, "Mg Ka": 5_500.0,
               "Zn Ka": 38_000.0, "S Ka": 8_000.0, "Br Ka": 21_000.0}
# synthetic standards of ignited oxides and a sulfate: contents, g/g; how many tablets each got
STANDARDS = {
    "S-1": {"Fe2O3": 0.76, "Mn3O4": 0.02, "SiO2": 0.12, "Al2O3": 0.04, "MgO": 0.03, "ZnO": 0.03},
    "S-2": {"CaO": 0.58, "MgO": 0.385, "SiO2": 0.015, "Al2O3": 0.005, "Fe2O3": 0.005, "SO3": 0.01},
    "S-3": {"ZnO": 0.20, "SO3": 0.25, "CaO": 0.175, "SiO2": 0.25, "Al2O3": 0.10, "Mn3O4": 0.015, "Fe2O3": 0.01},
}
TABLETS = {"S-1": 2, "S-2": 1, "S-3": 0}
U_CONTENT = 5e-4  # relative, of a weighed reagent


def time_of(place):
    """When a bead was measured, and the share of the day's drift by then: every 20 minutes from 08:20, 40 over noon."""
    minute = 8 * 60 + 20 + 20 * place + (40 if place >= 12 else 0)
    noon, end = 12 * 60 + 30, 17 * 60
    share = 0.45 * (minute - 480) / (noon - 480) if minute < noon else 0.45 + 0.55 * (minute - noon) / (end - noon)
    return f"2026-03-02T{minute // 60:02}:{minute % 60:02}", share


def solve(matrix, right):
    """Gaussian elimination with exchanged rows."""
    n = len(right)
    rows = [[*row, value] for row, value in zip(matrix, right, strict=True)]
    for k in range(n):
        pivot = max(range(k, n), key=lambda row: abs(rows[row][k]))
        rows[k], rows[pivot] = rows[pivot], rows[k]
        for row in range(k + 1, n):
            factor = rows[row][k] / rows[k][k]
            rows[row] = [a - factor * b for a, b in zip(rows[row], rows[k], strict=True)]
    out = [0.0] * n
    for k in reversed(range(n)):
        out[k] = (rows[k][n] - sum(rows[k][j] * out[j] for j in range(k + 1, n))) / rows[k][k]
    return out


def bracket(of, line, ratio, amounts):
    """F/F0 + sum of a w."""
    row = dict(zip(COMPONENTS, CLASSES[of]["rows"][line], strict=True))
    return ratio / CLASSES[of]["ratio"] + sum(row[component] * w for component, w in amounts.items())


def sensitivity(of, line):
    """The true sensitivity, carried over to a class by theory."""
    return SENSITIVITY[line] * CLASSES[of]["theory"][line] / CLASSES[CALIBRATED]["theory"][line]


def intensities(of, lines, ratio, amounts):
    """Net cps at calibration, overlap on: amounts are g per g of the powder that is really in the bead."""
    out = {line: amounts.get(ANALYTE[line], 0.0) / sensitivity(of, line) / bracket(of, line, ratio, amounts) for line in lines}
    if "Al Ka" in out:
        out["Al Ka"] += OVERLAP * out["Br Ka"]
    return out


def system(of, net, overlap):
    """The linear system of the measured analytes: strengths and the matrix, g/g."""
    cleared = dict(net)
    if overlap:
        cleared["Al Ka"] -= OVERLAP * net["Br Ka"]
    strength = {line: sensitivity(of, line) * cps for line, cps in cleared.items()}
    rows = CLASSES[of]["rows"]
    place = [COMPONENTS.index(ANALYTE[line]) for line in net]
    return strength, [[float(i == j) - strength[line] * rows[line][at] for j, at in enumerate(place)]
                      for i, line in enumerate(net)]


def evaluated(of, net, ratio, known, overlap=True):
    """What a laboratory without errors finds from these intensities, g per g of the sample that it entered."""
    strength, matrix = system(of, net, overlap)
    found = solve(matrix, [strength[line] * bracket(of, line, ratio, known) for line in net])
    return {ANALYTE[line]: value for line, value in zip(net, found, strict=True)}


def left_out(of, net, found, component, overlap=True):
    """How each result would change, relative to itself, were a component there at the content of the centroid."""
    strength, matrix = system(of, net, overlap)
    at = COMPONENTS.index(component)
    content = CLASSES[of]["centroid"][component]
    moved = solve(matrix, [strength[line] * CLASSES[of]["rows"][line][at] * content for line in net])
    return {ANALYTE[line]: value / found[ANALYTE[line]] for line, value in zip(net, moved, strict=True)}


class Spectrometer:
    """One day of it: its true dead time, drift and overlap factor as the laboratory knows them."""

    def __init__(self, draw):
        self.draw = draw
        self.dead = draw.gauss(DEAD, U_DEAD)
        self.moved = {line: moved * draw.gauss(1.0, 0.1) for line, moved in MOVED.items()}
        self.overlap = [round(draw.gauss(OVERLAP, U_OVERLAP), 6), U_OVERLAP]
        read = lambda line, share: round(MONITOR_CPS[line] * (1 + self.moved[line] * share) * draw.gauss(1.0, U_MONITOR), 2)
        reading = lambda share: {line: [read(line, share), round(cps * U_MONITOR, 2)] for line, cps in MONITOR_CPS.items()}
        self.monitor = {"name": "M-1", "calibration_cps": reading(0.0), "readings": {time: reading(s) for time, s in READ.items()}}

    def count(self, net, share=0.0):
        """Counted rates of peak and background, as the counter shows them."""
        out = {}
        for line, cps in net.items():
            shown = []
            for rate, time in zip([cps * (1 + self.moved[line] * share) + BACKGROUND[line], BACKGROUND[line]], TIMES[line],
                                  strict=True):
                blind = rate / (1 + rate * self.dead)
                shown.append(round(self.draw.gauss(blind, math.sqrt(blind / time)), 2))
            out[line] = shown
        return out


def coefficient_documents():
    """The coefficients of each class, in the form in which the library stores a set."""
    documents = []
    for name, held in CLASSES.items():
        centroid = [{"component": component, "content": held["centroid"].get(component, 0.0)} for component in COMPONENTS]
        conditions = {
            "fused_flux_ratio": held["ratio"], "lowest_ratio": held["low"], "highest_ratio": held["high"],
            "flux": [{"species": "Li2B4O7", "share": 0.5}, {"species": "LiBO2", "share": 0.5}],
            "setup": "Rh tube 50 kV, 63/40 deg", "centroid": centroid,
            "ranges": [{"component": component, "low": low, "high": high} for component, (low, high) in held["ranges"].items()]}
        rows = [{"line": line, "analyte": ANALYTE[line], "coefficients": row, "sensitivity": held["theory"][line]}
                for line, row in held["rows"].items()]
        documents.append({"kind": "influence-coefficients", "schema": 1, "body": {
            "name": name, "version": "1", "source": "invented for Fenwick Hollow", "derivation": {"kind": "centroid"},
            "conditions": conditions, "components": COMPONENTS, "lines": rows}})
    return documents
