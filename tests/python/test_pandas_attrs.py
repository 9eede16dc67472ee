"""What a pandas frame of results says of itself: the same as the schema of an Arrow table."""

from __future__ import annotations

import copy
import json
from pathlib import Path
from typing import Any

import beadchem as bc
import pandas as pd
import pytest
import table_kinds as tk

pytestmark = pytest.mark.filterwarnings("ignore::beadchem.BeadchemNote")  # most of these tables have no loss on ignition, so no total

MADE = tk.cells(12)
FRAMES = [tk.of_pandas, tk.of_pandas_nullable, tk.of_pandas_arrow]


@pytest.mark.parametrize("make", FRAMES)
@pytest.mark.parametrize("uncertainty", ["none", "covariance"])
def test_attrs_are_what_the_arrow_schema_says(make: Any, uncertainty: str) -> None:
    schema = bc.correct(tk.arrow(MADE), tk.JOB, uncertainty=uncertainty).schema
    frame = make(MADE)
    frame.attrs["day"] = "2026-03-14"
    attrs = bc.correct(frame, tk.JOB, uncertainty=uncertainty).attrs
    assert attrs["beadchem"] == schema.metadata[b"beadchem"].decode() and attrs["day"] == "2026-03-14"
    said = {field.name: field.metadata for field in schema if field.metadata}
    assert attrs["units"] == {name: metadata[b"unit"].decode() for name, metadata in said.items()}
    assert attrs["basis"] == {name: metadata[b"basis"].decode() for name, metadata in said.items() if b"basis" in metadata}
    assert json.loads(json.dumps(attrs)) == attrs
    assert frame.attrs == {"day": "2026-03-14"}, "the table that was given stays as it is"


def test_results_are_replayed_from_the_attrs_of_a_file(tmp_path: Path) -> None:
    frame = tk.of_pandas(MADE)
    result = bc.correct(frame, tk.JOB, uncertainty="variance")
    result.reset_index(drop=True).to_parquet(tmp_path / "results.parquet")
    stored = pd.read_parquet(tmp_path / "results.parquet")
    assert stored.attrs == result.attrs
    record = json.loads(stored.attrs["beadchem"])
    again = bc.Correction.from_json(json.dumps(record["correction"]))
    assert again == tk.JOB and record["provenance"]["digest"] == tk.JOB.digest
    pd.testing.assert_frame_equal(bc.correct(frame, again, uncertainty=record["uncertainty"]), result)


def test_attrs_go_with_what_is_made_of_the_frame() -> None:
    result = bc.correct(tk.of_pandas(MADE), tk.JOB, keep=["bead"])
    assert result.attrs["units"]["CaO_percent"] == "%" and result.attrs["basis"]["CaO_percent"] == "dried"
    for made in (result[["CaO_percent"]], result.iloc[:3], result.sort_values("CaO_percent"), pd.concat([result, result]), copy.deepcopy(result)):
        assert made.attrs == result.attrs


def test_a_recorrected_frame_says_both_corrections() -> None:
    new = tk.JOB.with_flux_loss("F-121", bc.value(0.9, 0.03))
    attrs = bc.recorrect(tk.of_pandas(MADE), tk.JOB, to=new).attrs
    record = json.loads(attrs["beadchem"])
    assert [record[side]["provenance"]["digest"] for side in ("old", "new")] == [tk.JOB.digest, new.digest]
    assert attrs["units"]["CaO_percent_change_per_u"] == "u"


def test_frames_are_compared_with_their_versions() -> None:
    new = tk.JOB.with_flux_loss("F-121", bc.value(0.9, 0.03))
    _, found = bc.compare(*(bc.correct(tk.of_pandas(MADE), job) for job in (tk.JOB, new)))
    assert [what for what, _, _ in found.versions or []] == ["flux lot F-121"]
