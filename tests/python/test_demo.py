"""The demo day against the truth it was made from, which the library never reads."""

import csv
import json
import pathlib
import subprocess
import sys

from beadchem.demo import evaluate, load_day

TRUTH = json.loads((pathlib.Path(__file__).parents[1] / "data/demo_truth.json").read_text())

# The made readings are normal draws: 40 results within 4 u miss with a chance below 0.3 %.
MISS = 4.0
# Molar masses written out in the generator, g/mol.
ELEMENT_FROM_OXIDE = {"Zn": ("ZnO", 65.38 / 81.379), "S": ("SO3", 32.06 / 80.057), "Fe": ("Fe2O3", 111.69 / 159.687),
                      "Si": ("SiO2", 28.085 / 60.083), "Ca": ("CaO", 40.078 / 56.077), "Mg": ("MgO", 24.305 / 40.304),
                      "Al": ("Al2O3", 53.96308 / 101.96008)}


def test_every_result_agrees_with_the_planted_truth() -> None:
    day = load_day()
    beads = evaluate(day)
    assert len(beads) == 6
    for bead in beads:
        truth = TRUTH[bead.name]["dried_percent"]
        moisture = day["materials"][bead.material]["moisture_percent"][0] / 100
        basis = 1 - moisture if bead.sample.basis == "as received" else 1.0
        for species in bead.sample.species:
            oxide, share = ELEMENT_FROM_OXIDE.get(species, (species, 1.0))
            expected = truth[oxide] * share * basis
            assert abs(bead.sample.value(species) - expected) < MISS * bead.sample.u(species), (bead.name, species)
        assert abs(bead.mass_check.predicted_g - TRUTH[bead.name]["glass_mass_g"]) < MISS * bead.mass_check.u_g
        assert not bead.mass_check.findings
        assert not [f for f in bead.sample.findings if f.severity in {"warning", "error"}]


def test_command_prints_and_writes(tmp_path: pathlib.Path) -> None:
    run = subprocess.run(
        [sys.executable, "-m", "beadchem", "demo", "--out", str(tmp_path)], capture_output=True, text=True, check=True
    )
    assert "evaluation (b)" in run.stdout and "Budget of Fe2O3" in run.stdout and "not included" in run.stdout
    results = json.loads((tmp_path / "results.json").read_text())
    rows = list(csv.DictReader((tmp_path / "results.csv").open(newline="")))
    assert len(results) == 6 and len(rows) == sum(len(bead["w_percent"]) for bead in results)
    for row in rows:  # the same bits in both files
        (bead,) = [bead for bead in results if bead["bead"] == row["bead"]]
        assert float(row["w_percent"]) == bead["w_percent"][row["analyte"]]
    page = (tmp_path / "report.html").read_text()
    assert page.count("<table") == 18 and "http" not in page


def test_the_day_is_what_its_generator_makes(tmp_path: pathlib.Path) -> None:
    source = (pathlib.Path(__file__).parent / "make_demo_day.py").read_text()
    for folder in ["tests/python", "tests/data", "python/beadchem/demo"]:
        (tmp_path / folder).mkdir(parents=True)
    script = tmp_path / "tests/python/make_demo_day.py"
    script.write_text(source)
    subprocess.run([sys.executable, str(script)], check=True)
    assert json.loads((tmp_path / "python/beadchem/demo/day.json").read_text()) == load_day()
