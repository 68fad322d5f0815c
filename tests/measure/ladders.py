"""What the program tells of ladders made from recorded notes (NAME_ladder_BPM.flac and .toml in a folder), one row a ladder.

    python3 tests/measure/ladders.py PROGRAM FOLDER [FOLDER ...]

Each ladder is scored as a player would: `PROGRAM ladder TAKES --drill D --json -`.
"""

import json
import pathlib
import re
import subprocess
import sys


def tempo(path):
    return int(re.search(r"_ladder_(\d+)$", path.stem)[1])


def row(program, folder, name):
    takes = sorted(folder.glob(f"{name}_ladder_*.flac"), key=tempo)
    command = [program, "ladder", *map(str, takes), "--drill", str(takes[0].with_suffix(".toml")), "--json", "-"]
    told = json.loads(subprocess.run(command, capture_output=True, text=True, check=True, timeout=600).stdout)
    named = [g for g in told["groups"] if g["comes_apart_bpm"] is not None]
    inside = next((g for g in named if g["group"] == "inside"), None)
    others = ", ".join(str(g["group"]) for g in named if g is not inside) or "none"
    if inside is None:
        return f"| {folder.name}/{name} | no | - | - | - | {others} |"
    low, high = inside["comes_apart_ci95_bpm"]
    least, most = inside["later_by_ci95_ms"]
    return (
        f"| {folder.name}/{name} | yes | {inside['comes_apart_bpm']:.0f} ({low:.0f} to {high:.0f}) "
        f"| {inside['later_by_ms']:.1f} ({least:.1f} to {most:.1f}) | {inside['spread_at_top']:.1f} | {others} |"
    )


def main():
    program, *folders = sys.argv[1:]
    print("| ladder | inside named | from, bpm (95 %) | later at the top, ms (95 %) | scatter at the top, times | other kinds named |")
    print("|---|---|---|---|---|---|")
    for folder in map(pathlib.Path, folders):
        for name in sorted({p.name.split("_ladder_")[0] for p in folder.glob("*_ladder_*.flac")}):
            print(row(program, folder, name), flush=True)


if __name__ == "__main__":
    main()
