"""What is asked for: a wrong thing is refused in words that say what was given and what belongs there."""

from __future__ import annotations

import math
import subprocess
import sys
from pathlib import Path
from typing import Any

import beadchem as bc
import duckdb
import numpy as np
import pandas as pd
import pyarrow as pa
import pyarrow.parquet as pq
import pytest
import table_kinds as tk
from beadchem import __main__, _asked, streams

pytestmark = pytest.mark.filterwarnings("ignore::beadchem.BeadchemNote")
TABLE = tk.of_dict(tk.cells(4))
JOB: Any = tk.JOB


def declared(*quantities: str) -> Any:
    """A correction with columns of these quantities, named a0, a1 and so on."""
    fields = [bc.Field(quantity, name=f"a{place}") for place, quantity in enumerate(quantities)]
    lot = bc.FluxLot("F-118", {"Li2B4O7": 1}, programme="1050 C, 18 min", loss_percent=0.4)
    charge = bc.Charge(bc.Sample(0.8, basis="dried"), lot.weigh(8.0))
    return bc.Correction(JOB.method, charge, loss_on_fusion_percent=46.3, fields=fields)


def change(**options: Any) -> Any:
    return bc.recorrect(TABLE, JOB, **options)


@pytest.mark.parametrize(
    ("call", "words"),
    [
        (lambda: bc.correct(JOB, TABLE), "The table comes first and the correction second; here a Correction comes first."),
        (lambda: bc.recorrect(JOB, TABLE, change={}), "The table comes first"),
        (lambda: streams.stream(JOB, tk.arrow(tk.cells(4))), "The table comes first"),
        (lambda: streams.correct_file("in.csv", JOB, "out.csv"), "A text stands where a Correction belongs"),
        (lambda: bc.correct(TABLE, JOB.method), r"A Method stands where a Correction belongs. Correction\(method, charge"),
        (lambda: bc.correct(TABLE, JOB.to_json()), r"Correction.from_json\(text\) reads the stored form"),
        (lambda: bc.correct(TABLE, None), "A NoneType stands where a Correction belongs"),
        (lambda: change(to=JOB.method), "A Method stands where"),
        (lambda: bc.recorrect(TABLE, bc.Recorrection(JOB, JOB), to=JOB), "A Recorrection stands where a Correction belongs"),
        (lambda: bc.correct(TABLE, JOB, threads=2.5), "`threads` is 2.5; a whole number from 1 to 256"),
        (lambda: bc.correct(TABLE, JOB, keep=7), "`keep` is 7; names belong there"),
        (lambda: bc.correct(TABLE, JOB, keep=[7]), "`keep` holds 7; names belong there"),
        (lambda: change(to=JOB, limits={"CaO": 30}), "The limit of CaO is 30; a pair of low and high belongs there"),
        (lambda: change(to=JOB, limits={"CaO": ("low", None)}), "An end of the limit of CaO is 'low'"),
        (lambda: change(to=JOB, limits=[("CaO", (1, 2))]), "a dict belongs there"),
        (lambda: change(to=JOB, only="F-118"), "`only` is 'F-118'; a dict belongs there"),
        (lambda: change(to=JOB, only={"flux_lot": 118}), "`only` wants 118 in flux_lot; a text belongs there"),
        (lambda: bc.compare(TABLE, TABLE, limits={"CaO": 30}), "a pair of low and high belongs there"),
        (lambda: bc.correct(TABLE, JOB, uncertainty=True), '`uncertainty` is True; "none", "variance" or "covariance"'),
        (lambda: streams.stream(tk.arrow(tk.cells(1)), JOB, uncertainty=None), "`uncertainty` is None"),
        (lambda: streams.stream(tk.arrow(tk.cells(1)), JOB, chunk_rows="9"), "`chunk_rows` is '9'; a whole number"),
        (lambda: streams.correct_file(JOB, "in.csv", "out.csv", progress=True), "`progress` is True; a function belongs there"),
        (lambda: streams.stream(tk.arrow(tk.cells(1)), JOB, findings=True), "`findings` is True; a function belongs there"),
        (lambda: streams.reader(tk.arrow(tk.cells(1)), JOB, chunk_rows=True), "`chunk_rows` is True; a whole number"),
        (lambda: streams.stream(tk.arrow(tk.cells(1)), JOB, progress=3), "`progress` is 3; a function belongs there"),
        (lambda: bc.correct(duckdb.from_arrow(tk.arrow(tk.cells(1))), JOB, connection=3), "`connection` is 3; the DuckDB connection"),
    ],
)
def test_a_wrong_type_says_what_belongs_there(call: Any, words: str) -> None:
    with pytest.raises(TypeError, match=words):
        call()


@pytest.mark.parametrize(
    ("call", "code", "words"),
    [
        (lambda: bc.correct(TABLE, JOB, threads=-1), "number.out-of-range", "Number of threads -1 is outside 1 to 256."),
        (lambda: bc.correct(TABLE, JOB, threads=257), "number.out-of-range", "257"),
        (lambda: streams.stream(tk.arrow(tk.cells(1)), JOB, threads=-1), "number.out-of-range", "-1"),
        (lambda: streams.correct_file(JOB, "in.csv", "out.csv", threads=-1), "number.out-of-range", "-1"),
        (lambda: change(to=JOB, limits={"CaO": (31.0, 30.0)}), "number.out-of-range", "from 31 to 30 %: low is above high"),
        (lambda: bc.compare(TABLE, TABLE, limits={"CaO": (31, 30)}), "number.out-of-range", "low is above high"),
        (lambda: change(to=JOB, limits={"CaO": (math.nan, None)}), "number.not-finite", "is nan"),
        (lambda: change(to=JOB, limits={"CaO": (1, 2), "CaO_percent": (1, 2)}), "species.doubled", "CaO has two limits"),
        (lambda: change(change={"flux_loss_percent": 0.6}), "table.layout", "but not of which of 2 lots: F-118, F-121"),
        (lambda: change(change={"flux_loss_percent": 0.6}, only={"class": "a"}), "table.layout", "but not of which"),
        (lambda: change(to=JOB, limits={"CaO": (None, None)}), "table.layout", "The limit of CaO has no end."),
        (lambda: change(to=JOB, limits={"CaO": (None, -3)}), "number.out-of-range", "is -3 %, outside 0 to 1000 %"),
        (lambda: change(to=JOB, limits={"CaO": (3000, None)}), "number.out-of-range", "is 3000 %, outside 0 to 1000 %"),
        (lambda: change(change={}), "table.layout", "Say either `to` or `change`."),
        (lambda: bc.correct(pd.Series([1.0]), JOB), "table.kind", "A Series is a single column, not a table."),
        (lambda: bc.correct(pa.array([1.0]), JOB), "table.kind", "is a single column, not a table."),
        (lambda: bc.Field("sample mass", u_relative=50), "number.out-of-range", "Are these percent?"),
        (lambda: declared("sample mass", "flux mass", "sample mass"), "table.column-doubled", "declared twice, in the columns a0 and a2"),
        (lambda: change(to=JOB, only={"flux_lot": "F-1"}), "flux.lot-unknown", "`F-1` is not known. The lots are: F-118, F-121."),
    ],
)
def test_a_wrong_number_or_word_has_a_code(call: Any, code: str, words: str) -> None:
    with pytest.raises(bc.BeadchemError) as refused:
        call()
    assert refused.value.code == code and words in str(refused.value) and refused.value.hint


def test_what_is_meant_is_taken() -> None:
    assert list(bc.correct(TABLE, JOB, keep="bead", threads=np.int64(2)))[0] == "bead"
    long, short = (change(to=JOB, limits={name: [np.float64(30.0), None]}) for name in ("CaO_percent", "CaO"))
    assert long.keys() == short.keys()
    of_lot = change(change={"flux_loss_percent": bc.value(0.9, 0.03)}, only={"flux_lot": "F-121"})["CaO_percent_change"]
    assert [one != 0 for one in of_lot] == [lot == "F-121" for lot in TABLE["flux_lot"]]
    assert _asked.ids("B-1") == {"B-1"}


def test_results_without_masses_go_by_the_factor_of_their_lot_and_say_so() -> None:
    stored = {"flux_lot": np.array(["F-118", "F-121"], dtype=object), "CaO_percent": np.array([30.0, 30.0])}
    options: Any = {"change": {"flux_loss_percent": bc.value(0.9, 0.03)}, "limits": {"CaO": (29.99, None)}, "findings": True}
    for make in (dict, pa.table, pd.DataFrame):
        result, found = bc.recorrect(make(stored), JOB, only={"flux_lot": "F-121"}, **options)
        new, row = np.asarray(result["CaO_percent_new"]), np.asarray(found["row"])
        assert new.tolist() == [30.0, pytest.approx(30.0 * (1 - 0.009) / (1 - 0.0062), rel=1e-12)]  # first order is exact here
        assert sorted(map(str, found["code"])) == ["limit.crossed", "recipe.estimated"]
        assert row.tolist() == [1, 1]


def test_the_column_of_lots_is_the_declared_one() -> None:
    lots = [bc.FluxLot(name, {"Li2B4O7": 1}, programme="1050 C, 18 min", loss_percent=0.4) for name in ("A", "B")]
    charge = bc.Charge(bc.Sample(0.8, basis="dried"), lots[0].weigh(8.0))
    job = bc.Correction(JOB.method, charge, lots=lots[1:], loss_on_fusion_percent=46.3, fields=[bc.Field("flux lot", name="tin", optional=True)])
    with pytest.raises(bc.BeadchemError, match="Flux lot `C` is not known"):
        bc.recorrect(TABLE, job, change={"flux_loss_percent": 0.6}, only={"tin": "C"})
    with pytest.raises(bc.BeadchemError, match="only={'tin': 'B'}"):
        bc.recorrect(TABLE, job, change={"flux_loss_percent": 0.6})


# --- comparing


def results(lime: float) -> dict[str, Any]:
    return {"CaO_percent": np.array([lime]), "MgO_percent": np.array([20.0])}


def test_tables_without_a_result_in_common_are_refused() -> None:
    for old, new in ((TABLE, TABLE), (results(30.0), TABLE), (results(30.0), {"CaO_percent_new": np.array([30.0])})):
        with pytest.raises(bc.BeadchemError, match="no column of results in common") as refused:
            bc.compare({name: column[:1] for name, column in old.items()}, {name: column[:1] for name, column in new.items()})
        assert refused.value.code == "table.header"


@pytest.mark.parametrize("make", [dict, pa.table, lambda made: pa.table(made).to_pandas()])
def test_results_and_limits_go_by_column_or_by_species(make: Any) -> None:
    old, new = make(results(30.0)), make(results(31.0))
    for name in ("CaO", "CaO_percent"):
        _, found = bc.compare(old, new, results=[name], limits={name: (None, 30.5)})
        assert [one.column for one in found.differences] == ["CaO_percent"] and len(found.crossings) == 1
    assert [one.column for one in bc.compare(old, new, results="MgO")[1].differences] == ["MgO_percent"]


@pytest.fixture
def folder(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Path:
    monkeypatch.chdir(tmp_path)
    table = tk.arrow(tk.cells(4))
    pq.write_table(table, "in.parquet")
    pq.write_table(bc.correct(table, JOB, keep="bead"), "results.parquet")
    Path("c.json").write_text(JOB.to_json(), encoding="utf-8")
    return tmp_path


@pytest.mark.parametrize(
    ("arguments", "words"),
    [
        ("compare in.parquet in.parquet", "no column of results in common"),
        ("compare results.parquet in.parquet", "no column of results in common"),
        ("compare results.parquet results.parquet --limit CaO=31:30", "low is above high"),
        ("recorrect c.json c.json in.parquet out.parquet --limit CaO=31:30", "low is above high"),
        ("recorrect c.json c.json in.parquet out.parquet --limit CaO=30: --limit CaO=:31", "--limit is given twice for CaO"),
        ("recorrect c.json c.json in.parquet out.parquet --only flux_lot=F-1", "The lots are: F-118, F-121."),
        ("recorrect c.json c.json in.parquet out.parquet --only flux_lot=F-118 --only flux_lot=F-121", "twice for flux_lot"),
    ],
)
def test_the_command_refuses_with_2(folder: Path, capsys: Any, arguments: str, words: str) -> None:
    before = sorted(folder.iterdir())
    assert __main__.main(arguments.split()) == 2
    out, err = capsys.readouterr()
    assert words in err and err.count("\n") == 1 and out == "" and sorted(folder.iterdir()) == before


def test_the_command_takes_both_spellings(folder: Path) -> None:
    assert __main__.main("compare results.parquet results.parquet --results CaO --limit CaO_percent=30:31".split()) == 0


@pytest.mark.parametrize("arguments", [["compare", "results.parquet", "results.parquet"], ["codes"]])
def test_a_reader_who_leaves_ends_it_quietly(folder: Path, arguments: list[str]) -> None:
    child = subprocess.Popen([sys.executable, "-m", "beadchem", *arguments], stdout=subprocess.PIPE, stderr=subprocess.PIPE)
    assert child.stdout is not None and child.stderr is not None
    child.stdout.close()
    assert child.stderr.read() == b"" and child.wait() == 0
    child.stderr.close()
