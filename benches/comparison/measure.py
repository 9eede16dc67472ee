"""Times, memory and limits of the machine."""

from __future__ import annotations

import gc
import math
import statistics
import time
from collections.abc import Callable
from dataclasses import dataclass
from pathlib import Path
from typing import Any

import numpy as np

COPIED_MB = 320
PRODUCT_SIZE = 1024
LIMIT_REPEATS = 5
WARM_ROWS = 5000


@dataclass(frozen=True)
class Times:
    """Medians, nanoseconds per row."""

    cpu: float
    wall: float


@dataclass(frozen=True)
class Twice:
    """First: into memory that the system has just given. Steady: straight after, memory and code warm, into the kept
    result of a contender that can keep one. A library that holds memory gives it back while others have their turn:
    alone in a turn, every run of it would be a first one."""

    first: Times
    steady: Times


Run = Callable[[], Any]


def take_turns(runs: dict[str, tuple[Run, Run]], rows: dict[str, int], repeats: int) -> dict[str, Twice]:
    """Every contender in turn, its first run and its steady one, so many times after a warm-up: medians."""
    spent: dict[str, list[tuple[float, ...]]] = {name: [] for name in runs}
    for turn in range(repeats + 1):
        for name, (first, steady) in runs.items():
            gc.collect()
            taken = *_seconds(first), *_seconds(steady)
            if turn > 0:
                spent[name].append(taken)
    medians = {
        name: [1e9 * statistics.median(each) / rows[name] for each in zip(*times)] for name, times in spent.items()
    }
    return {name: Twice(Times(*found[:2]), Times(*found[2:])) for name, found in medians.items()}


def _seconds(run: Run) -> tuple[float, float]:
    """CPU and wall seconds; the result is let go afterwards."""
    wall, cpu = time.perf_counter(), time.process_time()
    found = run()
    cpu, wall = time.process_time() - cpu, time.perf_counter() - wall
    del found
    return cpu, wall


@dataclass(frozen=True)
class Limits:
    """What this machine can do with one core, measured in this run."""

    bytes_per_ns: float
    flops_per_ns: float

    def fraction(self, bytes_per_row: float, flops_per_row: float, ns_per_row: float) -> float:
        """Least time for memory and arithmetic one after the other, as a part of the time taken."""
        return (bytes_per_row / self.bytes_per_ns + flops_per_row / self.flops_per_ns) / ns_per_row


def limits() -> Limits:
    """Copy: `np.copyto` between two warm arrays far larger than the cache, read and written bytes counted, which the C
    library does with streaming stores. Arithmetic: a product of two large square matrices by the BLAS of numpy, which
    may fuse multiply and add. CPU time; the best of a few, since a limit is what the machine can do."""
    source, target = np.ones(COPIED_MB << 17), np.zeros(COPIED_MB << 17)
    left, right = np.ones((PRODUCT_SIZE, PRODUCT_SIZE)), np.ones((PRODUCT_SIZE, PRODUCT_SIZE))
    product = np.empty((PRODUCT_SIZE, PRODUCT_SIZE))
    copy = _best(lambda: np.copyto(target, source))
    multiply = _best(lambda: np.matmul(left, right, out=product))
    return Limits(2 * source.nbytes / copy, 2 * PRODUCT_SIZE**3 / multiply)


def _best(run: Run) -> float:
    """Least CPU nanoseconds."""
    times = []
    for _ in range(LIMIT_REPEATS):
        start = time.process_time_ns()
        run()
        times.append(time.process_time_ns() - start)
    return min(times[1:])


def exponent(few: tuple[int, float], many: tuple[int, float]) -> float:
    """Of time against rows, from (rows, ns per row) twice."""
    return 1.0 + math.log(many[1] / few[1]) / math.log(many[0] / few[0])


def seconds_per_call(run: Run, calls: int) -> float:
    """CPU seconds, mean over many calls, best of a few."""

    def many() -> None:
        for _ in range(calls):
            run()

    return _best(many) / 1e9 / calls


def peak_bytes(run: Run) -> int | None:
    """Most resident memory during one run beyond what was resident before; none where the system does not tell. The
    system's high-water mark is set back first (`/proc/self/clear_refs`), so that making the table does not count."""
    mark = Path("/proc/self/clear_refs")
    if not mark.exists():
        return None
    gc.collect()
    mark.write_text("5")
    before = _status("VmRSS")
    held = run()
    peak = _status("VmHWM") - before
    del held
    return peak


def _status(field: str) -> int:
    for line in Path("/proc/self/status").read_text().splitlines():
        if line.startswith(field + ":"):
            return int(line.split()[1]) * 1024
    raise SystemExit(f"/proc/self/status has no {field}")
