"""Other atomic tables: mass coefficients after Chantler; edges, yields and lines after Elam; both of `xraydb`."""

from __future__ import annotations

from collections.abc import Iterable, Iterator

import beadchem as bc
import numpy as np
import xraydb

LOWEST_KEV, HIGHEST_KEV = 0.95, 55.0
SHELLS = ("K", "L1", "L2", "L3")
LINES = (
    ("K", "Ka", ("L3", "L2")),
    ("K", "Kb", ("M3", "M2", "N3", "N2", "N2,3")),
    ("L3", "La", ("M5", "M4")),
    ("L3", "Lb2", ("N5", "N4", "N4,5")),
    ("L3", "Ll", ("M1",)),
    ("L2", "Lb1", ("M4",)),
    ("L2", "Lg1", ("N4",)),
    ("L1", "Lb3", ("M3",)),
    ("L1", "Lb4", ("M2",)),
)
"""Shell, line, and the final levels that are read as one."""
NEAR_EDGE = 0.01
"""An edge of the table is looked for within this share of the stated one: the two differ by some eV."""
LEAST_STEP = 1.01
"""What rises by less at a stated edge has no edge in the table."""
MASS_HEADER = "element,energy_kev,total_cm2_per_g,photo_cm2_per_g"
ATOM_HEADER = "element,kind,name,shell,energy_kev,jump_ratio,fluorescence_yield,f12,f13,f23,share"


def chantler(elements: Iterable[str]) -> bc.AtomicTables:
    """On the grid of the table itself; both sides of every edge."""
    held = sorted(set(elements))
    mass = "\n".join([MASS_HEADER, *(row for element in held for row in _mass(element))])
    atoms = "\n".join([ATOM_HEADER, *(row for element in held for row in _atoms(element))])
    source = f"mass coefficients after Chantler, edges, yields and lines after Elam: xraydb {xraydb.__version__}"
    return bc.AtomicTables.from_csv(mass, atoms, source)


def _mass(element: str) -> Iterator[str]:
    grid = xraydb.chantler_energies(element, 1e3 * LOWEST_KEV, 1e3 * HIGHEST_KEV)
    total = xraydb.mu_chantler(element, grid.copy())
    photo = np.minimum(xraydb.mu_chantler(element, grid.copy(), photo=True), total)
    jumps = _jumps(element, grid, photo)
    for place, energy in enumerate(grid):
        yield _row(element, energy, total[place], photo[place])
        if place in jumps:
            edge = np.sqrt(energy * grid[place + 1])
            yield _row(element, edge, total[place], photo[place])
            yield _row(element, edge, total[place + 1], photo[place + 1])


def _row(element: str, energy_ev: float, total: float, photo: float) -> str:
    return f"{element},{energy_ev / 1e3:.9g},{total:.8g},{photo:.8g}"


def _jumps(element: str, grid: np.ndarray, photo: np.ndarray) -> set[int]:
    """Where the steepest step beside a stated edge begins."""
    found = set()
    steps = photo[1:] / photo[:-1]
    for edge in xraydb.xray_edges(element).values():
        near = np.flatnonzero(np.abs(grid[:-1] / edge.energy - 1.0) < NEAR_EDGE)
        if near.size and steps[near].max() > LEAST_STEP:
            found.add(int(near[steps[near].argmax()]))
    return found


def _atoms(element: str) -> Iterator[str]:
    edges = {shell: edge for shell, edge in xraydb.xray_edges(element).items() if shell in SHELLS}
    edges = {shell: edge for shell, edge in edges.items() if edge.energy >= 1e3 * LOWEST_KEV and edge.jump_ratio > 1.0}
    lines = xraydb.xray_lines(element).values()
    for shell, edge in edges.items():
        f12, f13 = (_moved(element, "L1", to) if shell == "L1" else "" for to in ("L2", "L3"))
        f23 = _moved(element, "L2", "L3") if shell == "L2" else ""
        numbers = f"{edge.energy / 1e3:.9g},{edge.jump_ratio:.8g},{edge.fyield:.8g}"
        yield f"{element},edge,{shell},{shell},{numbers},{f12},{f13},{f23},"
    for shell, name, finals in LINES:
        merged = [line for line in lines if line.initial_level == shell and line.final_level in finals]
        share = sum(line.intensity for line in merged)
        if shell in edges and share > 0.0:
            energy = sum(line.intensity * line.energy for line in merged) / share
            yield f"{element},line,{name},{shell},{energy / 1e3:.9g},,,,,,{min(share, 1.0):.8g}"


def _moved(element: str, out_of: str, to: str) -> str:
    share = xraydb.ck_probability(element, out_of, to, total=False)
    return f"{share:.8g}" if share else "0"
