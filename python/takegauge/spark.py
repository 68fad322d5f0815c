"""Very many takes: an Apache Spark job over the package.

    import takegauge.spark

    takes = spark.read.csv("takes.csv", header=True, schema="path string, drill string, player string, day date")
    takegauge.spark.write(takes, "scored")         # scored/takes and scored/notes, Parquet, a folder a day

PySpark and pyarrow are wanted here only; the package itself needs neither. On every machine of the cluster the package
must be installed, and a path must lead to the same file everywhere. Each task scores a few takes and keeps nothing, so
that a lost machine costs no more than the tasks it was at.
"""

from __future__ import annotations

import contextlib
import importlib
import os
import uuid
from collections.abc import Iterable, Iterator, Mapping
from functools import lru_cache, partial
from typing import TYPE_CHECKING, Any

from ._drill import Drill
from ._errors import DrillError, InputError
from ._takes import Rows, no_rows, rows

if TYPE_CHECKING:
    from pyspark.sql import DataFrame, SparkSession
    from pyspark.sql.types import DataType

__all__ = ["score", "write"]

# What a table of takes must have; any other column goes through to the rows of takes.
_NEEDED = ("path", "drill", "player", "day")
_KEYS = ("day", "player", "path")
# Columns that go into the score and not through.
_USED = ("drill", "content")


def score(takes: DataFrame, **options: Any) -> DataFrame:
    """One row a take: the columns of ``takes``, those of the program's table of takes, and ``notes``, an array.

    ``takes`` has the columns ``path``, ``drill`` (a drill file, the name of a built-in drill, or the text of a drill
    file), ``player`` and ``day``; where it also has ``content``, the bytes of the file, ``path`` is only what the take is
    called. Every other column goes through. ``options`` are those of :func:`takegauge.score`, the same for all takes.

    A take that has no score is a row with its reason (``status``, ``reason``) and no notes. Nothing is kept from take to
    take; what Spark does again comes to the same rows. Takes go to the engine in the batches of
    ``spark.sql.execution.arrow.maxRecordsPerBatch``: with ``content`` let that be a few, as :func:`write` does.
    """
    from pyspark.sql.types import ArrayType, StructField, StructType

    _checked(takes)
    rows("", Drill.read("inside-pair"), **options)  # An option that no take has is told here, and not by every task.
    through = [field for field in takes.schema if field.name not in _USED]
    take, notes = _columns()
    own = [StructField(name, kind) for name, kind in take.items() if name != "path"]
    note = StructType([StructField(name, kind) for name, kind in notes.items() if name != "path"])
    taken = sorted({field.name for field in through} & {*take, "notes"} - {"path"})
    if taken:
        raise InputError(f"the table of takes has columns that the scores have too: {', '.join(taken)}; rename them")
    # ``drill`` is from here on the name of the drill that was read.
    schema = StructType([*through, *own, StructField("notes", ArrayType(note))])
    return takes.mapInArrow(partial(_score, through=[f.name for f in through], options=options), schema)


def write(
    takes: DataFrame, out: str | os.PathLike[str], *, replace: bool = False, takes_a_task: int = 20, **options: Any
) -> dict[str, int]:
    """Scores takes into two Parquet tables, ``out/takes`` and ``out/notes``, with a folder a day; how many takes came to
    which ``status``.

    ``takes`` and ``options`` are as in :func:`score`. Days are added to what is there; a day that is there already is
    refused, or with ``replace`` written anew. A take is scored once: tasks of ``takes_a_task`` takes write what they
    found to ``out``, and the two tables are made from that; each appears whole or not at all, the table of takes last.
    A table with ``content`` keeps its own partitions, so that sound is not sent about.
    """
    from pyspark.sql import functions as F

    _checked(takes)
    spark, out = takes.sparkSession, os.fspath(out)
    if not hasattr(spark, "_jvm"):
        raise InputError("this wants a Spark session of its own, and not one through Spark Connect")
    days = {str(row.day) for row in takes.select("day").distinct().collect()}
    if not days:
        raise InputError("there is no take in this table")
    there = _days(spark, f"{out}/takes") & days
    if there and not replace:
        listed = ", ".join(sorted(there)[:5])
        raise InputError(f"{out} holds takes of {listed} already; replace=True writes these days anew")
    if "content" not in takes.columns:
        takes = takes.repartition(max(1, -(-takes.count() // takes_a_task)))
    # Names that begin so are passed over by whoever reads the folder.
    scratch = f"{out}/_scored-{uuid.uuid4().hex}"
    settings = {
        # Takes in memory at once in a task.
        "spark.sql.execution.arrow.maxRecordsPerBatch": "8",
        # A table that is written anew replaces the days that it holds.
        "spark.sql.sources.partitionOverwriteMode": "dynamic",
        # As the program writes.
        "spark.sql.parquet.compression.codec": "zstd",
    }
    with _settings(spark, settings), _deleted(spark, scratch):
        score(takes, **options).write.parquet(scratch)
        scored = spark.read.parquet(scratch)
        # A day that is written anew and has no notes any more would keep its old ones.
        silent = there - {str(row.day) for row in scored.where(F.size("notes") > 0).select("day").distinct().collect()}
        note = [F.col("note")[name].alias(name) for name in _columns()[1] if name != "path"]
        notes = scored.select(*_KEYS, F.explode("notes").alias("note")).select(*_KEYS, *note)
        for table, name, order in [(notes, "notes", (*_KEYS, "pass", "index")), (scored.drop("notes"), "takes", _KEYS)]:
            # Files of an even size, whatever the days hold.
            even = table.hint("rebalance", "day").sortWithinPartitions(*order)
            even.write.mode("overwrite").partitionBy("day").parquet(f"{out}/{name}")
        for day in silent:
            _delete(spark, f"{out}/notes/day={day}")
        return {row["status"]: row["count"] for row in scored.groupBy("status").count().orderBy("status").collect()}


def _checked(takes: DataFrame) -> None:
    missing = [name for name in _NEEDED if name not in takes.columns]
    if missing:
        raise InputError(f"the table of takes has no column {', '.join(missing)}; it needs {', '.join(_NEEDED)}")


def _columns() -> tuple[dict[str, DataType], dict[str, DataType]]:
    """The columns of the two tables, as the engine has them."""
    from pyspark.sql import types

    pyarrow = _pyarrow()

    kinds = {
        "string": types.StringType(),
        "int32": types.IntegerType(),
        "int64": types.LongType(),
        "double": types.DoubleType(),
        "bool": types.BooleanType(),
    }

    def of(table: Any) -> dict[str, DataType]:
        return {field.name: kinds[str(field.type)] for field in pyarrow.schema(table)}

    take, notes = no_rows("", "")
    return of(take), of(notes)


def _pyarrow() -> Any:
    """It has no types of its own."""
    return importlib.import_module("pyarrow")


def _score(batches: Iterable[Any], through: list[str], options: Mapping[str, Any]) -> Iterator[Any]:
    """What a task does: one batch of records out for each take in."""
    pyarrow = _pyarrow()
    for batch in batches:
        for k in range(batch.num_rows):
            one = batch.slice(k, 1)
            given = {name: one.column(name)[0].as_py() for name in ("path", *_USED) if name in one.schema.names}
            take, notes = (pyarrow.table(table).combine_chunks() for table in _rows(given, options))
            note = notes.drop_columns(["path"])
            inside = pyarrow.StructArray.from_arrays([c.combine_chunks() for c in note.columns], fields=list(note.schema))
            columns = {name: one.column(name) for name in through}
            columns |= {name: take[name].combine_chunks() for name in take.schema.names if name != "path"}
            columns["notes"] = pyarrow.ListArray.from_arrays(pyarrow.array([0, len(inside)], pyarrow.int32()), inside)
            yield pyarrow.RecordBatch.from_pydict(columns)


def _rows(given: Mapping[str, Any], options: Mapping[str, Any]) -> Rows:
    path, content = given["path"] or "", given.get("content")
    try:
        known = _drill(given["drill"] or "")
    except DrillError as why:
        return no_rows(path, "which drill was played? None is named" if given["drill"] is None else str(why))
    return rows(path if content is None else content, known, path=path, **options)


@lru_cache(maxsize=256)
def _drill(named: str) -> Drill:
    return Drill(named) if "\n" in named else Drill.read(named)


def _days(spark: SparkSession, table: str) -> set[str]:
    """The days of a table that may not be there yet."""
    from pyspark.errors import AnalysisException

    try:
        return {str(row.day) for row in spark.read.parquet(table).select("day").distinct().collect()}
    except AnalysisException:
        return set()


@contextlib.contextmanager
def _settings(spark: SparkSession, settings: Mapping[str, str]) -> Iterator[None]:
    before = {name: spark.conf.get(name, None) for name in settings}
    for name, value in settings.items():
        spark.conf.set(name, value)
    try:
        yield
    finally:
        for name, was in before.items():
            spark.conf.unset(name) if was is None else spark.conf.set(name, was)


@contextlib.contextmanager
def _deleted(spark: SparkSession, folder: str) -> Iterator[None]:
    """Takes a folder away afterwards."""
    try:
        yield
    finally:
        _delete(spark, folder)


def _delete(spark: SparkSession, folder: str) -> None:
    """Deletes a folder, on whatever file system it is; no error where there is none."""
    java: Any = spark.sparkContext._jvm
    path = java.org.apache.hadoop.fs.Path(folder)
    path.getFileSystem(spark.sparkContext._jsc.hadoopConfiguration()).delete(path, True)
