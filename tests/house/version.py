#!/usr/bin/env python3
"""The version stands in one place, Cargo.toml of the workspace; what has to state it again must state the same.

    tests/house/version.py            holds the others against it
    tests/house/version.py --print    prints it"""

import re
import sys
import tomllib
from pathlib import Path

ROOT = Path(__file__).resolve().parents[2]


def toml(file: str) -> dict:
    return tomllib.loads((ROOT / file).read_text())


def main() -> int:
    version = toml("Cargo.toml")["workspace"]["package"]["version"]
    if sys.argv[1:] == ["--print"]:
        print(version)
        return 0
    stated = {"python/Cargo.toml": {toml("python/Cargo.toml")["package"]["version"]}}
    for lock in ("Cargo.lock", "python/Cargo.lock"):
        ours = [p for p in toml(lock)["package"] if p["name"].startswith("takegauge") and "source" not in p]
        stated[lock] = {p["version"] for p in ours}
    stated["CITATION.cff"] = set(re.findall(r"^version: (\S+)$", (ROOT / "CITATION.cff").read_text(), re.M))
    # The newest heading of the list of changes.
    stated["CHANGELOG.md"] = set(re.findall(r"^## (\S+)", (ROOT / "CHANGELOG.md").read_text(), re.M)[:1])
    # A crate that states its own would drift.
    for manifest in sorted(ROOT.glob("crates/*/Cargo.toml")):
        if toml(str(manifest.relative_to(ROOT)))["package"]["version"] != {"workspace": True}:
            stated[str(manifest.relative_to(ROOT))] = {"one of its own"}
    if "version" not in toml("python/pyproject.toml")["project"]["dynamic"]:
        stated["python/pyproject.toml"] = {"one of its own"}
    wrong = {file: found for file, found in stated.items() if found != {version}}
    for file, found in wrong.items():
        print(f"{file} states {', '.join(sorted(found)) or 'no version'}, Cargo.toml {version}")
    print(f"version {version}, stated in {len(stated)} more files, {len(wrong)} differ")
    return 1 if wrong else 0


if __name__ == "__main__":
    sys.exit(main())
