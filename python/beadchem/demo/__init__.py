"""The invented day at Fenwick Hollow: weighings and counts, taken through the library bead by bead.

Each bead goes from its counts and weighings by the method to the sample, its total is closed line by line, its mass is held
against the prediction, and the rules of the (invented) laboratory are applied. The findings are the library's own; nothing
here knows what was planted.
"""

from __future__ import annotations

import json
from dataclasses import dataclass, field
from importlib.resources import files
from typing import Any, Literal

import beadchem as bc


@dataclass(frozen=True)
class Bead:
    """One bead: what it is, the fused charge, the sample, its total, its mass check, and what was found."""

    name: str
    sample_name: str
    material: str
    what: str
    budget_of: str
    melt: bc.Melt
    assay: bc.Assay
    dried: bc.Assay
    sample: bc.Assay
    closure: bc.Closure
    verdict: bc.TotalVerdict
    mass_check: bc.BeadMassCheck
    findings: list[bc.Finding]
    remarks: list[str]

    @property
    def budget(self) -> bc.Budget:
        """The budget of the analyte the client asks about first."""
        return self.sample.budget(self.budget_of)


@dataclass(frozen=True)
class Moved:
    """How far one line of the monitor has moved since the calibration, %, by each reading of the day; u of one of them."""

    line: str
    percent: dict[str, float]
    u_percent: float


@dataclass(frozen=True)
class Day:
    """Every bead of a day, the method and the monitor behind it, what was found of two beads of one sample, and how many
    tests that took."""

    beads: list[Bead]
    method: bc.Method
    calibrated: bc.Calibrated
    moved: list[Moved]
    drift_findings: list[bc.Finding]
    of_samples: dict[str, list[bc.Finding]]
    tests: int
    rules: bc.Rules
    k: float
    cautions: list[bc.Finding] = field(default_factory=list)
    notes: list[bc.Finding] = field(default_factory=list)

    @property
    def expected_chance_alarms(self) -> float:
        """How many of the day's tests at 4 u a normal error alone would set off: 6.3e-5 of each."""
        return self.tests * OUTSIDE_FOUR_U


OUTSIDE_FOUR_U = 6.334e-5
"""Share of a normal distribution beyond 4 standard deviations, both tails together."""
REMARKS = {"fate.assumed", "weights.interval", "uncertainty.unstated", "composition.remainder-large", "analyte.brought-by-addition"}
"""What is the same for every bead of this plan and stands once below the report."""


def _is_remark(finding: bc.Finding) -> bool:
    """Also that a total happens not to move with what is known of one line: more of it is less of another, and no mistake."""
    return finding.code in REMARKS or (finding.code == "closure.blind" and " Ka" in finding.quantity)


def load_day() -> dict[str, Any]:
    """The weighings and readings as stored."""
    text = files("beadchem.demo").joinpath("day.json").read_text(encoding="utf-8")
    day: dict[str, Any] = json.loads(text)
    return day


def _measured(pair: list[float]) -> bc.Value:
    return bc.value(pair[0], u=pair[1])


def _readings(counts: dict[str, list[float]], times_s: dict[str, list[float]]) -> list[bc.LineReading]:
    """Counted rates of peaks and backgrounds with their counting times."""
    readings = []
    for line, (peak, background) in counts.items():
        on_peak, beside = times_s[line]
        readings.append(bc.LineReading.counted(line, peak, on_peak, backgrounds=[(1.0, background, beside)]))
    return readings


def _fit(day: dict[str, Any]) -> bc.StandardFit:
    """The coefficients, overlaps and dead time with which the day's calibration is fitted."""
    return bc.StandardFit(
        [bc.CoefficientSet.from_json(json.dumps(document)) for document in day["coefficients"]],
        overlaps=[bc.Overlap(on, source, bc.value(factor, u=u)) for on, source, factor, u in day["method"]["overlaps"]],
        dead_time=bc.DeadTime(_measured(day["method"]["dead_time_s"])),
    )


def _methods(day: dict[str, Any], calibrated: bc.Calibrated) -> dict[str, bc.Method]:
    """The method of the day, and versions before it that held no overlap."""
    stored = day["method"]
    now = calibrated.method(stored["name"], stored["version"], stored["source"])
    older = {
        version: bc.Method(
            now.name, version, source, coefficients=now.coefficients, calibration=now.calibration, dead_time=now.dead_time
        )
        for version, source in day["older_methods"].items()
    }
    return {now.version: now, **older}


def _moved(drift: bc.Drift, times: list[str]) -> list[Moved]:
    lines = []
    for line in drift.monitors[0].lines:
        percent, u_percent = {}, 0.0
        for time in times:
            term = drift.terms(line, time)
            (now,) = term.now_cps
            at_calibration = term.correct(bc.exact(now))
            percent[time] = 100 * (now / at_calibration.value - 1)
            u_percent = 100 * (at_calibration.u or 0.0) / at_calibration.value
        lines.append(Moved(line, percent, u_percent))
    return lines


def _drift(stored: dict[str, Any]) -> bc.Drift:
    monitor = bc.Monitor(stored["name"], {line: _measured(cps) for line, cps in stored["calibration_cps"].items()})
    for time, lines in stored["readings"].items():
        monitor = monitor.reading(time, {line: _measured(cps) for line, cps in lines.items()})
    return bc.Drift(monitor)


def _rules(stored: dict[str, Any]) -> bc.Rules:
    return bc.Rules(
        stored["name"],
        stored["version"],
        total_percent=tuple(stored["total_percent"]),
        bead_mass_k=stored["bead_mass_k"],
        agreement_k=stored["agreement_k"],
        drift_percent=tuple(stored["drift_percent"]),
        repeatability_percent={species: tuple(limit) for species, limit in stored["repeatability_percent"].items()},
        expected_loss_percent={name: tuple(band) for name, band in stored["expected_loss_percent"].items()},
    )


class _Bench:
    """What the beads of one day have in common."""

    def __init__(self, day: dict[str, Any]) -> None:
        self.day = day
        self.weights = bc.Weights(day["weights"])
        self.rules = _rules(day["rules"])
        self.k: float = day["rules"]["bead_mass_k"]
        self.lots = {
            lot["name"]: bc.FluxLot(
                lot["name"], lot["blend"], programme=lot["programme"], loss_percent=_measured(lot["loss_percent"])
            )
            for lot in day["lots"]
        }
        self.samples = {sample["sample"]: sample for sample in day["samples"]}
        self.expected = {
            name: bc.Composition({s: _measured(w) for s, w in sample["expected_percent"].items()}, basis="dried")
            for name, sample in self.samples.items()
        }
        held = day["calibration"]
        standards = [self.standard(row) for row in held["standards"]]
        self.calibrated = _fit(day).calibrate(
            standards, name=held["name"], version=held["version"], source=held["source"]
        )
        self.methods = _methods(day, self.calibrated)
        self.drift = _drift(day["monitor"])
        self.tests = 0

    def weighed(self, mass_g: float) -> bc.Value:
        """A weighing on the one balance of the room: what its calibration adds is common to all."""
        balance = self.day["balance"]
        return bc.value(mass_g, u=balance["u_g"], shared={"balance": balance["shared_u_g"]})

    def loss(self, sample: dict[str, Any]) -> bc.LossOnIgnition | None:
        """The loss on ignition, whose error goes with it wherever it is used."""
        if "loss_on_ignition_percent" not in sample:
            return None
        value, u = sample["loss_on_ignition_percent"]
        shared = bc.value(value, u=0.0, shared={f"loss on ignition of {sample['sample']}": u})
        return bc.LossOnIgnition(shared, temperature_c=sample["ignition_c"], atmosphere="air")

    def tablets(self, count: int) -> bc.Addition:
        agent = self.day["release_agent"]
        dose = bc.Amount.tablets(count, _measured(agent["tablet_g"]))
        made = bc.Addition.release_agent(agent["species"], dose, retained=_measured(agent["retained"]))
        return made.late(agent["minutes_before_pouring"])

    def standard(self, row: dict[str, Any]) -> bc.Standard:
        """A synthetic bead of ignited reagents, which loses nothing."""
        flux = self.lots[self.day["calibration"]["flux_lot"]].weigh(self.weighed(row["flux_mass_g"]))
        tablets = [self.tablets(row["tablets"])] if row["tablets"] else []
        charge = bc.Charge(bc.Sample(self.weighed(row["sample_mass_g"]), basis="dried"), flux, tablets)
        melt = charge.fuse(loss_on_fusion_percent=bc.exact(0.0), weights=self.weights)
        contents: dict[str, bc.Value] = {species: _measured(content) for species, content in row["known_percent"].items()}
        readings = _readings(row["counts"], self.day["counting_s"])
        return bc.Standard(melt, bc.Composition(contents, basis="dried"), readings, name=row["standard"], material="synthetic")

    def fuse(self, row: dict[str, Any], sample: dict[str, Any]) -> bc.Melt:
        additions = [self.tablets(1)]
        if row["oxidant_mass_g"] > 0:
            additions.append(bc.Addition.oxidant("NaNO3", self.weighed(row["oxidant_mass_g"]), reduces_to="NO"))
        tried = row.get("loss_on_fusion_percent")
        minerals = None if tried is not None else sample.get("minerals_percent")
        composition = None
        if minerals is not None:
            contents: dict[str, bc.Value] = {name: _measured(w) for name, w in minerals.items()}
            composition = bc.Composition(contents, basis="dried")
        charge = bc.Charge(
            bc.Sample(self.weighed(row["sample_mass_g"]), basis=row["basis"], composition=composition),
            self.lots[row["flux_lot"]].weigh(self.weighed(row["flux_mass_g"])),
            additions,
        )
        if tried is not None:  # nothing but what a trial fusion lost
            return charge.fuse(loss_on_fusion_percent=_measured(tried), weights=self.weights)
        loss = self.loss(sample)
        if loss is None:  # roasting a sulfide says nothing of its fusion: the books do
            fate = bc.Fate().split("S", _measured(sample["sulfur_kept"]), "SO2")
            return charge.fuse(fate, weights=self.weights)
        if row["basis"] != "dried":  # ignited powder loses nothing more
            return charge.fuse(loss_on_fusion_percent=bc.exact(0.0), weights=self.weights)
        # no sulfur, no fluorine, and manganese ends as Mn3O4 in furnace and glass: one loss serves both
        known: dict[str, float | bc.Value | bc.Below | Literal["absent", "unknown"] | None] = {
            "S": "absent",
            "F": "absent",
            "Mn3O4": bc.value(0.4, u=0.4),
        }
        states = bc.Composition(known, basis="dried")
        manganese = bc.Fate().stays_as("Mn", "Mn3O4")
        furnace = bc.Ignition(sample["ignition_c"], fate=manganese)
        in_fusion = furnace.to_fusion(loss, states, manganese, weights=self.weights)
        return charge.fuse(loss_on_fusion_percent=in_fusion.loss_percent, weights=self.weights)

    def order(self, row: dict[str, Any], sample: dict[str, Any]) -> bc.ClosureOrder:
        """What the total of a bead counts beside its lines."""
        loss = self.loss(sample)
        elsewhere: list[bc.External] = []
        for species, limit in row.get("elsewhere_percent", {}).items():
            below = bc.Below(float(limit.removeprefix("<")))
            elsewhere.append(bc.External(species, below, basis="dried", method="emission spectrometry"))
        if loss is not None:
            if (ferrous := sample.get("ferrous_by_titration_percent")) is not None:
                elsewhere.append(bc.External("FeO", _measured(ferrous), basis="dried", method="titration"))
            return bc.ClosureOrder(loss_on_ignition=loss, externals=elsewhere)
        burnt = ["CO2"] if "S Ka" in row["counts"] else ["CO2", "S"]
        stored = {"CO2": "co2_by_combustion_percent", "S": "sulfur_by_combustion_percent"}
        for species in burnt:
            content = _measured(sample[stored[species]])
            elsewhere.append(bc.External(species, content, basis="dried", method="combustion"))
        return bc.ClosureOrder(externals=elsewhere)

    def bead(self, row: dict[str, Any]) -> Bead:
        sample = self.samples[row["sample"]]
        material = self.day["materials"][sample["material"]]
        melt = self.fuse(row, sample)
        loss = self.loss(sample)
        links = bc.BasisLinks(moisture_percent=_measured(material["moisture_percent"]), loss_on_ignition=loss)
        assay = self.methods[row["method"]].assay(
            melt,
            _readings(row["counts"], self.day["counting_s"]),
            bead=row["bead"],
            at=row["at"],
            drift=self.drift,
            of_class=material["class"],
        )
        form = material["form"]
        if isinstance(form, list):  # elements, where their line was measured
            form = [element for element in form if f"{element} Ka" in row["counts"]]
        dried = assay.on("dried", links, form=form)
        closure = dried.closure(self.order(row, sample))
        verdict = self.rules.judge_total(closure)
        others = [lot for name, lot in self.lots.items() if name != row["flux_lot"]]
        mass_check = melt.check_bead_mass(
            self.weighed(row["bead_mass_g"]), k=self.k, other_lots=others, total=closure
        )
        of_assay = [finding for finding in assay.findings if finding.severity == "warning"]
        findings = [*of_assay, *mass_check.findings, *closure.findings, *verdict.findings]
        self.tests += 2
        if loss is not None:
            findings += self.rules.check_loss(sample["material"], loss)
            ignited = dried.check_ignited_as_dried(loss, self.rules)
            findings += [] if ignited is None else [ignited]
            self.tests += 1 if closure.above_carbonate_ceiling_percent is not None else 0
        findings += self.identity(row, sample, dried)
        if "sulfur_by_combustion_percent" in sample and "S" in dried.species:
            combustion = _measured(sample["sulfur_by_combustion_percent"])
            found = bc.value(dried.value("S"), u=dried.u("S"))
            findings += self.rules.check_agreement("S", found, combustion, "combustion").findings
            self.tests += 1
        for species, assigned in sample.get("assigned_percent", {}).items():
            found = bc.value(dried.value(species), u=dried.u(species))
            findings += self.rules.check_reference(species, found, _measured(assigned)).findings
            self.tests += 1
        return Bead(
            name=row["bead"],
            sample_name=row["sample"],
            material=sample["material"],
            what=material["what"],
            budget_of=material["budget"],
            melt=melt,
            assay=assay,
            dried=dried,
            sample=assay.on(material["basis"], links, form=form),
            closure=closure,
            verdict=verdict,
            mass_check=mass_check,
            findings=[finding for finding in findings if not _is_remark(finding)],
            remarks=[
                melt.lot_change(self.lots[finding.quantity], evaluation="intensities").text
                for finding in mass_check.findings
                if finding.code == "flux.other-lot-fits"
            ],
        )

    def identity(self, row: dict[str, Any], sample: dict[str, Any], dried: bc.Assay) -> list[bc.Finding]:
        """Whose result is it? Samples of other materials are the only ones a composition can tell apart."""
        others = {
            name: self.expected[name]
            for name, other in self.samples.items()
            if other["material"] != sample["material"]
        }
        self.tests += 1
        finding = self.rules.check_identity(dried.composition, row["bead"], self.expected[row["sample"]], others)
        return [] if finding is None else [finding]


def evaluate_beads(day: dict[str, Any], names: list[str]) -> list[Bead]:
    """Some beads of a day from their weighings to the ordered result, on one calibration."""
    bench, rows = _Bench(day), {row["bead"]: row for row in day["beads"]}
    return [bench.bead(rows[name]) for name in names]


def evaluate(day: dict[str, Any]) -> Day:
    """Takes every bead of a day from its weighings to the ordered result, and says what was found."""
    bench = _Bench(day)
    beads = [bench.bead(row) for row in day["beads"]]
    leading = {"skarn": "Fe2O3", "marble": "CaO", "ore": "Zn"}
    of_samples: dict[str, list[bc.Finding]] = {}
    for name, sample in bench.samples.items():
        pair = [bead for bead in beads if bead.sample_name == name]
        species = leading[sample["material"]]
        first, second = (bead.dried for bead in pair)
        if species in first.species and species in second.species:
            values = [bc.value(result.value(species), u=result.u(species)) for result in (first, second)]
            of_samples[name] = bench.rules.check_duplicates(species, *values).findings
            bench.tests += 1
        else:
            of_samples[name] = []
    cautions: dict[str, bc.Finding] = {}
    notes: dict[str, bc.Finding] = {}
    for bead in beads:
        for finding in [*bead.melt.findings, *bead.sample.findings, *bead.closure.findings]:
            if finding.severity == "caution":
                cautions.setdefault(finding.text, finding)
            elif finding.severity == "note" and finding.code in REMARKS:
                notes.setdefault(finding.text, finding)
    return Day(
        beads=beads,
        method=bench.methods[day["method"]["version"]],
        calibrated=bench.calibrated,
        moved=_moved(bench.drift, list(day["monitor"]["readings"])),
        drift_findings=bench.drift.moved(bench.rules),
        of_samples=of_samples,
        tests=bench.tests,
        rules=bench.rules,
        k=bench.k,
        cautions=list(cautions.values()),
        notes=list(notes.values()),
    )
