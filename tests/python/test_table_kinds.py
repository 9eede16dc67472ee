"""Any table in, the same kind out: states of cells, chunks, indexes, types, and the traps of each library."""

from __future__ import annotations

import decimal
import math
from typing import Any

import beadchem as bc
import duckdb
import numpy as np
import pandas as pd
import polars as pl
import pyarrow as pa
import pytest
import table_kinds as tk
from table_kinds import JOB, KINDS, OTHER_RESULT, RESULT, Kind, agree, reference

pytestmark = pytest.mark.filterwarnings("ignore::beadchem.BeadchemNote")  # most of these tables have no loss on ignition, so no total

ALL = pytest.mark.parametrize("kind", KINDS, ids=[kind.name for kind in KINDS])


@ALL
@pytest.mark.parametrize("rows", [0, 1, 7, 64, 101])
def test_the_same_kind_comes_back_with_the_same_cells(kind: Kind, rows: int) -> None:
    made = tk.with_states(rows)
    result = bc.correct(kind.make(made), JOB)
    assert isinstance(result, kind.kind)
    agree(kind.read(result), reference(kind.seen(made)), one_state=kind.null != "apart")


def test_the_reference_tells_null_from_nan() -> None:
    found = reference(tk.with_states(15))
    assert found[RESULT][2] is None and found["finding"][2] == "mass.missing" and found["reason"][2]
    assert found[RESULT][4] is None and found["finding"][4] == "number.not-finite"
    assert found[RESULT][0] == pytest.approx(30, abs=1) and found["finding"][0] is found["reason"][0] is None


@ALL
def test_uncertainties_covariance_kept_columns_and_findings_come_along(kind: Kind) -> None:
    made = tk.with_states(17)
    how = {"uncertainty": "covariance", "keep": ["bead", "flux_lot"], "findings": True}
    table = kind.make(made)
    result, found = bc.correct(table, JOB, **how)
    assert isinstance(result, kind.kind) and isinstance(found, kind.kind)
    expected, expected_found = bc.correct(tk.of_masked(kind.seen(made)), JOB, **how)
    agree(kind.read(result), tk.from_arrays(expected), one_state=kind.null != "apart")
    rows = kind.read(found)
    agree(rows, tk.from_arrays(expected_found), one_state=True)
    assert len(rows["row"]) > 3


@ALL
@pytest.mark.parametrize("rows", [0, 1, 7, 64])
def test_a_re_correction_gives_the_same_kind_with_the_same_cells(kind: Kind, rows: int) -> None:
    made = tk.with_states(rows)
    how = {"change": {"flux_loss_percent": 0.71}, "only": {"flux_lot": "F-121"}, "limits": {"CaO": (None, 30.2)}, "findings": True}
    changed, found = bc.recorrect(kind.make(made), JOB, **how)
    assert isinstance(changed, kind.kind) and isinstance(found, kind.kind)
    expected, expected_found = bc.recorrect(tk.of_masked(kind.seen(made)), JOB, **how)
    rows_of = kind.read(changed)
    assert [name for name in rows_of if name.startswith("CaO")] == [f"CaO_percent_{part}" for part in ("old", "new", "change", "change_per_u")]
    agree(rows_of, tk.from_arrays(expected), one_state=kind.null != "apart")
    agree(kind.read(found), tk.from_arrays(expected_found), one_state=True)


@ALL
def test_a_column_to_keep_must_be_there_and_not_be_a_result(kind: Kind) -> None:
    def run(made: tk.Cells, keep: str) -> None:
        kind.read(bc.correct(kind.make(made), JOB, keep=[keep]))

    with pytest.raises(bc.BeadchemError, match="no column Bead to keep") as refused:
        run(tk.cells(3), "Bead")
    assert refused.value.code == "table.header"
    with pytest.raises(bc.BeadchemError) as refused:
        run({**tk.cells(3), "finding": [1.0, 2.0, 3.0]}, "finding")
    assert refused.value.code == "table.column-doubled"


@ALL
def test_another_type_is_refused_and_never_skipped(kind: Kind) -> None:
    """A cell of a date in a column of masses."""
    made = tk.cells(3)
    day = np.array(["2026-01-02"] * 3, dtype="datetime64[us]")
    table = kind.make(made)
    if isinstance(table, dict):
        table["sample_g"] = day
    elif isinstance(table, np.ndarray):
        kinds = [(name, "M8[us]" if name == "sample_g" else table.dtype[name]) for name in table.dtype.names]
        table = table.astype(kinds)
    elif isinstance(table, pd.DataFrame):
        table["sample_g"] = day if kind.name == "pandas" else pd.array(day, dtype=pd.ArrowDtype(pa.timestamp("us")))
    elif kind.name.startswith(("polars", "narwhals")):
        frame = tk.of_polars(made).with_columns(pl.Series("sample_g", day))
        table = frame.lazy() if "lazy" in kind.name or "streaming" in kind.name else frame
    else:
        dated = tk.arrow(made).set_column(2, "sample_g", pa.array(day))
        table = {"reader": dated.to_reader(), "duckdb": duckdb.from_arrow(dated)}.get(kind.name, dated)
    with pytest.raises(bc.BeadchemError, match="Column sample_g is of type .* where numbers belong") as refused:
        kind.read(bc.correct(table, JOB))
    assert refused.value.code == "table.column-type"


# Trap 1: null is not NaN


def test_null_is_not_nan_whatever_lies_under_it() -> None:
    """Under a null polars has 0 and pandas NaN: neither may show in a neighbour."""
    made = tk.with_states(30)
    under_zero = tk.arrow(made)
    place = under_zero.schema.names.index("sample_g")
    numbers = tk.numeric(made["sample_g"])
    expected = reference(made)
    for under in (0.0, 1.0, math.nan, math.inf):
        values = np.where(tk.mask(made["sample_g"]), under, numbers)
        bits = np.packbits(~tk.mask(made["sample_g"]), bitorder="little").tobytes()
        buffers = [pa.py_buffer(bits), pa.py_buffer(values.tobytes())]
        column = pa.Array.from_buffers(pa.float64(), 30, buffers)
        agree(tk.from_arrow(bc.correct(under_zero.set_column(place, "sample_g", column), JOB)), expected)
        masked = tk.of_masked(made) | {"sample_g": np.ma.MaskedArray(values, mask=tk.mask(made["sample_g"]))}
        agree(tk.from_arrays(bc.correct(masked, JOB)), expected)


def test_a_null_result_has_nan_under_it() -> None:
    result = bc.correct(tk.arrow(tk.with_states(9)), JOB)
    under = np.frombuffer(result[RESULT].chunk(0).buffers()[1], dtype=np.float64)
    assert np.isnan(under[2]) and result[RESULT].null_count > 3


def test_a_column_of_nothing_is_all_null() -> None:
    made = tk.cells(3)
    nothing = tk.arrow(made).set_column(2, "sample_g", pa.nulls(3)).set_column(0, "bead", pa.nulls(3))
    expected = reference({**made, "sample_g": [None] * 3})
    agree(tk.from_arrow(bc.correct(nothing, JOB)), expected)
    frame = tk.of_polars(made).with_columns(sample_g=pl.lit(None))
    agree(tk.from_polars(bc.correct(frame, JOB)), expected)


# Trap 2: columns that are not f64


@pytest.mark.parametrize(
    "dtype", ["int8", "uint8", "int16", "uint16", "int32", "uint32", "int64", "uint64", "float16", "float32", ">f8", ">i4"]
)
def test_other_numbers_are_cast_exactly(dtype: str) -> None:
    made = tk.cells(5) | {"sample_g": [1, 2, 3, 4, 5]}
    expected = reference(made)
    column = np.array(made["sample_g"], dtype=dtype)
    agree(tk.from_arrays(bc.correct(tk.of_masked(made) | {"sample_g": column}, JOB)), expected)
    if not dtype.startswith(">"):
        agree(tk.from_arrow(bc.correct(tk.arrow(made).set_column(2, "sample_g", pa.array(column)), JOB)), expected)
        frame = tk.of_pandas(made)
        frame["sample_g"] = column
        agree(tk.from_pandas(bc.correct(frame, JOB)), expected, one_state=True)


def test_pandas_inferring_whole_numbers_does_not_lose_a_column() -> None:
    made = tk.cells(3) | {"sample_g": [1.0, 1.0, 1.0]}
    frame = tk.of_pandas(made).convert_dtypes(dtype_backend="pyarrow")
    assert frame.dtypes["sample_g"] == pd.ArrowDtype(pa.int64())
    agree(tk.from_pandas(bc.correct(frame, JOB)), reference(made))
    frame = tk.of_pandas(made).convert_dtypes()
    assert frame.dtypes["sample_g"] == pd.Int64Dtype()
    agree(tk.from_pandas(bc.correct(frame, JOB)), reference(made))


def test_float32_keeps_its_own_value() -> None:
    made = tk.cells(4)
    single = np.array(made["sample_g"], dtype=np.float32)
    expected = reference(made | {"sample_g": single.astype(np.float64).tolist()})
    agree(tk.from_arrays(bc.correct(tk.of_masked(made) | {"sample_g": single}, JOB)), expected)
    agree(tk.from_arrow(bc.correct(tk.arrow(made).set_column(2, "sample_g", pa.array(single)), JOB)), expected)


@pytest.mark.parametrize("whole", [2**53 + 1, 2**63 - 1, 2**64 - 1, -(2**53) - 1])
def test_a_whole_number_that_no_float_is_is_refused_with_its_row(whole: int) -> None:
    made = tk.cells(3)
    dtype = np.uint64 if whole >= 2**63 else np.int64
    column = np.array([1, 2**53, whole], dtype=dtype)
    tables = [tk.of_dict(made) | {"sample_g": column}, tk.arrow(made).set_column(2, "sample_g", pa.array(column))]
    for table in tables:
        with pytest.raises(bc.BeadchemError, match=rf"Column sample_g, row 2 .* {whole} exactly") as refused:
            bc.correct(table, JOB)
        assert refused.value.code == "table.number-inexact"
    masked = np.ma.MaskedArray(column, mask=[False, False, True])
    bc.correct(tables[0] | {"sample_g": masked}, JOB)


def test_decimals_are_the_floats_of_their_text() -> None:
    """DuckDB reads a literal as a decimal."""
    text = ["0.8012", "0.80120000000000000000000000000", "12", "-3.5", "0.1"]
    made = tk.cells(5) | {"sample_g": [float(it) for it in text]}
    column = pa.array(text).cast(pa.decimal128(38, 29))
    agree(tk.from_arrow(bc.correct(tk.arrow(made).set_column(2, "sample_g", column), JOB)), reference(made))
    rows = duckdb.sql("select 0.8 as sample_g, 8 as flux_g, 13500.5 as Ca_Ka_cps, 1710 as Mg_Ka_cps, 400 as Si_Ka_cps")
    found = bc.correct(rows, JOB).to_arrow_table().to_pylist()[0]
    rest = {"Ca_Ka_cps": [13500.5], "Mg_Ka_cps": [1710.0], "Si_Ka_cps": [400.0]}
    expected = reference({"bead": ["a"], "flux_lot": ["F-118"], "sample_g": [0.8], "flux_g": [8.0], **rest})
    assert found[RESULT] == expected[RESULT][0] is not None
    long = pa.array(["0.12345678901234567890"]).cast(pa.decimal128(38, 20))
    with pytest.raises(bc.BeadchemError, match="0.12345678901234567890 exactly"):
        bc.correct(tk.arrow(tk.cells(1)).set_column(2, "sample_g", long), JOB)


def test_decimals_as_objects_are_numbers_too() -> None:
    """As databases hand them to pandas."""
    text = ["0.8012", "0.80", "0.9", "NaN"]
    made = tk.cells(4) | {"sample_g": [float(it) for it in text]}
    decimals = tk.words([decimal.Decimal(it) for it in text])
    agree(tk.from_arrays(bc.correct(tk.of_masked(made) | {"sample_g": decimals}, JOB)), reference(made))
    frame = bc.correct(tk.of_pandas(made).assign(sample_g=decimals), JOB)
    assert list(frame[RESULT][:3]) == reference(made)[RESULT][:3]
    for long in ("0.12345678901234567890", "0.80000000000000000000000000001"):  # the second rounds to 0.8 in 28 digits
        with pytest.raises(bc.BeadchemError, match=f"{long}, which no float is exactly"):
            bc.correct(tk.of_dict(tk.cells(1)) | {"sample_g": tk.words([decimal.Decimal(long)])}, JOB)


def test_flags_are_no_numbers() -> None:
    made = tk.cells(2)
    flags = np.array([True, False])
    objects = np.array([True, 0.8], dtype=object)
    for table in (
        tk.of_dict(made) | {"sample_g": flags},
        tk.of_dict(made) | {"sample_g": objects},
        tk.arrow(made).set_column(2, "sample_g", pa.array(flags)),
    ):
        with pytest.raises(bc.BeadchemError) as refused:
            bc.correct(table, JOB)
        assert refused.value.code == "table.column-type"


@pytest.mark.parametrize(
    "type_",
    [
        pa.large_string(),
        pa.string_view(),
        pa.dictionary(pa.int8(), pa.string()),
        pa.dictionary(pa.uint32(), pa.large_string()),
        pa.run_end_encoded(pa.int32(), pa.string()),
        pa.run_end_encoded(pa.int16(), pa.string()),
    ],
    ids=str,
)
def test_text_in_every_form_is_text(type_: pa.DataType) -> None:
    """A reading written as text goes the same way as a name."""
    text = ["0.8", "0.8", None, "0.9", "0.9", "0.9"]
    made = tk.cells(6) | {"sample_g": [None if it is None else float(it) for it in text]}
    if isinstance(type_, pa.RunEndEncodedType):
        ends = pa.array([2, 3, 6], type_.run_end_type)
        column = pa.RunEndEncodedArray.from_arrays(ends, pa.array(["0.8", None, "0.9"]))
    elif isinstance(type_, pa.DictionaryType):
        column = pa.array(text).dictionary_encode().cast(type_)
    else:
        column = pa.array(text, type_)
    table = tk.arrow(made).set_column(2, "sample_g", column)
    for start, rows in ((0, 6), (1, 4), (3, 3)):
        part = {name: cells[start : start + rows] for name, cells in made.items()}
        agree(tk.from_arrow(bc.correct(table.slice(start, rows), JOB)), reference(part))


def test_dictionaries_and_runs_of_numbers_are_numbers() -> None:
    made = tk.cells(6) | {"sample_g": [0.8, 0.8, None, 0.9, 0.9, 0.9]}
    values = pa.array([0.9, 0.8, None])
    coded = pa.DictionaryArray.from_arrays(pa.array([1, 1, 2, 0, 0, 0], pa.int32()), values)
    runs = pa.RunEndEncodedArray.from_arrays(pa.array([2, 3, 6], pa.int32()), pa.array([0.8, None, 0.9]))
    for column in (coded, runs):
        table = tk.arrow(made).set_column(2, "sample_g", column)
        agree(tk.from_arrow(bc.correct(table, JOB)), reference(made))
        part = {name: cells[1:5] for name, cells in made.items()}
        agree(tk.from_arrow(bc.correct(table.slice(1, 4), JOB)), reference(part))


def test_names_may_be_whole_numbers_and_not_fractions() -> None:
    made = tk.cells(2)
    for column in (np.array([1001, 1002]), np.array([1001, 1002], dtype=object)):
        bc.correct(tk.of_dict(made) | {"bead": column}, JOB)
        bc.correct(tk.arrow(made).set_column(0, "bead", pa.array(column)), JOB)
    for table in (
        tk.of_dict(made) | {"bead": np.array([1001.0, 1002.0])},
        tk.arrow(made).set_column(0, "bead", pa.array([1001.0, 1002.0])),
    ):
        with pytest.raises(bc.BeadchemError, match="Column bead is of type .* where names or times belong"):
            bc.correct(table, JOB)


def test_lists_and_objects_are_columns_too() -> None:
    made = tk.cells(4) | {"sample_g": [0.8, None, 1, math.nan]}
    expected = reference(made)
    agree(tk.from_arrays(bc.correct(tk.of_masked(made) | {"sample_g": tk.words(made["sample_g"])}, JOB)), expected)
    agree(tk.from_arrays(bc.correct(tk.of_masked(made) | {"sample_g": made["sample_g"]}, JOB)), expected)
    text = tk.of_masked(made) | {"sample_g": np.array(["0.8", "0.9", "1", "2"])}
    agree(tk.from_arrays(bc.correct(text, JOB)), reference(made | {"sample_g": [0.8, 0.9, 1.0, 2.0]}))
    for cells in ([0.8, None, 2**53 + 1, 1.0], [0.8, b"0.8", 1.0, 1.0], [10**400, None, 1.0, 1.0]):
        with pytest.raises(bc.BeadchemError, match=r"Column sample_g is of type object \(row \d holds"):
            bc.correct(tk.of_dict(made) | {"sample_g": tk.words(cells)}, JOB)
    with pytest.raises(bc.BeadchemError, match="with 2 dimensions"):
        bc.correct(tk.of_dict(made) | {"sample_g": np.ones((4, 1))}, JOB)


@pytest.mark.parametrize("name", ["sample_g", "kept"])
def test_columns_of_different_length_are_refused(name: str) -> None:
    with pytest.raises(bc.BeadchemError) as refused:
        bc.correct(tk.of_dict(tk.cells(4)) | {name: np.ones(3)}, JOB, keep="kept" if name == "kept" else ())
    assert refused.value.code == "shape.mismatch"


# Trap 3: DuckDB


def test_duckdb_leaves_the_connection_free_and_gives_its_result_to_it() -> None:
    made = tk.with_states(3000)
    with duckdb.connect() as connection:
        connection.register("beads", tk.arrow(made))
        result = bc.correct(connection.sql("select * from beads"), JOB, keep=["bead"], connection=connection)
        assert connection.sql("select count(*) from beads").fetchall() == [(3000,)]
        joined = connection.sql(f"select count(*), sum({RESULT}) from result join beads using (bead)")
        assert joined.fetchall()[0][0] == 3000
        assert connection.sql("select count(*) from beads").fetchall() == [(3000,)]


def test_duckdb_without_a_connection_gives_a_relation_of_the_default_one() -> None:
    with duckdb.connect() as connection:
        connection.register("beads", tk.arrow(tk.cells(10)))
        result = bc.correct(connection.sql("select * from beads"), JOB)
        assert duckdb.sql("select count(*) from result").fetchall() == [(10,)]
        with pytest.raises(duckdb.Error):
            connection.sql("select count(*) from result")


def test_duckdb_reads_through_a_cursor() -> None:
    with duckdb.connect() as connection:
        connection.execute("create table beads as select 0.8 as sample_g, 8.0 as flux_g, 13500 as Ca_Ka_cps, 1710 as Mg_Ka_cps, 400 as Si_Ka_cps")
        cursor = connection.cursor()
        result = bc.correct(cursor.table("beads"), JOB, connection=connection)
        assert len(result.fetchall()) == 1


# Trap 4: chunks, lazy frames


def test_chunks_stay_as_they_were() -> None:
    table = tk.chunked(tk.with_states(30))
    result = bc.correct(table, JOB)
    assert [len(chunk) for chunk in result[RESULT].chunks] == [7, 7, 7, 7, 2]  # an empty one is not handed on
    assert bc.correct(tk.Speaker(table), JOB).__repr__().startswith("<ArrowColumns 30 rows in 5 chunks: ")
    read = bc.correct(table.to_reader(), JOB)
    assert [batch.num_rows for batch in read] == [7, 7, 7, 7, 2]


def test_findings_count_their_rows_over_all_chunks() -> None:
    made = tk.with_states(30)
    rows = [row for row, mass in enumerate(made["sample_g"]) if mass is None]
    for table in (tk.chunked(made), tk.arrow(made), tk.of_polars(made), tk.of_polars(made).lazy()):
        _, found = bc.correct(table, JOB, findings=True)
        found = found.collect() if isinstance(found, pl.LazyFrame) else found
        code, row = (found[name].to_pylist() if isinstance(found, pa.Table) else found[name].to_list() for name in ("code", "row"))
        assert [at for at, word in zip(row, code, strict=True) if word == "mass.missing"] == rows


def test_a_name_that_occurs_twice_is_found_across_chunks() -> None:
    made = tk.cells(30)
    made["bead"][25] = made["bead"][3]
    for kind in KINDS:
        if kind.name == "reader":
            continue  # looked for within a batch
        _, found = bc.correct(kind.make(made), JOB, findings=True)
        rows = kind.read(found)
        at = [row for row, word in zip(rows["row"], rows["code"], strict=True) if word == "bead.doubled"]
        assert at == [3, 25], kind.name
        for known in ({"B-3"}, ()):
            result = kind.read(bc.correct(kind.make(made), JOB, doubled=known))
            assert [row for row, word in enumerate(result["finding"]) if word == "bead.doubled"] == [3, 25][: 2 * len(known)]
    batches = tk.chunked(made).to_reader()
    result = tk.from_arrow(bc.correct(batches, JOB, doubled={"B-3"}).read_all())
    assert [row for row, word in enumerate(result["finding"]) if word == "bead.doubled"] == [3, 25]


def test_rows_of_a_lazy_frame_that_runs_in_parts_are_counted_through() -> None:
    made = tk.with_states(5000)
    expected = reference(made)["reason"]
    for engine in ("in-memory", "streaming"):
        result = bc.correct(tk.of_polars(made).lazy(), JOB, doubled=()).collect(engine=engine)  # type: ignore[call-overload]
        assert result["reason"].to_list() == expected
    without = bc.correct(tk.of_polars(made).drop("bead").lazy(), JOB).collect(engine="streaming")
    assert [word is None for word in without["reason"].to_list()] == [word is None for word in expected]


def test_findings_of_pandas_group_by_what_was_found() -> None:
    for make in (tk.of_pandas, tk.of_pandas_nullable, tk.of_pandas_arrow):
        result = bc.correct(make(tk.with_states(10)), JOB)
        assert set(result.groupby("finding", observed=False).size().index) == set(result["finding"].dropna())


def test_a_lazy_frame_stays_lazy_and_is_not_optimised_through() -> None:
    made = tk.with_states(50)
    lazy = bc.correct(tk.of_polars(made).lazy(), JOB, keep=["bead"])
    expected = reference(made, keep=["bead"])
    assert lazy.select(RESULT).collect()[RESULT].to_list()[0] == expected[RESULT][0]
    high = lazy.filter(pl.col(OTHER_RESULT) > expected[OTHER_RESULT][0]).select("bead").collect()["bead"].to_list()
    found = zip(expected["bead"], expected[OTHER_RESULT], strict=True)
    assert high == [name for name, value in found if value is not None and value > expected[OTHER_RESULT][0]]
    assert lazy.filter(pl.col("bead") == "B-7").collect()[RESULT].to_list() == [expected[RESULT][7]]
    assert lazy.head(3).collect().height == 3
    assert lazy.collect_schema() == bc.correct(tk.of_polars(made), JOB, keep=["bead"]).schema


def test_a_reader_is_read_only_as_far_as_its_result_is() -> None:
    table = tk.arrow(tk.cells(10))
    taken = []

    def batches() -> Any:
        for batch in table.to_batches(max_chunksize=2):
            taken.append(len(batch))
            yield batch

    result = bc.correct(pa.RecordBatchReader.from_batches(table.schema, batches()), JOB)
    assert taken == []
    result.read_next_batch()
    assert taken == [2]


def test_a_refusal_in_a_reader_arrives_as_what_it_is() -> None:
    made = tk.cells(4)
    table = tk.arrow(made).set_column(2, "sample_g", pa.array([1, 2, 3, 2**53 + 1]))
    result = bc.correct(pa.RecordBatchReader.from_batches(table.schema, table.to_batches(max_chunksize=2)), JOB)
    assert result.read_next_batch().num_rows == 2
    with pytest.raises(bc.BeadchemError, match="row 3"):
        result.read_next_batch()


# The PyCapsule protocol


def test_a_stream_that_breaks_off_says_why() -> None:
    table = tk.arrow(tk.cells(4))

    def batches() -> Any:
        yield from table.to_batches()
        raise OSError("the disk is gone")

    with pytest.raises(bc.BeadchemError, match="the disk is gone") as refused:
        JOB.correct_stream(pa.RecordBatchReader.from_batches(table.schema, batches()))
    assert refused.value.code == "table.stream"


def test_a_stream_is_read_once() -> None:
    reader = tk.arrow(tk.cells(4)).to_reader()
    capsule = reader.__arrow_c_stream__()

    class Once:
        def __arrow_c_stream__(self, requested_schema: object = None) -> object:
            return capsule

    assert len(JOB.correct_stream(Once()).table) == 4
    with pytest.raises(bc.BeadchemError) as refused:
        JOB.correct_stream(Once())
    assert refused.value.code == "table.stream"


def test_capsules_of_another_name_and_other_objects_are_refused() -> None:
    table = tk.batch(tk.cells(4))
    schema, array = table.__arrow_c_array__()

    class Wrong:
        def __arrow_c_stream__(self, requested_schema: object = None) -> object:
            return schema

    class Swapped:
        def __arrow_c_array__(self, requested_schema: object = None) -> object:
            return array, schema

    class NoCapsule:
        def __arrow_c_stream__(self, requested_schema: object = None) -> object:
            return 7

    class Single:
        def __arrow_c_array__(self, requested_schema: object = None) -> object:
            return pa.array([1.0, 2.0]).__arrow_c_array__()

    for broken, kind in ((Wrong, ValueError), (Swapped, ValueError), (NoCapsule, TypeError), (Single, bc.BeadchemError)):
        with pytest.raises(kind):
            JOB.correct_stream(broken())
    assert pa.RecordBatch._import_from_c_capsule(schema, array).num_rows == 4  # neither was taken
    for thing in (7, "table", [1.0], None):
        with pytest.raises(bc.BeadchemError) as refused:
            bc.correct(thing, JOB)
        assert refused.value.code == "table.kind"


def test_what_is_taken_is_released_once_and_what_is_given_lives_on() -> None:
    before = pa.total_allocated_bytes()
    for _ in range(20):
        table = tk.arrow(tk.with_states(1000))
        done = JOB.correct_stream(table, keep=["bead"])
        done.table.__arrow_c_stream__()  # a capsule nobody takes
        kept = pa.table(done.table)["bead"]
        again = pa.table(done.table)
        del table, done
        assert kept.to_pylist() == again["bead"].to_pylist() and kept[999].as_py() == "B-999"
        del kept, again
    assert pa.total_allocated_bytes() == before


def test_the_schema_can_be_asked_for_alone_and_metadata_goes_through() -> None:
    table = tk.arrow(tk.cells(2)).replace_schema_metadata({"lab": "7"})
    for made in (table, table.to_batches()[0]):
        result = bc.correct(made, JOB)
        assert result.schema.metadata[b"lab"] == b"7" and b"beadchem" in result.schema.metadata
    empty = JOB.correct_stream(table.schema.empty_table())
    assert pa.schema(empty.table).equals(bc.correct(table, JOB).schema, check_metadata=True) and len(empty.table) == 0
