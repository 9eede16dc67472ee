"""polars lazy expressions and pandas column arithmetic."""

from __future__ import annotations

import numpy as np
import pandas as pd
import polars as pl

from .accuracy import Effort
from .contender import Contender, Prepared
from .job import F0, FLUX_LOSS, LOWEST, NEGATIVE, OFF_RATIO, OFF_TOTAL, RATIO_SPAN, TOTAL_SPAN, Job, OreClass, Result


def _inputs(job: Job) -> dict[str, np.ndarray]:
    given = {"sample_g": job.sample_g, "flux_g": job.flux_g, "loss": job.loss, "moisture": job.moisture}
    return given | {f"{component}_cps": column for component, column in zip(job.components, job.cps)}


def _names(components: tuple[str, ...]) -> list[str]:
    return [*(f"{c}_dried" for c in components), *(f"{c}_received" for c in components), "total", "ratio"]


def _elimination(frame: pl.LazyFrame, ore: OreClass) -> pl.LazyFrame:
    """Adds the contents w0, w1, ... to a frame that has k I as s0, s1, ... and F/F0 as share.

    Elimination without pivots, unrolled, each step one set of columns. Sweeps to equal accuracy, unrolled, take two to
    six times as long.
    """
    n = len(ore.k)
    s, share = [pl.col(f"s{i}") for i in range(n)], pl.col("share")
    cells = [(-float(ore.a[i, j]) * s[i] + float(i == j)).alias(f"m{i}_{j}") for i in range(n) for j in range(n)]
    frame = frame.with_columns(*cells, *((s[i] * share).alias(f"w{i}") for i in range(n)))
    for k in range(n - 1):
        below = range(k + 1, n)
        frame = frame.with_columns((pl.col(f"m{i}_{k}") / pl.col(f"m{k}_{k}")).alias(f"f{i}") for i in below)
        steps = [
            (pl.col(f"m{i}_{j}") - pl.col(f"f{i}") * pl.col(f"m{k}_{j}")).alias(f"m{i}_{j}")
            for i in below
            for j in below
        ]
        frame = frame.with_columns(
            *steps, *((pl.col(f"w{i}") - pl.col(f"f{i}") * pl.col(f"w{k}")).alias(f"w{i}") for i in below)
        )
    for i in range(n - 1, -1, -1):
        rest = pl.col(f"w{i}")
        for j in range(i + 1, n):
            rest = rest - pl.col(f"m{i}_{j}") * pl.col(f"w{j}")
        frame = frame.with_columns((rest / pl.col(f"m{i}_{i}")).alias(f"w{i}"))
    return frame


def _query(frame: pl.LazyFrame, ore: OreClass) -> pl.LazyFrame:
    """The whole job of one class as one query; the row number stays where there is one."""
    components = ore.components
    frame = frame.with_columns((pl.col("flux_g") * (1.0 - FLUX_LOSS) / pl.col("sample_g")).alias("ratio"))
    frame = frame.with_columns(
        (pl.col("ratio") / F0).alias("share"),
        *((float(k) * pl.col(f"{c}_cps")).alias(f"s{i}") for i, (c, k) in enumerate(zip(components, ore.k))),
    )
    frame = _elimination(frame, ore)
    frame = frame.with_columns(
        *((100.0 * pl.col(f"w{i}")).alias(f"{c}_dried") for i, c in enumerate(components)),
        *((pl.col(f"w{i}") * (100.0 - pl.col("moisture"))).alias(f"{c}_received") for i, c in enumerate(components)),
    )
    counted = [pl.col(f"{c}_dried") for c, own in zip(components, ore.of_sample) if own]
    frame = frame.with_columns((pl.sum_horizontal(*counted) + pl.col("loss")).alias("total"))
    lowest = pl.min_horizontal(*(pl.col(f"{c}_dried") for c in components))
    off = {
        OFF_RATIO: (pl.col("share") - 1.0).abs() > RATIO_SPAN,
        OFF_TOTAL: ~pl.col("total").is_between(*TOTAL_SPAN),
        NEGATIVE: lowest < LOWEST,
    }
    flag = sum((pl.lit(bit, pl.UInt8) * when.cast(pl.UInt8) for bit, when in off.items()), pl.lit(0, pl.UInt8))
    return frame.with_columns(flag.alias("flag")).select(pl.col("^row$"), *_names(components), "flag")


def polars_query(job: Job, _: tuple[Effort, ...]) -> Prepared:
    """One lazy query, run by the streaming engine; a mixed table class by class, put back in its order."""
    table = pl.DataFrame({**_inputs(job), "class": job.codes})

    def run(_: Result | None) -> pl.DataFrame:
        if not job.mixed:
            return _query(table.lazy(), job.classes[0]).collect(engine="streaming")
        numbered = table.lazy().with_row_index("row")
        parts = [_query(numbered.filter(pl.col("class") == c), ore) for c, ore in enumerate(job.classes)]
        return pl.concat(parts, how="vertical").sort("row").collect(engine="streaming")

    def read(found: pl.DataFrame) -> Result:
        block = found.select(_names(job.components)).to_numpy().T
        return Result(np.ascontiguousarray(block), found["flag"].to_numpy())

    return Prepared(run, read=read)


def _of_class(table: pd.DataFrame, ore: OreClass, effort: Effort) -> pd.DataFrame:
    """One class with column arithmetic and `dot`."""
    components = list(ore.components)
    ratio = table["flux_g"] * (1.0 - FLUX_LOSS) / table["sample_g"]
    strengths = table[[f"{c}_cps" for c in components]] * ore.k
    strengths.columns = components
    a = pd.DataFrame(ore.a.T, index=components, columns=components)
    start = strengths.mul(ratio / F0, axis=0)
    w = start
    for _ in range(effort.plain):
        w = start + strengths * w.dot(a)
    dried = 100.0 * w
    received = dried.mul(1.0 - table["moisture"] / 100.0, axis=0)
    total = dried.loc[:, ore.of_sample == 1.0].sum(axis=1) + table["loss"]
    flag = OFF_RATIO * ((ratio / F0 - 1.0).abs() > RATIO_SPAN).astype(np.uint8)
    flag += OFF_TOTAL * (~total.between(*TOTAL_SPAN)).astype(np.uint8)
    flag += NEGATIVE * (dried.min(axis=1) < LOWEST).astype(np.uint8)
    return pd.concat(
        [
            dried.add_suffix("_dried"),
            received.add_suffix("_received"),
            total.rename("total"),
            ratio.rename("ratio"),
            flag.rename("flag"),
        ],
        axis=1,
    )


def pandas_columns(job: Job, efforts: tuple[Effort, ...]) -> Prepared:
    """Column arithmetic over the whole table; a mixed table class by class."""
    table = pd.DataFrame(_inputs(job), copy=False)

    def run(_: Result | None) -> pd.DataFrame:
        if not job.mixed:
            return _of_class(table, job.classes[0], efforts[0])
        groups = table.groupby(job.codes).indices
        parts = [_of_class(table.iloc[rows], job.classes[c], efforts[c]) for c, rows in groups.items()]
        return pd.concat(parts).sort_index()

    def read(found: pd.DataFrame) -> Result:
        block = found[_names(job.components)].to_numpy(np.float64).T
        return Result(np.ascontiguousarray(block), found["flag"].to_numpy())

    return Prepared(run, read=read)


POLARS = Contender("polars, lazy, elimination", polars_query)
PANDAS = Contender("pandas, columns and dot", pandas_columns)
