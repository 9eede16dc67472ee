"""Equal accuracy: the pivoted solution, how far a result is from it, and the sweeps that a contender needs.

The measure: largest difference over the contents of a row, divided by the largest content of that row; worst row of the
table. Every contender must be within `EQUAL` of the pivoted solution in every row before it is timed.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from .job import F0, FLUX_LOSS, LOWEST, NEGATIVE, OFF_RATIO, OFF_TOTAL, RATIO_SPAN, TOTAL_SPAN, Job, OreClass, Result

EQUAL = 1e-10
MOST_SWEEPS = 200
MOST_BEFORE = 16
TRIAL_ROWS = 20_000
"""Rows on which the place of the extrapolation is chosen; the sweeps after it are counted on all rows."""
SMALLEST = 1e-300
"""Keeps the ratio of two steps a number where a row has converged already."""
Piece = tuple[np.ndarray, np.ndarray]
"""k I and F/F0 of some rows of one class: [component, row] and [row]."""


def piece(job: Job, c: int, rows: slice | np.ndarray) -> Piece:
    ore = job.classes[c]
    strengths = np.stack([column[rows] * k for column, k in zip(job.cps, ore.k)])
    return strengths, job.flux_g[rows] * (1.0 - FLUX_LOSS) / job.sample_g[rows] / F0


def pivoted(ore: OreClass, strengths: np.ndarray, share: np.ndarray) -> np.ndarray:
    """Contents by elimination with pivots: (1 - diag(k I) a) w = k I F/F0."""
    system = np.eye(len(ore.k)) - strengths.T[:, :, None] * ore.a
    return np.linalg.solve(system, (strengths * share).T[:, :, None])[:, :, 0].T


def error(found: np.ndarray, reference: np.ndarray) -> float:
    return float((np.abs(found - reference).max(axis=0) / np.abs(reference).max(axis=0)).max())


@dataclass(frozen=True)
class Effort:
    """What one class of one table needs: plain sweeps from F/F0 k I; or sweeps before and after one extrapolation."""

    plain: int
    before: int
    after: int


def extrapolate(older: np.ndarray, old: np.ndarray, new: np.ndarray) -> np.ndarray:
    """The limit of a series whose steps shrink by one factor, per row: takes off what the largest eigenvalue leaves."""
    first, second = old - older, new - old
    below = np.maximum(np.einsum("ir,ir->r", first, first), SMALLEST)
    ratio = np.einsum("ir,ir->r", first, second) / below
    return new + second * (ratio / (1.0 - ratio))


def _sweep(ore: OreClass, of: Piece, w: np.ndarray) -> np.ndarray:
    return of[0] * (of[1] + ore.a @ w)


def _until_equal(ore: OreClass, of: Piece, w: np.ndarray, reference: np.ndarray) -> int:
    for sweeps in range(MOST_SWEEPS):
        if error(w, reference) <= EQUAL:
            return sweeps
        w = _sweep(ore, of, w)
    raise SystemExit(f"{ore.name}: {MOST_SWEEPS} sweeps do not come within {EQUAL:g} of the pivoted solution")


def _after(ore: OreClass, of: Piece, reference: np.ndarray, before: int) -> int:
    w = of[0] * of[1]
    for _ in range(before):
        older, w = w, _sweep(ore, of, w)
    return _until_equal(ore, of, extrapolate(older, w, _sweep(ore, of, w)), reference)


def _effort(job: Job, c: int) -> Effort:
    ore = job.classes[c]
    pieces = [piece(job, of, rows) for of, rows in job.pieces() if of == c]
    references = [pivoted(ore, *of) for of in pieces]
    trial = range(max(1, TRIAL_ROWS // pieces[0][1].size))
    worst = {
        before: before + max(_after(ore, of, reference, before) for _, of, reference in zip(trial, pieces, references))
        for before in range(1, MOST_BEFORE)
    }
    before = min(worst, key=lambda of: worst[of])
    plain = max(_until_equal(ore, of, of[0] * of[1], reference) for of, reference in zip(pieces, references))
    after = max(_after(ore, of, reference, before) for of, reference in zip(pieces, references))
    return Effort(plain, before, after)


def efforts(job: Job) -> tuple[Effort, ...]:
    """The efforts of the classes of a table, counted on every row of it."""
    return tuple(_effort(job, c) for c in range(len(job.classes)))


def prove(job: Job, found: Result, name: str) -> None:
    """Ends the program unless every content, total, F and flag is what the pivoted solution gives."""
    n = len(job.components)
    for c, rows in job.pieces():
        block = found.block[:, rows]
        of = piece(job, c, rows)
        w = pivoted(job.classes[c], *of)
        total = job.classes[c].of_sample @ block[:n] + job.loss[rows]
        errors = (
            error(block[:n] / 100.0, w),
            error(block[n : 2 * n] / 100.0, w * (1.0 - job.moisture[rows] / 100.0)),
            float(np.abs(block[2 * n] / total - 1.0).max()),
            float(np.abs(block[2 * n + 1] / (of[1] * F0) - 1.0).max()),
        )
        if not all(one <= EQUAL for one in errors):
            raise SystemExit(f"{name}, {job.name}: {max(errors):.1e} from the pivoted solution, {EQUAL:g} is equal")
        flags = OFF_RATIO * (np.abs(of[1] - 1.0) > RATIO_SPAN)
        flags = flags + OFF_TOTAL * ((total < TOTAL_SPAN[0]) | (total > TOTAL_SPAN[1]))
        flags = flags + NEGATIVE * (100.0 * w.min(axis=0) < LOWEST)
        if found.flags.size and (found.flags[rows] != flags).any():
            raise SystemExit(f"{name}, {job.name}: {np.count_nonzero(found.flags[rows] != flags)} flags are others")
