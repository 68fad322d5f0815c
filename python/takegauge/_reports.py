"""What takes come to."""

from __future__ import annotations

import json
from functools import cached_property
from typing import TYPE_CHECKING, Any, Literal, Self

from . import _engine
from ._records import Record, Table, read

if TYPE_CHECKING:
    from ._shapes import LadderShape, OnsetsShape, ScoreShape
else:

    class OnsetsShape:
        @cached_property
        def onsets(self):
            return Table(self._record["onsets"], self._engine.onsets)

    class ScoreShape:
        @cached_property
        def notes(self):
            return Table(self._record["notes"], self._engine.notes)

        @cached_property
        def groups(self):
            return Table(self._record["groups"], self._engine.groups)

        @cached_property
        def changes(self):
            return Table(self._record["changes"], self._engine.changes)

    class LadderShape: ...


__all__ = ["Ladder", "Onsets", "Score"]


class Report:
    """A report of the program: its fields are attributes."""

    _engine: Any

    def __init__(self, engine: Any) -> None:
        self._engine = engine

    def to_json(self) -> str:
        """The very text that the program writes with ``--json``."""
        return str(self._engine.to_json())

    def to_dict(self) -> dict[str, Any]:
        """The same as plain dictionaries and lists."""
        return dict(json.loads(self.to_json()))

    @cached_property
    def _record(self) -> Record:
        return read(self.to_json())

    def __getattr__(self, name: str) -> Any:
        if name.startswith("_"):
            raise AttributeError(name)
        return getattr(self._record, name)

    def __dir__(self) -> list[str]:
        return sorted({*super().__dir__(), *self._record.keys()})

    def __eq__(self, other: object) -> bool:
        return isinstance(other, Report) and type(self) is type(other) and self.to_json() == other.to_json()

    __hash__ = None  # type: ignore[assignment]


class Onsets(Report, OnsetsShape):
    """The attacks of a take, without any drill: ``onsets.onsets`` has one row an attack, ``onsets.times_s`` the times."""

    @property
    def times_s(self) -> list[float]:
        """When the string is let go, in seconds from the file's start."""
        return [o.time_s for o in self.onsets]

    def __len__(self) -> int:
        return len(self.onsets)

    def __repr__(self) -> str:
        take = self._record["take"]
        return f"Onsets({take.path!r}: {len(self)} attacks in {take.duration_s:.1f} s)"


class Scored(Report):
    """A report that the program also writes as text and as HTML."""

    @classmethod
    def from_json(cls, text: str) -> Self:
        """What the program wrote with ``--json``."""
        raise NotImplementedError

    def to_html(self) -> str:
        """The report as one HTML file, as ``--html`` writes it."""
        return str(self._engine.to_html())

    def __reduce__(self) -> tuple[Any, tuple[str]]:
        return type(self).from_json, (self.to_json(),)

    def __str__(self) -> str:
        return str(self._engine.to_text())

    def _repr_html_(self) -> str:
        return str(self._engine.card())


class Score(Scored, ScoreShape):
    """A take scored against its drill: what the program's report says.

    ``notes``, ``groups`` and ``changes`` are tables for data frames, everything else has the names of the JSON.
    ``print(score)`` is the program's text; a notebook shows the figures.
    """

    @classmethod
    def from_json(cls, text: str) -> Self:
        """What ``takegauge score --json`` or a line of ``takegauge batch`` wrote."""
        return cls(_engine.Score.from_json(text))

    def to_jams(self) -> str:
        """The take as JAMS: attacks as ``onset``, notes as ``note_midi``, deviations in the sandbox."""
        return str(self._engine.to_jams())

    def plot(self, which: Literal["take", "changes"] = "take", format: Literal["svg", "png"] = "svg") -> bytes:
        """A figure of the report as a file's bytes."""
        return bytes(self._engine.plot(which, format))

    def __repr__(self) -> str:
        r = self._record
        return (
            f"Score({r['take'].path!r}, {r['drill'].name!r} at {r['timebase'].tempo_bpm:.1f} bpm: "
            f"{r['summary'].notes_reached} notes, {len(r['findings'])} findings)"
        )


class Ladder(Scored, LadderShape):
    """One drill at rising tempos: where each kind of note comes apart. ``by_tempo`` is the table for data frames."""

    @classmethod
    def from_json(cls, text: str) -> Self:
        """What ``takegauge ladder --json`` wrote."""
        return cls(_engine.Ladder.from_json(text))

    @cached_property
    def by_tempo(self) -> Table[Record]:
        """One row a group of notes and tempo."""
        rows = []
        for group in self._record["groups"]:
            rows += [Record({"group": group.group, **dict(at)}) for at in group.by_tempo]
        return Table(rows, self._engine.by_tempo)

    def plot(self, format: Literal["svg", "png"] = "svg") -> bytes:
        """The figure of the report as a file's bytes."""
        return bytes(self._engine.plot(format))

    def __repr__(self) -> str:
        r = self._record
        tempos = ", ".join(f"{t.tempo_bpm:.0f}" for t in r["tempos"])
        return f"Ladder({r['drill']!r} at {tempos} bpm)"
