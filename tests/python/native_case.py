"""A real correction and invented beads for it: dolomites with catch weights, of two flux lots."""

from __future__ import annotations

from typing import Any

import beadchem as bc
import numpy as np
import pyarrow as pa

LINES = {"Ca_Ka_cps": 13_500.0, "Mg_Ka_cps": 1_710.0, "Si_Ka_cps": 400.0}


def correction() -> bc.Correction:
    """The invented method of the package, two lots, the loss on fusion from the table."""
    lots = [
        bc.FluxLot(name, {"Li2B4O7": 50, "LiBO2": 50}, programme="1050 C, 18 min", loss_percent=bc.value(loss, u=0.03))
        for name, loss in [("F-118", 0.38), ("F-121", 0.62)]
    ]
    sample = bc.Sample(bc.value(0.8, u=0.00012), basis="dried")
    charge = bc.Charge(sample, lots[0].weigh(bc.value(8.0, u=0.00012)))
    return bc.Correction(bc.Method.template(), charge, lots=lots[1:], counting_s=40.0)


RESULTS = [name for name, _, _ in correction().result_fields()]


def beads(rows: int, *, seed: int = 7, first: int = 0, poisoned: bool = True) -> Any:
    """A table of beads; with `poisoned`, about one row in a hundred has a mass that is negative, null or NaN."""
    draw = np.random.default_rng([seed, first])
    sample = 0.8 + 0.003 * draw.standard_normal(rows)
    kind = draw.integers(0, 300, rows) if poisoned else np.full(rows, 9)
    sample = np.where(kind == 0, -0.0012, np.where(kind == 1, np.nan, sample))
    columns: dict[str, Any] = {
        "bead": pa.array([f"B-{first + row}" for row in range(rows)], pa.string()),
        "flux_lot": pa.array(np.where(draw.random(rows) < 0.5, "F-118", "F-121"), pa.string()),
        "sample_g": pa.array(sample, mask=kind == 2),
        "flux_g": 8.0 + 0.01 * draw.standard_normal(rows),
        "loss_on_fusion_percent": 46.3 + 0.1 * draw.standard_normal(rows),
    }
    for name, rate in LINES.items():
        columns[name] = rate * (1.0 + 0.02 * draw.standard_normal(rows))
    return pa.table(columns)
