"""Flux lots, a change of lot, drying and ignition from Python: conversions and words; the numbers are checked in Rust."""

import math

import beadchem as bc
import pytest

ROUNDING = 1e-9
"""Conversions from and to per cent."""


def lot(name: str = "F-118", loss: "float | bc.Value | bc.LossTest" = 0.35) -> bc.FluxLot:
    return bc.FluxLot(name, {"Li2B4O7": 1}, programme="1050 C, 18 min", loss_percent=loss)


def refusal(call: object) -> str:
    with pytest.raises(bc.BeadchemError) as refused:
        call()  # type: ignore[operator]
    return str(refused.value.code)


def test_a_lot_with_purity_and_two_programmes() -> None:
    test = bc.LossTest.weighed(
        [(5.0012, 4.6820), (5.0004, 4.6806)], includes_formula=True, date="2026-03-04", note="new can"
    )
    both = bc.FluxLot(
        "F-118",
        {"Li2B4O7": 90, "Li2CO3": 10},
        programme="1050 C, 18 min",
        loss_percent=bc.value(0.3, 0.02),
        purity_percent={"Li2CO3": bc.value(99.0, 0.2)},
    ).with_programme("1150 C, 25 min", test)
    assert set(both.programmes) == {"1050 C, 18 min", "1150 C, 25 min"}
    held = both.programmes["1150 C, 25 min"]
    assert held == test and held.includes_formula and held.date == "2026-03-04" and held.note == "new can"
    assert held.replicates_g == [(5.0012, 4.6820), (5.0004, 4.6806)]
    assert both.purity_percent["Li2CO3"].value == pytest.approx(99.0, abs=ROUNDING)
    assert bc.FluxLot.from_json(both.to_json()) == both
    assert refusal(lambda: both.weigh(8.0)) == "flux.programme"
    hot = both.for_programme("1150 C, 25 min")
    whole = (1 - 4.6820 / 5.0012 + 1 - 4.6806 / 5.0004) / 2 * 100
    assert hot.loss_percent.value == pytest.approx(whole, abs=ROUNDING)
    by_formula = hot.stoichiometric_loss_percent().value
    assert by_formula == pytest.approx(10 * 0.99 * 44.009 / 73.888, abs=1e-3)
    assert hot.lot_loss_percent().value == pytest.approx(whole - by_formula, abs=ROUNDING)
    melt = bc.Charge(bc.Sample(1.0, basis="dried"), hot.weigh(6.0)).fuse(loss_on_fusion_percent=0.0)
    assert melt.bead_mass_g == pytest.approx(1.0 + 6.0 * (1 - whole / 100), abs=ROUNDING)
    assert abs(melt.ledger().imbalance_g) < ROUNDING


def test_what_a_lot_knows_of_itself() -> None:
    assert lot(loss=0.62).corrected_mass_g(6.0).value == pytest.approx(6.0 / 0.9938, abs=ROUNDING)
    assert lot().li2o_to_b2o3().value == pytest.approx(0.5, abs=ROUNDING)
    assert lot(loss=bc.value(-0.01, 0.02)).loss_percent.value == pytest.approx(-0.01, abs=ROUNDING)
    assert refusal(lambda: bc.LossTest.weighed([(5.0, 4.98)])) == "replicates.too-few"
    assert refusal(lambda: bc.LossTest.stated(0.3, date="04.03.2026")) == "date.unreadable"
    rules = bc.Rules("house", "1", flux_loss_percent=(5.0, 3.0))
    carbonate = bc.FluxLot(
        "F-2",
        {"Li2CO3": 10, "Li2B4O7": 90},
        programme="1050 C",
        loss_percent=bc.LossTest.stated(6.36, includes_formula=True),
    )
    carbonate.check(rules)  # 5.96 % of it is carbon dioxide of the formula
    assert refusal(lambda: lot(loss=8.2).check(rules)) == "flux.loss-outside"


def test_change_of_lot() -> None:
    old, new = lot(loss=bc.value(0.35, 0.02)), lot("F-121", bc.value(0.62, 0.03))
    melt = bc.Charge(bc.Sample(bc.exact(1.0), basis="dried"), old.weigh(bc.exact(6.0))).fuse(
        loss_on_fusion_percent=bc.exact(0.0)
    )
    factors = {
        word: melt.lot_change(new, evaluation=word) for word in ("intensities", "glass fractions", "whole melt")
    }
    assert [round(change.factor, 5) for change in factors.values()] == [0.99729, 0.99768, 1.0]
    assert all(change.exact and change.evaluation == word for word, change in factors.items())
    fractions = factors["glass fractions"]
    assert "only where the calibration used lot F-118" in fractions.text and fractions.text == repr(fractions)
    assert fractions.unstated == [] and fractions.budget().rows[0].name == "flux loss of lot F-121"
    assert fractions.u == pytest.approx(fractions.budget().u)
    assert refusal(lambda: melt.lot_change(new, evaluation="b")) == "word.unknown"


def test_drying() -> None:
    def grams(mass: float) -> bc.Value:
        return bc.value(mass, 0.0002)

    drying = bc.Drying(grams(52.1040), grams(62.1180), temperature_c=105).step(grams(61.4990), minutes=240)
    assert refusal(lambda: drying.moisture(k=3, limit_percent=0.05)) == "drying.not-constant"
    drying = drying.step(grams(61.4974), minutes=60)
    moisture = drying.moisture(k=3, limit_percent=0.05, least_minutes=60)
    percent = moisture.percent
    assert percent.value == pytest.approx(100 * (62.1180 - 61.4974) / 10.014, abs=ROUNDING)
    assert percent.u is not None and percent.u == pytest.approx(0.0027, abs=1e-4)
    assert moisture.steps == 2 and moisture.findings == []
    assert moisture.last_change_g == pytest.approx(0.0016, abs=ROUNDING)
    assert moisture.budget().rows[0].name == "pan with dried powder"
    assert "300" in repr(drying) and drying.to_csv().startswith("step,time (min)")
    assert refusal(lambda: drying.moisture(k=3, limit_g=0.0002)) == "drying.not-constant"
    assert refusal(lambda: drying.moisture(k=3)) == "rule.unstated"
    links = bc.BasisLinks(moisture_percent=percent)
    assert refusal(lambda: links.total_loss_percent("as received")) == "basis.needs"
    (regain,) = drying.step(grams(61.5)).moisture(k=3, limit_percent=0.05).findings
    assert regain.code == "drying.regain"


def test_ignition_by_weighing_and_the_whole_loss() -> None:
    weighing = bc.IgnitionWeighing(
        crucible_g=bc.value(20.0, 7e-5),
        with_dried_g=bc.value(21.0, 7e-5),
        with_ignited_g=bc.value(20.879, 7e-5),
        temperature_c=1000,
        repeatability_percent=0.05,
        regain_allowance_percent=0.02,
    )
    loss = weighing.loss_on_ignition(minutes=90, atmosphere="air", method="L-12")
    assert loss.loss_percent.value == pytest.approx(12.1, abs=ROUNDING)
    assert loss.loss_percent.u == pytest.approx(math.hypot(0.05, 0.02, 0.007 * math.hypot(0.879, 1, 0.121)), rel=1e-6)
    assert (loss.minutes, loss.atmosphere, loss.method, loss.temperature_c) == (90, "air", "L-12", 1000)
    assert weighing.budget().rows[0].name == "repeatability of the loss on ignition"
    links = bc.BasisLinks(moisture_percent=6.2, loss_on_ignition=loss)
    assert links.loss_on_ignition == loss
    assert round(links.total_loss_percent("as received").value, 2) == 17.55
    assert refusal(lambda: bc.BasisLinks(loss_on_ignition=loss, ignition_c=1000)) == "input.doubled"
    assert bc.LossOnIgnition(12.1, temperature_c=1000).atmosphere is None


def test_hydrates() -> None:
    gypsum = bc.Composition({"CaSO4·2H2O": 95.0}, basis="dried")
    (warning,) = gypsum.hydrate_warnings(dried_at_c=105, limit_c=45)
    assert warning.text.startswith("Gypsum dried at 105 C loses combined water (up to 15.7 %).")
    assert gypsum.hydrate_warnings(dried_at_c=40, limit_c=45) == []
