"""Command line: ``python -m beadchem demo [--out DIR]``."""

from __future__ import annotations

import argparse
import sys
from pathlib import Path

from beadchem import __version__


def _demo(out: Path | None) -> int:
    from beadchem.demo import evaluate, load_day
    from beadchem.demo import report

    day = evaluate(load_day())
    sys.stdout.write(report.text(day))
    if out is not None:
        try:
            out.mkdir(parents=True, exist_ok=True)
            for name, content in [
                ("report.html", report.to_html(day)),
                ("results.csv", report.to_csv(day)),
                ("results.json", report.to_json(day)),
            ]:
                (out / name).write_text(content, encoding="utf-8", newline="")
        except OSError as failed:
            sys.stderr.write(f"Nothing could be written to {out}: {failed.strerror}. Choose another folder.\n")
            return 1
        sys.stdout.write(f"\nWritten to {out}: report.html, results.csv, results.json\n")
    return 0


def main(arguments: list[str] | None = None) -> int:
    """Runs one command; returns the exit code."""
    parser = argparse.ArgumentParser(prog="python -m beadchem", description="Chemistry of fused beads.")
    parser.add_argument("--version", action="version", version=f"beadchem {__version__}")
    commands = parser.add_subparsers(dest="command", required=True)
    demo = commands.add_parser("demo", help="a whole invented day from the balance to the report")
    demo.add_argument("--out", type=Path, metavar="DIR", help="also write report.html, results.csv and results.json")
    chosen = parser.parse_args(arguments)
    return _demo(chosen.out)


if __name__ == "__main__":
    sys.exit(main())
