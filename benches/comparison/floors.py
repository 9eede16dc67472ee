"""What is promised of the library beside the contenders, and whether it holds.

The printed verdict grants nothing. `--assert` fails below three quarters of a floor: shared machines are noisy. Memory is
granted nothing: it does not depend on load. What is known to be missed is printed and fails nothing.
"""

from __future__ import annotations

import math
from dataclasses import dataclass, field

SLACK = 4 / 3
EXPERT, WHOLE_TABLE, POLARS, NUMBA, MONTE_CARLO = 2.5, 8.0, 6.0, 4.0, 4.0
VARIANCES, COVARIANCE = 5.0, 6.0
EXPONENT = 1.03
SMALL_CALL_US = 5.0
MEMORY_BEYOND_RESULT_MB = 16.0


@dataclass
class Floors:
    """Counts what holds, with the slack, while it prints."""

    checks: int = 0
    failed: int = 0
    lines: list[str] = field(default_factory=list)

    def at_least(self, name: str, figure: float, bound: float, known_missed: bool = False) -> None:
        granted = known_missed or figure >= bound / SLACK
        self._judge(name, figure, f"at least {bound:g}", figure >= bound, granted)

    def at_most(
        self, name: str, figure: float, bound: float, slack: float = SLACK, known_missed: bool = False
    ) -> None:
        granted = known_missed or figure <= bound * slack
        self._judge(name, figure, f"at most {bound:g}", figure <= bound, granted)

    def exponent(self, figure: float, decades: float) -> None:
        """The slack is a third more time at the larger table."""
        granted = EXPONENT + math.log10(SLACK) / decades
        self._judge(
            "exponent of time against rows", figure, f"at most {EXPONENT}", figure <= EXPONENT, figure <= granted
        )

    def _judge(self, name: str, figure: float, bound: str, holds: bool, granted: bool) -> None:
        self.checks += 1
        self.failed += not granted
        self.lines.append(f"{name:<64} {figure:>12.2f} ({bound}) {'holds' if holds else 'BROKEN'}")

    def finish(self) -> bool:
        """Prints the verdicts; whether all hold with the slack."""
        print("\n".join(self.lines))
        print(f"{self.checks - self.failed} passed, {self.failed} failed")
        return self.failed == 0
