"""Loss of power and failing disks at every write of every command that changes a journal or writes a file.

    python3 tests/crash/power_loss.py TAKEGAUGE            a few moments of each command: two minutes
    python3 tests/crash/power_loss.py TAKEGAUGE --all      every moment, several losses at each
    python3 tests/crash/power_loss.py TAKEGAUGE import restore

Each command runs once under strace. What it wrote is played on a disk that forgets (disk.py), and after each call the
power goes: the journal must then pass its own check, hold every take and task that had been confirmed, and the rest of the
command whole or not at all. Then each command is run again with one call failing (no room, an error of the disk): if it
says that all went well, all is there.
"""

import argparse
import hashlib
import json
import os
import random
import shutil
import sqlite3
import subprocess
import sys
import tempfile
from pathlib import Path

from disk import Disk, calls, record

HERE = Path(__file__).resolve().parent
TAKES = HERE.parent.parent / "test-audio"
# Errors of a full disk and of a broken one, and the calls that they come from.
FAULTS = [("pwrite64", "ENOSPC"), ("write", "ENOSPC"), ("fdatasync", "EIO"), ("fsync", "EIO"), ("ftruncate", "EIO"),
          ("rename", "EIO"), ("unlink", "EIO"), ("openat", "EMFILE"), ("linkat", "EPERM")]


class Desk:
    def __init__(self, program, folder):
        self.program, self.folder = program, Path(folder)
        outside = self.folder / "outside"
        (outside / "tmp").mkdir(parents=True)
        self.env = {"PATH": os.environ["PATH"], "HOME": str(outside), "TMPDIR": str(outside / "tmp"), "TZ": "UTC"}
        self.outside = outside

    def command(self, args):
        return [self.program, *[str(a) for a in args]]

    def journal(self, *args):
        return ["journal", "--journal-file", "journal.db", *args]

    def run(self, folder, args):
        return subprocess.run(self.command(args), cwd=folder, env=self.env, capture_output=True, timeout=120)

    def must(self, folder, args):
        done = self.run(folder, args)
        assert done.returncode == 0, f"{args}: {done.stderr.decode()}"
        return done.stdout.decode()

    def lines(self, folder, name="journal.db"):
        """The takes and tasks of a journal, to the letter; None where there is no file. It must pass its own check."""
        if not (folder / name).exists():
            return None
        journal = ["journal", "--journal-file", name]
        checked = self.run(folder, [*journal, "check"])
        assert checked.returncode == 0, f"check of {name}: {(checked.stdout + checked.stderr).decode()}"
        return self.must(folder, [*journal, "export", "-q"]).splitlines()


def line_of(one, k):
    line = json.loads(one)
    line["take"]["audio_sha256"] = f"{k:064x}"
    line["take"]["path"] = f"takes/{k}.wav"
    line["take"]["recorded_at"] = f"2026-01-01T18:{k // 60:02}:{k % 60:02}+01:00"
    return json.dumps(line)


class Scenario:
    """A command in a folder, and what must hold after a loss of power.

    `before` and `after` are the takes of the journal; each in `adds` may come one by one.
    """

    def __init__(self, name, args, adds=False, made=None, aside=None):
        self.name, self.args, self.adds, self.made, self.aside = name, args, adds, made, aside

    def holds(self, desk, folder, before, after, told):
        lines = desk.lines(folder)
        if lines is None:
            assert before is None and not told, "the journal is gone"
            lines = []
        old = before or []
        if self.adds:
            confirmed = told.count(b"\n")
            assert set(old) <= set(lines) <= set(after), "takes are gone, or changed"
            assert len(lines) >= len(old) + min(confirmed, len(after) - len(old)), f"{confirmed} confirmed, {len(lines)} there"
        elif told:
            assert lines == after, "told as done, and is not"
        else:
            assert lines in (old, after), "neither what was nor what should be"
        if self.made and (told or (folder / self.made).exists()):
            self.whole(desk, folder, after)
        if self.aside and lines == after != before:
            assert desk.lines(folder, self.aside) == before, "what was there is not beside it"

    def whole(self, desk, folder, after):
        if self.made.endswith(".db"):
            assert desk.lines(folder, self.made) == after, f"{self.made} is not whole"
        else:
            text = (folder / self.made).read_bytes()
            assert text in (b"of before\n", self.expected), f"{self.made} holds {len(text)} of {len(self.expected)} bytes"


def scenarios(desk, base):
    takes = [TAKES / f"{name}.flac" for name in ("smear_one_pair", "ladder_220")]
    j = desk.journal
    yield "none", Scenario("add", j("add", *takes[:1], "--drill", TAKES / "smear_one_pair.toml", "--player", "Ada", "-q"), adds=True)
    for kind in ("closed", "crashed"):
        yield kind, Scenario("import", j("import", "../outside/new.jsonl", "-v"), adds=True)
        yield kind, Scenario("delete", j("delete", "2", "3", "--yes"))
        yield kind, Scenario("undo", j("undo"))
        yield kind, Scenario("redo", j("redo"))
        yield kind, Scenario("mend", j("mend", "1", "3", "--player", "Bo", "--recorded-at", "2026-02-01", "--note", "new", "--tag", "one"))
        yield kind, Scenario("task set", j("task", "set", "slowly", "--player", "Ada", "--due", "2026-02-01", "--today", "2026-01-02"))
        yield kind, Scenario("task done", j("task", "done", "1", "--today", "2026-01-09"))
        yield kind, Scenario("task delete", j("task", "delete", "1"))
        yield kind, Scenario("compact", j("compact"))
        yield kind, Scenario("restore", j("restore", "../outside/backup.db"), aside="journal.db.before-restore-1")
        yield kind, Scenario("backup", j("backup", "copy.db"), made="copy.db")
        yield kind, Scenario("read", j("list", "--json", "-"))
    yield "old", Scenario("migrate", j("list", "--json", "-"))
    yield "closed", Scenario("export", j("export", "-o", "takes.jsonl"), made="takes.jsonl")
    yield "closed", Scenario("report", j("show", "1", "--html", "report.html", "-q"), made="report.html")


def bases(desk):
    """Folders with a journal as each kind of beginning leaves it."""
    place = desk.folder / "bases"
    made = {kind: place / kind for kind in ("none", "closed", "crashed", "old")}
    for folder in made.values():
        folder.mkdir(parents=True)
    one = desk.outside / "one"
    one.mkdir()
    desk.must(one, desk.journal("add", TAKES / "smear_one_pair.flac", "--drill", TAKES / "smear_one_pair.toml",
                                "--player", "Ada", "--picked", "all", "-q"))
    line = desk.must(one, desk.journal("export", "-q"))
    write = lambda name, numbers: (desk.outside / name).write_text("".join(line_of(line, k) + "\n" for k in numbers))
    write("first.jsonl", range(1, 7))
    write("more.jsonl", range(7, 9))
    write("new.jsonl", range(20, 24))
    closed = made["closed"]
    desk.must(closed, desk.journal("import", "../../outside/first.jsonl"))
    desk.must(closed, desk.journal("task", "set", "rolls", "--player", "Ada", "--today", "2026-01-02"))
    desk.must(closed, desk.journal("backup", "../../outside/backup.db"))
    # Something to undo, and something to redo.
    desk.must(closed, desk.journal("delete", "5", "--yes"))
    desk.must(closed, desk.journal("delete", "6", "--yes"))
    desk.must(closed, desk.journal("undo"))
    # As a crash leaves it: the newest takes are in the log alone.
    shutil.copytree(closed, desk.folder / "run")
    trace = desk.outside / "trace"
    assert record(desk.command(desk.journal("import", "../outside/more.jsonl", "-v")), desk.folder / "run", trace, desk.env).returncode == 0
    shutil.rmtree(desk.folder / "run")
    shutil.copytree(closed, desk.folder / "run")
    disk = Disk(desk.folder / "run")
    for call in calls(trace):
        disk.play(*call)
        if disk.printed.count(b"\n") == 2:
            break
    lay(made["crashed"], disk.left(everything=True))
    assert (made["crashed"] / "journal.db-wal").stat().st_size > 0
    shutil.rmtree(desk.folder / "run")
    # An earlier format: without checksums, and before players had keys and tasks.
    old = made["old"]
    shutil.copytree(closed, old, dirs_exist_ok=True)
    db = sqlite3.connect(old / "journal.db")
    db.executescript("DROP INDEX player_by_key; ALTER TABLE player DROP COLUMN key; DROP TABLE finding; DROP TABLE task; "
                     "DROP TABLE task_before; DROP TABLE seal; ALTER TABLE shelf DROP COLUMN sha256; ALTER TABLE action DROP COLUMN undone;"
                     "PRAGMA user_version = 3;")
    db.close()
    return made


def lay(folder, files):
    shutil.rmtree(folder, ignore_errors=True)
    folder.mkdir()
    for name, content in files.items():
        (folder / name).parent.mkdir(parents=True, exist_ok=True)
        (folder / name).write_bytes(content)


class Tally:
    def __init__(self):
        self.moments = self.states = self.failed = self.faults = 0


def power_loss(desk, base, scenario, everything, tally, seed):
    run, crashed, trace = desk.folder / "run", desk.folder / "crashed", desk.outside / "trace"
    fresh(run, base, scenario)
    before = desk.lines(fresh(crashed, base, scenario))
    done = record(desk.command(scenario.args), run, trace, desk.env)
    assert done.returncode == 0, f"{scenario.name}: {done.stderr.decode()}"
    if scenario.made and not scenario.made.endswith(".db"):
        scenario.expected = (run / scenario.made).read_bytes()
    after = desk.lines(run)
    disk = Disk(fresh(crashed, base, scenario))
    recorded = list(calls(trace))
    disk.rename(str(run.resolve()))
    chance = random.Random(seed)
    moments = sum(1 for call in recorded if call[0] in WRITES)
    every = 1 if everything else max(1, moments // 25)
    seen, n = set(), 0
    for call in recorded:
        if not disk.play(*call):
            continue
        n += 1
        if n % every and call[0] != "exit_group":
            continue
        tally.moments += 1
        told = disk.printed or (b"done" if disk.ended else b"")
        if scenario.adds:
            told = disk.printed
        left = [disk.left(), disk.left(everything=True)]
        left += [disk.left(random=chance) for _ in range(6 if everything else 1)]
        for files in left:
            mark = hashlib.sha256(repr((sorted(files.items()), told)).encode()).digest()
            if mark in seen:
                continue
            seen.add(mark)
            tally.states += 1
            lay(crashed, {name: content for name, content in files.items() if not name.endswith("-shm")})
            try:
                scenario.holds(desk, crashed, before, after, told)
            except AssertionError as why:
                tally.failed += 1
                sizes = {name: len(content) for name, content in files.items()}
                print(f"   {scenario.name} on {base.name}, after call {n} ({call[0]}), told {told[-60:]!r}: {why}; files {sizes}")


WRITES = ("write", "pwrite64", "ftruncate", "fsync", "fdatasync", "rename", "unlink", "link", "linkat", "copy_file_range", "openat")


def fresh(folder, base, scenario):
    shutil.rmtree(folder, ignore_errors=True)
    shutil.copytree(base, folder)
    if scenario.made and not scenario.made.endswith(".db"):
        (folder / scenario.made).write_text("of before\n")
    return folder


def faults(desk, base, scenario, everything, tally):
    """One call fails; what the command says of it must be true."""
    run, trace = desk.folder / "run", desk.outside / "trace"
    before = desk.lines(fresh(run, base, scenario))
    fresh(run, base, scenario)
    record(desk.command(scenario.args), run, trace, desk.env)
    after = desk.lines(run)
    count = {}
    for name, _, _ in calls(trace):
        count[name] = count.get(name, 0) + 1
    for call, error in FAULTS:
        times = range(1, count.get(call, 0) + 1)
        if not everything:
            times = sorted({*times[:1], *times[len(times) // 2 : len(times) // 2 + 1], *times[-1:]})
        for n in times:
            fresh(run, base, scenario)
            inject = ["strace", "-f", "-qq", "-o", "/dev/null", "-e", f"trace={call}", "-e", f"inject={call}:error={error}:when={n}"]
            done = subprocess.run(inject + desk.command(scenario.args), cwd=run, env=desk.env, capture_output=True, timeout=300)
            tally.faults += 1
            try:
                assert done.returncode in (0, 1, 2), f"exit {done.returncode}: {done.stderr.decode()[-300:]}"
                told = done.stdout if scenario.adds else b"done" if done.returncode == 0 else b""
                scenario.holds(desk, run, before, after, told)
            except AssertionError as why:
                tally.failed += 1
                print(f"   {scenario.name} on {base.name}, {call} {n} fails with {error}: {why}")


def main():
    parser = argparse.ArgumentParser()
    parser.add_argument("program")
    parser.add_argument("names", nargs="*")
    parser.add_argument("--all", action="store_true")
    parser.add_argument("--seed", type=int, default=1)
    args = parser.parse_args()
    tally = Tally()
    with tempfile.TemporaryDirectory(dir="/dev/shm" if os.path.isdir("/dev/shm") else None) as folder:
        desk = Desk(str(Path(args.program).resolve()), folder)
        made = bases(desk)
        for kind, scenario in scenarios(desk, made):
            if args.names and scenario.name not in args.names:
                continue
            first = (tally.moments, tally.states, tally.faults, tally.failed)
            power_loss(desk, made[kind], scenario, args.all, tally, args.seed)
            faults(desk, made[kind], scenario, args.all, tally)
            m, s, f, bad = (now - then for now, then in zip((tally.moments, tally.states, tally.faults, tally.failed), first))
            print(f"{scenario.name:8} on {kind:8}: {m:4} moments, {s:4} disks after a loss of power, {f:3} failing calls: "
                  f"{'held' if not bad else f'{bad} broke'}", flush=True)
    print(f"{tally.moments} moments, {tally.states} disks, {tally.faults} failing calls, seed {args.seed}: {tally.failed} broke")
    sys.exit(1 if tally.failed else 0)


if __name__ == "__main__":
    main()
