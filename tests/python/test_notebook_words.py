"""What an analyst does in a notebook: tables in text and HTML, results on another basis, budgets, Monte Carlo."""

import beadchem as bc
import pytest


@pytest.fixture
def sample() -> bc.SampleResult:
    lot = bc.FluxLot("F-1", {"Li2B4O7": 1}, programme="1050 C, 18 min", loss_percent=bc.value(0.35, 0.03))
    charge = bc.Charge(bc.Sample(bc.value(0.6604, 0.0001), basis="dried"), lot.weigh(bc.value(6.6031, 0.0001)))
    melt = charge.fuse(loss_on_fusion_percent=bc.value(-2.645, 0.03))
    readings = {"Fe2O3": bc.value(8.912, 0.01), "SiO2": bc.value(0.223, 0.003), "MnO": bc.Below(0.01), "TiO2": None}
    return melt.undilute(bc.Composition(readings, basis="bead"))


def test_text_and_html_carry_basis_unit_and_uncertainty(sample: bc.SampleResult) -> None:
    assert "basis: dried" in repr(sample) and "%" in repr(sample)
    html = sample._repr_html_()
    assert "basis: dried" in html and "<table" in html


def test_another_basis_and_form(sample: bc.SampleResult) -> None:
    ordered = sample.on("as received", bc.BasisLinks(moisture_percent=1.18), form="elements")
    factor = bc.factor("Fe2O3", "Fe").value
    # one product more than the library forms: rounding of the last digits only
    assert ordered.value("Fe") == pytest.approx(sample.value("Fe2O3") * factor * (1 - 0.0118), rel=1e-14)
    assert ordered.species == ["Fe", "Si"]


def test_states_survive(sample: bc.SampleResult) -> None:
    composition = sample.composition
    below = composition.get("MnO")
    assert isinstance(below, bc.Below)
    assert below.limit == pytest.approx(0.01 * sample.melt.dilution.value, rel=1e-14)
    assert composition.get("TiO2") == "unknown" and composition.get("CaO") is None


def test_budget_ranks_and_halves(sample: bc.SampleResult) -> None:
    budget = sample.budget("Fe2O3")
    sizes = [abs(row.contribution) for row in budget.rows]
    assert sizes == sorted(sizes, reverse=True) and budget.rows[0].name == "Fe2O3 in the glass"
    assert budget.if_halved("Fe2O3 in the glass") < budget.u
    assert sum(row.share for row in budget.rows) == pytest.approx(1.0, abs=1e-12)  # uncorrelated parts


def test_monte_carlo_stands_beside_first_order(sample: bc.SampleResult) -> None:
    drawn = sample.monte_carlo(draws=20_000, seed=3, threads=2)
    # 4 sampling sigmas of a standard deviation from 20 000 draws: 4 / sqrt(2 * 20 000) = 2 %
    assert drawn.u("Fe2O3") == pytest.approx(sample.u("Fe2O3"), rel=0.02)
    again = sample.monte_carlo(draws=20_000, seed=3, threads=1)
    assert again.mean("Fe2O3") == drawn.mean("Fe2O3")


def test_weights_are_chosen_and_recorded() -> None:
    old = bc.factor("Zr", "ZrO2", weights=bc.Weights("CIAAW 2021"))
    assert old.weights_version == "CIAAW 2021" and old.value != bc.factor("Zr", "ZrO2").value
    enriched = bc.Weights().with_element("Li", 6.02, half_width=0.01, source="supplier's certificate")
    assert "supplier's certificate" in enriched.version
