"""Dask, Spark, polars and DuckDB over a partitioned folder: the bits of a single process, also when a worker is killed."""

from __future__ import annotations

import os
import shutil
import signal
import sys
import time
from pathlib import Path
from typing import Any

import pytest

pa = pytest.importorskip("pyarrow")

import native_case as case  # noqa: E402
import pyarrow.dataset as ds  # noqa: E402
import pyarrow.parquet as pq  # noqa: E402
from beadchem import streams  # noqa: E402
from stream_case import same_to_the_bit  # noqa: E402

pytestmark = pytest.mark.filterwarnings("ignore::beadchem.BeadchemNote")  # most of these tables have no loss on ignition, so no total

ROWS = 6000
FILES = 8
HERE = str(Path(__file__).parent)


@pytest.fixture(scope="module")
def folder(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """Beads in eight files in `day=` folders."""
    root = tmp_path_factory.mktemp("beads")
    table = case.beads(ROWS)
    for number in range(FILES):
        share = table.slice(number * ROWS // FILES, ROWS // FILES)
        (root / f"day={number % 3}").mkdir(exist_ok=True)
        pq.write_table(share, root / f"day={number % 3}" / f"{number}.parquet", row_group_size=300)
    return root


@pytest.fixture(scope="module")
def single(folder: Path) -> Any:
    """All results of one process, in the order of beads."""
    return numbers_of(streams.reader(ds.dataset(folder), case.correction(), keep=["bead"]).read_all())


def numbers_of(table: Any) -> Any:
    """What must agree to the bit: the bead, its results, its finding; `reason` tells a row, counted within a share."""
    kept = ["bead", *case.RESULTS, "finding"]
    columns = [table.column(name).combine_chunks().cast(pa.string() if name in {"bead", "finding"} else pa.float64()) for name in kept]
    return pa.table(columns, names=kept).sort_by("bead").replace_schema_metadata(None)


def correct_frame(frame: Any, mapper: Any, started: str = "", pause_s: float = 0.0) -> Any:
    """What a Dask worker does to its share of rows; notes its process in the folder `started`."""
    import os
    import time
    from pathlib import Path

    import pyarrow as pa

    if started and len(frame) > 2:  # Dask tries functions on frames of one or two rows
        (Path(started) / f"{os.getpid()}-{frame['bead'].iloc[0]}").touch()
        time.sleep(pause_s)
    return pa.Table.from_batches(list(mapper(pa.Table.from_pandas(frame, preserve_index=False)))).to_pandas()


@pytest.fixture(scope="module")
def cluster() -> Any:
    distributed = pytest.importorskip("distributed", reason="dask.distributed is not installed")
    pytest.importorskip("dask.dataframe", reason="dask.dataframe is not installed")
    before = os.environ.get("PYTHONPATH", "")
    os.environ["PYTHONPATH"] = os.pathsep.join(filter(None, [HERE, before]))
    try:
        with distributed.LocalCluster(
            n_workers=2, threads_per_worker=1, processes=True, dashboard_address=None, memory_limit=None
        ) as two, distributed.Client(two) as client:
            yield client
    finally:
        os.environ["PYTHONPATH"] = before


def by_dask(folder: Path, client: Any, started: Path, pause_s: float) -> Any:
    """The results of all files, one partition a file, as a future."""
    import dask.dataframe as dd

    frames = dd.read_parquet(str(folder), split_row_groups=False, aggregate_files=False)
    mapper = streams.mapper(case.correction(), keep=["bead"], chunk_rows=128)
    empty = pa.Table.from_batches(list(mapper(case.beads(0)))).to_pandas()
    return client.compute(frames.map_partitions(correct_frame, mapper, str(started), pause_s, meta=empty))


def processes_in(started: Path) -> set[int]:
    return {int(path.name.partition("-")[0]) for path in started.iterdir()}


def test_dask_gives_the_bits_of_one_process(cluster: Any, folder: Path, single: Any, tmp_path: Path) -> None:
    results = by_dask(folder, cluster, tmp_path, 0.05).result(timeout=120)
    assert same_to_the_bit(numbers_of(pa.Table.from_pandas(results, preserve_index=False)), single)
    assert len(processes_in(tmp_path)) == 2 and os.getpid() not in processes_in(tmp_path)


def test_a_dask_worker_killed_midway_loses_nothing(cluster: Any, folder: Path, single: Any, tmp_path: Path) -> None:
    future = by_dask(folder, cluster, tmp_path, 0.4)
    deadline = time.monotonic() + 60
    while len(list(tmp_path.iterdir())) < 3 and time.monotonic() < deadline:
        time.sleep(0.02)
    assert not future.done()
    killed = sorted(processes_in(tmp_path))[0]
    os.kill(killed, signal.SIGKILL)
    results = future.result(timeout=120)
    assert same_to_the_bit(numbers_of(pa.Table.from_pandas(results, preserve_index=False)), single)
    assert processes_in(tmp_path) - {killed}


@pytest.fixture(scope="module")
def spark() -> Any:
    if shutil.which("java") is None:
        pytest.skip("Spark needs java, which is not on the PATH")
    sql = pytest.importorskip("pyspark.sql", reason="pyspark is not installed")
    paths = [HERE, str(Path(streams.__file__).parents[1])]
    os.environ["PYSPARK_PYTHON"] = sys.executable
    session = (
        sql.SparkSession.builder.master("local[2]")
        .config("spark.ui.enabled", "false")
        .config("spark.driver.host", "127.0.0.1")
        .config("spark.driver.bindAddress", "127.0.0.1")
        .config("spark.sql.shuffle.partitions", "2")
        .config("spark.sql.execution.arrow.maxRecordsPerBatch", "250")
        .config("spark.sql.files.openCostInBytes", "0")
        .config("spark.sql.files.maxPartitionBytes", "40000")
        .config("spark.executorEnv.PYTHONPATH", os.pathsep.join([*paths, os.environ.get("PYTHONPATH", "")]))
        .getOrCreate()
    )
    session.sparkContext.setLogLevel("ERROR")
    yield session
    session.stop()
    del os.environ["PYSPARK_PYTHON"]


@pytest.mark.filterwarnings("ignore:PySpark does not yet fully support pandas:FutureWarning")
def test_spark_workers_give_the_bits_of_one_process(spark: Any, folder: Path, single: Any, tmp_path: Path) -> None:
    from pyspark.sql.types import DoubleType, LongType, StringType, StructField, StructType

    mapper = streams.mapper(case.correction(), keep=["bead"], chunk_rows=100)

    def corrected(batches: Any) -> Any:
        import os

        for batch in mapper(batches):
            yield batch.append_column("process", pa.array([os.getpid()] * batch.num_rows, pa.int64()))

    words = {"bead", "finding", "reason"}
    names = ["bead", *case.RESULTS, "finding", "reason"]
    schema = StructType([StructField(name, StringType() if name in words else DoubleType()) for name in names])
    frame = spark.read.parquet(str(folder)).mapInArrow(corrected, schema.add("process", LongType()))
    frame.write.parquet(str(tmp_path / "out"))
    results = ds.dataset(tmp_path / "out").to_table()
    assert same_to_the_bit(numbers_of(results), single)
    processes = set(results["process"].to_pylist())
    assert len(processes) > 1 and os.getpid() not in processes


def test_polars_sinks_what_it_scans(folder: Path, single: Any, tmp_path: Path) -> None:
    pl = pytest.importorskip("polars", reason="polars is not installed")
    mapper = streams.mapper(case.correction(), keep=["bead"])

    def corrected(frame: Any) -> Any:
        return pl.from_arrow(pa.Table.from_batches(list(mapper(frame))))

    schema = corrected(pl.from_arrow(case.beads(0))).schema

    lazy = pl.scan_parquet(folder / "**" / "*.parquet", hive_partitioning=False)
    lazy.map_batches(corrected, streamable=True, schema=schema).sink_parquet(tmp_path / "out.parquet")
    assert same_to_the_bit(numbers_of(pq.read_table(tmp_path / "out.parquet")), single)


def test_duckdb_copies_results_while_they_are_made(folder: Path, single: Any, tmp_path: Path) -> None:
    duckdb = pytest.importorskip("duckdb", reason="duckdb is not installed")
    connection = duckdb.connect()
    reading = connection.cursor()  # a stream keeps the connection it comes from busy
    source = reading.sql(f"SELECT * FROM read_parquet('{folder}/**/*.parquet')").to_arrow_reader(1000)
    most: list[int] = []
    results = streams.reader(source, case.correction(), keep=["bead"], chunk_rows=1000, progress=lambda done, _: most.append(done))
    connection.register("results", results)
    connection.execute(f"COPY (SELECT * FROM results) TO '{tmp_path}/out.parquet' (FORMAT parquet)")
    assert most[-1] == ROWS
    assert same_to_the_bit(numbers_of(pq.read_table(tmp_path / "out.parquet")), single)
