"""Row by row: compiled by numba, and plain Python."""

from __future__ import annotations

from collections.abc import Callable

import numba
import numpy as np

from .accuracy import Effort
from .contender import Contender, Prepared
from .job import F0, FLUX_LOSS, LOWEST, NEGATIVE, OFF_RATIO, OFF_TOTAL, RATIO_SPAN, TOTAL_SPAN, Job, Result

PLAIN_ROWS = 1000
LOW_TOTAL, HIGH_TOTAL = TOTAL_SPAN


def _elimination(n: int) -> Callable[..., None]:
    """Without pivots: the diagonal leads in every real ore. The size is a constant of the compiled code, which saves a
    quarter of the time; sweeps to equal accuracy took twice the time of elimination for bauxite."""

    @numba.njit
    def solve(a: np.ndarray, strengths: np.ndarray, share: float, system: np.ndarray, w: np.ndarray) -> None:
        for i in range(n):
            for j in range(n):
                system[i, j] = -strengths[i] * a[i, j]
            system[i, i] += 1.0
            w[i] = strengths[i] * share
        for k in range(n):
            inverse = 1.0 / system[k, k]
            for i in range(k + 1, n):
                factor = system[i, k] * inverse
                for j in range(k + 1, n):
                    system[i, j] -= factor * system[k, j]
                w[i] -= factor * w[k]
        for i in range(n - 1, -1, -1):
            rest = w[i]
            for j in range(i + 1, n):
                rest -= system[i, j] * w[j]
            w[i] = rest / system[i, i]

    return solve


def _compiled(n: int) -> Callable[..., None]:
    solve = _elimination(n)

    @numba.njit
    def rows(
        a: np.ndarray,
        k: np.ndarray,
        of_sample: np.ndarray,
        codes: np.ndarray,
        cps: tuple[np.ndarray, ...],
        sample_g: np.ndarray,
        flux_g: np.ndarray,
        loss: np.ndarray,
        moisture: np.ndarray,
        block: np.ndarray,
        flags: np.ndarray,
    ) -> None:
        system, w, strengths = np.empty((n, n)), np.empty(n), np.empty(n)
        for row in range(len(codes)):
            c = codes[row]
            ratio = flux_g[row] * (1.0 - FLUX_LOSS) / sample_g[row]
            for i in range(n):
                strengths[i] = k[c, i] * cps[i][row]
            solve(a[c], strengths, ratio / F0, system, w)
            total, lowest, moist = loss[row], 0.0, 1.0 - moisture[row] / 100.0
            for i in range(n):
                dried = 100.0 * w[i]
                block[i, row] = dried
                block[n + i, row] = dried * moist
                total += of_sample[c, i] * dried
                lowest = min(lowest, dried)
            block[2 * n, row] = total
            block[2 * n + 1, row] = ratio
            flag = OFF_RATIO * (abs(ratio / F0 - 1.0) > RATIO_SPAN)
            flag += OFF_TOTAL * (total < LOW_TOTAL or total > HIGH_TOTAL) + NEGATIVE * (lowest < LOWEST)
            flags[row] = flag

    return rows


def numba_rows(job: Job, _: tuple[Effort, ...]) -> Prepared:
    """One compiled loop over the rows of any class."""
    rows = _compiled(len(job.classes[0].k))
    a, k = np.stack([ore.a for ore in job.classes]), np.stack([ore.k for ore in job.classes])
    of_sample = np.stack([ore.of_sample for ore in job.classes])
    columns = (job.codes, tuple(job.cps), job.sample_g, job.flux_g, job.loss, job.moisture)

    def run(out: Result | None) -> Result:
        out = job.empty() if out is None else out
        rows(a, k, of_sample, *columns, out.block, out.flags)
        return out

    return Prepared(run, job.empty)


def plain_python(job: Job, efforts: tuple[Effort, ...]) -> Prepared:
    """Lists and floats."""
    a, k = [ore.a.tolist() for ore in job.classes], [ore.k.tolist() for ore in job.classes]
    of_sample = [ore.of_sample.tolist() for ore in job.classes]
    codes, cps = job.codes.tolist(), [column.tolist() for column in job.cps]
    columns = [column.tolist() for column in (job.sample_g, job.flux_g, job.loss, job.moisture)]

    def one(row: int, c: int, sample_g: float, flux_g: float, loss: float, moisture: float) -> tuple[list[float], int]:
        ratio = flux_g * (1.0 - FLUX_LOSS) / sample_g
        share = ratio / F0
        strengths = [k_i * column[row] for k_i, column in zip(k[c], cps)]
        w = [s * share for s in strengths]
        for _ in range(efforts[c].plain):
            w = [s * (share + sum(a_ij * w_j for a_ij, w_j in zip(a_i, w))) for s, a_i in zip(strengths, a[c])]
        total = 100.0 * sum(s * w_i for s, w_i in zip(of_sample[c], w)) + loss
        cells = [*(100.0 * w_i for w_i in w), *(w_i * (100.0 - moisture) for w_i in w), total, ratio]
        flag = OFF_RATIO * (abs(share - 1.0) > RATIO_SPAN) + OFF_TOTAL * (not LOW_TOTAL <= total <= HIGH_TOTAL)
        return cells, flag + NEGATIVE * (100.0 * min(w) < LOWEST)

    def run(_: Result | None) -> list[tuple[list[float], int]]:
        return [one(row, *cells) for row, cells in enumerate(zip(codes, *columns))]

    def read(found: list[tuple[list[float], int]]) -> Result:
        return Result(np.array([cells for cells, _ in found]).T, np.array([flag for _, flag in found], np.uint8))

    return Prepared(run, read=read)


NUMBA = Contender("numba, row loop, elimination", numba_rows)
PLAIN = Contender("plain Python loop", plain_python, most_rows=PLAIN_ROWS)
