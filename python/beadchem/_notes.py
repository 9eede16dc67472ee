"""What is said of all rows of a run at once reaches its caller as a warning."""

from __future__ import annotations

import os
import sys
import warnings
from collections.abc import Iterable
from pathlib import Path
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from beadchem import Finding

_HERE = f"{Path(__file__).parent}{os.sep}"


class BeadchemNote(UserWarning):
    """What holds of many rows of a table at once, as that they have no total."""


Note = tuple[str, str]
"""The code of a note and its words."""
OF_ALL_PARTS = frozenset({"rows.none-chosen"})
"""Notes that hold of a whole only where each of its parts says them."""


def coded(notes: Iterable[Finding]) -> list[Note]:
    """Notes as they are kept and compared."""
    return [(note.code, note.text) for note in notes]


class Gathered:
    """What is said of a whole by the notes of its parts."""

    def __init__(self) -> None:
        self._any: dict[Note, None] = {}
        self._all: dict[str, Note] | None = None

    def add(self, notes: Iterable[Note], rows: int) -> None:
        """Takes in the notes of one part of so many rows."""
        of_all: dict[str, Note] = {}
        for note in notes:
            if note[0] in OF_ALL_PARTS:
                of_all.setdefault(note[0], note)
            else:
                self._any[note] = None
        if rows:
            self._all = {code: note for code, note in (of_all if self._all is None else self._all).items() if code in of_all}

    @property
    def notes(self) -> list[Note]:
        """Each of them once."""
        return [*self._any, *(self._all or {}).values()]


class Told:
    """The notes of one run, each told once."""

    def __init__(self) -> None:
        self.texts: list[str] = []
        self._gathered = Gathered()

    def tell(self, notes: Iterable[Finding], rows: int, part: bool = False) -> None:
        """Warns of the notes of so many rows that were not told yet, at the line that called this package; of a `part`, what must
        hold of all parts waits for `close`."""
        self._gathered.add(coded(notes), rows)
        self._warn(part)

    def close(self) -> None:
        """Warns of what all parts said."""
        self._warn(part=False)

    def _warn(self, part: bool) -> None:
        for code, text in self._gathered.notes:
            if text not in self.texts and not (part and code in OF_ALL_PARTS):
                self.texts.append(text)
                warnings.warn(text, BeadchemNote, stacklevel=_outside())


def _outside() -> int:
    """How many calls up the first one outside this package stands, as seen from where the warning is given."""
    frame, level = sys._getframe(1), 1
    while frame.f_back is not None and frame.f_code.co_filename.startswith(_HERE):
        frame, level = frame.f_back, level + 1
    return level
