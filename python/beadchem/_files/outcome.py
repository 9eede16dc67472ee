"""From an opened source to a target: what every command that goes from file to file ends in, and what it tells."""

from __future__ import annotations

from dataclasses import dataclass, field
from pathlib import Path
from typing import TYPE_CHECKING, Any

if TYPE_CHECKING:
    from beadchem._files.job import Order, Step
    from beadchem._files.sources import Reading, Source


@dataclass(frozen=True)
class Refused:
    """A row that could not be corrected: its file (of a folder), its number from 0, its bead, and why."""

    file: str | None
    row: int
    bead: str | None
    code: str
    reason: str


@dataclass(frozen=True)
class Outcome:
    """What a run did: `rows` came out, in the order they came in; `refused_rows` of them have no result.

    `codes` says how many rows each code kept from a result, `first` names the first few, `parts_kept` how many parts stood
    already from an interrupted run. `notes` say what holds of many rows at once, as that they have no total; `warnings` of how
    many rows each code of a warning is said.
    """

    target: Path
    rows: int
    refused_rows: int
    codes: dict[str, int]
    first: list[Refused]
    notes: list[str]
    parts_kept: int
    rejects: Path | None = None
    findings: Path | None = None
    warnings: dict[str, int] = field(default_factory=dict)


def open_file(path: Path, order: Order, reading: Reading) -> Source:
    """Opens the source and refuses a target that cannot be, before anything is computed.

    Raises `BeadchemError`: see `open_source` and `check_target`.
    """
    from beadchem._files.sources import open_source
    from beadchem._files.targets import check_lists, check_target

    check_target(order.target, path.absolute(), compression=order.compression)
    check_lists(order.lists, order.target, path.absolute())
    return open_source(path, reading)


def run_file(step: Step, source: Source, order: Order, *, check_ids: bool) -> Outcome:
    """Runs a step over a source; with `check_ids` it is told which of its rows have a bead id that stands in several."""
    from beadchem._files.ids import doubled_ids
    from beadchem._files.job import Run

    id_column = step.id_column

    def doubled(folder: Path) -> Any:
        return doubled_ids(source.column(id_column or ""), source.rows, folder)

    tally, kept = Run(step, source, order, doubled if check_ids and id_column else None).go()
    first = [Refused(**one) for one in tally.first]
    notes = [*source.notes, *tally.notes]
    return Outcome(
        order.target, tally.rows, tally.refused_rows, tally.codes, first, notes, kept, order.rejects, order.findings,
        tally.warnings,
    )
