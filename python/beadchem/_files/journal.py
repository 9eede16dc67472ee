"""The journal of a run: what it computes from what, and which parts are finished. One JSON object a line."""

from __future__ import annotations

import json
import os
from collections.abc import Mapping
from dataclasses import dataclass, field
from pathlib import Path
from typing import Any

from beadchem._files import faults
from beadchem._files.durable import place, working_name
from beadchem._files.refusal import refused

_KIND = {"kind": "beadchem run", "schema": 2}


@dataclass
class Journal:
    """An open journal.

    `done` maps the number of a finished part to its record, `summary` is what was found, once the result lacks nothing but its
    final name, and `made` the digest of that result where it is one file.
    """

    path: Path
    done: dict[int, dict[str, Any]] = field(default_factory=dict)
    summary: dict[str, Any] | None = None
    made: str | None = None

    def part(self, number: int, record: Mapping[str, Any]) -> None:
        """Notes a finished part; its files must be in place."""
        self._append({"part": number, **record})
        self.done[number] = dict(record)

    def complete(self, summary: Mapping[str, Any], made: str | None) -> None:
        """Notes that nothing is left to do but to give the result its name."""
        self._append({"complete": dict(summary), "made": made})
        self.summary, self.made = dict(summary), made

    def _append(self, record: Mapping[str, Any]) -> None:
        with self.path.open("ab") as file:
            file.write(_line(record))
            file.flush()
            faults.point("journal written")
            os.fsync(file.fileno())
        faults.point("journal synced")


def begin(path: Path, heading: Mapping[str, Any]) -> Journal:
    """A new journal; either none stands there or one with its heading whole."""
    working = working_name(path)
    working.write_bytes(_line({**_KIND, "heading": heading}))
    faults.point("journal written")
    place(working, path)
    return Journal(path)


def resume(path: Path, heading: Mapping[str, Any]) -> Journal:
    """Opens the journal of an interrupted run. A line that a kill cut short is dropped.

    Raises `BeadchemError` `run.differs` where the journal is of another run than `heading` describes.
    """
    lines = _whole_lines(path)
    if not lines or {name: lines[0].get(name) for name in _KIND} != _KIND:
        raise _differs(path, "its journal is of another version of this package, or damaged")
    was = lines[0]["heading"]
    is_now = json.loads(json.dumps(heading))
    for name in [*is_now, *(set(was) - set(is_now))]:
        if was.get(name) != is_now.get(name):
            raise _differs(path, _difference(name, was.get(name), is_now.get(name)))
    journal = Journal(path)
    for line in lines[1:]:
        if "complete" in line:
            journal.summary, journal.made = line["complete"], line["made"]
        else:
            journal.done[line.pop("part")] = line
    return journal


def has_parts(path: Path) -> bool:
    """Whether anything was finished in the run of a journal."""
    return len(_whole_lines(path)) > 1


def _line(record: Mapping[str, Any]) -> bytes:
    return json.dumps(record, ensure_ascii=False, separators=(",", ":")).encode() + b"\n"


def _whole_lines(path: Path) -> list[dict[str, Any]]:
    """The readable lines from the start; the rest is cut off, so that new lines follow whole ones."""
    lines, good = [], 0
    for raw in path.read_bytes().splitlines(keepends=True):
        try:
            line = json.loads(raw)
        except ValueError:
            break
        if not raw.endswith(b"\n") or not isinstance(line, dict):
            break
        lines.append(line)
        good += len(raw)
    if lines:
        os.truncate(path, good)
    return lines


def _difference(name: str, was: Any, is_now: Any) -> str:
    """What changed, in words."""
    if name != "source":
        return f"it was begun with {name} {_short(was)}, now it is {_short(is_now)}"
    before = {file["path"]: file for file in was or []}
    after = {file["path"]: file for file in is_now or []}
    for path in before.keys() | after.keys():
        old, new = before.get(path), after.get(path)
        if old is None or new is None:
            return f"the source file {path} was {'added' if old is None else 'taken away'} since"
        if old != new:
            changed = ", ".join(f"{key} {old[key]} -> {new[key]}" for key in old if old[key] != new.get(key))
            return f"the source file {path} changed since ({changed})"
    return "the order of the source files changed since"


def _short(value: Any) -> str:
    text = value if isinstance(value, str) else json.dumps(value, ensure_ascii=False)
    return text if len(text) <= 40 else f"{text[:37]}..."


def _differs(path: Path, why: str) -> Exception:
    return refused(
        "run.differs",
        f"An unfinished run stands in {path.parent}, and {why}. Its parts do not belong to this run.",
        hint="Repeat the command it was begun with, or say --restart (restart=True) to throw its parts away.",
    )
