"""What a caller may give: a wrong thing is refused in words that say what was given and what belongs there."""

from __future__ import annotations

import math
from collections.abc import Collection, Iterable, Mapping, Sequence
from typing import Any, TypeVar

from beadchem import _core
from beadchem._kinds import refuse

Limits = Mapping[str, "tuple[float | None, float | None]"]
Said = TypeVar("Said")

_MOST_THREADS = 256
MOST = 2**31 - 1
"""More rows than anyone runs together."""
_MOST_PERCENT = 1000.0
"""More than any element gives as its oxide."""
_LIMIT = "Limits are pairs in %, as {'CaO': (30.0, None)}; None leaves an end open."


def a_job(given: Any, table: Any = None) -> None:
    """A correction, or whatever a table can be run through; raises `TypeError` for anything else."""
    if _is_job(given):
        return
    if _is_job(table):
        raise TypeError(f"The table comes first and the correction second; here a {type(table).__name__} comes first.")
    if isinstance(given, str):
        raise TypeError("A text stands where a Correction belongs. Correction.from_json(text) reads the stored form.")
    if isinstance(given, _core.Method):
        raise TypeError("A Method stands where a Correction belongs. Correction(method, charge, ...) makes one of it.")
    raise TypeError(f"A {type(given).__name__} stands where a Correction belongs.")


def _is_job(given: Any) -> bool:
    return not isinstance(given, type) and callable(getattr(given, "correct_stream", None))


def a_correction(given: Any, table: Any = None) -> None:
    """A `Correction` and nothing else."""
    a_job(given, table)
    if not isinstance(given, _core.Correction):
        raise TypeError(f"A {type(given).__name__} stands where a Correction belongs.")


def threads(given: Any) -> int:
    """A number of threads."""
    try:
        number = given.__index__()
    except (AttributeError, TypeError):
        raise TypeError(f"`threads` is {given!r}; a whole number from 1 to {_MOST_THREADS} belongs there.") from None
    if not 1 <= number <= _MOST_THREADS:
        hint = "One thread is usual, as many as there are cores at most."
        detail = f"Number of threads {number} is outside 1 to {_MOST_THREADS}."
        refuse("number.out-of-range", detail, hint, quantity="Number of threads", value=number, bound=f"1 to {_MOST_THREADS}")
    return int(number)


def uncertainty(given: Any) -> str:
    """Which uncertainties are asked for; the native module knows the words."""
    if not isinstance(given, str):
        raise TypeError(f'`uncertainty` is {given!r}; "none", "variance" or "covariance" belongs there.')
    return given


def count(name: str, given: Any) -> int:
    """A whole number from 1 to `MOST`."""
    number = getattr(given, "__index__", lambda: None)()
    if number is None or isinstance(given, bool):
        raise TypeError(f"`{name}` is {given!r}; a whole number of at least 1 belongs there.")
    if not 1 <= number <= MOST:
        detail = f"{name} is {number}; it must be at least 1 and at most {MOST}."
        refuse("number.out-of-range", detail, "Leave it out for the usual one.", quantity=name, value=number, bound=f"1 to {MOST}")
    return int(number)


def called(given: Any, what: str) -> Any:
    """A function, or None."""
    if given is not None and not callable(given):
        raise TypeError(f"`{what}` is {given!r}; a function belongs there.")
    return given


def names(given: Iterable[str], what: str) -> tuple[str, ...]:
    """Names; a single text is one name."""
    if not isinstance(given, Iterable):
        raise TypeError(f"`{what}` is {given!r}; names belong there.")
    listed = (given,) if isinstance(given, str) else tuple(given)
    for name in listed:
        if not isinstance(name, str):
            raise TypeError(f"`{what}` holds {name!r}; names belong there.")
    return listed


def ids(given: Collection[str] | None) -> frozenset[str] | None:
    """Bead ids, or None where they are not known."""
    return None if given is None else frozenset(names(given, "doubled"))


def once(pairs: Iterable[tuple[str, Said]], option: str) -> dict[str, Said]:
    """What an option says of each name; refused where it says two things of one."""
    said: dict[str, Said] = {}
    for name, one in pairs:
        if name in said:
            refuse("table.layout", f"{option} is given twice for {name}.", "Say it once for each name.")
        said[name] = one
    return said


def limits(given: Limits | None) -> dict[str, tuple[float | None, float | None]]:
    """Limits by species. `CaO_percent` is the same as `CaO`; an end that is above the other one is refused."""
    checked: dict[str, tuple[float | None, float | None]] = {}
    for name, ends in _mapping(given, "limits", _LIMIT).items():
        species = name.removesuffix("_percent")
        if species in checked:
            refuse("species.doubled", f"{species} has two limits.", "Give both ends in one.")
        checked[species] = _ends(species, ends)
    return checked


def _ends(species: str, ends: Any) -> tuple[float | None, float | None]:
    if not isinstance(ends, (tuple, list)) or len(ends) != 2:
        raise TypeError(f"The limit of {species} is {ends!r}; a pair of low and high belongs there. {_LIMIT}")
    low, high = (_end(species, end) for end in ends)
    if low is None and high is None:
        refuse("table.layout", f"The limit of {species} has no end.", _LIMIT)
    if low is not None and high is not None and low > high:
        detail = f"The limit of {species} is from {low:g} to {high:g} %: low is above high, so no content is within."
        hint = "Were the two ends swapped?"
        refuse("number.out-of-range", detail, hint, quantity=f"Limit of {species}", value=low, bound=f"at most {high:g}")
    return low, high


def _end(species: str, end: Any) -> float | None:
    if end is None:
        return None
    try:
        number = end.__float__()
    except (AttributeError, TypeError):
        raise TypeError(f"An end of the limit of {species} is {end!r}; a number or None belongs there. {_LIMIT}") from None
    if not math.isfinite(number):
        refuse("number.not-finite", f"An end of the limit of {species} is {number}.", "None leaves an end open.")
    if not 0.0 <= number <= _MOST_PERCENT:
        detail = f"An end of the limit of {species} is {number:g} %, outside 0 to {_MOST_PERCENT:g} %."
        hint = "No content is there. Limits are in %, and None leaves an end open."
        bound = f"0 to {_MOST_PERCENT:g}"
        refuse("number.out-of-range", detail, hint, quantity=f"Limit of {species}", value=number, bound=bound)
    return float(number)


def lot_column(correction: Any) -> str:
    """The column of flux lots of a correction."""
    return next((field.name for field in correction.declared if field.quantity == "flux lot"), "flux_lot")


def _mapping(given: Any, what: str, hint: str) -> dict[Any, Any]:
    if given is not None and not isinstance(given, Mapping):
        raise TypeError(f"`{what}` is {given!r}; a dict belongs there. {hint}")
    return dict(given or {})


def rows(only: Mapping[str, str] | None, correction: _core.Correction) -> dict[str, str]:
    """Which rows are meant, as words by column; a flux lot that the correction does not know is refused."""
    chosen: dict[str, str] = _mapping(only, "only", "It says which rows change, as {'flux_lot': 'F-118'}.")
    for column, word in chosen.items():
        if not isinstance(word, str):
            raise TypeError(f"`only` wants {word!r} in {column}; a text belongs there.")
    lot = chosen.get(lot_column(correction))
    if lot is not None and lot not in correction.lots:
        refuse("flux.lot-unknown", f"Flux lot `{lot}` is not known.", f"The lots are: {', '.join(correction.lots)}.")
    return chosen


def one_lot(chosen: Mapping[str, str], correction: _core.Correction) -> str:
    """The flux lot whose loss is to change: the one rows are chosen by, or the only one."""
    column, lots = lot_column(correction), correction.lots
    if column not in chosen and len(lots) > 1:
        refuse(
            "table.layout",
            f"`change` gives a flux loss, but not of which of {len(lots)} lots: {', '.join(lots)}.",
            f"Say it with only={{{column!r}: {lots[-1]!r}}}.",
        )
    return chosen.get(column, lots[0])


def result_names(given: Sequence[str] | None, there: Collection[str] | None) -> list[str] | None:
    """Columns of results; `CaO` is the column `CaO_percent` where there is none of the name itself."""
    if given is None:
        return None
    listed = names(given, "results")
    if there is None:
        return list(listed)
    return [f"{name}_percent" if name not in there and f"{name}_percent" in there else name for name in listed]
