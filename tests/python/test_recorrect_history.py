"""A year of stored results held against another loss of one flux lot: the certificates that cross a limit, by the command."""

from __future__ import annotations

import contextlib
import re
import subprocess
import sys
import time
from pathlib import Path
from typing import Any

import numpy as np
import pytest

pa = pytest.importorskip("pyarrow")
psutil = pytest.importorskip("psutil")

import beadchem as bc  # noqa: E402
import native_case as case  # noqa: E402
import pyarrow.parquet as pq  # noqa: E402
from beadchem import streams  # noqa: E402

pytestmark = pytest.mark.filterwarnings("ignore::beadchem.BeadchemNote")  # most of these tables have no loss on ignition, so no total

BLOCK_ROWS = 100_000
WRONG_LOT, RIGHT_LOSS = "F-121", bc.value(0.9, u=0.03)
SPECIES, HIGH = "CaO", 30.0
MOST_MB = 400.0
"""Peak of resident memory of the whole command, libraries included."""


def stored(folder: Path, rows: int, old: bc.Correction) -> Path:
    """Results as they were stored, each beside what it was measured from."""
    raw, history = folder / "raw.parquet", folder / "history.parquet"
    with pq.ParquetWriter(raw, case.beads(0).schema) as writer:
        for first in range(0, rows, BLOCK_ROWS):
            writer.write_table(case.beads(min(BLOCK_ROWS, rows - first), first=first))
    streams.correct_file(old, raw, history, keep=["*"])
    return history


def run(command: list[str], folder: Path) -> tuple[subprocess.CompletedProcess[str], float, float]:
    """Runs a command; beside what it printed the seconds it took and its peak of resident memory in MB."""
    start, peak = time.monotonic(), 0
    with (folder / "printed").open("w+", encoding="utf-8") as printed, (folder / "said").open("w+", encoding="utf-8") as said:
        child = psutil.Popen(command, cwd=folder, stdout=printed, stderr=said)
        while child.poll() is None:
            with contextlib.suppress(psutil.NoSuchProcess):
                peak = max(peak, child.memory_info().rss)
            time.sleep(0.005)
        seconds = time.monotonic() - start
        texts = [file.seek(0) or file.read() for file in (printed, said)]
    return subprocess.CompletedProcess(command, child.returncode, *texts), seconds, peak / 2**20


def bits(numbers: Any) -> Any:
    """Numbers by their bits, null as one pattern of its own."""
    column = numbers.combine_chunks() if isinstance(numbers, pa.ChunkedArray) else numbers
    return np.where(column.is_null().to_numpy(zero_copy_only=False), 1, column.fill_null(0.0).to_numpy().view(np.uint64))


def recomputed(folder: Path, correction: bc.Correction) -> Any:
    """Lime of every bead, from the raw numbers alone."""
    batches = streams.stream(pq.ParquetFile(folder / "raw.parquet").iter_batches(), correction)
    return pa.chunked_array([batch.column(f"{SPECIES}_percent") for batch in batches])


@pytest.mark.parametrize("rows", [3_000, pytest.param(1_000_000, marks=pytest.mark.long)])
def test_certificates_that_cross_a_limit_are_printed_and_are_those_recomputed_from_raw(tmp_path: Path, rows: int) -> None:
    old = case.correction()
    new = old.with_flux_loss(WRONG_LOT, RIGHT_LOSS)
    history = stored(tmp_path, rows, old)
    (tmp_path / "old.json").write_text(old.to_json(), encoding="utf-8")
    (tmp_path / "new.json").write_text(new.to_json(), encoding="utf-8")
    command = [sys.executable, "-m", "beadchem", "recorrect", "old.json", "new.json", history.name, "change.parquet"]
    done, seconds, peak_mb = run([*command, "--only", f"flux_lot={WRONG_LOT}", "--limit", f"{SPECIES}=:{HIGH}"], tmp_path)
    assert done.returncode == 3, done.stderr
    change = pq.read_table(tmp_path / "change.parquet", columns=["bead", f"{SPECIES}_percent_old", f"{SPECIES}_percent_new"])
    lots = pq.read_table(tmp_path / "raw.parquet", columns=["flux_lot"])["flux_lot"]
    of_lot = np.array(lots.to_pylist()) == WRONG_LOT
    before, after = bits(recomputed(tmp_path, old)), bits(recomputed(tmp_path, new))
    after = np.where(of_lot, after, before)
    assert np.array_equal(bits(change[f"{SPECIES}_percent_old"]), before)
    assert np.array_equal(bits(change[f"{SPECIES}_percent_new"]), after)
    above = [numbers.view(np.float64) > HIGH for numbers in (before, after)]
    crossed = np.flatnonzero(above[0] != above[1])
    beads = change["bead"].to_pylist()
    printed = [line.split(": CaO was ")[0] for line in done.stdout.splitlines()]
    assert printed == [f"row {row} (bead {beads[row]})" for row in crossed] and len(crossed) > rows // 100
    assert re.search(rf"limit\.crossed {len(crossed)}[,;]", done.stderr) and "they are listed in" in done.stderr
    print(f"{rows} rows, {len(crossed)} certificates named: {seconds:.1f} s, {peak_mb:.0f} MB")
    assert peak_mb <= MOST_MB
