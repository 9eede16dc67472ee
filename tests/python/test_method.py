"""Methods and assays from Python: conversions, words, and results against the equation solved here with numpy."""

import csv
import io
import math

import beadchem as bc
import numpy as np
import pytest

ROUNDING = 1e-12
"""A solved system of three, and conversions from and to per cent."""
SEVEN_DIGITS = 2e-6
"""What a derivation prints with seven digits, over a handful of steps."""

NET = {"Ca Ka": bc.value(13_500, u=12), "Mg Ka": bc.value(1_710, u=5), "Si Ka": bc.value(400, u=2)}
K = {"Ca Ka": bc.value(2.1e-5, u=1.5e-8), "Mg Ka": bc.value(1.1e-4, u=1.2e-7), "Si Ka": bc.value(2.6e-5, u=4.0e-8)}
A = {"Ca Ka": [0.15, 0.13, 0.17], "Mg Ka": [0.17, 0.10, 0.15], "Si Ka": [0.15, 0.29, 0.14]}
OXIDES = ["CaO", "MgO", "SiO2"]


def melt(flux_g: float = 8.0, basis: str = "dried", additions: "list[bc.Addition] | None" = None) -> bc.Melt:
    blend = {"Li2B4O7": 50, "LiBO2": 50}
    lot = bc.FluxLot("F-1", blend, programme="1050 C, 18 min", loss_percent=bc.value(0.4, u=0.03))
    sample = bc.Sample(bc.value(0.8, u=1e-4), basis=basis)
    return bc.Charge(sample, lot.weigh(bc.value(flux_g, u=1e-4)), additions or []).fuse(
        loss_on_fusion_percent=bc.value(46.3, u=0.1)
    )


def dolomite(**changed: object) -> bc.Assay:
    return bc.Method.template().assay(melt(), NET, bead="B-1", **changed)  # type: ignore[arg-type]


def refusal(call: object) -> "bc.BeadchemError":
    with pytest.raises(bc.BeadchemError) as refused:
        call()  # type: ignore[operator]
    return refused.value


def codes(findings: "list[bc.Finding]") -> set[str]:
    return {finding.code for finding in findings}


def found(code: str, assay: bc.Assay) -> bc.Finding:
    (finding,) = (finding for finding in assay.findings if finding.code == code)
    return finding


def coefficients(name: str = "carbonate rock", **keywords: object) -> bc.CoefficientSet:
    rows = {line: (oxide, A[line]) for line, oxide in zip(A, OXIDES, strict=True)}
    made_for: dict[str, object] = {
        "derivation": "centroid",
        "fused_flux_ratio": 10.0,
        "fused_flux_range": (8.5, 11.5),
        "blend": {"Li2B4O7": 50, "LiBO2": 50},
        "setup": "Rh tube 50 kV, 63/40 deg",
        "centroid_percent": {"CaO": 31, "MgO": 21, "SiO2": 1},
        "ranges_percent": {"CaO": (25, 56), "MgO": (0, 25)},
        "components": OXIDES,
        "lines": rows,
    }
    return bc.CoefficientSet(name, "1", "rounded for this template", **{**made_for, **keywords})  # type: ignore[arg-type]


def calibration(basis: str = "dried", **keywords: object) -> bc.Calibration:
    ranges = {"CaO": (2, 5.5), "MgO": (0, 3), "SiO2": (0, 2)}
    return bc.Calibration(
        "dolomite calibration",
        "2026-03-02",
        "three synthetic beads, invented",
        basis=basis,
        sensitivities=K,
        **{"ranges_percent": ranges, **keywords},  # type: ignore[arg-type]
    )


def built(**keywords: object) -> bc.Method:
    parts: dict[str, object] = {"coefficients": coefficients(), "calibration": calibration()}
    return bc.Method("dolomite", "2026-1", "invented for this template", **{**parts, **keywords})  # type: ignore[arg-type]


def solved(ratio: float, net: "dict[str, float]", known: "dict[str, float] | None" = None) -> "dict[str, float]":
    """w = k I (F/F0 + sum a w) as the linear system it is, g/g."""
    lines = [line for line in A if line in net]
    strength = np.array([K[line].value * net[line] for line in lines])
    columns = [list(A).index(line) for line in lines]
    rows = np.array([A[line] for line in lines])
    amounts = np.array([(known or {}).get(oxide, 0.0) for oxide in OXIDES])
    matrix = np.eye(len(lines)) - strength[:, None] * rows[:, columns]
    w = np.linalg.solve(matrix, strength * (ratio / 10.0 + rows @ amounts))
    return {OXIDES[column]: float(value) for column, value in zip(columns, w, strict=True)}


def test_the_template_three_ways() -> None:
    template = bc.Method.template()
    assert built() == template and built().digest == template.digest
    assert bc.Method.from_annotated(bc.Method.template_text()) == template
    again = bc.Method.from_json(template.to_json())
    assert again == template and again.digest == template.digest and len(template.digest) == 64
    assert (template.name, template.version, template.source) == ("dolomite", "2026-1", "invented for this template")
    assert template.analytes == OXIDES and template.lines == list(A) and template.check() == []
    assert template.coefficients == [coefficients()] and template.calibration == calibration()
    assert template.overlaps == [] and template.not_reported == []
    assert template.dead_time is None and template.internal_standard is None


def test_a_set_and_a_calibration_say_what_they_were_given() -> None:
    held = coefficients(u={"Ca Ka": [0.01, 0.02, 0.03]}, sensitivities={"Ca Ka": 2e-10})
    assert held.u("Ca Ka") == {"CaO": 0.01, "MgO": 0.02, "SiO2": 0.03} and held.u("Mg Ka") is None
    assert held.sensitivity("Ca Ka") == 2e-10 and held.lines == dict(zip(A, OXIDES, strict=True))
    assert held.centroid_percent == pytest.approx({"CaO": 31, "MgO": 21, "SiO2": 1}, rel=ROUNDING)
    assert held.ranges_percent["CaO"] == pytest.approx((25, 56), rel=ROUNDING) and set(held.ranges_percent) == {"CaO", "MgO"}
    binary = coefficients(derivation="binary", binary_percent=50)
    assert binary.derivation == "binary at 0.5 g/g"
    assert bc.CoefficientSet.from_json(binary.to_json()) == binary

    name = "sensitivity of Ca Ka"
    fitted = calibration(
        offsets={"Ca Ka": bc.value(1.2, u=0.1)},
        coefficients={("Ca Ka", "MgO"): bc.value(0.131, u=0.002)},
        correlations=[(name, "coefficient of MgO on Ca Ka", -0.4)],
    )
    assert (fitted.name, fitted.version, fitted.basis) == ("dolomite calibration", "2026-03-02", "dried")
    assert fitted.sensitivities == K and fitted.offsets == {"Ca Ka": bc.value(1.2, u=0.1)}
    assert fitted.coefficients == {("Ca Ka", "MgO"): bc.value(0.131, u=0.002)}
    assert fitted.correlations == [(name, "coefficient of MgO on Ca Ka", -0.4)]
    assert fitted.ranges_percent["SiO2"] == pytest.approx((0, 2), rel=ROUNDING)
    again = bc.Calibration.from_json(fitted.to_json())
    assert again == fitted and again.digest == fitted.digest
    assert fitted.to_csv().splitlines()[0].startswith("line,") and "<table" in fitted._repr_html_()
    assert built(calibration=fitted).calibration == fitted


def test_the_results_solve_the_equation() -> None:
    assay = dolomite()
    expected = solved(melt().fused_flux_ratio.value, {line: net.value for line, net in NET.items()})
    assert assay.species == OXIDES and (assay.basis, assay.bead) == ("dried", "B-1")
    assert assay.evaluation.startswith("evaluation (a)")
    for oxide in OXIDES:
        assert assay.value(oxide, unit="g/g") == pytest.approx(expected[oxide], rel=ROUNDING)
        assert assay.value(oxide) == assay.sample.value(oxide) and assay.u(oxide) == assay.sample.u(oxide)
        got = assay.composition.get(oxide)
        assert isinstance(got, bc.Value) and got.value == assay.value(oxide)
    assert assay.sum() == assay.sample.sum()
    assert assay.melt.dilution == melt().dilution and assay.method == bc.Method.template()


def test_the_derivation_adds_up() -> None:
    rows = list(csv.reader(io.StringIO(dolomite().explain("CaO").to_csv())))
    steps = {row[0]: float(row[1]) for row in rows[1:]}
    terms = [value for step, value in steps.items() if " on Ca Ka, times " in step]
    bracket = steps["F / F0 + sum of a w, the bracket"]
    assert len(terms) == 3 and steps["F / F0"] + sum(terms) == pytest.approx(bracket, rel=SEVEN_DIGITS)
    product = steps["k, sensitivity of Ca Ka"] * NET["Ca Ka"].value * bracket
    assert product == pytest.approx(steps["k (I - I0) times the bracket"], rel=SEVEN_DIGITS)
    assert steps["stayed of the sample"] == pytest.approx(dolomite().value("CaO", unit="g/g"), rel=SEVEN_DIGITS)
    assert "method: dolomite 2026-1" in repr(dolomite().explain("CaO"))
    assert refusal(lambda: dolomite().explain("Fe2O3")).code == "species.unknown"


def test_covariance_and_combinations() -> None:
    assay = dolomite()
    matrix = np.array([[assay.covariance(first, second) for second in OXIDES] for first in OXIDES])
    assert (matrix == matrix.T).all()
    assert np.sqrt(np.diag(matrix)) == pytest.approx([assay.u(oxide, unit="g/g") for oxide in OXIDES], rel=ROUNDING)
    weights = np.array([1.0, -1.5, 0.25])
    sum_of = assay.combine(dict(zip(OXIDES, weights.tolist(), strict=True)))
    values = np.array([assay.value(oxide) for oxide in OXIDES])
    assert sum_of.value() == pytest.approx(weights @ values, rel=ROUNDING)
    assert sum_of.u(unit="g/g") == pytest.approx(math.sqrt(weights @ matrix @ weights), rel=ROUNDING)
    assert sum_of.budget().u == sum_of.u(unit="g/g") and sum_of.basis == "dried"
    assert "Budget of 1 CaO + -1.5 MgO + 0.25 SiO2" in repr(sum_of)
    assert refusal(lambda: assay.combine({"Fe2O3": 1})).code == "species.unknown"


def test_what_comes_from_elsewhere_enters_combinations_and_totals() -> None:
    assay = dolomite().with_external("CO2", bc.value(46.1, u=0.2), basis="dried", method="combustion", date="2026-03-15")
    assert [external.method for external in assay.externals] == ["combustion"] and dolomite().externals == []
    carbonate = assay.combine({"CaO": 1, "MgO": 1, "CO2": 1})
    assert carbonate.value() == pytest.approx(assay.value("CaO") + assay.value("MgO") + 46.1, rel=ROUNDING)
    assert "CO2 by combustion" in {row.name for row in carbonate.budget().rows}
    assert "CO2" in {line.species for line in assay.closure().lines} and "from elsewhere: CO2 by combustion" in repr(assay)
    other = dolomite().with_external("CO2", 46.1, basis="as received", method="combustion")
    assert refusal(lambda: other.combine({"CaO": 1, "CO2": 1})).code == "basis.mismatch"


def test_a_dict_and_a_list_of_readings_are_the_same() -> None:
    by_dict = dolomite()
    listed = [bc.LineReading.net(line, net) for line, net in reversed(NET.items())]
    by_list = bc.Method.template().assay(melt(), listed, bead="B-1")
    assert [(by_list.value(oxide), by_list.u(oxide)) for oxide in OXIDES] == [
        (by_dict.value(oxide), by_dict.u(oxide)) for oxide in OXIDES
    ]
    assert by_list.provenance == by_dict.provenance and by_list.readings == listed
    twice = refusal(lambda: bc.Method.template().assay(melt(), [listed[0], listed[0]], bead="B-1"))
    assert twice.code == "reading.doubled"
    with pytest.raises(TypeError, match=r"A number or beadchem\.value"):
        bc.Method.template().assay(melt(), {"Ca Ka": "13500"}, bead="B-1")  # type: ignore[dict-item]


def test_drift_is_taken_off() -> None:
    monitor = bc.Monitor("M-1", {line: bc.value(1000, u=1) for line in A})
    drift = bc.Drift(monitor.reading("2026-03-14T08:00", {line: bc.value(980, u=1) for line in A}))
    assay = dolomite(at="2026-03-14T08:00", drift=drift)
    expected = solved(melt().fused_flux_ratio.value, {line: net.value / 0.98 for line, net in NET.items()})
    assert assay.value("MgO", unit="g/g") == pytest.approx(expected["MgO"], rel=ROUNDING)
    assert (assay.at, assay.drift) == ("2026-03-14T08:00", drift)
    assert assay.provenance.drift_digest == drift.digest and dolomite().provenance.drift_digest is None
    assert "Ca Ka of monitor M-1 at calibration" in {row.name for row in assay.budget("CaO").rows}
    for alone in ({"at": "2026-03-14T08:00"}, {"drift": drift}):
        assert refusal(lambda: dolomite(**alone)).code == "drift.unpaired"


def test_known_contents_are_declared_in_percent_of_the_sample() -> None:
    net = {line: NET[line] for line in ("Ca Ka", "Mg Ka")}
    assay = bc.Method.template().assay(melt(), net, bead="B-1", known_percent={"SiO2": bc.value(1.2, u=0.1)})
    expected = solved(melt().fused_flux_ratio.value, {line: held.value for line, held in net.items()}, {"SiO2": 0.012})
    assert assay.species == ["CaO", "MgO"] and assay.known_percent["SiO2"].value == pytest.approx(1.2, rel=ROUNDING)
    assert assay.value("CaO", unit="g/g") == pytest.approx(expected["CaO"], rel=ROUNDING)
    assert "SiO2 known from elsewhere" in {row.name for row in assay.budget("CaO").rows}
    assert refusal(lambda: dolomite(known_percent={"SiO2": 1.2})).code == "component.measured-and-declared"


def test_refusals_and_findings_in_an_analysts_words() -> None:
    template = bc.Method.template()
    ratio = refusal(lambda: template.assay(melt(flux_g=4.0), NET, bead="B-1"))
    assert ratio.code == "coefficients.flux-ratio"
    assert str(ratio).startswith("Coefficients carbonate rock were made for F 10.0 +- 1.5; bead B-1 has F 4.98.")
    negative = refusal(lambda: template.assay(melt(), {**NET, "Si Ka": bc.value(-900, u=2)}, bead="B-1"))
    assert negative.code == "solution.negative" and "SiO2" in str(negative) and " %" in str(negative)
    assert refusal(lambda: template.assay(melt(), {"Fe Ka": 100.0}, bead="B-1")).code == "line.not-measured"
    assert refusal(lambda: dolomite(of_class="marble")).code == "word.unknown"

    other = found("calibration.other-basis", built(calibration=calibration("ignited at 1000 C")).assay(melt(), NET, bead="B-1"))
    assert "declares standards weighed ignited at 1000 C" in other.text and "weighed dried and loses 46.3 %" in other.text
    low = built(calibration=calibration(ranges_percent={"CaO": (0, 2), "MgO": (0, 3), "SiO2": (0, 2)}))
    beyond = found("calibration.extrapolated", low.assay(melt(), NET, bead="B-1"))
    assert "CaO 2.889 % in glass is above the top standard 2 %: the sensitivity was not tested there." in beyond.text
    assert "above the top standard" in repr(low.assay(melt(), NET, bead="B-1"))
    silent = {line: net for line, net in NET.items() if line != "Mg Ka"}
    assert {"line.not-measured", "component.not-declared"} <= codes(template.assay(melt(), silent, bead="B-1").findings)

    assert refusal(lambda: coefficients(derivation="binary")).code == "coefficients.binary-content"
    assert refusal(lambda: coefficients(binary_percent=50)).code == "coefficients.binary-content"
    assert refusal(lambda: coefficients(derivation="guessed")).code == "word.unknown"
    assert refusal(lambda: coefficients(u={"Fe Ka": [0.1, 0.1, 0.1]})).code == "word.unknown"
    assert refusal(lambda: built(coefficients=[])).code == "shape.mismatch"
    assert refusal(lambda: calibration(offsets={"Fe Ka": 1.0})).code == "line.not-calibrated"
    assert refusal(lambda: calibration(ranges_percent={"CaO": (2, 550)})).code == "number.out-of-range"


def alumina(overlaps: "list[bc.Overlap]") -> bc.Method:
    rows = {"Al Ka": ("Al2O3", [0.14, 0.5]), "Br Ka": ("LiBr", [0.3, 0.2])}
    made = bc.CoefficientSet(
        "alumina", "1", "invented", derivation="stated", fused_flux_ratio=10, components=["Al2O3", "LiBr"], lines=rows,
        fused_flux_range=(8, 12),
    )
    held = bc.Calibration("c", "1", "invented", basis="dried", sensitivities={"Al Ka": bc.value(1e-4, 1e-7), "Br Ka": 1e-6})
    return bc.Method("alumina", "1", "invented", coefficients=made, calibration=held, overlaps=overlaps)


def test_bromine_under_aluminium() -> None:
    agent = bc.Addition.release_agent("LiBr", 0.03, retained=bc.value(0.5, u=0.1))
    net = {"Al Ka": bc.value(5000, u=7), "Br Ka": bc.value(9000, u=9)}
    bead = melt(additions=[agent])
    assay = alumina([]).assay(bead, net, bead="B-2")
    assert "Br is in the bead" in found("overlap.not-held", assay).text and assay.species == ["Al2O3"]
    factor = bc.Overlap("Al Ka", "Br Ka", bc.value(0.012, u=5e-4))
    assert (factor.on_line, factor.from_line, factor.factor) == ("Al Ka", "Br Ka", bc.value(0.012, u=5e-4))
    cleared = alumina([factor]).assay(bead, net, bead="B-2")
    by_hand = alumina([]).assay(bead, {**net, "Al Ka": 5000 - 0.012 * 9000}, bead="B-2")
    assert cleared.value("Al2O3") == pytest.approx(by_hand.value("Al2O3"), rel=ROUNDING)
    assert "overlap.not-held" not in codes(cleared.findings)
    assert "overlap of Br Ka on Al Ka" in {row.name for row in cleared.budget("Al2O3").rows}
    assert alumina([factor]).overlaps == [factor]
    missing = refusal(lambda: alumina([factor]).assay(bead, {"Al Ka": 5000.0}, bead="B-2"))
    assert missing.code == "overlap.not-measured"
    assert refusal(lambda: alumina([factor, factor])).code == "overlap.doubled"
    assert refusal(lambda: bc.Overlap("Al Ka", "Al Ka", 0.1)).code == "overlap.itself"
    on, source = bc.LineReading.net("Al Ka", bc.value(12, u=0.3)), bc.LineReading.net("Br Ka", bc.value(1000, u=2))
    assert bc.Overlap.from_bead(on, source).factor.value == pytest.approx(0.012, rel=ROUNDING)


def test_classes() -> None:
    theory = dict.fromkeys(A, 1e-10)
    marble = {"CaO": ("Ca Ka", [0.16, 0.13, 0.17]), "MgO": ("Mg Ka", A["Mg Ka"]), "SiO2": ("Si Ka", A["Si Ka"])}
    other = coefficients("marble", sensitivities=theory, lines={line: (oxide, row) for oxide, (line, row) in marble.items()})
    method = built(coefficients=[coefficients(sensitivities=theory), other])
    assay = method.assay(melt(), NET, bead="B-1")
    again = assay.by_class("marble")
    assert again.of_class == "marble" and again.value("CaO") > assay.value("CaO")
    assert again.value("CaO") == method.assay(melt(), NET, bead="B-1", of_class="marble").value("CaO")
    assert again.provenance.coefficients == "marble 1"
    assert refusal(lambda: built(coefficients=[coefficients(), other])).code == "method.classes-differ"


def test_detection_limits_and_dead_time_of_counted_lines() -> None:
    dead = bc.DeadTime(bc.value(2.5e-7, u=1e-8), detector="flow counter")
    method = built(dead_time=dead)
    assert method.dead_time == dead and bc.Method.from_json(method.to_json()) == method
    counted = bc.LineReading.counted("Mg Ka", 1730.0, 40.0, backgrounds=[(1.0, 20.0, 20.0)])
    others = [bc.LineReading.net(line, NET[line]) for line in ("Ca Ka", "Si Ka")]
    assert "dead time of flow counter" in {
        row.name for row in method.assay(melt(), [counted, *others], bead="B-1").budget("MgO").rows
    }
    assay = bc.Method.template().assay(melt(), [counted, *others], bead="B-1")
    (limit,) = assay.detection_limits("3-sigma background")
    assert (limit.analyte, limit.line, limit.formula) == ("MgO", "Mg Ka", "3-sigma background")
    # 3/S sqrt(R_b/T_b) with S = I/w of this bead, since nothing but the line's own counts brings MgO
    by_hand = 3 * math.sqrt(20 / 20) * assay.value("MgO") / 1710
    assert limit.in_sample_percent == pytest.approx(by_hand, rel=ROUNDING)
    assert limit.in_glass_percent == pytest.approx(by_hand / melt().dilution.value, rel=ROUNDING)
    assert refusal(lambda: assay.detection_limits("LLD")).code == "word.unknown"


def test_an_internal_standard_carries_geometry() -> None:
    standard = bc.InternalStandard("Si Ka", "SiO2", follow=["Ca Ka", "Mg Ka"])
    assert (standard.line, standard.component, standard.follow) == ("Si Ka", "SiO2", ["Ca Ka", "Mg Ka"])
    method = built(internal_standard=standard)
    assert method.internal_standard == standard and method.analytes == ["CaO", "MgO"]
    assert bc.Method.from_json(method.to_json()) == method
    bead = melt(additions=[bc.Addition.reagent("SiO2", bc.value(0.0092, u=1e-5))])
    whole = method.assay(bead, NET, bead="B-1")
    weaker = method.assay(bead, {line: net.value * 0.97 for line, net in NET.items()}, bead="B-1")
    assert weaker.value("CaO") == pytest.approx(whole.value("CaO"), rel=ROUNDING)
    assert built(not_reported=["SiO2"]).assay(melt(), NET, bead="B-1").species == ["CaO", "MgO"]
    assert refusal(lambda: bc.InternalStandard("Si Ka", "SiO2", follow=["Si Ka"])).code == "overlap.itself"


def test_what_a_number_rests_on() -> None:
    assay = dolomite()
    rests = assay.provenance
    assert (rests.bead, rests.method, rests.method_digest) == ("B-1", "dolomite 2026-1", bc.Method.template().digest)
    assert (rests.coefficients, rests.calibration) == ("carbonate rock 1", "dolomite calibration 2026-03-02")
    assert (rests.flux_lot, rests.weights, rests.library) == ("F-1", "CIAAW 2024", f"beadchem {bc.__version__}")
    assert len(rests.flux_lot_digest) == len(rests.charge_digest) == 64 and rests.evaluation == assay.evaluation
    assert repr(rests) == "\n".join(rests.lines)
    assay.check_recipe(bc.Method.template())
    other = bc.Method.template_text().replace('"2026-1"', '"2026-2"')
    assert refusal(lambda: assay.check_recipe(bc.Method.from_annotated(other))).code == "recipe.version-unknown"


def test_an_assay_is_shown_and_signed() -> None:
    assay = dolomite()
    assert "method: dolomite 2026-1" in repr(assay) and "<table" in assay._repr_html_()
    rows = list(csv.reader(io.StringIO(assay.to_csv(unit="g/g"))))
    assert [row[0] for row in rows[1:4]] == OXIDES and float(rows[1][1]) == pytest.approx(0.30323, abs=1e-5)
    form = bc.ReportForm("client A", decimals=2, rule="half to even")
    loss = bc.LossOnIgnition(46.3, temperature_c=1000)
    signed = repr(assay.report(form, bc.ClosureOrder(loss_on_ignition=loss)))
    assert "method: dolomite 2026-1" in signed and "30.32" in signed
    ordered = assay.on("as received", bc.BasisLinks(moisture_percent=1.0), form="elements")
    assert ordered.species == ["Ca", "Mg", "Si"] and ordered.value("Ca") < assay.value("CaO")
    drawn = assay.sample.monte_carlo(draws=20_000)
    assert drawn.mean("CaO") == pytest.approx(assay.value("CaO"), abs=5 * assay.u("CaO") / math.sqrt(20_000))
    method = bc.Method.template()
    assert repr(method).startswith("Method dolomite 2026-1") and "<table" in method._repr_html_()
    assert method.to_csv().splitlines()[0].startswith("line,analyte,k")
