"""Commands that go from file to file. Every refusal is a sentence on stderr and a number, never a traceback.

Exit codes: 0 every row has a result, 3 some rows have none (stderr names them), 2 the command was refused and nothing was
written, 1 the system failed midway (what is finished is kept), 130 stopped by the user (the same).
"""

from __future__ import annotations

import argparse
import sys
from collections.abc import Callable
from pathlib import Path
from typing import Any

from beadchem import BeadchemError, _asked, _compare_command
from beadchem._files.durable import work_folder
from beadchem._out import out
from beadchem._progress import Bar

DONE, FAILED, REFUSED, SOME_ROWS_REFUSED, STOPPED = 0, 1, 2, 3, 130

_EPILOG = """\
IN is a .parquet, .csv, .csv.gz or .xlsx file or a folder of Parquet files; OUT a .parquet, .csv or .csv.gz file, of a
folder a folder. A run that was stopped or killed is continued by the same command. Exit code 0: every row has a result;
3: some rows have none, see the rejects file; 2: refused, nothing was written; 1: the system failed, finished parts are kept.
"""


def add(commands: Any) -> None:
    """Adds the commands of this module to a parser's subcommands; each sets `run`, a function of the parsed arguments."""
    correct = _parser(commands, "correct", "correct a file of readings and weighings")
    correct.add_argument("correction", type=Path, metavar="CORRECTION", help="the stored correction, a JSON document")
    _add_files(correct, "also write all findings (.csv or .parquet)")
    _add_how(correct)
    correct.set_defaults(run=lambda chosen: run(correct_command, chosen))
    recorrect = _parser(commands, "recorrect", "what results would be by another correction, and which cross a limit")
    recorrect.add_argument("old", type=Path, metavar="OLD", help="the stored correction the results were made with")
    recorrect.add_argument("new", type=Path, metavar="NEW", help="the stored correction to compare with")
    _add_files(recorrect, "all findings, .csv or .parquet (default: beside OUT)")
    many: dict[str, Any] = {"action": "append", "default": []}
    recorrect.add_argument("--only", type=_only, metavar="COLUMN=WORD", help="which rows change", **many)
    recorrect.add_argument("--limit", type=_limit, metavar="RESULT=LOW:HIGH", help="in percent; an end may be empty", **many)
    _add_how(recorrect)
    recorrect.set_defaults(run=lambda chosen: run(recorrect_command, chosen))
    _compare_command.add(commands, _limit)


def _parser(commands: Any, name: str, help: str) -> argparse.ArgumentParser:
    layout = argparse.RawDescriptionHelpFormatter
    made: argparse.ArgumentParser = commands.add_parser(name, help=help, epilog=_EPILOG, formatter_class=layout)
    return made


def _add_files(parser: argparse.ArgumentParser, findings: str) -> None:
    """Arguments of every command from file to file."""
    parser.add_argument("source", type=Path, metavar="IN")
    parser.add_argument("target", type=Path, metavar="OUT")
    parser.add_argument("--rejects", type=Path, metavar="FILE", help="rows without a result, and why (default: beside OUT)")
    parser.add_argument("--findings", type=Path, metavar="FILE", help=findings)
    parser.add_argument("--keep", metavar="NAME,...", help="columns to hand on, * for all (default: the bead id)")
    parser.add_argument("--overwrite", action="store_true", help="replace OUT and the lists if they stand")
    parser.add_argument("--restart", action="store_true", help="throw away what an interrupted run has finished")


def _add_how(parser: argparse.ArgumentParser) -> None:
    """How the work is done; no digit of the results depends on this, but for `--uncertainty`."""
    parser.add_argument("--uncertainty", choices=["none", "variance", "covariance"], default="none")
    parser.add_argument("--threads", type=_count, default=1, metavar="N")
    parser.add_argument("--chunk-rows", type=_count, default=65_536, metavar="N", help="rows in memory at a time")
    parser.add_argument("--part-rows", type=_count, default=1_048_576, metavar="N", help="rows after which work is kept")
    parser.add_argument("--compression", default="zstd", metavar="NAME", help="of Parquet (default: zstd)")
    parser.add_argument("--no-check-ids", action="store_true", help="do not look for bead ids that stand in several rows")
    parser.add_argument("--no-progress", action="store_true", help="no progress line on the terminal")


def run(command: Callable[[argparse.Namespace], int], chosen: argparse.Namespace) -> int:
    """Runs a command; what it raises becomes a sentence and an exit code."""
    try:
        return command(chosen)
    except BeadchemError as refusal:
        stays = refusal.code in ("table.unreadable", "file.exists")
        kept = _kept(chosen, "the same command continues once that is mended") if stays else ""
        _say(f"{refusal}{kept}")
        return REFUSED
    except OSError as failed:
        what = f"{failed.filename}: {failed.strerror}" if failed.filename else str(failed)
        _say(f"{what}.{_kept(chosen, 'when the cause is mended, the same command continues')}")
        return FAILED
    except MemoryError:
        _say(f"The memory does not suffice. Try a smaller --chunk-rows.{_kept(chosen, 'they stay until --restart')}")
        return FAILED
    except KeyboardInterrupt:
        _say(f"Stopped.{_kept(chosen, 'the same command continues')}")
        return STOPPED


def _kept(chosen: argparse.Namespace, what: str) -> str:
    """That finished parts are kept, where any are."""
    return f" Finished parts are kept: {what}." if work_folder(chosen.target).exists() else ""


def correct_command(chosen: argparse.Namespace) -> int:
    """`correct CORRECTION IN OUT`."""
    return report(_go(load_correction(chosen.correction), chosen, chosen.findings))


def recorrect_command(chosen: argparse.Namespace) -> int:
    """`recorrect OLD NEW IN OUT`: the results that cross a limit go to stdout, all findings beside OUT."""
    from beadchem._recorrecting import Recorrecting, crossings

    only, limits = _asked.once(chosen.only, "--only"), _asked.once(chosen.limit, "--limit")
    change = Recorrecting.of(load_correction(chosen.old), load_correction(chosen.new), only, limits)
    outcome = _go(change, chosen, chosen.findings or beside(chosen.target, "findings"))
    out(crossings(outcome.findings))
    if limits and "limit.crossed" not in outcome.warnings and outcome.refused_rows < outcome.rows:
        _say("No result crosses a limit.")
    return report(outcome)


def _go(correction: Any, chosen: argparse.Namespace, findings: Path | None) -> Any:
    from beadchem.streams import correct_file

    bar = Bar(sys.stderr) if sys.stderr.isatty() and not chosen.no_progress else None
    try:
        return correct_file(
            correction,
            chosen.source,
            chosen.target,
            uncertainty=chosen.uncertainty,
            threads=chosen.threads,
            keep=None if chosen.keep is None else [name.strip() for name in chosen.keep.split(",") if name.strip()],
            rejects=chosen.rejects or beside(chosen.target, "rejects"),
            findings=findings,
            check_ids=not chosen.no_check_ids,
            chunk_rows=chosen.chunk_rows,
            part_rows=chosen.part_rows,
            compression=chosen.compression,
            overwrite=chosen.overwrite,
            restart=chosen.restart,
            progress=bar,
        )
    finally:
        if bar is not None:
            bar.end()


def load_correction(path: Path) -> Any:
    """The correction stored in a file.

    Raises `BeadchemError` where there is no such file, or it is not the document of a correction.
    """
    from beadchem import _core
    from beadchem._files.refusal import refused

    try:
        text = path.read_text(encoding="utf-8")
    except FileNotFoundError:
        raise refused("document.malformed", f"There is no file {path}.", hint="Name the stored correction.") from None
    except IsADirectoryError:
        raise refused("document.malformed", f"{path} is a folder.", hint="Name the stored correction.") from None
    except UnicodeDecodeError:
        raise refused("document.malformed", f"{path} is not UTF-8 text.", hint="Name the stored correction.") from None
    try:
        return _core.Correction.from_json(text)
    except BeadchemError as why:
        raise refused(why.code, f"{path} cannot be used: {why}", quantity=why.quantity) from None


def beside(target: Path, what: str) -> Path:
    """Where a list stands unless said otherwise: `year.parquet` has `year.rejects.csv` beside it."""
    stem = target.name
    for ending in (".parquet", ".csv.gz", ".csv.zst", ".csv"):
        stem = stem.removesuffix(ending)
    return target.with_name(f"{stem}.{what}.csv")


def report(outcome: Any) -> int:
    """Says on stderr what a run could not do; the exit code."""
    if outcome.parts_kept:
        _say(f"Continued an interrupted run: {outcome.parts_kept} parts stood already.")
    for note in outcome.notes:
        _say(f"Note: {note}")
    if outcome.warnings:
        listed = f"they are listed in {outcome.findings}" if outcome.findings else "--findings FILE lists them"
        _say(f"Warnings, by rows: {_counted(outcome.warnings)}; {listed}.")
    if outcome.refused_rows == 0:
        if sys.stderr.isatty():
            _say(f"{outcome.rows} {'row' if outcome.rows == 1 else 'rows'} in {outcome.target}.")
        return DONE
    rows = "row" if outcome.rows == 1 else "rows"
    has = "has" if outcome.refused_rows == 1 else "have"
    _say(f"{outcome.refused_rows} of {outcome.rows} {rows} {has} no result ({_counted(outcome.codes)}); they are listed in {outcome.rejects}. First:")
    for row in outcome.first:
        where = f"{row.file}, " if row.file else ""
        bead = f" (bead {row.bead})" if row.bead else ""
        _say(f"  {where}row {row.row}{bead}: {row.reason}")
    return SOME_ROWS_REFUSED


def _counted(codes: dict[str, int]) -> str:
    """Codes and how many rows each is about, the most first."""
    return ", ".join(f"{code} {count}" for code, count in sorted(codes.items(), key=lambda one: (-one[1], one[0])))


def _say(text: str) -> None:
    sys.stderr.write(f"{text}\n")


def _count(text: str) -> int:
    try:
        number = int(text)
    except ValueError:
        number = 0
    if not 1 <= number <= _asked.MOST:
        raise argparse.ArgumentTypeError(f"'{text}' is not a whole number from 1 to {_asked.MOST}")
    return number


def _only(text: str) -> tuple[str, str]:
    column, says, word = text.partition("=")
    if not says or not column:
        raise argparse.ArgumentTypeError(f"'{text}' is not COLUMN=WORD, as flux_lot=F-118")
    return column, word


def _limit(text: str) -> tuple[str, tuple[float | None, float | None]]:
    result, _, ends = text.partition("=")
    low, colon, high = ends.partition(":")
    try:
        limits = (float(low) if low else None, float(high) if high else None)
    except ValueError:
        colon = ""
    if not result or not colon:
        raise argparse.ArgumentTypeError(f"'{text}' is not RESULT=LOW:HIGH, as CaO=:30.5")
    return result, limits
