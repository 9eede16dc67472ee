"""Columns of text that hold nothing but plain numbers, read as numbers: to the same bits as the correction reads text."""

from __future__ import annotations

from collections.abc import Collection
from typing import Any

import pyarrow as pa
import pyarrow.compute as pc


def with_numbers(batch: Any, numbers: Collection[str]) -> Any:
    """The batch with those columns named in `numbers` as float64 whose every cell is a finite number or empty.

    All others stay text, for the correction to read cell by cell and to say of each what is wrong with it ("<0.01",
    "1,5", "nan"); so what is said of a row does not depend on the rows it is read with.
    """
    columns = [
        _numbers(column) if name in numbers else column for name, column in zip(batch.schema.names, batch.columns, strict=True)
    ]
    return pa.RecordBatch.from_arrays(columns, names=batch.schema.names)


def _numbers(texts: Any) -> Any:
    try:
        values = pc.cast(texts, pa.float64())
    except pa.ArrowInvalid:
        return texts
    finite = pc.all(pc.is_finite(values)).as_py()
    return texts if finite is False else values
