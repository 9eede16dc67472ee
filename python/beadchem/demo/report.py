"""The demo's report as text, HTML, CSV and JSON."""

from __future__ import annotations

import csv
import html
import io
import json
from collections.abc import Sequence

import beadchem as bc
from beadchem._page import page
from beadchem.demo import Bead, Day, Moved
from beadchem.demo.light import RESULTS, Light, rows_of_coefficients
from beadchem.demo.light import text as light_text

INTRODUCTION = (
    "Fenwick Hollow, one day, 24 beads of three materials, from counted intensities: evaluation (a). The prospect, its "
    "spectrometer, its weighings and its counts are invented; the arithmetic is not. Mistakes are planted: melt lost and "
    "powder lost, bromine under aluminium in a bead evaluated by an older method, sulfur neither measured nor declared, a flux "
    "lot not entered, a gain on ignition set to zero, a loss on ignition wrong where no total shows it, ignited powder entered "
    "as dried, two swapped ids, sulfur lost, a limit in a total, an uneven powder, a reference material off. By intensities "
    "melt left in the crucible changes no result, and sulfur that left costs none but its own: what stayed was measured."
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


def _explained(day: Day) -> tuple[str, bc.Report]:
    """The derivation of the result with the most on its way: aluminium, with bromine over it."""
    bead = next(bead for bead in day.beads if not bead.findings)
    return f"How one number came about: Al2O3 of bead {bead.name}", bead.assay.explain("Al2O3")


_DRIFT = (
    "How far the monitor has moved since the calibration, in %. Each bead is taken back to the calibration along the straight "
    "line between the readings before and after it."
)


def _drift_verdict(day: Day) -> str:
    said = [finding.text for finding in day.drift_findings]
    return " ".join(said) or f"Within the limits of rules {day.rules.id}."


def _drift_text(day: Day) -> str:
    lines = ["Drift of the day", "================", _DRIFT]
    times = list(day.moved[0].percent)
    lines.append(f"{'line':8}" + "".join(f"{time[-5:]:>10}" for time in times) + f"{'u':>10}")
    for moved in day.moved:
        cells = [f"{percent:+10.3f}" for percent in moved.percent.values()]
        lines.append(f"{moved.line:8}" + "".join(cells) + f"{moved.u_percent:10.3f}")
    return "\n".join([*lines, _drift_verdict(day)])


def clean(day: Day) -> list[Bead]:
    """The first bead of each material of which nothing is found."""
    first: dict[str, Bead] = {}
    for bead in day.beads:
        if not bead.findings:
            first.setdefault(bead.material, bead)
    return list(first.values())


def _shown(day: Day) -> list[Bead]:
    """The beads printed in full: the first clean one of each material, and every one with a finding."""
    first = clean(day)
    return [bead for bead in day.beads if bead.findings or bead in first]


def text(day: Day, light: Light) -> str:
    """The whole report for a terminal."""
    lines = [INTRODUCTION, ""]
    for bead in day.beads:
        lines.append(f"{bead.name}  {bead.sample_name}  {bead.material:7} total {_total(bead)}")
        lines += [f"        {finding.code}: {_sentence(finding)}" for finding in bead.findings]
        lines += [f"        {remark.partition(';')[0]}" for remark in bead.remarks]
    lines += [f"{name}  {finding.code}: {finding.text}" for name, found in day.of_samples.items() for finding in found]
    lines.append(_chance(day))
    parts = ["\n".join(lines), repr(day.calibrated), _drift_text(day)]
    heading, derivation = _explained(day)
    parts.append(f"{heading}\n{'=' * len(heading)}\n{derivation!r}")
    for bead in _shown(day):
        heading = _heading(bead)
        parts.append(f"{heading}\n{'=' * len(heading)}\n{_summary(bead)}\n{bead.verdict!r}")
        parts += [f"- {said}" for said in [*bead.findings, *bead.remarks]]
        parts += [repr(bead.sample), repr(bead.closure), repr(bead.budget), repr(bead.mass_check)]
    parts.append(light_text(light))
    cautions = [f"- {finding}" for finding in day.cautions]
    notes = [f"- {finding}" for finding in day.notes]
    parts.append("Cautions (local codes and licensed practice come first)\n" + "\n".join(cautions))
    parts.append("Notes\n" + "\n".join(notes))
    return "\n\n".join(parts) + "\n"


_STYLE = (
    "div.day{overflow-x:auto}div.day table{border-collapse:collapse;border-top:2px solid;border-bottom:2px solid}"
    "div.day th,div.day td{text-align:left;vertical-align:top;padding:.25em .75em;font-weight:normal}"
    "div.day thead th{font-weight:600;border-bottom:1px solid}div.day tbody tr+tr>*{border-top:1px solid #ddd}"
    "div.day th.n{text-align:right}div.day td.n{text-align:right;white-space:nowrap;font-variant-numeric:tabular-nums}a{color:inherit}"
    "div.day svg{display:block;margin-left:auto}#calibration tbody>*>*,#light tbody th{white-space:nowrap}"
    "div.day th div,div.day td.n div{font-size:.85em;opacity:.75;white-space:nowrap}div.day b{font-weight:600}"
    "@media(max-width:34em){div.day th,div.day td{padding:.2em .4em}}"
)


def _items(said: Sequence[bc.Finding | str]) -> str:
    items = "".join(f"<li>{html.escape(str(one))}</li>" for one in said)
    return f"<ul>{items}</ul>" if items else ""


_SIZED_SECOND = {"overlap.not-held", "component.not-declared"}
"""Findings whose second sentence says how large."""


def _sentence(finding: bc.Finding) -> str:
    """The beginning of a finding: what was found, and how large."""
    sentences = finding.text.split(". ")
    return ". ".join(sentences[: 2 if finding.code in _SIZED_SECOND else 1]).rstrip(".")


def _overview(day: Day) -> str:
    shown = {bead.name for bead in _shown(day)}
    rows = []
    for bead in day.beads:
        name = f'<a href="#{bead.name}">{bead.name}</a>' if bead.name in shown else bead.name
        found = "".join(
            f"<div><b>{html.escape(finding.code)}</b> {html.escape(_sentence(finding))}</div>" for finding in bead.findings
        ) + "".join(f"<div>{html.escape(remark.partition(';')[0])}</div>" for remark in bead.remarks)
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


def _table(head: list[str], rows: list[str]) -> str:
    first, *others = head
    cells = f"<th>{first}</th>" + "".join(f'<th class="n">{name}</th>' for name in others)
    return f'<div class="day"><table><thead><tr>{cells}</tr></thead><tbody>{"".join(rows)}</tbody></table></div>'


def _minutes(time: str) -> float:
    return 60 * int(time[-5:-3]) + int(time[-2:])


def _course(moved: Moved, lowest: float) -> str:
    """The way of one line over the day, all lines on one scale; the thin line is where it stood at calibration."""
    width, height, margin = 132.0, 26.0, 4.0
    times = [_minutes(time) for time in moved.percent]
    x = [margin + (width - 2 * margin) * (time - times[0]) / (times[-1] - times[0]) for time in times]
    y = [margin + (height - 2 * margin) * percent / lowest for percent in moved.percent.values()]
    dots = "".join(f'<circle cx="{a:.1f}" cy="{b:.1f}" r="2"/>' for a, b in zip(x, y, strict=True))
    points = " ".join(f"{a:.1f},{b:.1f}" for a, b in zip(x, y, strict=True))
    return (
        f'<svg width="{width:.0f}" height="{height:.0f}" role="img" aria-label="{moved.line} over the day">'
        f'<path d="M0 {margin}H{width}" stroke="currentColor" stroke-opacity=".35"/>'
        f'<polyline points="{points}" fill="none" stroke="currentColor" stroke-width="1.5"/>{dots}</svg>'
    )


def _of_drift(day: Day) -> str:
    lowest = min(percent for moved in day.moved for percent in moved.percent.values())
    rows = []
    for moved in day.moved:
        cells = "".join(f'<td class="n">{percent:+.2f}</td>'.replace("-", "&minus;") for percent in moved.percent.values())
        rows.append(
            f'<tr><th>{moved.line}</th><td class="n course">{_course(moved, lowest)}</td>{cells}'
            f'<td class="n">{moved.u_percent:.2f}</td></tr>'
        )
    head = ["line", "over the day", *(time[-5:] for time in day.moved[0].percent), "u"]
    said = f"<p>{html.escape(_DRIFT)} {html.escape(_drift_verdict(day))}</p>"
    return f"<section><h2>Drift of the day</h2>{said}{_table(head, rows)}</section>"


def _number(text: str, below: str = "") -> str:
    small = f"<div>{below}</div>" if below else ""
    return f'<td class="n">{text}{small}</td>'.replace("-", "&minus;")


def _of_light(light: Light) -> str:
    """Coefficients, results, depths and neighbours as tables."""
    coefficients = [
        f"<tr><th>{line}</th>"
        + "".join(_number(f"{computed:.3f}", f"{computed - stored:+.3f}") for _, stored, computed in row)
        + "</tr>"
        for line, row in rows_of_coefficients(light)
    ]
    moved = [
        f"<tr><th>{it.bead} {it.analyte}</th>" + _number(f"{it.stored:.3f}") + _number(f"{it.computed:.3f}")
        + _number(f"{it.computed - it.stored:+.3f}") + _number(f"{it.u:.3f}") + "</tr>"
        for it in light.moved
    ]
    depths = [
        f"<tr><th>{it.line}</th>" + _number(f"{it.thick_from:.4f}") + _number(f"{100 * it.share:.2f}")
        + _number(f"{it.factor.value:.4f}") + _number(f"{it.factor.u:.4f}") + "</tr>"
        for it in light.depths
    ]
    nearby = [
        f"<tr><th>{it.line}</th>" + _number(it.by + (" of the tube" if it.of_tube else "")) + _number(str(it.order))
        + _number(f"{it.gap_ev:+.0f}") + "</tr>"
        for it in light.nearby
    ]
    weighed = light.g_per_cm2
    return "".join(
        [
            "<section id='light'><h2>The setup from first principles</h2>",
            f"<p>Computed for {html.escape(light.provenance)}.</p>",
            f"<p>Influence coefficients of class {html.escape(light.computed.name)}, and below each how far it is from the one stored.</p>",
            _table(["line", *light.stored.components], coefficients),
            f"<p>{' '.join(RESULTS)}</p>",
            _table(["result", "stored", "computed", "moved", "u"], moved),
            f"<p>Bead {light.bead} has {weighed.value:.4f} g/cm2 (u {weighed.u:.4f}): from where a line would be thick (99 %), how "
            "much of a thick bead it gives here, and the factor to that.</p>",
            _table(["line", "thick from, g/cm2", "here, %", "factor", "u"], depths),
            _items(light.not_thick),
            "<p>Lines on lines, within the resolution of each, in orders 1 to 3.</p>",
            _table(["line", "by", "order", "gap, eV"], nearby),
            f"<p>Not computed:</p>{_items(light.left_out)}</section>",
        ]
    )


def to_html(day: Day, light: Light) -> str:
    """The whole report as one page that needs nothing from outside."""
    out = [f"<p>{html.escape(INTRODUCTION)}</p>", _overview(day), f"<p>{html.escape(_chance(day))}</p>", _of_samples(day)]
    heading, derivation = _explained(day)
    out.append(f"<section id='calibration'><h2>Calibration from three standards</h2>{day.calibrated._repr_html_()}</section>")
    out.append(_of_drift(day))
    out.append(f"<section><h2>{html.escape(heading)}</h2>{derivation._repr_html_()}</section>")
    for bead in _shown(day):
        out.append(f'<section id="{bead.name}"><h2>{html.escape(_heading(bead))}</h2>')
        out.append(f'<p class="figures">{html.escape(_summary(bead))}<br>{html.escape(repr(bead.verdict))}</p>')
        out += [_items([*bead.findings, *bead.remarks]), bead.sample._repr_html_(), bead.closure._repr_html_()]
        out += [bead.budget._repr_html_(), bead.mass_check._repr_html_(), "</section>"]
    out.append(_of_light(light))
    out.append(f"<section><h2>Cautions: local codes and licensed practice come first</h2>{_items(day.cautions)}</section>")
    out.append(f"<section><h2>Notes</h2>{_items(day.notes)}</section>")
    return page("Fenwick Hollow", out, style=_STYLE)


def to_csv(day: Day) -> str:
    """One line per bead and analyte, numbers in full."""
    buffer = io.StringIO()
    rows = csv.writer(buffer, lineterminator="\r\n")
    rows.writerow(["bead", "sample", "material", "basis", "analyte", "w_percent", "u_percent", "weights", "method"])
    for bead in day.beads:
        for species in bead.sample.species:
            value, u = bead.sample.value(species), bead.sample.u(species)
            what = [bead.name, bead.sample_name, bead.material, bead.sample.basis, species]
            rows.writerow([*what, repr(value), repr(u), bead.melt.weights_version, bead.assay.provenance.method])
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
                "measured_at": bead.assay.at,
                "method": bead.assay.provenance.method,
                "method_digest": bead.assay.provenance.method_digest,
                "weights": bead.melt.weights_version,
                "w_percent": {species: bead.sample.value(species) for species in bead.sample.species},
                "u_percent": {species: bead.sample.u(species) for species in bead.sample.species},
                "dilution": bead.melt.dilution.value,
                "predicted_bead_mass_g": bead.mass_check.predicted_g,
                "weighed_bead_mass_g": bead.mass_check.weighed_g,
                "total_percent": None if total is None else total.value,
                "verdict": repr(bead.verdict),
                "findings": [
                    _finding(finding)
                    for finding in {said.text: said for said in [*bead.sample.findings, *bead.findings]}.values()
                ],
            }
        )
    return json.dumps(beads, indent=1, allow_nan=False) + "\n"
