"""Lines of a command on their way out."""

from __future__ import annotations

import os
import sys
from collections.abc import Iterable


def out(lines: Iterable[str]) -> None:
    """Writes lines to stdout. Where nobody reads on, as behind `| head`, the rest is dropped and the command goes on."""
    try:
        for line in lines:
            sys.stdout.write(f"{line}\n")
        sys.stdout.flush()
    except BrokenPipeError:
        nowhere = os.open(os.devnull, os.O_WRONLY)
        os.dup2(nowhere, sys.stdout.fileno())  # what is still held is written when the interpreter ends
        os.close(nowhere)
