#!/usr/bin/env python3
"""Bills of materials hold all that the lock file has for the program, valid and with checksums: bills.py FILE..."""

import json
import sys
from pathlib import Path

from cyclonedx.schema import SchemaVersion
from cyclonedx.validation.json import JsonStrictValidator

# Libraries that the program cannot do without; a bill without them was not made of it.
KNOWN = {"symphonia", "realfft", "rusqlite", "libsqlite3-sys", "rust-std"}

for file in sys.argv[1:]:
    text = Path(file).read_text()
    trouble = JsonStrictValidator(SchemaVersion.V1_6).validate_str(text)
    bill = json.loads(text)
    parts = {c["name"]: c for c in bill["components"]}
    bought = [c for c in bill["components"] if c.get("purl")]
    assert not trouble, trouble
    assert KNOWN <= parts.keys(), KNOWN - parts.keys()
    assert all(c.get("hashes") and c.get("licenses") for c in bought), file
    edges = {d["ref"]: d.get("dependsOn", []) for d in bill["dependencies"]}
    assert all(to in edges for ends in edges.values() for to in ends), "an edge leads nowhere"
    print(f"{Path(file).name}: {len(bill['components'])} components, {len(bought)} with a checksum")
