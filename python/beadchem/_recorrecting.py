"""Re-correction from file to file: the native one with what a journal needs, and the lines of results that cross a limit."""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass
from pathlib import Path
from typing import Any

from beadchem import Correction, Field, Recorrection, _asked, _made_by


@dataclass(frozen=True)
class Recorrecting:
    """A re-correction in the form that `streams.correct_file` takes."""

    native: Recorrection
    digest: str
    old: Correction

    @staticmethod
    def of(old: Correction, new: Correction, only: Mapping[str, str], limits: _asked.Limits) -> Recorrecting:
        """What `old` gave and `new` would give; raises `BeadchemError` as `Recorrection` does."""
        rows, ends = _asked.rows(only, old), _asked.limits(limits)
        native = Recorrection(old, new, only=rows, limits=ends)
        digest = f"{old.digest} to {new.digest}, only {sorted(rows.items())}, limits {sorted(ends.items())}"
        return Recorrecting(native, digest, old)

    @property
    def declared(self) -> Sequence[Field]:
        """What the columns of a correction hold."""
        return self.old.declared

    @property
    def fields(self) -> list[str]:
        """The columns it reads where they are there."""
        return self.native.fields

    def to_json(self) -> str:
        """What it is known by; it is not stored, the two corrections are."""
        return self.digest

    def correct_stream(self, source: Any, **options: Any) -> Any:
        """As the native one; refuses results that say they were made by another correction than the old one."""
        _made_by.check(source, self.old)
        return self.native.correct_stream(source, **options)


def crossings(findings: Path) -> Iterator[str]:
    """A line for each result that crosses a limit, from a list of findings as a run writes it."""
    import pyarrow as pa
    import pyarrow.compute as pc
    import pyarrow.csv as pacsv
    import pyarrow.parquet as pq

    names = ["file", "row", "bead", "code", "reason"]
    if findings.suffix == ".parquet":
        batches = pq.ParquetFile(findings).iter_batches()
    else:
        batches = pacsv.open_csv(findings, convert_options=pacsv.ConvertOptions(column_types=dict.fromkeys(names, pa.string())))
    for batch in batches:
        for one in batch.filter(pc.equal(batch.column("code"), "limit.crossed")).to_pylist():
            where = f"{one['file']}, " if one.get("file") else ""
            bead = f" (bead {one['bead']})" if one["bead"] else ""
            yield f"{where}row {one['row']}{bead}: {one['reason']}"
