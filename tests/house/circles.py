#!/usr/bin/env python3
"""Finds circles among the files of a crate: files that name each other, straight or by way of others.

Every path that starts with `crate::`, `self::` or `super::`, in a `use` or in the code, is followed through modules
and `pub use`, of whole modules too, to the file that holds the item. Tests inside a file are left out. A parent that
only declares and re-exports its children is no part of a circle; one whose items they use, while it uses theirs, is.

    python3 tests/house/circles.py [CRATE ...]
"""
import re
import sys
from pathlib import Path

ROOT = Path(__file__).resolve().parents[2]


def without_tests_and_comments(text):
    text = re.sub(r"//[^\n]*", "", text)
    text = re.sub(r'"(?:\\.|[^"\\])*"', '""', text)
    return re.sub(r"#\[cfg\(test\)\]\s*(?:pub(?:\([^)]*\))?\s+)?mod\s+\w+\s*\{.*\Z", "", text, flags=re.S)


def expand(tree, before=()):
    """`a::{b, c::d as e}` -> (("a","b"), "b"), (("a","c","d"), "e")."""
    tree = tree.strip()
    if "{" in tree:
        head, rest = tree.split("{", 1)
        before = (*before, *[p for p in head.strip().strip(":").split("::") if p])
        inner, depth, part = rest[: rest.rindex("}")], 0, ""
        for c in inner + ",":
            depth += (c == "{") - (c == "}")
            if c == "," and depth == 0:
                if part.strip():
                    yield from expand(part, before)
                part = ""
            else:
                part += c
        return
    path, _, alias = tree.partition(" as ")
    parts = (*before, *[p.strip() for p in path.split("::") if p.strip()])
    if parts and parts[-1] == "self":
        parts = parts[:-1]
    yield parts, (alias.strip() or (parts[-1] if parts else ""))


class Crate:
    def __init__(self, src):
        self.files, self.texts, self.exports, self.globs = {}, {}, {}, {}
        for path in sorted(src.rglob("*.rs")):
            parts = path.relative_to(src).with_suffix("").parts
            if parts[-1] in ("lib", "main", "mod"):
                parts = parts[:-1]
            if "tests" in parts or "testing" in parts or (len(parts) == 1 and parts[0] == "tests"):
                continue
            self.files[parts] = path
            self.texts[parts] = without_tests_and_comments(path.read_text())
        for module, text in self.texts.items():
            names = {}
            for tree in re.findall(r"\buse\s+([^;]+);", text):
                for parts, name in expand(tree):
                    names[name] = parts
            self.exports[module] = names
            trees = re.findall(r"\bpub(?:\([^)]*\))?\s+use\s+([^;]+);", text)
            parts_of = [parts for tree in trees for parts, _ in expand(tree)]
            self.globs[module] = [parts[:-1] for parts in parts_of if parts and parts[-1] == "*"]

    def resolve(self, module, path, depth=0):
        """The module whose file holds what `path`, read in `module`, names."""
        at, path = module, list(path)
        first = path[0] if path else ""
        if first == "crate":
            at, path = (), path[1:]
        elif first in ("self", "super"):
            while path and path[0] in ("self", "super"):
                at = at[:-1] if path[0] == "super" else at
                path = path[1:]
        elif (*module, first) in self.files or first in self.exports[module]:
            pass
        else:
            return None
        while path:
            if (*at, path[0]) in self.files:
                at, path = (*at, path[0]), path[1:]
                continue
            known = self.exports.get(at, {}).get(path[0])
            if known and depth < 9 and not (at == module and list(known) == path):
                return self.resolve(at, [*known, *path[1:]], depth + 1)
            if depth < 9 and (found := self.through_globs(at, path, depth)):
                return found
            return at if first in ("crate", "self", "super") or at != module else None
        return None

    def through_globs(self, at, path, depth):
        """The module that defines `path` among those that `at` hands on whole (`pub use parts::*`)."""
        for parts in self.globs[at]:
            inner = parts[1:] if parts[0] == "crate" else (*at, *parts)
            defined = r"\b(?:fn|struct|enum|trait|type|const|static|mod|union)\s+" + re.escape(path[0]) + r"\b"
            if inner in self.files and re.search(defined, self.texts[inner]):
                return self.resolve(inner, ["self", *path], depth + 1) or inner
        return None

    def edges(self):
        for module, text in self.texts.items():
            found = set()
            for tree in re.findall(r"(?<!pub )(?<!\) )\buse\s+([^;]+);", text):
                found.update(parts for parts, _ in expand(tree))
            body = re.sub(r"\buse\s+[^;]+;", "", text)
            # What a file hands on it uses itself only where the name occurs again.
            for tree in re.findall(r"\bpub(?:\([^)]*\))?\s+use\s+([^;]+);", text):
                found.update(parts for parts, name in expand(tree) if re.search(rf"\b{re.escape(name)}\b", body))
            found.update(tuple(p.split("::")) for p in re.findall(r"\b[a-z_]\w*(?:::\w+)+", body))
            targets = {self.resolve(module, path) for path in found} - {None, module}
            yield module, targets


def circles(graph):
    """Strongly connected parts of more than one file (Tarjan)."""
    index, low, stack, found = {}, {}, [], []

    def visit(v):
        index[v] = low[v] = len(index)
        stack.append(v)
        for w in sorted(graph.get(v, ())):
            if w not in index:
                visit(w)
                low[v] = min(low[v], low[w])
            elif w in stack:
                low[v] = min(low[v], index[w])
        if low[v] == index[v]:
            part = []
            while True:
                part.append(stack.pop())
                if part[-1] == v:
                    break
            if len(part) > 1:
                found.append(sorted(part))

    for v in sorted(graph):
        if v not in index:
            visit(v)
    return found


def main():
    crates = sys.argv[1:] or sorted(p.name for p in (ROOT / "crates").iterdir() if (p / "src").is_dir())
    found = {}
    for name in crates:
        graph = dict(Crate(ROOT / "crates" / name / "src").edges())
        for circle in circles(graph):
            found[f"{name}: " + ", ".join("::".join(m) or "(root)" for m in circle)] = (graph, circle)
    for line, (graph, circle) in found.items():
        print(line)
        for m in circle:
            to = sorted("::".join(t) or "(root)" for t in graph[m] if t in circle)
            print(f"    {'::'.join(m) or '(root)'} -> {', '.join(to)}")
    print(f"{len(found)} circles in {len(crates)} crates")
    return 1 if found else 0


if __name__ == "__main__":
    sys.exit(main())
