"""Runs to be killed in processes of their own: what the tests of resuming start, and how they compare what is left."""

from __future__ import annotations

import multiprocessing
import os
import signal
import time
from dataclasses import dataclass
from functools import cache
from multiprocessing import forkserver
from pathlib import Path
from typing import Any

import beadchem as bc
import native_case
import pyarrow as pa
import pyarrow.csv as pacsv
import pyarrow.parquet as pq
from beadchem import streams
from beadchem._files import faults
from stream_case import same_to_the_bit

ROWS = 400
SMALL = {"chunk_rows": 100, "part_rows": 200, "row_group_rows": 150, "uncertainty": "variance"}
PLACES = ["file", "folder", "csv"]


@cache
def correction() -> bc.Correction:
    """The correction of these runs."""
    return native_case.correction()


@dataclass(frozen=True)
class Slower:
    """The same correction with a pause before each chunk, so that a run can be killed midway."""

    real: bc.Correction
    pause_s: float

    def __getattr__(self, name: str) -> Any:
        return getattr(self.real, name)

    def correct_stream(self, source: Any, **options: Any) -> Any:
        time.sleep(self.pause_s)
        return self.real.correct_stream(source, **options)


def server() -> Any:
    """A context whose processes start with everything imported, forked from a process that has no threads."""
    context = multiprocessing.get_context("forkserver")
    context.set_forkserver_preload(["pytest", "kill_case", "beadchem._files.ids", "beadchem._files.job"])
    before = os.environ.get("PYTHONPATH")
    os.environ["PYTHONPATH"] = os.pathsep.join([str(Path(__file__).parent), *filter(None, [before])])
    try:
        forkserver.ensure_running()
    finally:
        if before is None:
            del os.environ["PYTHONPATH"]
        else:
            os.environ["PYTHONPATH"] = before
    return context


def source_of(place: str, folder: Path) -> Path:
    table = pa.concat_tables([native_case.beads(ROWS - 5), native_case.beads(5)])  # the last five beads are the first five again
    if place == "csv":
        pacsv.write_csv(table, folder / "in.csv")
        return folder / "in.csv"
    if place == "file":
        pq.write_table(table, folder / "in.parquet", row_group_size=90)
        return folder / "in.parquet"
    for number, start in enumerate(range(0, ROWS, 200)):
        (folder / "in" / f"day={number}").mkdir(parents=True)
        pq.write_table(table.slice(start, 200), folder / "in" / f"day={number}" / "a.parquet")
    return folder / "in"


def target_of(place: str, folder: Path) -> Path:
    return folder / {"file": "out.parquet", "folder": "out", "csv": "out.csv"}[place]


def work(source: Path, folder: Path, place: str, pause_s: float = 0.0) -> streams.Outcome:
    """The run of these tests; every file it ends in is in `folder`."""
    folder.mkdir(exist_ok=True)
    how = Slower(correction(), pause_s)
    return streams.correct_file(how, source, target_of(place, folder), rejects=folder / "rejects.csv", findings=folder / "all.csv", **SMALL)


def killed_at(point: int, source: Path, folder: Path, place: str) -> None:
    """Runs in a process of its own and dies at the numbered point, without a word."""
    passed = 0

    def die(_: str) -> None:
        nonlocal passed
        passed += 1
        if passed == point:
            os.kill(os.getpid(), signal.SIGKILL)

    faults.install(die)
    work(source, folder, place)


def points_of(source: Path, folder: Path, place: str) -> list[str]:
    passed: list[str] = []
    faults.install(passed.append)
    try:
        work(source, folder, place)
    finally:
        faults.install(None)
    return passed


def content(folder: Path) -> dict[str, Any]:
    """Every file that stands under a final name, read to its end; hidden ones are the run's own."""
    found: dict[str, Any] = {}
    for path in sorted(folder.rglob("*")):
        name = path.relative_to(folder)
        if path.is_file() and not any(part.startswith(".") for part in name.parts):
            found[name.as_posix()] = pq.read_table(path, partitioning=None) if path.suffix == ".parquet" else path.read_bytes()
    return found


def same(left: dict[str, Any], right: dict[str, Any]) -> bool:
    return left.keys() == right.keys() and all(
        same_to_the_bit(one, right[name]) if isinstance(one, pa.Table) else one == right[name] for name, one in left.items()
    )


def exit_code(context: Any, function: Any, *arguments: Any) -> int | None:
    """Runs a function in a process and waits for its end."""
    child = context.Process(target=function, args=arguments)
    child.start()
    child.join(60)
    return int(child.exitcode) if child.exitcode is not None else None
