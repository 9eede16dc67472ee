"""Tables and memory: what is not copied, what is written in place, millions of rows, other threads."""

from __future__ import annotations

import resource
import sys
import threading
import time
from typing import Any

import beadchem as bc
import duckdb
import numpy as np
import pandas as pd
import polars as pl
import pyarrow as pa
import pytest
import table_kinds as tk
from table_kinds import JOB, OTHER_RESULT, RESULT, agree, reference

pytestmark = pytest.mark.filterwarnings("ignore::beadchem.BeadchemNote")  # most of these tables have no loss on ignition, so no total


def address(array: Any) -> int:
    return int(array.buffers()[1].address)


def test_kept_columns_and_numbers_are_not_copied() -> None:
    table = tk.arrow(tk.cells(1000))
    result = bc.correct(table, JOB, keep=["sample_g"])
    assert address(result["sample_g"].chunk(0)) == address(table["sample_g"].chunk(0))
    done = JOB.correct_stream(table)
    first, again = pa.table(done.table), pa.table(done.table)
    assert address(first[RESULT].chunk(0)) == address(again[RESULT].chunk(0))
    frame = pl.DataFrame(done.table)
    assert address(frame[RESULT].to_arrow()) == address(first[RESULT].chunk(0))
    arrays = bc.correct(tk.of_dict(tk.cells(1000)), JOB)
    assert arrays[RESULT].base is arrays[OTHER_RESULT].base is not None


def test_pandas_takes_the_block_as_it_is() -> None:
    result = bc.correct(tk.of_pandas(tk.cells(100)), JOB)
    first, second = (result[name].to_numpy() for name in (RESULT, OTHER_RESULT))
    step = second.__array_interface__["data"][0] - first.__array_interface__["data"][0]
    assert step == first.nbytes  # two columns of one block


def test_out_takes_the_numbers() -> None:
    made = tk.with_states(20)
    names = [name for name in reference(made) if name not in ("finding", "reason")]
    room = np.zeros((len(names), 20))
    for table in (tk.of_dict(made), tk.of_structured(made)):
        room[:] = 0.0
        result = bc.correct(table, JOB, out=room)
        assert np.array_equal(room[names.index(RESULT)], result[RESULT], equal_nan=True) and room.any()
    assert bc.correct(tk.of_dict(made), JOB, out=room)[RESULT].base is room
    wrong: list[Any] = [np.zeros((len(names), 21)), np.zeros((1, 20)), np.zeros(20), np.zeros((len(names), 20), np.float32)]
    wrong += [np.zeros((20, len(names))).T, [1.0]]
    shut = room.copy()
    shut.flags.writeable = False
    for out in (*wrong, shut):
        with pytest.raises(bc.BeadchemError):
            bc.correct(tk.of_dict(made), JOB, out=out)
    with pytest.raises(bc.BeadchemError, match="shares memory"):
        bc.correct(tk.of_dict(made) | {"sample_g": room[0]}, JOB, out=room)
    with pytest.raises(bc.BeadchemError, match="arrays only"):
        bc.correct(tk.arrow(made), JOB, out=room)


def test_strided_and_reversed_arrays_are_read_as_they_are_seen() -> None:
    made = tk.cells(10)
    wide = np.repeat(np.array(made["sample_g"])[::-1], 3)
    table = tk.of_masked(made) | {"flux_g": np.asfortranarray(np.array([made["flux_g"]] * 2))[1]}
    table["sample_g"] = wide[::3][::-1]
    agree(tk.from_arrays(bc.correct(table, JOB)), reference(made))
    table["sample_g"].flags.writeable = False
    agree(tk.from_arrays(bc.correct(table, JOB)), reference(made))


def test_an_index_is_kept_and_categories_are_words() -> None:
    made = tk.with_states(12)
    for make in (tk.of_pandas, tk.of_pandas_nullable, tk.of_pandas_arrow):
        frame = make(made)
        frame["flux_lot"] = frame["flux_lot"].astype("category")
        result = bc.correct(frame, JOB, keep=["flux_lot"])
        pd.testing.assert_index_equal(result.index, frame.index)
        assert result.index.names == ["when", "place"] and result["flux_lot"].dtype == "category"
    kinds = [bc.correct(make(made), JOB).dtypes[RESULT] for make in (tk.of_pandas, tk.of_pandas_nullable, tk.of_pandas_arrow)]
    assert kinds == [np.dtype("float64"), pd.Float64Dtype(), pd.ArrowDtype(pa.float64())]
    again = bc.correct(pa.Table.from_pandas(tk.of_pandas(made), preserve_index=True), JOB, keep=["when", "place"]).to_pandas()
    assert list(again.index.names) == ["when", "place"]


def test_two_columns_of_one_name_are_refused() -> None:
    made = tk.cells(2)
    table = tk.arrow(made)
    frame = tk.of_pandas(made)
    for doubled in (
        table.append_column("sample_g", table["flux_g"]),
        pd.concat([frame, frame[["sample_g"]]], axis=1),
    ):
        with pytest.raises(bc.BeadchemError, match="two columns named sample_g") as refused:
            bc.correct(doubled, JOB)
        assert refused.value.code == "table.column-doubled"


def many(rows: int) -> dict[str, np.ndarray]:
    """Masses and counts of very many beads; no names."""
    draw = np.random.default_rng(5)
    table = {"sample_g": 0.8 + 0.01 * draw.random(rows), "flux_g": 8.0 + 0.1 * draw.random(rows)}
    lines = {"Ca_Ka_cps": 13_500.0, "Mg_Ka_cps": 1_710.0, "Si_Ka_cps": 400.0}
    return table | {name: middle + draw.random(rows) for name, middle in lines.items()}


def test_a_million_rows_in_every_kind() -> None:
    rows = 1_000_000
    table = many(rows)
    expected = bc.correct(table, JOB)[RESULT]
    frame = pl.DataFrame(table)
    assert np.array_equal(bc.correct(frame, JOB)[RESULT].to_numpy(), expected)
    assert np.array_equal(bc.correct(frame.lazy(), JOB).collect(engine="streaming")[RESULT].to_numpy(), expected)
    assert np.array_equal(bc.correct(pa.table(table), JOB)[RESULT].to_numpy(), expected)
    assert np.array_equal(bc.correct(pa.table(table).to_reader(65536), JOB).read_all()[RESULT].to_numpy(), expected)
    assert np.array_equal(bc.correct(pd.DataFrame(table), JOB)[RESULT].to_numpy(), expected)
    arrow = pd.DataFrame(table).astype(pd.ArrowDtype(pa.float64()))
    assert np.array_equal(bc.correct(arrow, JOB)[RESULT].to_numpy(), expected)
    assert np.array_equal(bc.correct(duckdb.from_arrow(pa.table(table)), JOB).fetchnumpy()[RESULT], expected)
    records = np.rec.fromarrays(list(table.values()), names=list(table))
    assert np.array_equal(bc.correct(records, JOB)[RESULT], expected)


@pytest.mark.long
@pytest.mark.parametrize("make", [dict, pl.DataFrame, lambda table: pa.table(table).to_reader(65536)], ids=["dict", "polars", "reader"])
def test_ten_million_rows(make: Any) -> None:
    rows = 10_000_000
    table = many(rows)
    result = bc.correct(make(table), JOB)
    some = [0, 1, 4095, 4096, 5_000_001, rows - 1]
    expected = bc.correct({name: column[some] for name, column in table.items()}, JOB)[RESULT]
    if isinstance(result, pa.RecordBatchReader):
        result = pa.table({RESULT: pa.chunked_array([batch.column(RESULT) for batch in result])})
    assert np.array_equal(np.asarray(result[RESULT])[some], expected) and len(result[RESULT]) == rows


def peak_mb() -> float:
    kib = resource.getrusage(resource.RUSAGE_SELF).ru_maxrss
    return kib / 1024 if sys.platform != "darwin" else kib / 1024**2


def test_a_long_reader_needs_the_memory_of_a_batch() -> None:
    batch = pa.RecordBatch.from_pydict(many(65_536))

    def run(batches: int) -> int:
        source = pa.RecordBatchReader.from_batches(batch.schema, (batch for _ in range(batches)))
        return sum(part.num_rows for part in bc.correct(source, JOB))

    run(5)
    before = peak_mb()
    assert run(100) == 100 * 65_536  # 700 MB of results
    assert peak_mb() - before < 64


def test_other_threads_go_on_meanwhile() -> None:
    tables = [many(1_000_000)]
    tables += [pl.DataFrame(tables[0]), pa.table(tables[0])]
    for table in tables:
        started, done = threading.Event(), threading.Event()

        def work(table: Any = table, started: threading.Event = started, done: threading.Event = done) -> None:
            started.set()
            for _ in range(3):
                bc.correct(table, JOB)
            done.set()

        thread = threading.Thread(target=work)
        thread.start()
        started.wait()
        gap, ticks, last = 0.0, 0, time.perf_counter()
        begun = last
        while not done.is_set():
            time.sleep(0.0005)
            now = time.perf_counter()
            gap, ticks, last = max(gap, now - last), ticks + 1, now
        thread.join()
        whole = last - begun
        assert ticks > 5 and gap < 0.25 * whole, (type(table), gap, whole)
