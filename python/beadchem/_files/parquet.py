"""Parquet files, alone or in a folder with `key=value` folders, read column by column in constant memory."""

from __future__ import annotations

from collections.abc import Collection, Iterator, Sequence
from contextlib import contextmanager
from pathlib import Path
from typing import Any
from urllib.parse import unquote

import pyarrow as pa
import pyarrow.compute as pc
import pyarrow.parquet as pq

from beadchem._files.pieces import Piece, Trouble, empty_batch, rechunk
from beadchem._files.refusal import refused
from beadchem._files.sources import Part, Reading, file_identity

_PAGE_BYTES = 1 << 18
_NO_VALUE = "__HIVE_DEFAULT_PARTITION__"


class ParquetSource:
    """One Parquet file; a part is a run of whole row groups."""

    is_folder = False
    path_keys: Collection[str] = ()
    notes: Sequence[str] = ()

    def __init__(self, path: Path, reading: Reading) -> None:
        self._path, self._reading = path, reading
        with _opened(path) as file:
            metadata = file.metadata
            self._group_rows = [metadata.row_group(group).num_rows for group in range(metadata.num_row_groups)]
            self._names: list[str] = file.schema_arrow.names
        self.rows: int | None = sum(self._group_rows)

    def headers(self) -> Iterator[tuple[str, list[str]]]:
        yield "", self._names

    def identity(self) -> list[dict[str, Any]]:
        return [file_identity(self._path, str(self._path.absolute()), self.rows)]

    def parts(self, finished: Collection[int]) -> Iterator[Part]:
        first_row = 0
        for number, groups in enumerate(_grouped(self._group_rows, self._reading.part_rows)):
            start = first_row

            def pieces(groups: list[int] = groups, start: int = start) -> Iterator[Piece]:
                return _pieces(self._path, groups, start, self._reading, {})

            yield Part(number, "", pieces)
            first_row += sum(self._group_rows[group] for group in groups)

    def column(self, name: str) -> Iterator[Any]:
        return _column(self._path, name, self._reading.chunk_rows)


class FolderSource:
    """All Parquet files below a folder in the order of their names; each is a part."""

    is_folder = True
    notes: Sequence[str] = ()

    def __init__(self, path: Path, reading: Reading) -> None:
        self._path, self._reading = path, reading
        self._files = _parquet_files(path)
        self._rows: dict[str, int] = {}
        self._names: dict[str, list[str]] = {}
        for name in self._files:
            with _opened(path / name) as file:
                self._rows[name], self._names[name] = int(file.metadata.num_rows), file.schema_arrow.names
        self.rows: int | None = sum(self._rows.values())
        self.path_keys: Collection[str] = {key for file in self._files for key in partition_keys(file)}

    def headers(self) -> Iterator[tuple[str, list[str]]]:
        for file in self._files:
            yield file, [*self._names[file], *partition_keys(file)]

    def identity(self) -> list[dict[str, Any]]:
        return [file_identity(self._path / file, file, self._rows[file]) for file in self._files]

    def parts(self, finished: Collection[int]) -> Iterator[Part]:
        for number, file in enumerate(self._files):

            def pieces(file: str = file) -> Iterator[Piece]:
                return _pieces(self._path / file, None, 0, self._reading, partition_keys(file))

            yield Part(number, file, pieces)

    def column(self, name: str) -> Iterator[Any]:
        for file in self._files:
            yield from _column(self._path / file, name, self._reading.chunk_rows)


def partition_keys(file: str) -> dict[str, str | None]:
    """What the folders of a path say of its rows: `flux_lot=F-118/part-0.parquet` has flux_lot F-118."""
    keys: dict[str, str | None] = {}
    for folder in Path(file).parent.parts:
        name, is_key, text = folder.partition("=")
        if is_key:
            keys[unquote(name)] = None if text == _NO_VALUE else unquote(text)
    return keys


def _parquet_files(folder: Path) -> list[str]:
    files: list[str] = []
    others: list[str] = []
    for path in sorted(folder.rglob("*")):
        name = path.relative_to(folder)
        if any(part.startswith((".", "_")) for part in name.parts):
            continue
        if path.is_dir():
            if path.is_symlink():
                raise refused(
                    "table.unreadable",
                    f"{folder} holds {name}, a link to a folder; such links are not followed.",
                    hint="Name the folder it leads to, or put its files in place of the link.",
                )
            continue
        (files if path.suffix == ".parquet" else others).append(name.as_posix())
    if others or not files:
        raise refused(
            "table.unreadable",
            f"{folder} holds {'no Parquet file' if not files else f'{others[0]}, which is no Parquet file'}.",
            hint="A folder of *.parquet files is needed; names that begin with . or _ are passed over.",
        )
    return files


@contextmanager
def _opened(path: Path) -> Iterator[Any]:
    try:
        file = pq.ParquetFile(path, pre_buffer=False, buffer_size=_PAGE_BYTES)
    except (pa.ArrowInvalid, pa.ArrowNotImplementedError) as failed:
        raise _unreadable(path, failed) from None
    except OSError as failed:
        if failed.errno is None:  # what is wrong is in the file, not in the system
            raise _unreadable(path, failed) from None
        raise
    try:
        yield file
    except (pa.ArrowInvalid, pa.ArrowNotImplementedError, OSError) as failed:
        raise _unreadable(path, failed) from None
    finally:
        file.close()


def _unreadable(path: Path, failed: Exception) -> Exception:
    what = (str(failed).splitlines() or [""])[0].rstrip(". ") or "it is damaged"
    return refused("table.unreadable", f"{path} cannot be read as Parquet: {what}.", hint="Was it written to its end?")


def _grouped(rows: list[int], part_rows: int) -> Iterator[list[int]]:
    """Row groups in runs of at least `part_rows`; one run at least, even of no rows."""
    run: list[int] = []
    held = 0
    for group, count in enumerate(rows):
        run.append(group)
        held += count
        if held >= part_rows:
            yield run
            run, held = [], 0
    if run or not rows:
        yield run


def _pieces(
    path: Path, groups: list[int] | None, first_row: int, reading: Reading, keys: dict[str, str | None]
) -> Iterator[Piece]:
    with _opened(path) as file:
        there = file.schema_arrow.names
        columns = reading.wanted(there)
        batches = file.iter_batches(reading.chunk_rows, row_groups=groups, columns=columns, use_threads=False)
        missing = {name: text for name, text in keys.items() if name not in there and reading.wanted([name])}
        both = {name: text for name, text in keys.items() if name in columns and name in reading.read}
        any_rows = False
        for batch in rechunk(batches, reading.chunk_rows):
            any_rows = True
            yield _piece(batch, missing, first_row, _contradictions(batch, both))
            first_row += batch.num_rows
        if not any_rows:
            schema = pa.schema([file.schema_arrow.field(name) for name in columns])
            yield _piece(empty_batch(schema), missing, first_row)


def _piece(batch: Any, keys: dict[str, str | None], first_row: int, troubles: Sequence[Trouble] = ()) -> Piece:
    """A batch with the columns that its folder's name states, as text."""
    for name, text in keys.items():
        batch = batch.append_column(name, pa.repeat(pa.scalar(text, pa.string()), batch.num_rows))
    return Piece(batch, first_row, batch, list(troubles))


def _contradictions(batch: Any, keys: dict[str, str | None]) -> Iterator[Trouble]:
    """Rows whose own cell says something else than the name of their folder."""
    for name, text in keys.items():
        column = batch.column(name)
        if pa.types.is_dictionary(column.type):
            column = column.dictionary_decode()
        wrong = pc.is_valid(column) if text is None else _differs(column, text)
        for row in pc.indices_nonzero(wrong).to_pylist():
            own = column[row].as_py() if column[row].is_valid else "nothing"
            reason = f"The folder says {name} = {text}, the row {own}. Which is right? Mend the column, or move the file."
            yield Trouble(row, "folder.contradicts", name, reason)


def _differs(column: Any, text: str) -> Any:
    """Where the cells of a column do not say what the text says; a type that holds no words or numbers is refused elsewhere."""
    if pa.types.is_null(column.type):
        return pa.repeat(pa.scalar(True), len(column))
    try:
        same = pc.equal(column, pa.scalar(text).cast(column.type))
    except (pa.ArrowInvalid, pa.ArrowNotImplementedError):
        try:
            same = pc.equal(pc.cast(column, pa.string()), text)
        except pa.ArrowNotImplementedError:
            return pa.repeat(pa.scalar(False), len(column))
    return pc.invert(pc.fill_null(same, False))


def _column(path: Path, name: str, chunk_rows: int) -> Iterator[Any]:
    with _opened(path) as file:
        if name in file.schema_arrow.names:
            for batch in file.iter_batches(chunk_rows, columns=[name], use_threads=False):
                yield batch.column(0)
