"""What theory saves: coefficients from first principles and one gravimetric bead against calibration by 30 standards.

    python benches/gain.py [--assert] [--each] [--seed N] [--redraws N]

The truth is computed with other mass coefficients and another tube than the theory, and noise is added. The ores are in
`gain/ores.py`, the second tables in `gain/tables.py`, noise in `gain/beads.py`, the methods in `gain/methods.py`.
"""

from __future__ import annotations

import argparse
import sys

from gain import study


def main() -> None:
    parser = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter)
    parser.add_argument(
        "--assert", dest="asserting", action="store_true", help="fail where the median rms of a range is above 0.4 %%"
    )
    parser.add_argument("--each", action="store_true", help="every analyte of every class")
    parser.add_argument("--seed", type=int, default=study.Options.seed, metavar="N")
    parser.add_argument("--redraws", type=int, default=study.Options.redraws, metavar="N", help="default: 6")
    asked = parser.parse_args()
    holds = study.run(study.Options(asked.seed, asked.redraws, asked.each))
    if asked.asserting and not holds:
        sys.exit(1)


if __name__ == "__main__":
    main()
