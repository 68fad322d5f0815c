"""What is promised of types: they are checked, made from the schemas, and complete."""

import subprocess
import sys
from pathlib import Path

from conftest import ROOT

import takegauge as tg

PACKAGE = ROOT / "python"


def test_the_shapes_are_those_of_the_schemas():
    sys.path.insert(0, str(PACKAGE))
    try:
        import shapes
    finally:
        sys.path.pop(0)
    assert (PACKAGE / "takegauge" / "_shapes.pyi").read_text() == shapes.shapes(), "run python/shapes.py"


def test_the_types_hold(tmp_path):
    """mypy over the package as installed, and over a caller that uses fields and one that is wrong about one."""
    good = tmp_path / "good.py"
    good.write_text(
        "import takegauge as tg\n"
        "score = tg.score('t.wav', tg.Drill.make('A minor'))\n"
        "x: float | None = score.notes[0].deviation_ms\n"
        "y: str = score.findings[0].text\n"
        "z: float = tg.onsets('t.wav').onsets[0].time_s\n"
    )
    bad = tmp_path / "bad.py"
    bad.write_text("import takegauge as tg\nx: int = tg.score('t.wav', 'd').notes[0].deviation_ms\n")

    def mypy(*what):
        command = [sys.executable, "-m", "mypy", "--strict", "--cache-dir", str(tmp_path / "cache"), *map(str, what)]
        return subprocess.run(command, capture_output=True, text=True, check=False)

    whole = mypy("-p", "takegauge")
    assert whole.returncode == 0, whole.stdout
    assert mypy(good).returncode == 0, mypy(good).stdout
    assert "Incompatible types in assignment" in mypy(bad).stdout


def test_every_field_that_a_report_has_is_typed(late):
    typed = (Path(tg.__file__).parent / "_shapes.pyi").read_text()
    for field in late.to_dict():
        assert f"    {field}: " in typed
    assert (Path(tg.__file__).parent / "py.typed").exists()
