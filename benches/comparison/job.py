"""The job that every contender does: a table of beads in, contents on two bases out.

Per gram of dried sample, as weighed into the bead, each class of ore with its own coefficients:

    w_i = k_i I_i (F/F0 + sum_j a_ij w_j),    F = flux_g (1 - flux loss) / sample_g

Coefficients, centroids and ranges are those of the tests (`tests/data/full_coefficients.csv`, `class_centroids.csv`;
how they were computed is said in their heads). The beads are invented and solved forward: contents are drawn from the
distribution of each component, intensities follow from the equation.
"""

from __future__ import annotations

import csv
import dataclasses
import functools
from collections.abc import Iterator
from dataclasses import dataclass
from pathlib import Path

import numpy as np

DATA = Path(__file__).resolve().parents[2] / "tests" / "data"
F0 = 5.0
"""Fused flux ratio of the coefficient sets used."""
FLUX_LOSS = 0.004
"""Share of the flux lost in fusion, one lot for the whole table."""
RATIO_SPAN = 0.1
"""A row is flagged where F is farther than this share from F0."""
TOTAL_SPAN = (98.0, 102.0)
"""A row is flagged where its total with the loss on ignition, %, is outside."""
LOWEST = -0.05
"""A row is flagged where a content, %, is below."""
OFF_RATIO, OFF_TOTAL, NEGATIVE = 1, 2, 4
COUNTS = 1e-5
"""Counts per second and theoretical photon: makes counts of usual size."""
CHUNK = 4096


@dataclass(frozen=True)
class OreClass:
    """One class of ore at 1:5, arrays over its components; each component has one line."""

    name: str
    components: tuple[str, ...]
    lines: tuple[str, ...]
    a: np.ndarray
    k: np.ndarray
    centroid: np.ndarray
    bounds: np.ndarray
    distributions: tuple[str, ...]
    loss: tuple[float, float]

    @property
    def balance(self) -> int:
        """Place of the component that takes up what the others leave."""
        return next(i for i, how in enumerate(self.distributions) if how in ("by difference", "carbonate balance"))

    @property
    def of_sample(self) -> np.ndarray:
        """1 for components of the sample, 0 for the halide, which lies on top of it."""
        return np.array([0.0 if name.startswith("Li") else 1.0 for name in self.components])


@dataclass
class Result:
    """Columns of results: per component dried, then as received, %; total with loss, % dried; F."""

    block: np.ndarray
    flags: np.ndarray
    """Empty for a contender that has findings of its own instead."""

    @classmethod
    def empty(cls, components: int, rows: int) -> Result:
        return cls(np.empty((2 * components + 2, rows)), np.empty(rows, np.uint8))


@dataclass(frozen=True)
class Job:
    """A table of beads measured on the same lines; `codes` holds the class of each row, a place in `classes`."""

    name: str
    classes: tuple[OreClass, ...]
    codes: np.ndarray
    sample_g: np.ndarray
    flux_g: np.ndarray
    loss: np.ndarray
    moisture: np.ndarray
    cps: list[np.ndarray]

    @property
    def components(self) -> tuple[str, ...]:
        return self.classes[0].components

    @property
    def lines(self) -> tuple[str, ...]:
        return self.classes[0].lines

    @property
    def rows(self) -> int:
        return len(self.codes)

    @property
    def mixed(self) -> bool:
        return len(self.classes) > 1

    def empty(self) -> Result:
        return Result.empty(len(self.components), self.rows)

    def pieces(self, chunk: int = CHUNK) -> Iterator[tuple[int, slice | np.ndarray]]:
        """Class and rows, piece by piece: slices of a table of one class; rows of a mixed table, grouped inside spans
        that the cache holds."""
        span = chunk * len(self.classes)
        for start in range(0, self.rows, span):
            stop = min(start + span, self.rows)
            if not self.mixed:
                yield 0, slice(start, stop)
                continue
            codes = self.codes[start:stop]
            order = np.argsort(codes, kind="stable")
            ends = np.cumsum(np.bincount(codes, minlength=len(self.classes)))
            for c, rows in enumerate(np.split(order, ends[:-1])):
                for part in range(0, len(rows), chunk):
                    yield c, rows[part : part + chunk] + start

    def head(self, rows: int) -> Job:
        """The first rows alone."""
        return dataclasses.replace(
            self,
            codes=self.codes[:rows].copy(),
            sample_g=self.sample_g[:rows].copy(),
            flux_g=self.flux_g[:rows].copy(),
            loss=self.loss[:rows].copy(),
            moisture=self.moisture[:rows].copy(),
            cps=[column[:rows].copy() for column in self.cps],
        )


def _rows(name: str) -> list[dict[str, str]]:
    with (DATA / name).open(newline="", encoding="utf-8") as file:
        return list(csv.DictReader(line for line in file if not line.startswith("#")))


@functools.cache
def ore_classes() -> dict[str, OreClass]:
    """The seven classes, in the order of the table."""
    coefficients = [row for row in _rows("full_coefficients.csv") if float(row["F0"]) == F0]
    ranges = {(row["class"], row["component"]): row for row in _rows("class_centroids.csv")}
    return {
        name: _ore_class(name, coefficients, ranges) for name in dict.fromkeys(row["class"] for row in coefficients)
    }


def _ore_class(
    name: str, coefficients: list[dict[str, str]], ranges: dict[tuple[str, str], dict[str, str]]
) -> OreClass:
    rows = [row for row in coefficients if row["class"] == name]
    components = tuple(dict.fromkeys(row["analyte"] for row in rows))
    n = len(components)
    own = [ranges[name, component] for component in components]
    loss = ranges[name, "LOI"]
    assert [row["component"] for row in rows] == list(components) * n, f"{name}: order of the components"
    return OreClass(
        name,
        components,
        tuple(row["line"].split()[0] + " " + row["line"].split()[1].capitalize() for row in rows[::n]),
        np.array([float(row["a_taylor"]) for row in rows]).reshape(n, n),
        np.array([float(row["k_taylor"]) for row in rows[::n]]) / COUNTS,
        np.array([float(row["centroid"]) for row in own]),
        np.array([[float(row["lower"]), float(row["upper"])] for row in own]),
        tuple(row["distribution"] for row in own),
        (float(loss["lower"]), float(loss["upper"])),
    )


def _contents(ore: OreClass, rows: int, rng: np.random.Generator) -> np.ndarray:
    """Contents in g/g, [component, row]: each from its own distribution, the balance from what is left of one gram."""
    w = np.empty((len(ore.components), rows))
    for i, ((low, high), how) in enumerate(zip(ore.bounds, ore.distributions)):
        if how == "log-uniform":
            w[i] = np.exp(rng.uniform(np.log(low), np.log(high), rows))
        elif how == "uniform":
            w[i] = rng.uniform(low, high, rows)
        else:
            w[i] = rng.triangular(low, ore.centroid[i], high, rows)
    others = ore.of_sample @ w - w[ore.balance]
    w[ore.balance] = np.clip(1.0 - others - rng.uniform(*ore.loss, rows), *ore.bounds[ore.balance])
    return w


def make(names: list[str], rows: int, seed: int = 20) -> Job:
    """A table of these classes, rows in random order; catch weights scatter F a few percent about F0.

    A method measures the same lines in all its classes. In a mixed table the matrices and contents of every class are
    therefore put, place by place, on the lines of the first and on their sensitivities.
    """
    rng = np.random.default_rng(seed)
    first = ore_classes()[names[0]]
    classes = tuple(
        dataclasses.replace(ore_classes()[name], components=first.components, lines=first.lines, k=first.k)
        for name in names
    )
    codes = rng.integers(0, len(classes), rows).astype(np.uint8)
    sample_g = 0.8 * rng.uniform(0.98, 1.02, rows)
    flux_g = 0.8 * F0 * rng.uniform(0.98, 1.02, rows)
    ratio = flux_g * (1.0 - FLUX_LOSS) / sample_g
    loss = np.empty(rows)
    cps = [np.empty(rows) for _ in first.lines]
    for c, ore in enumerate(classes):
        own = np.flatnonzero(codes == c)
        w = _contents(ore, len(own), rng)
        loss[own] = 100.0 * (1.0 - ore.of_sample @ w) + rng.normal(0.0, 0.7, len(own))
        for column, values in zip(cps, w / (ore.k[:, None] * (ratio[own] / F0 + ore.a @ w))):
            column[own] = values
    name = names[0] if len(names) == 1 else "mixed"
    return Job(name, classes, codes, sample_g, flux_g, loss, rng.uniform(0.1, 2.0, rows), cps)
