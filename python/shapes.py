"""Writes takegauge/_shapes.pyi, the types of what reports hold, from the JSON Schemas: `python shapes.py`."""

import json
import keyword
import textwrap
from pathlib import Path

ROOT = Path(__file__).resolve().parent
SCHEMAS = ROOT.parent / "schemas"
# What is a table for data frames too.
TABLES = {"OnsetsShape": {"onsets"}, "ScoreShape": {"notes", "groups", "changes"}, "LadderShape": set()}


class Writer:
    def __init__(self):
        self.classes = {}

    def schema(self, file, name):
        schema = json.loads((SCHEMAS / file).read_text())
        self.defs = schema.get("$defs", {})
        self.object(schema, name, base="")

    def object(self, schema, name, base="Record"):
        if name in self.classes:
            return name
        self.classes[name] = []
        lines = [f"class {name}({base}):" if base else f"class {name}:"]
        if about := schema.get("description"):
            lines += doc(about, 4)
        for field, of in sorted(schema["properties"].items(), key=lambda p: list(schema["properties"]).index(p[0])):
            kind = self.type(of, field)
            if field in TABLES.get(name, ()):
                kind = kind.replace("list[", "Table[", 1)
            lines.append(f"    {field}{'_' if keyword.iskeyword(field) else ''}: {kind}")
            if about := of.get("description"):
                lines += doc(about, 4)
        self.classes[name] = lines
        return name

    def type(self, schema, field):
        if "$ref" in schema:
            name = schema["$ref"].rsplit("/", 1)[1]
            of = self.defs[name]
            return self.object(of, name) if "properties" in of else self.type(of, field)
        for several in ("anyOf", "oneOf"):
            if several in schema:
                return union(self.type(s, field) for s in schema[several])
        if "const" in schema:
            return f"Literal[{json.dumps(schema['const'])}]"
        if "enum" in schema:
            return union(f"Literal[{json.dumps(v)}]" if v is not None else "None" for v in schema["enum"])
        kinds = schema.get("type", "object")
        if isinstance(kinds, list):
            return union(self.type({**schema, "type": k}, field) for k in kinds)
        match kinds:
            case "array":
                return f"list[{self.type(schema.get('items', {}), field)}]"
            case "object":
                title = "".join(part.capitalize() for part in field.removesuffix("s").split("_")) or "Part"
                return self.object(schema, title) if "properties" in schema else "dict[str, Any]"
        return {"string": "str", "integer": "int", "number": "float", "boolean": "bool", "null": "None"}[kinds]


def union(kinds):
    kinds = list(dict.fromkeys(kinds))
    words = [k for k in kinds if k.startswith("Literal[")]
    if len(words) > 1:
        joined = f"Literal[{', '.join(w[8:-1] for w in words)}]"
        kinds = [joined] + [k for k in kinds if k not in words]
    return " | ".join(kinds)


def doc(text, indent):
    pad = " " * indent
    text = text.replace("\\", "\\\\").replace('"""', "'''")
    text += " " if text.endswith('"') else ""
    return textwrap.wrap(f'"""{text}"""', 118, initial_indent=pad, subsequent_indent=pad, break_long_words=False)


def shapes():
    writer = Writer()
    writer.schema("onsets-1.json", "OnsetsShape")
    writer.schema("score-1.json", "ScoreShape")
    writer.schema("ladder-1.json", "LadderShape")
    writer.schema("trend-1.json", "TrendShape")
    writer.schema("compare-1.json", "ComparisonShape")
    writer.schema("plan-1.json", "PlanShape")
    head = '''"""The types of what reports hold, from the JSON Schemas: written by shapes.py, not by hand."""

from typing import Any, Literal

from ._records import Record, Table
'''
    return head + "".join("\n" + "\n".join(lines) + "\n" for lines in writer.classes.values())


if __name__ == "__main__":
    (ROOT / "takegauge" / "_shapes.pyi").write_text(shapes())
