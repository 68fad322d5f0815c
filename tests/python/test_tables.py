"""Tables are what the program's CSV and Parquet files are, in whatever takes the Arrow C interface."""

import io
import json

import duckdb
import jams
import mir_eval
import numpy as np
import pandas
import polars
import pyarrow
import pyarrow.csv
import pytest
from conftest import AUDIO, paths, program

import takegauge as tg


def test_tables_are_the_programs_csv(late, tmp_path):
    take, drill = paths("late_inside")
    program("score", take, "--drill", drill, "--csv", tmp_path / "t")
    for table, file in [(late.notes, "t-notes.csv"), (late.changes, "t-changes.csv")]:
        given = pyarrow.table(table)
        text_columns = {f.name: f.type for f in given.schema}
        options = pyarrow.csv.ConvertOptions(column_types=text_columns, strings_can_be_null=True)
        assert pyarrow.csv.read_csv(tmp_path / file, convert_options=options).to_pylist() == given.to_pylist()


def test_four_libraries_read_one_table(late):
    notes = late.notes
    late_ones = [n for n in notes if n.deviation_ms is not None and n.deviation_ms > 10]
    assert len(late_ones) > 10
    frame = polars.DataFrame(notes)
    assert frame.filter(polars.col("deviation_ms") > 10).height == len(late_ones)
    data = pandas.DataFrame.from_arrow(notes)
    assert (data["deviation_ms"] > 10).sum() == len(late_ones)
    ((count,),) = duckdb.sql("SELECT count(*) FROM notes WHERE deviation_ms > 10").fetchall()
    assert count == len(late_ones)
    table = pyarrow.table(notes)
    assert table.num_rows == len(notes) and table["deviation_ms"].to_pylist() == [n.deviation_ms for n in notes]
    assert pyarrow.schema(notes).names == notes.columns == frame.columns == list(data.columns)


def test_figures_of_groups_are_those_of_the_json(late):
    frame = polars.DataFrame(late.groups)
    for group, row in zip(late.groups, frame.to_dicts(), strict=True):
        assert (row["group"], row["n"], row["bias_ms"], row["spread_ms"]) == (
            group.group,
            group.n,
            group.bias_ms,
            group.spread_ms,
        )
        ends = group.bias_ci95_ms or [None, None]
        assert [row["bias_low_ms"], row["bias_high_ms"]] == ends


def test_a_table_can_be_taken_again_and_outlives_its_report():
    take, drill = paths("late_inside")
    notes = tg.score(take, drill).notes
    first, second = pyarrow.table(notes), pyarrow.table(notes)
    del notes
    assert first.equals(second) and first.num_rows > 100


def test_no_value_is_copied(late):
    notes = late.notes
    addresses = {pyarrow.table(notes)["expected_s"].chunk(0).buffers()[1].address for _ in range(3)}
    assert len(addresses) == 1


def test_attacks_are_within_mir_evals_window_of_the_answers():
    take, _ = paths("late_inside")
    truth = np.array(json.loads((AUDIO / "late_inside.json").read_text())["attacks_s"])
    heard = np.array(tg.onsets(take).times_s)
    f, _, _ = mir_eval.onset.f_measure(truth, heard, window=0.01)
    assert f > 0.97


def test_jams_reads_what_is_given(late):
    annotated = jams.load(io.StringIO(late.to_jams()))
    (onset,) = annotated.search(namespace="onset")
    (notes,) = annotated.search(namespace="note_midi")
    timed = [n for n in late.notes if n.played_s is not None]
    assert len(notes.data) == len(timed) and len(onset.data) == len(timed) + len(late.extra)
    assert annotated.file_metadata.duration == pytest.approx(late.take.duration_s)
