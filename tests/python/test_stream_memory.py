"""Memory of a run from Parquet to Parquet: bounded, and the same for ten times the rows."""

from __future__ import annotations

import json
import subprocess
import sys
from pathlib import Path

import pytest

pa = pytest.importorskip("pyarrow")
psutil = pytest.importorskip("psutil")

import pyarrow.csv as pacsv  # noqa: E402
import pyarrow.parquet as pq  # noqa: E402
import native_case as case  # noqa: E402

MOST_MB = 256.0
"""Peak of resident memory over that after the imports."""
SPREAD = 0.10
"""How far the peaks of one and ten million rows may lie apart: what an allocator keeps differs from run to run."""
BLOCK_ROWS = 100_000

CHILD = """
import json, sys, threading, time
sys.path.insert(0, sys.argv[1])
import psutil, native_case, pyarrow.parquet, pyarrow.csv
from beadchem import streams
from beadchem._files import ids, job, parquet
process = psutil.Process()
before, peak, over = process.memory_info().rss, 0, False
def watch():
    global peak
    while not over:
        peak = max(peak, process.memory_info().rss)
        time.sleep(0.005)
watching = threading.Thread(target=watch)
watching.start()
start = time.monotonic()
outcome = streams.correct_file(native_case.correction(), sys.argv[2], sys.argv[3], uncertainty="variance")
seconds = time.monotonic() - start
over = True
watching.join()
print(json.dumps({"rows": outcome.rows, "mb": (peak - before) / 2**20, "seconds": seconds}))
"""


def peak_mb(folder: Path, rows: int, kind: str = "parquet") -> float:
    """Writes `rows` beads, corrects them in a process of its own, and gives its peak over its imports, in MB."""
    source, target = folder / f"in-{rows}.{kind}", folder / f"out-{rows}.parquet"
    with (pq.ParquetWriter if kind == "parquet" else pacsv.CSVWriter)(source, case.beads(0).schema) as writer:
        for first in range(0, rows, BLOCK_ROWS):
            writer.write_table(case.beads(min(BLOCK_ROWS, rows - first), first=first))
    done = subprocess.run(
        [sys.executable, "-c", CHILD, str(Path(__file__).parent), str(source), str(target)], capture_output=True, text=True
    )
    assert done.returncode == 0, done.stderr
    measured = json.loads(done.stdout)
    assert measured["rows"] == rows == pq.read_metadata(target).num_rows
    print(f"{rows} rows of {kind}: {measured['mb']:.0f} MB over the imports, {measured['seconds']:.1f} s")
    source.unlink()
    target.unlink()
    return float(measured["mb"])


@pytest.mark.parametrize("kind", ["parquet", "csv"])
def test_a_hundred_thousand_rows_stay_within_the_bound(tmp_path: Path, kind: str) -> None:
    assert 0 < peak_mb(tmp_path, 100_000, kind) <= MOST_MB


@pytest.mark.long
@pytest.mark.parametrize("kind", ["parquet", "csv"])
def test_ten_million_rows_take_no_more_than_one(tmp_path: Path, kind: str) -> None:
    one, ten = peak_mb(tmp_path, 1_000_000, kind), peak_mb(tmp_path, 10_000_000, kind)
    assert ten <= MOST_MB
    assert abs(ten - one) <= SPREAD * max(one, ten)
