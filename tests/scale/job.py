"""The Spark job as a program of its own: job.py TAKES.csv OUT MASTER EVENTS; prints how many takes came to which status."""

import json
import os
import sys
import tempfile
import warnings
from pathlib import Path

warnings.filterwarnings("ignore", "PySpark does not yet fully support", FutureWarning)

import pyspark  # noqa: E402
from pyspark.sql import SparkSession  # noqa: E402

import takegauge.spark  # noqa: E402

COLUMNS = "path string, drill string, player string, level string, day date"

if __name__ == "__main__":
    takes, out, master, events = sys.argv[1:]
    # This machine alone, and this Python on its workers; a local cluster takes what it runs from here.
    os.environ.update(
        SPARK_LOCAL_IP="127.0.0.1",
        SPARK_LOCAL_HOSTNAME="localhost",
        PYSPARK_PYTHON=sys.executable,
        SPARK_HOME=str(Path(pyspark.__file__).parent),
        SPARK_WORKER_DIR=tempfile.mkdtemp(dir=events, prefix="work-"),
    )
    # A run of minutes: what the machine code of these programs would gain is less than making it costs.
    short = "-XX:TieredStopAtLevel=1 -XX:+UseSerialGC"
    settings = {
        "spark.driver.extraJavaOptions": short,
        "spark.executor.extraJavaOptions": short,
        "spark.ui.enabled": "false",
        "spark.eventLog.enabled": "true",
        "spark.eventLog.dir": f"file://{events}",
        "spark.eventLog.compress": "false",
        "spark.eventLog.rolling.enabled": "false",
        "spark.driver.memory": "1g",
        "spark.executor.memory": "1g",
    }
    build = SparkSession.builder.master(master).appName("takegauge")
    for name, value in settings.items():
        build = build.config(name, value)
    spark = build.getOrCreate()
    spark.sparkContext.setLogLevel("ERROR")
    table = spark.read.csv(takes, header=True, schema=COLUMNS)
    print(json.dumps(takegauge.spark.write(table, out)), flush=True)
    spark.stop()
