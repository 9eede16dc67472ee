"""Every kind of table, made of the same cells and read back into the same cells; the job the tests run."""

from __future__ import annotations

import math
from collections.abc import Callable
from dataclasses import dataclass
from typing import Any

import beadchem as bc
import duckdb
import narwhals as nw
import numpy as np
import pandas as pd
import polars as pl
import pyarrow as pa
from beadchem import _core

WORDS = ("bead", "flux_lot")
NUMBERS = ("sample_g", "flux_g", "Ca_Ka_cps", "Mg_Ka_cps", "Si_Ka_cps")
RESULT, OTHER_RESULT = "CaO_percent", "MgO_percent"


def correction() -> bc.Correction:
    """Dolomite by the method of the template, all numbers invented; two flux lots, one fixed loss on fusion."""
    blend = {"Li2B4O7": 50, "LiBO2": 50}
    lots = [
        bc.FluxLot(name, blend, programme="1050 C, 18 min", loss_percent=bc.value(loss, 0.03))
        for name, loss in (("F-118", 0.40), ("F-121", 0.62))
    ]
    charge = bc.Charge(bc.Sample(bc.value(0.8, 1e-4), basis="dried"), lots[0].weigh(bc.value(8.0, 1e-4)))
    fused = bc.value(46.3, 0.1)
    return bc.Correction(bc.Method.template(), charge, lots=lots[1:], loss_on_fusion_percent=fused, counting_s=20)


JOB = correction()

Cells = dict[str, list[Any]]


def cells(rows: int, seed: int = 1) -> Cells:
    """Names and numbers of so many beads, no two rows alike."""
    draw = np.random.default_rng(seed)
    return {
        "bead": [f"B-{row}" for row in range(rows)],
        "flux_lot": ["F-118" if row % 3 else "F-121" for row in range(rows)],
        "sample_g": (0.8 + 0.01 * draw.random(rows)).tolist(),
        "flux_g": (8.0 + 0.1 * draw.random(rows)).tolist(),
        "Ca_Ka_cps": (13_500.0 + 10.0 * draw.random(rows)).tolist(),
        "Mg_Ka_cps": (1_710.0 + draw.random(rows)).tolist(),
        "Si_Ka_cps": (400.0 + draw.random(rows)).tolist(),
    }


def with_states(rows: int) -> Cells:
    """With every third mass null and every fifth count NaN, and a null lot."""
    made = cells(rows)
    made["sample_g"][2::3] = [None] * len(made["sample_g"][2::3])
    made["Si_Ka_cps"][4::5] = [math.nan] * len(made["Si_Ka_cps"][4::5])
    made["flux_lot"][1::8] = [None] * len(made["flux_lot"][1::8])
    return made


def numeric(column: list[Any]) -> np.ndarray:
    return np.array([math.nan if cell is None else cell for cell in column], dtype=np.float64)


def mask(column: list[Any]) -> np.ndarray:
    return np.array([cell is None for cell in column], dtype=bool)


def words(column: list[Any]) -> np.ndarray:
    array = np.empty(len(column), dtype=object)
    array[:] = column
    return array


def arrow(made: Cells) -> pa.Table:
    return pa.table(
        {
            name: pa.array(column, pa.string() if name in WORDS else pa.float64(), from_pandas=False)
            for name, column in made.items()
        }
    )


def of_dict(made: Cells) -> dict[str, np.ndarray]:
    return {name: words(column) if name in WORDS else numeric(column) for name, column in made.items()}


def of_masked(made: Cells) -> dict[str, Any]:
    plain = of_dict(made)
    return {
        name: array if name in WORDS else np.ma.MaskedArray(array, mask=mask(made[name]))
        for name, array in plain.items()
    }


def of_structured(made: Cells) -> np.ndarray:
    plain = of_dict(made)
    table = np.empty(len(made["bead"]), dtype=[(name, array.dtype) for name, array in plain.items()])
    for name, array in plain.items():
        table[name] = array
    return table


def of_masked_structured(made: Cells) -> Any:
    table = np.ma.MaskedArray(of_structured(made))
    for name in NUMBERS:
        table[name] = np.ma.MaskedArray(table.data[name], mask=mask(made[name]))
    return table


def index(rows: int) -> pd.MultiIndex:
    return pd.MultiIndex.from_arrays([["day"] * rows, range(7, 7 + rows)], names=["when", "place"])


def of_pandas(made: Cells) -> pd.DataFrame:
    return pd.DataFrame(of_dict(made), index=index(len(made["bead"])))


def of_pandas_nullable(made: Cells) -> pd.DataFrame:
    columns = {
        name: pd.array(column, dtype="string" if name in WORDS else "Float64") for name, column in made.items()
    }
    return pd.DataFrame(columns, index=index(len(made["bead"])))


def of_pandas_arrow(made: Cells) -> pd.DataFrame:
    table = arrow(made)
    columns = {name: pd.arrays.ArrowExtensionArray(table[name]) for name in made}
    return pd.DataFrame(columns, index=index(len(made["bead"])))


def of_polars(made: Cells) -> pl.DataFrame:
    return pl.DataFrame({n: pl.Series(n, c, pl.String if n in WORDS else pl.Float64) for n, c in made.items()})


def chunked(made: Cells) -> pa.Table:
    """In chunks of seven rows, one of them empty."""
    table = arrow(made)
    parts = [table.slice(start, 7) for start in range(0, max(len(table), 1), 7)]
    return pa.concat_tables([*parts, table.slice(0, 0)])


def sliced(made: Cells) -> pa.Table:
    """Cut out of a longer table, so that bitmaps begin within a byte."""
    around = {name: [*column[:1] * 3, *column, *column[:1] * 2] for name, column in made.items()}
    rows = len(made["bead"])
    return arrow(around).slice(3 if rows else 0, rows)


def batch(made: Cells) -> pa.RecordBatch:
    return pa.RecordBatch.from_arrays([column.combine_chunks() for column in arrow(made).columns], names=list(made))


def reader(made: Cells) -> pa.RecordBatchReader:
    return chunked(made).to_reader()


def relation(made: Cells) -> Any:
    return duckdb.from_arrow(arrow(made))


class Speaker:
    """A table of a library nobody has heard of."""

    def __init__(self, table: pa.Table) -> None:
        self.__arrow_c_stream__ = table.__arrow_c_stream__


class ArraySpeaker:
    """One that speaks of one array only."""

    def __init__(self, made: pa.RecordBatch) -> None:
        self.__arrow_c_array__ = made.__arrow_c_array__


def cell(value: Any) -> Any:
    return None if value is None or value is pd.NA or value is np.ma.masked else value


def from_arrays(result: dict[str, Any]) -> Cells:
    def column(array: Any) -> list[Any]:
        gone = np.ma.getmaskarray(array).tolist()
        return [None if lost else cell(value) for value, lost in zip(np.ma.getdata(array).tolist(), gone, strict=True)]

    return {name: column(array) for name, array in result.items()}


def from_structured(result: Any) -> Cells:
    return from_arrays({name: result[name] for name in result.dtype.names})


def from_pandas(result: pd.DataFrame) -> Cells:
    def column(series: pd.Series) -> list[Any]:
        text = series.dtype.kind not in "fiu"
        return [None if text and pd.isna(value) else cell(value) for value in series.tolist()]

    return {name: column(result[name]) for name in result.columns}


def from_arrow(result: Any) -> Cells:
    return {name: column.to_pylist() for name, column in zip(result.schema.names, result.columns, strict=True)}


def from_polars(result: pl.DataFrame) -> Cells:
    return {name: result[name].to_list() for name in result.columns}


@dataclass(frozen=True)
class Kind:
    """A kind of table."""

    name: str
    make: Callable[[Cells], Any]
    read: Callable[[Any], Cells]
    kind: type
    null: str = "apart"  # or "is NaN" where it is made as NaN; or "NaN is null" where NaN is taken for it

    def seen(self, made: Cells) -> Cells:
        """The cells this kind can hold."""
        if self.null == "apart":
            return made
        gone = math.nan if self.null == "is NaN" else None

        def lost(value: Any) -> bool:
            return value is None or (isinstance(value, float) and math.isnan(value))

        return {n: c if n in WORDS else [gone if lost(value) else value for value in c] for n, c in made.items()}


KINDS = [
    Kind("dict", of_dict, from_arrays, dict, "is NaN"),
    Kind("dict, masked", of_masked, from_arrays, dict),
    Kind("structured", of_structured, from_structured, np.ndarray, "is NaN"),
    Kind("structured, masked", of_masked_structured, from_structured, np.ma.MaskedArray),
    Kind("records", lambda made: of_structured(made).view(np.recarray), from_structured, np.recarray, "is NaN"),
    Kind("pandas", of_pandas, from_pandas, pd.DataFrame, "NaN is null"),
    Kind("pandas, nullable", of_pandas_nullable, from_pandas, pd.DataFrame, "NaN is null"),
    Kind("pandas, pyarrow", of_pandas_arrow, from_pandas, pd.DataFrame),
    Kind("polars", of_polars, from_polars, pl.DataFrame),
    Kind("polars, lazy", lambda made: of_polars(made).lazy(), lambda it: from_polars(it.collect()), pl.LazyFrame),
    Kind(
        "polars, streaming",
        lambda made: of_polars(made).lazy(),
        lambda it: from_polars(it.collect(engine="streaming")),
        pl.LazyFrame,
    ),
    Kind("pyarrow", arrow, from_arrow, pa.Table),
    Kind("pyarrow, chunked", chunked, from_arrow, pa.Table),
    Kind("pyarrow, sliced", sliced, from_arrow, pa.Table),
    Kind("record batch", batch, from_arrow, pa.RecordBatch),
    Kind("reader", reader, lambda it: from_arrow(it.read_all()), pa.RecordBatchReader),
    Kind("duckdb", relation, lambda it: from_arrow(it.to_arrow_table()), duckdb.DuckDBPyRelation),
    Kind("narwhals", lambda it: nw.from_native(of_polars(it)), lambda it: from_polars(it.to_native()), nw.DataFrame),
    Kind("any stream", lambda made: Speaker(chunked(made)), lambda it: from_arrow(pa.table(it)), _core.ArrowColumns),
    Kind("any array", lambda made: ArraySpeaker(batch(made)), lambda it: from_arrow(pa.table(it)), _core.ArrowColumns),
]


def same(left: Any, right: Any, one_state: bool = False) -> bool:
    """Whether two cells are the same, bit for bit; NaN is the same as NaN, and as null where a kind has one for both."""
    gone = [value is None or (isinstance(value, float) and math.isnan(value)) for value in (left, right)]
    if any(gone):
        return all(gone) and (one_state or (left is None) == (right is None))
    return bool(left == right)


def reference(made: Cells, **how: Any) -> Cells:
    """The results of cells, by the kind that holds every state and is nearest to the native module."""
    result: Cells = from_arrays(bc.correct(of_masked(made), JOB, **how))
    return result


def agree(found: Cells, expected: Cells, one_state: bool = False) -> None:
    assert list(found) == list(expected)
    for name, column in expected.items():
        assert len(found[name]) == len(column), name
        for row, (left, right) in enumerate(zip(found[name], column, strict=True)):
            assert same(left, right, one_state), (name, row, left, right)
