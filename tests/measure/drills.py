"""Which drill a take is of, told from the take alone.

Every take of a folder is scored without its drill being named, with the drills of all takes of the folder and the
built-in ones at hand. Right: the line, its tempo and repeats apart, is the take's own. Told with "or": another that
sounds the same is named beside it.

    python3 drills.py TAKES PROGRAM > reports/drills.md
(TAKES holds NAME.flac and NAME.toml)
"""

import json
import pathlib
import resource
import subprocess
import sys
import tomllib


def sounding(file):
    """What a drill asks to sound, without its name, tempo and repeats."""
    drill = tomllib.loads(file.read_text())
    return drill["tuning"], drill["steps_per_beat"], " ".join(drill["line"].replace("|", " ").split())


def limits(k, n):
    """Exact (Clopper-Pearson) 95 % limits of a share, in per cent."""
    def tail(p, most):
        chance, total = (1 - p) ** n, 0.0
        for i in range(most + 1):
            total += chance
            chance *= (n - i) / (i + 1) * p / (1 - p)
        return total

    def solve(f):
        low, high = 0.0, 1.0
        for _ in range(60):
            mid = (low + high) / 2
            low, high = (mid, high) if f(mid) else (low, mid)
        return 100 * low
    return (0.0 if k == 0 else solve(lambda p: 1 - tail(p, k - 1) < 0.025),
            100.0 if k == n else solve(lambda p: tail(p, k) > 0.025))


def worked():
    """Seconds that a processor worked for programs run from here."""
    return resource.getrusage(resource.RUSAGE_CHILDREN).ru_utime


def main():
    if len(sys.argv) != 3:
        raise SystemExit(__doc__)
    folder, program = pathlib.Path(sys.argv[1]), sys.argv[2]
    drills = {file: sounding(file) for file in sorted(folder.glob("*.toml"))}
    lines = set(drills.values())
    right = wrong = open_ = none = told_or = 0
    odd, seconds = [], []
    takes = [f for f in sorted(folder.glob("*.flac")) if f.with_suffix(".toml") in drills]
    for take in takes:
        words = [program, "score", str(take), "--json", "-"]
        own = drills[take.with_suffix(".toml")]
        began = worked()
        run = subprocess.run(words, capture_output=True, text=True, check=False)
        unnamed = worked() - began
        if take in takes[::5]:
            began = worked()
            subprocess.run([*words, "--drill", str(take.with_suffix(".toml"))], capture_output=True, check=False)
            seconds.append(unnamed - (worked() - began))
        if run.returncode:
            why = run.stderr.strip().splitlines()[0]
            open_, none = open_ + ("may be" in why), none + ("may be" not in why)
            odd.append(f"{take.stem}: {why.split(': ', 2)[-1].replace(str(folder) + '/', '')[:160]}")
            continue
        told = next(line for line in run.stderr.splitlines() if "this is " in line).split("this is ", 1)[1]
        names = told.split(" (", 1)[0].split(", which sound", 1)[0].split(", or ")
        named = {drills.get(pathlib.Path(name)) for name in names}
        name = json.loads(run.stdout)["drill"]["name"]
        if own in named or name == tomllib.loads(take.with_suffix(".toml").read_text())["name"]:
            right, told_or = right + 1, told_or + (len(names) > 1)
        else:
            wrong += 1
            odd.append(f"{take.stem}: told as {told.replace(str(folder) + '/', '')}")
    n = len(takes)
    share = limits(right, n)
    seconds.sort()
    print("# Which drill is it?\n\n`score` without `--drill`, told from the take alone: `python3 tests/measure/drills.py TAKES PROGRAM`.\n")
    print(f"{n} takes of recorded guitar notes, {len(lines)} lines in {len(drills)} drill files beside them, and the built-in drills.\n")
    print("| | takes |\n|---|---|")
    for label, count in (("right", right), ('of these told with "or" (another sounds the same)', told_or),
                         ("wrong", wrong), ("left open: several named, none taken", open_), ("none found to fit", none)):
        print(f"| {label} | {count} |")
    print(f"\nRight in {100 * right / n:.1f} % (95 %: {share[0]:.1f} to {share[1]:.1f}). The telling takes "
          f"{seconds[len(seconds) // 2]:.2f} s of one processor more than scoring with the drill named (median of every fifth "
          f"take; {seconds[-1]:.2f} s at most).")
    if odd:
        print("\nNot right:\n\n" + "\n".join(f"- {line}" for line in odd))


if __name__ == "__main__":
    main()
