"""A thousand takes on a Spark cluster of two workers, against `takegauge batch` on the same machine.

Usage: cluster.py TARGET_FOLDER [TAKES BROKEN REPEATS] (the folder holds takegauge and examples/many_takes)

Three runs over the same takes: batch; the job; the job again with one of its two workers killed in the midst. Held:
the rows are the same three times, a row a take and once each; a lost worker costs no more than the tasks it was at;
processor time a take at most 1.15 times that of batch, everything that Spark starts included. With
TAKEGAUGE_SCALE_FOLDER takes and runs are kept there, and a run that was stopped goes on behind the last one that ended.
"""

import json
import os
import shutil
import signal
import subprocess
import sys
import tempfile
import time
from pathlib import Path

import pyarrow.parquet
from processes import below, measured, result

HERE = Path(__file__).resolve().parent
TARGET = Path(sys.argv[1])
TAKES, BROKEN, REPEATS = (int(n) for n in (sys.argv[2:5] or (1000, 20, 6)))
MASTER = "local-cluster[2,1,1024]"
MOST_CPU = 1.15
# Below this many takes what Spark costs once would be taken for what it costs a take.
ENOUGH_TAKES = 1000
GIVEN = ("player", "level", "day")


def say(text):
    print(f"   {text}", flush=True)


def rows(table, order):
    """A table without the columns that came from the list, sorted."""
    read = pyarrow.parquet.read_table(table)
    return read.drop_columns([c for c in GIVEN if c in read.schema.names]).sort_by([(c, "ascending") for c in order])


def same(mine, theirs, what):
    assert mine.schema.names == theirs.schema.names, what
    assert mine.num_rows == theirs.num_rows, (what, mine.num_rows, theirs.num_rows)
    for name in mine.schema.names:
        if mine[name].combine_chunks() != theirs[name].combine_chunks():
            raise AssertionError(f"{what}: column {name} differs")


def hold(out, takes, notes, what):
    mine = rows(out / "takes", ["path"])
    assert len(set(mine["path"].to_pylist())) == mine.num_rows == TAKES, f"{what}: every take once"
    same(mine, takes, f"{what}, takes")
    same(rows(out / "notes", ["path", "pass", "index"]), notes, f"{what}, notes")


def kill_a_worker(job, out):
    """Kills one of the job's two executors once a fourth of the scoring tasks have been done."""
    tasks = -(-TAKES // 20)
    while job.poll() is None:
        done = list(out.glob("_scored-*/_temporary/*/task_*"))
        executors = [pid for pid, words in below(job.pid) if any("CoarseGrainedExecutorBackend" in w for w in words)]
        if len(done) >= tasks / 4 and executors:
            assert len(done) < tasks, "the job was done before a worker could be killed"
            os.kill(executors[0], signal.SIGKILL)
            say(f"killed worker process {executors[0]} after {len(done)} of {tasks} tasks")
            return
        time.sleep(0.1)
    raise AssertionError("the job ended before a worker could be killed")


def attempts(events):
    """Of the stage that scores: its tasks, how often one was tried, how often one came through."""
    ends, tasks = {}, {}
    for file in events.glob("*"):
        if file.is_dir():
            continue
        for line in file.read_text().splitlines():
            event = json.loads(line)
            if event["Event"] == "SparkListenerStageSubmitted":
                info = event["Stage Info"]
                if any("mapInArrow" in str(rdd) or "PythonArrow" in str(rdd) or "MapInArrow" in str(rdd) for rdd in info["RDD Info"]):
                    tasks[info["Stage ID"]] = max(info["Number of Tasks"], tasks.get(info["Stage ID"], 0))
            elif event["Event"] == "SparkListenerTaskEnd":
                ends.setdefault(event["Stage ID"], []).append(event["Task End Reason"]["Reason"])
    stage = max(tasks, key=lambda s: tasks[s])
    return tasks[stage], len(ends[stage]), sum(1 for r in ends[stage] if r == "Success")


def job(takes, out, events):
    for left in (out, events):  # By a run that was stopped.
        shutil.rmtree(left, ignore_errors=True)
    events.mkdir()
    return measured([sys.executable, HERE / "job.py", takes, out, MASTER, events])


def once(folder, name, work):
    """What a run came to: now, or when it was made and kept."""
    kept = folder / f"{name}.json"
    if not kept.exists():
        kept.write_text(json.dumps(work()))
    return json.loads(kept.read_text())


def make(folder):
    began, load = time.monotonic(), os.getloadavg()[0]
    words = [TARGET / "examples" / "many_takes", folder / "in", TAKES, BROKEN, REPEATS]
    subprocess.run([str(word) for word in words], check=True)
    return {"wall_s": time.monotonic() - began, "load": load}


def batch(folder):
    load = os.getloadavg()[0]
    paths = [line.split(",")[0] for line in (folder / "in" / "takes.csv").read_text().splitlines()[1:]]
    (folder / "list").write_text("".join(f"{path}\n" for path in paths))
    with open(folder / "list") as names, open(folder / "told", "w") as told:
        command = [TARGET / "takegauge", "batch", "-", "--out", folder / "takes.parquet", "--notes", folder / "notes.parquet"]
        done = result(measured(command, stdin=names, stderr=told))
    assert done["code"] == 1 and f"{BROKEN} of {TAKES} takes could not be scored" in (folder / "told").read_text()
    return {**done, "load": load}


def whole(folder):
    load = os.getloadavg()[0]
    done = result(job(folder / "in" / "takes.csv", folder / "whole", folder / "events"))
    assert done["code"] == 0, done
    return {**done, "load": load}


def killed(folder):
    load = os.getloadavg()[0]
    started = job(folder / "in" / "takes.csv", folder / "killed", folder / "events-killed")
    kill_a_worker(started, folder / "killed")
    done = result(started)
    assert done["code"] == 0, done
    return {**done, "load": load}


def told(what, run):
    say(f"{what}: {run['cpu_s']:.1f} s of processor, {run['wall_s']:.0f} s of wall clock; load before {run['load']:.1f}")


def compare(folder):
    made = once(folder, "made", lambda: make(folder))
    say(f"{TAKES} takes, {BROKEN} of them broken, made in {made['wall_s']:.0f} s")
    by_batch = once(folder, "batch", lambda: batch(folder))
    takes, notes = rows(folder / "takes.parquet", ["path"]), rows(folder / "notes.parquet", ["path", "pass", "index"])
    sound_s = sum(s or 0 for s in takes["duration_s"].to_pylist())
    say(f"{sound_s / 3600:.1f} hours of sound, {notes.num_rows} notes")
    told("batch", by_batch)
    say(f"batch: peak {by_batch['peak_kb'] // 1024} MB")

    by_job = once(folder, "whole", lambda: whole(folder))
    counts = json.loads(by_job["said"])
    assert sum(counts.values()) == TAKES and counts["scored"] == TAKES - BROKEN, counts
    hold(folder / "whole", takes, notes, "job")
    told("job", by_job)
    ratio = by_job["cpu_s"] / by_batch["cpu_s"]
    say(f"job: {ratio:.3f} of the processor time of batch; most is {MOST_CPU}")

    told("job with a worker killed", once(folder, "killed", lambda: killed(folder)))
    hold(folder / "killed", takes, notes, "job with a worker killed")
    tasks, tried, through = attempts(folder / "events-killed")
    say(f"job with a worker killed: {tasks} tasks, {tried} tries, {through} came through")
    # A worker has one core, so it is at one task; others find out that the list they read is gone, and try again.
    assert tasks < tried <= tasks + 4 and through <= tasks + 1
    say(f"rows are the same three times: {takes.num_rows} takes, {notes.num_rows} notes")
    if TAKES >= ENOUGH_TAKES:
        assert ratio <= MOST_CPU, f"processor time a take is {ratio:.2f} times that of batch"


def main():
    if kept := os.environ.get("TAKEGAUGE_SCALE_FOLDER"):
        Path(kept).mkdir(parents=True, exist_ok=True)
        compare(Path(kept))
        return
    with tempfile.TemporaryDirectory(prefix="takegauge-scale-") as folder:
        compare(Path(folder))


if __name__ == "__main__":
    main()
