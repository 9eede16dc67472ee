"""Bead ids that stand in several rows of a stream of any length: ids are spread over files, then compared file by file."""

from __future__ import annotations

import tempfile
from collections.abc import Iterable
from contextlib import ExitStack
from pathlib import Path
from typing import Any

import numpy as np
import pyarrow as pa
import pyarrow.compute as pc

from beadchem._files.refusal import refused

_IDS_IN_A_FILE = 250_000
_MOST_FILES = 256
MOST_DOUBLED = 1_000_000
"""More ids than this in several rows are refused: then the column is not the id of a bead."""
_SCHEMA = pa.schema([("id", pa.string())])


def doubled_ids(columns: Iterable[Any], rows: int | None, folder: Path | None = None, *, most: int = MOST_DOUBLED) -> Any:
    """The ids that occur more than once, as an array of text. Ids are compared whole, not by hash; null is no id.

    `rows` is an estimate of how many there are; `folder` is where files stand while this runs.
    Raises `BeadchemError` `bead.doubled` beyond `most` ids.
    """
    files = _MOST_FILES if rows is None else min(_MOST_FILES, max(1, -(-rows // _IDS_IN_A_FILE)))
    with tempfile.TemporaryDirectory(prefix=".ids-", dir=folder) as spill:
        paths = [Path(spill) / f"{number}.arrow" for number in range(files)]
        found = _spread(columns, paths)
        for path in paths:
            found.append(_twice_in(path))
            if sum(map(len, found)) > most:
                raise refused(
                    "bead.doubled",
                    f"More than {most} bead ids stand in several rows.",
                    hint="Is the column of bead ids the right one? Without the check: --no-check-ids (check_ids=False).",
                )
    return pc.unique(pa.chunked_array(found, pa.string()))


def _spread(columns: Iterable[Any], paths: list[Path]) -> list[Any]:
    """Writes each id once a batch to the file of its hash; those twice in one batch are returned."""
    found = []
    with ExitStack() as open_files:
        writers = [open_files.enter_context(pa.ipc.new_stream(str(path), _SCHEMA)) for path in paths]
        for column in columns:
            ids, twice = _counted(pc.cast(column, pa.string()))
            if len(twice):
                found.append(twice)
            for writer, some in zip(writers, _split(ids, len(writers)), strict=True):
                if len(some):
                    writer.write_batch(pa.record_batch([some], schema=_SCHEMA))
    return found


def _twice_in(path: Path) -> Any:
    with pa.OSFile(str(path)) as file, pa.ipc.open_stream(file) as reader:
        table = reader.read_all()
    return _counted(table.column("id"))[1]


def _counted(ids: Any) -> tuple[Any, Any]:
    """Each id once, and those that occur more often."""
    counts = pc.value_counts(pc.drop_null(ids))
    values = counts.field("values")
    return values, values.filter(pc.greater(counts.field("counts"), 1))


def _split(ids: Any, files: int) -> list[Any]:
    """The ids by a hash of their bytes; equal ids come into the same file."""
    if files == 1:
        return [ids]
    home = _hash(ids) % np.uint64(files)
    order = np.argsort(home, kind="stable")
    ends = np.searchsorted(home[order], np.arange(files + 1, dtype=np.uint64))
    sorted_ids = ids.take(pa.array(order))
    return [sorted_ids.slice(start, end - start) for start, end in zip(ends[:-1], ends[1:], strict=True)]


def _hash(ids: Any) -> Any:
    """A sum of bytes, each times an odd number of its place, mixed; wraps at 64 bits. Serves to spread, not to compare."""
    _, offset_bytes, data = ids.buffers()
    offsets = np.frombuffer(offset_bytes, np.int32, len(ids) + 1, 4 * ids.offset).astype(np.int64)
    octets = np.frombuffer(data or b"", np.uint8)[offsets[0] : offsets[-1]].astype(np.uint64)
    lengths = np.diff(offsets)
    places = np.arange(len(octets)) - np.repeat(offsets[:-1] - offsets[0], lengths)
    terms = (octets + np.uint64(1)) * (places.astype(np.uint64) * np.uint64(0x9E3779B97F4A7C15) | np.uint64(1))
    running = np.concatenate([np.zeros(1, np.uint64), np.cumsum(terms, dtype=np.uint64)])
    sums = running[offsets[1:] - offsets[0]] - running[offsets[:-1] - offsets[0]]
    return (sums * np.uint64(0xBF58476D1CE4E5B9)) >> np.uint64(32)
