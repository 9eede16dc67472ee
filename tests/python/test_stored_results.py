"""Re-correction from results alone: nothing is changed that is not known to want it, and nothing twice."""

from __future__ import annotations

import warnings
from collections.abc import Callable
from pathlib import Path
from typing import Any

import beadchem as bc
import numpy as np
import pyarrow as pa
import pyarrow.parquet as pq
import pytest
import table_kinds as tk
from beadchem import __main__

pytestmark = pytest.mark.filterwarnings("ignore::beadchem.BeadchemNote")  # no loss on ignition, so no total

OLD, NEW = tk.JOB, tk.JOB.with_flux_loss("F-118", 2.0)
ROWS = 6
MAKES = [tk.of_pandas, tk.arrow]


def stored(make: Callable[[tk.Cells], Any], job: bc.Correction = OLD, **columns: Any) -> Any:
    return bc.correct(make(tk.cells(ROWS) | columns), job, uncertainty="variance", keep=["bead", "flux_lot", *columns])


def column(table: Any, name: str) -> list[float | None]:
    cells = table[name].to_pylist() if isinstance(table, pa.Table) else table[name].tolist()
    return [None if cell is None or cell != cell else cell for cell in cells]


def without(table: Any, name: str) -> Any:
    return table.drop_columns([name]) if isinstance(table, pa.Table) else table.drop(columns=[name])


@pytest.mark.parametrize("make", MAKES)
def test_the_estimate_is_what_the_raw_numbers_give_and_stands_in_units_of_the_stored_u(make: Any) -> None:
    changed = bc.recorrect(stored(make), OLD, to=NEW)
    raw = bc.recorrect(make(tk.cells(ROWS)), OLD, to=NEW)
    np.testing.assert_allclose(column(changed, "CaO_percent_change"), column(raw, "CaO_percent_change"), atol=1e-9)
    expected = np.array(column(changed, "CaO_percent_change")) / column(stored(make), "CaO_percent_u")
    assert column(changed, "CaO_percent_change_per_u") == expected.tolist()
    assert [change == 0.0 for change in column(changed, "CaO_percent_change")] == [not row % 3 for row in range(ROWS)]


@pytest.mark.parametrize("make", MAKES)
def test_results_that_do_not_say_their_lot_are_not_taken_for_those_of_the_first(make: Any) -> None:
    changed, found = bc.recorrect(without(stored(make), "flux_lot"), OLD, to=NEW, findings=True, limits={"CaO": (None, 30.2)})
    assert column(changed, "CaO_percent_new") == [None] * ROWS
    reason = column(changed, "reason")[0]
    assert "nothing says of which flux lot it is (F-118, F-121)" in str(reason)
    assert set(column(found, "code")) == {"flux.lot-unknown"}


@pytest.mark.parametrize("make", MAKES)
def test_a_change_is_not_made_twice(make: Any) -> None:
    by_new = stored(make, NEW)
    with pytest.raises(bc.BeadchemError, match="made with another flux lot F-118 than the old correction") as refused:
        bc.recorrect(by_new, OLD, to=NEW)
    assert refused.value.code == "recipe.version-unknown"
    assert set(column(bc.recorrect(by_new, NEW, to=NEW), "CaO_percent_change")) == {0.0}


def test_a_change_is_not_made_twice_in_a_file(tmp_path: Path, capsys: Any) -> None:
    for name, job in (("old.json", OLD), ("new.json", NEW)):
        (tmp_path / name).write_text(job.to_json(), encoding="utf-8")
    pq.write_table(stored(tk.arrow, NEW), tmp_path / "in.parquet")
    command = ["recorrect", *(str(tmp_path / name) for name in ("old.json", "new.json", "in.parquet", "out.parquet"))]
    assert __main__.main(command) == 2
    assert "made with another flux lot F-118" in capsys.readouterr().err
    assert sorted(path.name for path in tmp_path.iterdir()) == ["in.parquet", "new.json", "old.json"]


@pytest.mark.parametrize("make", MAKES)
@pytest.mark.parametrize("raw", [True, False])
def test_a_flux_loss_of_a_row_stands_against_that_of_its_lot(make: Any, raw: bool) -> None:
    own = {"flux_loss_percent": [0.5, None, 0.5, None, None, 0.5]}
    table = make(tk.cells(ROWS) | own) if raw else stored(make, **own)
    with warnings.catch_warnings(record=True) as told:
        warnings.simplefilter("always")
        changed = bc.recorrect(table, OLD, to=NEW)
    moved = [row for row, change in enumerate(column(changed, "CaO_percent_change")) if change]
    assert moved == [1, 4]  # of lot F-118, without a loss of their own
    said = [str(one.message) for one in told]
    assert any("do not change with that of their lot" in text for text in said)


def test_a_loss_that_cannot_be_read_changes_no_other_row(tmp_path: Path) -> None:
    for name, job in (("old.json", OLD), ("new.json", NEW)):
        (tmp_path / name).write_text(job.to_json(), encoding="utf-8")
    rows = ["bead,flux_lot,CaO_percent,flux_loss_percent"]
    rows += [f"B-{row},F-118,30.{row},{loss}" for row, loss in enumerate(["0.5", "", "0.5", "n/a", "0.5", "nan"])]
    (tmp_path / "in.csv").write_text("\n".join(rows) + "\n")
    found = []
    for chunk_rows in (1, 2, 6):
        target = tmp_path / f"out-{chunk_rows}.parquet"
        command = ["recorrect", *(str(tmp_path / name) for name in ("old.json", "new.json", "in.csv")), str(target)]
        assert __main__.main([*command, "--chunk-rows", str(chunk_rows)]) == 3
        done = pq.read_table(target)
        found.append((column(done, "CaO_percent_change"), column(done, "finding")))
    assert found[0] == found[1] == found[2]
    changes, findings = found[0]
    assert [None if change is None else change != 0.0 for change in changes] == [False, True, False, None, False, None]
    assert findings == [None, "recipe.estimated", None, "number.unreadable", None, "number.unreadable"]


def test_a_loss_of_a_row_is_spoken_of_where_its_lot_changes_only() -> None:
    own = {"flux_loss_percent": [0.5 if not row % 3 else None for row in range(ROWS)]}  # in rows of F-121
    with warnings.catch_warnings(record=True) as told:
        warnings.simplefilter("always")
        bc.recorrect(tk.of_pandas(tk.cells(ROWS) | own), OLD, to=NEW)
    assert not any("do not change with that of their lot" in str(one.message) for one in told)
