"""The demo's report as text, HTML, CSV and JSON."""

from __future__ import annotations

import csv
import html
import io
import json

import beadchem as bc
from beadchem._page import page
from beadchem.demo import Bead, Day

INTRODUCTION = (
    "Fenwick Hollow, one day, 24 beads of three materials. The prospect, its weighings and its readings are invented; "
    "the arithmetic is not. The readings are mass fractions in the glass known independently of the weighings: "
    "evaluation (b). No measured intensity of a real bead stands behind them. Mistakes are planted: melt lost and powder "
    "lost, a gain on ignition set to zero, a loss on ignition wrong where no total shows it, ignited powder entered as dried, "
    "two swapped ids, sulfur lost, a flux lot not entered, a limit in a total, an uneven powder, a reference material off."
)


def _chance(day: Day) -> str:
    return (
        f"{day.tests} tests at {day.k:g} u (rules {day.rules.id}): {day.expected_chance_alarms:.3f} chance alarms are "
        "expected in the whole day."
    )


def _heading(bead: Bead) -> str:
    return f"Bead {bead.name} of {bead.sample_name}: {bead.what}"


def _summary(bead: Bead) -> str:
    melt = bead.melt
    return (
        f"glass {melt.bead_mass_g:.4f} g, loss on fusion {melt.loss_on_fusion_percent:.2f} %, "
        f"R {melt.flux_ratio.value:.4f}, F {melt.fused_flux_ratio.value:.4f}, "
        f"D {melt.dilution.value:.4f} (u {melt.dilution.u:.4f})"
    )


def _total(bead: Bead) -> str:
    total = bead.closure.total_percent
    return "not computed" if total is None else f"{total.value:.2f} % (u {total.u:.2f} %)"


def _total_cell(bead: Bead) -> str:
    total = bead.closure.total_percent
    return "not computed" if total is None else f"{total.value:.2f} %<div>u {total.u:.2f} %</div>"


def _shown(day: Day) -> list[Bead]:
    """The beads printed in full: the first clean one of each material, and every one with a finding."""
    clean: dict[str, Bead] = {}
    for bead in day.beads:
        if not bead.findings:
            clean.setdefault(bead.material, bead)
    return [bead for bead in day.beads if bead.findings or bead in clean.values()]


def text(day: Day) -> str:
    """The whole report for a terminal."""
    lines = [INTRODUCTION, ""]
    for bead in day.beads:
        lines.append(f"{bead.name}  {bead.sample_name}  {bead.material:7} total {_total(bead)}")
        lines += [f"        {finding.code}: {_sentence(finding)}" for finding in bead.findings]
    lines += [f"{name}  {finding.code}: {finding.text}" for name, found in day.of_samples.items() for finding in found]
    lines.append(_chance(day))
    parts = ["\n".join(lines)]
    for bead in _shown(day):
        heading = _heading(bead)
        parts.append(f"{heading}\n{'=' * len(heading)}\n{_summary(bead)}\n{bead.verdict!r}")
        parts += [f"- {finding}" for finding in bead.findings]
        parts += [repr(bead.sample), repr(bead.closure), repr(bead.budget), repr(bead.mass_check)]
    cautions = [f"- {finding}" for finding in day.cautions]
    notes = [f"- {finding}" for finding in day.notes]
    parts.append("Cautions (local codes and licensed practice come first)\n" + "\n".join(cautions))
    parts.append("Notes\n" + "\n".join(notes))
    return "\n\n".join(parts) + "\n"


_STYLE = (
    "div.day{overflow-x:auto}div.day table{border-collapse:collapse;border-top:2px solid;border-bottom:2px solid}"
    "div.day th,div.day td{text-align:left;vertical-align:top;padding:.25em .75em;font-weight:normal}"
    "div.day thead th{font-weight:600;border-bottom:1px solid}div.day tbody tr+tr>*{border-top:1px solid #ddd}"
    "div.day td.n{text-align:right;white-space:nowrap;font-variant-numeric:tabular-nums}a{color:inherit}"
    "div.day th div,div.day td.n div{font-size:.85em;opacity:.75;white-space:nowrap}div.day b{font-weight:600}"
    "@media(max-width:34em){div.day th,div.day td{padding:.2em .4em}}"
)


def _items(findings: list[bc.Finding]) -> str:
    items = "".join(f"<li>{html.escape(str(finding))}</li>" for finding in findings)
    return f"<ul>{items}</ul>" if items else ""


def _sentence(finding: bc.Finding) -> str:
    """The first sentence of a finding: what was found, and how large."""
    return finding.text.partition(". ")[0].rstrip(".")


def _overview(day: Day) -> str:
    shown = {bead.name for bead in _shown(day)}
    rows = []
    for bead in day.beads:
        name = f'<a href="#{bead.name}">{bead.name}</a>' if bead.name in shown else bead.name
        found = "".join(
            f"<div><b>{html.escape(finding.code)}</b> {html.escape(_sentence(finding))}</div>" for finding in bead.findings
        )
        rows.append(
            f'<tr><th>{name}<div>{bead.sample_name}, {bead.material}</div></th><td class="n">{_total_cell(bead)}</td>'
            f"<td>{found or 'nothing to remark'}</td></tr>"
        )
    return (
        '<div class="day"><table><thead><tr><th>bead</th><th>total</th><th>found</th></tr></thead>'
        f"<tbody>{''.join(rows)}</tbody></table></div>"
    )


def _of_samples(day: Day) -> str:
    pairs = [(name, finding) for name, findings in day.of_samples.items() for finding in findings]
    items = "".join(f"<li>{name}: {html.escape(finding.text)}</li>" for name, finding in pairs)
    return f"<section><h2>Two beads of one sample</h2><ul>{items}</ul></section>"


def to_html(day: Day) -> str:
    """The whole report as one page that needs nothing from outside."""
    out = [f"<p>{html.escape(INTRODUCTION)}</p>", _overview(day), f"<p>{html.escape(_chance(day))}</p>", _of_samples(day)]
    for bead in _shown(day):
        out.append(f'<section id="{bead.name}"><h2>{html.escape(_heading(bead))}</h2>')
        out.append(f'<p class="figures">{html.escape(_summary(bead))}<br>{html.escape(repr(bead.verdict))}</p>')
        out += [_items(bead.findings), bead.sample._repr_html_(), bead.closure._repr_html_()]
        out += [bead.budget._repr_html_(), bead.mass_check._repr_html_(), "</section>"]
    out.append(f"<section><h2>Cautions: local codes and licensed practice come first</h2>{_items(day.cautions)}</section>")
    out.append(f"<section><h2>Notes</h2>{_items(day.notes)}</section>")
    return page("Fenwick Hollow", out, style=_STYLE)


def to_csv(day: Day) -> str:
    """One line per bead and analyte, numbers in full."""
    buffer = io.StringIO()
    rows = csv.writer(buffer, lineterminator="\r\n")
    rows.writerow(["bead", "sample", "material", "basis", "analyte", "w_percent", "u_percent", "weights"])
    for bead in day.beads:
        for species in bead.sample.species:
            value, u = bead.sample.value(species), bead.sample.u(species)
            what = [bead.name, bead.sample_name, bead.material, bead.sample.basis, species]
            rows.writerow([*what, repr(value), repr(u), bead.melt.weights_version])
    return buffer.getvalue()


def _finding(finding: bc.Finding) -> dict[str, object]:
    return {
        "code": finding.code,
        "severity": finding.severity,
        "quantity": finding.quantity,
        "value": finding.value,
        "u": finding.u,
        "text": finding.text,
    }


def to_json(day: Day) -> str:
    """The results with their totals and findings."""
    beads = []
    for bead in day.beads:
        total = bead.closure.total_percent
        beads.append(
            {
                "bead": bead.name,
                "sample": bead.sample_name,
                "material": bead.material,
                "basis": bead.sample.basis,
                "evaluation": bead.sample.evaluation,
                "weights": bead.melt.weights_version,
                "w_percent": {species: bead.sample.value(species) for species in bead.sample.species},
                "u_percent": {species: bead.sample.u(species) for species in bead.sample.species},
                "dilution": bead.melt.dilution.value,
                "predicted_bead_mass_g": bead.mass_check.predicted_g,
                "weighed_bead_mass_g": bead.mass_check.weighed_g,
                "total_percent": None if total is None else total.value,
                "verdict": repr(bead.verdict),
                "findings": [_finding(finding) for finding in [*bead.sample.findings, *bead.findings]],
            }
        )
    return json.dumps(beads, indent=1, allow_nan=False) + "\n"
