"""The package among other work: threads, interrupts, memory."""

import gc
import os
import signal
import subprocess
import sys
import threading
import time
from concurrent.futures import ThreadPoolExecutor

import numpy as np
import pytest
from conftest import paths

import takegauge as tg


def test_eight_threads_come_to_the_same(late):
    take, drill = paths("late_inside")
    with ThreadPoolExecutor(8) as pool:
        reports = list(pool.map(lambda _: tg.score(take, drill).to_json(), range(16)))
    assert set(reports) == {late.to_json()}


def test_the_interpreter_is_free_while_the_engine_works(samples):
    """A thread of pure Python goes on beside the engine, and work that waits for no lock takes the time of one core."""
    x, rate = samples("late_inside")
    stop, turns = threading.Event(), [0]

    def count():
        while not stop.is_set():
            turns[0] += 1
            time.sleep(0.001)

    beside = threading.Thread(target=count)
    beside.start()
    tg.onsets(np.tile(x, 8), rate)
    stop.set()
    beside.join()
    assert turns[0] > 5


def test_two_calls_are_under_way_at_once(samples):
    """Each call goes on only once the other has begun: were one lock held over a whole call, none would end.

    How much faster two cores are is for a machine without other work to tell: tests/scale/threads.py.
    """
    x, rate = samples("late_inside")
    long = np.tile(x, 30)  # Far longer than the engine goes without a look up.
    both, met = threading.Barrier(2), set()

    def meet(_):
        if threading.get_ident() not in met:
            met.add(threading.get_ident())
            both.wait(timeout=60)

    with ThreadPoolExecutor(2) as pool:
        calls = [pool.submit(tg.onsets, long, rate, progress=meet) for _ in range(2)]
        first, second = (call.result().to_json() for call in calls)
    assert first == second and len(met) == 2


def test_progress_is_told_and_may_stop_the_work():
    take, drill = paths("restarts")
    told = []
    tg.score(take, drill, progress=told.append)
    assert told == sorted(told) and all(0 <= share <= 1 for share in told)

    class Enough(Exception):
        pass

    def stop(share):
        raise Enough

    long = np.tile(np.random.default_rng(1).normal(0, 0.1, 48_000).astype("f4"), 120)
    with pytest.raises(Enough):
        tg.onsets(long, 48_000, progress=stop)


def test_an_interrupt_is_heeded_at_once(tmp_path):
    """A process that listens to ten minutes is told to stop, as Ctrl-C does."""
    script = tmp_path / "long.py"
    script.write_text(
        "import numpy, sys, takegauge\n"
        "x = numpy.random.default_rng(1).normal(0, 0.1, 600 * 48_000).astype('f4')\n"
        "take = x\n"
        "print('ready', flush=True)\n"
        "try:\n"
        "    while True:\n"
        "        takegauge.onsets(take, 48_000)\n"
        "except KeyboardInterrupt:\n"
        "    print('stopped', flush=True)\n"
    )
    child = subprocess.Popen([sys.executable, script], stdout=subprocess.PIPE, text=True)
    assert child.stdout.readline() == "ready\n"
    time.sleep(0.5)
    child.send_signal(signal.SIGINT)
    said, _ = child.communicate(timeout=60)
    assert said == "stopped\n" and child.returncode == 0


def resident():
    """Bytes of this process in memory, freed memory given back first."""
    import ctypes

    gc.collect()
    ctypes.CDLL(None).malloc_trim(0)
    pages = int(open("/proc/self/statm").read().split()[1])
    return pages * os.sysconf("SC_PAGE_SIZE")


@pytest.mark.skipif(not sys.platform.startswith("linux"), reason="reads /proc")
def test_memory_stays_flat_over_many_calls(samples):
    import pyarrow

    x, rate = samples("late_inside")
    short, drill = x[: 2 * rate], tg.Drill.read("inside-pair")

    def calls(n):
        for _ in range(n):
            pyarrow.table(tg.onsets(short, rate).onsets)
            drill.to_dict()
            tg.Drill.make("A minor").notes
            with pytest.raises(tg.InputError):
                tg.onsets("no-such.wav")

    many = int(os.environ.get("TAKEGAUGE_CALLS", "150"))
    calls(many // 2)
    before = resident()
    calls(many)
    after = resident()
    assert after < 1.05 * before
