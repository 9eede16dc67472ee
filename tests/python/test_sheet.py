"""Tables of a balance and a spectrometer: a messy export as text and as a workbook, and what is said of it."""

import datetime
import io
import pathlib

import beadchem as bc
import openpyxl
import pytest

ROWS = [
    # bead, operator, time, SiO2, u, Zn, MnO
    ("B-1", "Ada", "2026-03-14T08:05", "51,20", "0,05", "15", "0,10"),
    (" B 07 ", "", "2026-03-14T08:20", "n.a.", "", "<5", "<0,01"),
    ("B-3", "Ada", "2026-03-14T08:10", "1.234,5", "", "1.500", "-"),
    ("B-4", "Ada", "2026-03-14T08:40", "", "", "trace", "0,30"),
]
HEADER = [
    ("Export of Tuesday", "", "", "", "", "", ""),
    ("Bead", "operator", "measured", "SiO2", "u SiO2", "Zn", "MnO"),
    ("", "", "", "%", "%", "ppm", "wt%"),
]


def layout(**changes: object) -> bc.Layout:
    columns = [
        bc.Column.content("SiO2", unit="%", basis="dried", u_header="u SiO2"),
        bc.Column.content("Zn", unit="mg/kg", basis="dried"),
        bc.Column.content("MnO", unit="%", basis="dried"),
        bc.Column.time("measured"),
    ]
    declared: dict[str, object] = {"id": "Bead", "decimal": "comma", "thousands": "point", "delimiter": "semicolon"}
    declared |= {"header_lines": 3, "names_in": 2, "units_in": 3, "unknown": ["n.a."], "absent": ["-"]}
    return bc.Layout(columns, **(declared | changes))  # type: ignore[arg-type]


def as_csv(rows: list[tuple[str, ...]]) -> bytes:
    return "\r\n".join(";".join(row) for row in HEADER + rows).encode("utf-8-sig")


def as_xlsx(rows: list[tuple[object, ...]], *, more: list[str] | None = None) -> bytes:
    book = openpyxl.Workbook()
    page = book.active
    page.title = "Results"
    for row in [*HEADER, *rows]:
        page.append([None if cell == "" else cell for cell in row])
    for name in more or []:
        book.create_sheet(name)
    file = io.BytesIO()
    book.save(file)
    return file.getvalue()


def texts(findings: list[bc.Finding]) -> list[str]:
    return [finding.text for finding in findings]


@pytest.mark.parametrize("kind", ["csv", "xlsx"])
def test_a_messy_export_is_read_row_by_row(kind: str) -> None:
    source = as_csv(ROWS) if kind == "csv" else as_xlsx(list(ROWS))
    sheet = bc.read_table(source, layout(), kind=kind)
    assert len(sheet) == len(ROWS)
    assert [(row.line, row.id) for row in sheet.rows] == [(4, "B-1"), (5, "B 07"), (6, "B-3"), (7, "B-4")]
    first, second, third, fourth = sheet.rows
    silica = first.get("SiO2")
    assert isinstance(silica, bc.Value) and (silica.value, silica.u) == (51.2, 0.05)
    assert first.decimals("SiO2") == 2
    assert second.get("SiO2") == "unknown" and second.get("Zn") == bc.Below(5)
    assert third.get("MnO") == "absent" and third.get("Zn") == bc.value(1500)
    assert third.fields[3] == "1.234,5"
    assert [str(error) for error in third.trouble] == [
        "Row 6, column SiO2: SiO2 1234.5 % is outside -50 % to 150 %. Is the unit of the numbers the one stated?",
        "Row 6, column measured: 2026-03-14T08:10 is earlier than row 5 (2026-03-14T08:20). Is the order of the rows "
        "reversed, or was a clock wrong?",
    ]
    assert [error.code for error in third.trouble] == ["number.out-of-range", "time.reversed"]
    assert [error.code for error in fourth.trouble] == ["number.unreadable"] and fourth.get("Zn") is None
    assert [row.id for row in sheet.rejects] == ["B-3", "B-4"]
    assert texts(sheet.findings) == [
        "Row 5: '<5' read as below 5 mg/kg. It enters totals as not counted: Zn is named beside the total.",
        "Row 5: '<0,01' read as below 0.01 %. It enters totals as not counted: MnO is named beside the total.",
        "Row 5: blanks before or behind the bead id were taken off.",
        "Columns not read: operator.",
        "2 of 4 rows have trouble and are not used: 6, 7. Each row says why.",
    ]
    ore = sheet.composition(1)
    assert ore.species == ["SiO2", "Zn", "MnO"] and ore.get("MnO") == bc.Below(0.01)
    with pytest.raises(bc.BeadchemError) as refused:
        sheet.composition(3)
    assert refused.value.code == "number.unreadable"
    assert "B 07" in repr(sheet) and "beadchem-table" in sheet._repr_html_() and "B-4" in sheet.to_csv()


def test_a_workbook_holds_numbers_dates_and_formulas() -> None:
    day = datetime.datetime(2026, 3, 14, 8, 5, 30)
    rows: list[tuple[object, ...]] = [
        (417, "Ada", day, 51.2, 0.05, 1500, "0,10"),
        ("B-2", "Ada", day + datetime.timedelta(minutes=1), "=50+1", "", 12.5, ""),
        # a spreadsheet that takes 1.2 for a day, and a length of time
        ("B-3", "", day + datetime.timedelta(minutes=2), datetime.date(2026, 2, 1), "", datetime.timedelta(days=2), ""),
    ]
    sheet = bc.read_table(as_xlsx(rows), layout(), kind="xlsx")
    first, second, third = sheet.rows
    assert first.id == "417" and first.get("Zn") == bc.value(1500) and first.get("MnO") == bc.value(0.1)
    assert first.get("measured") == "2026-03-14T08:05:30.000"
    assert first.decimals("SiO2") is None and first.decimals("MnO") == 2
    # openpyxl stores no result with a formula: it is not taken for an empty cell
    assert [str(error) for error in second.trouble] == [
        "Row 5, column SiO2: '=50+1' is not a number. Mend the export, or declare the word as absent or unknown."
    ]
    assert [str(error).split(" Mend")[0] for error in third.trouble] == [
        "Row 6, column SiO2: '2026-02-01T00:00:00.000' is not a number.",
        "Row 6, column Zn: '2 days' is not a number.",
    ]


def test_the_sheet_of_a_workbook_is_named_where_there_are_several() -> None:
    book = as_xlsx(list(ROWS), more=["Notes"])
    assert len(bc.read_table(book, layout(), kind="xlsx", sheet="Results")) == 4
    for wrong in (None, "Result"):
        with pytest.raises(bc.BeadchemError, match="one of: Results, Notes"):
            bc.read_table(book, layout(), kind="xlsx", sheet=wrong)


def test_the_ending_decides_and_bytes_need_a_kind(tmp_path: pathlib.Path) -> None:
    text, book, other = tmp_path / "a.CSV", tmp_path / "a.xlsx", tmp_path / "a.txt"
    text.write_bytes(as_csv(ROWS))
    book.write_bytes(as_xlsx(list(ROWS)))
    other.write_bytes(as_csv(ROWS))
    assert len(bc.read_table(text, layout())) == len(bc.read_table(str(book), layout())) == 4
    assert len(bc.read_table(other, layout(), kind="csv")) == 4
    for source in (other, as_csv(ROWS)):
        with pytest.raises(bc.BeadchemError, match="Choose one of: csv, xlsx"):
            bc.read_table(source, layout())
    with pytest.raises(bc.BeadchemError, match="Leave sheet out"):
        bc.read_table(text, layout(), sheet="Results")
    with pytest.raises(FileNotFoundError):
        bc.read_table(tmp_path / "none.csv", layout())


@pytest.mark.parametrize(
    ("column", "code", "message"),
    [
        (
            bc.Column.content("Zn", basis="dried"),
            "unit.missing",
            "Column Zn has 12.0 and 15400; declare unit per column.",
        ),
        (
            bc.Column.content("Zn", unit="mg/kg"),
            "basis.missing",
            "Zn 15400 has no basis. Choose as received, air-equilibrated, dried, ignited or bead.",
        ),
        (
            bc.Column.content("Zn", unit="mg/kg", basis="dried", header="Zinc"),
            "table.header",
            "Column `Zinc` is not in line 1. It holds: Bead, Zn. Are delimiter and header lines right?",
        ),
    ],
)
def test_what_is_not_declared_is_asked_for(column: bc.Column, code: str, message: str) -> None:
    with pytest.raises(bc.BeadchemError) as refused:
        table = b"Bead,Zn\nB-1,15400\nB-2,12.0\n"
        bc.read_table(table, bc.Layout([column], id="Bead", decimal="point"), kind="csv")
    assert (refused.value.code, str(refused.value)) == (code, message)


def test_wrong_words_list_the_right_ones() -> None:
    with pytest.raises(bc.BeadchemError, match="Choose one of: point, comma"):
        layout(decimal=",")
    with pytest.raises(bc.BeadchemError, match="Choose one of: comma, semicolon, tab, bar"):
        layout(delimiter=";")
    with pytest.raises(bc.BeadchemError, match="Choose one of: point, comma, blank, apostrophe"):
        layout(thousands="dot")
    with pytest.raises(bc.BeadchemError, match="Choose one of: g, mg"):
        bc.Column.mass("Flux mass", unit="kg")
    with pytest.raises(bc.BeadchemError, match="Choose one of: SiO2, Zn, MnO, measured"):
        bc.read_table(as_csv(ROWS), layout(), kind="csv").rows[0].get("CaO")
    with pytest.raises(bc.BeadchemError, match="Keep one"):
        bc.Column.number("x", u=1.0, u_header="u")


def test_a_layout_is_a_document() -> None:
    again = bc.Layout.from_json(layout().to_json())
    assert again == layout() and again.digest == layout().digest
    assert again.columns[1].unit == "mg/kg" and again.columns[1].basis == "dried"
    assert "an empty cell is unknown" in repr(again)


def test_tables_are_joined_by_id_and_nothing_is_dropped() -> None:
    masses = bc.Layout(
        [bc.Column.mass("Flux mass", header="m2", unit="g", u=0.00012)], id="Bead", decimal="point", absent=["-"]
    )
    balance = bc.read_table(b"Bead,m2\nB-1,8.0021\nB-07,8.0013\nB-417,8.0\nB-417,8.1\nB-4,\n", masses, kind="csv")
    doubled = "Bead B-417 occurs twice with different masses; neither is used. Rows 4, 5."
    assert [str(row.trouble[0]) for row in balance.rejects] == [
        doubled,
        doubled,
        "Flux mass is missing in row 6. Give a number in grams or leave the bead out.",
    ]
    joined = bc.join_by_id(balance, bc.read_table(as_csv(ROWS), layout(), kind="csv"))
    assert joined.pairs == [(0, 0), (4, 3)]
    assert (joined.only_left, joined.only_right, joined.doubled) == ([1], [1, 2], [("B-417", [2, 3], [])])
    assert "Bead B-07 (row 3) is only in the left table. B-07 is not B 07: mend the export." in texts(joined.findings)
    assert {finding.code for finding in joined.findings} == {"bead.unmatched", "bead.doubled"}
    assert "paired" in joined.to_csv() and "B-417" in repr(joined)
