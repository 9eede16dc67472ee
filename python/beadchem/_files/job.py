"""A run over a file or folder: part by part, each finished part kept, the target put in place at the end."""

from __future__ import annotations

import shutil
from collections.abc import Callable, Iterable, Iterator
from dataclasses import dataclass, field
from itertools import chain
from pathlib import Path
from typing import TYPE_CHECKING, Any

import pyarrow as pa
import pyarrow.compute as pc

from beadchem import BeadchemError, __version__
from beadchem._files import durable, faults, journal
from beadchem._files.findings import REJECTS, SCHEMA, Tally, errors_only, unified, with_troubles
from beadchem._files.pieces import Piece, rechunk, schema_of, streamed
from beadchem._files.refusal import of_file, refused
from beadchem._files.sources import Part, Source
from beadchem._files.targets import check_replaced, check_schema, open_writer
from beadchem._notes import OF_ALL_PARTS, Gathered, coded

if TYPE_CHECKING:
    from beadchem import Finding

_RELEASE_EVERY = 16


@dataclass(frozen=True)
class Step:
    """What is done to every batch.

    `run` takes a piece and the doubled ids among its rows, and gives the batch of results, the batches of findings and what is
    said of all rows at once; `what` says all that the results depend on, for the journal.
    """

    run: Callable[[Piece, set[str]], tuple[Any, Iterator[Any], list[Finding]]]
    what: dict[str, Any]
    id_column: str | None = None


@dataclass(frozen=True)
class Order:
    """What a run is to write, and how."""

    target: Path
    rejects: Path | None = None
    findings: Path | None = None
    compression: str = "zstd"
    row_group_rows: int = 65_536
    part_rows: int = 1_048_576
    overwrite: bool = False
    restart: bool = False
    progress: Callable[[int, int | None], object] | None = None

    @property
    def lists(self) -> list[Path]:
        """The files of findings that are asked for."""
        return [path for path in (self.rejects, self.findings) if path is not None]


@dataclass
class Run:
    """One run: `go` does it."""

    step: Step
    source: Source
    order: Order
    doubled: Callable[[Path], Any] | None
    _done_rows: int = field(default=0, init=False)
    _doubled_ids: Any = field(default=None, init=False)

    @property
    def folder(self) -> Path:
        """Where parts and journal stand while the run is unfinished."""
        return durable.work_folder(self.order.target)

    def go(self) -> tuple[Tally, int]:
        """Runs, or continues an interrupted run; what was found, and how many parts stood already."""
        target = self.order.target
        if not self.folder.exists():
            self._refuse_what_stands()
        self.folder.mkdir(exist_ok=True)
        with durable.sole_user(self.folder, target):
            log = self._opened()
            stood = len(log.done)
            try:
                if log.summary is None:
                    stood = self._parts(log)
                    summary = self._join(log).as_record()
                    log.complete(summary, durable.digest(self._made) if self._made.is_file() else None)
            except Exception as failed:
                # what is refused would be refused again; what cannot be read now may be read later
                if not log.done or (isinstance(failed, BeadchemError) and failed.code != "table.unreadable"):
                    self._clear()
                raise
            self._place_target()
            self._clear()
        return Tally(**(log.summary or {})), stood

    def _opened(self) -> journal.Journal:
        """The journal; where it is refused, a folder that a killed run had emptied already is taken away."""
        try:
            return self._journal()
        except BeadchemError:
            if not any(self.folder.iterdir()):
                self.folder.rmdir()
            raise

    def _journal(self) -> journal.Journal:
        path = self.folder / "journal"
        heading = self._heading()
        if not self.order.restart and path.exists() and journal.has_parts(path):
            log = journal.resume(path, heading)
            made = self._made.exists()
            if log.summary is not None and not (self._is_made(log) if made else self._is_placed(log)):
                log.summary = None  # the parts are looked at again
            if log.summary is None or made:
                self._refuse_what_stands(lists=False)
            return log
        self._refuse_what_stands()
        _empty(self.folder)
        return journal.begin(path, heading)

    def _heading(self) -> dict[str, Any]:
        order = self.order
        return {
            "version": __version__,
            **self.step.what,
            "compression": order.compression,
            "row groups of": order.row_group_rows,
            "parts of": order.part_rows,
            "lists": [str(path) for path in order.lists],
            "source": self.source.identity(),
        }

    def _refuse_what_stands(self, lists: bool = True) -> None:
        if self.order.overwrite:
            if self.order.target.is_dir():
                check_replaced(self.order.target)
            return
        for path in (self.order.target, *(self.order.lists if lists else ())):
            if path.exists() and not (path.is_dir() and not any(path.iterdir())):
                raise refused(
                    "file.exists",
                    f"{path} stands there already.",
                    hint="Choose another name, or say --overwrite (overwrite=True).",
                )

    def _parts(self, log: journal.Journal) -> int:
        """Corrects the parts that are not finished; gives how many were."""
        finished = {number for number, record in log.done.items() if self._stand(record)}
        self._done_rows = sum(log.done[number]["rows"] for number in finished)
        for part in self.source.parts(finished):
            if part.number not in finished:
                if self._doubled_ids is None and self.doubled is not None:
                    self._doubled_ids = self.doubled(self.folder)
                with of_file(part.file):
                    record = self._part(part)
                log.part(part.number, record)
        return len(finished)

    def _stand(self, record: dict[str, Any]) -> bool:
        """Whether the files of a finished part are what was written."""
        files = ((self.folder / name, digest) for name, digest in record["files"].items())
        return all(path.is_file() and durable.digest(path) == digest for path, digest in files)

    def _is_made(self, log: journal.Journal) -> bool:
        """Whether the result that lacks nothing but its name is what was written."""
        if self._made.is_dir():
            return all(map(self._stand, log.done.values()))
        return durable.digest(self._made) == log.made

    def _is_placed(self, log: journal.Journal) -> bool:
        """Whether what stands under the name of the target is the result."""
        target = self.order.target
        if not self.source.is_folder:
            return target.is_file() and durable.digest(target) == log.made
        made = {name.removeprefix("parts/"): digest for one in log.done.values() for name, digest in one["files"].items() if "/" in name}
        return all((target / name).is_file() and durable.digest(target / name) == digest for name, digest in made.items())

    def _part(self, part: Part) -> dict[str, Any]:
        """Corrects one part; its two files stand under their names when this returns."""
        results = self.folder / ("parts" if part.file else "") / (part.file or f"part-{part.number:06}.arrow")
        found = self.folder / f"findings-{part.number:06}.arrow"
        results.parent.mkdir(parents=True, exist_ok=True)
        rows = 0
        notes = Gathered()

        def corrected(findings: Any) -> Iterator[Any]:
            nonlocal rows
            for piece in part.pieces():
                batch, said, of_all = self._corrected(piece, part.file)
                notes.add(coded(of_all), batch.num_rows)
                if said.num_rows:
                    findings.write(said.combine_chunks().to_batches()[0])
                rows += batch.num_rows
                self._progress(batch.num_rows)
                yield batch

        working = durable.working_name(found)
        findings = open_writer(working, found.name, SCHEMA, "none")
        try:
            batches = corrected(findings)
            first = next(batches)
            check_schema(self.order.target.name, first.schema)
            self._write(first.schema, chain([first], batches), results, results.name)
        finally:
            findings.close()
        durable.place(working, found)
        files = {path.relative_to(self.folder).as_posix(): durable.digest(path) for path in (results, found)}
        return {"rows": rows, "files": files, "notes": notes.notes, "file": part.file}

    def _corrected(self, piece: Piece, file: str) -> tuple[Any, Any, list[Finding]]:
        step = self.step
        doubled: set[str] = set()
        if self._doubled_ids is not None and step.id_column in piece.batch.schema.names:
            doubled = _among(piece.batch.column(step.id_column), self._doubled_ids)
        batch, found, notes = step.run(piece, doubled)
        return with_troubles(batch, piece), unified(found, piece, step.id_column, file), notes

    def _write(self, schema: Any, batches: Iterable[Any], final: Path, kind: str) -> None:
        """Writes batches as a file of the kind that the name `kind` says, then gives it its final name."""
        working = durable.working_name(final)
        self._fill(schema, batches, working, kind)
        durable.place(working, final)

    def _fill(self, schema: Any, batches: Iterable[Any], working: Path, kind: str) -> None:
        writer = open_writer(working, kind, schema, self.order.compression)
        try:
            for number, batch in enumerate(rechunk(batches, self.order.row_group_rows)):
                writer.write(batch)
                if number % _RELEASE_EVERY == 0:
                    pa.default_memory_pool().release_unused()
        finally:
            writer.close()

    def _progress(self, rows: int) -> None:
        self._done_rows += rows
        if self.order.progress is not None:
            self.order.progress(self._done_rows, self.source.rows)

    def _join(self, log: journal.Journal) -> Tally:
        """Makes the lists of findings and the target ready, all but their names."""
        numbers = sorted(log.done)
        findings = [self.folder / f"findings-{number:06}.arrow" for number in numbers]
        tally = Tally(rows=sum(log.done[number]["rows"] for number in numbers), notes=_notes(log))
        for batch in streamed(findings):
            tally.add(batch)
        if self.order.rejects is not None:
            self._list(map(errors_only, streamed(findings)), REJECTS, self.order.rejects)
        if self.order.findings is not None:
            self._list(streamed(findings), [name for name in SCHEMA.names if name != "file"], self.order.findings)
        if not self.source.is_folder:
            parts = [self.folder / f"part-{number:06}.arrow" for number in numbers]
            self._write(schema_of(parts[0]), streamed(parts), self._made, self.order.target.name)
        return tally

    def _list(self, found: Iterator[Any], columns: list[str], path: Path) -> None:
        chosen = ["file", *columns] if self.source.is_folder else columns
        schema = pa.schema([SCHEMA.field(name) for name in chosen])
        working = durable.working_name(path)
        self._fill(schema, (batch.select(chosen) for batch in found), working, path.name)
        durable.sync_file(working)

    @property
    def _made(self) -> Path:
        """The whole result before it has its final name."""
        return self.folder / ("parts" if self.source.is_folder else "joined")

    def _place_target(self) -> None:
        """Gives lists and result their names: file or folder, each appears whole or not at all. Done already where nothing is left."""
        for path in self.order.lists:
            if durable.working_name(path).exists():
                durable.rename(durable.working_name(path), path)
        made, target = self._made, self.order.target
        if not made.exists():
            return
        if made.is_dir():
            for folder in [*(path for path in made.rglob("*") if path.is_dir()), made]:
                durable.sync_folder(folder)
            if target.is_dir():
                check_replaced(target)
                durable.rename(target, self.folder / "replaced")
        durable.rename(made, target)

    def _clear(self) -> None:
        """Takes the work folder away, the journal last: until then a run that is repeated knows that all is done."""
        _empty(self.folder, but="journal")
        faults.point("parts removed")
        (self.folder / "journal").unlink()
        self.folder.rmdir()


def _notes(log: journal.Journal) -> list[str]:
    """What is said of many rows at once; of a folder with the files it is said of, where that is not all of them."""
    gathered = Gathered()
    files: dict[tuple[str, str], list[str]] = {}
    for _, record in sorted(log.done.items()):
        notes = [(code, text) for code, text in record["notes"]]
        gathered.add(notes, record["rows"])
        for note in notes:
            files.setdefault(note, []).append(record["file"])

    def said(note: tuple[str, str]) -> str:
        where = files[note]
        if note[0] in OF_ALL_PARTS or len(where) == len(log.done) or not where[0]:
            return note[1]
        others = f" and {len(where) - 1} more of {len(log.done)} files" if len(where) > 1 else ""
        return f"In {where[0]}{others}: {note[1]}"

    return [said(note) for note in gathered.notes]


def _among(ids: Any, doubled: Any) -> set[str]:
    if len(doubled) == 0:
        return set()
    texts = pc.cast(ids, pa.string())
    return set(pc.unique(texts.filter(pc.is_in(texts, value_set=doubled))).to_pylist())


def _empty(folder: Path, but: str = "") -> None:
    """Takes away what is in a folder, a journal first: what it speaks of is going."""
    for path in sorted(folder.iterdir(), key=lambda path: path.name != "journal"):
        if path.name == but:
            continue
        if path.is_dir() and not path.is_symlink():
            shutil.rmtree(path)
        else:
            path.unlink()
