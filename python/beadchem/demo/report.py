"""The demo's report as text, HTML, CSV and JSON."""

from __future__ import annotations

import csv
import html
import io
import json
from collections.abc import Iterable

import beadchem as bc
from beadchem.demo import Bead

INTRODUCTION = (
    "Fenwick Hollow, one day, six beads. The prospect, its weighings and its readings are invented; the arithmetic is "
    "not. The readings are mass fractions in the glass known independently of the weighings: evaluation (b). No "
    "measured intensity of a real bead stands behind them."
)


def _once(beads: Iterable[Bead], severities: set[str]) -> list[bc.Finding]:
    """The findings of these severities, each text once, in the order of the beads."""
    seen: dict[str, bc.Finding] = {}
    for bead in beads:
        for finding in [*bead.melt.findings, *bead.sample.findings, *bead.mass_check.findings]:
            if finding.severity in severities:
                seen.setdefault(finding.text, finding)
    return list(seen.values())


def _heading(bead: Bead) -> str:
    return f"Bead {bead.name}: {bead.what}"


def _summary(bead: Bead) -> str:
    melt = bead.melt
    return (
        f"glass {melt.bead_mass_g:.4f} g, loss on fusion {melt.loss_on_fusion_percent:.2f} %, "
        f"R {melt.flux_ratio.value:.4f}, F {melt.fused_flux_ratio.value:.4f}, "
        f"D {melt.dilution.value:.4f} (u {melt.dilution.u:.4f})"
    )


def text(beads: list[Bead]) -> str:
    """The whole report for a terminal."""
    parts = [INTRODUCTION]
    for bead in beads:
        heading = _heading(bead)
        parts += [f"{heading}\n{'=' * len(heading)}\n{_summary(bead)}", repr(bead.sample), repr(bead.budget)]
        parts.append(repr(bead.mass_check))
    cautions = [f"- {finding}" for finding in _once(beads, {"caution"})]
    notes = [f"- {finding}" for finding in _once(beads, {"note"})]
    parts.append("Cautions (local codes and licensed practice come first)\n" + "\n".join(cautions))
    parts.append("Notes\n" + "\n".join(notes))
    return "\n\n".join(parts) + "\n"


_STYLE = (
    "body{font:15px/1.45 system-ui,sans-serif;max-width:54rem;margin:2rem auto;padding:0 1rem;color:#1a1a1a;"
    "background:#fff}h1{font-size:1.5rem}h2{font-size:1.15rem;border-top:1px solid #999;padding-top:1rem;"
    "margin-top:2rem}p.figures{color:#333}li{margin:.25rem 0}section{overflow-x:auto}"
    "@media print{section{break-inside:avoid}}"
)


def to_html(beads: list[Bead]) -> str:
    """The whole report as one page that needs nothing from outside."""
    out = [
        '<!doctype html><html lang="en"><head><meta charset="utf-8">'
        '<meta name="viewport" content="width=device-width, initial-scale=1">'
        f"<title>Fenwick Hollow</title><style>{_STYLE}</style></head><body><h1>Fenwick Hollow</h1>",
        f"<p>{html.escape(INTRODUCTION)}</p>",
    ]
    for bead in beads:
        out.append(f"<section><h2>{html.escape(_heading(bead))}</h2>")
        out.append(f'<p class="figures">{html.escape(_summary(bead))}</p>')
        out += [bead.sample._repr_html_(), bead.budget._repr_html_(), bead.mass_check._repr_html_(), "</section>"]
    for title, severity in [("Cautions: local codes and licensed practice come first", "caution"), ("Notes", "note")]:
        items = "".join(f"<li>{html.escape(str(finding))}</li>" for finding in _once(beads, {severity}))
        out.append(f"<section><h2>{title}</h2><ul>{items}</ul></section>")
    out.append("</body></html>")
    return "\n".join(out) + "\n"


def to_csv(beads: list[Bead]) -> str:
    """One line per bead and analyte, numbers in full."""
    buffer = io.StringIO()
    rows = csv.writer(buffer, lineterminator="\r\n")
    rows.writerow(["bead", "material", "basis", "analyte", "w_percent", "u_percent", "weights"])
    for bead in beads:
        for species in bead.sample.species:
            value, u = bead.sample.value(species), bead.sample.u(species)
            version = bead.melt.weights_version
            rows.writerow([bead.name, bead.material, bead.sample.basis, species, repr(value), repr(u), version])
    return buffer.getvalue()


def to_json(beads: list[Bead]) -> str:
    """The results with their findings."""
    return (
        json.dumps(
            [
                {
                    "bead": bead.name,
                    "material": bead.material,
                    "basis": bead.sample.basis,
                    "evaluation": bead.sample.evaluation,
                    "weights": bead.melt.weights_version,
                    "w_percent": {species: bead.sample.value(species) for species in bead.sample.species},
                    "u_percent": {species: bead.sample.u(species) for species in bead.sample.species},
                    "dilution": bead.melt.dilution.value,
                    "predicted_bead_mass_g": bead.mass_check.predicted_g,
                    "weighed_bead_mass_g": bead.mass_check.weighed_g,
                    "findings": [
                        {"code": f.code, "severity": f.severity, "quantity": f.quantity, "text": f.text}
                        for f in [*bead.sample.findings, *bead.mass_check.findings]
                    ],
                }
                for bead in beads
            ],
            indent=1,
            allow_nan=False,
        )
        + "\n"
    )
