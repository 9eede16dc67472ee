"""What the functions over any kind of table share: telling kinds apart, and columns on their way out. No library of tables
is imported here before a table of it is given."""

from __future__ import annotations

import sys
from typing import TYPE_CHECKING, Any, NoReturn

from beadchem import _core

if TYPE_CHECKING:
    import numpy as np
    from numpy.typing import NDArray

_NAMES = ("row", "code", "severity", "quantity", "value", "bound", "reason")
_NUMBERS: dict[str, int] = {}


def is_kind(table: Any, library: str, *kinds: str) -> bool:
    """Whether it is a table of a library; one that was never imported has made none."""
    module = sys.modules.get(library)
    return module is not None and isinstance(table, tuple(getattr(module, kind) for kind in kinds))


def refuse(
    code: str, detail: str, hint: str, *, quantity: str | None = None, value: float | None = None, bound: str | None = None
) -> NoReturn:
    refused = _core.BeadchemError(f"{detail} {hint}")
    refused.code, refused.quantity, refused.hint = code, quantity or detail.rstrip("."), hint
    refused.value, refused.bound = value, bound
    raise refused


def refuse_doubled(names: list[Any]) -> None:
    """Refuses a table of which two columns have one name."""
    if len(set(names)) < len(names):
        doubled = next(name for name in names if names.count(name) > 1)
        refuse("table.column-doubled", f"The table has two columns named {doubled}.", "Name them apart.")


def words_of(done: _core.CorrectedArrays) -> tuple[NDArray[np.object_], NDArray[np.object_]]:
    """The columns `finding` and `reason`."""
    import numpy as np

    codes = done.codes
    finding, reason = np.full(len(codes), None, dtype=object), np.full(len(codes), None, dtype=object)
    for row, code, _, _, _, _, text in reversed(done.finding_rows()):
        if _NUMBERS.setdefault(code, _core.codes()[code].number) == codes[row]:
            finding[row], reason[row] = code, text
    return finding, reason


def findings_of(done: _core.CorrectedArrays) -> dict[str, NDArray[Any]]:
    import numpy as np

    rows = done.finding_rows()
    columns = zip(*rows, strict=True) if rows else ((),) * len(_NAMES)
    kinds = (np.uint64, object, object, object, np.float64, np.float64, object)
    return {name: np.array(column, dtype=kind) for name, column, kind in zip(_NAMES, columns, kinds, strict=True)}


def numbers_of(done: _core.CorrectedArrays, masked: bool) -> dict[str, Any]:
    """The columns of numbers, views of one block; with a mask each where that is asked for."""
    import numpy as np

    columns: dict[str, Any] = {}
    for place, (name, numbers) in enumerate(zip(done.names, done.numbers, strict=True)):
        columns[name] = np.ma.MaskedArray(numbers, mask=_mask(done, place), copy=False) if masked else numbers
    return columns


def _mask(done: _core.CorrectedArrays, place: int) -> Any:
    import numpy as np

    nulls = done.nulls(place)
    return np.ma.nomask if nulls is None else nulls


def records_of(columns: dict[str, Any], kind: type) -> Any:
    """Columns as one structured array of a kind."""
    import numpy as np

    rows = max((len(column) for column in columns.values()), default=0)
    dtype = [(name, column.dtype) for name, column in columns.items()]
    masked = issubclass(kind, np.ma.MaskedArray)
    result: Any = np.empty(rows, dtype=dtype)
    result = result.view(np.ma.MaskedArray) if masked else result
    for name, column in columns.items():
        result[name] = column
        if masked and column.dtype == object:
            result[name].mask = [cell is None for cell in column]
    return result if masked else result.view(kind)


def arrow_of(frame: Any) -> Any:
    import pyarrow as pa

    try:
        return pa.Table.from_pandas(frame, preserve_index=False)
    except pa.ArrowException as why:
        refuse("table.column-type", f"A column has no type of its own: {why}.", "Convert it to one type.")


def to_pandas(columns: _core.ArrowColumns, arrow: bool) -> Any:
    import pandas as pd
    import pyarrow as pa

    nullable = {
        pa.float64(): pd.Float64Dtype(),
        pa.uint64(): pd.UInt64Dtype(),
        pa.string(): pd.StringDtype(),
        pa.large_string(): pd.StringDtype(),
    }
    table = pa.table(columns)
    for place, field in enumerate(table.schema):
        if pa.types.is_dictionary(field.type):  # it lists every code there is, and pandas would group by them all
            table = table.set_column(place, field.name, table.column(place).cast(pa.string()))
    return table.to_pandas(types_mapper=pd.ArrowDtype if arrow else nullable.get, ignore_metadata=True)


def one_batch(columns: _core.ArrowColumns) -> Any:
    import pyarrow as pa

    schema = pa.schema(columns)
    batches = [*pa.RecordBatchReader.from_stream(columns), pa.RecordBatch.from_pylist([], schema=schema)]
    return batches[0].replace_schema_metadata(schema.metadata)
