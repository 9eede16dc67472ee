"""The invented day at Fenwick Hollow: weighings and readings, taken through the library bead by bead."""

from __future__ import annotations

import json
from dataclasses import dataclass
from importlib.resources import files
from typing import Any

import beadchem as bc

MASS_U_G = 0.0001
"""Repeatability of one weighing, g (invented balance)."""
BALANCE_U_G = 0.00005
"""What the calibration of that balance adds to every weighing alike, g."""


@dataclass(frozen=True)
class Bead:
    """One bead: what it is, the fused charge, the sample on the ordered basis, and its mass check."""

    name: str
    material: str
    what: str
    budget_of: str
    melt: bc.Melt
    sample: bc.SampleResult
    mass_check: bc.BeadMassCheck

    @property
    def budget(self) -> bc.Budget:
        """The budget of the analyte the client asks about first."""
        return self.sample.budget(self.budget_of)


def load_day() -> dict[str, Any]:
    """The weighings and readings as stored."""
    text = files("beadchem.demo").joinpath("day.json").read_text(encoding="utf-8")
    day: dict[str, Any] = json.loads(text)
    return day


def weighed(mass_g: float) -> bc.Value:
    """A weighing on the one balance of the room."""
    return bc.value(mass_g, u=MASS_U_G, shared={"balance": BALANCE_U_G})


def _measured(pair: list[float]) -> bc.Value:
    return bc.value(pair[0], u=pair[1])


def _fuse(charge: bc.Charge, material: dict[str, Any], weights: bc.Weights) -> bc.Melt:
    if "loss_on_fusion_percent" in material:
        return charge.fuse(loss_on_fusion_percent=_measured(material["loss_on_fusion_percent"]), weights=weights)
    fate = bc.Fate().split("S", _measured(material["sulfur_kept"]), "SO2")
    return charge.fuse(fate, weights=weights)


def evaluate(day: dict[str, Any]) -> list[Bead]:
    """Takes every bead of a day from its weighings to the ordered result."""
    weights = bc.Weights(day["weights"])
    lots = {
        lot["name"]: bc.FluxLot(
            lot["name"], lot["blend"], programme=lot["programme"], loss_percent=_measured(lot["loss_percent"])
        )
        for lot in day["lots"]
    }
    beads = []
    for row in day["beads"]:
        material = day["materials"][row["material"]]
        minerals = material.get("minerals_percent")
        composition = None
        if minerals is not None:
            composition = bc.Composition({name: _measured(w) for name, w in minerals.items()}, basis="dried")
        additions = [
            bc.Addition.release_agent(
                "LiBr", bc.Amount.tablets(1, bc.value(0.0300, u=0.0003)), retained=bc.value(0.5, u=0.1)
            ).late(3.0)
        ]
        if row["oxidant_mass_g"] > 0:
            additions.append(bc.Addition.oxidant("NaNO3", weighed(row["oxidant_mass_g"]), reduces_to="NO"))
        charge = bc.Charge(
            bc.Sample(weighed(row["sample_mass_g"]), basis="dried", composition=composition),
            lots[row["flux_lot"]].weigh(weighed(row["flux_mass_g"])),
            additions,
        )
        melt = _fuse(charge, material, weights)
        in_glass = {species: _measured(pair) for species, pair in row["in_glass_percent"].items()}
        as_weighed = melt.undilute(bc.Composition(in_glass, basis="bead"))
        links = bc.BasisLinks(moisture_percent=_measured(material["moisture_percent"]))
        beads.append(
            Bead(
                name=row["bead"],
                material=row["material"],
                what=material["what"],
                budget_of=material["budget"],
                melt=melt,
                sample=as_weighed.on(material["basis"], links, form=material["form"]),
                mass_check=melt.check_bead_mass(weighed(row["bead_mass_g"]), k=day["k"]),
            )
        )
    return beads
