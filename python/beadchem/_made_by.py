"""What stored results say they were made by, held against the correction they are to be re-corrected from."""

from __future__ import annotations

import json
from collections.abc import Collection
from typing import Any

from beadchem import Correction
from beadchem._files.refusal import refused
from beadchem._kinds import is_kind

_RECORD = "beadchem"


def _record(table: Any) -> tuple[str | None, Collection[str]]:
    """The record that a table carries, in the schema metadata of Arrow or the attributes of pandas, and its columns."""
    if is_kind(table, "pyarrow", "Table", "RecordBatch", "RecordBatchReader"):
        held = (table.schema.metadata or {}).get(_RECORD.encode())
        return (None if held is None else held.decode()), table.schema.names
    if is_kind(table, "pandas", "DataFrame"):
        held = table.attrs.get(_RECORD)
        return (held if isinstance(held, str) else None), list(table.columns)
    return None, ()


def check(table: Any, old: Correction) -> None:
    """Refuses results without masses that say they were made with other flux lots than `old` has: the factor asked for is not
    theirs, as where they were re-corrected already.

    Raises `BeadchemError` `recipe.version-unknown`.
    """
    record, names = _record(table)
    if record is None or any(one.name in names for one in old.declared if one.quantity in ("sample mass", "flux mass")):
        return
    try:
        made = dict(json.loads(record)["provenance"]["lots"])
    except (ValueError, KeyError, TypeError):  # no results of a correction
        return
    for name, digest in json.loads(old.provenance)["lots"]:
        if made.get(name, digest) != digest:
            raise refused(
                "recipe.version-unknown",
                f"These results say that they were made with another flux lot {name} than the old correction has.",
                quantity="flux lot",
                hint="Name the correction they were made with as the old one; were they re-corrected already?",
            )
