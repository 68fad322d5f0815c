"""The Spark job on one machine, small: the large form, on a cluster whose worker is killed, is ``tests/run scale``."""

import datetime
import os
import shutil
import sys

import pyarrow.parquet
import pytest
from conftest import AUDIO, TAKES, paths, run

import takegauge as tg

pytest.importorskip("pyspark")
if shutil.which("java") is None:
    pytest.skip("Spark needs a Java runtime (the system package default-jre-headless)", allow_module_level=True)

pytestmark = pytest.mark.filterwarnings("ignore:PySpark does not yet fully support:FutureWarning")

BROKEN = ("empty.wav", "text.flac")


@pytest.fixture(scope="module")
def spark(tmp_path_factory):
    from pyspark.sql import SparkSession

    # This machine alone, and this Python on it.
    os.environ.update(SPARK_LOCAL_IP="127.0.0.1", PYSPARK_PYTHON=sys.executable)
    settings = {
        "spark.ui.enabled": "false",
        "spark.sql.shuffle.partitions": "2",
        "spark.driver.memory": "512m",
        "spark.sql.warehouse.dir": str(tmp_path_factory.mktemp("warehouse")),
    }
    build = SparkSession.builder.master("local[2]")
    for name, value in settings.items():
        build = build.config(name, value)
    session = build.getOrCreate()
    session.sparkContext.setLogLevel("ERROR")
    yield session
    session.stop()


@pytest.fixture(scope="module")
def folder(tmp_path_factory):
    """Twelve takes, two of them broken, each with its drill under its name."""
    folder = tmp_path_factory.mktemp("takes")
    for name in TAKES:
        for file in paths(name):
            shutil.copy(file, folder)
    for name in TAKES[:2]:
        shutil.copy(AUDIO / f"{name}.flac", folder / f"{name} again.flac")
    (folder / f"{TAKES[0]} {BROKEN[0]}").write_bytes(b"")
    (folder / f"{TAKES[1]} {BROKEN[1]}").write_text("this is no sound")
    return folder


@pytest.fixture(scope="module")
def listed(folder):
    """Path, drill, player, level and day of each take."""
    files = sorted(str(f) for ending in ("flac", "wav") for f in folder.glob(f"*.{ending}"))
    assert len(files) == 12
    return [
        (f, next(str(folder / f"{n}.toml") for n in TAKES if f"/{n}" in f), f"player {k % 3}", "middle", datetime.date(2026, 3, 1 + k % 2))
        for k, f in enumerate(files)
    ]


COLUMNS = "path string, drill string, player string, level string, day date"


@pytest.fixture(scope="module")
def batch(folder):
    """The two tables of the program."""
    run("batch", folder, "--out", folder / "takes.parquet", "--notes", folder / "notes.parquet")
    return [pyarrow.parquet.read_table(folder / f"{name}.parquet").to_pylist() for name in ("takes", "notes")]


@pytest.fixture(scope="module")
def written(spark, listed, tmp_path_factory):
    import takegauge.spark

    out = tmp_path_factory.mktemp("out") / "scored"
    counts = takegauge.spark.write(spark.createDataFrame(listed, COLUMNS), out, takes_a_task=5)
    assert counts == {"scored": 10, "unreadable": 2}
    return out


def read(folder, order, without=()):
    """The rows of a table in order, without the columns that came from the list."""
    table = pyarrow.parquet.read_table(folder)
    rows = table.select([name for name in table.schema.names if name not in ("player", "level", "day", *without)]).to_pylist()
    return sorted(rows, key=lambda row: [row[name] for name in order])


def test_the_rows_are_those_of_batch(written, batch):
    takes, notes = batch
    assert read(written / "takes", ["path"]) == sorted(takes, key=lambda row: row["path"])
    key = ["path", "pass", "index"]
    assert read(written / "notes", key) == sorted(notes, key=lambda row: [row[name] for name in key])


def test_what_came_with_a_take_stands_in_its_row(written, listed):
    takes = pyarrow.parquet.read_table(written / "takes").to_pylist()
    told = {(r["path"], r["player"], r["level"], str(r["day"])) for r in takes}
    assert told == {(path, player, level, str(day)) for path, _, player, level, day in listed}
    days = sorted(f.name for f in (written / "notes").iterdir() if f.is_dir())
    assert days == ["day=2026-03-01", "day=2026-03-02"]
    assert sorted(f.name for f in written.iterdir()) == ["notes", "takes"], "nothing else is left behind"


def test_a_day_is_not_written_over_in_silence(spark, written, listed):
    import takegauge.spark

    one = spark.createDataFrame(listed[:1], COLUMNS)
    before = read(written / "takes", ["path"])
    with pytest.raises(tg.InputError, match="2026-03-01 already; replace=True"):
        takegauge.spark.write(one, written)
    assert read(written / "takes", ["path"]) == before
    new = [(*listed[0][:4], datetime.date(2026, 3, 9))]
    takegauge.spark.write(spark.createDataFrame(new, COLUMNS), written)
    assert len(read(written / "takes", ["path"])) == len(before) + 1
    # The one day alone is written anew.
    assert takegauge.spark.write(spark.createDataFrame(new, COLUMNS), written, replace=True) == {"scored": 1}
    assert len(read(written / "takes", ["path"])) == len(before) + 1
    # Where nothing of a day can be scored any more, its old notes go too.
    gone = [("no-such.wav", *new[0][1:])]
    assert takegauge.spark.write(spark.createDataFrame(gone, COLUMNS), written, replace=True) == {"unreadable": 1}
    assert not list((written / "notes").glob("day=2026-03-09/*.parquet"))
    for table in ("takes", "notes"):
        shutil.rmtree(written / table / "day=2026-03-09", ignore_errors=True)


def test_bytes_of_files_come_to_the_same_rows(spark, folder, batch, tmp_path):
    from pyspark.sql import functions as F

    import takegauge.spark

    path, drill = folder / f"{TAKES[0]}.flac", (folder / f"{TAKES[0]}.toml").read_text()
    files = spark.read.format("binaryFile").load(str(path)).select(F.lit(str(path)).alias("path"), "content")
    takes = files.selectExpr("*", "'Ada' AS player", "DATE'2026-03-01' AS day").withColumn("drill", F.lit(drill))
    takegauge.spark.write(takes, tmp_path / "scored")
    (row,) = read(tmp_path / "scored" / "takes", ["path"])
    assert row == next(r for r in batch[0] if r["path"] == str(path))


def test_takes_without_a_drill_are_rows_too(spark, listed):
    import takegauge.spark

    path, _, *rest = listed[0]
    takes = spark.createDataFrame([(path, None, *rest), (path, "no-such-drill", *rest), (path, "name = \n", *rest)], COLUMNS)
    rows = takegauge.spark.score(takes).select("status", "reason", "notes").collect()
    assert [row.status for row in rows] == ["no_drill"] * 3 and all(row.notes == [] for row in rows)
    assert "which drill" in rows[0].reason and "no-such-drill" in rows[1].reason


def test_what_no_job_can_do_is_told_before_it_starts(spark, listed):
    import takegauge.spark

    takes = spark.createDataFrame(listed[:1], COLUMNS)
    with pytest.raises(tg.InputError, match="tempo=5"):
        takegauge.spark.score(takes, tempo=5)
    with pytest.raises(tg.InputError, match="no column player, day"):
        takegauge.spark.score(takes.drop("player", "day"))
    with pytest.raises(tg.InputError, match="played; rename"):
        takegauge.spark.score(takes.withColumn("played", takes.level))


@pytest.fixture(scope="module")
def school(spark):
    """Two tables of a made-up school whose answers are known: beginners are late at 3>2 inside at 90, nobody at 2>3;
    Ada's scatter falls, Bea's stays."""
    takes, notes = [], []
    for k in range(6):
        for level, late in (("beginner", 3), ("advanced", 0)):
            path, player = f"{level}{k}", f"{level} {k}"
            takes.append((datetime.date(2026, 1, 1), player, path, level, "scored", "Threes", 96.0, 6.0, 5.0))
            for i in range(40):
                change = (3, 2, "inside") if i % 2 else (2, 3, "outside")
                is_late = i % 2 and i // 2 % 4 < late - k % 2
                notes.append((datetime.date(2026, 1, 1), player, path, "played", *change, False, 12.0 if is_late else 1.0, 0.5))
    for player, falls in (("Ada", 0.2), ("Bea", 0.0)):
        for day in range(12):
            spread = 10.0 - falls * day + (0.3, -0.2, 0.1, -0.3)[day % 4]
            takes.append((datetime.date(2026, 1, 2) + datetime.timedelta(day), player, f"{player}{day}", "middle", "scored", "Threes", 121.0, 6.0, spread))
    kinds = "day date, player string, path string, level string, status string, drill string, tempo_bpm double, hearing_limit_ms double, spread_ms double"
    of_notes = "day date, player string, path string, status string, change_from int, change_to int, change_kind string, after_gap boolean, local_deviation_ms double, uncertainty_ms double"
    return spark.createDataFrame(takes, kinds), spark.createDataFrame(notes, of_notes)


def test_the_change_that_is_most_often_late(school):
    import takegauge.school

    rows = takegauge.school.late_changes(*school).collect()
    told = {(r.level, r.from_bpm, r.change): r for r in rows}
    assert len(told) == 4 and all(r.players == 6 and r.notes == 120 for r in rows)
    late = told["beginner", 80, "3>2 inside"]
    assert late.place == 1 and late.verdict == "most often" and 55 < late.late_pct < 75
    # Student's t of six players: the quantile is 2.571, the interval symmetric about the mean.
    shares = [100 * sum(1 for i in range(1, 40, 2) if i // 2 % 4 < 3 - k % 2) / 20 for k in range(6)]
    mean = sum(shares) / 6
    half = 2.5706 * (sum((s - mean) ** 2 for s in shares) / 5 / 6) ** 0.5
    assert late.late_pct == pytest.approx(mean, abs=0.06)
    assert (late.high_pct - late.low_pct) / 2 == pytest.approx(half, rel=0.01)
    assert {r.verdict for r in rows if r.level == "advanced"} == {"cannot tell", ""}
    # None of 120 notes: not certainly never.
    assert told["advanced", 80, "3>2 inside"].late_pct == 0 and told["advanced", 80, "3>2 inside"].high_pct == 2.5


def test_who_improved(school):
    import takegauge.school

    takes, _ = school
    told = {r.player: r for r in takegauge.school.improved(takes).collect()}
    assert told["Ada"].verdict == "improved" and told["Ada"].spread_ms_a_week == pytest.approx(-1.4, abs=0.1)
    assert told["Ada"].low_ms_a_week < -1.4 < told["Ada"].high_ms_a_week < 0
    assert told["Bea"].verdict == "cannot tell" and told["Bea"].asked == 2
    # One day is no trend.
    assert told["beginner 0"].verdict == "cannot tell" and told["beginner 0"].spread_ms_a_week is None


def test_the_answers_to_a_written_table_are_printed(spark, written, capsys):
    import takegauge.school

    takegauge.school.main(str(written))
    said = capsys.readouterr().out
    assert "late_pct" in said and "spread_ms_a_week" in said and "player 1" in said
