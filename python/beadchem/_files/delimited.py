"""CSV files and workbooks: read from the first row to the last, every cell as text first, no row lost.

A line that holds nothing at all is no row.
"""

from __future__ import annotations

import re
from collections import deque
from collections.abc import Collection, Iterator
from contextlib import contextmanager
from dataclasses import replace
from itertools import chain, zip_longest
from pathlib import Path
from typing import Any

import pyarrow as pa
import pyarrow.csv as pacsv

from beadchem._files.pieces import Piece, Trouble, empty_batch, rechunk
from beadchem._files.refusal import needed, refused
from beadchem._files.sources import Part, Reading, file_identity
from beadchem._files.texts import with_numbers

_BLOCK_BYTES = 1 << 20
_CSV_NAMES = (".csv", ".csv.gz", ".csv.zst")


def is_csv(path: Path) -> bool:
    """Whether the name is that of a CSV file, compressed or not."""
    return path.name.endswith(_CSV_NAMES)


class _Sequential:
    """A file without places to jump to: finished parts are read over, a part is a fixed number of rows."""

    is_folder = False
    path_keys: Collection[str] = ()
    rows: int | None = None

    def __init__(self, path: Path, reading: Reading) -> None:
        self._path, self._reading = path, reading
        self.notes: list[str] = []

    def headers(self) -> Iterator[tuple[str, list[str]]]:
        raise NotImplementedError

    def identity(self) -> list[dict[str, Any]]:
        return [file_identity(self._path, str(self._path.absolute()), None)]

    def parts(self, finished: Collection[int]) -> Iterator[Part]:
        chunks_in_part = max(1, self._reading.part_rows // self._reading.chunk_rows)
        chunks, number = self._chunks(self._reading.wanted), 0
        ahead = next(chunks, None)
        while ahead is not None:
            part_chunks = _Taken(ahead, chunks, chunks_in_part)

            def pieces(taken: _Taken = part_chunks) -> Iterator[Piece]:
                for batch, row, troubles in taken:
                    yield Piece(with_numbers(batch, self._reading.numbers), row, batch, troubles)

            yield Part(number, "", pieces)
            for _ in part_chunks:
                pass
            ahead, number = part_chunks.following, number + 1

    def column(self, name: str) -> Iterator[Any]:
        for batch, _, _ in self._chunks(lambda there: [name] if name in there else []):
            if batch.schema.names == [name]:
                yield batch.column(0)

    def _chunks(self, wanted: Any) -> Iterator[tuple[Any, int, list[Trouble]]]:
        """Batches of texts, the number of their first row, and rows that could not be split into cells; one at least."""
        raise NotImplementedError


class _Taken:
    """The next `count` chunks of a stream, and the one behind them."""

    def __init__(self, first: Any, chunks: Iterator[Any], count: int) -> None:
        self._left, self._chunks = count, chunks
        self.following: Any = first

    def __iter__(self) -> _Taken:
        return self

    def __next__(self) -> Any:
        if self._left == 0 or self.following is None:
            raise StopIteration
        self._left -= 1
        chunk = self.following
        self.following = next(self._chunks, None)
        return chunk


class Quotes:
    """Follows the quotes of a CSV file that is read block by block, and finds cells of several lines.

    A quote opens a cell where the cell begins with it; inside, two stand for one.
    """

    _LONGEST = 50
    """More lines than anyone writes into a cell."""
    _WHOLE = re.compile(rb'(?:[^",][^,]*|"(?:[^"]|"")*"|)(?:,(?:[^",][^,]*|"(?:[^"]|"")*"|))*\r?')
    """A line whose quoted cells all end in it."""

    def __init__(self) -> None:
        self.refused = ""
        """Why the file cannot be what was meant."""
        self.lines_inside = 0
        self.first = 0
        self._line, self._opened = 1, 0
        self._rest: list[bytes] = []

    def read(self, block: bytes) -> None:
        """The next block of the file."""
        if self.refused:
            return
        if b"\n" not in block:
            self._rest.append(block)
            if len(self._rest) > 2:
                self.refused = f"line {self._line} is longer than {_BLOCK_BYTES >> 20} MiB"
            return
        head, _, tail = block.rpartition(b"\n")
        text = b"".join([*self._rest, head])
        self._rest = [tail]
        if not self._opened and b'"' not in text:
            self._line += text.count(b"\n") + 1
            return
        for line in text.split(b"\n"):
            self._take(line)
            self._line += 1

    def end(self) -> None:
        """The file ends here."""
        if not self.refused:
            self._take(b"".join(self._rest))
            if self._opened:
                self.refused = f"the quote that opens a cell in line {self._opened} is never closed"

    def _take(self, line: bytes) -> None:
        within = bool(self._opened)
        if within:
            self.lines_inside += 1
            self.first = self.first or self._opened
            if self._line - self._opened > self._LONGEST and not self.refused:
                self.refused = f"the quote that opens a cell in line {self._opened} would make one cell of more than {self._LONGEST} lines"
        elif b'"' not in line or self._WHOLE.fullmatch(line):
            return
        if _ends_inside(line, within):
            self._opened = self._opened or self._line
        else:
            self._opened = 0


def _ends_inside(line: bytes, inside: bool) -> bool:
    """Whether a cell is still open at the end of a line."""
    place = 0
    while True:
        if inside:
            place = line.find(b'"', place)
            if place < 0:
                return True
            if line[place + 1 : place + 2] == b'"':
                place += 2
                continue
            inside, place = False, place + 1
        elif place == 0 and line.startswith(b'"'):
            inside, place = True, 1
        else:
            place = line.find(b',"', place)
            if place < 0:
                return False
            inside, place = True, place + 2


class CsvSource(_Sequential):
    """A CSV file with a header line, separated by commas, numbers with a point.

    A row with too few or too many cells is kept as a row of empty ones and named.
    """

    def _chunks(self, wanted: Any) -> Iterator[tuple[Any, int, list[Trouble]]]:
        skipped: deque[Trouble] = deque()
        placed: deque[Trouble] = deque()
        names, any_row = self._header()
        if not any_row:
            yield _no_rows(wanted(names)), 0, []
            return

        def skip(row: Any) -> str:
            skipped.append(_ragged(row.number - 2, row.actual_columns, row.expected_columns))
            return "skip"

        with self._readable():
            reader = self._reader(wanted(names), names, skip)
            first_row = 0
            for batch in rechunk(_with_gaps(reader, skipped, placed), self._reading.chunk_rows):
                end = first_row + batch.num_rows
                troubles = []
                while placed and placed[0].row < end:
                    one = placed.popleft()
                    troubles.append(replace(one, row=one.row - first_row))
                yield batch, first_row, troubles
                first_row = end
            if first_row == 0:
                yield _no_rows(reader.schema.names), 0, []

    @contextmanager
    def _readable(self) -> Iterator[None]:
        """What the system or pyarrow says of the file inside becomes a refusal."""
        try:
            yield
        except (pa.ArrowInvalid, OSError, EOFError) as failed:
            what = str(failed).splitlines()[0].rstrip(".")
            if "straddling" in what:  # as pyarrow says it
                what = f"a line is longer than {_BLOCK_BYTES >> 20} MiB"
            raise self._unreadable(what) from None

    def _unreadable(self, what: str) -> Exception:
        return refused(
            "table.unreadable",
            f"{self._path} cannot be read as CSV: {what}.",
            hint="It must be UTF-8 text with a header line, separated by commas.",
        )

    def headers(self) -> Iterator[tuple[str, list[str]]]:
        names = self._header()[0]
        self._look_at_quotes()
        yield "", names

    def _look_at_quotes(self) -> None:
        """Refuses a quote that is never closed, or that would make one cell of many lines; says where cells have several lines."""
        quotes = Quotes()
        with self._readable(), self._stream() as stream:
            while not quotes.refused and (block := stream.read(_BLOCK_BYTES)):
                quotes.read(block)
        quotes.end()
        if quotes.refused:
            raise refused(
                "table.unreadable",
                f"{self._path} cannot be read as CSV: {quotes.refused}.",
                hint="Was it meant as a mark (ditto, inch)? Then write it as four quotes, or leave it out; a text of many lines can be "
                "handed over in Parquet.",
            )
        if quotes.lines_inside:
            self.notes = [
                f"{quotes.lines_inside} line ends stand inside quoted cells, the first in line {quotes.first}, and begin no row: "
                "was a quote meant as a mark?"
            ]

    def _header(self) -> tuple[list[str], bool]:
        """The names of the columns, and whether anything follows them."""
        with self._readable(), self._stream() as stream:
            start = bytes(stream.read(_BLOCK_BYTES))
        line, _, rest = start.lstrip(b"\r\n").partition(b"\n")
        if not line.strip():
            raise refused("table.header", f"{self._path} is empty.", hint="A header line with the names of columns is needed.")
        try:
            text = line.decode().rstrip("\r")
            if "\r" in text:
                raise self._unreadable("its lines end in carriage returns alone")
            if any(letter < " " and letter != "\t" for letter in text):  # as in binary files
                raise self._unreadable("its first line is no text in UTF-8")
            for mark, called in ((";", "semicolons"), ("\t", "tabs")):
                if mark in text and "," not in text:
                    raise self._unreadable(f"its first line is separated by {called}")
            names = pacsv.read_csv(pa.py_buffer(line.rstrip(b"\r") + b"\n"), read_options=_read_options()).column_names
        except (UnicodeDecodeError, pa.ArrowInvalid):
            raise self._unreadable("its first line is no text in UTF-8") from None
        return _checked_names(names, self._path), bool(rest.strip(b"\r\n"))

    def _stream(self) -> Any:
        return pa.input_stream(self._path, compression="detect")

    def _reader(self, columns: list[str], names: list[str], skip: Any) -> Any:
        if not columns:
            columns = names[:1]
        return pacsv.open_csv(
            self._stream(),
            read_options=_read_options(),
            parse_options=pacsv.ParseOptions(newlines_in_values=True, ignore_empty_lines=len(names) > 1, invalid_row_handler=skip),
            convert_options=pacsv.ConvertOptions(
                include_columns=columns,
                column_types=dict.fromkeys(columns, pa.string()),
                null_values=[""],
                strings_can_be_null=True,
                quoted_strings_can_be_null=False,
            ),
        )


def _no_rows(names: list[str]) -> Any:
    return empty_batch(pa.schema([(name, pa.string()) for name in names]))


def _read_options() -> Any:
    return pacsv.ReadOptions(use_threads=False, block_size=_BLOCK_BYTES)


def _checked_names(names: list[str], path: Path) -> list[str]:
    twice = sorted({name for name in names if names.count(name) > 1})
    if twice:
        raise refused("table.header", f"{path}: the header names {twice[0]!r} more than once.", hint="Rename one of them.")
    return names


def _with_gaps(reader: Any, skipped: deque[Trouble], placed: deque[Trouble]) -> Iterator[Any]:
    """The batches of a reader with a row of nulls wherever a row was skipped; those move to `placed`."""
    row = 0
    for batch in reader:
        places: list[int | None] = []
        for index in range(batch.num_rows) if skipped else ():
            while skipped and skipped[0].row == row + len(places):
                places.append(None)
                placed.append(skipped.popleft())
            places.append(index)
        if len(places) > batch.num_rows:
            batch = batch.take(pa.array(places, pa.int64()))
        row += batch.num_rows
        yield batch
    if skipped:
        placed.extend(skipped)
        yield _no_rows(reader.schema.names).take(pa.array([None] * len(skipped), pa.int64()))


def _ragged(row: int, cells: int, expected: int) -> Trouble:
    number = f"{cells} {'cell' if cells == 1 else 'cells'}"
    reason = f"Row {row} has {number} where the header has {expected}. Was a comma used as decimal mark, or a line cut?"
    return Trouble(row, "shape.mismatch", "cells", reason)


class WorkbookSource(_Sequential):
    """The first sheet of a workbook, its first line the header. Formulas count by their stored result."""

    def headers(self) -> Iterator[tuple[str, list[str]]]:
        with self._opened() as (names, _):
            yield "", names

    def _chunks(self, wanted: Any) -> Iterator[tuple[Any, int, list[Trouble]]]:
        with self._opened() as (names, lines):
            yield from self._texts(lines, names, wanted(names))

    @contextmanager
    def _opened(self) -> Iterator[tuple[list[str], Iterator[Any]]]:
        """The names of the columns, and the lines below them as shown and as written."""
        openpyxl = needed("openpyxl", "Reading a workbook")
        try:
            shown = openpyxl.load_workbook(self._path, read_only=True, data_only=True)
            written = openpyxl.load_workbook(self._path, read_only=True)
        except Exception as failed:  # openpyxl lets errors of zip and XML through
            raise refused(
                "table.unreadable", f"{self._path} cannot be read as a workbook: {failed}.", hint="Save it as .xlsx again."
            ) from None
        try:
            lines = zip_longest(shown.worksheets[0].iter_rows(), written.worksheets[0].iter_rows(), fillvalue=())
            header = [_text(cell, cell) for cell in next(lines, ((), ()))[0]]
            while header and header[-1] is None:
                header.pop()
            names = _checked_names([name or "" for name in header], self._path)
            if not names:
                raise refused("table.header", f"{self._path}: the first sheet is empty.", hint="Its first line names the columns.")
            yield names, lines
        finally:
            shown.close()
            written.close()

    def _texts(self, lines: Iterator[Any], names: list[str], columns: list[str]) -> Iterator[tuple[Any, int, list[Trouble]]]:
        places = [names.index(name) for name in columns]
        schema = pa.schema([(name, pa.string()) for name in columns])
        first_row = 0
        rows: list[list[str | None]] = []
        for values, formulas in chain(lines, [(None, None)]):
            if values is not None and any(cell.value is not None for cell in chain(values, formulas)):
                rows.append([_text(_at(values, place), _at(formulas, place)) for place in places])
            if rows and (values is None or len(rows) == self._reading.chunk_rows):
                yield pa.record_batch([list(column) for column in zip(*rows, strict=True)], schema=schema), first_row, []
                first_row, rows = first_row + len(rows), []
        if first_row == 0:
            yield _no_rows(columns), 0, []


def _at(cells: Any, place: int) -> Any:
    return cells[place] if place < len(cells) else None


def _text(cell: Any, formula: Any) -> str | None:
    """A cell as text that reads back to the same number; a formula without a stored result shows itself."""
    value = None if cell is None else cell.value
    if value is None:
        return str(formula.value) if formula is not None and formula.value is not None else None
    if hasattr(value, "isoformat"):
        return str(value.isoformat())
    return value if isinstance(value, str) else repr(value)
