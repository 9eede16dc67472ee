"""The simulated beads are what they claim: forward and back agree, noise has its stated spread, seeds decide everything."""

from __future__ import annotations

import numpy as np
import pytest
import simulated_beads as sim

KINDS = [(ore, f0) for f0 in sim.SAMPLE_G for ore in sim.ORES]
ROUNDING = 1e-12  # 14 x 14 solves with condition numbers below 100 at double precision
# Net rates are differences of counts: a trace rate of 1e2 under a peak of 1e5 keeps ten digits after dead time and overlap.
ROUNDING_OF_RATES = 1e-10
PRINTED = 2e-6  # coefficients are printed to six decimals, sensitivities and intensities to seven figures
SIGMAS = 4.5  # bound of a mean of n independent draws; fixed seeds, so a test passes always or never


def truth_of(run: sim.Run, bead: sim.Bead) -> np.ndarray:
    return np.array([*bead.truth["w"].values(), bead.truth["release"]])


def expect_standard_normal(z: np.ndarray) -> None:
    assert abs(np.mean(z)) < SIGMAS / np.sqrt(z.size)
    assert abs(np.mean(z**2) - 1) < SIGMAS * np.sqrt(2 / z.size)


def pairs(truth: object, known: object) -> list[tuple[float, sim.Known]]:
    if isinstance(known, dict):
        assert isinstance(truth, dict)
        return [pair for key in known for pair in pairs(truth[key], known[key])]
    assert isinstance(truth, float) and isinstance(known, sim.Known)
    return [(truth, known)]


@pytest.fixture(scope="module")
def day() -> list[sim.Run]:
    return list(sim.simulate_day(beads=4, standards=4))


@pytest.mark.parametrize(("ore", "f0"), KINDS)
def test_forward_gives_the_printed_intensities_of_the_centroid(ore: str, f0: int) -> None:
    """I_centroid, k_taylor and a_taylor of full_coefficients.csv belong together, in photons per s, sr and mA."""
    t = sim.table(ore, f0)
    centroid = {row["component"]: float(row["centroid"]) for row in sim.rows("class_centroids.csv") if row["class"] == ore}
    printed = {
        row["analyte"]: (float(row["k_taylor"]), float(row["I_centroid"]))
        for row in sim.rows("full_coefficients.csv") if row["class"] == ore and int(row["F0"]) == f0
    }
    k, expected = np.array([printed[name] for name in t.components]).T
    w = np.array([centroid[name] for name in t.components])
    release, w[-1] = w[-1], 0.0
    own = np.zeros_like(w)
    own[-1] = 1.0
    found = sim.intensities(w, f0, release, np.zeros_like(w), own, k, t.a, f0)
    assert np.max(np.abs(found / expected - 1)) < PRINTED


@pytest.mark.parametrize(("ore", "f0"), KINDS)
def test_forward_equation_is_inverted_by_a_linear_solve(ore: str, f0: int) -> None:
    run = sim.simulate_run(ore, f0, 5, beads=4, standards=2)
    t, truth = run.table, run.truth
    for bead in run.beads + run.standards:
        fused_flux, release = bead.truth["fused_flux"], bead.truth["release"]
        intensity = sim.on_lines(t, bead.truth["net_cps"])
        blank = fused_flux * sim.on_components(t, truth["flux_blank"][bead.lot])
        blank += release * sim.on_components(t, truth["release_blank"])
        k_i = sim.on_lines(t, truth["sensitivity"]) * intensity
        left = np.eye(13) - np.diag(k_i[:13]) @ t.a[:13, :13]
        right = k_i[:13] * (fused_flux / f0 + t.a[:13, 13] * release) - blank[:13]
        assert np.max(np.abs(np.linalg.solve(left, right) - truth_of(run, bead)[:13])) < ROUNDING
        assert fused_flux == pytest.approx(bead.truth["flux_g"] * (1 - truth["flux_loss"][bead.lot]) / bead.truth["sample_g"])


@pytest.mark.parametrize(("ore", "f0"), KINDS)
@pytest.mark.parametrize("measured_agent", [False, True])
def test_a_laboratory_without_errors_finds_the_truth(ore: str, f0: int, measured_agent: bool) -> None:
    run = sim.simulate_run(ore, f0, 6, beads=5, standards=2, noise=0.0, bend=0.0)
    for bead in run.beads + run.standards:
        found = np.array(list(sim.evaluate(run, bead, measured_agent).values()))
        assert np.max(np.abs(found / truth_of(run, bead) - 1)) < ROUNDING_OF_RATES


def test_evaluated_contents_scatter_as_their_stated_uncertainty() -> None:
    """One bead from each of many laboratories, so that shared errors are drawn anew for each."""
    scores = []
    for n in range(20 * len(KINDS)):
        ore, f0 = KINDS[n % len(KINDS)]
        run = sim.simulate_run(ore, f0, (7, n), beads=1, standards=0)
        (bead,) = run.beads
        found = sim.monte_carlo(run, bead, 400, seed=n)
        scores.append([(found[name].value - w) / found[name].u for name, w in bead.truth["w"].items()])
    z = np.array(scores)
    # oxides of one bead share errors, so the number of independent scores is taken as that of the beads
    assert abs(np.mean(z)) < SIGMAS / np.sqrt(len(z))
    assert abs(np.mean(z**2) - 1) < SIGMAS * np.sqrt(2 / len(z))
    expect_standard_normal(z[:, 0])


@pytest.mark.parametrize("ore", sim.ORES)
def test_members_stay_inside_their_class(ore: str) -> None:
    run = sim.simulate_run(ore, 5, 8, beads=60, standards=0)
    losses = []
    for bead in run.beads:
        contents = {**bead.truth["w"], run.release_agent: bead.truth["release"]}
        for name, content in contents.items():
            lower, upper, _ = run.table.bounds[name]
            assert lower <= content <= upper
        losses.append(bead.truth["loss"])
        assert bead.truth["loss"] == 1 - sum(bead.truth["w"].values())
    lower, upper, _ = run.table.bounds["LOI"]
    width = upper - lower  # printed LOI bounds are the extremes of another 400 draws
    assert lower - 0.1 * width < min(losses) and max(losses) < upper + 0.1 * width
    assert (min(losses) < 0) == (ore == "cu_sulfide")


def test_what_is_known_scatters_about_the_truth_as_stated(day: list[sim.Run]) -> None:
    groups: dict[str, list[float]] = {}
    for run in day:
        for key, known in run.known.items():
            groups.setdefault(key, []).extend((k.value - x) / k.u for x, k in pairs(run.truth[key], known))
        for bead in run.beads + run.standards:
            for key in ("sample_g", "flux_g"):
                own = bead.seen[key].value - run.truth["balance_g"] - bead.truth[key]
                groups.setdefault(key, []).append(own / bead.seen[key].u)
            for key in ("release_g", "loss", "w"):
                for x, k in pairs(bead.truth[key], bead.seen[key]) if key in bead.seen else []:
                    groups.setdefault(key, []).append((k.value - x) / k.u)
    assert set(groups) == {*day[0].known, "sample_g", "flux_g", "release_g", "loss", "w"}
    for scores in groups.values():
        expect_standard_normal(np.array(scores))


def test_counts_scatter_about_what_the_dead_time_lets_through(day: list[sim.Run]) -> None:
    scores = []
    for run in day:
        matrix = sim.overlap_matrix(run.table.lines, run.truth["overlap"])
        for bead in run.beads + run.standards:
            net = matrix @ sim.on_lines(run.table, bead.truth["net_cps"])
            for line, net_cps in zip(run.table.lines, net):
                (g1, g2), (first, second) = run.weights[line], bead.truth["background_cps"][line]
                assert g1 + g2 == 1
                under = g1 * first + g2 * second
                for place, cps in (("peak", net_cps + under), ("background 1", first), ("background 2", second)):
                    true = cps * bead.truth["drift"][line]
                    rate = bead.seen["rates"][line][place]
                    scores.append((rate.value - true / (1 + true * run.truth["dead_time_s"])) / rate.u)
    expect_standard_normal(np.array(scores))


def test_lots_drift_and_dead_time_are_large_enough_to_matter(day: list[sim.Run]) -> None:
    drifts, shares = [], []
    for run in day:
        assert run.truth["flux_loss"]["lot 2"] - run.truth["flux_loss"]["lot 1"] == pytest.approx(0.006)
        assert [bead.lot for bead in run.beads] == ["lot 1", "lot 1", "lot 2", "lot 2"]
        assert {bead.lot for bead in run.standards} == {"lot 1"}
        assert all(set(bead.truth["drift"].values()) == {1.0} for bead in run.standards)
        drifts += [abs(drift - 1) for bead in run.beads for drift in bead.truth["drift"].values()]
        shares += [cps * run.truth["dead_time_s"] for bead in run.beads for cps in bead.truth["net_cps"].values()]
    assert 0.01 < max(drifts) < 0.04
    assert 0.03 < max(shares) < 0.15


def test_straight_lines_between_monitor_readings_are_good_to_a_tenth_of_u() -> None:
    runs = list(sim.simulate_day(beads=1, standards=0))
    assert 0 < max(sim.interpolation_error(run) for run in runs) < 0.1
    assert all(len(run.drift_s) == 4 for run in runs)


def test_every_overlap_occurs_and_iron_ore_holds_the_long_chain(day: list[sim.Run]) -> None:
    assert {pair for run in day for pair in run.truth["overlap"]} == set(sim.OVERLAP)
    chain = [("I La", "Ti Ka"), ("Ti Ka", "V Ka"), ("V Ka", "Cr Ka"), ("Cr Ka", "Mn Ka")]
    assert all(set(run.truth["overlap"]) == set(chain) for run in day if run.ore == "iron_ore")


def test_seeds_decide_everything(day: list[sim.Run]) -> None:
    again = list(sim.simulate_day(beads=4, standards=4))
    for one, other in zip(day, again, strict=True):
        for part in ("name", "truth", "known", "weights", "beads", "standards"):
            assert getattr(one, part) == getattr(other, part)
    one, other = (sim.simulate_run("clay", 5, seed, beads=1, standards=0) for seed in (1, 2))
    assert one.beads != other.beads and one.truth != other.truth and one.known != other.known


def test_the_whole_work_is_2000_beads_with_their_factors_printed() -> None:
    text = list(sim.printed())
    assert "beads of the day: 2000" in text
    for name, held in vars(sim).items():
        for factor in held.values() if isinstance(held, dict) else [held]:
            if isinstance(factor, sim.Factor):
                assert any(line.startswith(name) and line.endswith(f"{factor.unit:<18}{factor.what}") for line in text)
