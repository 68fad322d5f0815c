"""Processes of a measurement: what a command and all that it starts takes of the processors, and who is below whom.
Linux only."""

import ctypes
import json
import os
import resource
import subprocess
import sys
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


def main(command):
    # Whatever outlives its parent becomes a child of this process, which waits for it: nothing goes uncounted.
    ctypes.CDLL(None, use_errno=True).prctl(PR_SET_CHILD_SUBREAPER, 1, 0, 0, 0)
    began = time.monotonic()
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
    told = {"code": child.returncode, "wall_s": wall, "cpu_s": used.ru_utime + used.ru_stime, "peak_kb": used.ru_maxrss}
    print(json.dumps({**told, "said": last[0]}))


if __name__ == "__main__":
    main(sys.argv[1:])
