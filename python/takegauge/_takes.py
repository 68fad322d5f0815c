"""Hearing and scoring takes: files, or samples in memory."""

from __future__ import annotations

import operator
import os
import re
import tempfile
from collections.abc import Callable, Iterable
from typing import Any, Literal, NamedTuple

from . import _engine
from ._drill import Drill, Stroke
from ._errors import DrillError, InputError
from ._records import Columns
from ._reports import Ladder, Onsets, Score

__all__ = ["Rows", "ladder", "onsets", "rows", "score"]

Progress = Callable[[float], object]


def onsets(
    take: Any,
    rate: int | None = None,
    *,
    channel: str | int = "auto",
    name: str = "array",
    progress: Progress | None = None,
) -> Onsets:
    """The pick attacks of a take; no drill is needed.

    ``take`` is a path, or an array of samples with its ``rate`` in samples a second: one number a frame, or frames x
    channels; floating point with full scale +-1, or PCM of 8, 16 or 32 bits. ``name`` stands for an array in the
    report. ``progress`` is called with the share that is done, 0 to 1.
    """
    return Onsets(_engine.onsets(_take(take, rate, name), str(channel), progress))


def score(
    take: Any,
    drill: Drill | str | os.PathLike[str],
    rate: int | None = None,
    *,
    tempo: float | None = None,
    first_stroke: Stroke | None = None,
    channel: str | int = "auto",
    click_start: float | None = None,
    click_channel: str | int | None = None,
    click_file: str | os.PathLike[str] | None = None,
    delay_ms: float | None = None,
    after_slip: Literal["keep", "drop"] = "keep",
    seed: int = 1,
    waveform: bool = False,
    name: str = "array",
    progress: Progress | None = None,
) -> Score:
    """A take scored against its drill.

    ``take`` and ``rate`` are as in :func:`onsets`; ``drill`` is a :class:`Drill`, a drill file or the name of a built-in
    drill. The other arguments are the options of ``takegauge score``; ``delay_ms`` is the set-up's measured delay,
    ``waveform`` keeps the outline of the sound in the report.
    """
    asked = drill if isinstance(drill, Drill) else Drill.read(drill)
    options = _options(
        tempo=tempo,
        first_stroke=first_stroke,
        channel=channel,
        click_start=click_start,
        click_channel=click_channel,
        click_file=click_file,
        delay_ms=delay_ms,
        after_slip=after_slip,
        seed=seed,
        waveform=waveform,
    )
    return Score(_engine.score(_take(take, rate, name), asked._engine, options, progress))


class Rows(NamedTuple):
    """What the tables of many takes hold of one take."""

    take: Columns
    """One row, with a score or with the reason why there is none: ``status``, ``reason``."""
    notes: Columns
    """One row a note; none of a take without a score."""


def rows(
    take: Any, drill: Drill | str | os.PathLike[str], rate: int | None = None, *, path: str | None = None, **options: Any
) -> Rows:
    """A take as rows of the two tables that ``takegauge batch --out takes.parquet --notes notes.parquet`` writes.

    ``take``, ``drill`` and ``rate`` are as in :func:`score`, whose options may follow; ``take`` may also be the bytes of
    a file. ``path`` is what the take is called in its rows (an array or bytes need it, and a tempo may stand in it).
    A take that cannot be read or scored, and a drill that cannot be read, raise nothing: they are a row with its reason.
    What raises is an option that no take has.
    """
    is_file = isinstance(take, (str, os.PathLike))
    if path is None and not is_file:
        raise InputError("what is the take called? Give path for what is no file")
    asked = _options(**options)
    try:
        known = drill if isinstance(drill, Drill) else Drill.read(drill)
    except DrillError as why:
        return no_rows(take if path is None else path, str(why))
    if isinstance(take, (bytes, bytearray, memoryview)):
        with tempfile.TemporaryDirectory(prefix="takegauge-") as folder:
            # The name tells the format and the tempo.
            file = os.path.join(folder, _file_name(path or ""))
            with open(file, "wb") as out:
                out.write(take)
            return _rows(_engine.rows(file, known._engine, asked, path))
    return _rows(_engine.rows(_take(take, rate, path or ""), known._engine, asked, path))


def no_rows(path: str | os.PathLike[str], why: str) -> Rows:
    """The rows of a take of which no drill is known."""
    return _rows(_engine.no_rows(path, why))


def _rows(tables: tuple[_engine.Table, _engine.Table]) -> Rows:
    take, notes = tables
    return Rows(Columns(take), Columns(notes))


def _file_name(path: str) -> str:
    """The last part of a path or address, as any file may be called: its end, which tells the format, whole."""
    name = re.sub(r"[^\w .+()-]", "_", re.split(r"[/\\]", path)[-1])[-60:]
    return name.lstrip(".") or "take"


def _options(
    *,
    tempo: float | None = None,
    first_stroke: Stroke | None = None,
    channel: str | int = "auto",
    click_start: float | None = None,
    click_channel: str | int | None = None,
    click_file: str | os.PathLike[str] | None = None,
    delay_ms: float | None = None,
    after_slip: Literal["keep", "drop"] = "keep",
    seed: int = 1,
    waveform: bool = False,
) -> dict[str, Any]:
    """The options of scoring as the engine takes them."""
    return {
        "tempo": tempo,
        "first_stroke": first_stroke,
        "channel": str(channel),
        "click_start": click_start,
        "click_channel": None if click_channel is None else str(click_channel),
        "click_file": click_file,
        "delay_ms": delay_ms,
        "after_slip": after_slip,
        "seed": seed,
        "waveform": waveform,
    }


def ladder(takes: Iterable[Any], drill: Drill | str | os.PathLike[str] | None = None, *, seed: int = 1, **options: Any) -> Ladder:
    """One drill at rising tempos: from which tempo on each kind of string change comes apart.

    ``takes`` are paths, in the order played, or takes that are scored already; ``options`` are those of :func:`score`.
    """
    scores = []
    for take in takes:
        if not isinstance(take, Score):
            if drill is None:
                raise InputError("which drill was played? Give one for takes that are not scored yet")
            take = score(take, drill, seed=seed, **options)
        scores.append(take._engine)
    return Ladder(_engine.ladder(scores, seed))


def _take(take: Any, rate: Any, name: str) -> Any:
    """A path, or the engine's own copy of an array."""
    if isinstance(take, (str, os.PathLike)):
        if rate is not None:
            raise InputError("a file states its own rate; leave rate out")
        return take
    if isinstance(take, (bytes, bytearray)):
        raise InputError("bytes are no samples; write them to a file and give its path")
    if rate is None:
        raise InputError("an array of samples needs its rate, in samples a second")
    try:
        hertz = operator.index(int(rate) if float(rate).is_integer() else rate)
    except (TypeError, ValueError):
        raise InputError(f"rate={rate!r}: give a whole number of samples a second") from None
    if not 0 <= hertz < 2**32:
        raise InputError(f"rate={rate!r}: 8000 to 192000 samples a second are read")
    return _engine.Samples(_buffer(take), hertz, name)


def _buffer(samples: Any) -> Any:
    """The samples as something that has a buffer of a width and byte order that the engine reads."""
    if not hasattr(samples, "dtype"):
        try:
            memoryview(samples)
            return samples
        except TypeError:
            pass
    try:
        import numpy
    except ImportError:
        return samples
    array = numpy.asarray(samples)
    if array.dtype.kind == "f" and array.dtype.itemsize not in (4, 8):
        return array.astype(numpy.float64)
    return array if array.dtype.isnative else array.astype(array.dtype.newbyteorder("="))
