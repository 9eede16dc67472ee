"""Two tables of results held against each other: any kind of table in, the kind of the old one out."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from typing import Any

from beadchem import _asked, _core
from beadchem._kinds import arrow_of, is_kind, numbers_of, one_batch, records_of, refuse, refuse_doubled, to_pandas, words_of


def compare(
    old: Any,
    new: Any,
    *,
    by: str | None = None,
    results: str | Sequence[str] | None = None,
    tolerance: float = 0.0,
    limits: _asked.Limits | None = None,
    connection: Any = None,
) -> tuple[Any, _core.Comparison]:
    """Holds two tables of results against each other: which results moved, how far, and with what.

    Two things come back. The first is a table of the kind of `old`, with the rows of `old` in their order and then those
    that only `new` has: the ids, `moved` (the results of the row that moved, came or went), `moved_with` (the inputs and
    versions that differ there), for each result `_old`, `_new`, `_change` and `_change_per_u` (in units of the u of `old`,
    where it has a column for it), then `finding` and `reason`: a limit crossed (`limit.crossed`), a row that only one table
    has (`bead.unmatched`), an id that joins nothing (`bead.doubled`, `bead.id-missing`). The second is a `Comparison`, which
    prints a summary; `differences` counts for each result, `crossings` names the rows that cross a limit, `versions` says
    what the results rest on in other versions, `is_same` whether nothing differs.

    `by` is the column of ids that rows are joined by, `bead` where both tables have it; without one, row by row. `results`
    are the columns to compare, by their usual names unless said (`CaO_percent` or short `CaO`, `total_percent`, `dilution`).
    All other columns that both have are inputs. `tolerance`: results that changed by more have moved. `limits`: bounds in %,
    `{"CaO": (None, 30.5)}`. Versions are read from the schema metadata of Arrow tables and the `attrs` of pandas frames.
    Both tables are held in memory as a whole, a LazyFrame or a reader too; kinds of table are those of `correct`.

    Raises `BeadchemError`: `shape.mismatch` for tables of other lengths without a column of ids, `table.header` for a column
    that one of them lacks and for tables without a result in common, `species.unknown` for a limit of no result.
    """
    tables = _columns(old), _columns(new)
    found = compared(*tables, by=by, results=results, tolerance=tolerance, limits=limits, records=(_record(old), _record(new)))
    return _as(old, found, connection), found


def compared(
    old: Any,
    new: Any,
    *,
    results: str | Sequence[str] | None,
    limits: _asked.Limits | None,
    **options: Any,
) -> _core.Comparison:
    """The comparison of two tables as dicts of arrays or Arrow, refused where they have no result in common."""
    chosen = _asked.result_names(results, _names(old))
    found = _core.Comparison(old, new, results=chosen, limits=_asked.limits(limits), **options)
    if not found.differences:
        refuse(
            "table.header",
            "The two tables have no column of results in common.",
            "Results are named as `correct` names them (CaO_percent, total_percent, dilution); is one a table of readings? "
            "Columns of other names are compared where `results` names them.",
        )
    return found


def _names(table: Any) -> list[str] | None:
    """The columns of a table, where they can be known before it is read."""
    if isinstance(table, Mapping):
        return list(table)
    names = getattr(getattr(table, "schema", None), "names", getattr(table, "columns", None))
    return list(names() if callable(names) else names) if names is not None else None


def _columns(table: Any) -> Any:
    """The table as a dict of arrays or as something that speaks Arrow."""
    if isinstance(table, Mapping):
        return dict(table)
    if is_kind(table, "numpy", "ndarray"):
        if table.dtype.names is None or table.ndim != 1:
            refuse("table.kind", f"An array of {table.dtype} has no named columns.", "Give a structured array of one dimension.")
        return {name: table[name] for name in table.dtype.names}
    if is_kind(table, "pandas", "DataFrame"):
        refuse_doubled(list(table.columns))
        return {name: table[name].to_numpy() for name in table.columns} if _is_plain(table) else arrow_of(table)
    if is_kind(table, "polars", "LazyFrame"):
        table = table.collect()
    if is_kind(table, "polars", "DataFrame"):
        import polars as pl

        # polars exports a column of the type Null with a buffer that Arrow does not foresee.
        return table.with_columns(pl.col([name for name, kind in table.schema.items() if kind == pl.Null]).cast(pl.String))
    if is_kind(table, "narwhals", "DataFrame", "LazyFrame"):
        import narwhals as nw

        return _columns(nw.to_native(table))
    return table


def _is_plain(frame: Any) -> bool:
    import numpy as np
    import pandas as pd

    return all(isinstance(dtype, (np.dtype, pd.StringDtype, pd.CategoricalDtype)) for dtype in frame.dtypes)


def _record(table: Any) -> str | None:
    """What the attributes of a pandas frame say of its provenance."""
    found = table.attrs.get("beadchem") if is_kind(table, "pandas", "DataFrame") else None
    return found if isinstance(found, str) else None


def _as(like: Any, found: _core.Comparison, connection: Any) -> Any:
    """The rows of a comparison as a table of a kind."""
    if isinstance(like, Mapping):
        return _arrays(like, found)
    if is_kind(like, "numpy", "ndarray"):
        return records_of(_arrays({name: like[name] for name in like.dtype.names}, found), type(like))
    if is_kind(like, "pandas", "DataFrame"):
        return _frame(like, found)
    if is_kind(like, "polars", "DataFrame", "LazyFrame"):
        import polars as pl

        return pl.DataFrame(found.table) if isinstance(like, pl.DataFrame) else pl.LazyFrame(pl.DataFrame(found.table))
    if is_kind(like, "pyarrow", "RecordBatch"):
        return one_batch(found.table)
    if is_kind(like, "pyarrow", "Table", "RecordBatchReader"):
        import pyarrow as pa

        return pa.table(found.table) if isinstance(like, pa.Table) else pa.RecordBatchReader.from_stream(found.table)
    if is_kind(like, "duckdb", "DuckDBPyRelation"):
        import duckdb
        import pyarrow as pa

        return (duckdb if connection is None else connection).from_arrow(pa.table(found.table))
    if is_kind(like, "narwhals", "DataFrame", "LazyFrame"):
        import narwhals as nw

        return nw.from_native(_as(nw.to_native(like), found, connection))
    return found.table


def _frame(like: Any, found: _core.Comparison) -> Any:
    import pandas as pd

    if not _is_plain(like):
        return to_pandas(found.table, any(isinstance(dtype, pd.ArrowDtype) for dtype in like.dtypes))
    frame = pd.DataFrame(_arrays({}, found))
    for name in ("moved", "moved_with", "finding"):
        frame[name] = pd.Categorical(frame[name])
    return frame


def _arrays(like: Mapping[str, Any], found: _core.Comparison) -> dict[str, Any]:
    import numpy as np

    done = found.arrays()
    words = {} if found.joined_by is None else {found.joined_by: found.ids}
    columns: dict[str, Any] = {
        name: np.array(list(texts), dtype=object)
        for name, texts in {**words, "moved": found.moved, "moved_with": found.moved_with}.items()
    }
    masked = any(isinstance(column, np.ma.MaskedArray) for column in like.values())
    columns |= numbers_of(done, masked)
    columns["finding"], columns["reason"] = words_of(done)
    return columns
