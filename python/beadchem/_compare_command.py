"""`python -m beadchem compare OLD NEW`: two files of results held against each other.

Exit codes: 0 the results are the same within the tolerance, 1 they differ, 2 the command was refused or the system failed.
"""

from __future__ import annotations

import argparse
import sys
from collections.abc import Iterator
from itertools import chain
from pathlib import Path
from typing import Any

from beadchem import BeadchemError, Comparison, _asked
from beadchem._comparing import compared
from beadchem._out import out

SAME, DIFFERENT, REFUSED = 0, 1, 2
_NAMED = 20
"""Rows of one table that are named; `--out` holds all of them."""
_WORDS = frozenset({"bead", "flux_lot", "method_version", "class", "weighed", "finding", "reason"})
"""Columns of a CSV file that are words even where every cell reads as a number."""

_EPILOG = """\
OLD and NEW are .parquet, .csv or .csv.gz files or folders of Parquet files, as `correct` writes them; both are read whole.
Exit code 0: the results are the same within the tolerance; 1: they differ; 2: refused, or the system failed.
"""


def add(commands: Any, limit: Any) -> None:
    """Adds the command to a parser's subcommands."""
    layout = argparse.RawDescriptionHelpFormatter
    parser = commands.add_parser("compare", help="which results of two runs differ, and with what", epilog=_EPILOG, formatter_class=layout)
    parser.add_argument("old", type=Path, metavar="OLD", help="a file of results")
    parser.add_argument("new", type=Path, metavar="NEW", help="the file to hold against it")
    parser.add_argument("--by", metavar="COLUMN", help="join rows by it (default: bead where both have it, else row by row)")
    parser.add_argument("--results", metavar="NAME,...", help="columns to compare (default: all results that both have)")
    parser.add_argument("--tolerance", type=float, default=0.0, metavar="X", help="changes up to this are none (default: 0)")
    parser.add_argument("--limit", type=limit, action="append", default=[], metavar="RESULT=LOW:HIGH", help="name rows that cross it, %%")
    parser.add_argument("--out", type=Path, metavar="FILE", help="write all rows, old and new side by side (.parquet, .csv)")
    parser.add_argument("--overwrite", action="store_true", help="replace FILE if it stands")
    parser.set_defaults(run=_run)


def _run(chosen: argparse.Namespace) -> int:
    try:
        return compare_command(chosen)
    except BeadchemError as refusal:
        return _refused(f"{refusal}")
    except OSError as failed:
        return _refused(f"{failed.filename}: {failed.strerror}." if failed.filename else f"{failed}.")
    except MemoryError:
        return _refused("The memory does not suffice: both files are held in it. Compare them in parts.")


def _refused(text: str) -> int:
    sys.stderr.write(f"{text}\n")
    return REFUSED


def compare_command(chosen: argparse.Namespace) -> int:
    """The summary, the rows that cross a limit and the rows that only one file has go to stdout."""
    if chosen.out is not None:
        _check_out(chosen.out, chosen)
    names = None if chosen.results is None else [name.strip() for name in chosen.results.split(",") if name.strip()]
    found = compared(
        _table(chosen.old, chosen.by),
        _table(chosen.new, chosen.by),
        by=chosen.by,
        results=names,
        tolerance=chosen.tolerance,
        limits=_asked.once(chosen.limit, "--limit"),
    )
    out(chain([repr(found)], _rows(found)))
    if chosen.out is not None:
        _write(found, chosen.out)
    return SAME if found.is_same else DIFFERENT


def _rows(found: Comparison) -> Iterator[str]:
    """A line for each row that crosses a limit, and for the first rows that only one file has."""
    import pyarrow as pa
    import pyarrow.compute as pc

    for row, bead, text in found.crossings:
        yield f"row {row}{f' (bead {bead})' if bead else ''}: {text}"
    said = pa.table(found.findings)
    alone = said.filter(pc.not_equal(pc.cast(said.column("code"), pa.string()), "limit.crossed"))
    for one in alone.slice(0, _NAMED).to_pylist():
        yield f"row {one['row']}: {one['reason']}"
    if alone.num_rows > _NAMED:
        yield f"and {alone.num_rows - _NAMED} more rows without a partner; --out lists all of them"


def _table(path: Path, by: str | None) -> Any:
    """A file of results as an Arrow table."""
    from beadchem._files.refusal import needed, refused

    pa = needed("pyarrow", "Comparing files")
    from beadchem._files.delimited import CsvSource, is_csv

    if not path.exists():
        raise refused("table.unreadable", f"There is no file {path}.", hint="Is the name right?")
    if path.is_dir() or path.suffix == ".parquet":
        import pyarrow.parquet as pq

        try:
            return pq.read_table(path)
        except pa.ArrowException as failed:
            what = str(failed).splitlines()[0].rstrip(".")
            raise refused("table.unreadable", f"{path} cannot be read as Parquet: {what}.", hint="Was it written to its end?") from None
    if is_csv(path):
        return _csv(CsvSource(path, _reading()), by)
    hint = "Names end in .parquet, .csv or .csv.gz, or it is a folder of Parquet files."
    raise refused("file.name", f"{path.name}: what kind of file this is cannot be told from its name.", hint=hint)


def _reading() -> Any:
    from beadchem._files.sources import Reading
    from beadchem.streams import CHUNK_ROWS

    return Reading(CHUNK_ROWS, CHUNK_ROWS, lambda there: there, frozenset())


def _csv(source: Any, by: str | None) -> Any:
    """All rows of a CSV file; a column is numbers where every cell of it is one."""
    import pyarrow as pa
    from beadchem._files.pieces import joined
    from beadchem._files.refusal import refused
    from beadchem._files.texts import with_numbers

    batches = []
    for part in source.parts(()):
        for piece in part.pieces():
            if piece.troubles:
                raise refused("shape.mismatch", piece.troubles[0].reason, hint="Mend the file.")
            batches.append(piece.batch)
    whole = joined(batches)
    return pa.Table.from_batches([with_numbers(whole, frozenset(whole.schema.names) - _WORDS - {by})])


def _check_out(path: Path, chosen: argparse.Namespace) -> None:
    from beadchem._files.refusal import needed, refused

    needed("pyarrow", "Writing a comparison")
    from beadchem._files.targets import check_file, lies_in

    for source in (chosen.old, chosen.new):
        if lies_in(path, source):
            raise refused("file.name", f"{path} is one of the files to compare.", quantity="target", hint="Choose another name.")
    check_file(path)
    if path.exists() and not chosen.overwrite:
        raise refused("file.exists", f"{path} stands there already.", hint="Choose another name, or say --overwrite.")


def _write(found: Comparison, path: Path) -> None:
    """Writes the rows; the file appears under its name whole or not at all."""
    import pyarrow as pa
    from beadchem._files.durable import place, working_name
    from beadchem._files.pieces import rechunk
    from beadchem._files.targets import open_writer
    from beadchem.streams import CHUNK_ROWS

    table = pa.table(found.table)
    working = working_name(path)
    try:
        writer = open_writer(working, path.name, table.schema, "zstd")
        try:
            for batch in rechunk(table.to_batches(), CHUNK_ROWS):
                writer.write(batch)
        finally:
            writer.close()
        place(working, path)
    finally:
        working.unlink(missing_ok=True)
