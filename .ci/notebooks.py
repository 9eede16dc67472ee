"""Runs every notebook of a folder (jupytext percent scripts) from top to bottom in a kernel of this interpreter."""

import os
import sys
import tempfile
import time
from pathlib import Path

os.environ["JUPYTER_PREFER_ENV_PATH"] = "1"
os.environ["MPLBACKEND"] = "module://matplotlib_inline.backend_inline"

import jupytext
from nbclient import NotebookClient
from nbclient.exceptions import CellExecutionError

CELL_SECONDS = 300


def run(path: Path) -> str | None:
    """Runs one notebook in an empty folder; returns what failed."""
    notebook = jupytext.read(path)
    with tempfile.TemporaryDirectory() as folder:
        client = NotebookClient(
            notebook,
            timeout=CELL_SECONDS,
            kernel_name="python3",
            resources={"metadata": {"path": folder}},
            extra_arguments=["--IPKernelApp.log_level=ERROR"],
        )
        try:
            client.execute()
        except CellExecutionError as error:
            return str(error)
    return None


def main(folder: str) -> int:
    paths = sorted(Path(folder).glob("*.py"))
    if not paths:
        print(f"There is no notebook in {folder}.", file=sys.stderr)
        return 1
    failed = 0
    for path in paths:
        start = time.monotonic()
        problem = run(path)
        print(f"{path}: {'failed' if problem else 'passed'} in {time.monotonic() - start:.1f} s", flush=True)
        if problem:
            failed += 1
            print(problem, file=sys.stderr)
    print(f"notebooks: {len(paths) - failed} passed, {failed} failed")
    return 1 if failed else 0


if __name__ == "__main__":
    sys.exit(main(sys.argv[1]))
