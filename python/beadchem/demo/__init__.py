"""The invented day at Fenwick Hollow: weighings and readings, taken through the library bead by bead.

Each bead goes from its weighings to the sample, its total is closed line by line, its mass is held against the prediction,
and the rules of the (invented) laboratory are applied. The findings are the library's own; nothing here knows what was
planted.
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
    dried: bc.SampleResult
    sample: bc.SampleResult
    closure: bc.Closure
    verdict: bc.TotalVerdict
    mass_check: bc.BeadMassCheck
    findings: list[bc.Finding]

    @property
    def budget(self) -> bc.Budget:
        """The budget of the analyte the client asks about first."""
        return self.sample.budget(self.budget_of)


@dataclass(frozen=True)
class Day:
    """Every bead of a day, what was found of two beads of one sample, and how many tests that took."""

    beads: list[Bead]
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


def load_day() -> dict[str, Any]:
    """The weighings and readings as stored."""
    text = files("beadchem.demo").joinpath("day.json").read_text(encoding="utf-8")
    day: dict[str, Any] = json.loads(text)
    return day


def _measured(pair: list[float]) -> bc.Value:
    return bc.value(pair[0], u=pair[1])


def _rules(stored: dict[str, Any]) -> bc.Rules:
    return bc.Rules(
        stored["name"],
        stored["version"],
        total_percent=tuple(stored["total_percent"]),
        bead_mass_k=stored["bead_mass_k"],
        agreement_k=stored["agreement_k"],
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

    def fuse(self, row: dict[str, Any], sample: dict[str, Any]) -> bc.Melt:
        agent = self.day["release_agent"]
        additions = [
            bc.Addition.release_agent(
                agent["species"],
                bc.Amount.tablets(1, _measured(agent["tablet_g"])),
                retained=_measured(agent["retained"]),
            ).late(agent["minutes_before_pouring"])
        ]
        if row["oxidant_mass_g"] > 0:
            additions.append(bc.Addition.oxidant("NaNO3", self.weighed(row["oxidant_mass_g"]), reduces_to="NO"))
        minerals = sample.get("minerals_percent")
        composition = None
        if minerals is not None:
            contents: dict[str, bc.Value] = {name: _measured(w) for name, w in minerals.items()}
            composition = bc.Composition(contents, basis="dried")
        charge = bc.Charge(
            bc.Sample(self.weighed(row["sample_mass_g"]), basis=row["basis"], composition=composition),
            self.lots[row["flux_lot"]].weigh(self.weighed(row["flux_mass_g"])),
            additions,
        )
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

    def order(self, sample: dict[str, Any]) -> bc.ClosureOrder:
        """What the total of a material counts."""
        loss = self.loss(sample)
        if loss is not None:
            ferrous = sample.get("ferrous_by_titration_percent")
            elsewhere = (
                [] if ferrous is None else [bc.External("FeO", _measured(ferrous), basis="dried", method="titration")]
            )
            return bc.ClosureOrder(loss_on_ignition=loss, externals=elsewhere)
        carbon = bc.External("CO2", _measured(sample["co2_by_combustion_percent"]), basis="dried", method="combustion")
        return bc.ClosureOrder(externals=[carbon])

    def bead(self, row: dict[str, Any]) -> Bead:
        sample = self.samples[row["sample"]]
        material = self.day["materials"][sample["material"]]
        melt = self.fuse(row, sample)
        in_glass: dict[str, float | bc.Value | bc.Below | Literal["absent", "unknown"] | None] = {
            species: bc.Below(float(read.removeprefix("<"))) if isinstance(read, str) else _measured(read)
            for species, read in row["in_glass_percent"].items()
        }
        loss = self.loss(sample)
        links = bc.BasisLinks(moisture_percent=_measured(material["moisture_percent"]), loss_on_ignition=loss)
        as_weighed = melt.undilute(bc.Composition(in_glass, basis="bead"))
        dried = as_weighed.on("dried", links, form=material["form"])
        closure = dried.closure(self.order(sample))
        verdict = self.rules.judge_total(closure)
        others = [lot for name, lot in self.lots.items() if name != row["flux_lot"]]
        mass_check = melt.check_bead_mass(
            self.weighed(row["bead_mass_g"]), k=self.k, other_lots=others, total=closure
        )
        findings = [*mass_check.findings, *closure.findings, *verdict.findings]
        self.tests += 2
        if loss is not None:
            findings += self.rules.check_loss(sample["material"], loss)
            ignited = dried.check_ignited_as_dried(loss, self.rules)
            findings += [] if ignited is None else [ignited]
            self.tests += 1 if closure.above_carbonate_ceiling_percent is not None else 0
        findings += self.identity(row, sample, dried)
        if "sulfur_by_combustion_percent" in sample:
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
            dried=dried,
            sample=as_weighed.on(material["basis"], links, form=material["form"]),
            closure=closure,
            verdict=verdict,
            mass_check=mass_check,
            findings=[finding for finding in findings if finding.code not in REMARKS],
        )

    def identity(self, row: dict[str, Any], sample: dict[str, Any], dried: bc.SampleResult) -> list[bc.Finding]:
        """Whose result is it? Samples of other materials are the only ones a composition can tell apart."""
        others = {
            name: self.expected[name]
            for name, other in self.samples.items()
            if other["material"] != sample["material"]
        }
        self.tests += 1
        finding = self.rules.check_identity(dried.composition, row["bead"], self.expected[row["sample"]], others)
        return [] if finding is None else [finding]


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
    return Day(beads, of_samples, bench.tests, bench.rules, bench.k, list(cautions.values()), list(notes.values()))
