"""The journal's Parquet export, read by pyarrow: schema as documented, values as in the CSV and JSON Lines exports.

Usage: parquet.py TARGET_FOLDER (the one that holds the takegauge binary)
"""

import csv
import datetime
import io
import json
import pathlib
import subprocess
import sys
import tempfile

import pyarrow as pa
import pyarrow.parquet as pq

BINARY = pathlib.Path(sys.argv[1]) / "takegauge"
AUDIO = pathlib.Path(__file__).resolve().parents[2] / "test-audio"

text, count, number = pa.string(), pa.int32(), pa.float64()
SCHEMA = {
    "take": pa.int64(), "player": text, "drill": text, "drill_id": text,
    "recorded_at": pa.timestamp("ms", tz="UTC"), "utc_offset_s": count, "day": pa.date32(), "path": text,
    "tempo_bpm": number, "picked": text, "guitar": text, "microphone": text, "tags": text, "note": text, "group": text,
    "label": text, "n": count, "places": count, "bias_ms": number, "bias_low_ms": number, "bias_high_ms": number,
    "spread_ms": number, "spread_low_ms": number, "spread_high_ms": number, "slips": count, "reached": count,
    "missed": count, "missed_low_pct": number, "missed_high_pct": number, "wrong_pitch": count,
    "wrong_pitch_low_pct": number, "wrong_pitch_high_pct": number, "extra": count, "extra_low_pct": number,
    "extra_high_pct": number, "smear_ms": number, "smear_n": count, "level_db": number, "evenness_ms": number,
    "margin": number, "margin_se": number, "limit_ms": number, "outside_pct": number,
}


def run(*args):
    done = subprocess.run([BINARY, *map(str, args)], capture_output=True, text=True, timeout=120)
    assert done.returncode == 0, done.stderr
    return done.stdout


with tempfile.TemporaryDirectory() as folder:
    folder = pathlib.Path(folder)
    journal = ("--journal-file", folder / "j.db")
    run("journal", *journal, "add", AUDIO / "late_inside.flac", "--drill", AUDIO / "late_inside.toml", "--player", "Ada",
        "--recorded-at", "2026-03-01T23:30:00-08:00", "--picked", "all", "--note", 'a "note", with a comma', "-q")
    run("journal", *journal, "export", "--format", "parquet", "--out", folder / "j.parquet")
    table = pq.read_table(folder / "j.parquet")
    found = {f.name: f.type for f in table.schema}
    assert list(found) == list(SCHEMA), list(found)
    for name, kind in SCHEMA.items():
        assert found[name] == kind, (name, found[name], kind)
    rows = table.to_pylist()
    assert rows[0]["recorded_at"] == datetime.datetime(2026, 3, 2, 7, 30, tzinfo=datetime.timezone.utc), rows[0]
    assert rows[0]["day"] == datetime.date(2026, 3, 1)
    table_csv = csv.DictReader(io.StringIO(run("journal", *journal, "export", "--format", "csv"), newline=""))
    for row, line in zip(rows, table_csv, strict=True):
        for name in SCHEMA.keys() - {"recorded_at", "utc_offset_s", "day"}:
            want, got = line[name], row[name]
            same = want == "" if got is None else (got == float(want) if isinstance(got, (int, float)) else got == want)
            assert same, (name, got, want)
    score = json.loads(run("journal", *journal, "export"))["score"]
    groups = {g["group"]: g for g in score["groups"]}
    for row in rows:
        if row["group"] in groups:
            for name in ("n", "bias_ms", "spread_ms", "missed", "smear_ms", "margin"):
                assert row[name] == groups[row["group"]][name], (row["group"], name)
    print(f"{len(rows)} rows of {len(SCHEMA)} columns, as documented")
