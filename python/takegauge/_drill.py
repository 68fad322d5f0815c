"""Drills: read, made, brought in and taken out."""

from __future__ import annotations

import json
import os
from collections.abc import Sequence
from pathlib import Path
from typing import Any, Literal

from . import _engine as engine
from ._errors import DrillError
from ._records import Record, read

__all__ = ["Drill"]

Pathlike = str | os.PathLike[str]
Stroke = Literal["down", "up"]


class Drill:
    """What is to be played: a line, a tempo, and how strokes are chosen.

    >>> Drill.read("inside-pair").name
    'Inside pair'
    """

    _engine: engine.Drill

    def __init__(self, toml: str, name: str = "drill") -> None:
        """A drill from the text of a drill file; ``name`` stands in errors."""
        self._engine = engine.Drill.parse(toml, name)

    @classmethod
    def _of(cls, held: engine.Drill) -> Drill:
        drill = cls.__new__(cls)
        drill._engine = held
        return drill

    @classmethod
    def read(cls, named: Pathlike) -> Drill:
        """A drill file, or a built-in drill by its name."""
        return cls._of(engine.Drill.read(named))

    @staticmethod
    def built_in() -> dict[str, str]:
        """The built-in drills: their names, and what each isolates."""
        return dict(engine.Drill.built_in())

    @classmethod
    def make(
        cls,
        scale: str,
        *,
        position: int = 5,
        notes: Sequence[int] = (3,),
        strings: tuple[int, int] | None = None,
        direction: Literal["ascending", "descending", "both"] = "both",
        sequence: int | None = None,
        skip: int = 0,
        roll: int | None = None,
        only: Literal["outside", "inside", "sweep", "same-stroke"] | None = None,
        leaves_on: Stroke | None = None,
        change: tuple[int, int] | None = None,
        span: int = 4,
        tuning: str | None = None,
        tempo: float = 100.0,
        steps_per_beat: int = 4,
        repeats: int = 8,
        picking: Literal["alternate", "economy", "down", "written"] = "alternate",
        first_stroke: Stroke = "down",
    ) -> Drill:
        """A drill from a scale or chord, as ``takegauge drill make`` makes it; ``remarks`` say what it did otherwise.

        ``strings`` is the first and the last string, as (6, 1); ``notes`` the notes on each string in turn; ``only``,
        ``leaves_on`` and ``change``, of which one may be given, are the change to train.
        """
        options = {k: v for k, v in locals().items() if k != "cls"}
        return cls._of(engine.Drill.make({**options, "notes": list(notes)}))

    @classmethod
    def bring_in(
        cls,
        file: Pathlike | bytes,
        name: str | None = None,
        *,
        part: int | None = None,
        bars: tuple[int, int] | None = None,
        voice: str | None = None,
        tuning: str | None = None,
        tempo: float | None = None,
        even: int | None = None,
    ) -> Drill:
        """A drill from MusicXML, a Standard MIDI File, tablature text or JAMS; ``remarks`` say what was lost.

        ``file`` is a path, or the bytes of a file of that ``name``, whose ending tells the format.
        """
        if isinstance(file, bytes):
            data, called = file, name or "drill"
        else:
            called = name or os.fspath(file)
            try:
                data = Path(file).read_bytes()
            except FileNotFoundError as why:
                raise DrillError(f"{called}: no such file; check the name and the folder") from why
            except IsADirectoryError as why:
                raise DrillError(f"{called} is a folder; name a file in it") from why
            except OSError as why:
                raise DrillError(f"{called}: cannot be read: {why.strerror}") from why
        options = {"part": part, "bars": bars, "voice": voice, "tuning": tuning, "tempo": tempo, "even": even}
        return cls._of(engine.Drill.bring_in(data, called, options))

    @classmethod
    def from_musicxml(cls, file: Pathlike | bytes, **options: Any) -> Drill:
        """As :meth:`bring_in`, from MusicXML (.xml, .musicxml, .mxl)."""
        return cls._from(file, "drill.musicxml", options)

    @classmethod
    def from_midi(cls, file: Pathlike | bytes, **options: Any) -> Drill:
        """As :meth:`bring_in`, from a Standard MIDI File."""
        return cls._from(file, "drill.mid", options)

    @classmethod
    def from_jams(cls, file: Pathlike | bytes, **options: Any) -> Drill:
        """As :meth:`bring_in`, from the notes of a JAMS file."""
        return cls._from(file, "drill.jams", options)

    @classmethod
    def from_tab(cls, file: Pathlike | bytes, **options: Any) -> Drill:
        """As :meth:`bring_in`, from tablature as plain text."""
        return cls._from(file, "drill.txt", options)

    @classmethod
    def _from(cls, file: Pathlike | bytes, name: str, options: dict[str, Any]) -> Drill:
        return cls.bring_in(file, name if isinstance(file, bytes) else None, **options)

    def take_out(self, ending: Literal["musicxml", "mid", "txt", "toml"]) -> bytes:
        """The drill as the bytes of another format, as ``takegauge drill export`` writes it."""
        return self._engine.take_out(ending)[0]

    def start_on(self, stroke: Stroke) -> Drill:
        """The same drill from another first stroke."""
        return self._of(self._engine.start_on(stroke))

    @property
    def remarks(self) -> list[str]:
        """What was done otherwise than asked, or not carried over, a sentence each."""
        return self._engine.remarks

    def check(self) -> list[str]:
        """What is doubtful about it, a sentence each; nothing that forbids scoring it."""
        return self._engine.check()

    def to_toml(self) -> str:
        """The text of its drill file."""
        return self._engine.to_toml()

    def to_json(self) -> str:
        """The very text of ``takegauge drill show --json``: every note of all repeats."""
        return self._engine.to_json()

    def to_dict(self) -> dict[str, Any]:
        """The same as plain dictionaries and lists."""
        return dict(json.loads(self.to_json()))

    @property
    def name(self) -> str:
        return str(self._record().name)

    @property
    def tempo_bpm(self) -> float:
        """Quarter notes a minute."""
        return float(self._record().tempo_bpm)

    @property
    def notes(self) -> list[Record]:
        """Every note of all repeats: time, string, fret, pitch, stroke and change."""
        return list(self._record().notes)

    def _record(self) -> Record:
        return read(self.to_json())

    def __eq__(self, other: object) -> bool:
        return isinstance(other, Drill) and self.to_toml() == other.to_toml()

    def __hash__(self) -> int:
        return hash(self.to_toml())

    def __reduce__(self) -> tuple[type[Drill], tuple[str]]:
        return Drill, (self.to_toml(),)

    def __str__(self) -> str:
        return self._engine.to_text()

    def __repr__(self) -> str:
        r = self._record()
        return f"Drill({r.name!r}: {len(r.notes)} notes at {r.tempo_bpm:g} bpm)"
