"""A place to interrupt a run from a test: after each file begun, write, sync and rename a run
passes a named point."""

from __future__ import annotations

from collections.abc import Callable

_hook: Callable[[str], None] | None = None


def install(hook: Callable[[str], None] | None) -> None:
    """Calls `hook` with the name of every point that is passed from now on; None takes it off again."""
    global _hook
    _hook = hook


def point(name: str) -> None:
    """Passes a point; without a hook nothing happens."""
    if _hook is not None:
        _hook(name)
