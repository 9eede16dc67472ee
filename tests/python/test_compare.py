"""Two tables of results held against each other: every kind of table, and files on the command line."""

from __future__ import annotations

import math
import subprocess
import sys
from pathlib import Path
from typing import Any

import beadchem as bc
import numpy as np
import pyarrow as pa
import pyarrow.csv as pacsv
import pyarrow.parquet as pq
import pytest
import table_kinds as tk
from beadchem import __main__
from beadchem._files import faults

pytestmark = pytest.mark.filterwarnings("ignore::beadchem.BeadchemNote")  # most of these tables have no loss on ignition, so no total

ROWS = 24
MOVED, GONE, SPOILT = 3, 7, 11
KEEP = ["bead", "sample_g", "flux_lot"]


def changed() -> tk.Cells:
    """The beads with one mass corrected, one bead lost, one mass spoilt, and in another order."""
    made = tk.cells(ROWS)
    made["sample_g"][MOVED] += 0.02
    made["sample_g"][SPOILT] = -1.0
    order = [row for row in reversed(range(ROWS)) if row != GONE]
    return {name: [column[row] for row in order] for name, column in made.items()}


def results(made: tk.Cells, job: Any = tk.JOB, **how: Any) -> pa.Table:
    return bc.correct(tk.arrow(made), job, uncertainty="variance", keep=KEEP, **how)


def cells_of(table: pa.Table) -> tk.Cells:
    return {name: table[name].to_pylist() for name in table.column_names if name not in ("finding", "reason")}


@pytest.fixture(scope="module")
def both() -> tuple[pa.Table, pa.Table]:
    return results(tk.cells(ROWS)), results(changed())


def expected(both: tuple[pa.Table, pa.Table]) -> tk.Cells:
    """Old, new, change and change per u of lime, worked out by hand."""
    old, new = ({row["bead"]: row for row in table.to_pylist()} for table in both)
    columns: tk.Cells = {name: [] for name in ("bead", *(f"CaO_percent_{part}" for part in ("old", "new", "change", "change_per_u")))}
    for bead, row in old.items():
        before, after = row["CaO_percent"], new.get(bead, {}).get("CaO_percent")
        change = None if after is None else after - before
        per_u = None if change is None else change / row["CaO_percent_u"]
        for name, cell in zip(columns, (bead, before, after, change, per_u), strict=True):
            columns[name].append(cell)
    return columns


def limit(both: tuple[pa.Table, pa.Table]) -> float:
    """A content of lime that only the bead with the corrected mass is below and above."""
    lime = expected(both)
    return 0.5 * (lime["CaO_percent_old"][MOVED] + lime["CaO_percent_new"][MOVED])


@pytest.mark.parametrize("kind", tk.KINDS, ids=lambda kind: kind.name)
def test_every_kind_of_table_comes_back_as_its_kind(kind: tk.Kind, both: tuple[pa.Table, pa.Table], monkeypatch: Any) -> None:
    monkeypatch.setattr(tk, "NUMBERS", tuple(name for name in cells_of(both[0]) if name not in tk.WORDS))
    old, new = (kind.make(cells_of(table)) for table in both)
    table, found = bc.compare(old, new)
    assert isinstance(table, kind.kind)
    made = kind.read(table)
    wanted = expected(both)
    one_state = kind.null != "apart"
    for name, column in wanted.items():
        assert all(tk.same(left, right, one_state) for left, right in zip(made[name], column, strict=True)), name
    assert [row for row, text in enumerate(made["moved"]) if text] == [MOVED, SPOILT]
    assert made["moved_with"][MOVED] == "sample_g" and made["finding"][GONE] == "bead.unmatched"
    lime = next(one for one in found.differences if one.column == "CaO_percent")
    assert (lime.compared, lime.moved, lime.gone, lime.with_inputs, lime.unexplained) == (ROWS - 2, 1, 1, [("sample_g", 1)], 0)
    assert found.unpaired == [GONE] and found.rows[GONE] == (GONE, None)
    assert lime.largest_row == MOVED and lime.largest == wanted["CaO_percent_change"][MOVED]


def test_tables_of_two_kinds_are_held_against_each_other(both: tuple[pa.Table, pa.Table]) -> None:
    table, found = bc.compare(both[0].to_pandas(), both[1])
    assert type(table).__module__.startswith("pandas") and found.differences[0].moved == 1


def test_limits_name_the_rows_that_cross_them(both: tuple[pa.Table, pa.Table]) -> None:
    table, found = bc.compare(*both, limits={"CaO": (None, limit(both))})
    assert [(row, bead) for row, bead, _ in found.crossings] == [(MOVED, f"B-{MOVED}")]
    assert found.crossings[0][2].startswith("CaO was ") and table["finding"].to_pylist()[MOVED] == "limit.crossed"


def test_versions_are_read_from_the_metadata_and_traced_to_their_rows() -> None:
    other = tk.JOB.with_flux_loss("F-121", bc.value(0.9, 0.03))
    made = tk.cells(ROWS)
    table, found = bc.compare(results(made), results(made, other))
    lots = made["flux_lot"]
    assert [text is not None for text in table["moved"].to_pylist()] == [lot == "F-121" for lot in lots]
    assert set(table["moved_with"].to_pylist()) == {None, "flux lot F-121"}
    assert [what for what, _, _ in found.versions or []] == ["flux lot F-121"]
    assert found.differences[0].with_versions == [("flux lot F-121", lots.count("F-121"))]
    assert found.differences[0].unexplained == 0 and "flux lot F-121: " in repr(found)
    _, unknown = bc.compare(results(made).to_pandas().to_dict("series"), results(made, other))
    assert unknown.versions is None and unknown.differences[0].unexplained == lots.count("F-121")


def test_the_same_results_are_the_same(both: tuple[pa.Table, pa.Table]) -> None:
    table, found = bc.compare(both[0], both[0])
    assert found.is_same and found.versions == [] and table["moved"].null_count == ROWS
    assert "There is no difference." in repr(found) and "<table" in found._repr_html_()
    moved = both[0].set_column(
        both[0].column_names.index("CaO_percent"), "CaO_percent", pa.array([cell + 1e-9 for cell in both[0]["CaO_percent"].to_pylist()])
    )
    assert not bc.compare(both[0], moved)[1].is_same and bc.compare(both[0], moved, tolerance=1e-8)[1].is_same


def test_columns_that_are_neither_numbers_nor_words_are_not_looked_at(both: tuple[pa.Table, pa.Table]) -> None:
    flags = both[0].append_column("good", pa.array([True] * ROWS))
    assert bc.compare(flags, both[0])[1].is_same
    arrays = {"CaO_percent": np.array([30.0]), "good": np.array([True]), "when": np.array(["2026-03-14"], dtype="datetime64[D]")}
    assert bc.compare(arrays, arrays)[1].is_same


@pytest.mark.parametrize(
    ("options", "code"),
    [
        ({"by": "id"}, "table.header"),
        ({"results": ["SO3_percent"]}, "table.header"),
        ({"results": ["flux_lot"]}, "table.column-type"),
        ({"limits": {"SO3": (None, 1.0)}}, "species.unknown"),
        ({"tolerance": -1.0}, "number.out-of-range"),
        ({"tolerance": math.nan}, "number.not-finite"),
    ],
)
def test_what_cannot_be_compared_is_refused(both: tuple[pa.Table, pa.Table], options: dict[str, Any], code: str) -> None:
    with pytest.raises(bc.BeadchemError) as refused:
        bc.compare(*both, **options)
    assert refused.value.code == code and refused.value.hint


def test_a_doubled_column_of_pandas_is_refused_as_elsewhere() -> None:
    import pandas as pd

    frame = pd.DataFrame({"CaO_percent": [30.0], "MgO_percent": [20.0]})
    doubled = pd.concat([frame.assign(CaO_percent=35.0), frame[["CaO_percent"]]], axis=1)
    for old, new in ((frame, doubled), (doubled, frame)):
        with pytest.raises(bc.BeadchemError, match="two columns named CaO_percent") as refused:
            bc.compare(old, new)
        assert refused.value.code == "table.column-doubled"


def test_other_tables_than_those_are_refused() -> None:
    for wrong in (7, np.zeros(3)):
        with pytest.raises(bc.BeadchemError) as refused:
            bc.compare(wrong, wrong)
        assert refused.value.code == "table.kind"


# --- files


def write(table: pa.Table, path: Path) -> None:
    if path.suffix == ".csv":
        words = [place for place, field in enumerate(table.schema) if pa.types.is_dictionary(field.type)]
        for place in words:
            table = table.set_column(place, table.column_names[place], table.column(place).cast(pa.string()))
        pacsv.write_csv(table, path)
    else:
        pq.write_table(table, path, row_group_size=7)


def compare(*arguments: object) -> int:
    return __main__.main(["compare", *map(str, arguments)])


@pytest.mark.parametrize("names", [("old.parquet", "new.parquet"), ("old.csv", "new.csv"), ("old.csv", "new.parquet")])
def test_files_that_differ_are_1_and_say_how(both: tuple[pa.Table, pa.Table], tmp_path: Path, capsys: Any, names: tuple[str, str]) -> None:
    old, new = (tmp_path / name for name in names)
    write(both[0], old)
    write(both[1], new)
    assert compare(old, new, "--limit", f"CaO=:{limit(both)}", "--out", tmp_path / "rows.csv") == 1
    out, err = capsys.readouterr()
    assert err == "" and "CaO_percent" in out and "sample_g 1" in out
    crossing = f"row {MOVED} (bead B-{MOVED}): CaO was "
    assert crossing in out and f"row {GONE}: B-{GONE} is only in the old table." in out
    rows = pacsv.read_csv(tmp_path / "rows.csv")
    assert rows["CaO_percent_old"].to_pylist() == both[0]["CaO_percent"].to_pylist() and rows.num_rows == ROWS
    assert compare(old, new, "--out", tmp_path / "rows.csv") == 2 and "stands there already" in capsys.readouterr().err
    assert compare(old, new, "--out", tmp_path / "rows.csv", "--overwrite") == 1


def test_files_with_the_same_results_are_0(both: tuple[pa.Table, pa.Table], tmp_path: Path, capsys: Any) -> None:
    write(both[0], tmp_path / "old.parquet")
    write(both[0], tmp_path / "new.csv")
    assert compare(tmp_path / "old.parquet", tmp_path / "new.csv") == 0
    assert "There is no difference." in capsys.readouterr().out
    write(both[1], tmp_path / "new.csv")
    assert compare(tmp_path / "old.parquet", tmp_path / "new.csv", "--results", "SiO2_percent", "--tolerance", 50) == 1


def test_many_rows_of_one_file_are_counted(both: tuple[pa.Table, pa.Table], tmp_path: Path, capsys: Any) -> None:
    write(both[0], tmp_path / "old.parquet")
    write(both[0].slice(0, 1), tmp_path / "new.parquet")
    assert compare(tmp_path / "old.parquet", tmp_path / "new.parquet") == 1
    assert "and 3 more rows without a partner" in capsys.readouterr().out


@pytest.mark.parametrize(
    ("arguments", "words"),
    [
        (["absent.parquet", "new.parquet"], "There is no file absent.parquet. Is the name right?"),
        (["torn.parquet", "new.parquet"], "cannot be read as Parquet"),
        (["new.parquet", "ragged.csv"], "has 1 cell where the header has 2"),
        (["new.parquet", "new.txt"], "what kind of file this is cannot be told"),
        (["new.parquet", "new.parquet", "--by", "id"], "`id` is not known. The table has: "),
        (["new.parquet", "new.parquet", "--out", "new.parquet"], "is one of the files to compare"),
        (["new.parquet", "new.parquet", "--out", "rows.xlsx"], "no table can be written under this name"),
        (["new.parquet", "new.parquet", "--out", "absent/rows.csv"], "There is no folder absent"),
    ],
)
def test_a_refusal_is_2(
    both: tuple[pa.Table, pa.Table], tmp_path: Path, capsys: Any, monkeypatch: pytest.MonkeyPatch, arguments: list[str], words: str
) -> None:
    monkeypatch.chdir(tmp_path)
    write(both[0], Path("new.parquet"))
    Path("torn.parquet").write_bytes(Path("new.parquet").read_bytes()[:200])
    Path("ragged.csv").write_text("bead,CaO_percent\nB-1,30\nB-2\n")
    Path("new.txt").write_text("")
    assert compare(*arguments) == 2
    out, err = capsys.readouterr()
    assert words in err and out == "" and err.count("\n") == 1


def test_what_the_system_refuses_is_2_too(monkeypatch: pytest.MonkeyPatch, tmp_path: Path, capsys: Any) -> None:
    from beadchem import _compare_command

    for raised, words in [(OSError(5, "Input/output error", "old.csv"), "old.csv: Input/output error."), (MemoryError(), "in parts")]:

        def fails(_: Any, raised: BaseException = raised) -> int:
            raise raised

        monkeypatch.setattr(_compare_command, "compare_command", fails)
        assert compare("old.csv", "new.csv") == 2 and words in capsys.readouterr().err


def test_a_disk_that_fails_leaves_no_file(both: tuple[pa.Table, pa.Table], tmp_path: Path, capsys: Any) -> None:
    write(both[0], tmp_path / "old.parquet")

    def full(name: str) -> None:
        if name == "written":
            raise OSError(28, "No space left on device", "rows.csv")

    faults.install(full)
    try:
        assert compare(tmp_path / "old.parquet", tmp_path / "old.parquet", "--out", tmp_path / "rows.csv") == 2
    finally:
        faults.install(None)
    assert capsys.readouterr().err == "rows.csv: No space left on device.\n"
    assert [path.name for path in tmp_path.iterdir()] == ["old.parquet"]


def test_a_folder_of_parquet_files_is_one_table(both: tuple[pa.Table, pa.Table], tmp_path: Path) -> None:
    for number, start in enumerate(range(0, ROWS, 8)):
        (tmp_path / "old" / f"day={number}").mkdir(parents=True)
        pq.write_table(both[0].slice(start, 8), tmp_path / "old" / f"day={number}" / "a.parquet")
    write(both[0], tmp_path / "new.parquet")
    assert compare(tmp_path / "old", tmp_path / "new.parquet") == 0


def test_the_command_runs_by_itself(both: tuple[pa.Table, pa.Table], tmp_path: Path) -> None:
    write(both[0], tmp_path / "old.parquet")
    write(both[1], tmp_path / "new.parquet")
    command = [sys.executable, "-m", "beadchem", "compare", "old.parquet", "new.parquet"]
    done = subprocess.run(command, capture_output=True, text=True, cwd=tmp_path)
    assert (done.returncode, done.stderr) == (1, "") and "CaO_percent" in done.stdout
