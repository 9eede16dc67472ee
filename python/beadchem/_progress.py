"""A line on the terminal that says how far a run is."""

from __future__ import annotations

import time
from collections.abc import Callable
from typing import TextIO


class Bar:
    """Draws rows, rows per second and the time that remains, at most ten times a second; call it with rows done and all."""

    def __init__(self, out: TextIO, clock: Callable[[], float] = time.monotonic) -> None:
        self._out, self._clock = out, clock
        self._start: tuple[float, int] | None = None
        self._drawn = -1.0
        self._width = 0

    def __call__(self, done: int, total: int | None) -> None:
        now = self._clock()
        if self._start is None:
            self._start = now, done
        if now - self._drawn < 0.1 and done != total:
            return
        self._drawn = now
        seconds, rows = now - self._start[0], done - self._start[1]
        rate = rows / seconds if seconds > 0 else 0.0
        self._draw(describe(done, total, rate))

    def end(self) -> None:
        """Takes the line away."""
        if self._width:
            self._out.write("\r" + " " * self._width + "\r")
            self._out.flush()

    def _draw(self, text: str) -> None:
        self._out.write("\r" + text.ljust(self._width))
        self._out.flush()
        self._width = len(text)


def describe(done: int, total: int | None, rate: float) -> str:
    """The line for `done` of `total` rows at `rate` rows a second.

    >>> describe(250_000, 1_000_000, 50_000.0)
    '[#####---------------]  25 %  250 000 rows, 50 000 rows/s, 15 s left'
    """
    rows = f"{_spaced(done)} rows, {_spaced(round(rate))} rows/s"
    if not total:
        return rows
    share = min(done / total, 1.0)
    full = int(20 * share)
    left = f", {_time((total - done) / rate)} left" if rate > 0 and done < total else ""
    return f"[{'#' * full}{'-' * (20 - full)}] {int(100 * share):3} %  {rows}{left}"


def _spaced(count: int) -> str:
    return f"{count:,}".replace(",", " ")


def _time(seconds: float) -> str:
    whole = round(seconds)
    return f"{whole} s" if whole < 120 else f"{whole // 60} min" if whole < 7200 else f"{whole // 3600} h"
