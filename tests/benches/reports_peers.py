"""The SQL of reports.sql on a server's SQLite file, and the same figures by polars where it is installed. Prints JSON."""

import json
import pathlib
import sqlite3
import sys
import time

SQL = pathlib.Path(__file__).with_name("reports.sql").read_text()
ROWS = """
SELECT round_id, pupil_id, CASE outcome WHEN 'right' THEN 1 ELSE 0 END FROM response WHERE corrects IS NULL
"""
PUPILS = """
SELECT m.pupil_id, m.class_id, y.year_group FROM class_member m
JOIN pupil_year y ON y.school_id = m.school_id AND y.pupil_id = m.pupil_id AND y.year = 2026
"""
TIMES = 15


def middle(work):
    """The time in the middle of so many, in milliseconds, and what the work answered last."""
    times = []
    for _ in range(TIMES):
        begun = time.perf_counter()
        answer = work()
        times.append((time.perf_counter() - begun) * 1000)
    return sorted(times)[TIMES // 2], answer


def by_polars(store, expected):
    """The same cells by polars, from rows that are in memory already; none where it is not installed."""
    try:
        import polars
    except ImportError:
        return None
    def read(statement, columns):
        return polars.DataFrame(store.execute(statement).fetchall(), schema=columns, orient="row")

    frame = read(ROWS, ["round", "pupil", "correct"])
    pupils = read(PUPILS, ["pupil", "class", "year"])
    fields = read("SELECT pupil_id, field, value FROM pupil_field", ["pupil", "field", "value"])
    sums = [polars.len().alias("offered"), polars.col("correct").sum()]

    def work():
        one = frame.group_by("round", "pupil").agg(sums).join(pupils, on="pupil")
        none = one.with_columns(field=polars.lit(""), value=polars.lit(""))
        said = polars.concat([none, one.join(fields, on="pupil").select(none.columns)])
        both = polars.col("offered", "correct").sum()
        keys = [["round", "year", "class", "field", "value"], ["round", "year", "field", "value"], ["round", "field", "value"]]
        return sum(len(said.group_by(key).agg(both)) for key in keys)

    took, cells = middle(work)
    assert cells == expected, (cells, expected)
    return took


def main():
    store = sqlite3.connect(f"file:{sys.argv[1]}?mode=ro", uri=True)
    took, rows = middle(lambda: store.execute(SQL).fetchall())
    print(json.dumps({"sql_ms": took, "cells": len(rows), "polars_ms": by_polars(store, len(rows))}))


main()
