"""A correction and tables of beads for the tests of streams and files.

`correction()` is a small stand-in with the interface of the real one: its numbers are a fixed function of the columns of a
row. Tests take it by the fixture of that name, so that the real one can take its place here alone.
"""

from __future__ import annotations

import hashlib
import json
from dataclasses import dataclass
from typing import Any

import numpy as np
import pyarrow as pa

NUMBERS = ("sample_g", "flux_g", "Fe_Ka_cps", "Si_Ka_cps", "loss_on_fusion_percent")
RESULTS = ("Fe2O3_percent", "SiO2_percent", "fused_flux_ratio")


@dataclass(frozen=True)
class Field:
    name: str
    quantity: str
    unit: str


@dataclass(frozen=True)
class Corrected:
    table: Any
    findings: Any
    notes: tuple[Any, ...] = ()


@dataclass(frozen=True)
class StandIn:
    """Sensitivities for two lines, over a matrix term; refuses masses that are not above zero and doubled beads."""

    iron: float = 3.25e-4
    silicon: float = 7.5e-4

    def to_json(self) -> str:
        return json.dumps({"kind": "stand-in", "iron": self.iron, "silicon": self.silicon})

    @staticmethod
    def from_json(text: str) -> StandIn:
        body = json.loads(text)
        return StandIn(body["iron"], body["silicon"])

    @property
    def digest(self) -> str:
        return hashlib.sha256(self.to_json().encode()).hexdigest()

    @property
    def fields(self) -> list[str]:
        return [field.name for field in self.declared]

    @property
    def declared(self) -> list[Field]:
        return [Field("bead", "bead id", ""), Field("flux_lot", "flux lot", ""), *(Field(name, name, "g") for name in NUMBERS)]

    def correct_stream(
        self,
        source: Any,
        *,
        uncertainty: str = "none",
        threads: int = 1,
        first_row: int = 0,
        doubled: set[str] | None = None,
    ) -> Corrected:
        table = pa.table(source) if hasattr(source, "__arrow_c_stream__") else pa.Table.from_batches([pa.record_batch(source)])
        ids = table.column("bead").to_pylist() if "bead" in table.column_names else [None] * table.num_rows
        refused: list[list[tuple[str, str, str, Any]]] = [[] for _ in ids]
        numbers = {name: _numbers(table.column(name), name, first_row, refused) for name in NUMBERS}
        twice = {bead for bead in ids if bead is not None and ids.count(bead) > 1} if doubled is None else doubled
        _judge(numbers, ids, twice, first_row, refused)
        good = np.array([not why for why in refused], bool)
        columns: dict[str, Any] = {}
        for name, values in zip(RESULTS, self._values(numbers), strict=True):
            columns[name] = pa.array(values, pa.float64(), mask=~good)
            if uncertainty != "none":
                columns[f"{name}_u"] = pa.array(np.abs(values) * 1e-3, pa.float64(), mask=~good)
        if uncertainty == "covariance":
            columns["covariance"] = pa.array([[0.0] * 6] * table.num_rows, pa.list_(pa.float64(), 6))
        worst = pa.array([CODES.index(why[0][0]) if why else None for why in refused], pa.int16())
        columns["finding"] = pa.DictionaryArray.from_arrays(worst, pa.array(CODES))
        columns["reason"] = pa.array([why[0][2] if why else None for why in refused], pa.large_string())
        metadata = {"beadchem": json.dumps({"digest": self.digest, "uncertainty": uncertainty})}
        found = [
            {"row": first_row + row, "code": code, "severity": "error", "quantity": name, "value": value, "bound": 0.0, "reason": text}
            for row, why in enumerate(refused)
            for code, name, text, value in why
        ]
        return Corrected(pa.table(columns).replace_schema_metadata(metadata), pa.Table.from_pylist(found, schema=FOUND))

    def _values(self, numbers: dict[str, Any]) -> tuple[Any, ...]:
        with np.errstate(all="ignore"):
            flux = numbers["flux_g"] / numbers["sample_g"]
            matrix = 1.0 + 0.01 * flux - 0.0625 * numbers["loss_on_fusion_percent"] / 100.0
            return (self.iron * numbers["Fe_Ka_cps"] * matrix, self.silicon * numbers["Si_Ka_cps"] * matrix, flux)


CODES = ["mass.missing", "mass.not-positive", "number.unreadable", "bead.doubled"]
FOUND = pa.schema(
    [
        ("row", pa.uint64()),
        ("code", pa.dictionary(pa.int16(), pa.string())),
        ("severity", pa.large_string()),
        ("quantity", pa.large_string()),
        ("value", pa.float64()),
        ("bound", pa.float64()),
        ("reason", pa.large_string()),
    ]
)


def _numbers(column: Any, name: str, first_row: int, refused: list[list[tuple[str, str, str, Any]]]) -> Any:
    """The numbers of a column, NaN where there is none; text is read cell by cell."""
    if pa.types.is_floating(column.type):
        return column.to_numpy(zero_copy_only=False)
    values = np.full(len(column), np.nan)
    for row, cell in enumerate(column.to_pylist()):
        try:
            values[row] = float(cell or "nan")
        except ValueError:
            refused[row].append(("number.unreadable", name, f"Row {first_row + row}: '{cell}' in {name} is not a number.", None))
    return values


def _judge(
    numbers: dict[str, Any], ids: list[Any], doubled: set[str], first_row: int, refused: list[list[tuple[str, str, str, Any]]]
) -> None:
    for name in NUMBERS:
        for row in np.flatnonzero(~np.isfinite(numbers[name])).tolist():
            refused[row].append(("mass.missing", name, f"{name} is missing in row {first_row + row}.", None))
    for row in np.flatnonzero(numbers["sample_g"] <= 0).tolist():
        value = float(numbers["sample_g"][row])
        refused[row].append(("mass.not-positive", "sample_g", f"Sample mass is {value} g. A mass must be above zero.", value))
    for row in np.flatnonzero([bead in doubled for bead in ids]).tolist() if doubled else []:
        refused[row].append(("bead.doubled", "bead", f"Bead {ids[row]} stands in several rows; none is used.", None))


def correction() -> StandIn:
    """The correction of the tests."""
    return StandIn()


def beads(rows: int, *, seed: int = 7, first: int = 0, poisoned: bool = True) -> Any:
    """A table of beads; with `poisoned`, about one row in a hundred has a mass that is zero, null or NaN."""
    draw = np.random.default_rng([seed, first])
    sample = 0.8 + 0.01 * draw.standard_normal(rows)
    nulls = np.zeros(rows, bool)
    if poisoned:
        kind = draw.integers(0, 300, rows)
        sample[kind == 0] = -0.0012
        sample[kind == 1] = np.nan
        nulls = kind == 2
    return pa.table(
        {
            "bead": pa.array([f"B-{first + row}" for row in range(rows)], pa.string()),
            "flux_lot": pa.array(np.where(draw.random(rows) < 0.5, "F-118", "F-121")),
            "sample_g": pa.array(sample, mask=nulls),
            "flux_g": 8.0 + 0.001 * draw.standard_normal(rows),
            "Fe_Ka_cps": draw.uniform(0, 1e5, rows),
            "Si_Ka_cps": draw.uniform(0, 5e4, rows),
            "loss_on_fusion_percent": draw.uniform(-2, 46, rows),
            "note": pa.array([None if row % 3 else f"row {row}, \"quoted\"" for row in range(rows)], pa.string()),
        }
    )


def same_to_the_bit(left: Any, right: Any) -> bool:
    """Whether two tables have the same schema with metadata, the same nulls, and numbers of the same bits (NaN as one)."""
    if not left.schema.equals(right.schema, check_metadata=True) or left.num_rows != right.num_rows:
        return False
    for one, other in zip(left.columns, right.columns, strict=True):
        one, other = (column.combine_chunks() for column in (one, other))
        if not one.is_null().equals(other.is_null()):
            return False
        if pa.types.is_floating(one.type):
            bits = [np.nan_to_num(column.fill_null(0.0).to_numpy(), nan=-1e300).view(np.uint64) for column in (one, other)]
            if not np.array_equal(*bits):
                return False
        elif not one.equals(other):
            return False
    return True
