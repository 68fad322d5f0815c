"""Questions of a school to its takes, as SQL over the two tables that :func:`takegauge.spark.write` writes.

    python -m takegauge.school scored              # the folder that write() wrote to: prints both answers

    import takegauge.school
    takegauge.school.late_changes(takes, notes).show()
    takegauge.school.improved(takes).show()

Notes of one take, and takes of one player, are not independent: a figure is first formed for each player (or for each of
a player's days), and intervals are of those. Where there are too few of them the answer is "cannot tell". Tempos are
taken together in bands of 20 quarter notes a minute, by the tempo that was played.
"""

from __future__ import annotations

import sys
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from pyspark.sql import DataFrame

__all__ = ["IMPROVED", "LATE_CHANGES", "improved", "late_changes"]

#: Which change of string is most often late, by level of the player and band of tempo.
#:
#: A note is late where it comes later against the take's own local tempo than one shifted note can be heard at this
#: speed (``hearing_limit_ms``) and than twice the uncertainty of its time. Of each player with at least 10 notes at a
#: change the share of late ones is taken; ``late_pct`` is the mean over players, its 95 % interval Student's over
#: players (at least 4), cut at 0 and 100. The quantile of t is Fisher and Cornish's expansion (Abramowitz and Stegun 1964,
#: 26.7.5), within 1 % from 3 degrees of freedom on. It is never narrower than three notes of all either way, so that
#: "none of 100" is no certainty. The first change is "most often" where its interval lies above that of the second.
LATE_CHANGES = """
WITH heard AS (
    SELECT t.level, CAST(20 * floor(t.tempo_bpm / 20) AS INT) AS from_bpm, t.player,
        concat(n.change_from, '>', n.change_to, ' ', n.change_kind) AS change,
        n.local_deviation_ms > greatest(t.hearing_limit_ms, 2 * n.uncertainty_ms) AS late
    FROM {notes} n JOIN {takes} t ON n.day = t.day AND n.player = t.player AND n.path = t.path
    WHERE n.status = 'played' AND n.change_kind IS NOT NULL AND NOT n.after_gap
        AND n.local_deviation_ms IS NOT NULL AND t.hearing_limit_ms IS NOT NULL
), of_players AS (
    SELECT level, from_bpm, change, player, count(*) AS notes, 100 * avg(CAST(late AS INT)) AS pct
    FROM heard GROUP BY level, from_bpm, change, player HAVING count(*) >= 10
), of_changes AS (
    SELECT level, from_bpm, change, count(*) AS players, sum(notes) AS notes, avg(pct) AS pct,
        CASE WHEN count(*) >= 4 THEN stddev_samp(pct) / sqrt(count(*)) END AS se, nullif(count(*) - 1, 0) AS v,
        1.959964 AS z
    FROM of_players GROUP BY level, from_bpm, change
), told AS (
    SELECT *, greatest(se * (z + (pow(z, 3) + z) / (4 * v) + (5 * pow(z, 5) + 16 * pow(z, 3) + 3 * z) / (96 * v * v)
            + (3 * pow(z, 7) + 19 * pow(z, 5) + 17 * pow(z, 3) - 15 * z) / (384 * v * v * v)),
            CASE WHEN se IS NOT NULL THEN 300 / notes END) AS half,
        row_number() OVER (PARTITION BY level, from_bpm ORDER BY pct DESC, change) AS place
    FROM of_changes
), beside AS (
    SELECT *, lead(pct + half) OVER (PARTITION BY level, from_bpm ORDER BY place) AS next_high,
        count(*) OVER (PARTITION BY level, from_bpm) AS changes
    FROM told
)
SELECT level, from_bpm, place, change, players, notes, round(pct, 1) AS late_pct,
    round(greatest(0, pct - half), 1) AS low_pct, round(least(100, pct + half), 1) AS high_pct,
    CASE WHEN place > 1 THEN '' WHEN changes > 1 AND pct - half > next_high THEN 'most often' ELSE 'cannot tell' END AS verdict
FROM beside ORDER BY level, from_bpm, place
"""

#: Who improved: how each player's scatter on one drill, in one band of tempo, went from day to day.
#:
#: The scatter of a day is the median over its takes. The slope is Theil's and Sen's, the median over all pairs of days,
#: with Sen's 95 % interval from the variance of Kendall's S (Sen 1968, J. Am. Stat. Assoc. 63:1379); at least 8 days.
#: "improved" where the whole interval lies below 0, "worse" where it lies above. ``asked`` is how many such questions
#: were asked: of players who stay as they are about one in 40 is told "improved" by chance, and one in 40 "worse".
IMPROVED = """
WITH days AS (
    SELECT player, drill, CAST(20 * floor(tempo_bpm / 20) AS INT) AS from_bpm, CAST(day AS DATE) AS day,
        count(*) AS takes, percentile(spread_ms, 0.5) AS spread_ms
    FROM {takes} WHERE status = 'scored' AND spread_ms IS NOT NULL GROUP BY ALL
), counted AS (
    SELECT player, drill, from_bpm, count(*) AS days, sum(takes) AS takes, min(day) AS first_day, max(day) AS last_day,
        count(*) * (count(*) - 1) / 2 AS pairs,
        1.959964 * sqrt(count(*) * (count(*) - 1) * (2 * count(*) + 5) / 18) AS c
    FROM days GROUP BY player, drill, from_bpm
), slopes AS (
    SELECT a.player, a.drill, a.from_bpm, 7 * (b.spread_ms - a.spread_ms) / datediff(b.day, a.day) AS slope
    FROM days a JOIN days b ON a.player = b.player AND a.drill = b.drill AND a.from_bpm = b.from_bpm AND a.day < b.day
), ranked AS (
    SELECT *, row_number() OVER (PARTITION BY player, drill, from_bpm ORDER BY slope) AS place FROM slopes
), sen AS (
    SELECT s.player, s.drill, s.from_bpm, percentile(s.slope, 0.5) AS slope,
        min(CASE WHEN s.place = floor((c.pairs - c.c) / 2) THEN s.slope END) AS low,
        min(CASE WHEN s.place = ceil((c.pairs + c.c) / 2) + 1 THEN s.slope END) AS high
    FROM ranked s JOIN counted c ON s.player = c.player AND s.drill = c.drill AND s.from_bpm = c.from_bpm
    WHERE c.days >= 8 GROUP BY s.player, s.drill, s.from_bpm
)
SELECT c.player, c.drill, c.from_bpm, c.days, c.takes, c.first_day, c.last_day,
    round(sen.slope, 3) AS spread_ms_a_week, round(sen.low, 3) AS low_ms_a_week, round(sen.high, 3) AS high_ms_a_week,
    CASE WHEN sen.high < 0 THEN 'improved' WHEN sen.low > 0 THEN 'worse' ELSE 'cannot tell' END AS verdict,
    count(sen.slope) OVER () AS asked
FROM counted c LEFT JOIN sen ON c.player = sen.player AND c.drill = sen.drill AND c.from_bpm = sen.from_bpm
ORDER BY sen.slope NULLS LAST, c.player, c.drill, c.from_bpm
"""


def late_changes(takes: DataFrame, notes: DataFrame) -> DataFrame:
    """One row a level, band of tempo and change of string, the one that is most often late first: :data:`LATE_CHANGES`.

    ``level`` is the school's own word for how far a player is, a column of the table that was scored; without it all
    players are of one level.
    """
    if "level" not in takes.columns:
        takes = takes.selectExpr("*", "'all' AS level")
    return takes.sparkSession.sql(LATE_CHANGES, takes=takes, notes=notes)


def improved(takes: DataFrame) -> DataFrame:
    """One row a player, drill and band of tempo, the greatest fall of scatter first: :data:`IMPROVED`."""
    return takes.sparkSession.sql(IMPROVED, takes=takes)


def main(folder: str) -> None:
    """Prints both answers, all rows of them."""
    from pyspark.sql import SparkSession

    spark = SparkSession.builder.appName("takegauge.school").getOrCreate()
    takes, notes = (spark.read.parquet(f"{folder}/{name}") for name in ("takes", "notes"))
    for title, answer in [
        ("Which change is most often late", late_changes(takes, notes)),
        ("Who improved: scatter from week to week", improved(takes)),
    ]:
        print(f"\n{title}\n")
        answer.show(answer.count(), truncate=False)


if __name__ == "__main__":
    if len(sys.argv) != 2:
        sys.exit("usage: python -m takegauge.school FOLDER (the one that takegauge.spark.write wrote to)")
    main(sys.argv[1])
