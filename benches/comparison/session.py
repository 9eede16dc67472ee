"""One session: tables timed, memory, uncertainties, calls, verdicts."""

from __future__ import annotations

import argparse
import json
import math
import os
import platform
import statistics
import subprocess
import sys
from dataclasses import asdict, dataclass

import numba
import numpy as np
import pandas as pd
import polars as pl

from . import accuracy, floors, frames, loops, measure, numpy_forms, ours, uncertain
from .accuracy import Effort
from .contender import Contender, Prepared
from .job import Job, make, ore_classes
from .measure import Limits, Run, Twice

EXPERT = [numpy_forms.SWEEPS, numpy_forms.SOLVE]
"""What an expert would write with the sweeps or the solver of the textbook: the better of them counts."""
ALL = [
    ours.CONTENDER,
    *EXPERT,
    numpy_forms.EXTRAPOLATED,
    numpy_forms.WHOLE_TABLE,
    loops.NUMBA,
    frames.POLARS,
    frames.PANDAS,
    loops.PLAIN,
]
QUICK = [
    ours.CONTENDER,
    numpy_forms.SWEEPS,
    numpy_forms.EXTRAPOLATED,
    numpy_forms.WHOLE_TABLE,
    loops.NUMBA,
    frames.POLARS,
]
MIXED = "mixed"
ONE_TABLE = "bauxite"
"""The class whose memory, uncertainties and calls are looked at."""
THREADED = ["numpy", "polars"]
"""Contenders whose libraries take all threads they find."""
UNCERTAIN_ROWS, QUICK_UNCERTAIN_ROWS = 100_000, 20_000
MEMORY_ROWS = 1_000_000
CALLS = 2000
UNCERTAIN_REPEATS = 9
U_EQUAL = 1e-9
"""The u of two right ways: what is left of 1e-10 in the contents after a difference."""
Key = tuple[str, int, str]
"""Table, rows, contender."""


@dataclass(frozen=True)
class Options:
    """What was asked of the session."""

    tables: list[str]
    rows: list[int]
    repeats: int
    contenders: list[Contender]
    quick: bool
    all_threads: bool

    @classmethod
    def of(cls, asked: argparse.Namespace) -> Options:
        known = [*ore_classes(), MIXED]
        for name in asked.tables or []:
            if name not in known:
                raise SystemExit(f"There is no table {name}; there are {', '.join(known)}.")
        contenders = [
            one for one in (QUICK if asked.quick else ALL) if not asked.only or any(w in one.name for w in asked.only)
        ]
        if asked.without_ours:
            contenders = [one for one in contenders if one is not ours.CONTENDER]
        elif ours.CONTENDER in contenders and not ours.available():
            raise SystemExit(
                "beadchem with its batch entry is not installed; --without-ours compares the others alone."
            )
        rows = asked.rows or ([1_000_000] if asked.quick else [100_000, 1_000_000])
        return cls(
            asked.tables or ([ONE_TABLE] if asked.quick else known),
            sorted({*rows, *([10_000_000] if asked.long else [])}),
            asked.repeats or (3 if asked.quick else 9),
            contenders,
            asked.quick,
            asked.threads == "all",
        )

    @property
    def with_ours(self) -> bool:
        return ours.CONTENDER in self.contenders


def table(name: str, rows: int) -> Job:
    return make(list(ore_classes()) if name == MIXED else [name], rows)


def run(options: Options) -> bool:
    """The whole session; whether every floor holds with the slack."""
    threads = "all" if options.all_threads else "one"
    print(f"numpy {np.__version__}, numba {numba.__version__}, polars {pl.__version__}, pandas {pd.__version__}")
    print(f"Python {platform.python_version()}; {os.cpu_count()} cores, threads of the libraries: {threads}")
    limits = measure.limits()
    print(f"one core: copy {limits.bytes_per_ns:.1f} GB/s, product of matrices {limits.flops_per_ns:.0f} Gflop/s")
    times: dict[Key, Twice] = {}
    for rows in options.rows:
        for name in options.tables:
            times |= _time_table(name, rows, options, limits)
    if options.all_threads:
        return True
    verdicts = floors.Floors()
    _memory(options, verdicts)
    _uncertainties(options, verdicts)
    if options.with_ours:
        _compare(times, options, verdicts)
        _exponent(times, options, verdicts)
        _small_call(verdicts)
    if not options.quick:
        _with_all_threads(options)
    return verdicts.finish()


def _time_table(name: str, rows: int, options: Options, limits: Limits) -> dict[Key, Twice]:
    """Proves every contender on this table, then lets them take turns."""
    job = table(name, rows)
    efforts = accuracy.efforts(job)
    print(f"\n{name}, {rows} rows; sweeps plain, or before + after one extrapolation: ", end="")
    print(", ".join(f"{effort.plain} or {effort.before} + {effort.after}" for effort in efforts))
    runs: dict[str, tuple[Run, Run]] = {}
    counts: dict[str, int] = {}
    for contender in options.contenders:
        part = contender.share_of(job)
        prepared = contender.prepare(part, efforts)
        runs[contender.name] = _first_and_steady(prepared)
        for once in runs[contender.name]:
            accuracy.prove(part, prepared.read(once()), contender.name)
        counts[contender.name] = part.rows
    times = measure.take_turns(runs, counts, options.repeats)
    _print_times(job, times, limits)
    return {(name, rows, contender): taken for contender, taken in times.items()}


def _first_and_steady(prepared: Prepared) -> tuple[Run, Run]:
    """A new result each time, and the same one filled again by a contender that can."""
    kept = None if prepared.empty is None else prepared.empty()
    return lambda: prepared.run(None), lambda: prepared.run(kept)


def _print_times(job: Job, times: dict[str, Twice], limits: Limits) -> None:
    n, own = len(job.components), times.get(ours.CONTENDER.name)
    cells, flops = 8 * (4 + n + 2 * n + 2) + 1, _flops(n)
    print(f"{'per row':<44}{'first: CPU ns':>14}{'to ours':>9}{'steady: CPU ns':>16}{'to ours':>9}", end="")
    print(f"{'wall ns':>10}{'of limit':>10}")
    for contender, taken in times.items():
        first, steady = taken.first.cpu, taken.steady.cpu
        ratios = ("-", "-") if own is None else (f"{first / own.first.cpu:.2f}", f"{steady / own.steady.cpu:.2f}")
        fraction = limits.fraction(cells, flops, steady)
        print(f"{contender:<44}{first:>14.0f}{ratios[0]:>9}{steady:>16.0f}{ratios[1]:>9}", end="")
        print(f"{taken.steady.wall:>10.0f}{fraction:>10.1%}", flush=True)


def _flops(n: int) -> float:
    """Counted: system 2 n^2, elimination 2/3 n^3, both substitutions 2 n^2, strengths, two bases and total 5 n."""
    return 2 * n**2 + 2 * n**3 / 3 + 2 * n**2 + 5 * n


def _memory(options: Options, verdicts: floors.Floors) -> None:
    """Each contender once in a fresh process of its own."""
    rows = min(MEMORY_ROWS, max(options.rows))
    job = table(ONE_TABLE, rows)
    result = job.empty()
    held = result.block.nbytes + rows
    effort = json.dumps(asdict(accuracy.efforts(job)[0]))
    print(f"\n{ONE_TABLE}, {rows} rows: most memory beyond the table, bytes per row ({held / rows:.0f} are the result)")
    for contender in [ours.CONTENDER] * options.with_ours if options.quick else options.contenders:
        if contender.most_rows is not None:
            continue
        asked = [sys.executable, sys.argv[0], "--memory-of", contender.name, "--rows", str(rows), "--effort", effort]
        found = subprocess.run(asked, check=True, capture_output=True, text=True).stdout.strip()
        if not found:
            print("this system does not tell")
            return
        print(f"{contender.name:<46}{int(found) / rows:>8.0f}", flush=True)
        if contender is ours.CONTENDER:
            # its result has columns that the job does not ask for
            empty = contender.prepare(job, ()).empty
            own = held if empty is None else empty().nbytes
            beyond = (int(found) - own) / 1e6
            verdicts.at_most("memory beyond the result, MB", beyond, floors.MEMORY_BEYOND_RESULT_MB, slack=1.0)


def memory_of(name: str, rows: int, effort: str) -> None:
    """Prints what one contender needs at its peak; a small table first, so that compiling and loading do not count."""
    (contender,) = [one for one in ALL if one.name == name]
    job, efforts = table(ONE_TABLE, rows), (Effort(**json.loads(effort)),)
    contender.prepare(job.head(measure.WARM_ROWS), efforts).run(None)
    prepared = contender.prepare(job, efforts)
    peak = measure.peak_bytes(lambda: prepared.run(None))
    print("" if peak is None else peak)


def _uncertainties(options: Options, verdicts: floors.Floors) -> None:
    """u of all contents, their covariance, and the draws of one bead, proved before they are timed."""
    job = table(ONE_TABLE, QUICK_UNCERTAIN_ROWS if options.quick else UNCERTAIN_ROWS)
    efforts = accuracy.efforts(job)
    uncertain.prove(job, efforts[0])
    bead, draws = uncertain.Bead.of(job, efforts[0]), uncertain.DRAWS
    names = ("value", "u", "covariance", "draws")
    runs: dict[str, Run] = {
        "numpy value": _steady(numpy_forms.SWEEPS, job, efforts),
        "numpy u": uncertain.jacobian(job, full=False),
        "numpy covariance": uncertain.jacobian(job, full=True),
        "numpy draws": lambda: uncertain.monte_carlo(bead, draws, seed=1),
    }
    if options.with_ours:
        runs["ours value"] = _steady(ours.CONTENDER, job, efforts)
        for full in (False, True):
            runs[f"ours {names[1 + full]}"] = _proved(job, full)
        runs["ours draws"], read = ours.monte_carlo(job, draws)
        uncertain.prove_draws(job, read(runs["ours draws"]()), draws, "ours")
    counts = {name: draws if "draws" in name else job.rows for name in runs}
    twice = measure.take_turns(
        {name: (one, one) for name, one in runs.items()}, counts, min(UNCERTAIN_REPEATS, options.repeats)
    )
    times = {name: taken.steady for name, taken in twice.items()}
    print(f"\n{ONE_TABLE}, {job.rows} rows with u, and {draws} draws of one bead: CPU ns per row or draw")
    for name, taken in times.items():
        print(f"{name:<46}{taken.cpu:>8.0f}")
    if options.with_ours:
        own = {name: times[f"ours {name}"].cpu for name in names}
        verdicts.at_most("fourteen u, times the value", own["u"] / own["value"], floors.VARIANCES)
        verdicts.at_most("full covariance, times the value", own["covariance"] / own["value"], floors.COVARIANCE)
        ratio = times["numpy draws"].cpu / own["draws"]
        # three turns are too few to tell: 2.9 to 4.1 on one machine that other work shared
        verdicts.at_least("numpy Monte Carlo, times ours", ratio, floors.MONTE_CARLO, known_missed=options.quick)


def _steady(contender: Contender, job: Job, efforts: tuple[Effort, ...]) -> Run:
    return _first_and_steady(contender.prepare(job, efforts))[1]


def _proved(job: Job, full: bool) -> Run:
    """Ours, once its u or covariance is that of the Jacobian of numpy."""
    run, read = ours.uncertain(job, full)
    expected = uncertain.jacobian(job, full)()
    scale = np.abs(expected).max(axis=0)
    worst = float((np.abs(read(run()) - expected) / scale).max())
    if not worst <= U_EQUAL:
        raise SystemExit(
            f"ours, {'covariance' if full else 'u'}: {worst:.1e} from the Jacobian, at most {U_EQUAL:g} is equal"
        )
    return run


def _compare(times: dict[Key, Twice], options: Options, verdicts: floors.Floors) -> None:
    """The median over the classes of ore at the largest size, steady, the least of all named beside it. Of two ways to write
    one contender the better one counts, table by table."""
    rows = max(options.rows)
    own = ours.CONTENDER.name
    for words, contenders, bound in (
        ("expert numpy", EXPERT, floors.EXPERT),
        ("whole-table numpy", [numpy_forms.WHOLE_TABLE], floors.WHOLE_TABLE),
        ("polars", [frames.POLARS], floors.POLARS),
        ("numba", [loops.NUMBA], floors.NUMBA),
    ):
        ratios = {}
        for name in [name for name in options.tables if name != MIXED]:
            theirs = [times[key].steady.cpu for one in contenders if (key := (name, rows, one.name)) in times]
            if theirs:
                ratios[name] = min(theirs) / times[name, rows, own].steady.cpu
        if ratios:
            least = min(ratios, key=lambda name: ratios[name])
            said = f"{words}, times ours (least {ratios[least]:.2f}, {least})"
            # numba compiles its loop for the row at hand: with AVX-512 we stand at its floor, with AVX2 at three quarters of it
            # and below; what numpy takes for a whole table is how its pages come: 6 to 9 times ours on one kind of processor
            at_the_border = contenders in ([loops.NUMBA], [numpy_forms.WHOLE_TABLE])
            verdicts.at_least(said, statistics.median(ratios.values()), bound, known_missed=at_the_border)


def _exponent(times: dict[Key, Twice], options: Options, verdicts: floors.Floors) -> None:
    """The worst table, from the smallest size to the largest."""
    own, few, many = ours.CONTENDER.name, min(options.rows), max(options.rows)
    if many > few:
        found = {
            name: measure.exponent(*((size, times[name, size, own].steady.cpu) for size in (few, many)))
            for name in options.tables
        }
        verdicts.exponent(max(found.values()), math.log10(many / few))


def _small_call(verdicts: floors.Floors) -> None:
    seconds = measure.seconds_per_call(ours.small_call(table(ONE_TABLE, ours.SMALL_ROWS)), CALLS)
    # taking eighteen columns out of a dict and giving a table back is most of it
    said = f"a call with {ours.SMALL_ROWS} rows, us"
    verdicts.at_most(said, seconds * 1e6, floors.SMALL_CALL_US, known_missed=True)


def _with_all_threads(options: Options) -> None:
    """The threads of a library are fixed when it is loaded, so this is another process."""
    print("\nWith all threads, in a process of its own:", flush=True)
    rows = str(min(MEMORY_ROWS, max(options.rows)))
    asked = [
        "--threads",
        "all",
        "--without-ours",
        "--tables",
        ONE_TABLE,
        "--rows",
        rows,
        "--repeats",
        "3",
        "--only",
        *THREADED,
    ]
    subprocess.run([sys.executable, sys.argv[0], *asked], check=True)
