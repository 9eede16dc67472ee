"""Streams: any source, the same digits whatever the chunks, findings and progress on the way."""

from __future__ import annotations

from typing import Any

import beadchem as bc
import pytest

pa = pytest.importorskip("pyarrow")

import pyarrow.dataset as ds  # noqa: E402
import pyarrow.parquet as pq  # noqa: E402
import stream_case as case  # noqa: E402
from beadchem import streams  # noqa: E402

ROWS = 1000


def table_of(batches: Any) -> Any:
    return pa.Table.from_batches(list(batches))


@pytest.fixture
def whole(correction: Any) -> Any:
    """All rows corrected as one chunk."""
    return table_of(streams.stream(case.beads(ROWS), correction, keep=["bead"], chunk_rows=ROWS))


@pytest.mark.parametrize("chunk_rows", [1, 7, 64, 999, 4096])
def test_chunks_do_not_change_a_bit(correction: Any, whole: Any, chunk_rows: int) -> None:
    batches = list(streams.stream(case.beads(ROWS), correction, keep=["bead"], chunk_rows=chunk_rows))
    assert {batch.num_rows for batch in batches[:-1]} <= {chunk_rows} and batches[-1].num_rows <= chunk_rows
    assert case.same_to_the_bit(table_of(batches), whole)


def sources(table: Any, folder: Any) -> dict[str, Any]:
    pq.write_table(table, folder / "beads.parquet", row_group_size=130)
    pieces = [table.slice(0, 1), table.slice(1, 0), table.slice(1, 500), table.slice(501)]
    return {
        "reader": pa.concat_tables(pieces).to_reader(),
        "table": table,
        "sliced table": pa.concat_tables(pieces),
        "batches": iter(table.to_batches(max_chunksize=33)),
        "one batch": table.combine_chunks().to_batches()[0],
        "dataset": ds.dataset(folder),
        "scanner": ds.dataset(folder).scanner(),
    }


@pytest.mark.parametrize("kind", ["reader", "table", "sliced table", "batches", "one batch", "dataset", "scanner"])
def test_every_source_gives_the_same_rows(correction: Any, whole: Any, tmp_path: Any, kind: str) -> None:
    source = sources(case.beads(ROWS), tmp_path)[kind]
    assert case.same_to_the_bit(table_of(streams.stream(source, correction, keep=["bead"], chunk_rows=100)), whole)


def test_only_what_is_asked_for_is_read(correction: Any) -> None:
    pulled = []

    def endless() -> Any:
        while True:
            pulled.append(1)
            yield from case.beads(100, first=100 * len(pulled)).to_batches()

    results = streams.stream(endless(), correction, chunk_rows=100)
    assert [next(results).num_rows for _ in range(3)] == [100, 100, 100]
    assert len(pulled) <= 4


def test_findings_and_progress_count_from_the_first_row(correction: Any) -> None:
    found: list[Any] = []
    seen: list[tuple[int, int | None]] = []
    table = case.beads(ROWS)
    results = streams.stream(
        table, correction, chunk_rows=300, first_row=5000, findings=found.append, progress=lambda *now: seen.append(now)
    )
    refused = [5000 + row for row, code in enumerate(table_of(results).column("finding").to_pylist()) if code]
    assert refused and [one for batch in found for one in batch.column("row").to_pylist()] == refused
    assert seen == [(300, None), (600, None), (900, None), (1000, None)]


def test_a_reader_knows_its_schema_before_it_is_pulled(correction: Any, whole: Any) -> None:
    results = streams.reader(case.beads(ROWS), correction, keep=["bead"], chunk_rows=128)
    assert results.schema.equals(whole.schema, check_metadata=True) and b"beadchem" in results.schema.metadata
    assert case.same_to_the_bit(results.read_all(), whole)
    assert streams.reader(case.beads(0), correction).read_all().num_rows == 0


def test_uncertainties_come_when_asked_for(correction: Any) -> None:
    names = streams.reader(case.beads(3), correction, uncertainty="variance").schema.names
    assert {name for name in names if name.endswith("_u")} == {f"{name}_u" for name in names if f"{name}_u" in names} != set()


def test_what_cannot_be_streamed_is_refused_in_words(correction: Any) -> None:
    for make in (streams.stream, streams.reader):
        with pytest.raises(bc.BeadchemError, match="A int cannot be streamed"):
            make(7, correction)
    with pytest.raises(bc.BeadchemError, match="The source has no batch, so its columns are not known"):
        streams.reader([], correction)
    assert list(streams.stream([], correction)) == []
    assert [batch.num_rows for batch in streams.stream(case.beads(0), correction)] == [0]
    with pytest.raises(bc.BeadchemError, match="chunk_rows is 0; it must be at least 1"):
        streams.stream(case.beads(3), correction, chunk_rows=0)
    with pytest.raises(bc.BeadchemError, match="There is no column 'colour' to keep"):
        list(streams.stream(case.beads(3), correction, keep=["colour"]))


def test_a_mapper_travels_as_its_document(correction: Any, whole: Any) -> None:
    import pickle

    travelled = pickle.loads(pickle.dumps(streams.mapper(correction, keep=["bead"], chunk_rows=50)))
    assert travelled.document == correction.to_json()
    results = table_of(travelled(iter(case.beads(ROWS).to_batches(max_chunksize=77))))
    assert {results.schema.field(name).type for name in ("bead", "finding", "reason")} == {pa.string()}
    assert case.same_to_the_bit(results, whole.cast(results.schema))


def test_doubled_beads_are_those_of_the_whole_stream_whatever_the_chunks(correction: Any) -> None:
    table = pa.concat_tables([case.beads(50, poisoned=False), case.beads(2, poisoned=False)])
    twice = streams.doubled_ids(table.to_reader(), correction)
    assert twice == {"B-0", "B-1"}
    for chunk_rows in (1, 20, 1000):
        checked = table_of(streams.stream(table, correction, doubled=twice, chunk_rows=chunk_rows))["finding"].to_pylist()
        assert [row for row, code in enumerate(checked) if code] == [0, 1, 50, 51]
        assert not any(table_of(streams.stream(table, correction, chunk_rows=chunk_rows))["finding"].to_pylist())
    assert streams.doubled_ids(table.drop_columns("bead"), correction) == set()
