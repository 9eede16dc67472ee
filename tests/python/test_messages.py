"""Refusals in the words an analyst needs: number, bound, likely cause, repair, stable code."""

import math

import beadchem as bc
import pytest


def lot() -> bc.FluxLot:
    return bc.FluxLot("F-1", {"Li2B4O7": 1}, programme="1050 C, 18 min", loss_percent=0.4)


def melt() -> bc.Melt:
    return bc.Charge(bc.Sample(0.8, basis="dried"), lot().weigh(8.0)).fuse(loss_on_fusion_percent=1.0)


CASES = [
    (
        lambda: bc.Sample(-0.0012, basis="dried"),
        "mass.not-positive",
        "Sample mass is -0.0012 g. A mass must be above zero; was the tare taken after loading?",
    ),
    (
        lambda: lot().weigh(math.nan),
        "mass.missing",
        "Flux mass is missing. Give a number in grams or leave the bead out.",
    ),
    (lambda: lot().weigh(None), "mass.missing", "Flux mass is missing."),  # type: ignore[arg-type]
    (
        lambda: bc.Sample(500.3, basis="dried"),
        "mass.out-of-range",
        "Sample mass 500.3 g is outside 0.01-20 g. Did you mean 0.5003 g (500.3 mg)?",
    ),
    (
        lambda: bc.undilute(8.1, melt().flux_ratio),  # type: ignore[arg-type]
        "ratio.kind",
        "This needs a dilution factor (glass per sample). You gave a flux ratio; use melt.dilution.",
    ),
    (
        lambda: bc.Composition({"Ni": 1.1, "NiO": 1.4}, basis="dried"),
        "species.element-twice",
        "Ni and NiO refer to the same nickel; keep one.",
    ),
    (
        lambda: bc.Formula("CuS04"),
        "formula.syntax",
        "`CuS04`: position 4 is the digit 0 where oxygen O was expected.",
    ),
    (lambda: bc.Formula("Fe2O4x"), "formula.syntax", "`Fe2O4x`: position 6 is `x`"),
    (lambda: bc.Composition({"SiO2": 12.3}, basis=""), "basis.missing", "as received, air-equilibrated, dried"),
    (lambda: bc.Addition.oxidant("NaNO3", 1.2, reduces_to="?"), "word.unknown", "N2, NO, nitrite, NO2"),
    (lambda: bc.Addition.reagent("Na2O2", 0.5), "addition.refused", "peroxide"),
    (
        lambda: bc.BasisLinks(moisture_percent=105),
        "number.out-of-range",
        "Moisture 105 %: nothing would be left. Were per cent and fractions mixed up? Allowed is 0 % to less than 100 %.",
    ),
    (
        lambda: bc.BasisLinks(moisture_percent=bc.value(-0.4, 0.05)),
        "number.out-of-range",
        "Moisture -0.4 % (u 0.05): the sample gained mass while drying. Oxidation, or a wrong pan mass?",
    ),
    (
        lambda: bc.LossOnIgnition(127, temperature_c=1000),
        "number.out-of-range",
        "Loss on ignition 127 %: more than the whole sample would be lost.",
    ),
    (lambda: bc.Amount.tablets(-1, 0.03), "number.out-of-range", "Number of tablets"),
    (
        lambda: bc.Addition.release_agent("LiBr", 30.0, retained=0.5),
        "amount.unit-missing",
        "Release agent 30: mg, microlitre of solution, or % of flux?",
    ),
    (lambda: bc.Below(-1.0), "number.out-of-range", "Detection limit"),
    (lambda: bc.undilute(math.nan, melt().dilution), "number.not-finite", "Content of the glass is missing"),
    (
        lambda: bc.Charge(bc.Sample(0.8, basis="dried"), lot().weigh(8.0)).fuse(loss_on_fusion_percent=143),
        "number.out-of-range",
        "Loss on fusion 143 %: more than the whole sample would be lost.",
    ),
    (lambda: bc.BasisLinks(loss_on_ignition_percent=1.0), "basis.needs", "temperature"),
]


@pytest.mark.parametrize(("call", "code", "words"), CASES)
def test_refusal(call, code, words) -> None:  # type: ignore[no-untyped-def]
    with pytest.raises(bc.BeadchemError) as refused:
        call()
    assert refused.value.code == code
    assert words in str(refused.value)
    assert isinstance(refused.value, ValueError) and refused.value.hint


def test_readings_of_a_formula_that_were_assumed() -> None:
    (dot,) = bc.Formula("Na2CO3.10H2O").findings
    assert dot.text == "Read as hydrate Na2CO3 with 10 H2O. Write the middle dot to be sure."
    (case,) = bc.Formula("CO").findings
    assert case.text == "`CO` was read as carbon monoxide. For cobalt write Co."
    (small,) = bc.Formula("no2").findings
    assert "NO2" in small.text


def test_a_wrong_type_is_a_type_error_in_plain_words() -> None:
    with pytest.raises(TypeError, match="A number or beadchem.value"):
        lot().weigh("8.0021")  # type: ignore[arg-type]
