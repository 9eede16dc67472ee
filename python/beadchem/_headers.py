"""Columns that a correction reads held against those a table has. A misspelt column would be passed over in silence, and what
it says with it; so it is looked for here, before anything is computed."""

from __future__ import annotations

import re
from collections.abc import Callable, Collection, Iterable, Iterator, Sequence
from difflib import SequenceMatcher
from typing import Any

from beadchem._kinds import refuse

_NEAR = 0.8
"""Names that share this part of their letters are near each other."""
_UNITS = frozenset({"percent", "pct", "perc", "wt", "g", "mg", "kg", "ppm", "cps", "kcps"})
_OTHER_THINGS = frozenset({"by", "at", "date", "time"})
"""Endings that make another thing of a name: `weighed_by` is a person."""
_OF_SPECIES = ("net intensity", "in the glass", "known from elsewhere", "from elsewhere")
_OF_ADDITION = "mass of addition"
_NEEDED = ("sample mass", "flux mass")
"""Without these no row has a result."""


def check(names: Iterable[Any], job: Any, keep: Collection[str]) -> None:
    """Refuses a table in which a column that is read is absent while one that nobody declared is near it.

    `names` are the columns of the table, `job` anything with `fields` and `declared`; columns of `keep` are meant as written.

    Raises `BeadchemError` `table.header`, also where the table has none of the columns.
    """
    names = list(names)
    there = [name for name in names if isinstance(name, str)]
    if names and not there:
        refuse(
            "table.header",
            f"The columns of the table are not named by texts: the first is {names[0]!r}.",
            "Join the levels of a MultiIndex, or name the columns.",
        )
    known = set(job.fields)
    read = [field.name for field in job.declared]
    if known and known.isdisjoint(there):
        needed = [field.name for field in job.declared if not getattr(field, "optional", False)] or read
        refuse(
            "table.header",
            f"The table has none of the columns that are read: it has {_listed(there) or 'no column at all'}.",
            f"Name the columns {_listed(needed)}, or declare others with bc.Field.",
        )
    others = [name for name in there if name not in known and name not in keep]
    present = set(there)
    pairs = list(_near(others, [name for name in read if name not in present], _with_species(job))) if others else []
    if pairs:
        _, wanted, found = max(pairs, key=lambda pair: pair[0])
        refuse("table.header", f"There is no column {wanted}, but {found} is near it.", _repair(wanted, found, job))
    absent = [field for field in job.declared if field.quantity in _NEEDED and field.name not in present]
    # stored results can be gone by alone
    alone = any(name.endswith("_percent") for name in present & known.difference(read))
    if absent and not alone and not any(name.casefold() == absent[0].name.casefold() for name in there):
        refuse(
            "table.header",
            f"There is no column {absent[0].name}, the {absent[0].quantity}. The table has: {_listed(there)}.",
            "Rename the one that is meant, or declare it with bc.Field.",
        )


def _repair(wanted: str, found: str, job: Any) -> str:
    """What to do about a name that is near; one with another unit is another number."""
    stated, written = _words(wanted)[1], _words(found)[1]
    if written and stated != written:
        unit = next(field.unit for field in job.declared if field.name == wanted)
        return f"It says another unit: convert it to {unit} and name it {wanted}, or declare it in its own unit with bc.Field."
    return "Rename it, declare it with bc.Field, or leave it out. If it is something else, name it in keep."


def checked_once(job: Any, keep: Collection[str]) -> Callable[[Sequence[Any]], None]:
    """The check for many batches: columns that were looked at once are not looked at again."""
    good: set[tuple[Any, ...]] = set()

    def look(names: Sequence[Any]) -> None:
        header = tuple(names)
        if header not in good:
            check(header, job, keep)
            good.add(header)

    return look


def _with_species(job: Any) -> set[str]:
    """Columns whose name begins with a line or a species; with another one they are another column, however near."""
    return {
        field.name
        for field in job.declared
        if field.quantity.endswith(_OF_SPECIES) or field.quantity.startswith(_OF_ADDITION)
    }


def _near(others: list[str], absent: list[str], with_species: set[str]) -> Iterator[tuple[float, str, str]]:
    """Pairs that are near as (how near, absent column, column of the table)."""
    for wanted in absent:
        for found in others:
            how = _nearness(wanted, found, wanted in with_species)
            if how >= _NEAR:
                yield how, wanted, found


def _nearness(wanted: str, found: str, with_species: bool) -> float:
    """1 for the same letters and digits, with or without a unit behind; else the part that is the same, or 0."""
    (left, left_unit), (right, right_unit) = _words(wanted), _words(found)
    one, two = "".join([*left, *left_unit]), "".join([*right, *right_unit])
    if one == two:
        return 1.0
    if not right or right[-1] in _OTHER_THINGS or (right_unit and not left_unit):
        return 0.0
    if "".join(left) == "".join(right):
        return 1.0
    if re.findall(r"\d", one) != re.findall(r"\d", two) or (with_species and left[:1] != right[:1]):
        return 0.0
    if 2 * min(len(one), len(two)) < _NEAR * (len(one) + len(two)):
        return 0.0
    return SequenceMatcher(None, one, two, autojunk=False).ratio()


def _words(name: str) -> tuple[list[str], list[str]]:
    """The words of a name in small letters, those of a unit at its end apart."""
    words = re.findall(r"[^\W_]+", name.casefold())
    place = len(words)
    while place > 1 and words[place - 1] in _UNITS:
        place -= 1
    return words[:place], words[place:]


def _listed(names: Sequence[str], most: int = 12) -> str:
    more = f" and {len(names) - most} more" if len(names) > most else ""
    return ", ".join(names[:most]) + more
