"""The setup of Fenwick Hollow from first principles: coefficients computed for it, a line that is not thick, lines on each other.

The spectrometer is invented, and so are the counts: they were made with the coefficients that the method stores. What is shown is
how a laboratory would get such numbers, and how far results move with them.
"""

from __future__ import annotations

import json
from dataclasses import dataclass
from typing import Any

import beadchem as bc
from beadchem.demo import Bead, evaluate_beads

TRACE_PERCENT = 1e-4
"""What a class has none of is computed as a trace."""
LEAST_PERCENT = 1.0
"""Contents that are compared."""


@dataclass(frozen=True)
class Moved:
    """A result by the coefficients of the method and by those computed, both calibrated with the same standards, %."""

    bead: str
    analyte: str
    stored: float
    computed: float
    u: float


@dataclass(frozen=True)
class Depth:
    """A line in one bead: where it would be thick, g/cm2, and what to multiply it by to be that of a thick bead."""

    line: str
    thick_from: float
    share: float
    factor: bc.Value


@dataclass(frozen=True)
class Light:
    """What first principles say of the day."""

    provenance: str
    stored: bc.CoefficientSet
    computed: bc.CoefficientSet
    moved: list[Moved]
    bead: str
    g_per_cm2: bc.Value
    depths: list[Depth]
    not_thick: list[bc.Finding]
    nearby: list[bc.NearbyLine]
    left_out: list[str]


def _instrument(setup: dict[str, Any]) -> bc.Instrument:
    tube = {name: setup[name] for name in ("kv", "beryllium_um", "electrons_deg")}
    source = bc.Source.tube(setup["anode"], **tube, take_off_deg=setup["tube_take_off_deg"])
    return bc.Instrument(source, incidence_deg=setup["incidence_deg"], take_off_deg=setup["take_off_deg"])


def _compute(stored: bc.CoefficientSet, instrument: bc.Instrument) -> tuple[bc.Theory, bc.CoefficientSet]:
    """The set of a class at the same bead, for the same flux, components and lines."""
    theory = bc.Theory(instrument, blend=stored.blend, components=stored.components, lines=stored.lines)
    contents = {name: max(content, TRACE_PERCENT) for name, content in stored.centroid_percent.items()}
    bead = bc.ReferenceBead(stored.fused_flux_ratio, contents, ranges_percent=stored.ranges_percent)
    return theory, theory.coefficients(stored.name, "theory-1", "demo of Fenwick Hollow", bead)


def _moves(day: dict[str, Any], computed: list[bc.CoefficientSet], beads: list[Bead]) -> list[Moved]:
    documents = [json.loads(one.to_json()) for one in computed]
    again = evaluate_beads({**day, "coefficients": documents}, [bead.name for bead in beads])
    return [
        Moved(one.name, analyte, one.dried.value(analyte), other.dried.value(analyte), one.dried.u(analyte))
        for one, other in zip(beads, again, strict=True)
        for analyte in one.dried.species
        if one.dried.value(analyte) >= LEAST_PERCENT
    ]


def _glass(bead: Bead, blend: dict[str, float], tin_percent: float) -> bc.Glass:
    """What was found in a bead, with its fused flux and some tin, by gram of sample."""
    masses = {part: share * bead.melt.fused_flux_ratio.value for part, share in blend.items()}
    masses |= {oxide: bead.dried.value(oxide) / 100 for oxide in bead.dried.species if bead.dried.value(oxide) > 0}
    return bc.Glass({**masses, "SnO2": tin_percent / 100})


def shine(day: dict[str, Any], beads: list[Bead]) -> Light:
    """Computes it; `beads` are those to be compared, the first of them the one whose depth is shown."""
    setup = day["instrument"]
    instrument = _instrument(setup)
    stored = [bc.CoefficientSet.from_json(json.dumps(document)) for document in day["coefficients"]]
    theories, computed = zip(*(_compute(one, instrument) for one in stored), strict=True)
    first, lines = beads[0], setup["depth_lines"]
    glass = _glass(first, stored[0].blend, setup["tin_percent"])
    setting = bc.Setting(instrument, [*stored[0].blend, *first.dried.species, "SnO2"], lines)
    weighed = bc.value(next(row["bead_mass_g"] for row in day["beads"] if row["bead"] == first.name), u=day["balance"]["u_g"])
    diameter = bc.value(setup["mould_mm"][0], u=setup["mould_mm"][1])
    depths = []
    for line in lines:
        g_per_cm2, factor = setting.to_thick(glass, line, bead_g=weighed, diameter_mm=diameter)
        share = setting.share_of_thick(glass, line, g_per_cm2.value)
        depths.append(Depth(line, setting.thick_from(glass, line), share, factor))
    return Light(
        provenance=theories[0].provenance,
        stored=stored[0],
        computed=computed[0],
        moved=_moves(day, list(computed), beads),
        bead=first.name,
        g_per_cm2=g_per_cm2,
        depths=depths,
        not_thick=setting.not_thick(glass, g_per_cm2.value),
        nearby=bc.overlaps(setup["resolution_ev"], setup["present"], tube=[setup["anode"]]),
        left_out=bc.not_modelled(),
    )


def _figure(value: bc.Value, digits: int) -> str:
    return f"{value.value:.{digits}f} (u {value.u:.{digits}f})"


RESULTS = (
    "Results by the stored coefficients and by the computed ones, calibrated with the same three standards, %.",
    "The counts of this invented day were made with the stored ones: what moves is what an error in them would do.",
)


def rows_of_coefficients(light: Light) -> list[tuple[str, list[tuple[str, float, float]]]]:
    """Line by line, each component with the stored coefficient and the computed one."""
    rows = []
    for line in light.stored.lines:
        stored, computed = light.stored.row(line), light.computed.row(line)
        rows.append((line, [(name, stored[name], computed[name]) for name in light.stored.components]))
    return rows


def text(light: Light) -> str:
    """For a terminal."""
    head = "The setup from first principles"
    lines = [head, "=" * len(head), f"Computed for {light.provenance}.", ""]
    lines.append(f"Coefficients of class {light.stored.name}, stored by the method and computed")
    for line, row in rows_of_coefficients(light):
        lines.append(f"{line:6}" + "  ".join(f"{name} {stored:.3f} {computed:.3f}" for name, stored, computed in row))
    lines += ["", *RESULTS]
    for it in light.moved:
        lines.append(f"{it.bead}  {it.analyte:6}{it.stored:9.3f}{it.computed:9.3f}  moved {it.computed - it.stored:+.3f} (u {it.u:.3f})")
    lines += ["", f"Bead {light.bead} has {_figure(light.g_per_cm2, 4)} g/cm2"]
    for depth in light.depths:
        lines.append(
            f"{depth.line:6} thick from {depth.thick_from:8.4f} g/cm2, here {100 * depth.share:6.2f} % of it, factor to a thick bead "
            f"{_figure(depth.factor, 4)}"
        )
    lines += [f"- {finding}" for finding in light.not_thick]
    lines += ["", "Lines on lines, within the resolution of each"]
    for near in light.nearby:
        tube = " of the tube" if near.of_tube else ""
        lines.append(f"{near.line:6} {near.by}{tube}, order {near.order}, {near.gap_ev:+.0f} eV")
    lines += ["", "Not computed"] + [f"- {said}" for said in light.left_out]
    return "\n".join(lines)
