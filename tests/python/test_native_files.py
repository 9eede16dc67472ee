"""The real correction in streams, files and other processes: one set of bits, and each bad row named."""

from __future__ import annotations

import multiprocessing
from pathlib import Path
from typing import Any

import beadchem as bc
import pytest

pa = pytest.importorskip("pyarrow")

import native_case as case  # noqa: E402
import pyarrow.csv as pacsv  # noqa: E402
import pyarrow.parquet as pq  # noqa: E402
from beadchem import __main__, streams  # noqa: E402
from stream_case import same_to_the_bit  # noqa: E402

pytestmark = pytest.mark.filterwarnings("ignore::beadchem.BeadchemNote")  # most of these tables have no loss on ignition, so no total

ROWS = 5000


@pytest.fixture(scope="module")
def whole() -> Any:
    """All rows corrected as one batch on one thread."""
    batch = case.beads(ROWS).combine_chunks().to_batches()[0]
    return pa.table(case.correction().correct_stream(batch, uncertainty="variance", keep=["bead"], doubled=set()).table)


@pytest.mark.parametrize("chunk_rows", [1, 7, 4096])
@pytest.mark.parametrize("threads", [1, 2, 5])
def test_neither_chunks_nor_threads_change_a_bit(whole: Any, chunk_rows: int, threads: int) -> None:
    rows = 300 if chunk_rows == 1 else ROWS
    options = {"uncertainty": "variance", "keep": ["bead"], "chunk_rows": chunk_rows, "threads": threads}
    results = streams.reader(case.beads(ROWS).slice(0, rows), case.correction(), **options).read_all()
    assert same_to_the_bit(results, whole.slice(0, rows))


@pytest.mark.parametrize("name", ["in.parquet", "in.csv"])
def test_files_give_what_the_table_gives(whole: Any, tmp_path: Path, name: str) -> None:
    write = pq.write_table if name == "in.parquet" else pacsv.write_csv
    write(case.beads(ROWS), tmp_path / name)
    outcome = streams.correct_file(
        case.correction(), tmp_path / name, tmp_path / "out.parquet", uncertainty="variance", chunk_rows=700, part_rows=2000
    )
    results = pq.read_table(tmp_path / "out.parquet")
    said = ["finding", "reason"]  # of a NaN: in CSV it is the word nan, which is no number
    assert same_to_the_bit(results.drop_columns(said), whole.drop_columns(said))
    assert results.schema.metadata[b"beadchem"] == whole.schema.metadata[b"beadchem"]
    assert outcome.refused_rows == whole["CaO_percent"].null_count > 0


def test_the_command_reads_a_stored_correction(whole: Any, tmp_path: Path, capsys: Any) -> None:
    (tmp_path / "correction.json").write_text(case.correction().to_json(), encoding="utf-8")
    pq.write_table(case.beads(ROWS), tmp_path / "in.parquet")
    paths = [str(tmp_path / name) for name in ("correction.json", "in.parquet", "out.parquet")]
    assert __main__.main(["correct", *paths, "--uncertainty", "variance", "--threads", "2"]) == 3
    said = capsys.readouterr().err
    assert f"of {ROWS} rows have no result (mass." in said and "Traceback" not in said
    assert same_to_the_bit(pq.read_table(tmp_path / "out.parquet"), whole)
    rejects = pacsv.read_csv(tmp_path / "out.rejects.csv")
    assert set(rejects["code"].to_pylist()) <= set(bc.codes())
    (tmp_path / "correction.json").write_text("{}", encoding="utf-8")
    assert __main__.main(["correct", *paths[:2], str(tmp_path / "other.parquet")]) == 2


def test_rows_without_a_total_are_told_of_once(tmp_path: Path, capsys: Any) -> None:
    (tmp_path / "correction.json").write_text(case.correction().to_json(), encoding="utf-8")
    pq.write_table(case.beads(ROWS, poisoned=False), tmp_path / "in.parquet")
    paths = [str(tmp_path / name) for name in ("correction.json", "in.parquet", "out.parquet")]
    assert __main__.main(["correct", *paths, "--chunk-rows", "700", "--part-rows", "2000"]) == 0
    said = capsys.readouterr().err
    assert said.startswith("Note: Rows without a loss on ignition have no total: total_percent is null.") and said.count("\n") == 1
    with_loss = case.beads(ROWS, poisoned=False).append_column("loss_on_ignition_percent", pa.array([46.3] * ROWS))
    pq.write_table(with_loss, tmp_path / "in.parquet")
    assert __main__.main(["correct", *paths, "--overwrite"]) == 0
    assert capsys.readouterr().err == "" and pq.read_table(tmp_path / "out.parquet")["total_percent"].null_count == 0


def share(mapper: streams.Mapper, table: Any) -> Any:
    """What a worker gives for its share."""
    return pa.Table.from_batches(list(mapper(table)))


def test_another_process_gives_the_same_bits(whole: Any) -> None:
    mapper = streams.mapper(case.correction(), uncertainty="variance", keep=["bead"], chunk_rows=512)
    shares = [(mapper, case.beads(ROWS).slice(start, 2500)) for start in (0, 2500)]
    with multiprocessing.get_context("spawn").Pool(2) as workers:
        results = pa.concat_tables(workers.starmap(share, shares))
    told = "reason"  # tells the row, counted within a share
    assert same_to_the_bit(results.drop_columns(told), whole.cast(results.schema).drop_columns(told))


@pytest.mark.parametrize("listed", [[], ["--findings", "all.parquet"]])
def test_recorrecting_a_wrong_flux_lot_prints_what_crosses_a_limit(
    tmp_path: Path, capsys: Any, monkeypatch: pytest.MonkeyPatch, listed: list[str]
) -> None:
    monkeypatch.chdir(tmp_path)
    old = case.correction()
    new = old.with_flux_loss("F-121", 0.9)
    Path("old.json").write_text(old.to_json(), encoding="utf-8")
    Path("new.json").write_text(new.to_json(), encoding="utf-8")
    table = case.beads(ROWS)
    pq.write_table(table, "in.parquet")
    command = ["recorrect", "old.json", "new.json", "in.parquet", "out.parquet", "--only", "flux_lot=F-121", "--limit", "CaO=:30"]
    assert __main__.main([*command, *listed]) == 3
    results = pq.read_table("out.parquet")
    values = [streams.reader(table, one).read_all()["CaO_percent"].to_pylist() for one in (old, new)]
    lots = table["flux_lot"].to_pylist()
    expected = [after if lot == "F-121" else before for before, after, lot in zip(*values, lots, strict=True)]
    assert results["CaO_percent_old"].to_pylist() == values[0] and results["CaO_percent_new"].to_pylist() == expected
    crossed = [row for row, (one, other) in enumerate(zip(values[0], expected, strict=True)) if one and (one > 30) != (other > 30)]
    printed = capsys.readouterr().out.splitlines()
    assert [line.split(":")[0] for line in printed] == [f"row {row} (bead B-{row})" for row in crossed] and len(crossed) > 10
    assert printed[0].split(": ", 1)[1].startswith("CaO was ")
    assert __main__.main([*command[:4], "other.parquet", "--limit", "Fe2O3=:30"]) == 2


@pytest.mark.parametrize("wrong", [["--only", "F-121"], ["--limit", "CaO"], ["--limit", "CaO=a:b"]])
def test_bad_words_of_a_recorrection_are_bad_usage(capsys: Any, wrong: list[str]) -> None:
    with pytest.raises(SystemExit) as ended:
        __main__.main(["recorrect", "old.json", "new.json", "in.parquet", "out.parquet", *wrong])
    assert ended.value.code == 2 and "is not" in capsys.readouterr().err


def test_a_refusal_names_the_file_of_a_folder_and_leaves_nothing(tmp_path: Path) -> None:
    source = tmp_path / "in"
    source.mkdir()
    pq.write_table(case.beads(20), source / "a.parquet")
    pq.write_table(case.beads(20).drop_columns("flux_g"), source / "b.parquet")
    with pytest.raises(bc.BeadchemError, match=r"b\.parquet: .*flux_g"):
        streams.correct_file(case.correction(), source, tmp_path / "out")
    assert [path.name for path in tmp_path.iterdir()] == ["in"]
    (source / "b.parquet").unlink()
    assert streams.correct_file(case.correction(), source, tmp_path / "out").rows == 20


def test_a_note_of_some_files_of_a_folder_names_them(tmp_path: Path) -> None:
    source = tmp_path / "in"
    source.mkdir()
    pq.write_table(case.beads(20, poisoned=False), source / "a.parquet")
    pq.write_table(case.beads(20, poisoned=False).drop_columns("flux_lot"), source / "b.parquet")
    outcome = streams.correct_file(case.correction(), source, tmp_path / "out")
    lots = [note for note in outcome.notes if "flux_lot" in note]
    assert len(lots) == 1 and lots[0].startswith("In b.parquet: ")
    totals = [note for note in outcome.notes if "total" in note]
    assert len(totals) == 1 and totals[0].startswith("Rows")
