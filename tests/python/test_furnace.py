"""The furnace's books through Python: the same numbers as on paper, refusals with their codes, reports as they are signed.

Sources of the printed figures stand beside them; atomic weights: Prohaska et al., Pure Appl. Chem. 2022.
"""

import math

import beadchem as bc
import pytest

H, C, O, S, F, FE, MN = 1.008, 12.011, 15.999, 32.06, 18.998403162, 55.845, 54.938043
# Hand arithmetic and library add a dozen terms in different orders; per cent carries two digits more.
ROUNDING = 1e-12


def lime(u: float = 0.05) -> bc.Composition:
    return bc.Composition({"CaO": bc.value(54.2, u=u), "MgO": bc.value(0.9, u=u)}, basis="dried")


def test_manganese_ore_certificate_by_convention() -> None:
    """OREAS 170b: 94.94 with MnO, 99.43 with Mn3O4 from Mn, 99.41 with Mn3O4 from MnO."""
    rest = {"Fe2O3": 7.04, "SiO2": 9.49, "Al2O3": 3.90, "MgO": 0.329, "CaO": 0.270, "TiO2": 0.189, "K2O": 1.80,
            "P2O5": 0.195, "Na2O": 0.318}
    loss = bc.LossOnIgnition(11.95, temperature_c=1000)
    for species, value, convention, printed in [
        ("MnO", 59.46, [], 94.94), ("Mn", 46.06, ["Mn3O4"], 99.43), ("MnO", 59.46, ["Mn3O4"], 99.41),
    ]:
        ore = bc.Composition({**rest, species: value}, basis="dried")
        closure = ore.closure(bc.ClosureOrder(loss_on_ignition=loss, counted_as=convention))
        assert closure.total_percent is not None and round(closure.total_percent.value, 2) == printed
        (line,) = [line for line in closure.lines if line.species == species]
        assert line.counted_as == (convention or [species])[0]


def test_loss_is_predicted_and_explained() -> None:
    ore = bc.Composition({"FeO": bc.value(26.0, u=0.1), "H2O": bc.value(0.25, u=0.02)}, basis="dried")
    predicted = bc.Ignition(1000).predict(ore)
    gain = 26.0 * 0.5 * O / (FE + O)
    assert math.isclose(predicted.gained_percent, gain, rel_tol=ROUNDING)
    assert math.isclose(predicted.loss_percent, 0.25 - gain, rel_tol=ROUNDING)
    assert set(predicted.lines_percent) == {"FeO", "H2O"} and set(predicted.gases_percent) == {"H2O"}
    explained = predicted.explain(bc.LossOnIgnition(bc.value(-2.60, u=0.02), temperature_c=1000), k=4)
    assert math.isclose(explained.volatile_percent, -2.60 + gain, rel_tol=1e-9) and not explained.findings
    with pytest.raises(bc.BeadchemError, match="observed at 950 C and predicted for 1000 C"):
        predicted.explain(bc.LossOnIgnition(-2.6, temperature_c=950), k=4)
    with pytest.raises(bc.BeadchemError, match="What manganese becomes in the furnace"):
        bc.Ignition(1000).predict(bc.Composition({"MnO2": 70.0}, basis="dried"))


def test_loss_goes_from_furnace_to_fusion() -> None:
    gypsum = bc.Composition({"CaSO4.2H2O": 97.0, "F": "absent", "Mn": "absent"}, basis="dried")
    furnace = bc.Ignition(1000, fate=bc.Fate().split("S", bc.exact(0.5), "SO3"))
    loss = bc.LossOnIgnition(bc.value(42.0, u=0.1), temperature_c=1000)
    fusion = furnace.to_fusion(loss, gypsum, bc.Fate().keep("S"))
    sulfate = 0.5 * 97.0 * (S + 3 * O) / (40.078 + S + 6 * O + 4 * H)
    assert math.isclose(fusion.loss_percent.value, 42.0 - sulfate, rel_tol=1e-9)
    with pytest.raises(bc.BeadchemError) as refused:
        furnace.to_fusion(loss, lime(), bc.Fate())
    assert refused.value.code == "fate.not-stated" and "sulfur, fluorine, manganese" in str(refused.value)


def test_forms_of_iron() -> None:
    iron = bc.ElementForms.split("Fe2O3", bc.value(10.799, u=0.02), {"FeO": bc.value(8.34, u=0.05)}, "Fe2O3")
    assert math.isclose(iron.value("Fe2O3"), 10.799 - 8.34 * (FE + 1.5 * O) / (FE + O), rel_tol=1e-9)
    whole = iron.added_to(lime())
    assert whole.species == ["CaO", "MgO", "FeO", "Fe2O3"]
    with pytest.raises(bc.BeadchemError) as refused:
        bc.ElementForms.split("Fe2O3", 97.9, {"FeO": 95.0}, "Fe2O3")
    assert refused.value.code == "forms.impossible"


def test_closure_says_what_it_counts_and_cannot_see() -> None:
    spar = bc.Composition({"CaO": 69.67, "F": 47.21, "SiO2": 1.6}, basis="dried")
    closure = spar.closure()
    assert math.isclose(closure.lines[2].contribution_percent, -47.21 * 0.5 * O / F, rel_tol=1e-9)
    assert closure.total_percent is not None and closure.total_percent.u is None and closure.unstated == spar.species
    draft = lime().closure(bc.ClosureOrder(draft_loss_percent=43.1))
    with pytest.raises(bc.BeadchemError, match="An LOI without its temperature cannot be reported"):
        draft.reportable()
    assert lime().with_difference("SiO2").closure().total_percent is None


def sample() -> bc.SampleResult:
    lot = bc.FluxLot("F-1", {"Li2B4O7": 1}, programme="1050 C, 18 min", loss_percent=bc.value(0.4, u=0.03))
    charge = bc.Charge(bc.Sample(bc.value(0.8, u=1e-4), basis="ignited at 1000 C"), lot.weigh(bc.value(8.0, u=1e-4)))
    glass = bc.Composition({"CaO": bc.value(5.0, u=0.005), "MgO": bc.value(4.0, u=0.004), "SO3": bc.value(-0.001, u=0.002)},
                           basis="bead")
    return charge.fuse(loss_on_fusion_percent=bc.exact(0.0)).undilute(glass)


def test_total_of_ignited_powder_is_blind_to_the_loss() -> None:
    loss = bc.LossOnIgnition(bc.value(45.0, u=0.05), temperature_c=1000)
    dried = sample().on("dried", bc.BasisLinks(loss_on_ignition=loss))
    closure = dried.closure(bc.ClosureOrder(loss_on_ignition=loss, left_in_furnace={"SO3": bc.exact(0.0)}))
    assert closure.blind_to == ["loss on ignition at 1000 C"]
    rules = bc.Rules("house", "1", total_percent=(98.0, 102.0, 4.0))
    verdict = rules.judge_total(closure)
    assert verdict.in_window and verdict.blind_to and "no test of loss on ignition" in repr(verdict)
    assert rules == bc.Rules.from_json(rules.to_json()) and rules.id == "house 1"
    with pytest.raises(bc.BeadchemError) as refused:
        rules.check_agreement("S", 1.0, 2.0, "combustion")
    assert refused.value.code == "rule.unstated"


def test_a_report_is_rounded_at_the_end_and_never_clipped() -> None:
    kept = sample().report(bc.ReportForm("A", decimals=2, rule="half to even"))
    assert "SO3,-0.01," in kept.to_csv()
    censored = sample().report(bc.ReportForm("A", decimals=2, rule="half to even", negatives="censored", k=3.0))
    assert "SO3,< 0.07," in censored.to_csv() and "reading.negative" not in repr(censored)
    with pytest.raises(bc.BeadchemError) as refused:
        bc.ReportForm("A", decimals=2, rule="half to even", negatives="zero")
    assert refused.value.code == "clipping.refused"
    form = bc.ReportForm("A", decimals=1, rule="half up", decimals_of={"MgO": 3})
    assert form == bc.ReportForm.from_json(form.to_json())


def test_a_weighed_bead_is_read_four_ways_and_adjusts_inputs_only() -> None:
    melt = sample().melt
    light = bc.value(melt.bead_mass_g - 0.042, u=2e-4)
    check = melt.check_bead_mass(light, k=4)
    effects = [reading.by_glass for reading in check.readings]
    assert effects[0] == 0.0 and effects[1] > 0.04 and effects[2] < 0.0 and effects[3] < 0.0
    with pytest.raises(bc.BeadchemError) as refused:
        melt.adjust(light, k=4, cast_in_crucible=True)
    assert refused.value.code == "bead-mass.not-adjusted"
    near = bc.value(melt.bead_mass_g + 0.002, u=2e-4)
    adjusted = melt.adjust(near, k=4, cast_in_crucible=True)
    (change,) = adjusted.changes
    assert change.input == "flux loss of lot F-1" and change.after[0] < change.before[0] and change.after[1] < change.before[1]
    assert adjusted.melt.dilution.u < melt.dilution.u
    residue = melt.check_bead_mass(light, k=4, residue_g=bc.value(0.042, u=2e-4))
    assert not residue.findings


def test_route_basis_and_unit_are_asked_for() -> None:
    for missing in ({}, {"basis": ""}, {"basis": None}):
        with pytest.raises(bc.BeadchemError) as refused:
            bc.Composition({"SiO2": 12.3}, **missing)
        assert refused.value.code == "basis.missing"
        assert str(refused.value) == (
            "SiO2 12.3 has no basis. Choose as received, air-equilibrated, dried, ignited or bead."
        )
    with pytest.raises(bc.BeadchemError) as refused:
        bc.Addition.oxidant("NaNO3", 1.2)
    assert refused.value.code == "oxidant.route-missing" and "NO (1.5)" in str(refused.value)
