"""numpy as an expert writes it (chunks that the cache holds, [component, row], buffers kept) and as usually written."""

from __future__ import annotations

from collections.abc import Callable

import numpy as np

from .accuracy import SMALLEST, Effort
from .contender import Contender, Prepare, Prepared
from .job import (
    CHUNK,
    F0,
    FLUX_LOSS,
    LOWEST,
    NEGATIVE,
    OFF_RATIO,
    OFF_TOTAL,
    RATIO_SPAN,
    TOTAL_SPAN,
    Job,
    OreClass,
    Result,
)

SOLVE_CHUNK = 1024
"""Rows whose systems are solved at once: 14 x 14 numbers each, 1.6 MB."""


class Workspace:
    """Buffers for one chunk. The last row of `w` is F/F0 and the last column of `a` is 1, so that the product with the
    coefficients adds the constant term too."""

    def __init__(self, ore: OreClass, chunk: int) -> None:
        n = len(ore.k)
        self.a = np.column_stack([ore.a, np.ones(n)])
        self.strengths, self.product, self.first, self.second = (np.empty(n * chunk) for _ in range(4))
        self.old, self.new = np.empty((n + 1) * chunk), np.empty((n + 1) * chunk)
        self.n = n

    def cut(self, buffer: np.ndarray, rows: int, more: int = 0) -> np.ndarray:
        """The front of a buffer as [component, row]."""
        return buffer[: (self.n + more) * rows].reshape(self.n + more, rows)


Solver = Callable[[Workspace, int, Effort], np.ndarray]
"""Contents of as many rows as asked, from the strengths and F/F0 in the workspace."""


def sweeps(space: Workspace, rows: int, effort: Effort) -> np.ndarray:
    """w = k I (F/F0 + a w), repeated."""
    strengths, product = space.cut(space.strengths, rows), space.cut(space.product, rows)
    full = space.cut(space.new, rows, 1)
    w = full[:-1]
    np.multiply(strengths, full[-1], out=w)
    for _ in range(effort.plain):
        np.matmul(space.a, full, out=product)
        np.multiply(strengths, product, out=w)
    return w


def extrapolated(space: Workspace, rows: int, effort: Effort) -> np.ndarray:
    """Sweeps, one extrapolation along the slowest direction of each row, sweeps."""
    strengths, product = space.cut(space.strengths, rows), space.cut(space.product, rows)
    first, second = space.cut(space.first, rows), space.cut(space.second, rows)
    old, new = space.cut(space.old, rows, 1), space.cut(space.new, rows, 1)
    old[-1] = new[-1]
    np.multiply(strengths, new[-1], out=new[:-1])
    for _ in range(effort.before):
        old, new = new, old
        np.matmul(space.a, old, out=product)
        np.multiply(strengths, product, out=new[:-1])
    np.subtract(new[:-1], old[:-1], out=first)
    np.matmul(space.a, new, out=product)
    np.multiply(strengths, product, out=old[:-1])
    np.subtract(old[:-1], new[:-1], out=second)
    ratio = np.einsum("ir,ir->r", first, second)
    ratio /= np.maximum(np.einsum("ir,ir->r", first, first), SMALLEST)
    ratio /= 1.0 - ratio
    second *= ratio
    old[:-1] += second
    for _ in range(effort.after):
        np.matmul(space.a, old, out=product)
        np.multiply(strengths, product, out=old[:-1])
    return old[:-1]


def batched_solve(space: Workspace, rows: int, _: Effort) -> np.ndarray:
    """One pivoted elimination per row."""
    strengths, share = space.cut(space.strengths, rows), space.cut(space.new, rows, 1)[-1]
    system = strengths.T[:, :, None] * -space.a[:, :-1]
    np.einsum("rii->ri", system)[...] += 1.0
    return np.linalg.solve(system, (strengths * share).T[:, :, None])[:, :, 0].T


def _finish(job: Job, c: int, rows: slice | np.ndarray, w: np.ndarray, share: np.ndarray, out: Result) -> None:
    """Both bases, total, F and flags of a chunk."""
    n = len(job.components)
    moist = 1.0 - job.moisture[rows] * 0.01
    total = job.classes[c].of_sample @ w
    total *= 100.0
    total += job.loss[rows]
    if isinstance(rows, slice):
        np.multiply(w, 100.0, out=out.block[:n, rows])
        np.multiply(out.block[:n, rows], moist, out=out.block[n : 2 * n, rows])
    else:
        for i, own in enumerate(w * 100.0):
            out.block[i][rows] = own
            out.block[n + i][rows] = own * moist
    out.block[2 * n, rows] = total
    out.block[2 * n + 1, rows] = share * F0
    flags = (np.abs(share - 1.0) > RATIO_SPAN).view(np.uint8) * np.uint8(OFF_RATIO)
    flags |= ((total < TOTAL_SPAN[0]) | (total > TOTAL_SPAN[1])).view(np.uint8) * np.uint8(OFF_TOTAL)
    flags |= (w.min(axis=0) < LOWEST / 100.0).view(np.uint8) * np.uint8(NEGATIVE)
    out.flags[rows] = flags


def chunked(solver: Solver, chunk: int) -> Prepare:
    """The expert form with one solver."""

    def prepare(job: Job, efforts: tuple[Effort, ...]) -> Prepared:
        spaces = [Workspace(ore, chunk) for ore in job.classes]

        def run(out: Result | None) -> Result:
            out = job.empty() if out is None else out
            for c, rows in job.pieces(chunk):
                space = spaces[c]
                flux = job.flux_g[rows]
                held = len(flux)
                strengths, share = space.cut(space.strengths, held), space.cut(space.new, held, 1)[-1]
                for column, k, row in zip(job.cps, job.classes[c].k, strengths):
                    np.multiply(column[rows], k, out=row)
                np.divide(flux, job.sample_g[rows], out=share)
                share *= (1.0 - FLUX_LOSS) / F0
                share_kept = share.copy()
                w = solver(space, held, efforts[c])
                _finish(job, c, rows, w, share_kept, out)
            return out

        return Prepared(run, job.empty)

    return prepare


def whole_table(job: Job, efforts: tuple[Effort, ...]) -> Prepared:
    """As usually written: the whole table at once, one bead per row, C @ A.T until it no longer moves."""

    def one_class(c: int, rows: slice | np.ndarray, out: Result) -> None:
        ore, n = job.classes[c], len(job.components)
        intensities = np.column_stack([column[rows] for column in job.cps])
        ratio = job.flux_g[rows] * (1.0 - FLUX_LOSS) / job.sample_g[rows]
        strengths = intensities * ore.k
        start = strengths * (ratio / F0)[:, None]
        w = start
        for _ in range(efforts[c].plain):
            w = start + strengths * (w @ ore.a.T)
        dried = 100.0 * w
        total = dried @ ore.of_sample + job.loss[rows]
        received = dried * (1.0 - job.moisture[rows] / 100.0)[:, None]
        flags = OFF_RATIO * (np.abs(ratio / F0 - 1.0) > RATIO_SPAN)
        flags = flags + OFF_TOTAL * ((total < TOTAL_SPAN[0]) | (total > TOTAL_SPAN[1]))
        flags = flags + NEGATIVE * (dried.min(axis=1) < LOWEST)
        for i in range(n):
            out.block[i, rows] = dried[:, i]
            out.block[n + i, rows] = received[:, i]
        out.block[2 * n, rows] = total
        out.block[2 * n + 1, rows] = ratio
        out.flags[rows] = flags

    def run(_: Result | None) -> Result:
        out = job.empty()
        for c in range(len(job.classes)):
            one_class(c, np.flatnonzero(job.codes == c) if job.mixed else slice(0, job.rows), out)
        return out

    return Prepared(run)


SWEEPS = Contender("numpy, chunks, sweeps", chunked(sweeps, CHUNK))
SOLVE = Contender("numpy, chunks, batched solve", chunked(batched_solve, SOLVE_CHUNK))
EXTRAPOLATED = Contender("numpy, chunks, sweeps and one extrapolation", chunked(extrapolated, CHUNK))
WHOLE_TABLE = Contender("numpy, whole table", whole_table)
