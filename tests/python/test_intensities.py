"""Counted lines, drift and detection limits from Python: conversions and words; the numbers are checked in Rust."""

import math

import beadchem as bc
import pytest

ROUNDING = 1e-12
"""A handful of operations, and conversions from and to per cent."""


def refusal(call: object) -> str:
    with pytest.raises(bc.BeadchemError) as refused:
        call()  # type: ignore[operator]
    return str(refused.value.code)


def test_a_counted_line() -> None:
    dead = bc.DeadTime(bc.value(2.5e-7, 1e-8), detector="flow counter")
    assert dead.input_name == "dead time of flow counter" and dead.seconds.value == 2.5e-7
    reading = bc.LineReading.counted("Cr Ka", 135.0, 60.0, backgrounds=[(1.0, 85.0, 100.0)])
    assert reading.line == "Cr Ka"
    assert reading.intensity.value == pytest.approx(50.0, rel=ROUNDING)
    assert reading.intensity.u == pytest.approx(math.sqrt(135 / 60 + 85 / 100), rel=ROUNDING)
    freed = bc.LineReading.counted("Cr Ka", 135.0, 60.0, backgrounds=[(1.0, 85.0, 100.0)], dead_time=dead)
    assert freed != reading and freed.intensity.value > reading.intensity.value
    assert {row.name for row in freed.budget().rows} == {
        "Cr Ka peak rate",
        "Cr Ka background 1 rate",
        "dead time of flow counter",
    }
    assert "Net intensity of Cr Ka" in repr(freed.budget()) and "cps" in repr(freed.budget())


def test_below_zero_is_kept_and_said() -> None:
    reading = bc.LineReading.net("Cr Ka", bc.value(-3.1, 2.6))
    assert reading.intensity == bc.value(-3.1, 2.6)
    finding = reading.check()
    assert finding is not None and finding.code == "intensity.negative" and "within 1.2 u of zero" in finding.text
    assert bc.LineReading.net("Cr Ka", 3.1).check() is None
    blank = reading.check_blank(bc.LineReading.net("Cr Ka", 4.0))
    assert blank is not None and blank.code == "intensity.blank-exceeds"


def test_detection_limits_are_named() -> None:
    reading = bc.LineReading.counted("Cr Ka", 90.0, 100.0, backgrounds=[(1.0, 85.0, 100.0)])

    def limit(formula: str) -> float:
        return reading.detection_limit_percent(formula, cps_per_percent=120.0)

    # 3/120 sqrt(85/100), by hand
    assert limit("3-sigma background") == pytest.approx(3 / 120 * math.sqrt(0.85), rel=ROUNDING)
    assert limit("Currie decision") < limit("Currie detection") < limit("Currie quantification")
    assert refusal(lambda: limit("LLD")) == "word.unknown"
    assert refusal(lambda: bc.LineReading.net("Cr Ka", 5.0).detection_limit_percent("Currie decision", cps_per_percent=1.0)) == (
        "background.unstated"
    )


def monitor(name: str, reference: float, now: float) -> bc.Monitor:
    return bc.Monitor(name, {"Fe Ka": bc.value(reference, 0.5)}).reading("2026-03-14T08:00", {"Fe Ka": bc.value(now, 0.5)})


def test_one_monitor() -> None:
    first = monitor("M-1", 1000.0, 990.0).reading("2026-03-14T12:00", {"Fe Ka": 970.0})
    assert (first.name, first.lines) == ("M-1", ["Fe Ka"])
    drift = bc.Drift(first)
    term = drift.terms("Fe Ka", "2026-03-14T10:00")
    assert term.now_cps == [980.0] and term.findings == []
    assert set(term.readings) == {
        "Fe Ka of monitor M-1 at calibration",
        "Fe Ka of monitor M-1 at 2026-03-14T08:00",
        "Fe Ka of monitor M-1 at 2026-03-14T12:00",
    }
    assert term.correct(490.0).value == pytest.approx(500.0, rel=ROUNDING)
    assert [finding.code for finding in drift.terms("Fe Ka", "2026-03-14T17:00").findings] == ["drift.last-held"]
    assert refusal(lambda: drift.terms("Fe Ka", "2026-03-14T07:00")) == "drift.before-first"
    assert refusal(lambda: drift.terms("Si Ka", "2026-03-14T09:00")) == "line.unknown"
    assert refusal(lambda: bc.Monitor("M-1", {"FeKa": 1.0})) == "line.name"


def test_two_monitors() -> None:
    drift = bc.Drift(monitor("M-hi", 1000.0, 910.0), monitor("M-lo", 100.0, 100.0))
    term = drift.terms("Fe Ka", "2026-03-14T08:00")
    assert term.correct(505.0).value == pytest.approx(550.0, rel=ROUNDING)  # a = -11.1.., b = 10/9, by hand
    assert [held.name for held in drift.monitors] == ["M-hi", "M-lo"]
    assert bc.Drift.from_json(drift.to_json()) == drift and len(drift.digest) == 64
    alike = bc.Drift(monitor("M-hi", 1000.0, 910.0), monitor("M-lo", 1000.5, 911.0))
    assert refusal(lambda: alike.terms("Fe Ka", "2026-03-14T08:00")) == "drift.monitors-alike"


def test_limits_of_drift_in_per_cent() -> None:
    rules = bc.Rules("house", "7", drift_percent=(0.5, 10.0))
    assert bc.Rules.from_json(rules.to_json()) == rules
    bc.Drift(monitor("M-1", 1000.0, 910.0)).check(rules)
    far = bc.Drift(monitor("M-1", 1000.0, 710.0))
    (finding,) = far.moved(rules)
    assert finding.severity == "error" and finding.value == pytest.approx(-0.29, rel=ROUNDING)
    with pytest.raises(bc.BeadchemError, match="moved by -29 % in Fe Ka since calibration") as refused:
        far.check(rules)
    assert refused.value.code == "drift.beyond-limit"
    assert refusal(lambda: far.check(bc.Rules("house", "7"))) == "rule.unstated"
    assert refusal(lambda: bc.Rules("house", "7", drift_percent=(20.0, 10.0))) == "number.out-of-range"


def test_what_an_addition_brings_absorbs_by_its_formula_and_as_a_blank() -> None:
    """Lithium is no component, so a gram of CaO in the melt is one whatever it came with."""
    lot = bc.FluxLot("F-118", {"Li2B4O7": 50, "LiBO2": 50}, programme="1050 C, 18 min", loss_percent=0.38)
    net = {"Ca Ka": 13_500.0, "Mg Ka": 1_710.0, "Si Ka": 400.0}

    def found(addition: bc.Addition) -> list[float]:
        charge = bc.Charge(bc.Sample(0.8, basis="dried"), lot.weigh(8.0), [addition])
        assay = bc.Method.template().assay(charge.fuse(loss_on_fusion_percent=46.3), net, bead="B-1")
        return [assay.value(species) for species in ("CaO", "MgO", "SiO2")]

    by_formula = found(bc.Addition.reagent("CaO", 0.02))
    as_blank = found(bc.Addition.reagent("Li2CO3", 0.4).with_blank("CaO", 5.0))
    assert as_blank == pytest.approx(by_formula, rel=ROUNDING)
