"""Beads of an ore: intensities by the truth with the noise of a laboratory, and the theory that knows neither."""

from __future__ import annotations

from dataclasses import dataclass
from functools import cache

import beadchem as bc
import numpy as np

from .ores import Ore, ores
from .tables import chantler

RATIO = 5.0
"""Fused flux, g per g of sample."""
BLEND = {"Li2B4O7": 35.0, "LiBO2": 65.0}
INCIDENCE, TAKE_OFF = 63.0, 40.0
RATIO_U, COUNTING_U, COUNTING_FLOOR = 0.0011, 0.001, 0.005
"""Relative: F; an intensity 0.1 % sqrt(1 + 0.005/w)."""
CERTIFIED_U = ((0.10, 0.003), (0.01, 0.01), (0.0, 0.03))
"""Relative, of a certified content above so many g/g."""
WEIGHED_U = 0.001
"""Relative, of each content of a bead made by weighing pure oxides."""
ALWAYS = ("Li", "Be", "B", "O", "Rh")
"""Flux, window and anode."""


def _instrument(beryllium_um: float, take_off_deg: float) -> bc.Instrument:
    tube = bc.Source.tube("Rh", kv=50, beryllium_um=beryllium_um, electrons_deg=90, take_off_deg=take_off_deg)
    return bc.Instrument(tube, incidence_deg=INCIDENCE, take_off_deg=TAKE_OFF)


@cache
def other_tables() -> bc.AtomicTables:
    symbols = {line.split()[0] for ore in ores().values() for line in ore.lines}
    return chantler({*symbols, *ALWAYS})


@dataclass(frozen=True)
class Beads:
    """What makes and what computes the beads of a class."""

    ore: Ore
    truth: bc.Theory
    theory: bc.Theory

    @classmethod
    def of(cls, ore: Ore) -> Beads:
        lines = dict(zip(ore.lines, ore.components))
        components = list(ore.components)
        truth = bc.Theory(
            _instrument(300.0, 26.0), blend=BLEND, components=components, lines=lines, tables=other_tables()
        )
        theory = bc.Theory(_instrument(125.0, 45.0), blend=BLEND, components=components, lines=lines)
        return cls(ore, truth, theory)

    def bead(self, contents: np.ndarray, ratio: float = RATIO) -> bc.ReferenceBead:
        return bc.ReferenceBead(ratio, dict(zip(self.ore.components, (100.0 * contents).tolist())))

    def measured(self, contents: np.ndarray, rng: np.random.Generator) -> np.ndarray:
        """Intensities of beads, [bead, line], weighed and counted as well as a laboratory does."""
        ratios = RATIO * (1.0 + RATIO_U * rng.standard_normal(len(contents)))
        exact = [self.truth.intensities(self.bead(w, ratio)) for w, ratio in zip(contents, ratios.tolist())]
        intensities = np.array([[of[line] for line in self.ore.lines] for of in exact])
        return intensities * (1.0 + counting_u(contents) * rng.standard_normal(contents.shape))

    def computed(self, contents: np.ndarray) -> np.ndarray:
        """Intensities of one bead by the theory."""
        of = self.theory.intensities(self.bead(contents))
        return np.array([of[line] for line in self.ore.lines])


def counting_u(contents: np.ndarray) -> np.ndarray:
    return COUNTING_U * np.sqrt(1.0 + COUNTING_FLOOR / contents)


def certified_u(contents: np.ndarray) -> np.ndarray:
    return np.select([contents > above for above, _ in CERTIFIED_U], [u for _, u in CERTIFIED_U])
