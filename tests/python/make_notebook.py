"""Writes docs/demo.ipynb with what running it gives; in a folder with demo/ in it: `python make_notebook.py FOLDER`."""

import sys
from pathlib import Path

import nbclient
import nbformat.v4 as nb

CELLS = [
    """# The demo take, in a notebook

`takegauge demo` plays a drill with known faults and writes `demo/take.wav` and `demo/drill.toml`. This notebook scores
that take and looks at it with polars. [python.md](python.md) tells how to get the package.""",
    ["import polars as pl\nimport takegauge as tg\n\nscore = tg.score(\"demo/take.wav\", \"demo/drill.toml\")\nscore"],
    """What stands out, with its evidence: every finding carries its interval, the number of notes behind it, and a
p-value corrected over all groups that were tried.""",
    [
        "pl.DataFrame(\n    [{\"group\": f.group, \"measure\": f.measure, \"value\": f.value, \"unit\": f.unit, \"ci95\": f.ci95,\n"
        "      \"n\": f.n, \"p\": f.p_adjusted} for f in score.findings]\n)"
    ],
    "The notes are a table; any question that the report does not ask can be asked of it.",
    [
        "notes = pl.DataFrame(score.notes)\n"
        "(\n    notes.filter(pl.col(\"deviation_ms\").is_not_null())\n"
        "    .group_by(\"change_kind\", \"stroke\")\n"
        "    .agg(pl.len().alias(\"n\"), pl.col(\"deviation_ms\").median().round(1), pl.col(\"deviation_ms\").std().round(1).alias(\"sd_ms\"))\n"
        "    .sort(\"change_kind\", \"stroke\")\n)"
    ],
    """The plain standard deviation above is not the report's scatter: that is taken within places of the line, and the
detector's own error is taken off. The report's figures, group by group:""",
    ["pl.DataFrame(score.groups).select(\"label\", \"n\", \"bias_ms\", \"bias_low_ms\", \"bias_high_ms\", \"spread_ms\").head(8)"],
]


def notebook(folder):
    cells = [nb.new_code_cell(c[0]) if isinstance(c, list) else nb.new_markdown_cell(c) for c in CELLS]
    for number, cell in enumerate(cells):
        cell["id"] = f"cell-{number}"
    made = nb.new_notebook(cells=cells)
    nbclient.NotebookClient(
        made, timeout=120, kernel_name="python3", record_timing=False, resources={"metadata": {"path": folder}}
    ).execute()
    made["metadata"] = {"kernelspec": {"display_name": "Python 3", "language": "python", "name": "python3"}}
    return made


if __name__ == "__main__":
    import nbformat

    nbformat.write(notebook(sys.argv[1]), Path(__file__).resolve().parents[2] / "docs" / "demo.ipynb")
