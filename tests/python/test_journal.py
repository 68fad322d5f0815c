"""A journal is read as the program reads it."""

import datetime

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
