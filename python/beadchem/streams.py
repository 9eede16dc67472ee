"""Corrections over streams and files of any length, in constant memory.

`stream` corrects record batches on their way, `reader` gives the same as an Arrow reader, `mapper` is what the workers of
a cluster run, and `correct_file` goes from file to file and can be killed at any moment without loss. Needs pyarrow.
"""

from __future__ import annotations

from collections.abc import Callable, Collection, Iterator, Sequence
from dataclasses import dataclass, field
from itertools import chain
from os import PathLike
from pathlib import Path
from typing import TYPE_CHECKING, Any, Protocol

from beadchem import _asked, _headers
from beadchem._files.outcome import Outcome, Refused, open_file, run_file
from beadchem._files.refusal import needed, refused
from beadchem._notes import Told

if TYPE_CHECKING:
    from beadchem import Finding
    from beadchem._files.job import Step
    from beadchem._files.pieces import Piece

__all__ = [
    "CHUNK_ROWS",
    "Correction",
    "Field",
    "Mapper",
    "Outcome",
    "Refused",
    "correct_file",
    "doubled_ids",
    "mapper",
    "reader",
    "stream",
]

CHUNK_ROWS = 65_536
"""Rows that are corrected together unless another number is asked for."""
PART_ROWS = 1_048_576
"""Rows after which a run keeps what it has, unless another number is asked for."""

Progress = Callable[[int, "int | None"], object]


class Field(Protocol):
    """A declared column: its name, what it stands for, and its unit, which is empty for words."""

    @property
    def name(self) -> str: ...
    @property
    def quantity(self) -> str: ...
    @property
    def unit(self) -> str: ...


class Correction(Protocol):
    """What this module needs of a correction: `fields` names all columns that it reads, `declared` says what they hold."""

    @property
    def digest(self) -> str: ...
    @property
    def fields(self) -> Sequence[str]: ...
    @property
    def declared(self) -> Sequence[Field]: ...
    def to_json(self) -> str: ...
    def correct_stream(self, source: Any, **options: Any) -> Any: ...


def stream(
    source: Any,
    correction: Correction,
    *,
    chunk_rows: int = CHUNK_ROWS,
    progress: Progress | None = None,
    uncertainty: str = "none",
    threads: int = 1,
    keep: str | Sequence[str] = (),
    doubled: Collection[str] = (),
    first_row: int = 0,
    findings: Callable[[Any], object] | None = None,
) -> Iterator[Any]:
    """The result batches of a stream, `chunk_rows` rows in each but the last, in the order of the source.

    `source` is a `pyarrow.RecordBatchReader`, a dataset or scanner, anything with `__arrow_c_stream__`, or an iterable of
    record batches. A source without rows gives one batch without rows. Only what is being corrected is in memory. The digits do not depend on `chunk_rows` or `threads`.
    `keep` names columns of the source to hand on; `doubled` the bead ids that stand in several rows (see `doubled_ids`),
    which no stream can know while it runs: without it a bead id is not looked at; `findings` is called with each batch of findings, whose `row` counts
    from `first_row`; `progress` with the rows done and with None, since a stream does not say how many it has. What holds of
    many rows at once, as that they have no total, is told once by a warning, a `BeadchemNote`.

    Raises `BeadchemError` where the source cannot be streamed, lacks a column or has one that is only near it; a bad row is a
    finding, never an error.

    >>> for batch in stream(source, correction, uncertainty="variance"):    # doctest: +SKIP
    ...     writer.write_batch(batch)
    """
    needed("pyarrow", "Streaming")
    from beadchem._files.pieces import batches_of

    _asked.called(progress, "progress")
    _asked.called(findings, "findings")
    step = _step(correction, _Options.of(correction, source, uncertainty, threads, keep))
    there, batches = batches_of(source, _asked.count("chunk_rows", chunk_rows))
    return _results(there, batches, step, chunk_rows, _asked.ids(doubled) or frozenset(), first_row, progress, findings)


def reader(
    source: Any,
    correction: Correction,
    *,
    chunk_rows: int = CHUNK_ROWS,
    progress: Progress | None = None,
    uncertainty: str = "none",
    threads: int = 1,
    keep: str | Sequence[str] = (),
    doubled: Collection[str] = (),
    first_row: int = 0,
    findings: Callable[[Any], object] | None = None,
) -> Any:
    """The results of `stream`, which see, as a `pyarrow.RecordBatchReader`.

    Other libraries pull from it and nothing is held: `duckdb.register("results", reader(...))` and `COPY`, or
    `pyarrow.dataset.write_dataset`. Its schema carries the provenance of the results.

    Raises `BeadchemError` as `stream`, and `shape.mismatch` for an iterable without a batch, whose columns are not known.

    >>> connection.register("results", reader(relation.to_arrow_reader(), correction))    # doctest: +SKIP
    """
    pa = needed("pyarrow", "Streaming")
    from beadchem._files.pieces import Piece, batches_of, empty_batch

    _asked.called(progress, "progress")
    _asked.called(findings, "findings")
    step = _step(correction, _Options.of(correction, source, uncertainty, threads, keep))
    there, batches = batches_of(source, _asked.count("chunk_rows", chunk_rows))
    if there is None:
        raise refused(
            "shape.mismatch",
            "The source has no batch, so its columns are not known.",
            quantity="source",
            hint="Give a batch without rows, or a RecordBatchReader.",
        )
    nothing = empty_batch(there)
    schema = step.run(Piece(nothing, first_row, nothing), set())[0].schema
    results = _results(there, batches, step, chunk_rows, _asked.ids(doubled) or frozenset(), first_row, progress, findings)
    return pa.RecordBatchReader.from_batches(schema, results)


def doubled_ids(source: Any, correction: Correction) -> set[str]:
    """The bead ids that stand in several rows of a source as `stream` takes it, which is read to its end.

    Ids are compared whole, over files in a temporary folder; memory does not grow with the rows. Empty where the correction
    knows no column of bead ids, or the source has none.

    Raises `BeadchemError` `bead.doubled` beyond a million: then the column is not the id of a bead.

    >>> twice = doubled_ids(dataset, correction)    # doctest: +SKIP
    >>> results = reader(dataset, correction, doubled=twice)    # doctest: +SKIP
    """
    needed("pyarrow", "Streaming")
    from beadchem._files.ids import doubled_ids as found
    from beadchem._files.pieces import batches_of

    _, batches = batches_of(source, CHUNK_ROWS)
    ids = _Declared.of(correction).ids
    return set(found((batch.column(name) for batch in batches for name in ids if name in batch.schema.names), None).to_pylist())


@dataclass(frozen=True)
class Mapper:
    """A correction as a function from record batches to record batches that travels to other processes.

    It travels as its document, not as the object, and is built again where it runs. See `mapper`.
    """

    kind: type
    document: str
    options: tuple[tuple[str, Any], ...] = ()

    def __call__(self, batches: Any) -> Iterator[Any]:
        """The result batches of an iterable of batches or of one table, words as plain text."""
        from beadchem._files.pieces import with_plain_words

        correction = self.kind.from_json(self.document)  # type: ignore[attr-defined]
        for batch in stream(batches, correction, **dict(self.options)):
            yield batch.cast(with_plain_words(batch.schema))


def mapper(correction: Correction, **options: Any) -> Mapper:
    """What each worker runs over its share of the rows; the digits are those of a single process.

    `options` are `uncertainty`, `threads`, `keep`, `doubled` and `chunk_rows` of `stream`. Rows of findings count from the
    start of a share there, so keep the bead id and read the result columns `finding` and `reason`. Words come as plain text,
    which every engine takes.

    >>> frame.mapInArrow(mapper(correction, keep=["bead"]), schema)    # doctest: +SKIP
    """
    return Mapper(type(correction), correction.to_json(), tuple(sorted(options.items())))


def correct_file(
    correction: Correction,
    source: str | PathLike[str],
    target: str | PathLike[str],
    *,
    uncertainty: str = "none",
    threads: int = 1,
    keep: str | Sequence[str] | None = None,
    rejects: str | PathLike[str] | None = None,
    findings: str | PathLike[str] | None = None,
    check_ids: bool = True,
    chunk_rows: int = CHUNK_ROWS,
    part_rows: int = PART_ROWS,
    row_group_rows: int = CHUNK_ROWS,
    compression: str = "zstd",
    overwrite: bool = False,
    restart: bool = False,
    progress: Progress | None = None,
) -> Outcome:
    """Corrects a file or folder; what stands under the target's name is always whole.

    Source: `.parquet`, `.csv`, `.csv.gz`, the first sheet of an `.xlsx`, or a folder of Parquet files, whose `key=value`
    folders are columns too. Target: `.parquet`, `.csv` or `.csv.gz`; of a folder, a folder with the same files.
    One row comes out per row that came in, in the same order. `keep` names columns to hand on (the bead id unless said
    otherwise, `["*"]` all).
    `rejects` takes the findings of severity Error, `findings` all; both are written as their names say (.csv or .parquet).
    With `check_ids` a bead id that stands in several rows, also of several files, is never used.

    CSV: UTF-8, commas, a decimal point, a header line; an empty cell is null, `""` an empty text. NaN is written as `nan`,
    which is refused where a number is read. Numbers are written in the shortest form that reads back to the same bits. What
    cannot be read in a cell, or a line with too few cells, is a finding of its row, and so is a cell that contradicts the
    name of its folder; empty lines are no rows, lines of delimiters are. Columns to keep are handed on as they were written,
    from CSV and workbooks as text. Parquet keeps the provenance in the schema metadata under `beadchem`; CSV has no place for
    it.

    While it runs, finished parts of about `part_rows` rows and a journal stand in the hidden folder `.NAME.beadchem` beside
    the target. A run that was killed is continued by calling this again with the same arguments, and gives the same values,
    validity and schema as if it had not been. `restart` throws finished parts away.

    Raises `BeadchemError`: `table.unreadable` for a file that is not what its name says, `file.exists` where the target or a
    list stands and `overwrite` is not said, `run.differs` where parts of another correction, source or options stand,
    `run.busy` where another run is at it, and the refusals of the correction. Raises `OSError` where the disk fails.

    >>> correct_file(correction, "year.parquet", "year-corrected.parquet", rejects="rejects.csv").refused_rows   # doctest: +SKIP
    0
    """
    needed("pyarrow", "Correcting files")
    from beadchem._files.job import Order
    from beadchem._files.refusal import of_file
    from beadchem._files.sources import Reading

    order = Order(
        target=Path(target).absolute(),
        rejects=_path(rejects),
        findings=_path(findings),
        compression=compression,
        row_group_rows=_asked.count("row_group_rows", row_group_rows),
        part_rows=_asked.count("part_rows", part_rows),
        overwrite=overwrite,
        restart=restart,
        progress=_asked.called(progress, "progress"),
    )
    options = _Options.of(correction, None, uncertainty, threads, keep or ())
    declared = _Declared.of(correction)
    kept = declared.ids if keep is None else options.keep
    rows = _asked.count("chunk_rows", chunk_rows)
    reading = Reading(rows, order.part_rows, declared.wanted(kept), declared.numbers, declared.names)
    opened = open_file(Path(source), order, reading)
    look = _headers.checked_once(correction, kept)
    for file, names in opened.headers():
        with of_file(file):
            look(names)
    handed_on = tuple(name for name in kept if name not in opened.path_keys)
    options = _Options(uncertainty, options.threads, *(((), handed_on) if keep is None else (handed_on,)))
    step = _step(correction, options, declared, chunk_rows, check_ids)
    return run_file(step, opened, order, check_ids=check_ids)


@dataclass(frozen=True)
class _Options:
    """What results depend on beside the correction, and the number of threads, on which they do not."""

    uncertainty: str
    threads: int
    keep: tuple[str, ...]
    keep_if_there: tuple[str, ...] = ()

    @staticmethod
    def of(correction: Correction, source: Any, uncertainty: str, threads: int, keep: str | Sequence[str]) -> _Options:
        """What is asked for; raises `TypeError` where something else stands in the place of the correction."""
        _asked.a_job(correction, source)
        return _Options(_asked.uncertainty(uncertainty), _asked.threads(threads), _asked.names(keep, "keep"))

    def kept(self, names: list[str], results: list[str]) -> list[str]:
        """The columns to hand on of those that are there."""
        kept = names if "*" in self.keep else [*(name for name in self.keep_if_there if name in names), *self.keep]
        for name in kept:
            if name not in names:
                raise refused("table.header", f"There is no column {name!r} to keep.", hint=f"There are {', '.join(names)}.")
            if name in results:
                raise refused(
                    "table.header", f"The column {name!r} to keep has the name of a result.", hint="Rename it, or leave it out."
                )
        return kept


@dataclass(frozen=True)
class _Declared:
    """The columns a correction reads."""

    names: frozenset[str]
    numbers: frozenset[str]
    ids: tuple[str, ...] = field(default=())

    @staticmethod
    def of(correction: Correction) -> _Declared:
        names = frozenset(correction.fields)
        words = {one.name for one in correction.declared if not one.unit}
        return _Declared(names, names - words, tuple(one.name for one in correction.declared if one.quantity == "bead id"))

    def wanted(self, keep: Sequence[str]) -> Callable[[list[str]], list[str]]:
        """Which columns of a source to read: those of the correction and those to keep."""
        return lambda there: [name for name in there if "*" in keep or name in self.names or name in keep]


def _step(
    correction: Correction, options: _Options, declared: _Declared | None = None, chunk_rows: int = 0, check_ids: bool = False
) -> Step:
    from beadchem._files.job import Step
    from beadchem._files.pieces import one_batch, read_stream, with_columns

    look = _headers.checked_once(correction, (*options.keep, *options.keep_if_there))

    def run(piece: Piece, doubled: set[str]) -> tuple[Any, Iterator[Any], list[Finding]]:
        look(piece.written.schema.names)
        done = correction.correct_stream(
            piece.batch,
            uncertainty=options.uncertainty,
            threads=options.threads,
            first_row=piece.first_row,
            doubled=doubled,  # of the whole stream: left to itself, a correction looks through the rows it is given
        )
        results = one_batch(done.table)
        kept = options.kept(piece.written.schema.names, results.schema.names)
        return with_columns(piece.written, kept, results), read_stream(done.findings), done.notes

    what = {
        "correction": correction.digest,
        "uncertainty": options.uncertainty,
        "columns kept": [*options.keep_if_there, *options.keep],
        "rows at a time": chunk_rows,
        "check of bead ids": check_ids,
    }
    return Step(run, what, declared.ids[0] if declared and declared.ids else None)


def _results(
    there: Any,
    batches: Iterator[Any],
    step: Step,
    chunk_rows: int,
    doubled: frozenset[str],
    row: int,
    progress: Progress | None,
    findings: Callable[[Any], object] | None,
) -> Iterator[Any]:
    """Result batches, one after the other as they are asked for."""
    from beadchem._files.pieces import Piece, empty_batch, rechunk

    chunks = rechunk(batches, chunk_rows)
    first = next(chunks, None)
    if first is None and there is not None:
        first = empty_batch(there)
    done, told = 0, Told()
    for chunk in () if first is None else chain([first], chunks):
        corrected, found, notes = step.run(Piece(chunk, row + done, chunk), set(doubled))
        told.tell(notes, chunk.num_rows, part=True)
        if findings is not None:
            for one in found:
                findings(one)
        done += chunk.num_rows
        if progress is not None:
            progress(done, None)
        yield corrected
    told.close()


def _path(path: str | PathLike[str] | None) -> Path | None:
    return None if path is None else Path(path).absolute()
