"""The practice history, to read."""

from __future__ import annotations

import datetime
import json
import os
from typing import Any

from . import _engine
from ._records import Columns, Record, Table, read
from ._reports import Score

__all__ = ["Journal", "Takes", "journal"]

Date = str | datetime.date


class Takes(Table[Record]):
    """Takes of a journal in the order recorded: a sequence of records, and a table for data frames."""

    def __init__(self, engine: _engine.Takes) -> None:
        self._engine = engine
        super().__init__(read(engine.to_json())["takes"], engine.takes)

    def to_json(self) -> str:
        """The very text of ``takegauge journal list --json -``."""
        return self._engine.to_json()

    def to_dict(self) -> dict[str, Any]:
        """The same as plain dictionaries and lists."""
        return dict(json.loads(self.to_json()))


class Figures(Columns):
    """One row a take and group of notes, for data frames: what ``takegauge journal export`` writes as Parquet."""

    def __init__(self, table: _engine.Table) -> None:
        self._table = table


class Journal:
    """A practice history. Which takes: ``player``; ``drill`` by name, file or id; ``tempo`` as 160, which lets 4 % pass,
    or (150, 170); ``since`` and ``until`` as dates; ``tag``."""

    def __init__(self, path: str | os.PathLike[str]) -> None:
        self._engine, self._path = _engine.Journal(path), os.fspath(path)

    def takes(self, **which: Any) -> Takes:
        """The takes, in the order recorded."""
        return Takes(self._engine.takes(_which(**which)))

    def figures(self, **which: Any) -> Figures:
        """One row a take and group of notes."""
        return Figures(self._engine.figures(_which(**which)))

    def take(self, number: int) -> Score:
        """The score of a take."""
        return Score(self._engine.take(number))

    @property
    def players(self) -> list[str]:
        return self._engine.players

    @property
    def drills(self) -> list[str]:
        return self._engine.drills

    def __len__(self) -> int:
        return len(self.takes())

    def __repr__(self) -> str:
        return f"Journal({self._path!r}: {len(self)} takes of {', '.join(self.players) or 'nobody yet'})"


def _which(
    *,
    player: str | None = None,
    drill: str | os.PathLike[str] | None = None,
    tempo: float | tuple[float, float] | None = None,
    since: Date | None = None,
    until: Date | None = None,
    tag: str | None = None,
) -> dict[str, Any]:
    return {
        "player": player,
        "drill": None if drill is None else os.fspath(drill),
        "tempo": tempo,
        "since": None if since is None else str(since),
        "until": None if until is None else str(until),
        "tag": tag,
    }


def journal(path: str | os.PathLike[str]) -> Journal:
    """Opens a journal to read it."""
    return Journal(path)
