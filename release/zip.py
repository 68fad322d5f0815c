#!/usr/bin/env python3
"""Lays out the program for Windows and packs it: release/zip.py SOURCE PROGRAM NOTICES FILE

In the archive is one folder of the archive's name: the program, a script to double-click that opens the page, README, docs,
reports and licences. All times are SOURCE_DATE_EPOCH's, names stand in order: the same files give the same bytes."""

import os
import sys
import zipfile
from datetime import datetime, timezone
from pathlib import Path

# A program for the console shows what went wrong in a window that is gone the next moment, unless something waits.
PAGE = """@echo off
rem Opens the page in the browser. Closing this window ends it.
title Takegauge
"%~dp0takegauge.exe" page --open
if errorlevel 1 pause
"""


def contents(source: Path, program: Path, notices: Path) -> dict[str, bytes]:
    """What goes in, by name."""
    files = {"takegauge.exe": program.read_bytes(), "Takegauge page.cmd": PAGE.replace("\n", "\r\n").encode("ascii"),
             "THIRD-PARTY.txt": notices.read_bytes()}
    plain = ["README.md", "CHANGELOG.md", "CITATION.cff", "LICENSE-APACHE", "LICENSE-MIT", "reports/screens/report-top.png"]
    for file in [source / name for name in plain] + [*source.glob("docs/*.md"), *source.glob("reports/*.md")]:
        files[str(file.relative_to(source))] = file.read_bytes()
    return files


def main() -> int:
    if len(sys.argv) != 5:
        print(__doc__, file=sys.stderr)
        return 2
    source, program, notices, out = map(Path, sys.argv[1:])
    when = datetime.fromtimestamp(int(os.environ["SOURCE_DATE_EPOCH"]), timezone.utc).timetuple()[:6]
    part = out.with_name(out.name + ".part")
    with zipfile.ZipFile(part, "w", zipfile.ZIP_DEFLATED, compresslevel=9) as archive:
        for name, body in sorted(contents(source, program, notices).items()):
            entry = zipfile.ZipInfo(f"{out.stem}/{name}", when)
            entry.compress_type = zipfile.ZIP_DEFLATED
            entry.external_attr = 0o100644 << 16
            archive.writestr(entry, body)
    part.replace(out)
    return 0


if __name__ == "__main__":
    sys.exit(main())
