"""Files: CSV, Parquet, workbooks and folders in, the same rows out; what is wrong with a row stays with the row."""

from __future__ import annotations

import gzip
from pathlib import Path
from typing import Any

import beadchem as bc
import pytest

pa = pytest.importorskip("pyarrow")

import numpy as np  # noqa: E402
import pyarrow.csv as pacsv  # noqa: E402
import pyarrow.dataset as ds  # noqa: E402
import pyarrow.parquet as pq  # noqa: E402
import stream_case as case  # noqa: E402
from beadchem import streams  # noqa: E402
from beadchem._files.ids import doubled_ids  # noqa: E402

ROWS = 1000
HEADER = "bead,flux_lot,sample_g,flux_g,Fe_Ka_cps,Si_Ka_cps,loss_on_fusion_percent"


def direct(correction: Any, table: Any) -> Any:
    """All rows at once, without files."""
    return streams.reader(table, correction, keep=["bead"], chunk_rows=table.num_rows or 1).read_all()


def written(table: Any, path: Path) -> Path:
    if path.suffix == ".parquet":
        pq.write_table(table, path, row_group_size=130)
    elif path.suffix == ".gz":
        pacsv.write_csv(table, plain := path.with_suffix(""))
        path.write_bytes(gzip.compress(plain.read_bytes()))
    elif path.suffix == ".xlsx":
        openpyxl = pytest.importorskip("openpyxl")
        book = openpyxl.Workbook()
        for row in [table.column_names, *zip(*(column.to_pylist() for column in table.columns), strict=True)]:
            book.active.append(["nan" if cell != cell else cell for cell in row])
        book.save(path)
    else:
        pacsv.write_csv(table, path)
    return path


def in_16_digits(table: Any) -> Any:
    """The table with the digits that the library which writes the workbook keeps of a number."""
    for place, name in enumerate(table.column_names):
        if pa.types.is_floating(table.schema.field(place).type):
            cells = [None if cell is None else float(f"{cell:.16g}") for cell in table.column(name).to_pylist()]
            table = table.set_column(place, name, pa.array(cells, pa.float64()))
    return table


def plain(table: Any) -> Any:
    """The table with all words as plain text, which is all that CSV knows."""
    words = [pa.types.is_dictionary(one.type) or pa.types.is_large_string(one.type) for one in table.schema]
    fields = [one.with_type(pa.string()) if word else one for one, word in zip(table.schema, words, strict=True)]
    return table.cast(pa.schema(fields, metadata=table.schema.metadata))


def read_csv(path: Path, schema: Any) -> Any:
    options = pacsv.ConvertOptions(
        column_types={one.name: one.type for one in schema},
        null_values=[""],
        strings_can_be_null=True,
        quoted_strings_can_be_null=False,
    )
    return pacsv.read_csv(path, convert_options=options).replace_schema_metadata(schema.metadata)


@pytest.mark.parametrize("name", ["in.parquet", "in.csv", "in.csv.gz", "in.xlsx"])
@pytest.mark.parametrize("target", ["out.parquet", "out.csv", "out.csv.gz"])
def test_every_kind_gives_what_the_table_gives(correction: Any, tmp_path: Path, name: str, target: str) -> None:
    table = in_16_digits(case.beads(ROWS)) if name == "in.xlsx" else case.beads(ROWS)
    source = written(table, tmp_path / name)
    outcome = streams.correct_file(correction, source, tmp_path / target, chunk_rows=64, part_rows=300, row_group_rows=100)
    expected = direct(correction, table)
    if target.endswith(".parquet"):
        results = pq.read_table(tmp_path / target)
        groups = pq.ParquetFile(tmp_path / target).metadata
        assert [groups.row_group(group).num_rows for group in range(groups.num_row_groups)] == [100] * 10
    else:
        expected = plain(expected)
        results = read_csv(tmp_path / target, expected.schema)
    assert case.same_to_the_bit(results, expected)
    refused = expected.column("finding").drop_null()
    assert (outcome.rows, outcome.refused_rows) == (ROWS, len(refused)) and len(refused) > 0
    assert sum(outcome.codes.values()) == len(refused)
    assert sorted(path.name for path in tmp_path.iterdir()) == sorted({name, target} | ({"in.csv"} if name == "in.csv.gz" else set()))


def test_numbers_of_a_csv_read_back_to_the_same_bits(correction: Any, tmp_path: Path) -> None:
    awkward = [0.1, 1 / 3, 5e-324, 1.7976931348623157e308, -0.0, 1e22, 123456789.12345679, float("nan"), None, 2.5]
    table = case.beads(len(awkward), poisoned=False)
    table = table.set_column(table.schema.get_field_index("Fe_Ka_cps"), "Fe_Ka_cps", pa.array(awkward, pa.float64()))
    source = written(table, tmp_path / "in.csv")
    streams.correct_file(correction, source, tmp_path / "out.csv", keep=["bead", "Fe_Ka_cps", "note"])
    kept = read_csv(tmp_path / "out.csv", pa.schema([("bead", pa.string()), ("Fe_Ka_cps", pa.float64()), ("note", pa.string())]))
    assert case.same_to_the_bit(kept.select(["Fe_Ka_cps", "note"]), table.select(["Fe_Ka_cps", "note"]))
    expected = plain(direct(correction, table))
    results = read_csv(tmp_path / "out.csv", expected.schema)
    assert case.same_to_the_bit(results.select(case.RESULTS), expected.select(case.RESULTS))


def test_null_nan_and_empty_text_stay_apart_in_a_csv(correction: Any, tmp_path: Path) -> None:
    (tmp_path / "in.csv").write_text(
        f'{HEADER}\nB-1,"",0.8,8.0,1000,500,1.5\nB-2,,0.8,8.0,nan,500,1.5\nB-3,F-1,0.8,8.0,,500,1.5\n', encoding="utf-8"
    )
    streams.correct_file(correction, tmp_path / "in.csv", tmp_path / "out.parquet", keep=["*"])
    kept = pq.read_table(tmp_path / "out.parquet")
    assert kept.column("flux_lot").to_pylist() == ["", None, "F-1"]
    assert kept.column("Fe_Ka_cps").to_pylist() == ["1000", "nan", None]


def test_a_column_that_starts_with_whole_numbers_or_empty_cells_is_read_as_declared(correction: Any, tmp_path: Path) -> None:
    rows = [f"B-{row},F-1,{'1' if row < 900 else '0.8125'},8,{'' if row < 900 else '2.5'},500,1" for row in range(1000)]
    (tmp_path / "in.csv").write_text("\r\n".join([HEADER, *rows]), encoding="utf-8-sig")
    outcome = streams.correct_file(correction, tmp_path / "in.csv", tmp_path / "out.parquet", chunk_rows=10)
    assert (outcome.rows, outcome.refused_rows) == (1000, 900)
    assert pq.read_table(tmp_path / "out.parquet").column("fused_flux_ratio")[999].as_py() == 8 / 0.8125


@pytest.mark.parametrize("chunk_rows", [1, 3, 1000])
def test_an_unreadable_cell_or_row_is_named_and_harms_no_other(correction: Any, tmp_path: Path, chunk_rows: int) -> None:
    lines = [
        "B-0,F-1,0.8,8.0,1000,500,1.5",
        'B-1,F-1,"0,8",8.0,1000,500,1.5',
        "B-2,F-1, 0.8 ,8.0,1000,500,1.5",
        "B-3,F-1,0.8,8.0",
        "",
        "B-4,F-1,0.8,8.0,<5,500,1.5",
        "B-5,F-1,0.8,8.0,1000,500,1.5,7",
        'B-6,"two\nlines",0.8,8.0,1000,500,n.a.',
        "B-7,F-1,0.8,8.0,1000,500,1.5",
        "B-8",
    ]
    (tmp_path / "in.csv").write_text("\n".join([HEADER, *lines]) + "\n\n", encoding="utf-8")
    outcome = streams.correct_file(
        correction, tmp_path / "in.csv", tmp_path / "out.parquet", chunk_rows=chunk_rows, rejects=tmp_path / "rejects.csv"
    )
    results = pq.read_table(tmp_path / "out.parquet")
    assert results.column("bead").to_pylist() == ["B-0", "B-1", "B-2", None, "B-4", None, "B-6", "B-7", None]
    said = dict(enumerate(results.column("reason").to_pylist()))
    assert {row: text for row, text in said.items() if text} == {
        1: "Row 1: '0,8' in sample_g is not a number.",
        3: "Row 3 has 4 cells where the header has 7. Was a comma used as decimal mark, or a line cut?",
        4: "Row 4: '<5' in Fe_Ka_cps is not a number.",
        5: "Row 5 has 8 cells where the header has 7. Was a comma used as decimal mark, or a line cut?",
        6: "Row 6: 'n.a.' in loss_on_fusion_percent is not a number.",
        8: "Row 8 has 1 cell where the header has 7. Was a comma used as decimal mark, or a line cut?",
    }
    assert outcome.refused_rows == 6 and outcome.codes["number.unreadable"] == 3 and outcome.codes["shape.mismatch"] == 3
    good = [results.column("Fe2O3_percent")[row].as_py() for row in (0, 2, 7)]
    assert good[0] is not None and good == [good[0]] * 3
    listed = pacsv.read_csv(tmp_path / "rejects.csv")
    assert listed.column_names == ["row", "bead", "code", "quantity", "value", "bound", "reason"]
    assert set(listed.column("row").to_pylist()) == {1, 3, 4, 5, 6, 8}


def test_a_formula_without_a_stored_result_is_trouble_not_an_empty_cell(correction: Any, tmp_path: Path) -> None:
    openpyxl = pytest.importorskip("openpyxl")
    book = openpyxl.Workbook()
    book.active.append(HEADER.split(","))
    book.active.append(["B-1", "F-1", 0.8, 8, 1000, 500, 1.5])
    book.active.append(["B-2", "F-1", "=0.4+0.4", 8, 1000, 500, 1.5])
    book.active.append([])
    book.active.append(["B-3", "F-1", 0.8, 8, "1 000", 500])
    book.save(tmp_path / "in.xlsx")
    outcome = streams.correct_file(correction, tmp_path / "in.xlsx", tmp_path / "out.parquet")
    assert [(one.row, one.bead, one.code) for one in outcome.first] == [(1, "B-2", "number.unreadable"), (2, "B-3", "number.unreadable")]
    assert "'=0.4+0.4' in sample_g is not a number" in outcome.first[0].reason
    assert outcome.rows == 3


def folder_of(table: Any, folder: Path) -> Path:
    ds.write_dataset(
        table.append_column("day", pa.array([f"2026-03-{1 + row % 3:02}" for row in range(table.num_rows)])),
        folder,
        format="parquet",
        partitioning=ds.partitioning(pa.schema([("flux_lot", pa.string()), ("day", pa.string())]), flavor="hive"),
        max_rows_per_file=120,
        max_rows_per_group=120,
    )
    return folder


def test_a_partitioned_folder_keeps_its_partitioning(correction: Any, tmp_path: Path) -> None:
    table = case.beads(ROWS)
    source = folder_of(table, tmp_path / "in")
    (source / "_SUCCESS").touch()
    outcome = streams.correct_file(
        correction, source, tmp_path / "out", keep=["bead", "flux_lot"], rejects=tmp_path / "rejects.csv", chunk_rows=50
    )

    def names(folder: Path) -> list[str]:
        return sorted(path.relative_to(folder).as_posix() for path in folder.rglob("*.parquet"))

    assert names(source) == names(tmp_path / "out") and len(names(source)) > 6
    assert not [path for path in (tmp_path / "out").rglob("*") if path.is_file() and path.suffix != ".parquet"]
    results = ds.dataset(tmp_path / "out", partitioning="hive").to_table().sort_by("bead")
    expected = direct(correction, table)
    provenance = {pq.read_schema(tmp_path / "out" / name).metadata[b"beadchem"] for name in names(source)}
    assert provenance == {expected.schema.metadata[b"beadchem"]}
    names_of_results = [name for name in expected.column_names if name != "reason"]  # it tells the row, counted by file
    tables = [one.select(names_of_results).replace_schema_metadata(None) for one in (results, expected.sort_by("bead"))]
    assert case.same_to_the_bit(*tables)
    assert dict(zip(results["bead"].to_pylist(), results["flux_lot"].to_pylist(), strict=True)) == dict(
        zip(table["bead"].to_pylist(), table["flux_lot"].to_pylist(), strict=True)
    )
    listed = pacsv.read_csv(tmp_path / "rejects.csv").to_pylist()
    assert len(listed) == outcome.refused_rows > 0 and set(listed[0]) >= {"file", "row", "bead"}
    one = listed[0]
    assert pq.read_table(source / one["file"], partitioning=None)["bead"][one["row"]].as_py() == one["bead"]


def test_names_of_folders_are_unquoted_and_missing_ones_are_null(correction: Any, tmp_path: Path) -> None:
    for number, key in enumerate(["flux_lot=F%2F118", "flux_lot=__HIVE_DEFAULT_PARTITION__", "plain"]):
        (tmp_path / "in" / key).mkdir(parents=True)
        pq.write_table(case.beads(2, first=10 * number, poisoned=False).drop_columns("flux_lot"), tmp_path / "in" / key / "a.parquet")
    seen: dict[str, Any] = {}

    class Watching(case.StandIn):
        def correct_stream(self, source: Any, **options: Any) -> Any:
            batch = pa.record_batch(source)
            seen[batch.column("bead")[0].as_py()] = batch.column("flux_lot").to_pylist() if "flux_lot" in batch.schema.names else "none"
            return super().correct_stream(source, **options)

    streams.correct_file(Watching(), tmp_path / "in", tmp_path / "out")
    assert seen == {"B-0": ["F/118"] * 2, "B-10": [None] * 2, "B-20": "none"}


def test_a_row_that_its_folder_contradicts_is_named_and_has_no_result(correction: Any, tmp_path: Path) -> None:
    table = case.beads(4, poisoned=False)
    lots = table["flux_lot"].to_pylist()
    stated, other = lots[0], f"{lots[0]}x"
    own = table.set_column(table.column_names.index("flux_lot"), "flux_lot", pa.array([stated, other, None, stated]))
    own = own.append_column("year", pa.array([2026, 2026, 2026, 2025]))  # decides no result
    folder = tmp_path / "in" / f"flux_lot={stated}" / "sample_g=0.80" / "year=2026"
    folder.mkdir(parents=True)
    masses = table["sample_g"].to_pylist()
    masses[0], masses[3] = 0.8, 0.81
    pq.write_table(own.set_column(own.column_names.index("sample_g"), "sample_g", pa.array(masses)), folder / "a.parquet")
    outcome = streams.correct_file(correction, tmp_path / "in", tmp_path / "out", keep="*", findings=tmp_path / "all.csv")
    results = pq.read_table(next((tmp_path / "out").rglob("a.parquet")), partitioning=None)
    assert outcome.refused_rows == 3 and outcome.codes["folder.contradicts"] == 3
    assert results["finding"].to_pylist() == [None, *["folder.contradicts"] * 3]
    number = next(name for name in results.column_names if name.endswith("_percent") and name not in own.column_names)
    assert [value is None for value in results[number].to_pylist()] == [False, True, True, True]
    reasons = results["reason"].to_pylist()
    assert any(f"The folder says {said}, the row {found}" in reasons[1] for said, found in (
        (f"flux_lot = {stated}", other), ("sample_g = 0.80", masses[1]),
    ))
    assert "The folder says sample_g = 0.80, the row 0.81" in reasons[3]
    assert sorted(one["row"] for one in pacsv.read_csv(tmp_path / "all.csv").to_pylist() if one["severity"] != "error") == []


@pytest.mark.parametrize(
    ("column", "text", "wrong"),
    [
        (pa.array(["a", "b", None]), "a", [False, True, True]),
        (pa.array(["a", "b", None]).dictionary_encode(), "a", [False, True, True]),
        (pa.array([1, 2, None]), "01", [False, True, True]),
        (pa.array([1.5, 2.0, None]), "1.50", [False, True, True]),
        (pa.array([1, 2, None]), "north", [True, True, True]),
        (pa.nulls(3), "a", [True, True, True]),
        (pa.array([[1], [2], None]), "a", [False, False, False]),
    ],
)
def test_cells_are_held_against_the_name_of_their_folder_as_what_they_are(column: Any, text: str, wrong: list[bool]) -> None:
    from beadchem._files.parquet import _differs

    plain = column.dictionary_decode() if pa.types.is_dictionary(column.type) else column
    assert _differs(plain, text).to_pylist() == wrong


def test_a_resumed_run_names_the_lists_it_began_with(correction: Any, tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    source = written(case.beads(400), tmp_path / "in.parquet")
    steps = iter(range(1000))

    def stop(done: int, _: int | None) -> None:
        if next(steps) == 2:
            raise KeyboardInterrupt

    options: dict[str, Any] = {"chunk_rows": 100, "part_rows": 130}
    with pytest.raises(KeyboardInterrupt):
        streams.correct_file(correction, source, tmp_path / "out.parquet", rejects=tmp_path / "r.csv", progress=stop, **options)
    (tmp_path / "precious.csv").write_text("mine")
    with pytest.raises(bc.BeadchemError) as refused:
        streams.correct_file(correction, source, tmp_path / "out.parquet", rejects=tmp_path / "precious.csv", **options)
    assert refused.value.code == "run.differs" and (tmp_path / "precious.csv").read_text() == "mine"
    (tmp_path / "out.parquet").write_text("mine")
    with pytest.raises(bc.BeadchemError) as refused:
        streams.correct_file(correction, source, tmp_path / "out.parquet", rejects=tmp_path / "r.csv", **options)
    assert refused.value.code == "file.exists" and (tmp_path / "out.parquet").read_text() == "mine"
    (tmp_path / "out.parquet").unlink()
    outcome = streams.correct_file(correction, source, tmp_path / "out.parquet", rejects=tmp_path / "r.csv", **options)
    assert outcome.parts_kept > 0 and pq.read_table(tmp_path / "out.parquet").num_rows == 400


def test_a_line_that_was_cut_is_one_refusal(correction: Any, tmp_path: Path) -> None:
    pacsv.write_csv(case.beads(3, poisoned=False), tmp_path / "whole.csv")
    lines = (tmp_path / "whole.csv").read_text().splitlines()
    (tmp_path / "in.csv").write_text("\n".join([*lines[:2], lines[2].rpartition(",")[0], lines[3]]) + "\n")
    outcome = streams.correct_file(correction, tmp_path / "in.csv", tmp_path / "out.csv")
    assert (outcome.rows, outcome.refused_rows, outcome.codes) == (3, 1, {"shape.mismatch": 1})


def test_empty_files_and_files_without_a_row_group_give_empty_results(correction: Any, tmp_path: Path) -> None:
    (tmp_path / "in.csv").write_text(HEADER + "\n", encoding="utf-8")
    (tmp_path / "bare.csv").write_text(HEADER, encoding="utf-8")
    pq.write_table(case.beads(0), tmp_path / "in.parquet")
    pq.ParquetWriter(tmp_path / "none.parquet", case.beads(0).schema).close()
    for number, name in enumerate(["in.csv", "bare.csv", "in.parquet", "none.parquet"]):
        target = tmp_path / f"out{number}.parquet"
        outcome = streams.correct_file(correction, tmp_path / name, target, rejects=tmp_path / "r.csv", overwrite=True)
        assert (outcome.rows, outcome.refused_rows) == (0, 0)
        assert pq.read_table(target).schema.equals(direct(correction, case.beads(0)).schema, check_metadata=True)
        assert (tmp_path / "r.csv").read_text().startswith('"row","bead"')


def test_a_bead_id_in_several_rows_is_never_used(correction: Any, tmp_path: Path) -> None:
    table = pa.concat_tables([case.beads(400, poisoned=False), case.beads(3, poisoned=False), case.beads(200, first=400, poisoned=False)])
    source = written(table, tmp_path / "in.parquet")
    outcome = streams.correct_file(correction, source, tmp_path / "out.parquet", chunk_rows=50, part_rows=130)
    finding = pq.read_table(tmp_path / "out.parquet")["finding"].to_pylist()
    assert [row for row, code in enumerate(finding) if code] == [0, 1, 2, 400, 401, 402]
    assert outcome.codes == {"bead.doubled": 6}
    unchecked = streams.correct_file(correction, source, tmp_path / "unchecked.parquet", check_ids=False)
    assert unchecked.refused_rows == 0


def test_doubled_ids_across_files_of_a_folder_are_found(correction: Any, tmp_path: Path) -> None:
    (tmp_path / "in").mkdir()
    for name, first in [("a", 0), ("b", 19)]:
        pq.write_table(case.beads(20, first=first, poisoned=False), tmp_path / "in" / f"{name}.parquet")
    outcome = streams.correct_file(correction, tmp_path / "in", tmp_path / "out")
    assert [(one.file, one.row, one.bead) for one in outcome.first] == [("a.parquet", 19, "B-19"), ("b.parquet", 0, "B-19")]


def test_doubled_ids_are_those_that_counting_finds(tmp_path: Path) -> None:
    draw = np.random.default_rng(11)
    ids = [None if number % 97 == 0 else f"{'é' * (number % 3)}{number}" for number in draw.integers(0, 60_000, 50_000)]
    counts: dict[str, int] = {}
    for one in ids:
        if one is not None:
            counts[one] = counts.get(one, 0) + 1
    array = pa.array([*ids, "", ""])
    chunks = [array.slice(start, 777) for start in range(0, len(array), 777)]
    expected = {one for one, count in counts.items() if count > 1} | {""}
    for rows in (None, 10, 3_000_000):
        assert set(doubled_ids(iter(chunks), rows, tmp_path).to_pylist()) == expected
    assert doubled_ids(iter([]), None, tmp_path).to_pylist() == []
    with pytest.raises(bc.BeadchemError, match="More than 100 bead ids stand in several rows"):
        doubled_ids(iter(chunks), None, tmp_path, most=100)
    assert list(tmp_path.iterdir()) == []


def test_what_cannot_be_read_or_written_is_refused_before_anything_is_written(correction: Any, tmp_path: Path) -> None:
    good = written(case.beads(5), tmp_path / "in.parquet")
    (tmp_path / "torn.parquet").write_bytes(good.read_bytes()[:-100])
    (tmp_path / "twice.csv").write_text("bead,bead\n1,2\n")
    (tmp_path / "empty.csv").write_text("")
    (tmp_path / "not.xlsx").write_text("no workbook")
    (tmp_path / "notes.txt").write_text("notes")
    (tmp_path / "folder").mkdir()
    (tmp_path / "standing.parquet").write_bytes(good.read_bytes())
    (tmp_path / "named.csv").write_bytes(good.read_bytes())
    (tmp_path / "wide.csv").write_text(f"{HEADER}\n", encoding="utf-16")
    (tmp_path / "carriage.csv").write_bytes(HEADER.encode() + b"\rB-1,F-1,0.8,8.0,1000,500,1.5\r")
    (tmp_path / "no.csv.gz").write_text("no gzip")
    folder_of(case.beads(5), tmp_path / "parts")
    (tmp_path / "link.csv").symlink_to(tmp_path / "in.parquet")
    before = {path: path.read_bytes() for path in sorted(tmp_path.rglob("*")) if path.is_file()}
    for source, target, options, code, words in [
        ("absent.parquet", "o.parquet", {}, "table.unreadable", "There is no file"),
        ("torn.parquet", "o.parquet", {}, "table.unreadable", "cannot be read as Parquet"),
        ("twice.csv", "o.parquet", {}, "table.header", "names 'bead' more than once"),
        ("empty.csv", "o.parquet", {}, "table.header", "is empty"),
        ("not.xlsx", "o.parquet", {}, "table.unreadable", "cannot be read as a workbook"),
        ("notes.txt", "o.parquet", {}, "file.name", "cannot be told from its name"),
        ("folder", "o", {}, "table.unreadable", "holds no Parquet file"),
        ("in.parquet", "o.txt", {}, "file.name", "no table can be written under this name"),
        ("in.parquet", "in.parquet", {"overwrite": True}, "file.name", "is the source"),
        ("folder", "folder/out", {}, "file.name", "is the source, or lies in it"),
        ("in.parquet", "absent/o.parquet", {}, "file.name", "There is no folder"),
        ("folder", "o.parquet", {}, "file.name", "names a file"),
        ("in.parquet", "standing.parquet", {}, "file.exists", "stands there already"),
        ("in.parquet", "o.parquet", {"compression": "rar"}, "word.unknown", "One of zstd"),
        ("in.parquet", "o.parquet", {"rejects": tmp_path / "o.parquet"}, "file.name", "is the target"),
        ("in.parquet", "o.parquet", {"part_rows": 0}, "number.out-of-range", "part_rows is 0"),
        ("carriage.csv", "o.parquet", {}, "table.unreadable", "its lines end in carriage returns alone"),
        ("in.parquet", "q.csv", {"rejects": tmp_path / "folder" / ".." / "q.csv"}, "file.name", "is the target"),
        ("in.parquet", "o.parquet", {"rejects": tmp_path / "l.csv", "findings": tmp_path / "folder" / ".." / "l.csv"}, "file.name", "two lists"),
        ("named.csv", "o.parquet", {}, "table.unreadable", "its first line is no text in UTF-8"),
        ("wide.csv", "o.parquet", {}, "table.unreadable", "its first line is no text in UTF-8"),
        ("no.csv.gz", "o.parquet", {}, "table.unreadable", "cannot be read as CSV"),
        ("in.parquet", "o.parquet", {"rejects": tmp_path / "in.parquet", "overwrite": True}, "file.name", "is the source"),
        ("in.parquet", "o.parquet", {"findings": tmp_path / "link.csv", "overwrite": True}, "file.name", "is the source"),
        ("in.parquet", "link.csv", {"overwrite": True}, "file.name", "is the source"),
        ("parts", "o", {"findings": tmp_path / "parts" / "all.csv"}, "file.name", "is the source, or lies in it"),
        ("in.parquet", "o.parquet", {"rejects": tmp_path / "l.csv", "findings": tmp_path / "l.csv"}, "file.name", "two lists"),
        ("in.parquet", "o.parquet", {"rejects": tmp_path / "empty.csv"}, "file.exists", "empty.csv stands there already"),
        ("in.parquet", "o.parquet", {"findings": tmp_path / "standing.parquet"}, "file.exists", "stands there already"),
    ]:
        with pytest.raises(bc.BeadchemError) as refused:
            streams.correct_file(correction, tmp_path / source, tmp_path / target, **options)
        assert refused.value.code == code and words in str(refused.value)
    assert {path: path.read_bytes() for path in sorted(tmp_path.rglob("*")) if path.is_file()} == before


def test_overwriting_replaces_a_file_and_a_whole_folder(correction: Any, tmp_path: Path) -> None:
    source = written(case.beads(50), tmp_path / "in.parquet")
    (tmp_path / "out.parquet").write_text("old")
    streams.correct_file(correction, source, tmp_path / "out.parquet", overwrite=True)
    assert pq.read_table(tmp_path / "out.parquet").num_rows == 50
    for rows in (20, 50):
        folder = folder_of(case.beads(rows), tmp_path / f"in-{rows}")
        streams.correct_file(correction, folder, tmp_path / "out", overwrite=True)
        assert ds.dataset(tmp_path / "out").count_rows() == rows
    assert sorted(path.name for path in tmp_path.iterdir()) == ["in-20", "in-50", "in.parquet", "out", "out.parquet"]


def test_what_a_file_manager_leaves_in_a_folder_of_results_does_not_matter(correction: Any, tmp_path: Path) -> None:
    source = folder_of(case.beads(20), tmp_path / "in")
    streams.correct_file(correction, source, tmp_path / "out")
    (tmp_path / "out" / ".DS_Store").write_text("icons")
    assert streams.correct_file(correction, source, tmp_path / "out", overwrite=True).rows == 20


@pytest.mark.parametrize("kept", ["c.json", "notes/thesis.txt", "readings.parquet", "link"])
def test_overwriting_throws_no_folder_away_that_holds_anything_else(correction: Any, tmp_path: Path, kept: str) -> None:
    source, target = folder_of(case.beads(20), tmp_path / "in"), tmp_path / "out"
    streams.correct_file(correction, source, target)
    (target / kept).parent.mkdir(exist_ok=True)
    if kept == "link":
        (target / kept).symlink_to(tmp_path / "in")
    elif kept.endswith(".parquet"):
        written(case.beads(3), target / kept)
    else:
        (target / kept).write_text("not to be lost")
    with pytest.raises(bc.BeadchemError, match=f"holds {kept}, which is no result of a run") as refused:
        streams.correct_file(correction, source, target, overwrite=True)
    assert refused.value.code == "file.exists"
    assert (target / kept).exists() and not [path for path in tmp_path.iterdir() if path.name.startswith(".")]
    with pytest.raises(bc.BeadchemError, match="holds the source") as refused:
        streams.correct_file(correction, source, tmp_path, overwrite=True)
    assert refused.value.code == "file.name" and source.is_dir()


def test_a_link_to_a_folder_is_not_passed_over(correction: Any, tmp_path: Path) -> None:
    source = folder_of(case.beads(20), tmp_path / "in")
    (source / "older").symlink_to(folder_of(case.beads(9), tmp_path / "archive"))
    with pytest.raises(bc.BeadchemError, match="holds older, a link to a folder"):
        streams.correct_file(correction, source, tmp_path / "out")


def test_quotes_that_swallow_lines_are_found(correction: Any, tmp_path: Path) -> None:
    table = case.beads(100).drop_columns("note")
    pacsv.write_csv(table, tmp_path / "plain.csv", pacsv.WriteOptions(quoting_style="none"))
    lines = (tmp_path / "plain.csv").read_text().splitlines()

    def of_comments(comments: dict[int, str]) -> Path:
        said = [f"{lines[0]},comment", *(f"{line},{comments.get(row, '')}" for row, line in enumerate(lines[1:]))]
        (tmp_path / "in.csv").write_text("\n".join(said) + "\n")
        return tmp_path / "in.csv"

    for comments, words in [
        ({80: '"'}, "the quote that opens a cell in line 82 is never closed"),
        ({4: '"', 80: '"'}, "the quote that opens a cell in line 6 would make one cell of more than 50 lines"),
        ({4: '"', 90: '12","'}, "the quote that opens a cell in line 6 would make"),
        ({88: '12","'}, "the quote that opens a cell in line 90 is never closed"),
    ]:
        with pytest.raises(bc.BeadchemError, match=words):
            streams.correct_file(correction, of_comments(comments), tmp_path / "out.parquet")
    for number, (comments, note) in enumerate(
        [({4: '"'.join(["", "two\nlines", ""]), 7: '"a ""b"", c"', 9: 'of 12"'}, ["1 line ends stand inside quoted cells, the first in line 6"]), ({9: '"whole"'}, [])]
    ):
        outcome = streams.correct_file(correction, of_comments(comments), tmp_path / f"out-{number}.parquet")
        assert outcome.rows == 100 and [text.split(", and begin")[0] for text in outcome.notes] == note
    for mark, words in ((";", "separated by semicolons"), ("\t", "separated by tabs")):
        (tmp_path / "in.csv").write_text((tmp_path / "plain.csv").read_text().replace(",", mark))
        with pytest.raises(bc.BeadchemError, match=words):
            streams.correct_file(correction, tmp_path / "in.csv", tmp_path / "out.parquet")


def test_the_bar_says_share_rate_and_what_remains() -> None:
    import io

    from beadchem._progress import Bar, describe

    assert describe(250_000, 1_000_000, 50_000.0) == "[#####---------------]  25 %  250 000 rows, 50 000 rows/s, 15 s left"
    assert describe(250_000, None, 50_000.4) == "250 000 rows, 50 000 rows/s"
    assert describe(10, 10, 5.0).startswith("[####################] 100 %") and "left" not in describe(10, 10, 5.0)
    out, now = io.StringIO(), iter([0.0, 0.01, 2.0])
    bar = Bar(out, lambda: next(now))
    for done in (0, 10, 100):
        bar(done, 200)
    bar.end()
    drawn = out.getvalue().split("\r")
    assert drawn[2].startswith("[##########----------]  50 %  100 rows, 50 rows/s, 2 s left") and drawn[-2].strip() == ""


def test_every_refusal_has_a_code_of_the_one_table() -> None:
    import ast

    package = Path(streams.__file__).parent
    used = {
        call.args[0].value
        for path in [*package.glob("*.py"), *(package / "_files").glob("*.py")]
        for call in ast.walk(ast.parse(path.read_text(encoding="utf-8")))
        if isinstance(call, ast.Call) and isinstance(call.func, ast.Name) and call.func.id == "refused"
        if isinstance(call.args[0], ast.Constant)
    }
    assert {"run.differs", "file.exists", "table.header"} <= used
    assert used <= set(bc.codes())


def test_without_a_column_of_bead_ids_none_is_kept_or_compared(correction: Any, tmp_path: Path) -> None:
    for name in ("in.parquet", "in.csv"):
        written(case.beads(20, poisoned=False).drop_columns("bead"), tmp_path / name)
        outcome = streams.correct_file(correction, tmp_path / name, tmp_path / f"{name}.out.parquet")
        assert outcome.refused_rows == 0 and "bead" not in pq.read_schema(tmp_path / f"{name}.out.parquet").names
    with pytest.raises(bc.BeadchemError, match="There is no column 'bead' to keep"):
        streams.correct_file(correction, tmp_path / "in.parquet", tmp_path / "out.parquet", keep=["bead"])
