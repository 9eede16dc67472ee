"""The library's own batch entry as a contender: the one place that knows its names.

What the rest of the bench asks of this file: `available`, `CONTENDER`, `uncertain`, `monte_carlo`, `small_call`.
"""

from __future__ import annotations

import importlib.util
from collections.abc import Callable
from typing import Any

import numpy as np

from . import uncertain as given
from .accuracy import Effort
from .contender import Contender, Prepared
from .job import F0, FLUX_LOSS, RATIO_SPAN, Job, OreClass, Result

BLEND = {"Li2B4O7": 35.0, "LiBO2": 65.0}
LOT, PROGRAMME = "F-118", "1050 C, 18 min"
SMALL_ROWS = 8


def available() -> bool:
    """Whether the package is installed and has the batch entry."""
    if importlib.util.find_spec("beadchem") is None:
        return False
    import beadchem

    return hasattr(beadchem, "Correction")


def _coefficients(ore: OreClass) -> Any:
    import beadchem as bc

    return bc.CoefficientSet(
        ore.name,
        "1",
        "computed for this project, tests/data/full_coefficients.csv",
        derivation="centroid",
        fused_flux_ratio=F0,
        fused_flux_range=(F0 * (1.0 - RATIO_SPAN), F0 * (1.0 + RATIO_SPAN)),
        components=list(ore.components),
        lines={line: (name, row) for line, name, row in zip(ore.lines, ore.components, ore.a.tolist())},
        sensitivities=dict(zip(ore.lines, ore.k.tolist())),
        blend=BLEND,
        centroid_percent={name: 100.0 * content for name, content in zip(ore.components, ore.centroid.tolist())},
        ranges_percent={
            name: (100.0 * low, 100.0 * high) for name, (low, high) in zip(ore.components, ore.bounds.tolist())
        },
        setup="Rh tube 50 kV, phi 90, eps 45, Be 125 um; psi in 63, out 40 deg",
    )


def _method(job: Job, scale_u: float) -> Any:
    """One set of coefficients per class; `scale_u` is the relative u of a scale common to all lines."""
    import beadchem as bc

    k = dict(zip(job.lines, job.classes[0].k.tolist()))
    scales = {line: bc.value(own, shared={"scale of the day": own * scale_u}) for line, own in k.items()}
    calibration = bc.Calibration("bench", "1", "invented", basis="dried", sensitivities=scales)
    return bc.Method(
        "bench", "1", "invented", coefficients=[_coefficients(ore) for ore in job.classes], calibration=calibration
    )


def _correction(job: Job, scale_u: float, loss_u: float, fields: list[Any] | None = None) -> Any:
    import beadchem as bc

    lot = bc.FluxLot(LOT, BLEND, programme=PROGRAMME, loss_percent=bc.value(100.0 * FLUX_LOSS, u=100.0 * loss_u))
    charge = bc.Charge(bc.Sample(0.8, basis="dried"), lot.weigh(0.8 * F0))
    return bc.Correction(
        _method(job, scale_u),
        charge,
        also_on=["as received"],
        loss_on_fusion_percent="loss on ignition",
        fields=fields or [],
    )


def _uncertain_fields(job: Job) -> list[Any]:
    import beadchem as bc

    masses = [bc.Field(quantity, u=given.U_MASS_G) for quantity in ("sample mass", "flux mass")]
    losses = [
        bc.Field("loss on ignition", u=given.U_LOSS, optional=True),
        bc.Field("moisture", u=given.U_MOISTURE, optional=True),
    ]
    return masses + losses + [bc.Field("intensity", line, u_relative=given.U_INTENSITY) for line in job.lines]


def _columns(job: Job) -> dict[str, np.ndarray]:
    columns = {
        "sample_g": job.sample_g,
        "flux_g": job.flux_g,
        "loss_on_ignition_percent": job.loss,
        "moisture_percent": job.moisture,
    }
    if job.mixed:
        columns["class"] = np.array([ore.name for ore in job.classes])[job.codes]
    return columns | {f"{line.replace(' ', '_')}_cps": column for line, column in zip(job.lines, job.cps)}


def _result_names(job: Job) -> list[str]:
    """The results of the job, in its order, by the names the library gives them."""
    dried = [f"{component}_percent" for component in job.components]
    received = [f"{component}_as_received_percent" for component in job.components]
    return [*dried, *received, "total_percent", "fused_flux_ratio"]


def prepare(job: Job, _: tuple[Effort, ...]) -> Prepared:
    correction, columns = _correction(job, 0.0, 0.0), _columns(job)
    names = [name for name, *_ in correction.result_fields("none")]
    order = [names.index(name) for name in _result_names(job)]

    def run(out: np.ndarray | None) -> Any:
        return correction.correct_arrays(columns, uncertainty="none", threads=1, out=out)

    halides = [place for place, name in enumerate(job.components) if name.startswith("Li")]

    def read(found: Any) -> Result:
        """Findings by code stand in the place of flags; the tests of the library check them. Its total counts whatever is
        read in the bead, that of the job leaves the halide of the release agent out."""
        block = found.numbers[order]
        block[2 * len(job.components)] -= block[halides].sum(axis=0)
        return Result(block, np.empty(0, np.uint8))

    return Prepared(run, lambda: np.empty((len(names), job.rows)), read)


def uncertain(job: Job, full: bool) -> tuple[Callable[[], Any], Callable[[Any], np.ndarray]]:
    """A run, and what reads from it the u of the dried contents or the upper triangle of their covariance."""
    correction = _correction(job, given.U_SCALE, given.U_FLUX_LOSS, _uncertain_fields(job))
    columns, kind = _columns(job), "covariance" if full else "variance"
    names = [name for name, *_ in correction.result_fields(kind)]
    out = np.empty((len(names), job.rows))

    def read(found: Any) -> np.ndarray:
        if full:
            return found.numbers[[place for place, name in enumerate(names) if name.endswith("_covariance")]]
        return found.numbers[[names.index(f"{component}_percent_u") for component in job.components]]

    return lambda: correction.correct_arrays(columns, uncertainty=kind, threads=1, out=out), read


def monte_carlo(job: Job, draws: int) -> tuple[Callable[[], Any], Callable[[Any], np.ndarray]]:
    """Draws of the first row of a table, with the same uncertain inputs, and what reads the u of the dried contents."""
    import beadchem as bc

    row = job.head(1)
    lot = bc.FluxLot(
        LOT, BLEND, programme=PROGRAMME, loss_percent=bc.value(100.0 * FLUX_LOSS, u=100.0 * given.U_FLUX_LOSS)
    )
    mass = bc.value(float(row.sample_g[0]), u=given.U_MASS_G)
    charge = bc.Charge(bc.Sample(mass, basis="dried"), lot.weigh(bc.value(float(row.flux_g[0]), u=given.U_MASS_G)))
    melt = charge.fuse(loss_on_fusion_percent=bc.value(float(row.loss[0]), u=given.U_LOSS))
    cps = {
        line: bc.value(float(column[0]), u=given.U_INTENSITY * float(column[0]))
        for line, column in zip(row.lines, row.cps)
    }
    assay = _method(row, given.U_SCALE).assay(melt, cps, bead="B-1")

    def read(found: Any) -> np.ndarray:
        return np.array([found.u(component) for component in job.components])

    return lambda: assay.sample.monte_carlo(draws=draws, seed=1, threads=1), read


def small_call(job: Job) -> Callable[[], Any]:
    """The batch entry with eight rows: what a call costs."""
    correction, columns = _correction(job, 0.0, 0.0), _columns(job.head(SMALL_ROWS))
    return lambda: correction.correct_arrays(columns, threads=1)


CONTENDER = Contender("beadchem", prepare)
