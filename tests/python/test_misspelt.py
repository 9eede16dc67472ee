"""A column that is nearly one of those that are read is never passed over: every kind of table, streams, files, the command."""

from __future__ import annotations

import subprocess
import sys
from pathlib import Path
from typing import Any

import beadchem as bc
import duckdb
import numpy as np
import openpyxl
import pandas as pd
import polars as pl
import pyarrow as pa
import pyarrow.csv as pacsv
import pyarrow.parquet as pq
import pytest
import table_kinds as tk
from beadchem import __main__, _core, _headers, streams

pytestmark = pytest.mark.filterwarnings("ignore::beadchem.BeadchemNote")
ROWS = 3


def renamed(old: str, new: str) -> tk.Cells:
    return {new if name == old else name: column for name, column in tk.cells(ROWS).items()}


def with_column(name: str, cell: Any = 1.0) -> tk.Cells:
    return {**tk.cells(ROWS), name: [cell] * ROWS}


def refusal(call: Any) -> bc.BeadchemError:
    with pytest.raises(bc.BeadchemError) as refused:
        call()
    assert refused.value.code == "table.header" and refused.value.hint
    return refused.value


@pytest.mark.parametrize("kind", tk.KINDS, ids=lambda kind: kind.name)
@pytest.mark.parametrize(("column", "written"), [("flux_lot", "fluxlot"), ("Ca_Ka_cps", "Ca Ka cps")])
def test_every_kind_of_table_is_refused(kind: tk.Kind, column: str, written: str, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(tk, "WORDS", ("bead", "flux_lot", "fluxlot"))
    made = renamed(column, written)
    monkeypatch.setattr(tk, "NUMBERS", tuple(name for name in made if name not in tk.WORDS))
    told = refusal(lambda: kind.read(bc.correct(kind.make(made), tk.JOB)))
    assert f"There is no column {column}, but {written} is near it." in str(told)
    assert "Rename it, declare it with bc.Field, or leave it out." in told.hint


@pytest.mark.parametrize(
    ("column", "written"),
    [
        ("flux_lot", "fluxlot"), ("flux_lot", "flux_loT"), ("flux_lot", "Flux Lot"), ("flux_lot", "flux_lott"),
        ("Ca_Ka_cps", "Ca_Ka_CPS"), ("Ca_Ka_cps", "Ca_Ka"), ("sample_g", "sample_mg"), ("bead", "Bead"), ("bead", "bead_id"),
    ],
)
def test_a_renamed_column_is_found(column: str, written: str) -> None:
    told = refusal(lambda: bc.correct(tk.of_polars(tk.cells(ROWS)).rename({column: written}), tk.JOB))
    assert told.quantity == f"There is no column {column}, but {written} is near it"


@pytest.mark.parametrize(
    ("column", "written"),
    [
        ("moisture_percent", "moisture"), ("moisture_percent", "moisture_pct"), ("moisture_percent", "Moisture, %"),
        ("loss_on_fusion_percent", "loss_on_fusion_pct"), ("loss_on_ignition_percent", "loss_on_igntion_percent"),
        ("bead_g", "bead_mg"), ("method_version", "methodversion"),
    ],
)
def test_an_optional_column_is_found(column: str, written: str) -> None:
    told = refusal(lambda: bc.correct(tk.of_dict(with_column(written)), tk.JOB))
    assert f"There is no column {column}, but {written} is near it." in str(told)


@pytest.mark.parametrize(
    "name",
    [
        "Fe_Ka_cps", "Mg_Kb_cps", "CaO_percent", "predicted_bead_g", "weighed_by", "weighed_g", "class_percent", "sample",
        "sample_name", "sample_2_g", "flux", "LOI", "operator", "note", "CaO", "bead_2", "", "ü", "%",
    ],
)
def test_another_column_is_no_near_one(name: str) -> None:
    assert bc.correct(tk.of_dict(with_column(name)), tk.JOB)["CaO_percent"].shape == (ROWS,)


def test_another_species_is_no_near_one() -> None:
    class Job:
        fields = ["sample_g", "SO3_known_percent", "addition_NaNO3_g", "Fe_Ka_cps"]
        declared = [
            bc.Field("sample mass"), bc.Field("known", "SO3"), bc.Field("addition", "1", name="NaNO3_g"), bc.Field("intensity", "Fe Ka"),
        ]

    for name in ("SiO3_known_percent", "KNO3_g", "Fe_Kb_ratio", "Te_Ka_cps"):
        _headers.check(["sample_g", name], Job, ())
    assert "SO3_known_percent" in str(refusal(lambda: _headers.check(["sample_g", "so3_known"], Job, ())))
    assert "NaNO3_g" in str(refusal(lambda: _headers.check(["sample_g", "nano3_mg"], Job, ())))


def test_what_is_kept_or_declared_is_meant_as_written() -> None:
    table = tk.of_dict(with_column("moisture"))
    assert list(bc.correct(table, tk.JOB, keep="moisture"))[0] == "moisture"
    field = bc.Field("moisture", name="moisture", unit="%", optional=True)
    job = bc.Correction(tk.JOB.method, charge(), loss_on_fusion_percent=46.3, fields=[field])
    assert bc.correct(table, job)["CaO_percent"].shape == (ROWS,)


def charge() -> bc.Charge:
    lot = bc.FluxLot("F-118", {"Li2B4O7": 50, "LiBO2": 50}, programme="1050 C, 18 min", loss_percent=bc.value(0.4, 0.03))
    return bc.Charge(bc.Sample(bc.value(0.8, 1e-4), basis="dried"), lot.weigh(bc.value(8.0, 1e-4)))


@pytest.mark.parametrize(
    "table",
    [
        {"a": np.array([1.0])}, pd.DataFrame({"a": [1.0], 7: [2.0]}), pl.DataFrame({"a": [1.0]}), pl.LazyFrame({"a": [1.0]}),
        pa.table({"a": [1.0]}), duckdb.sql("select 1.0 as a"), np.array([(1.0,)], dtype=[("a", "f8")]),
    ],
    ids=["dict", "pandas", "polars", "lazy", "pyarrow", "duckdb", "structured"],
)
def test_a_table_without_any_of_the_columns_says_which_it_has(table: Any) -> None:
    told = refusal(lambda: bc.correct(table, tk.JOB))
    assert "none of the columns that are read: it has a." in str(told) and "sample_g, flux_g, Ca_Ka_cps" in told.hint


def test_recorrections_look_too() -> None:
    told = refusal(lambda: bc.recorrect(tk.of_pandas(tk.cells(ROWS)).rename(columns={"bead": "Bead"}), tk.JOB, to=tk.JOB))
    assert "Bead is near it" in str(told)


# --- streams and files


def arrow(old: str = "flux_lot", new: str = "Flux Lot") -> pa.Table:
    table = tk.arrow(tk.cells(ROWS))
    return table.rename_columns([new if name == old else name for name in table.column_names])


def test_streams_refuse(tmp_path: Path) -> None:
    for give in (streams.reader, lambda *given, **how: list(streams.stream(*given, **how))):
        assert "Flux Lot is near it" in str(refusal(lambda give=give: give(arrow(), tk.JOB)))
        assert give(arrow(), tk.JOB, keep="Flux Lot")
    late = [tk.arrow(tk.cells(ROWS)).to_batches()[0], arrow().to_batches()[0]]
    assert "Flux Lot is near it" in str(refusal(lambda: list(streams.stream(late, tk.JOB, chunk_rows=ROWS))))


def written(path: Path, table: pa.Table) -> Path:
    if path.suffix == ".xlsx":
        book = openpyxl.Workbook()
        for row in [table.column_names, *zip(*(column.to_pylist() for column in table.columns), strict=True)]:
            book.active.append(row)
        book.save(path)
    elif path.name.endswith(".csv"):
        pacsv.write_csv(table, path)
    else:
        pq.write_table(table, path)
    return path


@pytest.mark.parametrize("name", ["in.parquet", "in.csv", "in.xlsx", "in"])
@pytest.mark.parametrize("command", ["correct", "recorrect"])
def test_the_command_refuses_and_writes_nothing(tmp_path: Path, capsys: Any, name: str, command: str) -> None:
    source, stored, target = tmp_path / name, tmp_path / "c.json", tmp_path / ("out" if name == "in" else "out.parquet")
    stored.write_text(tk.JOB.to_json(), encoding="utf-8")
    if name == "in":
        source.mkdir()
        written(source / "a.parquet", tk.arrow(tk.cells(ROWS)))
        written(source / "b.parquet", arrow())
    else:
        written(source, arrow())
    before = sorted(tmp_path.rglob("*"))
    corrections = [stored] if command == "correct" else [stored, stored]
    assert __main__.main([command, *map(str, corrections), str(source), str(target)]) == 2
    out, err = capsys.readouterr()
    assert "There is no column flux_lot, but Flux Lot is near it." in err and err.count("\n") == 1 and out == ""
    assert sorted(tmp_path.rglob("*")) == before
    assert __main__.main([command, *map(str, corrections), str(source), str(target), "--keep", "Flux Lot"]) == (2 if name == "in" else 0)


def test_a_column_that_a_folder_states_is_there(tmp_path: Path) -> None:
    made = tk.arrow(tk.cells(ROWS))
    for folder, good in (("flux_lot=F-118", True), ("fluxlot=F-118", False)):
        (tmp_path / folder[:5] / folder).mkdir(parents=True)
        written(tmp_path / folder[:5] / folder / "a.parquet", made.drop_columns("flux_lot"))
        run = lambda folder=folder: streams.correct_file(tk.JOB, tmp_path / folder[:5], tmp_path / f"{folder} out")  # noqa: E731
        if good:
            assert run().refused_rows == 0
        else:
            assert "fluxlot is near it" in str(refusal(run))


def test_a_table_of_an_unknown_library_is_read_without_pyarrow_too() -> None:
    code = (
        "import sys\nsys.modules['pyarrow'] = None\n"
        "import warnings; warnings.simplefilter('ignore')\n"
        "import beadchem as bc, polars as pl\n"
        "class Speaker:\n"
        "    def __init__(self, frame): self.__arrow_c_stream__ = frame.__arrow_c_stream__\n"
        "job = bc.Correction.from_json(sys.stdin.read())\n"
        f"frame = pl.DataFrame({ {name: column for name, column in tk.cells(ROWS).items()}!r})\n"
        "print(type(bc.correct(Speaker(frame), job)).__name__)"
    )
    done = subprocess.run([sys.executable, "-c", code], input=tk.JOB.to_json(), capture_output=True, text=True, check=True)
    assert done.stdout == f"{_core.ArrowColumns.__name__}\n"


def test_a_mass_that_is_not_there_is_refused_with_all_columns_that_are() -> None:
    told = refusal(lambda: bc.correct(tk.of_dict(renamed("sample_g", "weight")), tk.JOB))
    assert str(told).startswith("There is no column sample_g, the sample mass. The table has: bead, flux_lot, weight, flux_g")


def test_a_column_in_another_unit_is_to_be_converted_not_renamed() -> None:
    for old, new in (("Ca_Ka_cps", "Ca_Ka_kcps"), ("sample_g", "sample_mg"), ("flux_g", "flux_kg")):
        told = refusal(lambda old=old, new=new: bc.correct(tk.of_dict(renamed(old, new)), tk.JOB))
        assert f"but {new} is near it. It says another unit: convert it to " in str(told) and f"and name it {old}" in str(told)


def test_columns_that_texts_do_not_name_are_told_as_such() -> None:
    frame = tk.of_pandas(tk.cells(3))
    for columns in (pd.MultiIndex.from_product([["raw"], frame.columns]), range(frame.shape[1])):
        frame.columns = columns
        assert "are not named by texts" in str(refusal(lambda: bc.correct(frame, tk.JOB)))
