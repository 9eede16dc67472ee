"""Readings in % of glass as columns: what `melt.undilute` gives bead by bead, for every kind of table, stream and command."""

from __future__ import annotations

import json
from pathlib import Path
from typing import Any

import beadchem as bc
import numpy as np
import pandas as pd
import polars as pl
import pytest
from beadchem import __main__, streams

pa = pytest.importorskip("pyarrow")

import pyarrow.csv as pacsv  # noqa: E402
import pyarrow.parquet as pq  # noqa: E402

READ = ("CaO", "MgO", "SiO2")
LOSSES = {"F-118": 0.40, "F-121": 0.62}
ROWS = 60


def lot(name: str, loss: float) -> bc.FluxLot:
    return bc.FluxLot(name, {"Li2B4O7": 50, "LiBO2": 50}, programme="1050 C, 18 min", loss_percent=bc.value(loss, 0.03))


def charge(of: bc.FluxLot, sample_g: float = 0.8, flux_g: float = 8.0) -> bc.Charge:
    tablets = bc.Amount.tablets(1, bc.value(0.030, 3e-4))
    return bc.Charge(
        bc.Sample(bc.value(sample_g, 1e-4), basis="dried"),
        of.weigh(bc.value(flux_g, 1e-4)),
        [bc.Addition.release_agent("LiBr", tablets, retained=bc.value(0.5, 0.1))],
    )


def correction(**more: Any) -> bc.Correction:
    first, second = (lot(*each) for each in LOSSES.items())
    fields = [bc.Field("glass", name, u_relative=0.002) for name in READ]
    fields.append(bc.Field("loss on fusion", u=0.05))
    return bc.Correction.of_glass(READ, charge(first), lots=[second], fields=fields, **more)


def beads() -> dict[str, list[Any]]:
    draw = np.random.default_rng(4)
    lime, magnesia, silica = (
        (middle * (1 + 0.01 * draw.random(ROWS))).tolist() for middle in (2.89, 1.88, 0.11)
    )
    return {
        "bead": [f"B-{row}" for row in range(ROWS)],
        "flux_lot": ["F-118" if row % 3 else "F-121" for row in range(ROWS)],
        "sample_g": (0.8 + 0.01 * draw.random(ROWS)).tolist(),
        "flux_g": (8.0 + 0.1 * draw.random(ROWS)).tolist(),
        "loss_on_fusion_percent": (45.0 + draw.random(ROWS)).tolist(),
        "CaO_glass_percent": lime,
        "MgO_glass_percent": [None if row % 7 == 2 else cell for row, cell in enumerate(magnesia)],
        "SiO2_glass_percent": silica,
    }


def alone(cells: dict[str, list[Any]], row: int, losses: dict[str, float]) -> bc.SampleResult:
    name = cells["flux_lot"][row]
    weighed = charge(lot(name, losses[name]), cells["sample_g"][row], cells["flux_g"][row])
    melt = weighed.fuse(loss_on_fusion_percent=bc.value(cells["loss_on_fusion_percent"][row], 0.05))
    there = {name: cells[f"{name}_glass_percent"][row] for name in READ}
    readings = {name: bc.value(cell, 0.002 * cell) for name, cell in there.items() if cell is not None}
    return melt.undilute(bc.Composition(readings, basis="bead"))


def arrays(cells: dict[str, list[Any]]) -> dict[str, np.ndarray]:
    words = {name: np.array(cells[name], dtype=object) for name in ("bead", "flux_lot")}
    numbers = {name: column for name, column in cells.items() if name not in words}
    return words | {name: np.ma.masked_invalid(np.array(column, dtype=float)) for name, column in numbers.items()}


@pytest.mark.filterwarnings("ignore::beadchem.BeadchemNote")  # no loss on ignition, so no total
@pytest.mark.parametrize("make", [pa.table, pl.DataFrame, pd.DataFrame, arrays])
def test_every_row_of_every_kind_is_its_bead_alone(make: Any) -> None:
    cells = beads()
    done = bc.correct(make(cells), correction(), uncertainty="variance")
    for name in READ:
        for found, of in ((done[f"{name}_percent"], "value"), (done[f"{name}_percent_u"], "u")):
            column = np.ma.filled(found, np.nan) if isinstance(found, np.ma.MaskedArray) else np.array(found, dtype=float)
            for row in range(ROWS):
                single = alone(cells, row, LOSSES)
                if name in single.species:
                    expected = getattr(single, of)(name)
                    tolerance = 0.0 if of == "value" else 1e-10  # sums of squares in another order
                    assert abs(column[row] - expected) <= tolerance * expected, (name, row, of)
                else:
                    assert np.isnan(column[row]), (name, row)


@pytest.mark.filterwarnings("ignore::beadchem.BeadchemNote")
def test_another_flux_loss_is_recomputed_from_the_raw_readings() -> None:
    cells, job = beads(), correction()
    only, change = {"flux_lot": "F-121"}, {"flux_loss_percent": bc.value(0.88, 0.03)}
    changed = bc.recorrect(pl.DataFrame(cells), job, only=only, change=change, limits={"CaO": (None, 31.0)})
    for row in range(ROWS):
        old, new = alone(cells, row, LOSSES).value("CaO"), alone(cells, row, {**LOSSES, "F-121": 0.88}).value("CaO")
        assert changed["CaO_percent_old"][row] == old and changed["CaO_percent_new"][row] == new
        assert (old == new) == (cells["flux_lot"][row] == "F-118")
    with pytest.raises(bc.BeadchemError) as refused:
        bc.recorrect(pl.DataFrame(cells), job, change={"method": bc.Method.template()})
    assert refused.value.code == "table.layout" and "glass" in str(refused.value)


def test_a_stored_correction_runs_files_by_command(tmp_path: Path) -> None:
    cells, job = beads(), correction()
    assert job.method is None and job.evaluation == "glass fractions" and "readings of the glass" in repr(job)
    assert bc.Correction.from_json(job.to_json()) == job
    assert json.loads(job.provenance)["method"].startswith("evaluation (b)")
    (tmp_path / "correction.json").write_text(job.to_json(), encoding="utf-8")
    # a limit among the numbers of a CSV file
    written = {**cells, "SiO2_glass_percent": ["<0.02" if row == 5 else repr(cell) for row, cell in enumerate(cells["SiO2_glass_percent"])]}
    pacsv.write_csv(pa.table(written), tmp_path / "in.csv")
    arguments = ["correct", tmp_path / "correction.json", tmp_path / "in.csv", tmp_path / "out.parquet"]
    more = ["--uncertainty", "covariance", "--chunk-rows", 8, "--findings", tmp_path / "all.csv"]
    assert __main__.main([str(each) for each in arguments + more]) == 0
    done = pq.read_table(tmp_path / "out.parquet")
    for row in range(ROWS):
        single = alone(cells, row, LOSSES)
        assert done["CaO_percent"][row].as_py() == single.value("CaO")
        expected = 1e4 * single.covariance("CaO", "SiO2")
        found = done["CaO_SiO2_covariance"][row].as_py()
        assert found is None if row == 5 else abs(found - expected) <= 1e-10 * single.u("CaO") * single.u("SiO2")
    said = {row["row"]: row for row in pacsv.read_csv(tmp_path / "all.csv").to_pylist() if row["code"] == "limit.read"}
    assert done["SiO2_percent"][5].as_py() is None and set(said) == {5}
    dilution = done["dilution"][5].as_py()
    assert abs(said[5]["value"] - 0.0002 * dilution) < 1e-12 and "in the sample" in said[5]["reason"]


@pytest.mark.filterwarnings("ignore::beadchem.BeadchemNote")
def test_streams_give_the_bits_of_the_whole_table() -> None:
    table, job = pa.table(beads()), correction(also_on=["as received"], loss_temperature_c=1000.0)
    table = table.append_column("moisture_percent", pa.array(np.linspace(0.1, 2.0, ROWS)))
    whole = pa.table(bc.correct(table, job, uncertainty="covariance"))
    parts = pa.Table.from_batches(list(streams.stream(table.to_reader(max_chunksize=7), job, uncertainty="covariance")))
    assert parts.drop_columns(["finding"]).equals(whole.select(parts.column_names).drop_columns(["finding"]))


def test_what_has_no_place_is_refused() -> None:
    for make, code in [
        (lambda: bc.Correction.of_glass([], charge(lot("F-118", 0.4))), "table.layout"),
        (lambda: bc.Correction.of_glass(["FeO", "Fe2O3"], charge(lot("F-118", 0.4))), "species.element-twice"),
        (lambda: bc.Correction.of_glass(READ, charge(lot("F-118", 0.4)), fields=[bc.Field("intensity", "Ca Ka")]), "table.layout"),
        (lambda: correction().with_method(bc.Method.template()), "table.layout"),
        (lambda: bc.correct({"sample_g": np.ones(1), "flux_g": np.ones(1), "CaO_glas_percent": np.ones(1)}, correction()), "table.header"),
    ]:
        with pytest.raises(bc.BeadchemError) as refused:
            make()
        assert refused.value.code == code


def test_a_row_without_its_loss_on_fusion_has_no_result() -> None:
    cells = beads()
    cells["loss_on_fusion_percent"][3] = None
    with pytest.warns(bc.BeadchemNote, match="no total"):
        done = bc.correct(pl.DataFrame(cells), correction())
    assert done["finding"][3] == "charge.incomplete" and done["CaO_percent"][3] is None
    assert done["finding"].null_count() == ROWS - 1
