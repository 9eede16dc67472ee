"""Dilution and a heavy absorber from Python: conversions and words; the numbers are checked in Rust."""

import beadchem as bc
import pytest

BEADS = [{"SiO2": 90.0, "Fe2O3": 10.0}, {"SiO2": 30.0, "Fe2O3": 60.0}, {"SiO2": 100.0}]
ROUNDING = 1e-12
# a bead that lacks an analyte is computed with a trace of it, 1e-7 g/g
TRACE = 1e-6


def theory(lanthanum: float = 0.0, components: tuple[str, ...] = ("SiO2", "Fe2O3")) -> bc.Theory:
    tube = bc.Source.tube("Rh", kv=50, beryllium_um=125, electrons_deg=90, take_off_deg=45)
    blend = {"Li2B4O7": 35 * (1 - lanthanum), "LiBO2": 65 * (1 - lanthanum)}
    return bc.Theory(
        bc.Instrument(tube, incidence_deg=63, take_off_deg=40),
        blend=blend | ({"La2O3": 100 * lanthanum} if lanthanum else {}),
        components=list(components),
        lines={"Si Ka": "SiO2", "Fe Ka": "Fe2O3"},
    )


def test_a_trade_off_by_hand() -> None:
    plain, heavy = theory(), theory(0.1)
    found = bc.trade_off([("1:5", plain, 5.0), ("1:20", plain, 20.0), ("1:5, La", heavy, 5.0)], BEADS)
    assert [(one.line, one.choice) for one in found] == [
        (line, choice) for choice in ("1:5", "1:20", "1:5, La") for line in ("Si Ka", "Fe Ka")
    ]
    first, dilute, lanthanum = (one for one in found if one.line == "Si Ka")
    # every bead has silicon: intensity over content, bead by bead
    def by_bead(ratio: float) -> list[float]:
        return [plain.intensities(bc.ReferenceBead(ratio, bead))["Si Ka"] / bead["SiO2"] for bead in BEADS]

    of = [by_bead(5.0), by_bead(20.0)]
    means = [sum(one) / 3 for one in of]
    spread = (sum((one - means[0]) ** 2 for one in of[0]) / 2) ** 0.5 / means[0]
    assert first.spread_percent == pytest.approx(100 * spread, rel=TRACE)
    assert first.largest_over_smallest == pytest.approx(max(of[0]) / min(of[0]), rel=TRACE)
    assert (first.intensity, first.background, first.detection_limit) == (1.0, 1.0, 1.0)
    assert dilute.intensity == pytest.approx(means[1] / means[0], rel=TRACE)
    assert dilute.detection_limit == pytest.approx(dilute.background**0.5 / dilute.intensity, rel=ROUNDING)
    assert dilute.spread_percent < lanthanum.spread_percent < first.spread_percent
    assert "Si Ka with 1:20: spread" in repr(dilute)


def test_what_is_refused() -> None:
    def code(choices: list[tuple[str, bc.Theory, float]], beads: list[dict[str, float]]) -> str:
        with pytest.raises(bc.BeadchemError) as refused:
            bc.trade_off(choices, beads)
        return str(refused.value.code)

    one = ("1:5", theory(), 5.0)
    assert code([], BEADS) == "shape.mismatch"
    assert code([one], BEADS[:1]) == "shape.mismatch"
    assert code([one], [*BEADS, {"CaO": 1.0}]) == "word.unknown"
    assert code([one, ("other", theory(0.0, ("Fe2O3", "SiO2")), 5.0)], BEADS) == "choices.differ"
