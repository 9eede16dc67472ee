"""Calibrations from standards through Python: the truth comes back, conversions, words, refusals."""

import csv
import io

import beadchem as bc
import numpy as np
import pytest

ROUNDING = 1e-12
"""Conversions from and to per cent."""
EXACT = 1e-10
"""A fit of exact points, and the solution of one system of three."""

OXIDES = ["CaO", "MgO", "SiO2"]
A = {"Ca Ka": [0.15, 0.13, 0.17], "Mg Ka": [0.17, 0.10, 0.15], "Si Ka": [0.15, 0.29, 0.14]}
"""Influence coefficients of the template, by line over OXIDES."""
K = {"Ca Ka": 2.1e-5, "Mg Ka": 1.1e-4, "Si Ka": 2.6e-5}
CONTENTS = {  # % of the sample, invented
    "S-1": (31.0, 21.0, 1.0), "S-2": (45.0, 8.0, 2.0), "S-3": (28.0, 21.5, 12.0), "S-4": (55.0, 0.5, 0.5),
}
RELATIVE_U = 1e-3


def lot() -> bc.FluxLot:
    blend = {"Li2B4O7": 50, "LiBO2": 50}
    return bc.FluxLot("F-1", blend, programme="1050 C, 18 min", loss_percent=bc.value(0.4, u=0.03))


def melt(composition: "bc.Composition | None" = None, **loss: object) -> bc.Melt:
    sample = bc.Sample(bc.value(0.8, u=1e-4), basis="dried", composition=composition)
    return bc.Charge(sample, lot().weigh(bc.value(8.0, u=1e-4))).fuse(
        **{"loss_on_fusion_percent": bc.value(46.0, u=0.1), **loss}  # type: ignore[arg-type]
    )


def net(percent: "tuple[float, ...]", offsets: "dict[str, float] | None" = None) -> "dict[str, float]":
    """w = k (I - I0) (F/F0 + sum a w), run forward, cps."""
    w = np.array(percent) / 100
    bracket = {line: melt().fused_flux_ratio.value / 10.0 + float(np.array(row) @ w) for line, row in A.items()}
    return {line: float(w[i]) / (K[line] * bracket[line]) + (offsets or {}).get(line, 0.0) for i, line in enumerate(A)}


def relative(number: float) -> bc.Value:
    return bc.value(number, u=RELATIVE_U * number)


def standard(name: str, rates: "dict[str, float] | None" = None, **changed: object) -> bc.Standard:
    contents = bc.Composition(dict(zip(OXIDES, map(relative, CONTENTS[name]), strict=True)), basis="dried")
    readings = {line: relative(rate) for line, rate in (rates or net(CONTENTS[name])).items()}
    return bc.Standard(melt(), contents, readings, name=name, **changed)  # type: ignore[arg-type]


def fit(**keywords: object) -> bc.StandardFit:
    return bc.StandardFit(bc.Method.template().coefficients, **keywords)  # type: ignore[arg-type]


def calibrated(asked: "bc.StandardFit | None" = None, offsets: "dict[str, float] | None" = None) -> bc.Calibrated:
    standards = [standard(name, net(held, offsets), material="carbonate") for name, held in CONTENTS.items()]
    return (asked or fit()).calibrate(standards, name="spring", version="2", source="four synthetic beads")


def refusal(call: object) -> "bc.BeadchemError":
    with pytest.raises(bc.BeadchemError) as refused:
        call()  # type: ignore[operator]
    return refused.value


def test_exact_standards_give_the_sensitivities_they_were_made_with() -> None:
    made = calibrated()
    assert [(line.line, line.analyte) for line in made.lines] == list(zip(A, OXIDES, strict=True))
    for line in made.lines:
        assert line.sensitivity.value == pytest.approx(K[line.line], rel=EXACT)
        assert line.sensitivity == made.calibration.sensitivities[line.line]
        assert (line.parameters, line.dof, line.weighted) == (1, 3, True)
        assert line.chi_squared == pytest.approx(0, abs=EXACT)
        assert sum(residual.leverage for residual in line.residuals) == pytest.approx(1, rel=EXACT)
    held = made.calibration
    assert (held.name, held.version, held.source, held.basis) == ("spring", "2", "four synthetic beads", "dried")
    assert made.findings == []


def test_the_loss_of_the_flux_reaches_the_sensitivity_under_its_name() -> None:
    for line in calibrated().lines:
        # w = k I (F/F0 + ...): F carries u(loss) = 0.0003 of 0.996, and no other term is larger than F/F0
        part = abs(line.sensitivity.shared["flux loss of lot F-1"]) / line.sensitivity.value
        assert 0.0002 < part < 0.0003 / 0.996


def test_the_method_gives_an_unknown_its_contents() -> None:
    method = calibrated().method("dolomite", "2026-2", "our laboratory")
    assert (method.name, method.version, method.calibration) == ("dolomite", "2026-2", calibrated().calibration)
    assay = method.assay(melt(), {line: relative(rate) for line, rate in net((40.0, 12.0, 3.0)).items()}, bead="B-1")
    assert [assay.value(oxide) for oxide in OXIDES] == pytest.approx([40.0, 12.0, 3.0], rel=EXACT)
    assert bc.Method.from_json(method.to_json()) == method


def test_a_standard_off_its_line_is_named_with_its_residual() -> None:
    rates = net(CONTENTS["S-3"])
    high = standard("S-3", {**rates, "Mg Ka": 1.01 * rates["Mg Ka"]}, material="siliceous")
    made = fit().calibrate([high, *map(standard, ("S-1", "S-2", "S-4"))], name="c", version="1", source="invented")
    (line,) = (line for line in made.lines if line.line == "Mg Ka")
    residual = line.residuals[0]
    assert (residual.standard, residual.material) == ("S-3", "siliceous")
    assert residual.content_percent == pytest.approx(21.5, rel=ROUNDING)
    assert residual.glass_percent == pytest.approx(21.5 / melt().dilution.value, rel=ROUNDING)
    assert residual.u_percent is not None and residual.in_u is not None
    assert residual.in_u == pytest.approx(residual.residual_percent / residual.u_percent, rel=ROUNDING)
    # 1 % more counts: found is more than known, by 1 % less what the fit follows, a quarter
    assert -0.01 * 21.5 < residual.residual_percent < -0.007 * 21.5
    # beyond three degrees of freedom by as little chance as four u of a normal error, by the tables
    assert line.chi_squared is not None and line.chi_squared > 24
    off = {finding.quantity: finding for finding in made.findings if finding.code == "standard.off"}
    assert set(off) == {"S-3"} and "off the line of Mg Ka" in off["S-3"].text
    assert "calibration.scatter" in {finding.code for finding in made.findings}


def test_offsets_and_coefficients_are_fitted_where_asked() -> None:
    made = calibrated(fit(offsets=["Mg Ka"]), {"Mg Ka": 25.0})
    assert made.calibration.offsets["Mg Ka"].value == pytest.approx(25.0, rel=EXACT)
    assert {line.line: line.parameters for line in made.lines} == {"Ca Ka": 1, "Mg Ka": 2, "Si Ka": 1}
    other = calibrated(fit(fitted=[("Ca Ka", "MgO")]))
    assert other.calibration.coefficients["Ca Ka", "MgO"].value == pytest.approx(A["Ca Ka"][1], rel=1e3 * EXACT)
    pair = {frozenset(names[:2]) for names in other.calibration.correlations}
    assert frozenset({"sensitivity of Ca Ka", "coefficient of MgO on Ca Ka"}) in pair
    assert repr(fit(offsets=["Mg Ka"], fitted=[("Ca Ka", "MgO")])) == (
        "<StandardFit carbonate rock 1: k of 3 lines, offset of Mg Ka, MgO on Ca Ka>"
    )
    assert refusal(lambda: fit(offsets=["Ca Ka"], fitted=[("Ca Ka", "MgO")])).code == "fit.product"


def test_what_is_given_is_taken_off_first() -> None:
    dead = bc.DeadTime(bc.value(3e-7, u=1e-9))
    overlap = bc.Overlap("Si Ka", "Ca Ka", bc.value(0.01, u=1e-4))
    monitor = bc.Monitor("M-1", {line: bc.value(1000, u=1) for line in A})
    drift = bc.Drift(monitor.reading("2026-03-02T08:00", {line: bc.value(980, u=1) for line in A}))
    standards = []
    for name in CONTENTS:
        rates = net(CONTENTS[name])
        rates["Si Ka"] += 0.01 * rates["Ca Ka"]
        true = {line: 0.98 * rate for line, rate in rates.items()}
        readings = [bc.LineReading.counted(line, rate / (1 + 3e-7 * rate), 100.0) for line, rate in true.items()]
        held = bc.Composition(dict(zip(OXIDES, map(relative, CONTENTS[name]), strict=True)), basis="dried")
        standards.append(bc.Standard(melt(), held, readings, name=name, at="2026-03-02T08:00", drift=drift))
    asked = fit(dead_time=dead, overlaps=[overlap])
    made = asked.calibrate(standards, name="c", version="1", source="invented")
    assert [line.sensitivity.value for line in made.lines] == pytest.approx(list(K.values()), rel=EXACT)
    shared = made.calibration.sensitivities["Si Ka"].shared
    assert {"dead time", "overlap of Ca Ka on Si Ka", "Si Ka of monitor M-1 at calibration"} <= set(shared)
    method = made.method("m", "1", "invented")
    assert (method.overlaps, method.dead_time) == ([overlap], dead)
    alone = refusal(lambda: standard("S-1", at="2026-03-02T08:00"))
    assert alone.code == "drift.unpaired" and "bead S-1" in str(alone)


def test_standards_weighed_from_reagents() -> None:
    mix = bc.Composition({"CaCO3": bc.value(50, u=0.01), "MgO": bc.value(20, u=0.01), "SiO2": bc.value(30, u=0.01)}, basis="dried")
    fused = melt(mix, loss_on_fusion_percent=None)
    lime = bc.molar_mass("CaO").value / bc.molar_mass("CaCO3").value
    rates = {line: relative(rate) for line, rate in net((50 * lime, 20.0, 30.0)).items()}
    weighed = bc.Standard(fused, None, rates, name="S-5")
    assert (weighed.name, weighed.material, repr(weighed)) == ("S-5", "", "<Standard S-5>")
    made = fit().calibrate([weighed], name="c", version="1", source="one bead")
    assert [line.sensitivity.value for line in made.lines] == pytest.approx(list(K.values()), rel=EXACT)
    refused = refusal(lambda: bc.Standard(melt(), None, rates, name="S-6"))
    assert refused.code == "charge.incomplete" and "S-6" in str(refused)


def test_refusals() -> None:
    def named(standards: "list[bc.Standard]") -> bc.Calibrated:
        return fit().calibrate(standards, name="c", version="1", source="invented")

    assert refusal(lambda: named([])).code == "shape.mismatch"
    assert refusal(lambda: named([standard("S-1"), standard("S-1")])).code == "standard.doubled"
    assert refusal(lambda: named([standard("S-1", {"Ca Ka": 100.0})])).code == "fit.too-few-points"
    assert refusal(lambda: fit(offsets=["Zn Ka"])).code == "line.name"
    assert refusal(lambda: bc.StandardFit([])).code == "shape.mismatch"
    ignited = bc.Composition({"CaO": 56.0}, basis="ignited at 1000 C")
    assert refusal(lambda: bc.Standard(melt(), ignited, {"Ca Ka": 1.0}, name="S-7")).code == "basis.mismatch"
    with pytest.raises(TypeError, match=r"A number or beadchem\.value"):
        bc.Standard(melt(), None, {"Ca Ka": "13500"}, name="S-8")  # type: ignore[dict-item]


def test_without_uncertainties_it_says_so() -> None:
    contents = bc.Composition({"CaO": 31.0, "MgO": 21.0, "SiO2": 1.0}, basis="dried")
    bare = bc.Charge(bc.Sample(0.8, basis="dried"), bc.FluxLot(
        "F-2", {"Li2B4O7": 1}, programme="1050 C", loss_percent=0.4).weigh(8.0)).fuse(loss_on_fusion_percent=46.0)
    one = bc.Standard(bare, contents, net(CONTENTS["S-1"]), name="S-1")
    made = fit().calibrate([one], name="c", version="1", source="invented")
    (line, *_) = made.lines
    assert (line.weighted, line.chi_squared, line.dof) == (False, None, 0)
    assert (line.residuals[0].u_percent, line.residuals[0].in_u) == (None, None)
    assert "u not stated" in repr(line) and "u not stated" in repr(line.residuals[0])
    assert {"uncertainty.unstated", "calibration.untested"} <= {finding.code for finding in made.findings}


def test_a_calibration_is_shown() -> None:
    made = calibrated()
    assert repr(made).startswith("Standards of spring") and "<table" in made._repr_html_()
    rows = list(csv.reader(io.StringIO(made.to_csv())))
    assert rows[0][:4] == ["material", "standard", "line", "analyte"] and len(rows) == 1 + len(A) * len(CONTENTS)
    (line, *_) = made.lines
    assert repr(line).startswith("<LineFit Ca Ka for CaO: k ") and repr(line).endswith("4 standards>")
    assert repr(line.residuals[0]).startswith("<Residual S-1 ") and repr(line.residuals[0]).endswith(" u>")
    assert repr(standard("S-1", material="dolomite")) == "<Standard S-1, dolomite>"
