"""What numpy takes for uncertainties: the Jacobian of the solution row by row, and Monte Carlo of one bead.

Uncertain inputs, twenty in all: the two masses, the loss of the flux, loss on ignition, moisture, a common scale of the
day, and fourteen intensities. With G = 1 - diag(k I) a, the solution moves by w_i times column i of G^-1 per relative
change of intensity i, and by w per relative change of F.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass

import numpy as np

from .accuracy import Effort, piece, pivoted
from .job import CHUNK, F0, FLUX_LOSS, Job
from .numpy_forms import SOLVE_CHUNK, Workspace, extrapolated

U_MASS_G = 1e-4
U_FLUX_LOSS = 0.08 * FLUX_LOSS
U_LOSS = 0.05
U_MOISTURE = 0.05
U_SCALE = 5e-4
U_INTENSITY = 1e-3
"""Relative, of each intensity on its own."""
DRAWS = 1_000_000
STEP = 1e-5
"""Relative step of the central differences that prove the Jacobian: its error goes with the square."""
DERIVED = 1e-7
PROVED_ROWS, PROVED_DRAWS = 16, 40_000
SIGMAS = 5.0
"""The u of n draws scatters by 1/sqrt(2 n)."""
CURVED = 1e-3
"""What first order may leave out of u with inputs known to a part in a thousand."""


def _moves(job: Job, rows: slice, w: np.ndarray, inverse: np.ndarray) -> np.ndarray:
    """Change of each dried content, %, per u of each cause: [row, component, cause]. The causes: each intensity, the
    scale common to all of them (the sum of their columns), F."""
    own = 100.0 * inverse * w[:, None, :]
    ratio = np.hypot(U_MASS_G / job.sample_g[rows], U_MASS_G / job.flux_g[rows])
    ratio = np.hypot(ratio, U_FLUX_LOSS / (1.0 - FLUX_LOSS))
    common = own.sum(axis=2) * U_SCALE
    return np.concatenate([own * U_INTENSITY, common[:, :, None], (100.0 * w * ratio[:, None])[:, :, None]], axis=2)


def jacobian(job: Job, full: bool) -> Callable[[], np.ndarray]:
    """u of the dried contents, or the upper triangle of their covariance, column by column; a job of one class."""
    ore = job.classes[0]
    n = len(ore.k)
    first, second = np.triu_indices(n)
    out = np.empty((len(first) if full else n, job.rows))

    def run() -> np.ndarray:
        for start in range(0, job.rows, SOLVE_CHUNK):
            rows = slice(start, min(start + SOLVE_CHUNK, job.rows))
            strengths, share = piece(job, 0, rows)
            inverse = np.linalg.inv(np.eye(n) - strengths.T[:, :, None] * ore.a)
            w = np.einsum("rij,jr->ri", inverse, strengths * share)
            moves = _moves(job, rows, w, inverse)
            if full:
                out[:, rows] = (moves @ moves.transpose(0, 2, 1))[:, first, second].T
            else:
                out[:, rows] = np.sqrt(np.einsum("rij,rij->ir", moves, moves))
        return out

    return run


@dataclass(frozen=True)
class Bead:
    """The first row of a table: what Monte Carlo draws about."""

    job: Job
    effort: Effort

    @classmethod
    def of(cls, job: Job, effort: Effort) -> Bead:
        return cls(job.head(1), effort)


def monte_carlo(bead: Bead, draws: int, seed: int) -> np.ndarray:
    """u of the dried contents, %, the same as received, the total and F, from sums over chunks of draws."""
    job, ore = bead.job, bead.job.classes[0]
    n = len(ore.k)
    rng, space = np.random.default_rng(seed), Workspace(ore, CHUNK)
    strength = np.array([column[0] for column in job.cps]) * ore.k
    sample_g, flux_g, loss, moisture = job.sample_g[0], job.flux_g[0], job.loss[0], job.moisture[0]
    sums, squares, middle = np.zeros(2 * n + 2), np.zeros(2 * n + 2), None
    for start in range(0, draws, CHUNK):
        held = min(CHUNK, draws - start)
        normal = rng.standard_normal((n + 6, held))
        strengths, share = space.cut(space.strengths, held), space.cut(space.new, held, 1)[-1]
        np.multiply(normal[:n], U_INTENSITY, out=strengths)
        strengths += 1.0
        strengths *= strength[:, None]
        strengths *= 1.0 + U_SCALE * normal[n]
        flux = (flux_g + U_MASS_G * normal[n + 1]) * (1.0 - FLUX_LOSS - U_FLUX_LOSS * normal[n + 2])
        ratio = flux / (sample_g + U_MASS_G * normal[n + 3])
        share[:] = ratio / F0
        outputs = np.empty((2 * n + 2, held))
        np.multiply(extrapolated(space, held, bead.effort), 100.0, out=outputs[:n])
        moist = 1.0 - (moisture + U_MOISTURE * normal[n + 4]) / 100.0
        np.multiply(outputs[:n], moist, out=outputs[n : 2 * n])
        outputs[2 * n] = ore.of_sample @ outputs[:n] + loss + U_LOSS * normal[n + 5]
        outputs[2 * n + 1] = ratio
        middle = outputs.mean(axis=1) if middle is None else middle
        outputs -= middle[:, None]
        sums += outputs.sum(axis=1)
        squares += np.einsum("ir,ir->i", outputs, outputs)
    return np.sqrt((squares - sums**2 / draws) / (draws - 1))


def prove(job: Job, effort: Effort) -> None:
    """Ends the program unless the Jacobian is that of central differences and the draws scatter like it."""
    head = job.head(PROVED_ROWS)
    u = jacobian(head, full=False)()
    ore, n = head.classes[0], len(head.classes[0].k)
    strengths, share = piece(head, 0, slice(0, head.rows))

    def move(scales: np.ndarray, ratio: float) -> np.ndarray:
        up = pivoted(ore, strengths * (1.0 + STEP * scales)[:, None], share * (1.0 + STEP * ratio))
        down = pivoted(ore, strengths * (1.0 - STEP * scales)[:, None], share * (1.0 - STEP * ratio))
        return 100.0 * (up - down) / (2.0 * STEP)

    squares = sum((U_INTENSITY * move(one, 0.0)) ** 2 for one in np.eye(n)) + (U_SCALE * move(np.ones(n), 0.0)) ** 2
    of_ratio = (U_MASS_G / head.sample_g) ** 2 + (U_MASS_G / head.flux_g) ** 2 + (U_FLUX_LOSS / (1.0 - FLUX_LOSS)) ** 2
    differences = np.sqrt(squares + of_ratio * move(np.zeros(n), 1.0) ** 2)
    if not (np.abs(u / differences - 1.0) <= DERIVED).all():
        raise SystemExit("the Jacobian is not that of central differences")
    covariance = jacobian(head, full=True)()
    first, second = np.triu_indices(n)
    if not (np.abs(np.sqrt(covariance[first == second]) / u - 1.0) <= DERIVED).all():
        raise SystemExit("the diagonal of the covariance is not the squared u")
    prove_draws(job, monte_carlo(Bead.of(job, effort), PROVED_DRAWS, seed=1)[:n], PROVED_DRAWS, "numpy")


def prove_draws(job: Job, drawn: np.ndarray, draws: int, name: str) -> None:
    """Ends the program unless the dried contents of the first bead scatter like the Jacobian says."""
    u = jacobian(job.head(1), full=False)()[:, 0]
    if not (np.abs(drawn / u - 1.0) <= SIGMAS / np.sqrt(2 * draws) + CURVED).all():
        raise SystemExit(f"{name}: Monte Carlo does not scatter like the Jacobian")
