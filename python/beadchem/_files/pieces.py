"""Record batches cut anew: chunks of even size, so that memory does not depend on how a source was written."""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from dataclasses import dataclass, field
from pathlib import Path
from typing import Any

import pyarrow as pa

from beadchem._files.refusal import refused


@dataclass(frozen=True)
class Trouble:
    """What is wrong with a row before any chemistry: its place in the batch, a code, and plain words."""

    row: int
    code: str
    quantity: str
    reason: str


@dataclass(frozen=True)
class Piece:
    """Rows to be corrected together, the number of the first (from 0), and what is wrong with them as read.

    `written` are the same rows with every cell as it was written, for columns that are handed on.
    """

    batch: Any
    first_row: int
    written: Any
    troubles: list[Trouble] = field(default_factory=list)


def batches_of(source: Any, chunk_rows: int) -> tuple[Any, Iterator[Any]]:
    """The schema and the record batches of a reader, dataset, scanner, table of any library, or iterable of batches.

    The schema is None where an iterable has no batch. Raises `BeadchemError` `word.unknown` for anything else.
    """
    if hasattr(source, "scanner"):
        source = source.scanner(batch_size=chunk_rows, batch_readahead=1, fragment_readahead=1, use_threads=False)
    if hasattr(source, "to_reader") and hasattr(source, "dataset_schema"):
        source = source.to_reader()
    if hasattr(source, "__arrow_c_stream__"):
        reader = source if isinstance(source, pa.RecordBatchReader) else pa.RecordBatchReader.from_stream(source)
        return reader.schema, iter(reader)
    if hasattr(source, "__arrow_c_array__"):
        batch = pa.record_batch(source)
        return batch.schema, iter([batch])
    if not isinstance(source, Iterable):
        raise refused(
            "word.unknown",
            f"A {type(source).__name__} cannot be streamed.",
            quantity="source",
            hint="Give a RecordBatchReader, a dataset, a scanner, a table with the Arrow interface, or record batches.",
        )
    return _peeked(iter(source))


def _peeked(batches: Iterator[Any]) -> tuple[Any, Iterator[Any]]:
    first = next(batches, None)
    if first is None:
        return None, iter(())

    def all_batches() -> Iterator[Any]:
        yield pa.record_batch(first)
        for batch in batches:
            yield pa.record_batch(batch)

    return pa.record_batch(first).schema, all_batches()


def rechunk(batches: Iterable[Any], rows: int) -> Iterator[Any]:
    """The same rows in the same order, `rows` to a batch, the last one shorter. Values are copied, never computed with."""
    waiting: list[Any] = []
    held = 0
    for batch in batches:
        start = 0
        while start < batch.num_rows:
            taken = min(rows - held, batch.num_rows - start)
            waiting.append(batch.slice(start, taken))
            held += taken
            start += taken
            if held == rows:
                yield joined(waiting)
                waiting, held = [], 0
    if waiting:
        yield joined(waiting)


def joined(batches: list[Any]) -> Any:
    """One batch of several; a single one that is not part of a larger stays as it is."""
    return batches[0] if len(batches) == 1 else pa.concat_batches(batches)


def read_stream(source: Any) -> Iterator[Any]:
    """The batches behind the Arrow stream interface."""
    return iter(pa.RecordBatchReader.from_stream(source))


def one_batch(source: Any) -> Any:
    """All rows behind the Arrow stream interface as one batch."""
    reader = pa.RecordBatchReader.from_stream(source)
    batches = list(reader)
    return joined(batches) if batches else empty_batch(reader.schema)


def with_columns(batch: Any, names: list[str], results: Any) -> Any:
    """The results behind some columns of the batch they came from; the schema's metadata is that of the results."""
    fields = [batch.schema.field(name) for name in names] + list(results.schema)
    columns = [batch.column(name) for name in names] + results.columns
    return pa.RecordBatch.from_arrays(columns, schema=pa.schema(fields, metadata=results.schema.metadata))


def with_plain_words(schema: Any) -> Any:
    """The schema with words as plain text instead of by dictionary or in large strings: every library takes that."""

    def plain(kind: Any) -> Any:
        kind = kind.value_type if pa.types.is_dictionary(kind) else kind
        return pa.string() if pa.types.is_large_string(kind) else kind

    return pa.schema([one.with_type(plain(one.type)) for one in schema], metadata=schema.metadata)


def empty_batch(schema: Any) -> Any:
    """No rows of a schema."""
    return pa.RecordBatch.from_arrays([pa.array([], type=kind.type) for kind in schema], schema=schema)


def streamed(paths: Iterable[Path]) -> Iterator[Any]:
    """The batches of files in Arrow's stream format, one file after the other."""
    for path in paths:
        with pa.OSFile(str(path)) as file, pa.ipc.open_stream(file) as reader:
            yield from reader


def schema_of(path: Path) -> Any:
    """The schema of a file in Arrow's stream format."""
    with pa.OSFile(str(path)) as file, pa.ipc.open_stream(file) as reader:
        return reader.schema
