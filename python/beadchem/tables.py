"""Any table in, the same kind out. No library of tables is imported here before a table of it is given, and nothing is
computed here: numbers go to the native module and come back."""

from __future__ import annotations

import datetime
import decimal
import numbers
from collections.abc import Collection, Iterator, Mapping, Sequence
from dataclasses import dataclass, field, replace
from typing import Any, Protocol

from beadchem import _asked, _core, _headers, _made_by
from beadchem._kinds import arrow_of, findings_of, is_kind, numbers_of, one_batch, records_of, refuse, refuse_doubled, to_pandas, words_of
from beadchem._notes import Told


class TableJob(Protocol):
    """What a table can be run through."""

    @property
    def fields(self) -> list[str]:
        """The columns it reads where they are there."""

    @property
    def declared(self) -> list[_core.Field]:
        """What they stand for."""

    @property
    def identity(self) -> str | None:
        """The column of names no two rows may share."""

    def result_fields(self, uncertainty: str = "none") -> list[tuple[str, str, str | None]]:
        """The columns of the results as (name, unit, basis or None)."""

    def metadata(self, uncertainty: str = "none") -> dict[str, str]:
        """What is written into the metadata of a table of results."""

    def correct_stream(
        self,
        source: Any,
        *,
        uncertainty: str,
        threads: int,
        first_row: int = 0,
        keep: Sequence[str],
        doubled: set[str] | None,
    ) -> _core.CorrectedTable:
        """Any object that speaks Arrow."""

    def correct_arrays(
        self,
        columns: dict[str, Any],
        *,
        uncertainty: str,
        threads: int,
        out: Any = None,
        nan_is_null: bool = False,
        doubled: set[str] | None,
    ) -> _core.CorrectedArrays:
        """A dict of arrays."""


def correct(
    table: Any,
    correction: TableJob,
    *,
    uncertainty: str = "none",
    threads: int = 1,
    keep: str | Sequence[str] = (),
    connection: Any = None,
    out: Any = None,
    findings: bool = False,
    doubled: Collection[str] | None = None,
) -> Any:
    """Corrects a table: one row out per row in, in the same order, in a table of the same kind.

    Columns are found by name; others are not read. A table that lacks a column but has one near it ("fluxlot" for "flux_lot")
    is refused with `table.header`, unless that one is declared or named in `keep`. The result has the columns of `keep`
    unchanged, then the results, `finding` (the word of the most severe finding of a row) and `reason` (its text), both
    missing where nothing was found. With `findings=True` comes a pair: the result, and a table of all findings with the
    number of their row, from 0.

    Floats of 64 bits are read where they lie. Other floats, whole numbers and decimals are cast, or the table is refused
    where that is not exact; a column of another type is refused, never skipped. Names are text, categories or whole
    numbers. A cell of text in a column of numbers is a reading as written ("<0.01").

    | table | comes back | what it cannot hold |
    |---|---|---|
    | dict of arrays | dict of arrays, views of one block; masked if a column was | without masks: null, which is NaN |
    | NumPy structured array | the same, masked or record array too | without masks: null, which is NaN |
    | pandas DataFrame | NumPy, nullable or pyarrow columns as those read; index and attrs kept | NumPy columns: NaN is null |
    | polars DataFrame | polars DataFrame; polars joins its chunks when it hands them out | - |
    | polars LazyFrame | LazyFrame, also in the streaming engine | - |
    | pyarrow Table, RecordBatch | chunks and schema metadata kept | - |
    | pyarrow RecordBatchReader | a reader that corrects batch by batch as it is read | - |
    | DuckDB relation | a relation over the result, held in memory | - |
    | narwhals DataFrame, LazyFrame | the same, over what it holds | - |
    | any other with `__arrow_c_stream__` | `ArrowColumns` | - |

    pandas 3 takes NaN for missing in nullable and pyarrow columns as well, unless told to keep them apart. Findings of a
    RecordBatchReader are complete once its table was read to the end; those of a LazyFrame run the table again.

    The metadata of an Arrow schema say what the results rest on (`beadchem`: provenance and the whole correction, as JSON) and
    those of its fields unit and basis; a pandas frame has the same in its `attrs` (`beadchem`, `units`, `basis`). What holds
    of many rows at once, as that they have no total, is told once by a warning, a `BeadchemNote`; `attrs["notes"]` has it too.

    Bead ids that occur twice are looked for in the whole table, in a reader within each batch; in a table without them, none
    are. `doubled` names them where they are known, `doubled=()` says there are none. A LazyFrame with bead ids is read as a
    whole unless that is said; then, and without ids, it runs in parts, and `sink_parquet` needs the memory of a part.

    uncertainty: "none", "variance" (a column `..._u` for each result) or "covariance" (and a column for the covariance of
    every two). threads: on how many threads. connection: the DuckDB connection the result shall live on; without it, that is
    the default one. out: for dicts and structured arrays, a float64 array [column, row] that takes the numbers.
    """
    _asked.a_job(correction, table)
    words, kept = _asked.uncertainty(uncertainty), _asked.names(keep, "keep")
    ask = _Ask(correction, words, _asked.threads(threads), kept, findings, _asked.ids(doubled))
    if out is not None and not (isinstance(table, Mapping) or is_kind(table, "numpy", "ndarray")):
        refuse("table.kind", "`out` takes the numbers of arrays only.", "This kind of table brings its own memory.")
    if isinstance(table, Mapping):
        return _dict(table, ask, out)
    if is_kind(table, "numpy", "ndarray"):
        return _structured(table, ask, out)
    if is_kind(table, "pandas", "DataFrame"):
        return _pandas(table, ask)
    if is_kind(table, "polars", "DataFrame"):
        return _polars(table, ask)
    if is_kind(table, "polars", "LazyFrame"):
        return _polars_lazy(table, ask)
    if is_kind(table, "pyarrow", "RecordBatchReader"):
        return _reader(table, ask)
    if is_kind(table, "pyarrow", "Table", "RecordBatch"):
        return _pyarrow(table, ask)
    if is_kind(table, "duckdb", "DuckDBPyRelation"):
        return _duckdb(table, ask, connection)
    if is_kind(table, "narwhals", "DataFrame", "LazyFrame"):
        return _narwhals(table, ask, connection)
    done = ask.stream(_with_header(table, ask))  # refuses what does not speak Arrow
    return ask.give(done.table, done.findings)


def recorrect(
    table: Any,
    correction: _core.Correction,
    *,
    to: _core.Correction | None = None,
    change: Mapping[str, Any] | None = None,
    only: Mapping[str, str] | None = None,
    limits: Mapping[str, tuple[float | None, float | None]] | None = None,
    **options: Any,
) -> Any:
    """What a table would say under another correction: old, new, change and change in units of u of each result.

    `to` is the other correction; or `change` says what differs: `{"flux_loss_percent": loss}` for the lot named in `only`
    (or the only lot there is), `{"method": method}` for another method. `only` chooses rows by words in their columns,
    `{"flux_lot": "F-118"}`; the others keep what they have. `limits` are specification limits in %, `{"SiO2": (None, 2.5)}`
    or `{"SiO2_percent": (None, 2.5)}`: a row that crosses one is named with the code `limit.crossed`.

    Rows that name no version of the method (column `method_version`), or another than that of `correction`, and all rows of a
    table that holds results without masses, cannot be corrected again: their stored results are multiplied by the first-order
    factor of the fused flux, evaluation (a), and the row is marked with `recipe.estimated`; one without stored results has no
    change, and is marked with `recipe.version-unknown`, one that does not say of which of several lots it is with
    `flux.lot-unknown`. Results that say they were made with other lots than those of `correction` are refused. A table with masses
    and without that column is taken to be of this version. A flux loss of its own (column `flux_loss_percent`) keeps a row from a
    change of that of its lot.

    Every other keyword is that of `correct`: any table in, the same kind out.
    """
    _asked.a_correction(correction, table)
    if (to is None) == (not change):
        refuse("table.layout", "Say either `to` or `change`.", "One of them says what the results are to be held against.")
    words = _asked.rows(only, correction)
    changed = to if to is not None else _changed(correction, dict(change or {}), words)
    _asked.a_correction(changed)
    _made_by.check(table, correction)
    job = _core.Recorrection(correction, changed, only=words, limits=_asked.limits(limits))
    return correct(table, job, **options)


def _changed(correction: _core.Correction, change: dict[str, Any], only: dict[str, str]) -> _core.Correction:
    """A correction with what is said to differ."""
    for name, given in change.items():
        if name == "flux_loss_percent":
            correction = correction.with_flux_loss(_asked.one_lot(only, correction), given)
        elif name == "method":
            correction = correction.with_method(given)
        else:
            refuse("word.unknown", f"`change` knows no {name}.", "It knows flux_loss_percent and method; `to` takes the rest.")
    return correction


@dataclass(frozen=True)
class _Ask:
    """What is asked of a table."""

    correction: TableJob
    uncertainty: str
    threads: int
    keep: tuple[str, ...]
    findings: bool
    doubled: frozenset[str] | None
    told: Told = field(default_factory=Told)

    def said(self) -> dict[str, Any]:
        known = None if self.doubled is None else set(self.doubled)
        return {"uncertainty": self.uncertainty, "threads": self.threads, "doubled": known}

    def give(self, result: Any, findings: Any) -> Any:
        return (result, findings) if self.findings else result

    def chosen(self, names: Sequence[str]) -> list[str]:
        """The columns of a table that are read or kept; refused where a name is near one that is missing."""
        _headers.check(names, self.correction, self.keep)
        wanted = {*self.correction.fields, *self.keep}
        return [name for name in names if name in wanted]

    def stream(self, source: Any, first_row: int = 0, part: bool = False) -> _core.CorrectedTable:
        done = self.correction.correct_stream(source, first_row=first_row, keep=self.keep, **self.said())
        self.told.tell(done.notes, len(done.table), part)
        return done

    def arrays(self, columns: dict[str, Any], out: Any = None, nan_is_null: bool = False) -> _core.CorrectedArrays:
        done = self.correction.correct_arrays(columns, out=out, nan_is_null=nan_is_null, **self.said())
        self.told.tell(done.notes, len(done.codes))
        return done

    def attributes(self) -> dict[str, Any]:
        """What the schema of an Arrow table of results says, for tables that have attributes instead: plain JSON."""
        fields = self.correction.result_fields(self.uncertainty)
        units = {name: unit for name, unit, _ in fields}
        basis = {name: basis for name, _, basis in fields if basis is not None}
        return {**self.correction.metadata(self.uncertainty), "units": units, "basis": basis, "notes": list(self.told.texts)}

    def kept(self, table: Any, names: Sequence[str], results: Sequence[str]) -> dict[str, Any]:
        """The kept columns of a table of arrays."""
        for name in self.keep:
            if name not in names:
                refuse("table.header", f"There is no column {name} to keep.", "Name columns as they are written.")
            if name in results or name in ("finding", "reason"):
                refuse("table.column-doubled", f"The result has a column {name} of its own.", "Rename the kept one.")
        return {name: table[name] for name in self.keep}


def _dict(table: Mapping[str, Any], ask: _Ask, out: Any) -> Any:
    import numpy as np

    _headers.check(table, ask.correction, ask.keep)
    done = ask.arrays(dict(table), out)
    masked = any(isinstance(column, np.ma.MaskedArray) for column in table.values())
    kept = ask.kept(table, list(table), done.names)
    for name, column in kept.items():
        if len(column) != len(done.codes):
            refuse(
                "shape.mismatch",
                f"The column {name} to keep has {len(column)} rows, and the table has {len(done.codes)}.",
                "One for each row; is it of another table?",
            )
    columns = kept | numbers_of(done, masked)
    columns["finding"], columns["reason"] = words_of(done)
    return ask.give(columns, findings_of(done))


def _structured(table: Any, ask: _Ask, out: Any) -> Any:
    if table.dtype.names is None or table.ndim != 1:
        refuse(
            "table.kind",
            f"An array of {table.dtype} with {table.ndim} dimensions has no named columns.",
            "Give a dict of arrays, or a structured array of one dimension.",
        )
    columns = _dict({name: table[name] for name in table.dtype.names}, ask, out)
    columns, found = columns if ask.findings else (columns, {})
    return ask.give(records_of(columns, type(table)), records_of(found, type(table)))


def _pandas(frame: Any, ask: _Ask) -> Any:
    import numpy as np
    import pandas as pd

    names = ask.chosen(frame.columns)
    refuse_doubled(names)
    read = [name for name in names if name in ask.correction.fields]
    plain = (np.dtype, pd.StringDtype, pd.CategoricalDtype)
    if all(isinstance(dtype, plain) for dtype in frame.dtypes[read]):
        done = ask.arrays({name: frame[name].to_numpy() for name in read}, nan_is_null=True)
        kept = ask.kept(frame, names, done.names)
        result = pd.DataFrame(done.numbers.T, index=frame.index, columns=done.names, copy=False)
        finding, reason = words_of(done)
        result["finding"] = pd.Categorical(finding)  # those found, not every code there is
        result["reason"] = pd.Series(reason, index=frame.index, dtype=pd.Series([""]).dtype)
        found = pd.DataFrame(findings_of(done)) if ask.findings else None
    else:
        done_table = replace(ask, keep=()).stream(arrow_of(frame[read]))
        arrow = any(isinstance(dtype, pd.ArrowDtype) for dtype in frame.dtypes[read])
        result, found = to_pandas(done_table.table, arrow), to_pandas(done_table.findings, arrow)
        kept = ask.kept(frame, names, list(result.columns))
        result.index = frame.index
    if kept:
        result = pd.concat([frame[list(kept)], result], axis=1)
    result.attrs = {**frame.attrs, **ask.attributes()}
    return ask.give(result, found)


def _polars(frame: Any, ask: _Ask, first_row: int = 0, part: bool = False) -> Any:
    import polars as pl

    frame = frame.select(ask.chosen(frame.columns))
    # polars exports a column of the type Null with a buffer that Arrow does not foresee.
    nothing = [name for name, dtype in frame.schema.items() if dtype == pl.Null]
    done = ask.stream(frame.with_columns(pl.col(nothing).cast(pl.String)), first_row, part)
    result = pl.DataFrame(done.table).with_columns(frame[name] for name in nothing if name in ask.keep)
    return ask.give(result, pl.DataFrame(done.findings) if ask.findings else None)


_ROW = "row in this table"


def _polars_lazy(frame: Any, ask: _Ask) -> Any:
    import polars as pl

    schema = frame.collect_schema()
    chosen = ask.chosen(schema.names())
    both = replace(ask, findings=True)
    empty = _polars(pl.DataFrame(schema={name: schema[name] for name in chosen}), both)
    in_parts = ask.doubled is not None or ask.correction.identity not in chosen

    def run(part: Any, place: int) -> Any:
        return _polars(part, both, part[_ROW][0] if part.height else 0, in_parts)[place]

    def lazily(place: int) -> Any:
        return frame.select(chosen).with_row_index(_ROW).map_batches(
            lambda part: run(part, place),
            schema=empty[place].schema,
            predicate_pushdown=False,  # a condition on a result has nothing to look at before it
            projection_pushdown=False,  # every column is read, whichever results are asked for
            streamable=in_parts,
        )

    return ask.give(lazily(0), lazily(1) if ask.findings else None)


def _pyarrow(table: Any, ask: _Ask) -> Any:
    import pyarrow as pa

    names = table.schema.names
    chosen = set(ask.chosen(names))
    done = ask.stream(table.select([place for place, name in enumerate(names) if name in chosen]))
    if isinstance(table, pa.Table):
        return ask.give(pa.table(done.table), pa.table(done.findings))
    return ask.give(one_batch(done.table), one_batch(done.findings))


def _reader(reader: Any, ask: _Ask) -> Any:
    import pyarrow as pa

    _headers.check(reader.schema.names, ask.correction, ask.keep)
    empty = ask.stream(reader.schema.empty_table())
    found: list[Any] = []

    def batches() -> Iterator[Any]:
        row = 0
        for batch in reader:
            done = ask.stream(batch, first_row=row, part=True)
            row += batch.num_rows
            if ask.findings:
                found.extend(pa.RecordBatchReader.from_stream(done.findings))
            yield from pa.RecordBatchReader.from_stream(done.table)
        ask.told.close()

    return ask.give(
        pa.RecordBatchReader.from_batches(pa.schema(empty.table), batches()),
        pa.RecordBatchReader.from_batches(pa.schema(empty.findings), (batch for batch in found)),
    )


def _duckdb(relation: Any, ask: _Ask, connection: Any) -> Any:
    import duckdb
    import pyarrow as pa

    home = duckdb if connection is None else connection
    if not hasattr(home, "from_arrow"):
        raise TypeError(f"`connection` is {connection!r}; the DuckDB connection the result shall live on belongs there.")
    chosen = [duckdb.ColumnExpression(name) for name in ask.chosen(relation.columns)]
    # Read to its end: a stream that is still open holds the connection of the relation.
    done = ask.stream(relation.select(*chosen))
    findings = home.from_arrow(pa.table(done.findings)) if ask.findings else None
    return ask.give(home.from_arrow(pa.table(done.table)), findings)


def _with_header(table: Any, ask: _Ask) -> Any:
    """A table of a library nobody has heard of, after a look at its columns. pyarrow reads their names; where it is not
    installed they cannot be looked at."""
    try:
        import pyarrow as pa
    except ImportError:
        return table
    try:
        if hasattr(table, "__arrow_c_stream__"):
            table = pa.RecordBatchReader.from_stream(table)
        elif hasattr(table, "__arrow_c_array__"):
            table = pa.record_batch(table)
        else:
            return table
    except (pa.ArrowInvalid, pa.ArrowTypeError) as why:
        if "struct" not in str(why):
            raise
        refuse("table.kind", f"A {type(table).__name__} is a single column, not a table.", "Give the table it is a column of.")
    _headers.check(table.schema.names, ask.correction, ask.keep)
    return table


def _narwhals(frame: Any, ask: _Ask, connection: Any) -> Any:
    import narwhals as nw

    done = correct(
        nw.to_native(frame),
        ask.correction,
        uncertainty=ask.uncertainty,
        threads=ask.threads,
        keep=ask.keep,
        connection=connection,
        findings=ask.findings,
        doubled=ask.doubled,
    )
    return tuple(map(nw.from_native, done)) if ask.findings else nw.from_native(done)


def _plain(column: Any, words: bool) -> Any:
    """A column of a dict in a form the native module reads: numbers as f64, i64 or u64 with a mask, a list of words, or,
    where it is none of these, what it is."""
    import numpy as np

    mask = None
    if isinstance(column, np.ma.MaskedArray):
        mask, column = np.ascontiguousarray(np.ma.getmaskarray(column)), column.data
    try:
        array = np.asarray(column)
    except ValueError as why:  # lists of different lengths
        return str(why)
    if array.ndim != 1:
        return f"{array.dtype} with {array.ndim} dimensions"
    if array.dtype.kind in "OUT":
        return _objects(array.tolist(), [False] * len(array) if mask is None else mask.tolist(), words)
    if array.dtype.kind == "M" and words:
        gone = np.isnat(array) if mask is None else np.isnat(array) | mask
        return _objects(np.datetime_as_string(array).tolist(), gone.tolist(), words)
    if array.dtype.kind in "iu":
        whole = np.require(array, np.int64 if array.dtype.kind == "i" else np.uint64, ["C", "A"])
        if words:
            return _objects(whole.tolist(), [False] * len(whole) if mask is None else mask.tolist(), words)
        return whole, mask
    if array.dtype.kind == "f" and array.dtype.itemsize <= 8 and not words:
        return np.require(array, np.float64, ["C", "A"]), mask
    return str(array.dtype)


def _objects(cells: list[Any], mask: list[bool], words: bool) -> Any:
    """Python objects as words or as numbers with a mask; or what one of them is."""
    import numpy as np

    for row, cell in enumerate(cells):
        if mask[row] or cell is None or type(cell).__name__ in ("NAType", "NaTType"):
            cells[row] = None
        elif words and isinstance(cell, float) and cell != cell:  # how pandas marks missing text
            cells[row] = None
        elif words and isinstance(cell, datetime.date):  # a datetime is one too
            cells[row] = cell.isoformat()
        elif isinstance(cell, decimal.Decimal) and not words:
            number = _nearest(cell)
            if number is None:
                return f"object (row {row} holds {cell}, which no float is exactly)"
            cells[row] = number
        elif isinstance(cell, bool) or not isinstance(cell, (str, float, np.floating, numbers.Integral)):
            return f"object (row {row} holds a {type(cell).__name__})"
        elif words and not isinstance(cell, (str, numbers.Integral)):
            return f"object (row {row} holds the number {cell})"
        elif isinstance(cell, numbers.Integral) and not words and not _exact(int(cell)):
            return f"object (row {row} holds {cell}, which no float is exactly)"
    if words or any(isinstance(cell, str) for cell in cells):
        return [cell if cell is None else str(cell) for cell in cells]
    missing = np.array([cell is None for cell in cells], dtype=bool)
    return np.array([np.nan if cell is None else float(cell) for cell in cells], dtype=np.float64), missing


def _nearest(cell: decimal.Decimal) -> float | None:
    """The float nearest to a decimal of digits that a float holds, as with decimals of Arrow."""
    digits = "".join(map(str, cell.as_tuple().digits)).rstrip("0") or "0"
    held = cell.is_finite() and int(digits) <= 2**53
    return float(cell) if held or cell.is_qnan() else None


def _exact(whole: int) -> bool:
    try:
        return float(whole) == whole
    except OverflowError:
        return False
