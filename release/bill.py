#!/usr/bin/env python3
"""What a program is made of, as a CycloneDX bill of materials, and the licences of all that is built into it.

    release/bill.py MANIFEST PACKAGE TARGET --bill FILE [--notices FILE]

Names, versions and edges are cargo's own answer for this target, with the checksums of the lock file; build scripts and
macros that only run while compiling are marked as not part of what is shipped. Times are SOURCE_DATE_EPOCH's, the serial
number is made of the content: the same sources give the same bytes."""

import argparse
import json
import os
import re
import subprocess
import sys
import tomllib
import uuid
from datetime import datetime, timezone
from pathlib import Path

from cyclonedx.model import HashAlgorithm, HashType
from cyclonedx.model.bom import Bom
from cyclonedx.model.component import Component, ComponentScope, ComponentType
from cyclonedx.model.license import LicenseExpression
from cyclonedx.output.json import JsonV1Dot6
from cyclonedx.schema import SchemaVersion
from cyclonedx.validation.json import JsonStrictValidator
from packageurl import PackageURL

LICENCE_FILE = re.compile(r"(licen[cs]e|copying|notice|unlicense|copyright|ofl)", re.I)
# What is linked into every program of a system besides the standard library, by how the target's name ends: its name,
# licence, what it is, and where its text lies (in the packages that release/make asks for). Which version comes with the
# compiler's target is told by no command; they are named without one.
RUNTIME = {
    "-musl": [("musl", "MIT", "C library, as it comes with the compiler's target", Path("/usr/share/doc/musl-dev/copyright"))],
    "-windows-gnu": [
        ("mingw-w64", "ZPL-2.1", "Start-up code and import libraries of Windows, as they come with the compiler's target",
         Path("/usr/share/doc/mingw-w64-x86-64-dev/copyright")),
        ("libgcc", "GPL-3.0-or-later WITH GCC-exception-3.1", "Support routines of the C compiler",
         Path("/usr/share/doc/gcc-mingw-w64-base/copyright")),
    ],
}


def cargo(*args: str) -> str:
    return subprocess.run(["cargo", *args], capture_output=True, text=True, check=True).stdout


def listed(manifest: str, package: str, target: str, edges: str) -> set[tuple[str, str]]:
    """Name and version of every package that cargo takes for these kinds of dependency."""
    tree = cargo("tree", "--manifest-path", manifest, "--locked", "-p", package, "--target", target, "-e", edges,
                 "--prefix", "none", "--no-dedupe", "-f", "{p}")
    return {(m[1], m[2]) for m in re.finditer(r"^(\S+) v(\S+)", tree, re.M)}


def packages(manifest: str, package: str, target: str) -> dict:
    """Packages that are built, by id, with what each needs; `shipped` says whether it gets into the program."""
    built = listed(manifest, package, target, "normal,build")
    shipped = listed(manifest, package, target, "normal,no-proc-macro")
    data = json.loads(cargo("metadata", "--manifest-path", manifest, "--locked", "--format-version", "1",
                            "--filter-platform", target))
    found = {p["id"]: p | {"shipped": (p["name"], p["version"]) in shipped} for p in data["packages"]
             if (p["name"], p["version"]) in built}
    missing = built - {(p["name"], p["version"]) for p in found.values()}
    if missing:
        raise SystemExit(f"cargo metadata does not know {sorted(missing)}")
    for node in data["resolve"]["nodes"]:
        if node["id"] in found:
            kinds = {d["pkg"]: {k["kind"] for k in d["dep_kinds"]} for d in node["deps"]}
            found[node["id"]]["needs"] = sorted(i for i, kind in kinds.items() if i in found and kind & {None, "build"})
    return found


def component(package: dict, sums: dict[tuple[str, str], str], kind: ComponentType) -> Component:
    name, version = package["name"], package["version"]
    licence = (package["license"] or "").replace("/", " OR ")
    checksum = sums.get((name, version))
    return Component(
        type=kind, name=name, version=version, bom_ref=f"{name}@{version}" if version else name, description=package["description"],
        licenses=[LicenseExpression(licence)] if licence else [],
        hashes=[HashType(alg=HashAlgorithm.SHA_256, content=checksum)] if checksum else [],
        purl=PackageURL("cargo", name=name, version=version) if package["source"] else None,
        scope=ComponentScope.REQUIRED if package["shipped"] else ComponentScope.EXCLUDED)


def runtime(target: str) -> list[tuple[str, str, str, Path]]:
    return next((parts for end, parts in RUNTIME.items() if target.endswith(end)), [])


def toolchain(target: str) -> list[dict]:
    """What the compiler adds to every program: the standard library and, where it is linked in, the C library."""
    version = re.search(r"^release: (\S+)", subprocess.run(["rustc", "-vV"], capture_output=True, text=True, check=True).stdout,
                        re.M)[1]
    added = [{"name": "rust-std", "version": version, "license": "MIT OR Apache-2.0", "shipped": True, "source": None,
              "description": "The standard library of Rust", "needs": []}]
    for name, licence, what, _ in runtime(target):
        added.append({"name": name, "version": None, "license": licence, "shipped": True, "source": None,
                      "description": what, "needs": []})
    return added


def bill(found: dict, root: str, manifest: Path, target: str) -> str:
    """The bill as JSON, checked against the published schema."""
    lock = tomllib.loads((manifest.parent / "Cargo.lock").read_text())
    sums = {(p["name"], p["version"]): p["checksum"] for p in lock["package"] if "checksum" in p}
    parts = {i: component(p, sums, ComponentType.APPLICATION if p["name"] == root else ComponentType.LIBRARY)
             for i, p in sorted(found.items(), key=lambda item: (item[1]["name"], item[1]["version"]))}
    top = next(i for i, p in found.items() if p["name"] == root)
    for added in toolchain(target):
        parts[added["name"]] = component(added, sums, ComponentType.LIBRARY)
        found = found | {added["name"]: added}
        found[top]["needs"].append(added["name"])
    bom = Bom(components=[c for i, c in parts.items() if i != top])
    bom.metadata.component = parts[top]
    bom.metadata.timestamp = datetime.fromtimestamp(int(os.environ["SOURCE_DATE_EPOCH"]), timezone.utc)
    for i, part in parts.items():
        bom.register_dependency(part, [parts[need] for need in found[i]["needs"]])
    content = target + "".join(f"\n{c.name} {c.version}" for c in parts.values())
    bom.serial_number = uuid.uuid5(uuid.NAMESPACE_URL, content)
    text = JsonV1Dot6(bom).output_as_string(indent=2)
    trouble = JsonStrictValidator(SchemaVersion.V1_6).validate_str(text)
    if trouble:
        raise SystemExit(f"the bill does not fit the schema: {trouble}")
    return text + "\n"


def licence_files(folder: Path) -> list[Path]:
    """The licence texts that lie in a package."""
    return sorted(f for f in folder.rglob("*") if f.is_file() and LICENCE_FILE.match(f.name)
                  and f.suffix.lower() in ("", ".md", ".txt", ".apache", ".mit") and f.stat().st_size < 100_000)


def notices(found: dict, target: str) -> str:
    """The licence texts of all that gets into the program, each once, under the names of what it holds for."""
    texts: dict[str, list[str]] = {}

    def holds(label: str, file: Path) -> None:
        body = "\n".join(line.rstrip() for line in file.read_text(errors="replace").strip().splitlines())
        holders = texts.setdefault(body, [])
        if label not in holders:
            holders.append(label)

    bare = []
    for package in sorted(found.values(), key=lambda p: (p["name"], p["version"])):
        if not package["shipped"]:
            continue
        label = f"{package['name']} {package['version']} ({package['license']})"
        files = licence_files(Path(package["manifest_path"]).parent)
        for file in files:
            # In a crate of our own lie the licences of what it brings along, as a font.
            holds(label if package["source"] else f"{package['name']}: {file.parent.name}", file)
        if not files and package["source"]:
            bare.append(", ".join(filter(None, (label, package["repository"]))))
    sysroot = Path(subprocess.run(["rustc", "--print", "sysroot"], capture_output=True, text=True, check=True).stdout.strip())
    for file in sorted((sysroot / "share/doc/cargo").glob("LICENSE-[AM]*")):
        holds("the standard library of Rust (MIT OR Apache-2.0)", file)
    for name, licence, _, text in runtime(target):
        if not text.exists():
            raise SystemExit(f"{text}, the licence of {name}, is not there: install its package")
        holds(f"{name} ({licence})", text)
    rule = "\n\n" + "=" * 100 + "\n\n"
    head = ("Libraries that are built into Takegauge, and their licences. Of those under MPL-2.0 the source, unchanged, is the\n"
            "published crate of the name and version given here.\n\nLicence texts are not in the packages of:\n"
            + "".join(f"  {line}\n" for line in bare))
    return head + "".join(f"{rule}{chr(10).join(holders)}\n\n{body}" for body, holders in
                          sorted(texts.items(), key=lambda item: (item[1], item[0]))) + "\n"


def main() -> int:
    args = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter)
    args.add_argument("manifest", type=Path)
    args.add_argument("package")
    args.add_argument("target")
    args.add_argument("--bill", type=Path, required=True)
    args.add_argument("--notices", type=Path)
    args = args.parse_args()
    found = packages(str(args.manifest), args.package, args.target)
    args.bill.write_text(bill(found, args.package, args.manifest, args.target))
    if args.notices:
        args.notices.write_text(notices(found, args.target))
    print(f"   {len(found)} packages, {sum(p['shipped'] for p in found.values())} of them in what is shipped")
    return 0


if __name__ == "__main__":
    sys.exit(main())
