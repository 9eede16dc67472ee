"""What is said of all rows of a run at once reaches its caller as a warning."""

from __future__ import annotations

import os
import sys
import warnings
from collections.abc import Iterable
from pathlib import Path

_HERE = f"{Path(__file__).parent}{os.sep}"


class BeadchemNote(UserWarning):
    """What holds of many rows of a table at once, as that they have no total."""


class Told:
    """The notes of one run, each told once."""

    def __init__(self) -> None:
        self.texts: list[str] = []

    def tell(self, texts: Iterable[str]) -> None:
        """Warns of the notes that were not told yet, at the line that called this package."""
        for text in texts:
            if text not in self.texts:
                self.texts.append(text)
                warnings.warn(text, BeadchemNote, stacklevel=_outside())


def _outside() -> int:
    """How many calls up the first one outside this package stands, as seen from `tell`."""
    frame, level = sys._getframe(1), 1
    while frame.f_back is not None and frame.f_code.co_filename.startswith(_HERE):
        frame, level = frame.f_back, level + 1
    return level
