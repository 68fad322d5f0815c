"""The practice history, to read."""

from __future__ import annotations

import datetime
import json
import os
from collections.abc import Iterable
from typing import TYPE_CHECKING, Any

from . import _engine
from ._records import Columns, Record, Table, read
from ._reports import Report, Score

if TYPE_CHECKING:
    from ._shapes import ComparisonShape, PlanShape, TrendShape
else:

    class TrendShape: ...

    class ComparisonShape: ...

    class PlanShape: ...


__all__ = ["Comparison", "Journal", "Plan", "Takes", "Trend", "journal"]

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


class Answer(Report):
    """What a question to a journal came to: the fields of the program's JSON; ``print`` gives its text."""

    def __str__(self) -> str:
        return str(self._engine.to_text())


class Trend(Answer, TrendShape):
    """How figures went from practice day to practice day."""

    def __repr__(self) -> str:
        return f"Trend({self._record['headline']!r})"


class Comparison(Answer, ComparisonShape):
    """Two sets of takes against each other."""

    def __repr__(self) -> str:
        return f"Comparison({len(self._record['rows'])} rows: takes {self._record['first']} and {self._record['second']})"


class Plan(Answer, PlanShape):
    """What is due."""

    def __repr__(self) -> str:
        return f"Plan({len(self._record['lines'])} drills on {self._record['today']})"


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

    def trend(self, *, group: str | None = None, metric: str | None = None, **which: Any) -> Trend:
        """What changed most over all kinds of note and figures, as ``takegauge journal trend`` tells it; with a ``group``
        ("change", "inside", "3>2", "whole take") or a ``metric`` ("spread", "bias", ...) that question, the other figures
        after it. Of one player and drill; without a tempo the usual one is followed."""
        return Trend(self._engine.trend(_which(**which), group, metric))

    def compare(self, first: int | Iterable[int], second: int | Iterable[int]) -> Comparison:
        """Two takes, or two sets of them, by their numbers, as ``takegauge journal compare`` holds them against each other."""
        one, other = ([takes] if isinstance(takes, int) else list(takes) for takes in (first, second))
        return Comparison(self._engine.compare(one, other))

    def plan(self, *, today: Date | None = None, **which: Any) -> Plan:
        """What is due, what has stalled, what may go up and what was set, as ``takegauge journal plan`` tells it;
        ``today`` is the day to plan for, else this machine's."""
        return Plan(self._engine.plan(_which(**which), None if today is None else str(today)))

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
