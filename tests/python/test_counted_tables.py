"""Tables of counted readings: rates, backgrounds, counting times and the time of each bead as columns."""

import datetime as dt
import warnings
from typing import Any

import beadchem as bc
import duckdb
import numpy as np
import pandas as pd
import polars as pl
import pyarrow as pa
import pytest

TIMES = ["2026-03-14T08:20", "2026-03-14T10:00", "2026-03-14T11:40"]
PEAKS = {"Ca Ka": 13_700.0, "Mg Ka": 1_740.0, "Si Ka": 408.0}
SECONDS = [38.0, 40.0, 42.0]


def charge(sample_g: float) -> bc.Charge:
    lot = bc.FluxLot(
        "F-1", {"Li2B4O7": 50, "LiBO2": 50}, programme="1050 C, 18 min", loss_percent=bc.value(0.4, u=0.03)
    )
    return bc.Charge(bc.Sample(bc.value(sample_g, u=1e-4), basis="dried"), lot.weigh(bc.value(8.0, u=1e-4)))


def drift() -> bc.Drift:
    at = {"Ca Ka": bc.value(9_000, u=5), "Mg Ka": bc.value(2_000, u=3), "Si Ka": bc.value(5_000, u=4)}
    monitor = bc.Monitor("M-1", at)
    for hour, part in (("08:00", 0.995), ("10:00", 0.991), ("12:00", 0.988)):
        monitor = monitor.reading(f"2026-03-14T{hour}", {line: bc.value(cps.value * part, u=3) for line, cps in at.items()})
    return bc.Drift(monitor)


def correction(**more: Any) -> bc.Correction:
    fields = []
    for line in PEAKS:
        fields.append(bc.Field("peak", line, counting_s="seconds", dead_time=flow_counter()))
        fields.append(bc.Field("background 1", line, counting_s=20, weight=1.0))
    return bc.Correction(
        bc.Method.template(), charge(0.8), loss_on_fusion_percent=46.3, fields=fields, drift=drift(), **more
    )


def flow_counter() -> bc.DeadTime:
    return bc.DeadTime(bc.value(4e-7, u=2e-8), detector="flow counter")


def beads() -> dict[str, Any]:
    columns: dict[str, Any] = {
        "sample_g": np.full(3, 0.8),
        "flux_g": np.full(3, 8.0),
        "seconds": np.array(SECONDS),
        "measured_at": np.array(TIMES, dtype=object),
    }
    for line, cps in PEAKS.items():
        columns[f"{line.replace(' ', '_')}_peak_cps"] = np.array([cps, 1.01 * cps, 0.99 * cps])
        columns[f"{line.replace(' ', '_')}_background_1_cps"] = np.full(3, 0.02 * cps)
    return columns


def test_a_counted_row_is_the_assay_of_its_bead() -> None:
    found = bc.correct(beads(), correction(), uncertainty="variance")
    table = bc.correct(pd.DataFrame(beads()), correction(), uncertainty="variance")
    for row, (time, seconds) in enumerate(zip(TIMES, SECONDS, strict=True)):
        readings = []
        for line in PEAKS:
            column = f"{line.replace(' ', '_')}_"
            peak = float(beads()[column + "peak_cps"][row])
            background = float(beads()[column + "background_1_cps"][row])
            below = [(1.0, background, 20.0)]
            reading = bc.LineReading.counted(line, peak, seconds, backgrounds=below, dead_time=flow_counter())
            readings.append(reading)
        melt = charge(0.8).fuse(loss_on_fusion_percent=46.3)
        assay = bc.Method.template().assay(melt, readings, bead="B", at=time, drift=drift())
        for species in ("CaO", "MgO", "SiO2"):
            assert found[f"{species}_percent"][row] == assay.value(species)
            assert found[f"{species}_percent_u"][row] == pytest.approx(assay.u(species), rel=1e-10)
            assert table[f"{species}_percent"][row] == assay.value(species)


def test_a_counted_correction_is_stored_with_its_weights_and_monitors() -> None:
    made = correction()
    again = bc.Correction.from_json(made.to_json())
    assert again == made and again.drift == drift() and bc.Correction(bc.Method.template(), charge(0.8)).drift is None
    weights = {field.name: field.weight for field in again.declared}
    times = {field.name: field.dead_time for field in again.declared}
    assert times["Ca_Ka_peak_cps"] == flow_counter() and times["Ca_Ka_background_1_cps"] is None
    assert weights["Ca_Ka_background_1_cps"] == 1.0 and weights["Ca_Ka_peak_cps"] is None
    assert "seconds" in again.fields and "measured_at" in again.fields


def test_a_row_without_a_time_or_a_background_says_so() -> None:
    columns = beads()
    columns["measured_at"] = np.array([None, TIMES[1], "2026-03-14T07:00"], dtype=object)
    frame = pd.DataFrame(columns)
    frame.loc[1, "Si_Ka_background_1_cps"] = None
    found = bc.correct(frame, correction())
    assert list(found["finding"]) == ["drift.unpaired", "background.missing", "drift.before-first"]
    assert found["CaO_percent"].isna().all()


def with_times(kind: str, zone: str | None = None) -> Any:
    """The beads, their times in a column of times."""
    naive = np.array(TIMES, dtype="datetime64[us]")
    columns = beads()
    if kind == "numpy":
        return columns | {"measured_at": naive}
    if kind == "objects":
        zoned = dt.timezone.utc if zone else None
        times = [dt.datetime.fromisoformat(time).replace(tzinfo=zoned) for time in TIMES]
        return columns | {"measured_at": np.array(times, dtype=object)}
    if kind == "pandas":
        times = pd.to_datetime(naive)
        return pd.DataFrame(columns).assign(measured_at=times.tz_localize("UTC").tz_convert(zone) if zone else times)
    if kind == "polars":
        return pl.DataFrame(columns).with_columns(measured_at=pl.Series(naive).dt.replace_time_zone(zone and "UTC"))
    table = pa.table({name: pa.array(cells) for name, cells in columns.items()})
    place = table.column_names.index("measured_at")
    typed = pa.timestamp("s" if kind == "seconds" else "ns", zone and "UTC")
    table = table.set_column(place, "measured_at", pa.array(naive).cast(typed))
    return duckdb.from_arrow(table) if kind == "duckdb" else table


@pytest.mark.parametrize("kind", ["numpy", "objects", "pandas", "polars", "seconds", "nanoseconds", "duckdb"])
def test_times_may_stand_in_a_column_of_times(kind: str) -> None:
    """As ISO text says it; pandas, databases and parquet files bring times, not text."""
    found = bc.correct(with_times(kind), correction())
    lime = found.to_arrow_table()["CaO_percent"] if kind == "duckdb" else found["CaO_percent"]
    assert list(np.array(lime)) == list(bc.correct(beads(), correction())["CaO_percent"])


@pytest.mark.parametrize("kind", ["objects", "pandas", "polars", "seconds"])
def test_times_with_a_zone_count_in_utc(kind: str) -> None:
    monitor = bc.Monitor("M-1", {line: bc.value(9_000, u=5) for line in PEAKS})
    for hour in ("08:00", "12:00"):
        monitor = monitor.reading(f"2026-03-14T{hour}Z", {line: bc.value(8_900, u=3) for line in PEAKS})
    fields = correction().declared
    zoned = bc.Correction(bc.Method.template(), charge(0.8), loss_on_fusion_percent=46.3, fields=fields, drift=bc.Drift(monitor))
    text = beads() | {"measured_at": np.array([f"{time}:00Z" for time in TIMES])}
    found = bc.correct(with_times(kind, "Europe/Paris"), zoned)
    assert list(np.array(found["CaO_percent"])) == list(bc.correct(text, zoned)["CaO_percent"])
    refused = bc.correct(with_times(kind), zoned)
    assert set(np.array(refused["finding"])) == {"time.unreadable"}, "a time without a zone is not one with"


def test_a_time_that_is_not_there_says_so_and_a_date_is_midnight() -> None:
    gone = with_times("numpy")
    gone["measured_at"][1] = np.datetime64("NaT")
    assert list(bc.correct(gone, correction())["finding"]) == [None, "drift.unpaired", None]
    days = beads() | {"measured_at": np.array(["2026-03-15"] * 3, dtype="datetime64[D]")}
    text = beads() | {"measured_at": np.array(["2026-03-15"] * 3)}
    assert list(bc.correct(days, correction())["CaO_percent"]) == list(bc.correct(text, correction())["CaO_percent"])


def test_a_declared_count_says_its_time_and_weight() -> None:
    for made, code, words in [
        (lambda: bc.Field("background 1", "Ca Ka", counting_s=20, weight=0.0), "reading.contradicts", "weight 0"),
        (lambda: bc.Field("moisture", weight=1.0), "table.layout", "holds no background"),
        (lambda: bc.Field("moisture", dead_time=flow_counter()), "table.layout", "holds no counted peak"),
        (lambda: bc.Field("peak", "Ca Ka", u=1.0), "table.layout", "follows from its counting time"),
        (lambda: with_field(bc.Field("peak", "Ca Ka")), "table.layout", "no counting time"),
        (lambda: with_field(bc.Field("background 1", "Ca Ka", counting_s=9, weight=1)), "reading.contradicts", "net"),
    ]:
        with pytest.raises(bc.BeadchemError) as refused:
            made()
        assert refused.value.code == code and words in str(refused.value)


def with_field(field: bc.Field) -> bc.Correction:
    return bc.Correction(bc.Method.template(), charge(0.8), fields=[field])


@pytest.mark.parametrize(
    ("how", "code"),
    [({"u": "beside"}, "uncertainty.boundless"), ({"counting_s": "beside"}, "number.out-of-range")],
)
def test_a_number_that_leaves_no_finite_u_is_refused_in_its_row(how: dict[str, str], code: str) -> None:
    quantity = "intensity"
    fields = [bc.Field(quantity, "Ca Ka", **how)]
    lot = bc.FluxLot("F-118", {"Li2B4O7": 50, "LiBO2": 50}, programme="1050 C, 18 min", loss_percent=0.38)
    charge = bc.Charge(bc.Sample(0.8, basis="dried"), lot.weigh(8.0))
    correction = bc.Correction(bc.Method.template(), charge, loss_on_fusion_percent=46.3, counting_s=20 if "u" in how else None, fields=fields)
    table = {
        "sample_g": np.full(3, 0.8),
        "flux_g": np.full(3, 8.0),
        "Ca_Ka_cps": np.full(3, 13_500.0),
        "Mg_Ka_cps": np.full(3, 1_710.0),
        "Si_Ka_cps": np.full(3, 400.0),
        "beside": np.array([20.0, 1e160, 20.0]),
    }
    with warnings.catch_warnings():
        warnings.simplefilter("ignore", bc.BeadchemNote)
        found = bc.correct(table, correction, uncertainty="variance")
    assert found["finding"].tolist() == [None, code, None]
    assert np.isfinite(found["CaO_percent_u"]).tolist() == [True, False, True] and np.isnan(found["CaO_percent"][1])
    with pytest.raises(bc.BeadchemError) as refused:
        bc.Field(quantity, "Ca Ka", **dict.fromkeys(how, 1e160))
    assert refused.value.code == code
