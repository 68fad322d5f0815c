#!/usr/bin/env python3
"""Runs every command that README.md and docs/ show, and checks links and what the text calls the program's own.

    tests/docs/check.py PROGRAM [PAGE...]

Each page is followed from top to bottom in a folder of its own, with a home of its own and `takegauge` on the path; what
the page shows as output is what the program must print today. pages.py says how a page is marked."""

import os
import re
import shutil
import signal
import subprocess
import sys
import tempfile
import time
from pathlib import Path

import pages

ROOT = Path(__file__).resolve().parents[2]
LINKED = ["*.md", "docs/*.md", "reports/*.md", "schemas/*.md", "test-audio/**/*.md", "fuzz/*.md"]
# Blocks that are not run, over all pages; each gives its reason. One more needs a good one.
NOT_RUN_AT_MOST = 8
PATIENCE_S = 120


def environment(program: Path, home: Path) -> dict[str, str]:
    """A reader's own: nothing of ours but the program and the takes that come with the source."""
    shelf = home / "bin"
    shelf.mkdir(parents=True)
    (shelf / "takegauge").symlink_to(program)
    # No page is to open before whoever runs the tests.
    (shelf / "xdg-open").symlink_to("/bin/true")
    return {
        "HOME": str(home), "PATH": f"{shelf}:/usr/local/bin:/usr/bin:/bin", "NO_COLOR": "1", "LC_ALL": "C.UTF-8",
        "TZ": "UTC", "SOURCE": str(ROOT), "CHECKING": str(Path(__file__).parent),
    }


def shell(commands: str, folder: Path, env: dict[str, str]) -> tuple[int, str]:
    """Exit status and all that was printed."""
    done = subprocess.run(
        ["bash", "-euo", "pipefail", "-c", commands], cwd=folder, env=env, stdin=subprocess.DEVNULL,
        stdout=subprocess.PIPE, stderr=subprocess.STDOUT, text=True, timeout=PATIENCE_S, check=False)
    return done.returncode, done.stdout


def until(block: pages.Block, folder: Path, env: dict[str, str]) -> str | None:
    """Runs what goes on until it is stopped; what is wrong with it, if anything."""
    wanted, commands = block.until
    log = folder / ".output"
    with open(log, "wb") as out:
        running = subprocess.Popen(["bash", "-c", "exec " + block.commands.strip()], cwd=folder, env=env,
                                   stdin=subprocess.DEVNULL, stdout=out, stderr=subprocess.STDOUT)
    try:
        end = time.monotonic() + PATIENCE_S
        while wanted not in log.read_text():
            if running.poll() is not None or time.monotonic() > end:
                return f"{wanted!r} was not printed: {log.read_text()}"
            time.sleep(0.05)
        url = re.search(r"https?://\S+", log.read_text())
        status, said = shell(commands, folder, env | {"URL": url[0] if url else "", "LOG": str(log)})
        if status != 0:
            return f"while it ran: {said}{log.read_text()}"
        running.send_signal(signal.SIGINT)
        status = running.wait(timeout=20)
        return None if status == 0 else f"stopped by Ctrl-C it ended with {status}: {log.read_text()}"
    finally:
        if running.poll() is None:
            running.kill()
            running.wait()
        log.unlink()


def run(page: pages.Page, program: Path) -> tuple[list[str], int]:
    """Follows a page; what went wrong, and how many blocks were run."""
    wrong, ran = [], 0
    with tempfile.TemporaryDirectory() as room:
        folder = Path(room) / "work"
        folder.mkdir()
        env = environment(program, Path(room) / "home")
        for block in page.blocks:
            where = f"{page.path.relative_to(ROOT)}:{block.line}"
            status, said = shell(block.before, folder, env) if block.before else (0, "")
            if status != 0:
                return [*wrong, f"{where}: what stands before it failed: {said}"], ran
            if block.not_run is not None:
                continue
            ran += 1
            if block.until:
                trouble = until(block, folder, env)
                wrong += [f"{where}: {trouble}"] if trouble else []
                continue
            status, said = shell(block.commands, folder, env)
            if status != block.exit:
                wrong.append(f"{where}: exit status {status}, not {block.exit}:\n{said}")
            missing = pages.holds(said, block.shown) if block.shown is not None else None
            if missing is not None:
                wrong.append(f"{where}: not as shown; differs at {missing!r}. It printed:\n{said}")
    return wrong, ran


class Help:
    """What the program says of its own commands."""

    def __init__(self, program: Path):
        self.program, self.known = program, {}

    def of(self, words: tuple[str, ...]) -> str:
        """The help of a command, "" where there is none."""
        if words not in self.known:
            done = subprocess.run([self.program, *words, "--help"], capture_output=True, text=True, check=False)
            self.known[words] = done.stdout if done.returncode == 0 else ""
        return self.known[words]

    def commands(self, words: tuple[str, ...]) -> set[str]:
        """The commands below a command."""
        listed = re.search(r"^Commands:\n(.*?)(?:\n\n|\Z)", self.of(words), re.M | re.S)
        return set(re.findall(r"^  ([a-z]+)", listed[1], re.M)) if listed else set()

    def trouble(self, code: str) -> str | None:
        """What is wrong with inline code that names a command of the program; None for other code."""
        words = code.split()
        named = words[0] == "takegauge"
        words = words[1:] if named else words
        at: tuple[str, ...] = ()
        while words and words[0] in self.commands(at):
            at, words = (*at, words[0]), words[1:]
        if not at and named and words and words[0].isalpha() and words[0].islower():
            return f"there is no command {words[0]!r}"
        if not at and not named:
            return None
        if at and self.commands(at) and words and re.fullmatch(r"[a-z]+", words[0]):
            return f"`{' '.join(at)}` has no command {words[0]!r}"
        for option in (w.split("=")[0] for w in words if re.match(r"--?[a-z]", w)):
            if not re.search(rf"(?<![\w-]){re.escape(option)}(?![\w-])", self.of(at)):
                return f"`{' '.join(at) or 'takegauge'}` has no option {option}"
        return None


def links(all_pages: dict[Path, pages.Page]) -> list[str]:
    """Links that lead nowhere."""
    wrong = []
    for path, page in all_pages.items():
        for line, target in page.links:
            if re.match(r"https://[\w.-]+(/|$)", target):
                continue
            file, _, part = target.partition("#")
            to = (path.parent / file).resolve() if file else path
            if not to.exists() or ROOT not in to.parents:
                wrong.append(f"{path.relative_to(ROOT)}:{line}: there is no {target}")
            elif part and part not in (all_pages[to].anchors if to in all_pages else ()):
                wrong.append(f"{path.relative_to(ROOT)}:{line}: {file or 'the page'} has no heading for #{part}")
    return wrong


def reached(all_pages: dict[Path, pages.Page]) -> list[str]:
    """Pages of docs/ that README does not link to."""
    linked = {(ROOT / target.partition("#")[0]).resolve() for _, target in all_pages[ROOT / "README.md"].links}
    return [f"README.md does not lead to docs/{p.name}" for p in sorted((ROOT / "docs").iterdir()) if p not in linked]


def main() -> int:
    if len(sys.argv) < 2:
        print(__doc__)
        return 2
    program = Path(shutil.which(sys.argv[1]) or sys.argv[1]).resolve()
    shown = [ROOT / "README.md", *sorted((ROOT / "docs").glob("*.md"))]
    chosen = [Path(p).resolve() for p in sys.argv[2:]] or shown
    linked = sorted({p for pattern in LINKED for p in ROOT.glob(pattern)})
    # Only the pages that a player reads are marked for the check; of the others, links alone are looked at.
    read = {p: pages.read(p) if p in shown else pages.prose(p) for p in linked}
    wrong, ran = links(read) + reached(read), 0
    asked = Help(program)
    left = [b for p in shown for b in read[p].blocks if b.not_run is not None]
    for path in chosen:
        began = time.monotonic()
        found, count = run(read[path], program)
        for line, code in read[path].spans:
            trouble = asked.trouble(code)
            found += [f"{path.relative_to(ROOT)}:{line}: `{code}`: {trouble}"] if trouble else []
        print(f"{path.relative_to(ROOT)}: {count} blocks run in {time.monotonic() - began:.1f} s", flush=True)
        wrong, ran = wrong + found, ran + count
    for block in left:
        print(f"not run: {block.commands.splitlines()[0]} ({block.not_run})")
    if len(left) > NOT_RUN_AT_MOST:
        wrong.append(f"{len(left)} blocks are not run; {NOT_RUN_AT_MOST} may be left")
    if ran == 0:
        wrong.append("no command was run")
    for trouble in wrong:
        print(f"wrong: {trouble}")
    print(f"{ran} blocks of commands run, {sum(len(p.links) for p in read.values())} links followed, {len(wrong)} wrong")
    return 1 if wrong else 0


if __name__ == "__main__":
    sys.exit(main())
