"""Influence coefficients from Python: conversions and words; the numbers are checked in Rust."""

import json

import beadchem as bc
import pytest

ROUNDING = 1e-12
"""A product or two."""

DOCUMENT = {
    "kind": "influence-coefficients",
    "schema": 1,
    "body": {
        "name": "sand",
        "version": "1",
        "source": "invented for this test",
        "derivation": {"kind": "fitted"},
        "conditions": {
            "fused_flux_ratio": 10.0,
            "lowest_ratio": 8.5,
            "highest_ratio": 11.5,
            "flux": [{"species": "Li2B4O7", "share": 0.35}, {"species": "LiBO2", "share": 0.65}],
            "setup": "Rh tube 50 kV",
            "ranges": [{"component": "Fe2O3", "low": 0.01, "high": 0.05}],
        },
        "components": ["SiO2", "Fe2O3", "LiBr"],
        "lines": [
            {"line": "Si Ka", "analyte": "SiO2", "coefficients": [0.14, 0.26, 0.55], "sensitivity": 1.3e-10},
            {"line": "Fe Ka", "analyte": "Fe2O3", "coefficients": [0.1, 0.2, 0.3], "u": [0.01, 0.02, 0.03]},
        ],
    },
}


def sand() -> bc.CoefficientSet:
    return bc.CoefficientSet.from_json(json.dumps(DOCUMENT))


def refusal(call: object) -> "bc.BeadchemError":
    with pytest.raises(bc.BeadchemError) as refused:
        call()  # type: ignore[operator]
    return refused.value


def test_a_set_says_what_it_holds() -> None:
    held = sand()
    assert (held.name, held.version, held.source) == ("sand", "1", "invented for this test")
    assert (held.derivation, held.setup) == ("fitted to standards", "Rh tube 50 kV")
    assert (held.fused_flux_ratio, held.range) == (10.0, (8.5, 11.5))
    assert held.blend == {"Li2B4O7": 0.35, "LiBO2": 0.65}
    assert held.components == ["SiO2", "Fe2O3", "LiBr"]
    assert held.lines == {"Si Ka": "SiO2", "Fe Ka": "Fe2O3"}
    assert held.row("Si Ka") == {"SiO2": 0.14, "Fe2O3": 0.26, "LiBr": 0.55}
    assert held.u("Si Ka") is None and held.u("Fe Ka") == {"SiO2": 0.01, "Fe2O3": 0.02, "LiBr": 0.03}
    assert held.sensitivity("Si Ka") == 1.3e-10 and held.sensitivity("Fe Ka") is None
    assert refusal(lambda: held.row("Ca Ka")).code == "line.name"


def test_a_set_is_stored_and_shown() -> None:
    held = sand()
    assert bc.CoefficientSet.from_json(held.to_json()) == held
    assert len(held.digest) == 64 and held.digest == bc.CoefficientSet.from_json(held.to_json()).digest
    assert repr(held).startswith("Influence coefficients sand, F0 10.0")
    assert "LiBr" in held.to_csv().splitlines()[0]
    assert "<table" in held._repr_html_()


def test_a_set_is_rewritten_exactly() -> None:
    held = sand()
    assert held.referred_to(8.5).row("Si Ka")["SiO2"] == pytest.approx(0.14 * 10 / 8.5, rel=ROUNDING)
    assert refusal(lambda: held.referred_to(5.0)).code == "number.out-of-range"
    iron = held.with_component_as("Fe2O3", "Fe", weights=bc.Weights("CIAAW 2021"))
    # 2 x 55.845 / 159.687 g Fe in a gram of Fe2O3
    assert iron.row("Si Ka")["Fe"] == pytest.approx(0.26 * 159.687 / 111.69, rel=ROUNDING)
    assert iron.lines["Fe Ka"] == "Fe"
    assert refusal(lambda: held.with_component_as("Fe2O3", "FeS2")).code == "coefficients.form"


def test_beads_are_held_against_the_conditions() -> None:
    held = sand()
    refused = refusal(lambda: held.check_conditions(8.0, bead="B-417"))
    assert refused.code == "coefficients.flux-ratio"
    assert str(refused).startswith("Coefficients sand were made for F 10.0 +- 1.5; bead B-417 has F 8.0.")
    assert held.check_conditions(10.2, bead="B-417", blend={"LiBO2": 65, "Li2B4O7": 35}) == []
    findings = held.check_conditions(10.2, bead="B-417", blend={"LiBO2": 50, "Li2B4O7": 50})
    assert [(finding.code, finding.severity) for finding in findings] == [("coefficients.flux-blend", "warning")]
    assert held.check_range({"SiO2": 90.0, "Fe2O3": 3.0}) == []
    findings = held.check_range({"Fe2O3": 8.0})
    assert [finding.code for finding in findings] == ["coefficients.outside-range"]
    assert findings[0].value == pytest.approx(0.08, rel=ROUNDING) and findings[0].bound == 0.05
