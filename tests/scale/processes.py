"""Processes of a measurement: what a command and all that it starts takes of the processors, and who is below whom.
Linux only."""

import ctypes
import json
import os
import resource
import subprocess
import sys
import threading
import time
from pathlib import Path

PR_SET_CHILD_SUBREAPER = 36


def measured(command, **how):
    """Starts a command. Its standard output ends in one line of JSON: return code, wall clock s, processor s (user and
    system) of it and of everything that it started, and what the command itself printed last."""
    return subprocess.Popen([sys.executable, __file__, *map(str, command)], stdout=subprocess.PIPE, text=True, **how)


def result(started):
    """What a measured command came to, once it has ended."""
    said, _ = started.communicate()
    return json.loads(said.splitlines()[-1])


def below(pid):
    """Process ids and command lines of all that a process started and that still runs."""
    found = []
    for children in Path(f"/proc/{pid}/task").glob("*/children"):
        try:
            for child in map(int, children.read_text().split()):
                words = Path(f"/proc/{child}/cmdline").read_bytes().decode(errors="replace").split("\0")
                found += [(child, words), *below(child)]
        except OSError:
            continue  # It ended meanwhile.
    return found


def own_s(pid):
    """Processor seconds of a process alone, and when it was started: ids are used again."""
    fields = Path(f"/proc/{pid}/stat").read_text().rsplit(")", 1)[1].split()
    return (int(fields[11]) + int(fields[12])) / os.sysconf("SC_CLK_TCK"), fields[19]


class Unwaited:
    """What nobody waits for: PySpark's daemon has its workers reaped by the system, so that their time is in no sum. They
    are looked at ten times a second, which misses at most the last tenth of each."""

    def __init__(self):
        self.seen, self.over = {}, threading.Event()
        self.thread = threading.Thread(target=self.watch)
        self.thread.start()

    def watch(self):
        while not self.over.wait(0.1):
            workers = set()
            for pid, words in below(os.getpid()):
                if "pyspark.daemon" in words:
                    workers |= {child for child, _ in below(pid)}
            for pid in workers:
                try:
                    seconds, started = own_s(pid)
                except OSError:
                    continue
                self.seen[pid, started] = seconds

    def seconds(self):
        self.over.set()
        self.thread.join()
        return sum(self.seen.values())


def main(command):
    # Whatever outlives its parent becomes a child of this process, which waits for it: nothing goes uncounted.
    ctypes.CDLL(None, use_errno=True).prctl(PR_SET_CHILD_SUBREAPER, 1, 0, 0, 0)
    began, unwaited = time.monotonic(), Unwaited()
    child = subprocess.Popen(command, stdout=subprocess.PIPE, text=True)
    said, _ = child.communicate()
    wall = time.monotonic() - began
    while True:
        try:
            os.wait()
        except ChildProcessError:
            break
    used = resource.getrusage(resource.RUSAGE_CHILDREN)
    last = said.strip().splitlines()[-1:] or [""]
    cpu = used.ru_utime + used.ru_stime + unwaited.seconds()
    told = {"code": child.returncode, "wall_s": wall, "cpu_s": cpu, "peak_kb": used.ru_maxrss}
    print(json.dumps({**told, "said": last[0]}))


if __name__ == "__main__":
    main(sys.argv[1:])
