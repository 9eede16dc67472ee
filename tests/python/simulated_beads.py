"""Simulated fused beads with their truth: an oracle that shares nothing with the library but the equation.

    python tests/python/simulated_beads.py --print       prints every factor with its unit

Compositions are drawn inside the ranges of seven ore classes, and one equation is run forward to the intensity I of each
line alone. Per gram of sample as weighed, F = fused flux, e = release agent that stays, b = blanks of flux and agent:

    w_i + F b_i + e b_ei = k_i I_i (F/F0 + sum_j a_ij w_j + a_ie e)

The sum runs over sample and agent, not over blanks; on the agent's own line w_i = 0 and b_ei = 1. I is then spoilt by
overlaps, background, drift, dead time and counting. Beside each truth stands what the laboratory knows, drawn from the truth
with the standard uncertainty that is stated. Coefficients and ranges: tests/data/full_coefficients.csv (a_taylor, k_taylor,
taken as true) and tests/data/class_centroids.csv. Masses g, contents g/g, rates counts/s, times s, clock times ISO texts.
"""

from __future__ import annotations

import csv
import datetime
import functools
import pathlib
import sys
from collections.abc import Iterator
from dataclasses import dataclass
from typing import Any, NamedTuple

import numpy as np

DATA = pathlib.Path(__file__).resolve().parent.parent / "data"


class Factor(float):
    """A number with its unit and what it is, so that every factor can be printed."""

    unit: str
    what: str

    def __new__(cls, value: float, unit: str, what: str) -> Factor:
        factor = super().__new__(cls, value)
        factor.unit, factor.what = unit, what
        return factor


class Known(NamedTuple):
    """What the laboratory holds: a value and its standard uncertainty in the same unit."""

    value: float
    u: float


# The plan of the day. All figures below are invented, of the size met in common practice.
RUNS = Factor(40, "1", "runs of a day's work, each with its own class, dilution and instrument state")
BEADS = Factor(50, "1", "beads of a run")
STANDARDS = Factor(20, "1", "synthetic standards of a run, weighed with lot 1")
DAY_S = Factor(28800, "s", "length of a run")
SAMPLE_G = {5: Factor(1.2, "g", "sample of a bead at F0 = 5"), 10: Factor(0.7, "g", "sample of a bead at F0 = 10")}
WEIGHED_OFF = Factor(0.02, "1", "sample and flux are weighed to within this share of their target, uniform")
# Weighing, flux and release agent.
U_BALANCE_OWN_G = Factor(1e-4, "g", "u of one weighing, its own part")
U_BALANCE_SHARED_G = Factor(5e-5, "g", "u of the balance, the same error in every weighing of sample and flux of a run")
FLUX_LOSS = Factor(0.004, "g/g flux", "fusion loss of lot 1, mean over runs")
FLUX_LOSS_SPREAD = Factor(0.001, "g/g flux", "standard deviation of it between runs")
FLUX_LOSS_STEP = Factor(0.006, "g/g flux", "what lot 2 loses more than lot 1")
U_FLUX_LOSS = Factor(2e-4, "g/g flux", "u of the loss of a lot as measured")
RETAINED = Factor(0.60, "g/g", "share of the release agent that stays, mean over runs")
RETAINED_SPREAD = Factor(0.05, "g/g", "standard deviation of it between runs")
U_RETAINED = Factor(0.02, "g/g", "u of the retained share as known")
U_RELEASE_G = Factor(1e-4, "g", "u of the release agent dosed into one bead")
BLANK_SPREAD = Factor(0.2, "1", "relative standard deviation of a lot's blank about the figure of FLUX_BLANK")
U_BLANK = Factor(0.1, "1", "relative u of a blank as known")
FLUX_BLANK = {
    "SiO2": Factor(6e-5, "g/g fused flux", "blank of the flux"),
    "Al2O3": Factor(4e-5, "g/g fused flux", "blank of the flux"),
    "Fe2O3": Factor(2e-5, "g/g fused flux", "blank of the flux"),
    "CaO": Factor(3e-5, "g/g fused flux", "blank of the flux"),
    "Na2O": Factor(1e-4, "g/g fused flux", "blank of the flux"),
}
RELEASE_BLANK = {
    "Na2O": Factor(0.010, "g/g agent kept", "blank of the release agent"),
    "K2O": Factor(0.005, "g/g agent kept", "blank of the release agent"),
}
U_SAMPLE_LOSS = Factor(5e-4, "g/g", "u of the sample's loss as measured (the equation does without it)")
U_STANDARD_RELATIVE = Factor(5e-4, "1", "relative part of the u of a content of a synthetic standard")
U_STANDARD_FLOOR = Factor(5e-6, "g/g", "absolute part of it, added in square")
# Instrument.
RATE_AT_UPPER_CPS = Factor(2e5, "counts/s", "rate of a line at the upper bound of its component, centroid elsewhere")
RATE_PER_CONTENT_CPS = Factor(2e6, "counts/s per g/g", "no line counts more than this per content, centroid elsewhere")
SENSITIVITY_SPREAD = Factor(0.02, "1", "relative standard deviation of true sensitivities between runs")
U_SENSITIVITY = Factor(0.002, "1", "relative u of a sensitivity as known")
DEAD_TIME_S = Factor(3e-7, "s", "dead time, mean over runs; non-paralysable: seen = true / (1 + true * dead time)")
DEAD_TIME_SPREAD_S = Factor(3e-8, "s", "standard deviation of it between runs")
U_DEAD_TIME_S = Factor(5e-9, "s", "u of the dead time as known")
PEAK_S = Factor(100, "s", "counting time on the peak")
BACKGROUND_S = Factor(50, "s", "counting time on each background")
BACKGROUND_CPS = Factor(200, "counts/s", "mean background rate")
BACKGROUND_SPREAD = Factor(0.2, "1", "half width of the uniform spread of each of the two rates of a bead, relative")
BACKGROUND_WEIGHT = Factor(0.40, "1", "weight g1 of the first background on the first line; g2 = 1 - g1")
BACKGROUND_WEIGHT_STEP = Factor(0.01, "1", "what g1 grows by from line to line")
DRIFT = Factor(0.02, "1", "largest drift over the day common to all lines, uniform between minus and plus")
DRIFT_LINE = Factor(0.01, "1", "largest drift of a line beside the common one, uniform")
DRIFT_BEND = Factor(1.5e-4, "1", "largest height of the common arc sin(pi t/day) on the straight drift, uniform")
DRIFT_BEND_LINE = Factor(1e-4, "1", "largest height of a line's own arc, uniform")
MONITOR_LEVEL = {
    "high": Factor(0.9, "1", "high monitor, share of the line's rate at the upper bound"),
    "low": Factor(0.1, "1", "low monitor, share of the line's rate at the upper bound"),
}
U_MONITOR = {
    "high": Factor(5e-4, "1", "relative u of one net reading of the high monitor"),
    "low": Factor(1e-3, "1", "relative u of one net reading of the low monitor"),
}
MONITOR_AT = (0.0, 1 / 3, 2 / 3, 1.0)  # share of the day
OVERLAP = {
    ("Br Ka", "Al Ka"): Factor(0.02, "1", "Br La under Al Ka, per intensity of the first line alone"),
    ("I La", "Ti Ka"): Factor(0.05, "1", "I Lb2 under Ti Ka"),
    ("Ba La", "Ti Ka"): Factor(0.10, "1", "Ba La under Ti Ka"),
    ("Ti Ka", "V Ka"): Factor(0.08, "1", "Ti Kb under V Ka"),
    ("V Ka", "Cr Ka"): Factor(0.08, "1", "V Kb under Cr Ka"),
    ("Cr Ka", "Mn Ka"): Factor(0.08, "1", "Cr Kb under Mn Ka"),
    ("Pb Lb1", "As Ka"): Factor(0.90, "1", "Pb La under As Ka"),
}
OVERLAP_SPREAD = Factor(0.05, "1", "relative standard deviation of true overlap factors between runs")
U_OVERLAP = Factor(0.01, "1", "relative u of an overlap factor as known")
# Ore classes: rules of the header of class_centroids.csv.
RANGES = {
    "iron_ore": (0.0, 0.10, "loss"), "bauxite": (0.16, 0.31, "loss"), "clay": (0.04, 0.14, "loss"),
    "silica": (0.0, 0.008, "loss"), "mn_ore": (0.07, 0.16, "loss"),
    "undetermined": (0.01, 0.06, "copper ore: left when SiO2 is taken by difference"),
    "sulfidic": (0.3, 1.1, "copper ore: multiplies S_PER_FE2O3"),
    "kept": (0.9, 1.0, "copper ore: share of its sulfur that stays as SO3"),
}  # g/g, uniform
S_FLOOR = Factor(0.002, "g/g", "copper ore: sulfur without iron and copper")
S_PER_FE2O3 = Factor(0.7, "g/g", "copper ore: sulfur per Fe2O3 of a fully sulfidic ore")
S_PER_CUO = Factor(0.5, "g/g", "copper ore: sulfur per CuO")
S_LIMIT = Factor(0.30, "g/g", "copper ore: largest sulfur")
CO2_PER_CAO = Factor(44.009 / 56.077, "g/g", "CO2 of calcium carbonate per CaO")
CO2_PER_MGO = Factor(44.009 / 40.304, "g/g", "CO2 of magnesium carbonate per MgO")
SO3_PER_S = Factor(80.06 / 32.06, "g/g", "SO3 per S")
FE_PER_FE2O3 = Factor(111.69 / 159.687, "g/g", "Fe per Fe2O3: the iron of a sulfide carries no oxygen into the sample")
ORES = ("cu_sulfide", "iron_ore", "bauxite", "limestone", "clay", "silica", "mn_ore")
LOTS = ("lot 1", "lot 2")
SEED = 20260302


@dataclass(frozen=True)
class Table:
    """The 14 components of an ore class at one F0; the last is the release agent."""

    components: tuple[str, ...]
    lines: tuple[str, ...]  # in the order of components, as "Fe Ka"
    a: np.ndarray  # a[i, j]: component j on the line of component i
    k: np.ndarray  # g/g per count/s, nominal
    bounds: dict[str, tuple[float, float, str]]  # lower, upper, distribution
    upper_cps: np.ndarray  # rate of each line at the upper bound of its component, nominal


@dataclass(frozen=True)
class Bead:
    """One bead. `truth`: w {oxide: g/g}, loss, sample_g, flux_g, release_g, fused_flux (F), release (e, g/g),
    net_cps {line: rate of the line alone}, background_cps {line: (first, second)}, both in the calibration state, and drift
    {line: factor on all three rates}. `seen`: sample_g, flux_g, release_g,
    loss as Known (u of masses: own part only); rates {line: {"peak", "background 1", "background 2": Known}}, as counted,
    dead time in them; a standard has its contents w {oxide: Known} and no time: it is measured in the calibration state."""

    name: str
    lot: str
    time: str | None
    elapsed_s: int
    truth: dict[str, Any]
    seen: dict[str, Any]


@dataclass(frozen=True)
class Run:
    """A day of beads of one class. `truth` and `known` have the same keys, the second with Known for each number:
    dead_time_s, flux_loss {lot}, retained, balance_g (error shared by all weighings; known as 0 with its u),
    flux_blank {lot: {oxide}}, release_blank {oxide}, sensitivity {line} (k, g/g per count/s), overlap {(from line, on line)},
    monitors {"high" or "low": {line: {"calibration" or ISO time: net rate}}}.
    `weights` {line: (g1, g2)} are exact. `drift_s` are the times of the monitor readings after the start."""

    name: str
    ore: str
    f0: int
    table: Table
    release_agent: str
    weights: dict[str, tuple[float, float]]
    drift_s: tuple[int, ...]
    truth: dict[str, Any]
    known: dict[str, Any]
    beads: tuple[Bead, ...]
    standards: tuple[Bead, ...]


def rows(name: str) -> Iterator[dict[str, str]]:
    with (DATA / name).open(newline="", encoding="utf-8") as file:
        yield from csv.DictReader(line for line in file if not line.startswith("#"))


@functools.cache
def table(ore: str, f0: int) -> Table:
    """Reads the class; intensities are scaled from photons to counts/s by one efficiency per line."""
    found = [row for row in rows("full_coefficients.csv") if row["class"] == ore and int(row["F0"]) == f0]
    ranges = {row["component"]: row for row in rows("class_centroids.csv") if row["class"] == ore}
    bounds = {name: (float(row["lower"]), float(row["upper"]), row["distribution"]) for name, row in ranges.items()}
    components = tuple(dict.fromkeys(row["analyte"] for row in found))
    cell = {(row["analyte"], row["component"]): row for row in found}
    first = [cell[name, components[0]] for name in components]
    element_and_line = [row["line"].split() for row in first]
    upper = np.array([bounds[name][1] for name in components])
    per_content = np.minimum(RATE_AT_UPPER_CPS / upper, RATE_PER_CONTENT_CPS)
    centroid = np.array([float(ranges[name]["centroid"]) for name in components])
    efficiency = per_content * centroid / np.array([float(row["I_centroid"]) for row in first])
    return Table(
        components=components,
        lines=tuple(f"{element} {line[0]}{line[1:].lower()}" for element, line in element_and_line),
        a=np.array([[float(cell[i, j]["a_taylor"]) for j in components] for i in components]),
        k=np.array([float(row["k_taylor"]) for row in first]) / efficiency,
        bounds=bounds,
        upper_cps=per_content * upper,
    )


def member(rng: np.random.Generator, ore: str, bounds: dict[str, tuple[float, float, str]]) -> dict[str, float]:
    """A random member of the class, every component inside its range; the rest of the sample is its loss."""

    def uniform(of: str) -> float:
        return float(rng.uniform(*RANGES[of][:2]))

    while True:
        w = {}
        for name, (lower, upper, distribution) in bounds.items():
            if distribution == "uniform":
                w[name] = rng.uniform(lower, upper)
            elif distribution == "log-uniform":
                w[name] = float(np.exp(rng.uniform(np.log(lower), np.log(upper))))
        agents = [name for name in w if name.startswith("Li")]
        others = sum(w.values()) - sum(w[name] for name in agents)
        if ore == "cu_sulfide":
            sulfur = S_FLOOR + uniform("sulfidic") * S_PER_FE2O3 * w["Fe2O3"] + S_PER_CUO * w["CuO"]
            sulfur = min(sulfur, S_LIMIT)
            w["SO3"] = sulfur * SO3_PER_S * uniform("kept")
            as_sulfide = others - w["Fe2O3"] * (1 - FE_PER_FE2O3) + sulfur
            w["SiO2"] = 1 - uniform("undetermined") - as_sulfide
        elif ore == "limestone":
            w["CaO"] = (1 - others - CO2_PER_MGO * w["MgO"]) / (1 + CO2_PER_CAO)
        else:
            (balance,) = [name for name, (_, _, distribution) in bounds.items() if distribution == "by difference"]
            w[balance] = 1 - others - uniform(ore)
        if all(bounds[name][0] <= x <= bounds[name][1] for name, x in w.items()):
            return w


def intensities(
    w: np.ndarray, fused_flux: float, release: float, blank: np.ndarray, release_blank: np.ndarray, run_k: np.ndarray,
    a: np.ndarray, f0: float,
) -> np.ndarray:
    """The equation run forward: counts/s of each line alone. Arrays over the 14 components; w of the release agent is 0
    and its `release_blank` is 1, so that its line carries `release` itself."""
    mass = w + fused_flux * blank + release * release_blank
    content = w.copy()
    content[-1] += release
    return mass / (run_k * (fused_flux / f0 + a @ content))


def overlap_matrix(lines: tuple[str, ...], factors: dict[tuple[str, str], float]) -> np.ndarray:
    """Net intensities = matrix @ intensities of the lines alone."""
    matrix = np.eye(len(lines))
    for (source, on), factor in factors.items():
        matrix[lines.index(on), lines.index(source)] += factor
    return matrix


def drift_at(truth: dict[str, Any], line: str, elapsed_s: Any) -> Any:
    """True drift factor of a line at a time or an array of times, 1 in the calibration state."""
    slope, arc = truth["drift"][line]
    share = elapsed_s / DAY_S
    return 1 + slope * share + arc * np.sin(np.pi * share)


class Laboratory:
    """Draws what a laboratory knows about a truth. Noise 0 gives the truth with the same stated u."""

    def __init__(self, rng: np.random.Generator, noise: float) -> None:
        self.rng, self.noise = rng, noise

    def know(self, true: float, u: float) -> Known:
        return Known(float(true + self.noise * u * self.rng.standard_normal()), float(u))

    def count(self, true_cps: float, dead_time_s: float, seconds: float) -> Known:
        """A rate as counted. Counts are Poisson about the rate that the dead time lets through (its own narrowing of the
        spread, by 1/(1 + rate * dead time), is left out: the laboratory states the root of its counts)."""
        mean = true_cps / (1 + true_cps * dead_time_s) * seconds
        counts = mean + self.noise * (self.rng.poisson(mean) - mean)
        return Known(float(counts / seconds), float(np.sqrt(max(counts, 1.0)) / seconds))


def clock(day: int, elapsed_s: float) -> str:
    start = datetime.datetime(2026, 3, 2, 8) + datetime.timedelta(days=day)
    return (start + datetime.timedelta(seconds=elapsed_s)).isoformat()


def make_bead(
    lab: Laboratory, run: Run, name: str, lot: str, time: str | None, elapsed_s: int, standard: bool
) -> Bead:
    rng, t, truth = lab.rng, run.table, run.truth
    drawn = member(rng, run.ore, t.bounds)
    release = drawn.pop(run.release_agent)
    w = {oxide: float(drawn[oxide]) for oxide in t.components[:-1]}
    sample, flux = (SAMPLE_G[run.f0] * share * (1 + WEIGHED_OFF * rng.uniform(-1, 1)) for share in (1, run.f0))
    dose = release * sample / truth["retained"]
    fused_flux = flux * (1 - truth["flux_loss"][lot]) / sample
    alone = intensities(
        np.array([*w.values(), 0.0]), fused_flux, release, on_components(t, truth["flux_blank"][lot]),
        on_components(t, {**truth["release_blank"], run.release_agent: 1.0}), on_lines(t, truth["sensitivity"]), t.a, run.f0,
    )
    net = overlap_matrix(t.lines, truth["overlap"]) @ alone
    drift = {line: 1.0 if standard else float(drift_at(truth, line, elapsed_s)) for line in t.lines}
    rates, background = {}, {}
    for line, net_cps in zip(t.lines, net):
        first, second = (float(BACKGROUND_CPS * (1 + BACKGROUND_SPREAD * share)) for share in rng.uniform(-1, 1, 2))
        under = run.weights[line][0] * first + run.weights[line][1] * second
        true = (("peak", net_cps + under, PEAK_S), ("background 1", first, BACKGROUND_S), ("background 2", second, BACKGROUND_S))
        rates[line] = {place: lab.count(drift[line] * cps, truth["dead_time_s"], s) for place, cps, s in true}
        background[line] = (first, second)
    loss = 1 - sum(w.values())
    seen: dict[str, Any] = {
        "sample_g": lab.know(sample + truth["balance_g"], U_BALANCE_OWN_G),
        "flux_g": lab.know(flux + truth["balance_g"], U_BALANCE_OWN_G),
        "release_g": lab.know(dose, U_RELEASE_G), "loss": lab.know(loss, U_SAMPLE_LOSS), "rates": rates,
    }
    if standard:
        seen["w"] = {oxide: lab.know(x, np.hypot(U_STANDARD_RELATIVE * x, U_STANDARD_FLOOR)) for oxide, x in w.items()}
    kept = {
        "w": w, "loss": loss, "sample_g": sample, "flux_g": flux, "release_g": dose, "fused_flux": fused_flux,
        "release": release, "net_cps": dict(zip(t.lines, alone.tolist())), "background_cps": background, "drift": drift,
    }
    return Bead(name, lot, time, elapsed_s, kept, seen)


def on_components(t: Table, contents: dict[str, float]) -> np.ndarray:
    return np.array([contents.get(name, 0.0) for name in t.components])


def on_lines(t: Table, values: dict[str, float]) -> np.ndarray:
    return np.array([values[line] for line in t.lines])


def simulate_run(
    ore: str, f0: int, seed: int | tuple[int, ...], *, beads: int = int(BEADS), standards: int = int(STANDARDS), day: int = 0,
    noise: float = 1.0, bend: float = 1.0,
) -> Run:
    """A run of one class at one F0. Equal seeds give equal runs (with one version of numpy).

    `noise` scales every error of the laboratory, 0 lets it know the truth; `bend` scales the arcs of the drift."""
    rng = np.random.default_rng(seed)
    lab = Laboratory(rng, noise)
    t = table(ore, f0)
    agent = t.components[-1]
    pairs = {pair: factor for pair, factor in OVERLAP.items() if set(pair) <= set(t.lines)}
    common, arc = rng.uniform(-1, 1, 2) * (DRIFT, DRIFT_BEND)

    def about(mean: float, relative: float) -> float:
        return float(mean * (1 + relative * rng.standard_normal()))

    def blank(means: dict[str, Factor]) -> dict[str, float]:
        return {oxide: about(b, BLANK_SPREAD) for oxide, b in means.items() if oxide in t.components}

    def know_each(values: dict[Any, float], relative: float) -> dict[Any, Known]:
        return {key: lab.know(x, relative * x) for key, x in values.items()}

    loss = about(FLUX_LOSS, FLUX_LOSS_SPREAD / FLUX_LOSS)
    readings_s = tuple(round(share * DAY_S) for share in MONITOR_AT)
    truth: dict[str, Any] = {
        "dead_time_s": about(DEAD_TIME_S, DEAD_TIME_SPREAD_S / DEAD_TIME_S),
        "flux_loss": {LOTS[0]: loss, LOTS[1]: loss + FLUX_LOSS_STEP},
        "retained": about(RETAINED, RETAINED_SPREAD / RETAINED),
        "balance_g": noise * U_BALANCE_SHARED_G * float(rng.standard_normal()),
        "flux_blank": {lot: blank(FLUX_BLANK) for lot in LOTS},
        "release_blank": blank(RELEASE_BLANK),
        "sensitivity": {line: about(k, SENSITIVITY_SPREAD) for line, k in zip(t.lines, t.k)},
        "overlap": {pair: about(factor, OVERLAP_SPREAD) for pair, factor in pairs.items()},
        "drift": {
            line: (common + DRIFT_LINE * slope, bend * (arc + DRIFT_BEND_LINE * own_arc))
            for line, (slope, own_arc) in zip(t.lines, rng.uniform(-1, 1, (len(t.lines), 2)).tolist())
        },
    }
    truth["monitors"] = {
        name: {
            line: {
                "calibration": level * cps,
                **{clock(day, s): float(level * cps * drift_at(truth, line, s)) for s in readings_s},
            }
            for line, cps in zip(t.lines, t.upper_cps)
        }
        for name, level in MONITOR_LEVEL.items()
    }
    known: dict[str, Any] = {
        "dead_time_s": lab.know(truth["dead_time_s"], U_DEAD_TIME_S),
        "flux_loss": {lot: lab.know(x, U_FLUX_LOSS) for lot, x in truth["flux_loss"].items()},
        "retained": lab.know(truth["retained"], U_RETAINED),
        "balance_g": Known(0.0, float(U_BALANCE_SHARED_G)),
        "flux_blank": {lot: know_each(blanks, U_BLANK) for lot, blanks in truth["flux_blank"].items()},
        "release_blank": know_each(truth["release_blank"], U_BLANK),
        "sensitivity": know_each(truth["sensitivity"], U_SENSITIVITY),
        "overlap": know_each(truth["overlap"], U_OVERLAP),
        "monitors": {
            name: {line: know_each(read, U_MONITOR[name]) for line, read in lines.items()}
            for name, lines in truth["monitors"].items()
        },
    }
    first = [float(BACKGROUND_WEIGHT + BACKGROUND_WEIGHT_STEP * place) for place in range(len(t.lines))]
    weights = {line: (g1, 1 - g1) for line, g1 in zip(t.lines, first)}
    run = Run(f"run {day + 1}", ore, f0, t, agent, weights, readings_s, truth, known, (), ())
    made = [make_bead(lab, run, f"standard {n + 1}", LOTS[0], None, 0, True) for n in range(standards)]
    measured_s = [round((n + 0.5) / beads * DAY_S) for n in range(beads)]
    unknown = [
        make_bead(lab, run, f"bead {n + 1}", LOTS[2 * n >= beads], clock(day, s), s, False) for n, s in enumerate(measured_s)
    ]
    return Run(**{**vars(run), "beads": tuple(unknown), "standards": tuple(made)})


def simulate_day(runs: int = int(RUNS), **options: Any) -> Iterator[Run]:
    """The whole work, run after run: classes and both dilutions in turn, 2000 beads unless told otherwise."""
    kinds = [(ore, f0) for f0 in SAMPLE_G for ore in ORES]
    for n in range(runs):
        ore, f0 = kinds[n % len(kinds)]
        yield simulate_run(ore, f0, (SEED, n), day=n, **options)


def interpolation_error(run: Run) -> float:
    """Largest error of straight lines between true monitor readings, in units of the u of one reading, at any time."""
    times = np.linspace(0, DAY_S, 400)
    worst = 0.0
    for line in run.table.lines:
        true = drift_at(run.truth, line, times)
        straight = np.interp(times, run.drift_s, [drift_at(run.truth, line, s) for s in run.drift_s])
        for u in U_MONITOR.values():
            worst = max(worst, float(np.max(np.abs(straight - true) / (u * true))))
    return worst


def inputs(run: Run, bead: Bead) -> dict[str, tuple[np.ndarray, np.ndarray]]:
    """What the evaluation of one bead starts from: value and u of each group of numbers, arrays over lines or components."""
    t, known, seen = run.table, run.known, bead.seen

    def pair(values: Any) -> tuple[np.ndarray, np.ndarray]:
        both = np.array(values, dtype=float)
        return both[..., 0], both[..., 1]

    none = Known(0.0, 0.0)
    monitors = [[list(known["monitors"][name][line].values()) for line in t.lines] for name in ("high", "low")]
    return {
        **{name: pair(seen[name]) for name in ("sample_g", "flux_g", "release_g")},
        **{name: pair(known[name]) for name in ("balance_g", "retained", "dead_time_s")},
        "flux_loss": pair(known["flux_loss"][bead.lot]),
        **{place: pair([seen["rates"][line][place] for line in t.lines]) for place in ("peak", "background 1", "background 2")},
        "monitors": pair(monitors),
        "overlap": pair(list(known["overlap"].values())),
        "flux_blank": pair([known["flux_blank"][bead.lot].get(name, none) for name in t.components]),
        "release_blank": pair([known["release_blank"].get(name, none) for name in t.components]),
        "sensitivity": pair([known["sensitivity"][line] for line in t.lines]),
    }


def chain(run: Run, bead: Bead, x: dict[str, np.ndarray], measured_agent: bool = False) -> np.ndarray:
    """Back from rates to contents of the 14 components; the arrays of `x` may carry a leading axis of draws.

    Order: dead time, background, drift by two monitors (readings joined by straight lines), overlap, equation. The release
    agent is taken as dosed times retained, or as the 14th unknown from its own line."""
    t = run.table
    g1, g2 = np.array([run.weights[line] for line in t.lines]).T
    dead_time = x["dead_time_s"][..., None]
    peak, side_1, side_2 = (x[place] / (1 - x[place] * dead_time) for place in ("peak", "background 1", "background 2"))
    net = peak - g1 * side_1 - g2 * side_2
    if bead.time is not None:
        after = min(int(np.searchsorted(run.drift_s, bead.elapsed_s, side="right")), len(run.drift_s) - 1)
        share = (bead.elapsed_s - run.drift_s[after - 1]) / (run.drift_s[after] - run.drift_s[after - 1])
        readings = x["monitors"]  # calibration first, then the readings of the day
        now = readings[..., after] + share * (readings[..., after + 1] - readings[..., after])
        (high_0, low_0), (high, low) = (np.moveaxis(part, -2, 0) for part in (readings[..., 0], now))
        net = low_0 + (net - low) * (high_0 - low_0) / (high - low)
    mixing = np.broadcast_to(np.eye(len(t.lines)), (*net.shape, len(t.lines))).copy()
    for place, (source, on) in enumerate(run.known["overlap"]):
        mixing[..., t.lines.index(on), t.lines.index(source)] += x["overlap"][..., place]
    alone = np.linalg.solve(mixing, net[..., None])[..., 0]
    sample, flux = x["sample_g"] - x["balance_g"], x["flux_g"] - x["balance_g"]
    fused_flux = (flux * (1 - x["flux_loss"]) / sample)[..., None]
    release = (x["release_g"] * x["retained"] / sample)[..., None]
    k_i = x["sensitivity"] * alone
    left = np.eye(len(t.lines)) - k_i[..., None] * t.a
    left[..., :, -1] += x["release_blank"]
    right = k_i * fused_flux / run.f0 - fused_flux * x["flux_blank"]
    if measured_agent:
        return np.linalg.solve(left, right[..., None])[..., 0]
    right = right - left[..., :, -1] * release
    w = np.linalg.solve(left[..., :-1, :-1], right[..., :-1, None])[..., 0]
    return np.concatenate([w, release], axis=-1)


def evaluate(run: Run, bead: Bead, measured_agent: bool = False) -> dict[str, float]:
    """Contents of the 14 components, g per g sample as weighed, from what the laboratory sees."""
    w = chain(run, bead, {name: value for name, (value, _) in inputs(run, bead).items()}, measured_agent)
    return dict(zip(run.table.components, w.tolist()))


def monte_carlo(
    run: Run, bead: Bead, draws: int, seed: int = 1, measured_agent: bool = False
) -> dict[str, Known]:
    """`evaluate` with the standard deviation of `draws` runs of the chain over normal draws of everything stated with a u.

    Coefficients and background weights are taken as exact."""
    rng = np.random.default_rng(seed)
    drawn = {name: value + u * rng.standard_normal((draws, *u.shape)) for name, (value, u) in inputs(run, bead).items()}
    u = np.std(chain(run, bead, drawn, measured_agent), axis=0, ddof=1)
    values = evaluate(run, bead, measured_agent)
    return {name: Known(w, float(spread)) for (name, w), spread in zip(values.items(), u)}


def printed() -> Iterator[str]:
    """Every factor as a row: name, value, unit, meaning; then what was computed of the whole day."""
    for name, held in globals().items():
        for key, factor in (held if isinstance(held, dict) else {"": held}).items():
            if isinstance(factor, Factor):
                label = " on ".join(key) if isinstance(key, tuple) else str(key)
                yield f"{name} {label}".strip().ljust(32) + f"{float(factor):<14.6g}{factor.unit:<18}{factor.what}"
    yield "MONITOR_AT".ljust(32) + "at " + ", ".join(f"{share * DAY_S:.0f}" for share in MONITOR_AT) + " s of the day"
    for of, (lower, upper, what) in RANGES.items():
        yield f"RANGES {of}".ljust(32) + f"{lower:g} to {upper:g}".ljust(14) + "g/g".ljust(18) + f"{what}, uniform"
    whole = list(simulate_day(standards=0))
    yield f"beads of the day: {sum(len(run.beads) for run in whole)}"
    worst = max(interpolation_error(run) for run in whole)
    yield f"drift between monitor readings: straight lines err by at most {worst:.3f} u of a reading"


if __name__ == "__main__" and "--print" in sys.argv[1:]:
    print("\n".join(printed()))
