"""Says with proof how a plectrum drill was played, from the plain recording.

    import takegauge as tg

    score = tg.score("take.wav", "inside-pair")
    print(score)                  # the program's report
    score.findings[0].text        # its fields, by the names of the program's JSON
    polars.DataFrame(score.notes) # tables, without a copy

The engine is the program's: the same take and options give the same report, byte for byte.
"""

from ._drill import Drill
from ._engine import __version__
from ._errors import DrillError, Error, InputError, JournalError, NotScoredError
from ._journal import Comparison, Journal, Plan, Trend, journal
from ._records import Record, Table
from ._reports import Ladder, Onsets, Score
from ._takes import Rows, ladder, onsets, rows, score

__all__ = [
    "Comparison",
    "Drill",
    "DrillError",
    "Error",
    "InputError",
    "Journal",
    "JournalError",
    "Ladder",
    "NotScoredError",
    "Onsets",
    "Plan",
    "Record",
    "Rows",
    "Score",
    "Table",
    "Trend",
    "__version__",
    "journal",
    "ladder",
    "onsets",
    "rows",
    "score",
]
