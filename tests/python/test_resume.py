"""Runs that are killed: continued, they give what an undisturbed run gives, and no torn file ever has a final name."""

from __future__ import annotations

import json
import shutil
import signal
import time
from collections.abc import Callable
from pathlib import Path
from typing import Any

import beadchem as bc
import pytest

pa = pytest.importorskip("pyarrow")
if not hasattr(signal, "SIGKILL"):
    pytest.skip("this system has no SIGKILL", allow_module_level=True)

import numpy as np  # noqa: E402
import pyarrow.parquet as pq  # noqa: E402
import native_case as case  # noqa: E402
from beadchem import streams  # noqa: E402
from beadchem._files import faults  # noqa: E402
from kill_case import (  # noqa: E402
    PLACES,
    ROWS,
    SMALL,
    content,
    correction,
    exit_code,
    killed_at,
    points_of,
    same,
    server,
    source_of,
    target_of,
    work,
)


@pytest.fixture(scope="module")
def context() -> Any:
    return server()


@pytest.mark.parametrize("place", PLACES)
def test_killed_after_any_write_sync_or_rename_and_continued(context: Any, tmp_path: Path, place: str) -> None:
    source = source_of(place, tmp_path)
    points = points_of(source, tmp_path / "whole", place)
    undisturbed = content(tmp_path / "whole")
    assert b"bead.doubled" in undisturbed["rejects.csv"]
    assert {"begun", "written", "file synced", "renamed", "folder synced", "journal written", "journal synced"} <= set(points)
    kept = 0
    for point in range(1, len(points) + 1, 1 if place == "file" else 3):
        folder = tmp_path / f"killed-{point}"
        assert exit_code(context, killed_at, point, source, folder, place) == -signal.SIGKILL
        left = content(folder)
        assert all(name in undisturbed for name in left), points[point - 1]
        assert same(left, {name: undisturbed[name] for name in left}), points[point - 1]
        kept = max(kept, work(source, folder, place).parts_kept)
        assert same(content(folder), undisturbed), points[point - 1]
        assert not [path for path in folder.iterdir() if path.name.startswith(".")], points[point - 1]
    assert kept == 2


@pytest.mark.parametrize("place", PLACES)
def test_killed_at_seeded_moments_and_continued(context: Any, tmp_path: Path, place: str) -> None:
    source = source_of(place, tmp_path)
    start = time.monotonic()
    work(source, tmp_path / "whole", place, 0.004)
    takes = time.monotonic() - start
    undisturbed = content(tmp_path / "whole")
    draw = np.random.default_rng(20)
    killed = 0
    for number in range(20 if place == "file" else 5):
        folder = tmp_path / f"run-{number}"
        child = context.Process(target=work, args=(source, folder, place, 0.004))
        child.start()
        child.join(draw.uniform(0, 1.2 * takes))
        if child.is_alive():
            killed += 1
            child.kill()
        child.join()
        left = content(folder) if folder.exists() else {}
        assert same(left, {name: undisturbed[name] for name in left})
        if target_of(place, folder).exists() and not any(path.name.startswith(".") for path in folder.iterdir()):
            continue
        work(source, folder, place, 0.004)
        assert same(content(folder), undisturbed)
    assert killed > 0


class Stop(BaseException):
    """A run ends here, as if it were killed."""


def stopped(reached: Callable[[str], bool], source: Path, folder: Path, place: str) -> None:
    """Leaves a run at the first point of which this holds."""

    def stop(point: str) -> None:
        if reached(point):
            raise Stop

    faults.install(stop)
    try:
        with pytest.raises(Stop):
            work(source, folder, place)
    finally:
        faults.install(None)


def interrupted(source: Path, folder: Path, place: str = "file", parts: int = 1) -> None:
    """Leaves a run once so many parts were finished in it."""
    passed: list[str] = []

    def reached(point: str) -> bool:
        passed.append(point)
        return passed.count("journal synced") == parts

    stopped(reached, source, folder, place)


def completed(source: Path, folder: Path, place: str) -> Path:
    """Leaves a run once its result lacks nothing but its name; the hidden folder."""
    hidden = folder / f".{target_of(place, folder).name}.beadchem"
    stopped(lambda point: point == "journal synced" and b'"complete"' in (hidden / "journal").read_bytes(), source, folder, place)
    return hidden


@pytest.mark.parametrize("change", ["correction", "option", "source", "version", "file added"])
def test_parts_of_another_run_are_refused_in_words(tmp_path: Path, change: str) -> None:
    place = "folder" if change == "file added" else "file"
    source, folder = source_of(place, tmp_path), tmp_path / "out"
    interrupted(source, folder, place)
    changed, options = correction(), dict(SMALL)
    if change == "correction":
        changed, words = correction().with_flux_loss("F-121", 0.7), "it was begun with correction"
    elif change == "option":
        options, words = {**SMALL, "row_group_rows": 90}, "it was begun with row groups of 150, now it is 90"
    elif change == "source":
        pq.write_table(case.beads(ROWS, seed=8), source, row_group_size=90)
        words = "changed since ("
    elif change == "file added":
        pq.write_table(case.beads(5, first=9000), source / "new.parquet")
        words = "the source file new.parquet was added since"
    else:
        journal = folder / ".out.parquet.beadchem" / "journal"
        first, rest = journal.read_bytes().split(b"\n", 1)
        body = json.loads(first)
        body["heading"]["version"] = "0.0.0"
        journal.write_bytes(json.dumps(body).encode() + b"\n" + rest)
        words = f"it was begun with version 0.0.0, now it is {bc.__version__}"
    before = content(folder)

    def again(**more: Any) -> streams.Outcome:
        return streams.correct_file(
            changed, source, target_of(place, folder), rejects=folder / "rejects.csv", findings=folder / "all.csv", **options, **more
        )

    with pytest.raises(bc.BeadchemError) as refused:
        again()
    assert refused.value.code == "run.differs" and words in str(refused.value) and "--restart" in str(refused.value)
    assert same(content(folder), before)
    outcome = again(restart=True)
    assert outcome.parts_kept == 0 and outcome.rows == ROWS + (5 if change == "file added" else 0)


def test_a_line_of_the_journal_that_was_cut_short_costs_one_part_only(tmp_path: Path) -> None:
    source, folder = source_of("file", tmp_path), tmp_path / "out"
    work(source, tmp_path / "whole", "file")
    interrupted(source, folder)
    with (folder / ".out.parquet.beadchem" / "journal").open("ab") as journal:
        journal.write(b'{"part":1,"rows":200,"fil')
    interrupted(source, folder)
    assert work(source, folder, "file").parts_kept == 2
    assert same(content(folder), content(tmp_path / "whole"))


def flip_a_bit(path: Path) -> None:
    held = bytearray(path.read_bytes())
    held[len(held) // 2] ^= 0x10
    path.write_bytes(held)


def lose_bytes(path: Path) -> None:
    path.write_bytes(path.read_bytes()[:-9])


@pytest.mark.parametrize("damage", [lose_bytes, flip_a_bit])
@pytest.mark.parametrize("name", ["part-000000.arrow", "findings-000000.arrow"])
def test_a_finished_part_that_is_no_more_what_was_written_is_made_again(tmp_path: Path, damage: Any, name: str) -> None:
    source, folder = source_of("file", tmp_path), tmp_path / "out"
    work(source, tmp_path / "whole", "file")
    interrupted(source, folder)
    damage(folder / ".out.parquet.beadchem" / name)
    assert work(source, folder, "file").parts_kept == 0
    assert same(content(folder), content(tmp_path / "whole"))


@pytest.mark.parametrize(("place", "name"), [("file", "joined"), ("folder", "parts/day=1/a.parquet")])
def test_a_result_damaged_before_it_had_its_name_is_made_again(tmp_path: Path, place: str, name: str) -> None:
    source, folder = source_of(place, tmp_path), tmp_path / "out"
    work(source, tmp_path / "whole", place)

    flip_a_bit(completed(source, folder, place) / name)
    work(source, folder, place)
    assert same(content(folder), content(tmp_path / "whole"))


@pytest.mark.parametrize("place", ["file", "folder"])
def test_what_stands_under_the_name_of_the_target_is_not_taken_for_the_result(tmp_path: Path, place: str) -> None:
    source, folder = source_of(place, tmp_path), tmp_path / "out"
    work(source, tmp_path / "whole", place)
    target = target_of(place, folder)

    def another() -> None:
        target.mkdir(exist_ok=True) if place == "folder" else None
        pq.write_table(pa.table({"a": [1]}), target / "a.parquet" if place == "folder" else target)

    for made_is_gone in (True, False):
        shutil.rmtree(folder, ignore_errors=True)
        made = completed(source, folder, place) / ("parts" if place == "folder" else "joined")
        if made_is_gone:
            shutil.rmtree(made) if made.is_dir() else made.unlink()
        another()
        with pytest.raises(bc.BeadchemError, match="stands there already"):
            work(source, folder, place)
        shutil.rmtree(target) if target.is_dir() else target.unlink()
        work(source, folder, place)
        assert same(content(folder), content(tmp_path / "whole"))


def test_two_runs_to_one_target_do_not_mix(tmp_path: Path) -> None:
    source, folder = source_of("file", tmp_path), tmp_path / "out"
    refusals: list[str] = []

    def second(_: int, __: int | None) -> None:
        with pytest.raises(bc.BeadchemError) as refused:
            work(source, folder, "file")
        refusals.append(refused.value.code)

    folder.mkdir()
    streams.correct_file(correction(), source, folder / "out.parquet", progress=second, **SMALL)
    assert set(refusals) == {"run.busy"}


def test_a_refused_run_leaves_nothing_behind(tmp_path: Path) -> None:
    pq.write_table(case.beads(10).drop_columns("sample_g"), tmp_path / "in.parquet")
    with pytest.raises(bc.BeadchemError, match="sample_g"):
        work(tmp_path / "in.parquet", tmp_path / "out", "file")
    assert list((tmp_path / "out").iterdir()) == []


@pytest.mark.parametrize("place", ["file", "folder"])
def test_a_target_taken_away_before_the_run_could_end_is_made_again(tmp_path: Path, place: str) -> None:
    source, folder = source_of(place, tmp_path), tmp_path / "out"
    points = points_of(source, tmp_path / "whole", place)

    assert points[-1] == "parts removed"
    stopped(lambda point: point == "parts removed", source, folder, place)
    target = target_of(place, folder)
    shutil.rmtree(target) if target.is_dir() else target.unlink()
    work(source, folder, place)
    assert same(content(folder), content(tmp_path / "whole"))
