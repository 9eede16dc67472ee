"""`python -m beadchem correct`: exit codes and what stderr says; never a traceback."""

from __future__ import annotations

import argparse
import io
import subprocess
import sys
from pathlib import Path
from typing import Any

import beadchem as bc
import pytest
from beadchem import __main__, _commands

pa = pytest.importorskip("pyarrow")

import pyarrow.csv as pacsv  # noqa: E402
import pyarrow.parquet as pq  # noqa: E402
import stream_case as case  # noqa: E402


@pytest.fixture
def stored(tmp_path: Path, correction: Any, monkeypatch: pytest.MonkeyPatch) -> Path:
    """The stored correction; the command reads it as the correction of the tests."""
    path = tmp_path / "correction.json"
    path.write_text(correction.to_json(), encoding="utf-8")
    monkeypatch.setattr(bc._core, "Correction", type(correction), raising=False)
    return path


def correct(*arguments: object) -> int:
    return __main__.main(["correct", *map(str, arguments)])


def test_all_rows_corrected_is_0_and_silent(stored: Path, tmp_path: Path, capsys: Any) -> None:
    pq.write_table(case.beads(50, poisoned=False), tmp_path / "in.parquet")
    assert correct(stored, tmp_path / "in.parquet", tmp_path / "out.csv") == 0
    assert capsys.readouterr() == ("", "")
    assert pacsv.read_csv(tmp_path / "out.csv").num_rows == 50
    assert (tmp_path / "out.rejects.csv").read_text() == '"row","bead","code","quantity","value","bound","reason"\n'


def test_rows_without_a_result_are_3_and_named(stored: Path, tmp_path: Path, capsys: Any) -> None:
    pq.write_table(case.beads(1000), tmp_path / "in.parquet")
    code = correct(
        stored, tmp_path / "in.parquet", tmp_path / "out.parquet", "--uncertainty", "variance", "--threads", 2, "--chunk-rows", 100,
        "--findings", tmp_path / "all.csv", "--keep", "bead, note",
    )
    said = capsys.readouterr().err
    results = pq.read_table(tmp_path / "out.parquet")
    refused = [row for row, finding in enumerate(results["finding"].to_pylist()) if finding]
    assert code == 3 and said.startswith(f"{len(refused)} of 1000 rows have no result (mass.missing ")
    assert f"\n  row {refused[0]} (bead B-{refused[0]}): " in said and said.count("\n") == 6
    assert {"note", "Fe2O3_percent_u"} <= set(results.column_names)
    assert pacsv.read_csv(tmp_path / "out.rejects.csv")["row"].to_pylist() == refused
    assert pacsv.read_csv(tmp_path / "all.csv").column_names == [
        "row", "bead", "code", "severity", "quantity", "value", "bound", "reason"
    ]


@pytest.mark.parametrize(
    ("arguments", "words"),
    [
        (["{stored}", "absent.parquet", "out.parquet"], "There is no file"),
        (["absent.json", "in.parquet", "out.parquet"], "There is no file absent.json. Name the stored correction."),
        ([".", "in.parquet", "out.parquet"], ". is a folder. Name the stored correction."),
        (["{stored}", "in.parquet", "out.csv", "--rejects", "in.parquet"], "is the source, or lies in it"),
        (["{stored}", "in.parquet", "out.xlsx"], "no table can be written under this name"),
        (["{stored}", "in.parquet", "standing.csv"], "stands there already. Choose another name, or say --overwrite"),
        (["{stored}", "in.parquet", "out.csv", "--uncertainty", "covariance"], "Column covariance holds several numbers in a cell"),
    ],
)
def test_a_refusal_is_2_and_writes_nothing(
    stored: Path, tmp_path: Path, capsys: Any, monkeypatch: pytest.MonkeyPatch, arguments: list[str], words: str
) -> None:
    monkeypatch.chdir(tmp_path)
    pq.write_table(case.beads(5), "in.parquet")
    Path("standing.csv").write_text("old")
    before = sorted(tmp_path.iterdir())
    assert correct(*(one.format(stored=stored) for one in arguments)) == 2
    out, said = capsys.readouterr()
    assert words in said and said.count("\n") == 1 and out == ""
    assert sorted(tmp_path.iterdir()) == before and Path("standing.csv").read_text() == "old"


@pytest.mark.parametrize("wrong", [["--threads", "0"], ["--chunk-rows", "many"], ["--uncertainty", "some"], []])
def test_bad_usage_is_2(stored: Path, capsys: Any, wrong: list[str]) -> None:
    with pytest.raises(SystemExit) as ended:
        correct(stored, "in.parquet", *(["out.parquet", *wrong] if wrong else []))
    assert ended.value.code == 2 and "usage:" in capsys.readouterr().err


@pytest.mark.parametrize(
    ("raised", "code", "words"),
    [
        (OSError(28, "No space left on device", "out.parquet"), 1, "out.parquet: No space left on device. Finished parts are kept"),
        (MemoryError(), 1, "Try a smaller --chunk-rows. Finished parts are kept"),
        (KeyboardInterrupt(), 130, "Stopped. Finished parts are kept: the same command continues."),
    ],
)
def test_what_stops_a_run_midway_is_said_in_words(tmp_path: Path, capsys: Any, raised: BaseException, code: int, words: str) -> None:
    def fails(_: Any) -> int:
        raise raised

    (tmp_path / ".out.parquet.beadchem").mkdir()
    chosen = argparse.Namespace(target=tmp_path / "out.parquet")
    assert _commands.run(fails, chosen) == code
    assert words in capsys.readouterr().err


def test_a_run_that_could_not_begin_keeps_nothing(capsys: Any, tmp_path: Path) -> None:
    def fails(_: Any) -> int:
        raise OSError(13, "Permission denied", "out.parquet")

    assert _commands.run(fails, argparse.Namespace(target=tmp_path / "out.parquet")) == 1
    assert capsys.readouterr().err == "out.parquet: Permission denied.\n"


def test_a_stopped_run_is_continued_by_the_same_command(
    stored: Path, tmp_path: Path, capsys: Any, monkeypatch: pytest.MonkeyPatch
) -> None:
    pq.write_table(case.beads(400, poisoned=False), tmp_path / "in.parquet", row_group_size=100)
    command = [stored, tmp_path / "in.parquet", tmp_path / "out.parquet", "--chunk-rows", 100, "--part-rows", 100]
    calls = []
    whole = case.StandIn.correct_stream

    def stopped(self: Any, source: Any, **options: Any) -> Any:
        calls.append(options["first_row"])
        if len(calls) == 3:
            raise KeyboardInterrupt
        return whole(self, source, **options)

    monkeypatch.setattr(case.StandIn, "correct_stream", stopped)
    assert correct(*command) == 130
    assert not (tmp_path / "out.parquet").exists() and capsys.readouterr().err.startswith("Stopped.")
    assert correct(*command) == 0
    assert capsys.readouterr().err == "Continued an interrupted run: 2 parts stood already.\n"
    assert calls == [0, 100, 200, 200, 300]


def test_progress_is_drawn_on_a_terminal_only(stored: Path, tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    class Terminal(io.StringIO):
        def isatty(self) -> bool:
            return True

    pq.write_table(case.beads(400, poisoned=False), tmp_path / "in.parquet")
    drawn = {}
    for name, terminal, more in [("terminal", Terminal(), []), ("pipe", io.StringIO(), []), ("quiet", Terminal(), ["--no-progress"])]:
        monkeypatch.setattr(sys, "stderr", terminal)
        correct(stored, tmp_path / "in.parquet", tmp_path / f"{name}.parquet", "--chunk-rows", 100, *more)
        drawn[name] = terminal.getvalue()
    assert "100 %" in drawn["terminal"] and drawn["pipe"] == ""
    assert drawn["terminal"].endswith(f"\r{drawn['quiet'].replace('quiet', 'terminal')}")
    assert drawn["quiet"] == f"400 rows in {tmp_path / 'quiet.parquet'}.\n"


def test_what_is_no_correction_is_named_with_its_file(tmp_path: Path, capsys: Any) -> None:
    (tmp_path / "wrong.json").write_text("bead,flux_lot\n")
    assert correct(tmp_path / "wrong.json", tmp_path / "in.parquet", tmp_path / "out.parquet") == 2
    assert capsys.readouterr().err.startswith(f"{tmp_path / 'wrong.json'} cannot be used: ")


def test_help_and_refusals_load_no_table_library(tmp_path: Path) -> None:
    code = (
        "import sys\nfrom beadchem.__main__ import main\n"
        "try: main(['correct', '--help'])\nexcept SystemExit: pass\n"
        "print([name for name in sys.modules if name.split('.')[0] in {'numpy', 'pandas', 'pyarrow'}])"
    )
    done = subprocess.run([sys.executable, "-c", code], capture_output=True, text=True, check=True)
    assert done.stdout.endswith("\n[]\n") and "a folder of Parquet files" in done.stdout
