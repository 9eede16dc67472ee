"""The simulated beads are what they claim: forward and back agree, noise has its stated spread, seeds decide everything.
Then the library is held to them: its values and u against the reference evaluation, and 2000 beads against their truth."""

from __future__ import annotations

import dataclasses
import functools

import beadchem as bc
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


# The library against the simulated beads. Everything above is the generator alone.

AGREES = 1e-9  # two solutions of one linear system whose net rates are differences of counts
DRAWS = 20_000  # u of so many draws is good to 0.5 %
U_AGREES = 0.03  # that, and what first order leaves out where an input is known to 10 %
# Errors shared within a run make its beads one laboratory: many short runs hold more than few long ones.
RUNS_GIVEN, RUNS_FITTED, BEADS_OF_A_RUN = 500, 140, 4
NORMAL_95 = 1.959964  # quantile of the normal distribution for 95 %
WITHIN_3U = 0.99  # of all oxides; normal errors would be there in 99.73 %
COVERAGE = (0.93, 0.97)  # of all intervals of 95 %; 500 independent laboratories scatter by 0.01 about 0.95


class Laboratory:
    """What one run knows, in the words of the library. Agent and blanks come from one bottle: their u is a shared cause."""

    BLEND = {"Li2B4O7": 50.0, "LiBO2": 50.0}

    def __init__(self, run: sim.Run, *, fitted: bool = False) -> None:
        self.run = run
        t, known = run.table, run.known
        coefficients = bc.CoefficientSet(
            run.ore, f"F0 {run.f0}", "simulated", derivation="stated", fused_flux_ratio=run.f0, components=list(t.components),
            lines={line: (name, row) for line, name, row in zip(t.lines, t.components, t.a.tolist(), strict=True)},
            sensitivities=dict(zip(t.lines, t.k.tolist(), strict=True)), blend=self.BLEND,
            fused_flux_range=(0.9 * run.f0, 1.1 * run.f0),  # masses are 2 % off their target, losses 1 %
            ranges_percent={name: (100 * low, 100 * high) for name, (low, high, _) in t.bounds.items() if name in t.components},
        )
        self.lots = {
            lot: bc.FluxLot(
                lot, self.BLEND, programme="simulated", loss_percent=percent(loss),
                blanks_percent={oxide: percent(blank) for oxide, blank in known["flux_blank"][lot].items()},
            )
            for lot, loss in known["flux_loss"].items()
        }
        self.drift = bc.Drift(*(self.monitor(name) for name in ("high", "low")))
        dead_time = bc.DeadTime(value(known["dead_time_s"]))
        overlaps = [bc.Overlap(on, source, value(factor)) for (source, on), factor in known["overlap"].items()]
        if fitted:
            fit = bc.StandardFit(coefficients, overlaps=overlaps, dead_time=dead_time)
            standards = [self.standard(bead) for bead in run.standards]
            self.calibrated = fit.calibrate(standards, name=run.name, version="1", source="simulated standards")
            self.method = self.calibrated.method(run.name, "1", "simulated")
        else:
            given = {line: value(k) for line, k in known["sensitivity"].items()}
            calibration = bc.Calibration(run.name, "1", "simulated", basis="dried", sensitivities=given)
            self.method = bc.Method(
                run.name, "1", "simulated", coefficients=coefficients, calibration=calibration, overlaps=overlaps,
                dead_time=dead_time,
            )

    def monitor(self, name: str) -> bc.Monitor:
        read = self.run.known["monitors"][name]

        def at(time: str) -> dict[str, bc.Value]:
            return {line: value(rates[time]) for line, rates in read.items()}

        start, *times = next(iter(read.values()))
        return functools.reduce(lambda made, time: made.reading(time, at(time)), times, bc.Monitor(name, at(start)))

    def weighed(self, mass: sim.Known) -> bc.Value:
        return bc.value(mass.value, u=mass.u, shared={"balance": self.run.known["balance_g"].u})

    def agent(self, bead: sim.Bead) -> bc.Addition:
        """Blanks are simulated per gram of agent kept; the library takes them per gram as weighed."""
        kept = self.run.known["retained"]
        share = bc.value(kept.value, u=0, shared={"retained share": kept.u})
        dosed = bc.Addition.release_agent(self.run.release_agent, value(bead.seen["release_g"]), retained=share)
        for oxide, blank in self.run.known["release_blank"].items():
            parts = {"retained share": 100 * kept.u * blank.value, f"{oxide} of the agent": 100 * kept.value * blank.u}
            dosed = dosed.with_blank(oxide, bc.value(100 * kept.value * blank.value, u=0, shared=parts))
        return dosed

    def melt(self, bead: sim.Bead) -> bc.Melt:
        sample = bc.Sample(self.weighed(bead.seen["sample_g"]), basis="dried")
        flux = self.lots[bead.lot].weigh(self.weighed(bead.seen["flux_g"]))
        return bc.Charge(sample, flux, [self.agent(bead)]).fuse(loss_on_fusion_percent=percent(bead.seen["loss"]))

    def readings(self, bead: sim.Bead) -> list[bc.LineReading]:
        def counted(line: str, rates: dict[str, sim.Known]) -> bc.LineReading:
            sides = zip(self.run.weights[line], (rates["background 1"], rates["background 2"]), strict=True)
            backgrounds = [(weight, rate.value, float(sim.BACKGROUND_S)) for weight, rate in sides]
            return bc.LineReading.counted(line, rates["peak"].value, float(sim.PEAK_S), backgrounds=backgrounds)

        return [counted(line, rates) for line, rates in bead.seen["rates"].items()]

    def standard(self, bead: sim.Bead) -> bc.Standard:
        contents = bc.Composition({oxide: percent(w) for oxide, w in bead.seen["w"].items()}, basis="dried")
        return bc.Standard(self.melt(bead), contents, self.readings(bead), name=bead.name, material=self.run.ore)

    def assay(self, bead: sim.Bead) -> bc.Assay:
        return self.method.assay(self.melt(bead), self.readings(bead), bead=bead.name, at=bead.time, drift=self.drift)


def value(known: sim.Known) -> bc.Value:
    return bc.value(known.value, u=known.u)


def percent(known: sim.Known) -> bc.Value:
    return bc.value(100 * known.value, u=100 * known.u)


@pytest.mark.parametrize(("ore", "f0", "seed"), [("iron_ore", 5, 11), ("cu_sulfide", 10, 12), ("bauxite", 10, 13)])
def test_values_and_u_are_those_of_the_reference(ore: str, f0: int, seed: int) -> None:
    """Long overlaps of iodine, lead on arsenic, bromine on aluminium. The agent is measured, so the reference scales its
    blanks by its reading and the library by its dose: here it has none."""
    run = sim.simulate_run(ore, f0, seed, beads=3, standards=0)
    run = dataclasses.replace(run, known={**run.known, "release_blank": {}})
    bead = run.beads[1]
    assay = Laboratory(run).assay(bead)
    assert assay.species == list(run.table.components[:-1])
    for oxide, expected in list(sim.monte_carlo(run, bead, DRAWS, measured_agent=True).items())[:-1]:
        assert assay.value(oxide, unit="g/g") == pytest.approx(expected.value, rel=AGREES)
        assert assay.u(oxide, unit="g/g") == pytest.approx(expected.u, rel=U_AGREES)


def scores(runs: int, fitted: bool) -> dict[str, np.ndarray]:
    """Found less true in units of the library's u, by oxide; one row for each run that has it."""
    found: dict[str, list[list[float]]] = {}
    for run in sim.simulate_day(runs=runs, beads=BEADS_OF_A_RUN, standards=int(sim.STANDARDS) if fitted else 0):
        laboratory = Laboratory(run, fitted=fitted)
        assays = [laboratory.assay(bead) for bead in run.beads]
        for oxide in run.beads[0].truth["w"]:
            pairs_of = zip(run.beads, assays, strict=True)
            z = [(a.value(oxide, unit="g/g") - b.truth["w"][oxide]) / a.u(oxide, unit="g/g") for b, a in pairs_of]
            found.setdefault(oxide, []).append(z)
    return {oxide: np.array(z) for oxide, z in found.items()}


@pytest.mark.parametrize(("runs", "fitted"), [(RUNS_GIVEN, False), (RUNS_FITTED, True)])
def test_two_thousand_simulated_beads_are_found_as_their_u_says(runs: int, fitted: bool) -> None:
    """Sensitivities given with their u; and in fewer runs fitted to 20 standards of lot 1, half of the beads of lot 2."""
    found = scores(runs, fitted)
    assert sum(z.size for z in found.values()) == 13 * runs * BEADS_OF_A_RUN
    print(f"\n{runs} runs of {BEADS_OF_A_RUN} beads, sensitivities {'fitted' if fitted else 'given'}")
    print("oxide     runs  within 3 u  in 95 %   mean z  mean z^2  largest")
    together = np.concatenate([z.ravel() for z in found.values()])
    for name, z in {**found, "all": together}.items():
        covered, far = np.mean(abs(z) < NORMAL_95), np.mean(abs(z) < 3)
        print(f"{name:8}{len(z):6}{far:12.4f}{covered:9.4f}{np.mean(z):9.3f}{np.mean(z**2):10.3f}{np.max(abs(z)):9.2f}")
    assert np.mean(abs(together) < 3) >= WITHIN_3U
    assert COVERAGE[0] < np.mean(abs(together) < NORMAL_95) < COVERAGE[1]
    for z in found.values():
        # at worst all beads of a run err alike: as many independent scores as runs
        assert abs(np.mean(z)) < SIGMAS / np.sqrt(len(z))
        assert abs(np.mean(z**2) - 1) < SIGMAS * np.sqrt(2 / len(z))
        assert abs(np.mean(abs(z) < NORMAL_95) - 0.95) < SIGMAS * np.sqrt(0.95 * 0.05 / len(z))


def test_standards_that_scatter_as_stated_are_not_accused() -> None:
    """What standards share (blanks, dead time, overlaps) bends the residuals of many together. Fixed seeds."""
    ratios, in_u, accused, fits = [], [], 0, 0
    for run in sim.simulate_day(runs=3 * len(KINDS), beads=1, standards=int(sim.STANDARDS)):
        calibrated = Laboratory(run, fitted=True).calibrated
        fits += len(calibrated.lines)
        accused += len({finding.quantity for finding in calibrated.findings if finding.code == "calibration.scatter"})
        for line in calibrated.lines:
            assert line.chi_squared is not None
            ratios.append(line.chi_squared / line.dof)
            in_u += [residual.in_u for residual in line.residuals if residual.in_u is not None]
    runs, dof = 3 * len(KINDS), int(sim.STANDARDS) - 1
    # one line of each run is independent of the others for certain
    assert abs(np.mean(ratios) - 1) < SIGMAS * np.sqrt(2 / dof / runs)
    assert abs(np.mean(np.square(in_u)) - 1) < SIGMAS * np.sqrt(2 / runs)
    assert accused < 0.01 * fits
