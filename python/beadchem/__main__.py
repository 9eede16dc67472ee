"""Command line: ``python -m beadchem demo | codes | correct | recorrect | compare``; ``--help`` after each says what it takes."""

from __future__ import annotations

import argparse
import sys
from pathlib import Path

from beadchem import __version__, _commands
from beadchem._out import out as printed


def _demo(out: Path | None) -> int:
    from beadchem.demo import evaluate, load_day
    from beadchem.demo import report
    from beadchem.demo.light import shine

    stored = load_day()
    day = evaluate(stored)
    light = shine(stored, report.clean(day))
    printed([report.text(day, light).removesuffix("\n")])
    if out is not None:
        try:
            out.mkdir(parents=True, exist_ok=True)
            for name, content in [
                ("report.html", report.to_html(day, light)),
                ("results.csv", report.to_csv(day)),
                ("results.json", report.to_json(day)),
            ]:
                (out / name).write_text(content, encoding="utf-8", newline="")
        except OSError as failed:
            return _unwritten(out, failed, "folder")
        printed(["", f"Written to {out}: report.html, results.csv, results.json"])
    return 0


def _codes(out: Path | None) -> int:
    from beadchem import CodeTable
    from beadchem._page import page

    table = CodeTable()
    printed([f"{table}"])
    if out is not None:
        try:
            out.write_text(page("Codes", [table._repr_html_()]), encoding="utf-8", newline="")
        except OSError as failed:
            return _unwritten(out, failed, "file")
        printed(["", f"Written to {out}"])
    return 0


def _unwritten(out: Path, failed: OSError, kind: str) -> int:
    sys.stderr.write(f"Nothing could be written to {out}: {failed.strerror}. Choose another {kind}.\n")
    return 1


def main(arguments: list[str] | None = None) -> int:
    """Runs one command; returns the exit code."""
    parser = argparse.ArgumentParser(prog="python -m beadchem", description="Chemistry of fused beads.")
    parser.add_argument("--version", action="version", version=f"beadchem {__version__}")
    commands = parser.add_subparsers(dest="command", required=True)
    demo = commands.add_parser("demo", help="a whole invented day from the balance to the report")
    demo.add_argument("--out", type=Path, metavar="DIR", help="also write report.html, results.csv and results.json")
    codes = commands.add_parser("codes", help="the codes of refusals and findings, and what each means")
    codes.add_argument("--out", type=Path, metavar="FILE", help="also write them as an HTML page")
    demo.set_defaults(run=lambda chosen: _demo(chosen.out))
    codes.set_defaults(run=lambda chosen: _codes(chosen.out))
    _commands.add(commands)
    chosen = parser.parse_args(arguments)
    return int(chosen.run(chosen))


if __name__ == "__main__":
    sys.exit(main())
