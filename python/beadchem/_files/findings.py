"""Findings of a run: one table, whatever they were found by, and what is said of them at the end."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import asdict, dataclass, field
from typing import Any

import pyarrow as pa
import pyarrow.compute as pc

from beadchem._files.pieces import Piece

SCHEMA = pa.schema(
    [
        ("file", pa.string()),
        ("row", pa.uint64()),
        ("bead", pa.string()),
        ("code", pa.string()),
        ("severity", pa.string()),
        ("quantity", pa.string()),
        ("value", pa.float64()),
        ("bound", pa.float64()),
        ("reason", pa.string()),
    ]
)
REJECTS = ["row", "bead", "code", "quantity", "value", "bound", "reason"]
"""Columns of a rejects file; for a folder `file` stands before them."""
_FIRST_ROWS = 5


@dataclass
class Tally:
    """What a run found: rows, rows that could not be corrected, those rows by the code of each Error, the first few, what is said
    of all rows at once, and how many rows each Warning is about."""

    rows: int = 0
    refused_rows: int = 0
    codes: dict[str, int] = field(default_factory=dict)
    first: list[dict[str, Any]] = field(default_factory=list)
    notes: list[str] = field(default_factory=list)
    warnings: dict[str, int] = field(default_factory=dict)

    def add(self, findings: Any) -> None:
        """Counts a batch of findings in the order of rows; all findings of one row must come in one batch."""
        errors = errors_only(findings)
        _count(self.warnings, findings.filter(pc.equal(findings.column("severity"), "warning")))
        _count(self.codes, errors)
        self.refused_rows += _distinct(errors, "file", "row").num_rows
        for found in errors.slice(0, 64).to_pylist() if len(self.first) < _FIRST_ROWS else []:
            known = {(one["file"], one["row"]) for one in self.first}
            if (found["file"], found["row"]) not in known and len(self.first) < _FIRST_ROWS:
                self.first.append({name: found[name] for name in ("file", "row", "bead", "code", "reason")})

    def as_record(self) -> dict[str, Any]:
        """As the journal keeps it."""
        return asdict(self)


def _distinct(findings: Any, *names: str) -> Any:
    rows = pa.table([findings.column(name) for name in names], names=list(names))
    return rows.group_by(list(names)).aggregate([])


def _count(counts: dict[str, int], findings: Any) -> None:
    """Adds how many rows each code is about."""
    for count in pc.value_counts(_distinct(findings, "file", "row", "code").column("code")).to_pylist():
        counts[count["values"]] = counts.get(count["values"], 0) + count["counts"]


def errors_only(findings: Any) -> Any:
    """The findings of severity Error."""
    return findings.filter(pc.equal(findings.column("severity"), "error"))


def unified(found: Iterable[Any], piece: Piece, id_column: str | None, file: str) -> Any:
    """What the correction found and what was wrong with the rows as read, as one batch in the order of rows."""
    tables = [_of_troubles(piece)]
    for batch in found:
        columns = {name: batch.column(name) for name in batch.schema.names if name in SCHEMA.names}
        tables.append(
            pa.table({one.name: _plain(columns.get(one.name), one.type, batch.num_rows) for one in SCHEMA}, schema=SCHEMA)
        )
    if piece.troubles:
        tables[1:] = [_beside_troubles(table, piece) for table in tables[1:]]
    table = pa.concat_tables(tables)
    if table.num_rows == 0:
        return SCHEMA.empty_table()
    table = table.take(pc.sort_indices(table.column("row")))
    places = pc.subtract(pc.cast(table.column("row"), pa.int64()), piece.first_row)
    beads = pa.nulls(table.num_rows, pa.string())
    if id_column in piece.batch.schema.names:
        beads = pc.cast(piece.batch.column(id_column), pa.string()).take(places)
    table = table.set_column(SCHEMA.get_field_index("bead"), "bead", beads)
    files = pa.nulls(table.num_rows, pa.string()) if not file else pa.repeat(file, table.num_rows)
    return table.set_column(SCHEMA.get_field_index("file"), "file", files).cast(SCHEMA)


def _beside_troubles(found: Any, piece: Piece) -> Any:
    """What else is to be said: of a row without results no warning about them, of a line without cells nothing."""
    unsplit = {one.row for one in piece.troubles if one.code == "shape.mismatch"}
    rows = [pa.array([piece.first_row + row for row in some], pa.uint64()) for some in (unsplit, {one.row for one in piece.troubles})]
    of_unsplit, of_any = (pc.is_in(found.column("row"), value_set=some) for some in rows)
    warned = pc.and_(of_any, pc.not_equal(found.column("severity"), "error"))
    return found.filter(pc.invert(pc.or_(of_unsplit, warned)))


def _of_troubles(piece: Piece) -> Any:
    return pa.Table.from_pylist(
        [
            {
                "row": piece.first_row + trouble.row,
                "code": trouble.code,
                "severity": "error",
                "quantity": trouble.quantity,
                "reason": trouble.reason,
            }
            for trouble in piece.troubles
        ],
        schema=SCHEMA,
    )


def _plain(column: Any, kind: Any, rows: int) -> Any:
    if column is None:
        return pa.nulls(rows, kind)
    cast = pc.cast(column, kind)
    return pc.if_else(pc.is_nan(cast), None, cast) if pa.types.is_floating(kind) else cast


def with_troubles(batch: Any, piece: Piece) -> Any:
    """Puts what was wrong with a row as read into its columns `finding` and `reason`, for that came first, and takes its numbers."""
    said = {trouble.row: trouble for trouble in reversed(piece.troubles)}
    if said:
        sound = pa.array([row not in said for row in range(batch.num_rows)])
        kept = 0  # columns handed on come first
        while batch.schema.names[kept] in piece.written.schema.names:
            kept += 1
        for place, kind in list(enumerate(batch.schema))[kept:]:
            if kind.name not in ("finding", "reason"):
                nothing = pa.scalar(None, kind.type)
                batch = batch.set_column(place, kind, pc.if_else(sound, batch.column(place), nothing))
    for name, text in (("finding", "code"), ("reason", "reason")):
        place = batch.schema.get_field_index(name)
        if said and place >= 0:
            cells = batch.column(place).to_pylist()
            for row, trouble in said.items():
                cells[row] = getattr(trouble, text)
            kind = batch.schema.field(place)
            batch = batch.set_column(place, kind, pa.array(cells, kind.type))
    return batch
