"""From the intensities of unknowns to their contents, several ways."""

from __future__ import annotations

import warnings
from dataclasses import dataclass
from functools import cached_property

import beadchem as bc
import numpy as np

from .beads import BLEND, RATIO, RATIO_U, Beads, certified_u, counting_u

MAJOR = 0.01
"""What a regression has on its right side: components of 1 % and more at the centre of the class."""
SAMPLE_G = 0.8
EQUAL = 1e-9
"""The library's contents beside the solved equation, relative to the largest of a bead."""


@dataclass(frozen=True)
class Known:
    """Beads with what is believed of them, [bead, component], and their intensities."""

    contents: np.ndarray
    intensities: np.ndarray
    loss: np.ndarray

    def first(self, count: int) -> Known:
        return Known(self.contents[:count], self.intensities[:count], self.loss[:count])

    @cached_property
    def weights(self) -> np.ndarray:
        """One over the square of what certificate, F and counting leave of doubt, relative."""
        doubt = certified_u(self.contents) ** 2 + counting_u(self.contents) ** 2 + RATIO_U**2
        return 1.0 / doubt


class Theory:
    """w = k I (F/F0 + sum a w): coefficients from first principles at the centre of the class, k from beads."""

    def __init__(self, beads: Beads, theory: bc.Theory) -> None:
        ore = beads.ore
        self.ore = ore
        made = theory.coefficients(ore.name, "1", "benches/gain.py", beads.bead(ore.centroid))
        self.set = made
        self.a = np.array([[made.row(line)[component] for component in ore.components] for line in ore.lines])

    def sensitivities(self, known: Known) -> np.ndarray:
        single = known.contents / (known.intensities * (1.0 + known.contents @ self.a.T))
        return np.average(single, axis=0, weights=known.weights)

    def contents(self, k: np.ndarray, intensities: np.ndarray) -> np.ndarray:
        """By the library, as a laboratory would run it: a method, and a table of net intensities."""
        lines = self.ore.lines
        calibration = bc.Calibration(
            "gain", "1", "invented beads", basis="dried", sensitivities=dict(zip(lines, k.tolist()))
        )
        method = bc.Method("gain", "1", "invented", coefficients=self.set, calibration=calibration)
        lot = bc.FluxLot("F-1", BLEND, programme="1050 C, 18 min", loss_percent=bc.exact(0.0))
        charge = bc.Charge(bc.Sample(SAMPLE_G, basis="dried"), lot.weigh(SAMPLE_G * RATIO))
        lost = 100.0 * (1.0 - self.ore.centroid.sum())
        rows = len(intensities)
        table = {"sample_g": np.full(rows, SAMPLE_G), "flux_g": np.full(rows, SAMPLE_G * RATIO)}
        table |= {f"{line.replace(' ', '_')}_cps": column.copy() for line, column in zip(lines, intensities.T)}
        with warnings.catch_warnings():
            warnings.simplefilter("ignore", bc.BeadchemNote)  # the rows have no loss on ignition, so no total
            found = bc.correct(table, bc.Correction(method, charge, loss_on_fusion_percent=float(lost)))
        return np.stack([found[f"{component}_percent"] for component in self.ore.components], axis=1) / 100.0

    def solved(self, k: np.ndarray, intensities: np.ndarray) -> np.ndarray:
        """The same equation by numpy, to prove that it is the one."""
        return solved(intensities * k, self.a)

    def prove(self, k: np.ndarray, intensities: np.ndarray) -> None:
        """Ends the program unless the library gives what the published equation says."""
        reference = self.solved(k, intensities)
        off = np.abs(self.contents(k, intensities) - reference).max(axis=1) / reference.max(axis=1)
        if not off.max() <= EQUAL:
            raise SystemExit(f"{self.ore.name}: the library is {off.max():.1e} from the solved equation")


def solved(strengths: np.ndarray, a: np.ndarray, right: np.ndarray | float = 1.0) -> np.ndarray:
    """(1 - diag(s) a) w = s r for each bead."""
    system = np.eye(a.shape[0]) - strengths[:, :, None] * a
    return np.linalg.solve(system, (strengths * right)[:, :, None])[:, :, 0]


@dataclass(frozen=True)
class Regression:
    """w/I = b0 + sum b w over the major components, line by line; the loss may be one of them, known exactly."""

    beads: Beads
    analyte_too: bool
    loss_too: bool

    def contents(self, known: Known, intensities: np.ndarray, loss: np.ndarray) -> np.ndarray:
        ore = self.beads.ore
        majors = np.flatnonzero(ore.centroid >= MAJOR)
        n = len(ore.components)
        constants, lost, slopes = np.zeros(n), np.zeros(n), np.zeros((n, n))
        for line in range(n):
            on = majors if self.analyte_too else majors[majors != line]
            columns = [np.ones(len(known.loss)), *known.contents[:, on].T, *([known.loss] if self.loss_too else [])]
            # in parts of the content, so that a doubt of so many per cent weighs alike whatever the content
            scale = np.sqrt(known.weights[:, line]) * known.intensities[:, line] / known.contents[:, line]
            right = known.contents[:, line] / known.intensities[:, line]
            fit = np.linalg.lstsq(np.stack(columns, axis=1) * scale[:, None], right * scale, rcond=None)[0]
            constants[line], slopes[line, on] = fit[0], fit[1 : 1 + len(on)]
            lost[line] = fit[-1] if self.loss_too else 0.0
        return solved(intensities, slopes, constants + np.outer(loss, lost))


def straight_line(known: Known, intensities: np.ndarray) -> np.ndarray:
    """w = b0 + b1 I."""
    found = np.empty_like(intensities)
    for line in range(intensities.shape[1]):
        scale = np.sqrt(known.weights[:, line]) / known.contents[:, line]
        columns = np.stack([np.ones(len(scale)), known.intensities[:, line]], axis=1)
        fit = np.linalg.lstsq(columns * scale[:, None], known.contents[:, line] * scale, rcond=None)[0]
        found[:, line] = fit[0] + fit[1] * intensities[:, line]
    return found


def inverted(beads: Beads, bead: Known, intensities: np.ndarray) -> np.ndarray:
    """First principles for each unknown, in the units of one bead."""
    ore = beads.ore
    factor = bead.intensities[0] / beads.computed(ore.centroid)
    start = beads.bead(ore.centroid)
    found = np.empty_like(intensities)
    for row, measured in enumerate(intensities / factor):
        contents = beads.theory.invert(start, dict(zip(ore.lines, measured.tolist())), most=8).contents_percent
        found[row] = [contents[component] / 100.0 for component in ore.components]
    return found
