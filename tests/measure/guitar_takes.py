"""What the reports on takes of many guitars share: the guitars, what they are called, and a process a guitar.

BENCH is a folder with make_takes.py, drills/ and notes/ (folders of single notes), NOTES one of more such folders, as
guitars.py writes them.
"""

import argparse
import concurrent.futures
import importlib.util
import pathlib
import tempfile

# How a guitar is called in a report.
SHOWN = {"solid": "direct solid body", "emily": "direct electric", "archtop": "direct archtop", "classical": "nylon, microphone",
         "string9-000": "string model, one", "string9-001": "string model, another"}


def maker_of(bench):
    """The module that plays takes from single notes."""
    spec = importlib.util.spec_from_file_location("make_takes", bench / "make_takes.py")
    module = importlib.util.module_from_spec(spec)
    spec.loader.exec_module(module)
    return module


def options(doc, seeds):
    """The command line, for what a report of its own adds."""
    parser = argparse.ArgumentParser(description=doc, formatter_class=argparse.RawDescriptionHelpFormatter)
    parser.add_argument("bench", type=pathlib.Path)
    parser.add_argument("notes", type=pathlib.Path)
    parser.add_argument("program")
    parser.add_argument("--seeds", type=int, default=seeds)
    parser.add_argument("--called", nargs="*", default=[], help="FOLDER=GUITAR")
    parser.add_argument("--only", nargs="*", help="guitars")
    parser.add_argument("--takes", type=pathlib.Path, help="keep the takes here, and use those that are there")
    parser.add_argument("-o", "--out", type=pathlib.Path)
    return parser


def of_all(words, work, only=None):
    """What `work(words, guitar, notes, folder)` says of each guitar, one after the other; `only` these, if any are named."""
    called = dict(pair.split("=", 1) for pair in words.called)
    folders = sorted(p for root in (words.bench / "notes", words.notes) for p in root.iterdir() if p.is_dir())
    guitars = {called.get(p.name, p.name): p for p in folders}
    guitars = {g: p for g, p in guitars.items() if not only or g in only}
    with tempfile.TemporaryDirectory() as temporary, concurrent.futures.ProcessPoolExecutor() as pool:
        out = words.takes or pathlib.Path(temporary)
        out.mkdir(parents=True, exist_ok=True)
        jobs = [pool.submit(work, words, g, p, out) for g, p in sorted(guitars.items())]
        return [row for job in jobs for row in job.result()]
