"""Whatever text comes in: a reading, a log, or a refusal in words; never anything else."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from fizzwright.plan.weather import Options, read_log
from fizzwright.plan.weather.line import read_line
from fizzwright.refusal import Refusal

CELL = st.one_of(
    st.sampled_from(
        ["2026-11-25T08:00Z", "25/11/2026 8:30", "1e9", "NA", "", "-999", "24:00", "21,4", "58%", "68 F", "+99:00", "1764057600", '"',
         "2026-02-30", "9999-12-31T23:59-14:00", "0001-01-01", "20261125T0830", "99999999999999", "inf", "time", "°C", "rh", "{", "\x85"]
    ),
    st.text(max_size=12),
    st.floats(allow_nan=True).map(str),
)  # fmt: skip
HEADS = st.sampled_from(
    [
        "time,temp,rh",
        "date;time;temp °C;dew point",
        "year,month,day,hour,temp f,humid",
        "Zeit\tTemperatur\tFeuchte",
        "unix,t,rh,site",
        "x",
    ]
)


@given(HEADS, st.lists(st.lists(CELL, max_size=6), max_size=8), st.sampled_from([",", ";", "\t"]))
def test_any_table_is_read_or_refused(head: str, rows: list[list[str]], separator: str) -> None:
    text = "\n".join([head, *(separator.join(row) for row in rows)])
    try:
        log = read_log(text.encode("utf-8", "replace"), "any.csv", Options(scale="C", day_first=True))
    except Refusal as refused:
        assert str(refused).endswith((".", "?", ")")), refused
        return
    assert len(log.utc) == len(log.room_c) == len(log.humidity_pct) > 0
    known = log.humidity_pct[np.isfinite(log.humidity_pct)]
    assert ((known >= 0) & (known <= 100)).all()


@given(st.lists(CELL, max_size=6).map(" ".join) | st.text(max_size=60))
def test_any_line_is_read_or_refused(text: str) -> None:
    try:
        reading = read_line(text)
    except Refusal:
        return
    assert -40 <= reading.room_c <= 50 and 0 <= reading.humidity_pct <= 100


@pytest.mark.parametrize(
    "data",
    [b"time,temp C,rh\r2026-11-25T08:00Z,20,50\r2026-11-25T09:00Z,20,50\r", b"a" * 200_000, b'"' + b"a," * 90_000],
)
def test_odd_line_ends_and_endless_cells(data: bytes) -> None:
    if b"temp" in data:
        assert len(read_log(data, "mac.csv").utc) == 2
        return
    with pytest.raises(Refusal):
        read_log(data, "long.csv")
