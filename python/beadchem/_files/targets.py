"""Writers: Parquet with one row group a chunk, CSV whose numbers read back to the same bits, and parts in between."""

from __future__ import annotations

from pathlib import Path
from typing import Any, Protocol

import pyarrow as pa
import pyarrow.csv as pacsv
import pyarrow.parquet as pq

from beadchem._files import faults
from beadchem._files.delimited import is_csv
from beadchem._files.pieces import with_plain_words
from beadchem._files.refusal import refused

_COMPRESSIONS = ("zstd", "snappy", "gzip", "lz4", "brotli", "none")


class Writer(Protocol):
    """Takes batches of one schema; what it wrote is whole once it is closed."""

    def write(self, batch: Any) -> None:
        """Appends rows."""

    def close(self) -> None:
        """Ends the file."""


def check_target(path: Path, source: Path, *, compression: str) -> None:
    """Refuses a target that could not be written, before anything is read.

    Raises `BeadchemError` `file.name` for a name under which nothing can be written, `word.unknown` for an unknown compression.
    """
    if compression not in _COMPRESSIONS:
        raise refused("word.unknown", f"Compression {compression!r} is not known.", hint=f"One of {', '.join(_COMPRESSIONS)}.")
    if lies_in(path, source):
        raise _bad_name(f"{path} is the source, or lies in it.", "Choose another target.")
    if source.is_dir():
        if lies_in(source, path):
            raise _bad_name(f"{path} holds the source {source}.", "Choose another target.")
        if path.suffix in {".parquet", ".xlsx"} or is_csv(path) or path.is_file():
            raise _bad_name(f"The source is a folder, {path} names a file.", "Name a folder as target.")
        _check_parent(path)
    else:
        check_file(path)


def check_replaced(folder: Path) -> None:
    """Refuses to replace a folder that holds anything but results of runs.

    Raises `BeadchemError` `file.exists`.
    """
    for path in sorted(folder.rglob("*")):
        if path.name.startswith("."):
            continue  # what a file manager leaves
        if path.is_symlink() or not (path.is_dir() or _is_result(path)):
            raise refused(
                "file.exists",
                f"{folder} holds {path.relative_to(folder)}, which is no result of a run; replacing the folder would throw it away.",
                hint="Move it, or choose another target.",
            )


def _is_result(path: Path) -> bool:
    if path.suffix != ".parquet":
        return False
    try:
        return b"beadchem" in (pq.read_schema(path).metadata or {})
    except (pa.ArrowException, OSError):
        return False


def check_lists(lists: list[Path], target: Path, source: Path) -> None:
    """Refuses names of lists of findings under which none can be written, or that stand for something else; see `check_target`."""
    other = "Choose another name for the list."
    for path in lists:
        for whole, what in ((target, "target"), (source, "source")):
            if lies_in(path, whole):
                raise _bad_name(f"{path} is the {what}, or lies in it.", other)
        if [one.resolve() for one in lists].count(path.resolve()) > 1:
            raise _bad_name(f"{path} is to hold two lists.", other)
        check_file(path)


def lies_in(path: Path, whole: Path) -> bool:
    """Whether a name is that of a file or folder, or of something in it, by whatever links and detours."""
    place = path.resolve()
    return whole.resolve() in (place, *place.parents)


def check_file(path: Path) -> None:
    """Refuses the name of a file under which no table can be written; see `check_target`."""
    if path.is_dir():
        raise _bad_name(f"{path} is a folder.", "Name a file that ends in .parquet, .csv or .csv.gz.")
    if path.suffix != ".parquet" and not is_csv(path):
        raise _bad_name(f"{path}: no table can be written under this name.", "Names end in .parquet, .csv or .csv.gz.")
    _check_parent(path)


def _check_parent(path: Path) -> None:
    if not path.parent.is_dir():
        raise _bad_name(f"There is no folder {path.parent}.", "Make it, or choose another.")


def _bad_name(text: str, hint: str) -> Exception:
    return refused("file.name", text, quantity="target", hint=hint)


def check_schema(name: str, schema: Any) -> None:
    """Refuses columns that a file of this name cannot hold.

    Raises `BeadchemError` `file.name`.
    """
    nested = [one.name for one in schema if pa.types.is_nested(one.type)]
    if nested and is_csv(Path(name)):
        raise _bad_name(
            f"Column {nested[0]} holds several numbers in a cell, which CSV cannot.",
            'Write Parquet, or ask for uncertainty "variance".',
        )


def open_writer(path: Path, name: str, schema: Any, compression: str) -> Writer:
    """A writer to `path` of the kind that the final `name` says: .parquet, .csv, else parts of a run."""
    if name.endswith(".parquet"):
        writer: Writer = _ParquetWriter(path, schema, compression)
    elif is_csv(Path(name)):
        writer = _CsvWriter(path, name, schema)
    else:
        writer = _PartWriter(path, schema)
    faults.point("begun")
    return writer


class _ParquetWriter:
    """Each batch becomes a row group; words are written by dictionary, numbers plainly."""

    def __init__(self, path: Path, schema: Any, compression: str) -> None:
        words = [one.name for one in schema if not pa.types.is_floating(one.type) and not pa.types.is_nested(one.type)]
        self._writer = pq.ParquetWriter(path, schema, compression=compression, use_dictionary=words, write_statistics=True)

    def write(self, batch: Any) -> None:
        self._writer.write_batch(batch, row_group_size=max(1, batch.num_rows))
        faults.point("written")

    def close(self) -> None:
        self._writer.close()


class _CsvWriter:
    """Numbers in the shortest form that reads back to the same bits; null is an empty cell, NaN the word nan.

    An empty text is written as "" and so kept apart from null.
    """

    def __init__(self, path: Path, name: str, schema: Any) -> None:
        self._schema = with_plain_words(schema)
        kind = {".gz": "gzip", ".zst": "zstd"}.get(Path(name).suffix)
        self._file = pa.OSFile(str(path), "wb")
        self._stream = pa.CompressedOutputStream(self._file, kind) if kind else self._file
        self._writer = pacsv.CSVWriter(self._stream, self._schema)

    def write(self, batch: Any) -> None:
        self._writer.write_batch(batch.cast(self._schema))
        faults.point("written")

    def close(self) -> None:
        self._writer.close()
        self._stream.close()
        self._file.close()


class _PartWriter:
    """An Arrow stream, uncompressed: what a part of a run is kept in until all are joined."""

    def __init__(self, path: Path, schema: Any) -> None:
        self._file = pa.OSFile(str(path), "wb")
        self._writer = pa.ipc.new_stream(self._file, schema)

    def write(self, batch: Any) -> None:
        self._writer.write_batch(batch)
        faults.point("written")

    def close(self) -> None:
        self._writer.close()
        self._file.close()
