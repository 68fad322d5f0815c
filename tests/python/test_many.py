"""Rows of many takes: the package's are those that ``takegauge batch`` writes as Parquet."""

import shutil

import pyarrow
import pyarrow.parquet
import pytest
from conftest import AUDIO, TAKES, paths, run

import takegauge as tg


@pytest.fixture(scope="module")
def folder(tmp_path_factory):
    """Four takes, each with its drill under its own name, and three that have no score."""
    folder = tmp_path_factory.mktemp("takes")
    for name in TAKES[:4]:
        for file in paths(name):
            shutil.copy(file, folder)
    (folder / f"{TAKES[0]} empty.wav").write_bytes(b"")
    (folder / f"{TAKES[0]} text.flac").write_text("this is no sound")
    (folder / "nobody knows.wav").write_bytes(b"")
    return folder


@pytest.fixture(scope="module")
def batch(folder):
    """The two tables of the program, a row a take and a row a note."""
    takes, notes = folder / "takes.parquet", folder / "notes.parquet"
    done = run("batch", folder, "--out", takes, "--notes", notes)
    assert done.returncode == 1 and b"3 of 7 takes could not be scored" in done.stderr, done.stderr.decode()
    assert b"each is a row with its reason" in done.stderr
    return pyarrow.parquet.read_table(takes), pyarrow.parquet.read_table(notes)


def drill_of(path):
    return next((AUDIO / f"{name}.toml" for name in TAKES if f"/{name}" in path), None)


def test_rows_are_those_of_batch(batch):
    takes, notes = batch
    known = [path for path in takes["path"].to_pylist() if drill_of(path)]
    assert takes.num_rows == 7 and len(known) == 6
    rows = [tg.rows(path, drill_of(path)) for path in known]
    mine = pyarrow.concat_tables([pyarrow.table(r.take) for r in rows])
    theirs = takes.filter(pyarrow.compute.is_in(takes["path"], pyarrow.array(known)))
    assert mine.to_pylist() == theirs.to_pylist()
    assert [(f.name, f.type) for f in mine.schema] == [(f.name, f.type) for f in takes.schema]
    mine = pyarrow.concat_tables([pyarrow.table(r.notes) for r in rows])
    assert mine.to_pylist() == notes.to_pylist() and notes.num_rows > 400
    assert [(f.name, f.type) for f in mine.schema] == [(f.name, f.type) for f in notes.schema]


def test_a_take_without_a_score_is_a_row_with_its_reason(batch):
    takes, notes = batch
    told = {r["path"].rsplit("/", 1)[-1]: r for r in takes.to_pylist() if r["status"] != "scored"}
    assert {name: r["status"] for name, r in told.items()} == {
        f"{TAKES[0]} empty.wav": "unreadable",
        f"{TAKES[0]} text.flac": "unreadable",
        "nobody knows.wav": "no_drill",
    }
    # With no drill beside it the sound is asked which one it is, and there is none.
    assert "the file is empty" in told["nobody knows.wav"]["reason"]
    for row in told.values():
        assert row["reason"] and {name for name, value in row.items() if value is not None} == {"path", "status", "reason"}
    assert not set(notes["path"].to_pylist()) & {row["path"] for row in told.values()}


def test_the_row_of_a_take_is_its_score():
    take, drill = paths("late_inside")
    score, rows = tg.score(take, drill), tg.rows(take, drill)
    (row,) = pyarrow.table(rows.take).to_pylist()
    summary = score.summary
    assert (row["played"], row["missed"], row["extra"], row["wrong_pitch"]) == (
        summary.played, summary.missed, summary.extra, summary.wrong_pitch,
    )
    assert (row["spread_ms"], [row["spread_low_ms"], row["spread_high_ms"]]) == (summary.spread_ms.value, summary.spread_ms.ci95)
    assert row["finding"] == score.findings[0].text and row["findings"] == len(score.findings)
    assert pyarrow.table(rows.notes).drop_columns(["path"]).equals(pyarrow.table(score.notes))


def test_bytes_and_arrays_come_to_the_rows_of_their_file(samples):
    take, drill = paths("late_inside")
    file = tg.rows(take, drill)
    held = tg.rows(take.read_bytes(), drill, path=str(take))
    assert pyarrow.table(held.take).equals(pyarrow.table(file.take))
    assert pyarrow.table(held.notes).equals(pyarrow.table(file.notes))
    x, rate = samples("late_inside")
    (row,) = pyarrow.table(tg.rows(x, drill, rate, path="mine").take).to_pylist()
    assert row["path"] == "mine" and row["played"] == pyarrow.table(file.take)["played"][0].as_py()


def test_reasons_speak_of_the_take_by_its_name():
    _, drill = paths("late_inside")
    (row,) = pyarrow.table(tg.rows(b"", drill, path="s3://school/a b.wav").take).to_pylist()
    assert row["status"] == "unreadable" and row["reason"].startswith("s3://school/a b.wav"), row["reason"]
    assert "takegauge-" not in row["reason"]
    (row,) = pyarrow.table(tg.rows("x.wav", "no-such-drill").take).to_pylist()
    assert row["status"] == "no_drill" and "no-such-drill" in row["reason"]


def test_what_no_take_has_is_raised():
    take, drill = paths("late_inside")
    with pytest.raises(tg.InputError, match="tempo=5"):
        tg.rows(take, drill, tempo=5)
    with pytest.raises(tg.InputError, match="what is the take called"):
        tg.rows(b"RIFF", drill)
    with pytest.raises(TypeError, match="loudness"):
        tg.rows(take, drill, loudness=3)
