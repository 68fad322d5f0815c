"""Hearing and scoring takes: files, or samples in memory."""

from __future__ import annotations

import operator
import os
from collections.abc import Callable, Iterable
from typing import Any, Literal

from . import _engine
from ._drill import Drill, Stroke
from ._errors import InputError
from ._reports import Ladder, Onsets, Score

__all__ = ["ladder", "onsets", "score"]

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
    options = {
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
    return Score(_engine.score(_take(take, rate, name), asked._engine, options, progress))


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
