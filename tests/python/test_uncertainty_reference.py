"""Uncertainties against GTC, a general library of the Measurement Standards Laboratory of New Zealand for the GUM.

Every formula is written out here again, by hand; nothing but inputs goes from one library to the other.
"""

import itertools
import math

import beadchem as bc
import pytest
from GTC import component, dof, get_covariance, type_a, type_b, uncertainty, ureal, value

# Two libraries add a dozen terms in different orders.
ROUNDING = 1e-11
# GTC searches the angle of a line until it stands still to 1.5e-8; a slope of two and its intercept follow tenfold.
SEARCHED = 1e-6


def close(found: float, expected: float, *, within: float = ROUNDING, scale: float = 0.0) -> bool:
    return math.isclose(found, expected, rel_tol=within, abs_tol=within * scale)


BALANCE = 0.00015  # g, of the calibration of one balance
READINGS = {"SiO2": (6.21, 0.011), "Fe2O3": (1.34, 0.004), "CaO": (0.522, 0.002)}
LOSS = (2.13, 0.04)  # % of the sample as weighed
FLUX_LOSS = (0.412, 0.03)  # % of the flux as weighed
SAMPLE, FLUX = (0.8012, 0.00021), (8.0034, 0.00033)  # g


def fused() -> bc.SampleResult:
    """A dried powder and one flux lot, fused; both masses from one balance."""
    blend, loss, shared = {"Li2B4O7": 66, "LiBO2": 34}, bc.value(*FLUX_LOSS), {"balance": BALANCE}
    flux = bc.FluxLot("F-7", blend, programme="1050 C, 18 min", loss_percent=loss).weigh(bc.value(*FLUX, shared=shared))
    sample = bc.Sample(bc.value(*SAMPLE, shared=shared), basis="dried")
    melt = bc.Charge(sample, flux).fuse(loss_on_fusion_percent=bc.value(*LOSS))
    glass = {species: bc.value(*reading) for species, reading in READINGS.items()}
    return melt.undilute(bc.Composition(glass, basis="bead"))


def test_a_bead_is_propagated_as_by_gtc() -> None:
    """Content of the sample: reading times mass of the glass over mass of the sample, with all covariances."""
    balance = ureal(0, BALANCE, label="balance")
    sample, flux = (ureal(*mass) for mass in (SAMPLE, FLUX))
    loss, flux_loss = (ureal(*percent) for percent in (LOSS, FLUX_LOSS))
    on_pan, flux_on_pan = sample + balance, flux + balance
    glass = on_pan * (1 - loss / 100) + flux_on_pan * (1 - flux_loss / 100)
    readings = {species: ureal(*reading) for species, reading in READINGS.items()}
    reference = {species: reading * glass / on_pan for species, reading in readings.items()}
    result = fused()
    for species, content in reference.items():
        assert close(result.value(species), value(content)) and close(result.u(species), uncertainty(content))
        found = {row.name: abs(row.contribution) * 100 for row in result.budget(species).rows}
        parts = {
            "sample mass": sample, "flux mass": flux, "balance": balance, "loss on fusion": loss,
            "flux loss of lot F-7": flux_loss, f"{species} in the glass": readings[species],
        }
        assert found.keys() == parts.keys()
        for name, part in parts.items():
            assert close(found[name], component(content, part)), (species, name)
    for first, second in itertools.product(reference, repeat=2):
        covariance = get_covariance(reference[first], reference[second])
        assert close(result.covariance(first, second) * 100**2, covariance), (first, second)
    assert close(result.sum()[1], uncertainty(sum(reference.values())))


def test_a_loss_on_ignition_keeps_its_degrees_of_freedom() -> None:
    """Three weighings with few degrees of freedom each, on one balance: Welch-Satterthwaite over their own parts."""
    weighings = {
        "crucible_g": (21.40112, 0.00011, 5),
        "with_dried_g": (22.91374, 0.00014, 7),
        "with_ignited_g": (22.78125, 0.0002, 4),
    }
    shared = {"balance": 0.00008}
    given = {name: bc.value(mass, u, dof=degrees, shared=shared) for name, (mass, u, degrees) in weighings.items()}
    found = bc.IgnitionWeighing(**given, temperature_c=1000).loss_on_ignition().loss_percent
    own = {name: ureal(mass, u, degrees) for name, (mass, u, degrees) in weighings.items()}

    def loss(crucible, dried, ignited):  # type: ignore[no-untyped-def]
        return 100 * (dried - ignited) / (dried - crucible)

    alone = loss(*own.values())
    assert close(found.value, value(alone)) and close(found.dof, dof(alone))
    balance = ureal(0, 0.00008)
    together = loss(*(mass + balance for mass in own.values()))
    # what is wrong with all three masses alike cancels
    assert found.u is not None and close(found.u, uncertainty(together)) and close(found.u, uncertainty(alone))
    assert close(found.shared.get("balance", 0.0), 0.0, scale=found.u)


# K. Pearson, Phil. Mag. 2 (1901) 559, with the weights of D. York, Can. J. Phys. 44 (1966) 1079.
PEARSON_X = [0.0, 0.9, 1.8, 2.6, 3.3, 4.4, 5.2, 6.1, 6.5, 7.4]
PEARSON_Y = [5.9, 5.4, 4.4, 4.6, 3.5, 3.7, 2.8, 2.8, 2.4, 1.5]
YORK_X = [1000.0, 1000.0, 500.0, 800.0, 200.0, 80.0, 60.0, 20.0, 1.8, 1.0]
YORK_Y = [1.0, 1.8, 4.0, 8.0, 20.0, 20.0, 70.0, 70.0, 100.0, 500.0]
# A calibration as it is done: contents in per cent with the u of the standards, hundreds of counts per second.
CONTENTS = [0.52, 1.98, 5.11, 9.87, 15.2, 22.4, 30.1]
COUNTS = [1.31, 4.02, 9.91, 18.97, 28.91, 42.58, 57.09]


@pytest.mark.parametrize(("x", "y", "u_x", "u_y"), [
    (PEARSON_X, PEARSON_Y, [w**-0.5 for w in YORK_X], [w**-0.5 for w in YORK_Y]),
    (CONTENTS, COUNTS, [0.004 * x + 0.002 for x in CONTENTS], [0.003 * y + 0.01 for y in COUNTS]),
])
def test_a_line_with_uncertainty_on_both_axes(
    x: list[float], y: list[float], u_x: list[float], u_y: list[float]
) -> None:
    line = bc.fit_line(x, y, u_x=u_x, u_y=u_y)
    reference = type_b.line_fit_wtls([ureal(*p) for p in zip(x, u_x)], [ureal(*p) for p in zip(y, u_y)])
    intercept, slope = reference.a_b
    for found, expected in [
        (line.intercept, value(intercept)), (line.slope, value(slope)), (line.chi_squared, reference.ssr),
        (line.u_intercept, uncertainty(intercept)), (line.u_slope, uncertainty(slope)),
        (line.covariance, get_covariance(intercept, slope)),
    ]:
        assert close(found, expected, within=SEARCHED), (found, expected)
    assert line.dof == len(x) - 2 and line.chi_squared <= reference.ssr * (1 + ROUNDING)
    at, u = line.predict(10.0)
    assert close(at, value(intercept + 10 * slope), within=SEARCHED)
    assert close(u, uncertainty(intercept + 10 * slope), within=SEARCHED)


def test_thermometer_of_the_gum() -> None:
    """JCGM 100:2008, H.3: an ordinary line; its scatter, taken as the u of every reading, gives the same line and u."""
    t = [21.521, 22.012, 22.512, 23.003, 23.507, 23.999, 24.513, 25.002, 25.503, 26.010, 26.511]
    b = [-0.171, -0.169, -0.166, -0.159, -0.164, -0.165, -0.156, -0.157, -0.159, -0.161, -0.160]
    above = [t - 20 for t in t]
    reference = type_a.line_fit(above, b)
    intercept, slope = reference.a_b
    scatter = math.sqrt(reference.ssr / 9)
    line = bc.fit_line(above, b, u_x=[0.0] * 11, u_y=[scatter] * 11)
    assert close(line.intercept, value(intercept)) and close(line.slope, value(slope))
    assert close(line.u_intercept, uncertainty(intercept)) and close(line.u_slope, uncertainty(slope))
    assert close(line.covariance, get_covariance(intercept, slope)) and close(line.chi_squared, line.dof)
    at_30, u_30 = line.predict(10.0)
    # as printed there: -0.1494 with 0.0041
    assert (round(at_30, 4), round(u_30, 4)) == (-0.1494, 0.0041)
    assert close(u_30, uncertainty(intercept + 10 * slope))


def test_lists_of_a_line_belong_together() -> None:
    with pytest.raises(bc.BeadchemError) as refused:
        bc.fit_line([0.0, 1.0, 2.0], [0.0, 1.0, 2.0], u_x=[0.0, 0.0], u_y=[0.1] * 3)
    assert refused.value.code == "shape.mismatch" and "u_x" in str(refused.value)
    with pytest.raises(bc.BeadchemError) as refused:
        bc.fit_line([0.0, 1.0, 2.0], [0.0, 1.0, 2.0], u_x=[0.0] * 3, u_y=[0.0] * 3)
    assert refused.value.code == "number.out-of-range"
