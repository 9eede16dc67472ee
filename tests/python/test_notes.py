"""What holds of many rows at once is told to whoever runs a table, once per run, at the line that ran it."""

from __future__ import annotations

import json
import warnings
from collections.abc import Callable
from pathlib import Path
from typing import Any

import beadchem as bc
import pyarrow as pa
import pyarrow.parquet as pq
import pytest
import table_kinds as tk
from beadchem import __main__, streams

NO_TOTAL = "Rows without a loss on ignition have no total: total_percent is null."


def notes_of(call: Callable[[], Any]) -> tuple[Any, list[str]]:
    """What a call gives, and the notes it told, each from this file or from a library that pulls."""
    with warnings.catch_warnings(record=True) as caught:
        warnings.simplefilter("always")
        done = call()
    return done, [f"{one.message}" for one in caught if one.category is bc.BeadchemNote]


@pytest.mark.parametrize("kind", tk.KINDS, ids=lambda kind: kind.name)
def test_every_kind_of_table_tells_each_note_once(kind: tk.Kind) -> None:
    _, told = notes_of(lambda: kind.read(bc.correct(kind.make(tk.cells(20)), tk.JOB)))
    assert len(told) == 1 and told[0].startswith(NO_TOTAL)


def test_a_note_names_the_line_that_asked() -> None:
    made = tk.of_dict(tk.cells(3))
    for call in (lambda: bc.correct(made, tk.JOB), lambda: list(streams.stream(tk.arrow(tk.cells(3)), tk.JOB))):
        with pytest.warns(bc.BeadchemNote, match="have no total") as caught:
            call()
        assert [Path(one.filename).name for one in caught] == ["test_notes.py"]
    assert issubclass(bc.BeadchemNote, UserWarning)
    with warnings.catch_warnings():
        warnings.simplefilter("error", bc.BeadchemNote)
        bc.recorrect(made, tk.JOB, to=tk.JOB)  # a change has no total to say anything of


def test_a_stream_tells_once_for_all_its_chunks() -> None:
    table = tk.arrow(tk.cells(50))
    assert len(notes_of(lambda: list(streams.stream(table, tk.JOB, chunk_rows=7)))[1]) == 1
    assert len(notes_of(lambda: streams.reader(table, tk.JOB, chunk_rows=7).read_all())[1]) == 1


def test_what_has_a_total_has_no_note() -> None:
    made = {**tk.cells(3), "loss_on_ignition_percent": [46.3] * 3}
    for make in (tk.of_dict, tk.of_pandas):
        assert notes_of(lambda make=make: bc.correct(make(made), tk.JOB))[1] == []


@pytest.mark.parametrize("make", [tk.of_pandas, tk.of_pandas_nullable, tk.of_pandas_arrow])
def test_pandas_frames_carry_them(make: Callable[[tk.Cells], Any]) -> None:
    made = {**tk.cells(3), "loss_on_ignition_percent": [46.3] * 3}
    (frame, told), (quiet, _) = (notes_of(lambda make=make, cells=cells: bc.correct(make(cells), tk.JOB)) for cells in (tk.cells(3), made))
    assert frame.attrs["notes"] == told and quiet.attrs["notes"] == [] and json.dumps(frame.attrs)
    again = make(made)
    again.attrs = frame.attrs
    assert notes_of(lambda: bc.correct(again, tk.JOB))[0].attrs["notes"] == []


def test_a_note_can_be_made_an_error() -> None:
    with warnings.catch_warnings():
        warnings.simplefilter("error", bc.BeadchemNote)
        with pytest.raises(bc.BeadchemNote):
            bc.correct(tk.of_dict(tk.cells(3)), tk.JOB)


def test_the_command_prints_them_on_stderr(tmp_path: Path, capsys: Any) -> None:
    (tmp_path / "c.json").write_text(tk.JOB.to_json(), encoding="utf-8")
    pq.write_table(pa.table(tk.arrow(tk.cells(3))), tmp_path / "in.parquet")
    command = ["correct", *(str(tmp_path / name) for name in ("c.json", "in.parquet", "out.parquet"))]
    code, told = notes_of(lambda: __main__.main(command))
    assert code == 0 and told == [] and capsys.readouterr().err.startswith(f"Note: {NO_TOTAL}")


@pytest.mark.parametrize("kind", tk.KINDS, ids=lambda kind: kind.name)
def test_rows_that_none_is_among_are_told_once(kind: tk.Kind) -> None:
    of_nobody, of_one = {"bead": "B-99"}, {"bead": "B-19"}
    _, told = notes_of(lambda: kind.read(bc.recorrect(kind.make(tk.cells(20)), tk.JOB, to=tk.JOB, only=of_nobody)))
    assert told == ["No row has bead = B-99 (there stands, for example, B-0, B-1, B-2), so nothing changes."]
    _, told = notes_of(lambda: kind.read(bc.recorrect(kind.make(tk.cells(20)), tk.JOB, to=tk.JOB, only=of_one)))
    assert told == []


@pytest.mark.parametrize(("word", "told"), [("night", False), ("nigth", True)])
def test_of_a_file_it_is_told_where_no_part_has_one(tmp_path: Path, capsys: Any, word: str, told: bool) -> None:
    made = tk.cells(60)
    shift = ["night" if 20 <= row < 23 else "day" for row in range(60)]  # in one chunk of nine
    (tmp_path / "c.json").write_text(tk.JOB.to_json(), encoding="utf-8")
    pq.write_table(tk.arrow(made).append_column("shift", [shift]), tmp_path / "in.parquet", row_group_size=20)
    command = ["recorrect", *(str(tmp_path / name) for name in ("c.json", "c.json", "in.parquet", "out.parquet"))]
    command += ["--only", f"shift={word}", "--chunk-rows", "7", "--part-rows", "20"]
    assert __main__.main(command) == 0
    said = capsys.readouterr().err
    assert ("Note: No row has shift = nigth (there stands, for example, day), so nothing changes." in said) == told
    assert ("No row has" in said) == told
