"""Invented ores: seven classes, each content drawn as `tests/data/class_centroids.csv` states.

    python -m gain.ores 25 1

in `benches/` prints 25 ores of each class, seed 1, as `tests/data/xray/ores.csv` holds them.

A release agent is left out: its halide is no part of the sample.
"""

from __future__ import annotations

import csv
import sys
from dataclasses import dataclass
from functools import cache
from pathlib import Path

import numpy as np

CENTROIDS = Path(__file__).parents[2] / "tests" / "data" / "class_centroids.csv"
CLASSES = ("cu_sulfide", "iron_ore", "bauxite", "limestone", "clay", "silica", "mn_ore")
LOSSES = {
    "iron_ore": (0.0, 0.10),
    "bauxite": (0.16, 0.31),
    "clay": (0.04, 0.14),
    "silica": (0.0, 0.008),
    "mn_ore": (0.07, 0.16),
}
"""Loss on ignition, uniform; the component by difference is what is left."""
IRON, COPPER = 0.69943, 0.79887
"""Of the element in Fe2O3 and CuO, g/g."""
SULFATE = 2.4972
"""SO3 for each gram of S."""
CARBONATE = {"CaO": 1.78479, "MgO": 2.09195}
"""CaCO3 and MgCO3 for each gram of oxide."""


@dataclass(frozen=True)
class Ore:
    """A class: its components, the line of each, the centre, the limits and the way each is drawn."""

    name: str
    components: tuple[str, ...]
    lines: tuple[str, ...]
    centroid: np.ndarray
    bounds: np.ndarray
    how: tuple[str, ...]

    def draw(self, count: int, rng: np.random.Generator) -> np.ndarray:
        """Contents of so many ores, g/g, [ore, component]."""
        low, high = self.bounds.T
        u = rng.uniform(size=(count, len(self.components)))
        w = np.where(np.array(self.how) == "uniform", low + u * (high - low), low * (high / low) ** u)
        {"cu_sulfide": self._sulfide, "limestone": self._carbonate}.get(self.name, self._difference)(w, rng)
        for place, how in enumerate(self.how):
            if how not in ("uniform", "log-uniform"):
                w[:, place] = np.clip(w[:, place], *self.bounds[place])
        return w

    def place(self, component: str) -> int:
        return self.components.index(component)

    def _difference(self, w: np.ndarray, rng: np.random.Generator) -> None:
        balance = self.how.index("by difference")
        left = 1.0 - rng.uniform(*LOSSES[self.name], len(w))
        w[:, balance] = left - (w.sum(axis=1) - w[:, balance])

    def _sulfide(self, w: np.ndarray, rng: np.random.Generator) -> None:
        """Sulfur goes with iron and copper, which are metals in the ore and oxides in the bead."""
        sulfate, silica = self.place("SO3"), self.place("SiO2")
        iron, copper = w[:, self.place("Fe2O3")], w[:, self.place("CuO")]
        share, kept, rest = (rng.uniform(*limits, len(w)) for limits in ((0.3, 1.1), (0.9, 1.0), (0.01, 0.06)))
        sulfur = np.minimum(0.002 + 0.7 * share * iron + 0.5 * copper, 0.30)
        w[:, sulfate] = w[:, silica] = 0.0
        oxygen = (1.0 - IRON) * iron + (1.0 - COPPER) * copper
        w[:, silica] = 1.0 - (w.sum(axis=1) - oxygen) - sulfur - rest
        w[:, sulfate] = SULFATE * kept * sulfur

    def _carbonate(self, w: np.ndarray, rng: np.random.Generator) -> None:
        """Lime is what is left when magnesia and lime are carbonates."""
        lime, magnesia = self.place("CaO"), self.place("MgO")
        w[:, lime] = 0.0
        others = w.sum(axis=1) + (CARBONATE["MgO"] - 1.0) * w[:, magnesia]
        w[:, lime] = (1.0 - others) / CARBONATE["CaO"]


@cache
def ores() -> dict[str, Ore]:
    with CENTROIDS.open(encoding="utf-8") as file:
        rows = list(csv.DictReader(line for line in file if not line.startswith("#")))
    found = {}
    for name in CLASSES:
        own = [row for row in rows if row["class"] == name and row["line"] and row["basis"] == "part of the sample"]
        found[name] = Ore(
            name,
            tuple(row["component"] for row in own),
            tuple(_line(row["line"]) for row in own),
            np.array([float(row["centroid"]) for row in own]),
            np.array([[float(row["lower"]), float(row["upper"])] for row in own]),
            tuple(row["distribution"] for row in own),
        )
    return found


def _line(name: str) -> str:
    """`Fe KA` of the older table as `Fe Ka`."""
    element, line = name.split()
    return f"{element} {line[0]}{line[1:].lower()}"


def main(count: int, seed: int) -> None:
    components = sorted({component for ore in ores().values() for component in ore.components})
    print(f"# Invented ores, {count} of each class: python -m gain.ores {count} {seed} in benches/. Contents in g/g.")
    print(",".join(["class", *components]))
    rng = np.random.default_rng(seed)
    for name, ore in ores().items():
        for contents in ore.draw(count, rng):
            held = dict(zip(ore.components, contents))
            print(",".join([name, *(f"{held.get(component, 0.0):.6f}" for component in components)]))


if __name__ == "__main__":
    main(int(sys.argv[1]), int(sys.argv[2]))
