"""A journal is read as the program reads it."""

import copy
import datetime
import json

import polars
import pyarrow.parquet
import pytest
from conftest import AUDIO, paths, program

import takegauge as tg


@pytest.fixture(scope="module")
def kept(tmp_path_factory):
    file = tmp_path_factory.mktemp("journal") / "journal.sqlite"
    for name, player, day in [("late_inside", "Ada", "2026-03-01"), ("mixed_errors", "Ada", "2026-03-08"), ("restarts", "Ben", "2026-03-08")]:
        take, drill = paths(name)
        program("journal", "add", take, "--drill", drill, "--player", player, "--recorded-at", day, "--journal-file", file)
    return file


def test_the_list_is_the_programs_to_the_byte(kept):
    journal = tg.journal(kept)
    listed = ["journal", "list", "--json", "-", "--journal-file", kept]
    assert journal.takes().to_json() == program(*listed)
    assert journal.takes(player="Ada").to_json() == program(*listed, "--player", "Ada")
    since = datetime.date(2026, 3, 2)
    assert journal.takes(since=since).to_json() == program(*listed, "--since", "2026-03-02")
    assert journal.takes(tempo=(100, 150)).to_json() == program(*listed, "--tempo", "100-150")
    assert journal.takes(drill=paths("restarts")[1]).to_json() == program(*listed, "--drill", paths("restarts")[1])
    assert journal.players == ["Ada", "Ben"] and len(journal) == 3 and "3 takes of Ada, Ben" in repr(journal)
    assert polars.DataFrame(journal.takes())["player"].to_list() == ["Ada", "Ada", "Ben"]


def test_figures_are_the_programs_parquet(kept, tmp_path):
    program("journal", "export", "--format", "parquet", "--out", tmp_path / "j.parquet", "--journal-file", kept)
    written = pyarrow.parquet.read_table(tmp_path / "j.parquet")
    given = pyarrow.table(tg.journal(kept).figures())
    assert given.column_names == written.column_names
    assert given.to_pylist() == written.to_pylist() and given.num_rows > 20


def test_a_kept_score_is_the_score(kept):
    take, drill = paths("late_inside")
    assert tg.journal(kept).take(1).to_json() == program("journal", "show", "1", "--json", "-", "--journal-file", kept)
    assert tg.journal(kept).take(1) == tg.score(take, drill)


@pytest.fixture(scope="module")
def weeks(tmp_path_factory):
    """Ada's ten takes of one drill, one a week, of Ben two of another."""
    file = tmp_path_factory.mktemp("journal") / "weeks.sqlite"
    take, drill = paths("late_inside")
    program("journal", "add", take, "--drill", drill, "--player", "Ada", "--recorded-at", "2026-01-05", "--journal-file", file)
    lines = [json.loads(program("journal", "export", "--journal-file", file))]
    for week in range(1, 10):
        line = copy.deepcopy(lines[0])
        day = datetime.date(2026, 1, 5) + datetime.timedelta(7 * week)
        line["take"] |= {"audio_sha256": f"{week:064x}", "recorded_at": f"{day}T18:00:00+01:00", "path": f"{week}.wav"}
        (changes,) = [g for g in line["score"]["groups"] if g["group"] == "change"]
        changes["spread_ms"] = round(changes["spread_ms"] * 0.9**week, 3)
        lines.append(line)
    (file.parent / "in.jsonl").write_text("".join(f"{json.dumps(line)}\n" for line in lines))
    program("journal", "import", file.parent / "in.jsonl", "--journal-file", file)
    take, drill = paths("restarts")
    program("journal", "add", take, "--drill", drill, "--player", "Ben", "--recorded-at", "2026-01-05", "--journal-file", file)
    return file


def test_questions_are_answered_as_by_the_program_to_the_byte(weeks):
    journal, where = tg.journal(weeks), ("--journal-file", weeks, "--json", "-")
    trend = journal.trend(player="Ada")
    assert trend.to_json() == program("journal", "trend", "--player", "Ada", *where)
    assert trend.headline in " ".join(str(trend).split()) and trend.headline in repr(trend) and trend.player == "Ada"
    asked = journal.trend(group="change", metric="spread", player="Ada")
    assert asked.to_json() == program("journal", "trend", "--player", "Ada", "--group", "change", "--metric", "spread", *where)
    assert asked.rows[0].fit.slope_a_week < 0 and len(asked.rows[0].days) == 10
    compared = journal.compare(1, [9, 10])
    assert compared.to_json() == program("journal", "compare", "1", "9,10", *where)
    assert compared.first == [1] and str(compared) and "takes [1] and [9, 10]" in repr(compared)
    plan = journal.plan(today=datetime.date(2026, 6, 1))
    assert plan.to_json() == program("journal", "plan", "--today", "2026-06-01", *where)
    assert plan.lines[0].due and "2 drills" in repr(plan)


def test_a_question_that_cannot_be_asked_is_told(weeks):
    journal = tg.journal(weeks)
    with pytest.raises(tg.InputError, match="give player, one of: Ada, Ben"):
        journal.trend()
    with pytest.raises(tg.InputError, match="no take passes"):
        journal.trend(player="Cid")
    with pytest.raises(tg.InputError, match='metric="joy": give "spread"'):
        journal.trend(player="Ada", metric="joy")
    with pytest.raises(tg.JournalError, match="no group"):
        journal.trend(player="Ada", group="9>8")
    with pytest.raises(tg.JournalError, match="only takes of one drill by one player"):
        journal.compare(1, 11)
    with pytest.raises(tg.JournalError, match="no take 99"):
        journal.compare(1, 99)
    with pytest.raises(tg.InputError, match="today"):
        journal.plan(today="soon")


def test_what_is_no_journal_is_told(kept, tmp_path):
    with pytest.raises(tg.JournalError, match="no-such"):
        tg.journal(tmp_path / "no-such.sqlite")
    with pytest.raises(tg.JournalError):
        tg.journal(AUDIO / "README.md")
    with pytest.raises(tg.InputError, match="no drill 'squiggle'|no drill \"squiggle\""):
        tg.journal(kept).takes(drill="squiggle")
    with pytest.raises(tg.InputError, match="since"):
        tg.journal(kept).takes(since="yesterday")
    with pytest.raises(tg.JournalError, match="99"):
        tg.journal(kept).take(99)
