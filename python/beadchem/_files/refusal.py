"""Refusals of this package's Python side, in the form that those of the native module have."""

from __future__ import annotations

from collections.abc import Iterator
from contextlib import contextmanager
from importlib import import_module
from types import ModuleType

from beadchem import BeadchemError


def refused(code: str, text: str, *, quantity: str = "", hint: str = "") -> BeadchemError:
    """An error to raise: `text` says what, the bound and the cause, `hint` the repair; the message is both."""
    error = BeadchemError(f"{text} {hint}".strip())
    error.code, error.quantity, error.value, error.bound, error.hint = code, quantity, None, None, hint
    return error


@contextmanager
def of_file(file: str) -> Iterator[None]:
    """What is refused inside is said of a file of a folder; of a source that is one file nothing is added."""
    try:
        yield
    except BeadchemError as why:
        if not file or str(why).startswith(f"{file}: ") or f"/{file} " in str(why):
            raise
        named = BeadchemError(f"{file}: {why}")
        named.code, named.quantity, named.value, named.bound, named.hint = why.code, why.quantity, why.value, why.bound, why.hint
        raise named from None


def needed(module: str, what_for: str) -> ModuleType:
    """Imports an optional library; refused in plain words where it is not installed."""
    try:
        return import_module(module)
    except ImportError:
        package = module.partition(".")[0]
        raise refused(
            "library.missing", f"{what_for} needs {package}, which is not installed.", hint=f"pip install {package}"
        ) from None
