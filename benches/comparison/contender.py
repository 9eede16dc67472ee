"""What the bench knows of a contender."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from typing import Any

from .accuracy import Effort
from .job import Job, Result


def _as_is(found: Any) -> Result:
    return found


@dataclass(frozen=True)
class Prepared:
    """One job made ready: compiled, in the contender's own table, buffers allocated. None of it is timed.

    `run` takes what `empty` gives and fills it, or nothing and makes a new result; without `empty` it always makes its
    own. `read` turns what `run` gives into a result, untimed.
    """

    run: Callable[[Any], Any]
    empty: Callable[[], Any] | None = None
    read: Callable[[Any], Result] = _as_is


Prepare = Callable[[Job, tuple[Effort, ...]], Prepared]


@dataclass(frozen=True)
class Contender:
    """One way to do the job; a slow one does the head of the table."""

    name: str
    prepare: Prepare
    most_rows: int | None = None

    def share_of(self, job: Job) -> Job:
        return job if self.most_rows is None or self.most_rows >= job.rows else job.head(self.most_rows)
