"""The page of use and the README run as they stand, block after block; so does the notebook."""

import re
import shutil

import nbformat
import pytest
from conftest import AUDIO, ROOT, paths, program
from make_notebook import notebook

PAGES = {ROOT / "docs" / "python.md": 9, ROOT / "README.md": 1}
NOTEBOOK = ROOT / "docs" / "demo.ipynb"


@pytest.fixture(scope="module")
def folder(tmp_path_factory):
    """What the page speaks of: the demo, two steps of a ladder, a journal."""
    folder = tmp_path_factory.mktemp("docs")
    program("demo", "--out", folder / "demo")
    (folder / "rising").mkdir()
    for bpm in (140, 220):
        for file in (f"ladder_{bpm}.flac", f"ladder_{bpm}.toml"):
            shutil.copy(AUDIO / file, folder / "rising" / file.removeprefix("ladder_"))
    take, drill = paths("late_inside")
    program("journal", "add", take, "--drill", drill, "--player", "Ada", "--journal-file", folder / "practice.db")
    return folder


@pytest.mark.parametrize("page", PAGES, ids=lambda page: page.name)
def test_every_block_of_the_page_runs(page, folder, monkeypatch, capsys):
    blocks = re.findall(r"^```python\n(.*?)^```", page.read_text(), re.M | re.S)
    assert len(blocks) >= PAGES[page]
    monkeypatch.chdir(folder)
    known = {}
    for block in blocks:
        if re.search(r"spark|takegauge\.school", block) and shutil.which("java") is None:
            continue  # Spark's own runtime is not here; tests/run says so.
        # As a person would run it: one after the other, in one session.
        exec(compile(block, page.name, "exec"), known)
    assert "inside" in capsys.readouterr().out.lower()


def test_the_notebook_is_what_running_it_gives(folder):
    kept, fresh = nbformat.read(NOTEBOOK, 4), notebook(folder)
    assert [c.source for c in kept.cells] == [c.source for c in fresh.cells]

    def shown(notebook):
        outputs = [output for cell in notebook.cells for output in cell.get("outputs", [])]
        return ["".join(output.data.get("text/plain", "")) for output in outputs]

    assert any("<svg" in "".join(o.data.get("text/html", "")) for c in kept.cells for o in c.get("outputs", []))
    assert shown(fresh) == shown(kept), "run tests/python/make_notebook.py"
