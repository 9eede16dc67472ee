"""The Python of the README runs as printed."""

import pathlib
import re

import beadchem as bc
import pytest

README = pathlib.Path(__file__).parents[2] / "README.md"


@pytest.mark.filterwarnings("ignore::beadchem.BeadchemNote")  # its table has no loss on ignition, so no total
def test_python_blocks_run() -> None:
    blocks = re.findall(r"```python\n(.*?)```", README.read_text(encoding="utf-8"), re.DOTALL)
    assert len(blocks) == 3
    names: dict[str, object] = {}
    for block in blocks:  # each goes on where the one before ends
        exec(compile(block, str(README), "exec"), names)
    melt, sample = names["melt"], names["sample"]
    assert isinstance(melt, bc.Melt) and isinstance(sample, bc.SampleResult)
    assert not [finding for finding in sample.findings if finding.severity in {"warning", "error"}]
    table = names["table"]
    assert isinstance(table, dict) and table["finding"].tolist() == [None, "mass.not-positive", None]
    found, tin = names["by_one_bead"], names["tin"]
    assert isinstance(found, bc.Assay) and isinstance(tin, bc.Setting)
    assert found.sample.value("CaO") == pytest.approx(30.2, abs=0.5)
    said = [(near.by, near.order) for near in names["beside"]]  # type: ignore[attr-defined]
    assert said == [("Ca Ka", 3)]
    assert [finding.code for finding in tin.not_thick(names["melted"], g_per_cm2=0.915)] == ["bead.not-thick"]  # type: ignore[arg-type]


def test_commands_stand_in_front() -> None:
    commands = re.findall(r"```sh\n(.*?)\n```", README.read_text(encoding="utf-8"), re.DOTALL)
    assert commands[0].endswith("-m beadchem demo --out report") and commands[1] == "bash .ci/test"
