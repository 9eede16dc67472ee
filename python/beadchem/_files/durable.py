"""Files that survive a power cut: written under a working name, synced, renamed, and the folder synced."""

from __future__ import annotations

import hashlib
import os
import sys
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path

from beadchem._files import faults
from beadchem._files.refusal import refused


def sync_file(path: Path) -> None:
    """Asks the system to bring a file's content to the disk."""
    handle = os.open(path, os.O_RDWR)
    try:
        os.fsync(handle)
    finally:
        os.close(handle)
    faults.point("file synced")


def sync_folder(path: Path) -> None:
    """Asks the system to bring a folder's names to the disk; Windows has no such call and needs none."""
    if sys.platform != "win32":
        handle = os.open(path, os.O_RDONLY)
        try:
            os.fsync(handle)
        finally:
            os.close(handle)
    faults.point("folder synced")


def place(working: Path, final: Path) -> None:
    """Gives a finished file its final name: either the old content stands there or all of the new."""
    sync_file(working)
    rename(working, final)


def rename(working: Path, final: Path) -> None:
    """Renames a synced file or a folder of synced files and makes the new name last."""
    os.replace(working, final)
    faults.point("renamed")
    sync_folder(final.parent)
    if working.parent != final.parent:
        sync_folder(working.parent)


def digest(path: Path) -> str:
    """What a file holds, as `sha256:...`: a bit that flips on the disk later gives another."""
    found, block = hashlib.sha256(), bytearray(1 << 20)
    with path.open("rb", buffering=0) as file:
        while count := file.readinto(block):
            found.update(memoryview(block)[:count])
    return f"sha256:{found.hexdigest()}"


def working_name(final: Path) -> Path:
    """The hidden name beside `final` under which it is written."""
    return final.with_name(f".{final.name}.new")


def work_folder(target: Path) -> Path:
    """The hidden folder beside the target where parts and journal stand while a run is unfinished."""
    return target.absolute().with_name(f".{target.name}.beadchem")


@contextmanager
def sole_user(folder: Path, target: Path) -> Iterator[None]:
    """Keeps a second run off the folder; the system lets go when the process ends, however it ends."""
    if sys.platform == "win32":
        yield
        return
    import fcntl

    handle = os.open(folder, os.O_RDONLY)
    try:
        try:
            fcntl.flock(handle, fcntl.LOCK_EX | fcntl.LOCK_NB)
        except BlockingIOError:
            raise refused(
                "run.busy", f"Another run is writing {target} at this moment.", hint="Wait for it, or choose another target."
            ) from None
        yield
    finally:
        os.close(handle)
