"""Files to be corrected: Parquet, CSV, workbooks and folders of Parquet files, each in parts that can be done alone."""

from __future__ import annotations

from collections.abc import Callable, Collection, Iterator, Sequence
from dataclasses import dataclass
from pathlib import Path
from typing import Any, Protocol

from beadchem._files.pieces import Piece
from beadchem._files.refusal import refused

Wanted = Callable[[list[str]], list[str]]
"""Which of the columns that are there are to be read."""


@dataclass(frozen=True)
class Part:
    """A run of rows that is written as one file: its number, in a folder the name of its file, and a way to read it."""

    number: int
    file: str
    pieces: Callable[[], Iterator[Piece]]


@dataclass(frozen=True)
class Reading:
    """How a source is read: rows together, rows in a part, which columns, which of them hold numbers, and which decide results."""

    chunk_rows: int
    part_rows: int
    wanted: Wanted
    numbers: Collection[str]
    read: Collection[str] = ()


class Source(Protocol):
    """What a run needs of its source."""

    @property
    def rows(self) -> int | None:
        """All rows, where the format tells."""

    @property
    def is_folder(self) -> bool:
        """Whether parts are files of their own."""

    @property
    def notes(self) -> Sequence[str]:
        """What is said of the source as it is written; known once its headers were asked for."""

    @property
    def path_keys(self) -> Collection[str]:
        """Columns that the names of folders state."""

    def headers(self) -> Iterator[tuple[str, list[str]]]:
        """Each file of a folder, or no name, and its columns with those that the names of its folders state."""

    def identity(self) -> list[dict[str, Any]]:
        """What the files are known by: path, size in bytes, time of last change in ns, rows."""

    def parts(self, finished: Collection[int]) -> Iterator[Part]:
        """The parts in order. Pieces of finished ones are not asked for, others at most once and in order."""

    def column(self, name: str) -> Iterator[Any]:
        """One column, array by array; nothing where it is missing."""


def open_source(path: Path, reading: Reading) -> Source:
    """The source of a path, by its name.

    Raises `BeadchemError` `table.unreadable` where nothing stands there or it is not what its name says, `file.name` for an unknown kind.
    """
    from beadchem._files.delimited import CsvSource, WorkbookSource, is_csv
    from beadchem._files.parquet import FolderSource, ParquetSource

    if path.is_dir():
        return FolderSource(path, reading)
    if not path.exists():
        raise refused("table.unreadable", f"There is no file {path}.", hint="Is the name right?")
    if path.suffix == ".parquet":
        return ParquetSource(path, reading)
    if is_csv(path):
        return CsvSource(path, reading)
    if path.suffix == ".xlsx":
        return WorkbookSource(path, reading)
    raise refused(
        "file.name",
        f"{path.name}: what kind of file this is cannot be told from its name.",
        hint="Names end in .parquet, .csv, .csv.gz or .xlsx, or it is a folder of Parquet files.",
    )


def file_identity(path: Path, name: str, rows: int | None) -> dict[str, Any]:
    """What one file is known by."""
    at = path.stat()
    return {"path": name, "size": at.st_size, "changed_ns": at.st_mtime_ns, "rows": rows}
