"""The public surface: one list of names, kept true in both directions, and nothing heavy at import."""

import ast
import pathlib
import pickle
import subprocess
import sys

import beadchem as bc
import pytest
from beadchem import _core

WRITTEN_IN_PYTHON = {"BeadchemNote", "compare", "correct", "recorrect"}


def stub_names() -> set[str]:
    tree = ast.parse(pathlib.Path(_core.__file__).with_name("_core.pyi").read_text(encoding="utf-8"))
    names = {node.name for node in tree.body if isinstance(node, (ast.ClassDef, ast.FunctionDef))}
    names |= {n.target.id for n in tree.body if isinstance(n, ast.AnnAssign) and isinstance(n.target, ast.Name)}
    return {name for name in names if not name.startswith("_")} | {"__version__"}


def test_stub_native_module_and_package_export_the_same() -> None:
    native = {name for name in dir(_core) if not name.startswith("_")} | {"__version__"}
    assert stub_names() == native == set(bc.__all__) - WRITTEN_IN_PYTHON
    assert all(getattr(bc, name) is getattr(_core, name) for name in native)
    assert all(getattr(bc, name).__module__.startswith("beadchem.") for name in WRITTEN_IN_PYTHON)


@pytest.mark.parametrize("name", sorted(set(bc.__all__) - {"__version__", "BeadchemError"}))
def test_every_public_item_says_what_it_is(name: str) -> None:
    assert getattr(bc, name).__doc__


def test_import_loads_no_table_library() -> None:
    code = "import sys, beadchem; print([m for m in sys.modules if m.split('.')[0] in {'numpy','pandas','pyarrow','polars','duckdb','narwhals'}])"
    assert subprocess.run([sys.executable, "-c", code], capture_output=True, text=True, check=True).stdout == "[]\n"


def test_classes_are_frozen() -> None:
    with pytest.raises(AttributeError):
        bc.value(1.0).value = 2.0  # type: ignore[misc]


def test_codes_are_one_table() -> None:
    codes = bc.codes()
    assert codes["mass.not-positive"].number == 20
    assert len({code.number for code in codes.values()}) == len(codes)
    assert all(word == code.word and code.meaning.endswith(".") for word, code in codes.items())


def test_documents_round_trip() -> None:
    lot = bc.FluxLot("F-1", {"Li2B4O7": 66, "LiBO2": 34}, programme="1050 C, 18 min", loss_percent=bc.value(0.4, 0.03))
    again = bc.FluxLot.from_json(lot.to_json())
    assert again == lot and again.digest == lot.digest
    with pytest.raises(bc.BeadchemError) as refused:
        bc.FluxLot.from_json(lot.to_json().replace('"programme"', '"program"'))
    assert refused.value.code == "document.unknown-field"
    with pytest.raises(TypeError):
        pickle.dumps(lot)  # stored as documents, never as pickles
