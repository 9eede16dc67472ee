"""One job, several ways: the library beside numpy, numba, polars, pandas and plain Python, at equal accuracy.

    python benches/compare.py [--assert] [--quick | --long] [--tables clay mixed] [--without-ours]

The job is in `comparison/job.py`; what equal means in `comparison/accuracy.py`; the floors in `comparison/floors.py`.
Contenders take turns in one process; medians of process CPU time are compared.
"""

from __future__ import annotations

import argparse
import os
import sys

OVERRIDES = ("OPENBLAS_CORETYPE", "OPENBLAS_L2_SIZE")
"""Would hold numpy back on this processor; taken away together."""
THREADS = ("OPENBLAS_NUM_THREADS", "OMP_NUM_THREADS", "MKL_NUM_THREADS", "POLARS_MAX_THREADS", "NUMBA_NUM_THREADS")


def arguments() -> argparse.Namespace:
    parser = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter)
    parser.add_argument(
        "--assert", dest="asserting", action="store_true", help="fail where a floor is missed by more than a quarter"
    )
    parser.add_argument("--quick", action="store_true", help="one table of 1e6 rows, 3 turns, the main contenders")
    parser.add_argument("--long", action="store_true", help="1e7 rows too")
    parser.add_argument("--without-ours", action="store_true", help="the contenders alone")
    parser.add_argument("--tables", nargs="+", metavar="NAME", help="classes of ore, or mixed (default: all)")
    parser.add_argument("--rows", nargs="+", type=int, metavar="N", help="sizes of the tables (default: 1e5 and 1e6)")
    parser.add_argument("--repeats", type=int, metavar="N", help="turns of each contender (default: 9)")
    parser.add_argument("--only", nargs="+", metavar="WORD", help="contenders whose name has one of these words")
    parser.add_argument("--threads", choices=("one", "all"), default="one", help="threads of the libraries")
    parser.add_argument("--memory-of", metavar="NAME", help="print the peak memory of one contender and stop")
    parser.add_argument("--effort", metavar="JSON", help="sweeps of that contender")
    asked = parser.parse_args()
    if asked.asserting and asked.without_ours:
        parser.error("--assert has nothing to check --without-ours")
    return asked


def main() -> None:
    asked = arguments()
    for name in OVERRIDES + THREADS:
        os.environ.pop(name, None)
    if asked.threads == "one":
        os.environ.update(dict.fromkeys(THREADS, "1"))
    from comparison import session  # loads numpy, which reads the environment

    if asked.memory_of:
        session.memory_of(asked.memory_of, asked.rows[0], asked.effort)
        return
    holds = session.run(session.Options.of(asked))
    if asked.asserting and not holds:
        sys.exit(1)


if __name__ == "__main__":
    main()
