"""What the reports on takes of many guitars share: the guitars, what they are called, and a process a guitar or take.

BENCH is a folder with make_takes.py, drills/ and notes/ (folders of single notes), NOTES one of more such folders, as
guitars.py writes them. TAKES, for what judges takes that are there already, holds GUITAR_NAME.flac with GUITAR_NAME.json and the drill as
GUITAR_NAME.toml.
"""

import argparse
import concurrent.futures
import importlib.util
import json
import pathlib
import subprocess
import tempfile

from fit_ear import GROUPS

REPOSITORY = pathlib.Path(__file__).resolve().parents[2]
LEFT_OUT = REPOSITORY / "tests/measure/left_out"
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


def called(words):
    """What guitars are called, by the folders whose notes they are of."""
    return dict(pair.split("=", 1) for pair in words.called)


def of_all(words, work, only=None):
    """What `work(words, guitar, notes, folder)` says of each guitar, one after the other; `only` these, if any are named."""
    names = called(words)
    folders = sorted(p for root in (words.bench / "notes", words.notes) for p in root.iterdir() if p.is_dir())
    guitars = {names.get(p.name, p.name): p for p in folders}
    guitars = {g: p for g, p in guitars.items() if not only or g in only}
    with tempfile.TemporaryDirectory() as temporary, concurrent.futures.ProcessPoolExecutor() as pool:
        out = words.takes or pathlib.Path(temporary)
        out.mkdir(parents=True, exist_ok=True)
        jobs = [pool.submit(work, words, g, p, out) for g, p in sorted(guitars.items())]
        return [row for job in jobs for row in job.result()]


def hearing_options(doc):
    """The command line of what hears TAKES by examples of the rooms, for what it adds of its own."""
    parser = argparse.ArgumentParser(description=doc, formatter_class=argparse.RawDescriptionHelpFormatter)
    parser.add_argument("takes", type=pathlib.Path)
    parser.add_argument("--programs", type=pathlib.Path, help="where the examples lie, if they are built already")
    parser.add_argument("--called", nargs="*", default=[], help="FOLDER=GUITAR of the groups in fit_ear.py")
    parser.add_argument("--left-out", type=pathlib.Path, default=LEFT_OUT, help="weights of the folds: SIZE-FOLD.bin")
    return parser


def weights_of(guitar, size="quick", left_out=LEFT_OUT):
    """What weights of the locator judge the guitar, and their file: those of the fold that left it out, where they are kept."""
    fold = next((k for k, group in enumerate(GROUPS) if guitar in group), None)
    shipped = REPOSITORY / f"crates/locate/weights/{size}.bin"
    if fold is None:
        return "shipped", shipped
    own = left_out / f"{size}-{fold}.bin"
    return (f"fold {fold}", own) if own.exists() else ("shipped, fitted on it", shipped)


def hear_all(words, room, example, *sizes, drilled=False):
    """Guitar, answers, and what the room's example says by `weights_of` the guitar, of each of the takes, by name.

    The example is given weights of the `sizes`, the take and, if it is `drilled`, its drill.
    """
    programs, names = words.programs, called(words)
    if not programs:
        build = ["cargo", "build", "--release", "--quiet", "-p", f"takegauge-{room}", "--example", example]
        subprocess.run(build, cwd=REPOSITORY, check=True)
        programs = REPOSITORY / "target/release/examples"

    def heard(answers):
        folder = answers.name.split("_")[0]
        guitar = names.get(folder, folder)
        weights = [weights_of(guitar, size, words.left_out)[1] for size in sizes]
        drill = [answers.with_suffix(".toml")] if drilled else []
        command = [programs / example, *weights, answers.with_suffix(".flac"), *drill]
        done = subprocess.run([str(word) for word in command], capture_output=True, text=True, check=True)
        return guitar, json.loads(answers.read_text()), json.loads(done.stdout)

    with concurrent.futures.ThreadPoolExecutor() as pool:
        return list(pool.map(heard, sorted(words.takes.glob("*.json"))))
