"""The types of what reports hold, from the JSON Schemas: written by shapes.py, not by hand."""

from typing import Any, Literal

from ._records import Record, Table

class OnsetsShape:
    """The pick attacks of a take, heard without a drill. Times are seconds in the take's own time, sample 0 is 0
    s."""
    schema: Literal["takegauge/onsets/1"]
    take: Take
    onsets: Table[Onset]
    """In order of time."""
    warnings: list[str]

class Take(Record):
    path: str
    sample_rate_hz: int
    channels: int
    duration_s: float
    channel_used: str

class Onset(Record):
    time_s: float
    """When the string was let go."""
    uncertainty_ms: float
    """One standard deviation of time_s."""
    strength: float
    """1 is the threshold of the blind list."""
    level_db: float
    """Peak level after the attack, dBFS."""

class ScoreShape:
    """Everything one take's report says."""
    along: Along
    """What changes along the take."""
    camera: CameraSection | None
    """A film of the take, where one was named."""
    cautions: list[str]
    """What to heed where this report speaks of tiredness, ceilings or repetitions."""
    changes: Table[ChangeRow]
    """One a pair of strings and kind of change."""
    curious: Curious
    """Figures for the curious: timing split, evenness, circular measures; `null` with a reason where withheld."""
    drill: DrillSection
    """What was asked."""
    extra: list[ExtraRow]
    """Attacks that are no note of the drill."""
    findings: list[FindingRow]
    """Ranked, the one that fits best first."""
    groups: Table[GroupRow]
    """One a group of notes."""
    may_be_instrument: list[FindingRow]
    """What was found but may be the instrument and not the hand: it does not hold by each note's steepest rise, or is
    what its strings do anyway. `text` says which."""
    notes: Table[NoteRow]
    """Pass by pass, then by index; a note that no pass reached is listed once."""
    passes: list[PassRow]
    """One a pass."""
    plan: list[PlanItem]
    """What to practise next."""
    recording: Health | None
    """Recording health; `null` where it was not taken."""
    reliability: Reliability
    """Margin and reliability of the take as a whole."""
    schema: Literal["takegauge/score/1"]
    """[`SCORE_SCHEMA`]."""
    search: SearchSection
    """How findings were sought and what they had to pass."""
    set_aside: list[SetAsideRow]
    """Stretches that belong to no pass."""
    summary: Summary
    """The take in a few figures."""
    take: TakeSection
    """What was read."""
    timebase: TimebaseSection
    """The fitted time line of the longest pass."""
    tool: ToolSection
    """What made this report."""
    warnings: list[str]
    """What the reader should know."""
    waveform: Waveform | None
    """Outline of the waveform for plots; left out of JSON unless asked."""

class Along(Record):
    """`along`: what changes along the take."""
    bias_slope_ms_a_minute: Figure
    """ms a minute."""
    change_point_s: float | None
    """Where a change-point was found, s."""
    level_slope_db_a_minute: Figure
    """dB a minute."""
    spread_ratio: Figure
    """Spread at the end over spread at the start."""
    tempo_slope_pct_a_minute: Figure
    """Per cent a minute."""
    text: list[str]
    """In words."""

class Figure(Record):
    """An estimate with its 95 % interval. Where `value` is `null`, `withheld` says why."""
    below: float | None
    """Where only its upper end can be told: that 95 % limit."""
    ci95: list[float] | None
    """95 % interval."""
    n: int
    """How many notes (or what `value` counts) stand behind it."""
    reason: Literal["too_few", "played_once", "below_detector", "too_many", "no_click", "to_a_click", "driven", "model_fails", "none_shown"] | None
    """Why, as one of few."""
    value: float | None
    """The estimate."""
    withheld: str | None
    """Why it is withheld, in words."""

class CameraSection(Record):
    """`camera`: a film of the take, and how its clock runs against the recorder's. Film seconds = `offset_s` + take
    seconds * (1 + `drift_ppm` / 1e6); the film's seconds are those of its player."""
    covers_s: list[float]
    """The take's seconds that the film shows: from, to."""
    drift_interval_ppm: list[float] | None
    """95 % interval of `drift_ppm`; `null` where nothing had to be matched."""
    drift_ppm: float
    """By how much the film's clock is faster, in millionths."""
    duration_s: float
    """Length of the film's sound."""
    frame_ms: float | None
    """How long a frame is shown (median of the film's first seconds); `null` where the file does not tell."""
    longest_frame_ms: float | None
    """The longest of these frames, where the rate varies; else `null`."""
    matched_by: Literal["sound", "same_file"]
    """How the two came together."""
    offset_interval_s: list[float] | None
    """95 % interval of `offset_s`, from the scatter of the windows; `null` where nothing had to be matched."""
    offset_s: float
    """Film seconds at the take's start; below 0 where the film begins later. What the sound needs to the camera,
    about 3 ms a metre, is part of it."""
    path: str
    """As the user named it."""
    scatter_ms: float
    """Standard deviation of the agreeing windows about the line."""
    sha256: str
    """SHA-256 of the film's bytes, hexadecimal."""
    text: str
    """In plain words."""
    windows: int
    """Windows with sound in both."""
    windows_agree: int
    """Windows of sound that agree on the line."""

class ChangeRow(Record):
    """One of `changes`: the same figures for a pair of strings and kind of change."""
    adjacent: bool
    """One string away."""
    bias_ci95_ms: list[float | None] | None
    """95 % interval; the lower end is null where it reaches 0."""
    bias_ms: float | None
    """Against the notes in no found group; null with fewer than 8 notes here or there."""
    evenness_ms: float | None
    """SD of the intervals that end on its notes; null with fewer than 8."""
    extra: int
    """Notes with an extra attack just before them; Wilson's interval in per cent of the notes reached."""
    extra_ci95_pct: list[float | None] | None
    """95 % interval; the lower end is null where it reaches 0."""
    from_: int
    """String left."""
    group: str
    """Which notes."""
    kind: Literal["outside", "inside", "sweep", "same-stroke"] | None
    """Kind."""
    label: str
    """As a player reads it: "from string 3 to 2"."""
    leaves_on: Literal["down", "up"] | None
    """The stroke that leaves."""
    level_db: float | None
    """Mean level against the same strings' other notes; null with few notes or a driven recording."""
    limit_ms: float | None
    """A quarter of the shorter neighbouring note distance."""
    margin: float | None
    """(limit - |bias|) / spread; null where one of them is."""
    margin_se: float | None
    """Standard error of the margin."""
    missed: int
    """Not heard; Wilson's interval in per cent of the notes reached."""
    missed_ci95_pct: list[float | None] | None
    """95 % interval; the lower end is null where it reaches 0."""
    n: int
    """Notes with a time in it."""
    outside_pct: float | None
    """The chance that the next note lands outside the limit; null where the margin is."""
    outside_text: str | None
    """"1 note in 20 lands 31 ms or further from its place (limit 23 ms)" """
    places: int
    """Places of the line that it covers."""
    reached: int
    """Notes of it reached."""
    slips: int
    """Notes beyond 4 MAD of their place, left out of the scatter and counted apart."""
    smear_ms: float | None
    """Median time that the string left rings over; null with fewer than 3 notes that have one."""
    smear_n: int
    """Notes with a ringing-over figure."""
    spread_ci95_ms: list[float | None] | None
    """95 % interval; the lower end is null where it reaches 0."""
    spread_ms: float | None
    """SD within places of the line, the detector's variance taken off; null with fewer than 8 notes, with places
    played once, and where it cannot be told from the detector's own error. The lower end of the interval is null
    where it reaches 0."""
    to: int
    """String reached."""
    withheld: str | None
    """Why figures are missing."""
    wrong_pitch: int
    """At another pitch; Wilson's interval in per cent of the notes reached."""
    wrong_pitch_ci95_pct: list[float | None] | None
    """95 % interval; the lower end is null where it reaches 0."""

class Curious(Record):
    """`curious`"""
    lag1: Figure
    """Of inter-onset intervals, place means out."""
    motor_sd_ms: Figure
    """Wing-Kristofferson, ms."""
    motor_variance_ms2: Figure
    """Variance behind `motor_sd_ms`, signed."""
    note: str
    """What belongs with the split."""
    npvi: Figure
    """Normalised by nominal lengths."""
    resultant_length: Figure
    """Mean resultant length of deviations around the step."""
    systematic_sd_ms: Figure
    """SD of the places' means, ms (systematic profile)."""
    timekeeper_sd_ms: Figure
    """Wing-Kristofferson, ms."""
    timekeeper_variance_ms2: Figure
    """Variance behind `timekeeper_sd_ms`, signed: below 0 the model does not hold."""
    trial_sd_ms: Figure
    """Within places, ms (trial to trial)."""

class DrillSection(Record):
    """`drill`"""
    first_stroke: Literal["down", "up"]
    """The first stroke, `--first-stroke` included."""
    name: str
    """As its file says."""
    notes: int
    """Picked and legato notes over all repeats."""
    picking: Literal["alternate", "economy", "down", "written"]
    """How strokes are chosen."""
    repeats: int
    """Times the line is played."""
    steps_per_beat: int
    """Grid steps a beat."""
    tempo_bpm: float
    """Quarter notes a minute, as its file says."""
    tuning: str
    """"6=E2 ... 1=E4", with capo and A4 where they are not the usual."""

class ExtraRow(Record):
    """One of `extra`"""
    after_index: int | None
    """The note it follows; `null` before the first."""
    heard_midi: int | None
    """What pitch, where one was heard."""
    level_db: float
    """Peak level, dBFS."""
    pass_: int
    """Pass, from 0."""
    played_s: float
    """When."""

class FindingRow(Record):
    """One of `findings`"""
    above_hearing_limit: bool | None
    """Whether one note shifted so much can be heard; `null` where that is not the question."""
    advice: str
    """What to try, in words."""
    ci95: list[float] | None
    """95 % interval."""
    group: str
    """Which notes."""
    label: str
    """As a player reads the group: "from string 3 to 2"."""
    measure: Literal["bias", "spread", "missed", "wrong_pitch", "extra", "smear", "level", "tempo", "swing", "tempo_change", "change_in_take"]
    """What of them."""
    n: int
    """Notes in the group."""
    note_indices: list[int]
    """The notes to listen to."""
    note_times_s: list[float]
    """Their times, s."""
    or_also: list[str]
    """Groups that fit as well."""
    p_adjusted: float | None
    """Corrected over all groups tried."""
    text: str
    """One plain sentence."""
    unit: Literal["ms", "dB", "per cent", "in 100 notes", "bpm", "ratio", ""]
    """Of `value`."""
    value: float
    """How much."""

class GroupRow(Record):
    """One of `groups`"""
    bias_ci95_ms: list[float | None] | None
    """95 % interval; the lower end is null where it reaches 0."""
    bias_ms: float | None
    """Against the notes in no found group; null with fewer than 8 notes here or there."""
    evenness_ms: float | None
    """SD of the intervals that end on its notes; null with fewer than 8."""
    extra: int
    """Notes with an extra attack just before them; Wilson's interval in per cent of the notes reached."""
    extra_ci95_pct: list[float | None] | None
    """95 % interval; the lower end is null where it reaches 0."""
    group: str
    """Which notes."""
    label: str
    """As a player reads it: "from string 3 to 2"."""
    level_db: float | None
    """Mean level against the same strings' other notes; null with few notes or a driven recording."""
    limit_ms: float | None
    """A quarter of the shorter neighbouring note distance."""
    margin: float | None
    """(limit - |bias|) / spread; null where one of them is."""
    margin_se: float | None
    """Standard error of the margin."""
    missed: int
    """Not heard; Wilson's interval in per cent of the notes reached."""
    missed_ci95_pct: list[float | None] | None
    """95 % interval; the lower end is null where it reaches 0."""
    n: int
    """Notes with a time in it."""
    outside_pct: float | None
    """The chance that the next note lands outside the limit; null where the margin is."""
    outside_text: str | None
    """"1 note in 20 lands 31 ms or further from its place (limit 23 ms)" """
    places: int
    """Places of the line that it covers."""
    reached: int
    """Notes of it reached."""
    slips: int
    """Notes beyond 4 MAD of their place, left out of the scatter and counted apart."""
    smear_ms: float | None
    """Median time that the string left rings over; null with fewer than 3 notes that have one."""
    smear_n: int
    """Notes with a ringing-over figure."""
    spread_ci95_ms: list[float | None] | None
    """95 % interval; the lower end is null where it reaches 0."""
    spread_ms: float | None
    """SD within places of the line, the detector's variance taken off; null with fewer than 8 notes, with places
    played once, and where it cannot be told from the detector's own error. The lower end of the interval is null
    where it reaches 0."""
    withheld: str | None
    """Why figures are missing."""
    wrong_pitch: int
    """At another pitch; Wilson's interval in per cent of the notes reached."""
    wrong_pitch_ci95_pct: list[float | None] | None
    """95 % interval; the lower end is null where it reaches 0."""

class NoteRow(Record):
    """One of `notes`"""
    change: ChangeOfNote | None
    """`null` where the string stays."""
    deviation_ms: float | None
    """Played minus expected; there whenever `played_s` is."""
    expected_s: float
    """Where the grid puts it."""
    fret: int
    """From the capo."""
    groups: list[int]
    """The groups it enters, as places in the report's `groups`."""
    heard_midi: int | None
    """What was heard, where a pitch was."""
    index: int
    """0.. over all repeats, the same for every take of a drill."""
    level_db: float | None
    """Peak level after the attack, dBFS."""
    local_deviation_ms: float | None
    """Deviation from the pass's smooth local tempo."""
    midi: int
    """Sounding pitch."""
    pass_: int
    """Pass, from 0."""
    played_s: float | None
    """When it was heard."""
    position: int
    """Step in the line."""
    repeat: int
    """Which time the line is played."""
    rise_ms: float | None
    """How long after `played_s` the sound rises most: a second reference for the note's time, signed."""
    smear_ms: float | None
    """Ringing over of the string left."""
    smear_withheld: str | None
    """Why `smear_ms` is withheld at a change."""
    status: Literal["played", "missed", "wrong_pitch", "not_judged", "not_reached"]
    """What became of it."""
    string: int
    """1 = nearest the floor."""
    stroke: Literal["down", "up"] | None
    """The drill's stroke; `null` on legato notes."""
    stroke_sure: bool
    """Not after a missed or extra note, until the next gap or the next repeat without a slip: there the stroke is the
    drill's by assumption, and the note enters its groups all the same unless that was refused (`--after-slip
    drop`)."""
    uncertainty_ms: float | None
    """One standard deviation of `played_s`."""

class ChangeOfNote(Record):
    """A change of string, on the note that arrives."""
    adjacent: bool
    """One string away."""
    after_gap: bool
    """After a rest or held note: no test of a change."""
    from_: int
    """String left."""
    kind: Literal["outside", "inside", "sweep", "same-stroke"] | None
    """`null` where a legato note or a chord stands on either side."""
    leaves_on: Literal["down", "up"] | None
    """The stroke that leaves."""
    to: int
    """String reached."""

class PassRow(Record):
    """One of `passes`"""
    errors: int
    """Missed, wrong and extra notes."""
    from_s: float
    """First attack."""
    notes_reached: int
    """Notes between the first and the last one heard."""
    offset_s: float
    """Where the drill's first step falls."""
    pass_: int
    """From 0."""
    played: int
    """Of them heard and right."""
    scatter_ms: float | None
    """SD of the deviations about the means of their places in the whole take, slips pulled in, ms; `null` where
    places were played once or too few notes were heard."""
    tempo_bpm: float
    """As played."""
    to_s: float
    """Last attack."""

class PlanItem(Record):
    """One of `plan`"""
    burst_bpm: float | None
    """Bursts above the goal."""
    drill_toml: str
    """A drill file's text."""
    rest: str
    """How long to rest."""
    start_bpm: float
    """Where to begin."""
    step_bpm: float
    """How far to go up at a time."""
    stop: str
    """When to stop."""
    tab: list[str]
    """A loop as tablature, line by line; empty where it is the whole line."""
    what: str
    """What."""
    why: str
    """Why."""

class Health(Record):
    """What the meter found. Numbers carry their unit in their name. The fields stand by name, as reports have always
    written them."""
    clipped_runs: int
    """How many flat tops."""
    clipped_samples: int
    """Samples in flat tops, at full scale or below."""
    crest_db: float | None
    """Peak above rms within 50 ms, middle value of the louder half: 8 dB and more for a guitar that is not driven."""
    dc_offset: float
    """Constant offset, as a share of full scale."""
    digital_silence_share: float
    """Share (0 to 1) of the take that is digital silence, every sample 0."""
    duration_s: float
    """Length of what was measured."""
    echo_db: float | None
    """Level of the copy that `echo_ms` is the distance of, against the sound itself."""
    echo_ms: float | None
    """Distance at which the sound, or a part of it, comes again exactly: a delay effect's, or a bleeding click's."""
    first_clipped_s: float | None
    """Where the first flat top is."""
    first_hard_cut_s: float | None
    """Where the first such cut is."""
    hard_cuts: int
    """How often the sound breaks off into digital silence: cuts, or a hard gate."""
    hiss_dbfs: float | None
    """Broadband noise, as if white: at most this, where the take never rests."""
    hum_dbfs: float | None
    """Level of the hum with its harmonics."""
    hum_hz: float | None
    """Mains frequency of a hum, 50 or 60; `None` where no hum stands out."""
    level_dbfs: float | None
    """Level of the playing: 95 % of all stretches of 50 ms are no louder (rms)."""
    limited_or_driven: bool
    """The level hardly moves: overdrive, a limiter or heavy compression."""
    near_peak_share: float
    """Share (0 to 1) of the sounding stretches of 50 ms that come within 1 dB of the highest peak."""
    noise_floor_dbfs: float | None
    """Hiss and hum together."""
    non_finite_samples: int
    """Samples that were no number in the file, read as 0."""
    peak_dbfs: float
    """Highest sample."""
    problems: list[Problem]
    """What is wrong, and what to do, the gravest first; empty for a healthy take."""
    quietest_dbfs: float | None
    """Level of the quietest moments: 5 % of all stretches of 50 ms are no louder (rms)."""
    rms_dbfs: float
    """Root mean square of everything, offset removed."""
    signal_to_noise_db: float | None
    """`level_dbfs` above `noise_floor_dbfs`."""

class Problem(Record):
    """One thing wrong with a recording."""
    advice: str
    """What to do about it."""
    kind: Literal["silent", "non_finite", "clipped", "noise", "hum", "echo", "limited_or_driven", "hard_cuts", "quiet", "dc_offset"]
    """What kind."""
    text: str
    """What was found, with its numbers."""

class Reliability(Record):
    """`reliability`"""
    at_most_in_100: float | None
    """Exact (Clopper-Pearson) one-sided upper 95 % limit of errors in 100 notes."""
    clean_repeats: int
    """Repeats without an error."""
    errors: int
    """Missed, wrong and extra notes."""
    notes: int
    """Notes reached."""
    repeats: int
    """Repeats played whole."""
    text: str
    """In words."""
    whole_passes: int
    """Passes played whole."""

class SearchSection(Record):
    """`search`: how findings were sought."""
    alpha: float
    """A finding needs a corrected p-value of at most this."""
    gates: list[str]
    """What a difference must reach to be told, in words."""
    groups_tried: int
    """Groups tried for timing, after merging those with the same notes."""
    hearing_limit_ms: float | None
    """From here on one shifted note can be heard at this speed, ms (Friberg & Sundberg 1995, J. Acoust. Soc. Am.
    98:2524)."""
    permutations: int
    """Shuffles behind each corrected p-value."""
    withheld: str | None
    """Why nothing was sought, where nothing was."""

class SetAsideRow(Record):
    """One of `set_aside`"""
    from_s: float
    """From."""
    to_s: float
    """To."""
    why: str
    """In plain words."""

class Summary(Record):
    """`summary`"""
    detector_sd_ms: float
    """The detector's own error that was taken off, ms."""
    extra: int
    """Attacks that are no note of the drill."""
    headline: list[str]
    """Two plain sentences, and a third where it is doubtful that the drill was played."""
    ioi_sd_ms: Figure
    """SD of inter-onset intervals of single-step neighbours, ms."""
    leaves_on_down: int
    """See `leaves_on_up`."""
    leaves_on_up: int
    """"leaves on upstrokes 12, on downstrokes 0", as counts of the drill."""
    missed: int
    """Not heard."""
    notes_a_second: float
    """Notes a second at the tempo played."""
    notes_reached: int
    """Picked notes reached, all passes."""
    played: int
    """Of those played."""
    raw_sd_ms: float | None
    """Scatter as it came, drift and detector included, ms."""
    slips: int
    """Notes left out of `spread_ms`, each further from its place than 4 MAD of all."""
    spread_ms: Figure
    """Scatter within places of the line, the detector's variance taken off, ms."""
    strokes_assumed: int
    """Notes after a slip, whose strokes are the drill's by assumption."""
    strokes_note: str
    """Strokes, inside and outside are the drill's, and how many of them are assumed: said in every output."""
    swing_pct: Figure | None
    """Share of a pair of steps that the first takes, per cent, where the drill is straight and the playing is not."""
    wrong_pitch: int
    """Heard at another pitch."""

class TakeSection(Record):
    """`take`"""
    channel_used: str
    """Which were listened to, in words."""
    channels: int
    """In the file."""
    duration_s: float
    """Decoded length."""
    path: str
    """As the user named it."""
    sample_rate_hz: int
    """Samples a second."""

class TimebaseSection(Record):
    """`timebase`"""
    asked_tempo_bpm: float | None
    """What was asked for: by `--tempo` or the file's name; `null` where nothing was."""
    cents_off: float
    """How far the guitar is off the drill's pitch."""
    from_click_ms: float | None
    """In click mode: played minus click on average, or the reason why it is withheld."""
    from_click_withheld: str | None
    """Why `from_click_ms` is withheld."""
    mode: Literal["steady", "click"]
    """Fitted to the playing, or to a click."""
    offset_s: float
    """Where the drill's first step falls in the take."""
    tempo_bpm: float
    """As played."""
    tempo_error_pct: float
    """Played over the drill's, in per cent, signed."""
    tempo_from: Literal["given", "file name", "drill", "sought", "click"]
    """Where the tempo came from."""

class ToolSection(Record):
    """`tool`"""
    seed: int
    """Of every random choice in this report."""
    version: str
    """Of takegauge."""

class Waveform(Record):
    """Outline of the waveform."""
    high: list[int]
    """Highest."""
    low: list[int]
    """Lowest, in thousandths of full scale."""
    step_s: float
    """One pair a step."""

class LadderShape:
    """One drill at several tempos: which kind of note comes apart, and where."""
    cautions: list[str]
    """What to heed where ceilings and tiredness are spoken of."""
    clean_up_to_bpm: float | None
    """The highest tempo whose exact upper 95 % limit of the note error rate is below 5 in 100."""
    drill: str
    """The drill's name."""
    groups: list[LadderGroupRow]
    """One a group of notes."""
    headline: str
    """The answer to "which change, from which tempo" in one sentence."""
    remarks: list[str]
    """In plain words: what was found, what cannot be told, what to record next; the headline first."""
    schema: Literal["takegauge/ladder/1"]
    """[`LADDER_SCHEMA`]."""
    takes: list[LadderTake]
    """In the order played."""
    tempos: list[LadderTempo]
    """The tempos, rising; takes within 1.5 % of one another are one tempo."""

class LadderGroupRow(Record):
    """One group against tempo."""
    at_once: bool
    """Whether it comes apart all at once between two tempos rather than more and more."""
    bracketed: bool | None
    """Whether the tempos reach well to both sides of the hinge."""
    by_tempo: list[AtTempo]
    """One a tempo, rising."""
    comes_apart_bpm: float | None
    """The tempo at which it comes apart."""
    comes_apart_ci95_bpm: list[float] | None
    """95 % interval."""
    could_show_late_ms: float | None
    """Where it is not said to come apart: the lateness at the top, growing from the middle tempo on, that these takes
    would have shown with a chance of 80 %, ms."""
    group: str
    """Which notes."""
    label: str
    """As a player reads it."""
    late_at_top_ms: float | None
    """Mean against the reference at the highest tempo, as the fit has it, ms."""
    late_throughout_ci95_ms: list[float] | None
    """95 % interval."""
    late_throughout_ms: float | None
    """Mean against the reference over all tempos, ms; takes' own differences are in its interval."""
    later_by_ci95_ms: list[float] | None
    """Its 95 % interval at this hinge."""
    later_by_ms: float | None
    """How much of it the tempo brings: at the top less below the hinge, ms."""
    measure: Literal["bias", "spread", "bias and spread"]
    """What comes apart."""
    mistakes: LadderHinge | None
    """From where on it goes wrong more often than other notes do."""
    or_also: list[str]
    """Groups that fit as well, those with the same notes first."""
    p_adjusted: float | None
    """Corrected over all groups tried."""
    ringing: LadderHinge | None
    """From where on the string left rings longer."""
    spread_at_top: float | None
    """How wide the deviations lie about the group's own mean at the highest tempo, over how wide they lie below the
    hinge, both against the same string. Unlike `spread_ms` it holds what differs from place to place of the line."""
    withheld: str | None
    """Why nothing is said, where nothing is."""

class AtTempo(Record):
    """A group at one tempo."""
    bias_ms: float | None
    """Mean against that of the notes on the same string (of all others, where the line has none), ms; `null` with
    fewer than 3 notes, and for the notes on the same string themselves."""
    errors: int
    """Missed, wrong and extra notes."""
    n: int
    """Notes with a time."""
    smear_ms: float | None
    """Median ringing over, ms."""
    spread_ci95_ms: list[float | None] | None
    """Its 95 % interval, ms; the lower end is `null` where it reaches 0, and the upper one then a one-sided limit."""
    spread_ms: float | None
    """Scatter as in a take's report, ms: the SD about the mean of each place of the line in its take, slips left out,
    the detector's error taken off. `null` with fewer than 8 notes, or where it cannot be told from the detector's."""
    tempo_bpm: float
    """The tempo."""
    unsure: int
    """Of them with strokes that are the drill's by assumption: a missed or extra note came before."""

class LadderHinge(Record):
    """From which tempo on a figure grows."""
    above: float | None
    """Beyond it."""
    below: float | None
    """The figure up to there."""
    from_bpm: float | None
    """The tempo."""
    from_ci95_bpm: list[float] | None
    """95 % interval."""
    p_adjusted: float
    """Corrected over all groups tried."""
    unit: Literal["ms", "dB", "per cent", "in 100 notes", "bpm", "ratio", ""]
    """Its unit."""

class LadderTake(Record):
    """One take of the ladder."""
    clean: bool
    """Whether its exact upper 95 % limit of the note error rate is below 5 in 100."""
    errors: int
    """Missed, wrong and extra notes."""
    notes: int
    """Notes reached."""
    notes_a_second: float
    """Notes a second at that tempo."""
    path: str
    """As the user named it."""
    spread_ms: float | None
    """Scatter of the whole take, ms."""
    tempo_bpm: float
    """As played."""

class LadderTempo(Record):
    """One tempo, its takes pooled."""
    at_most_in_100: float | None
    """Exact one-sided upper 95 % limit of errors in 100 notes."""
    errors: int
    """Missed, wrong and extra notes."""
    notes: int
    """Notes reached."""
    takes: int
    """Takes at it."""
    tempo_bpm: float
    """Mean over its takes."""

class TrendShape:
    """`takegauge/trend/1`"""
    drill: str
    """Of which drill."""
    headline: str
    """The answer in one sentence."""
    player: str
    """Whose."""
    remarks: list[str]
    """What to heed."""
    rows: list[TrendRow]
    """The question first; where none was asked, what changed, the best supported first."""
    schema: Literal["takegauge/trend/1"]
    """[`TREND_SCHEMA`]."""
    tempo_bpm: list[float] | None
    """Takes played from this tempo to that; `None` where all count."""
    text: list[str]
    """What stayed, in sentences."""

class TrendRow(Record):
    """One series."""
    days: list[DayValue]
    """One a practice day."""
    fit: LineFit | None
    """The line; `None` where it is withheld."""
    group: str
    """The group."""
    label: str
    """As a player reads it."""
    metric: Literal["spread", "bias", "evenness", "errors", "smear", "margin", "clean_tempo"]
    """Which figure."""
    takes: int
    """Takes behind it."""
    text: str
    """One or two plain sentences."""
    unit: Literal["ms", "dB", "per cent", "in 100 notes", "bpm", "ratio", ""]
    """Of the values."""
    withheld: str | None
    """Why no line is drawn."""

class DayValue(Record):
    """A practice day."""
    date: str
    """2026-03-01"""
    day: int
    """Days since 1970-01-01."""
    takes: int
    """How many takes."""
    tempo_bpm: float
    """Their median tempo."""
    value: float
    """Median of the day's takes."""

class LineFit(Record):
    """Line and test."""
    autocorrelation: float
    """Likeness of successive days."""
    change: float
    """Slope times span."""
    change_ci95: list[float]
    """95 % interval."""
    day_sd: float
    """SD of the days about the line."""
    p: float
    """Two-sided p of Mann-Kendall, exact for few days."""
    p_adjusted: float | None
    """Corrected for the number of further series; `None` for the question itself."""
    slope_a_week: float
    """Per week."""
    slope_ci95: list[float]
    """95 % interval."""
    smallest_change_shown: float
    """The smallest change over the span that these days show with a chance of 80 %."""
    span_days: int
    """First to last day."""
    start_value: float
    """The line's value on the first day."""
    variance_factor: float
    """By how much it widens the variance."""
    verdict: Literal["change", "none shown", "steady"]
    """What the test and the interval say."""

class ComparisonShape:
    """`takegauge/compare/1`"""
    first: list[int]
    """Takes of the first set."""
    rows: list[CompareRow]
    """One a group and measure."""
    schema: Literal["takegauge/compare/1"]
    """[`COMPARE_SCHEMA`]."""
    second: list[int]
    """Takes of the second."""
    text: list[str]
    """Plain sentences."""

class CompareRow(Record):
    """A difference, second less first."""
    ci95: list[float] | None
    """95 % interval, take-to-take variance included."""
    difference: float | None
    """Second less first."""
    first: float | None
    """Mean of the first set."""
    first_ci95: list[float] | None
    """95 % interval of the first mean, take-to-take variance included."""
    group: str
    """The group."""
    label: str
    """As a player reads it."""
    measure: Literal["spread", "bias", "evenness", "errors", "smear", "margin", "clean_tempo"]
    """Bias, spread or errors."""
    p: float | None
    """Two-sided p."""
    p_adjusted: float | None
    """Corrected over all rows."""
    second: float | None
    """Mean of the second."""
    second_ci95: list[float] | None
    """The same of the second."""
    take_sd: float | None
    """How much takes differ on their own, SD."""
    takes: int
    """Takes behind that."""
    unit: Literal["ms", "dB", "per cent", "in 100 notes", "bpm", "ratio", ""]
    """Of the figures."""
    withheld: str | None
    """Why there is no interval."""

class PlanShape:
    """`takegauge/plan/1`"""
    cautions: list[str]
    """What to heed."""
    lines: list[PlanLine]
    """The most urgent first."""
    schema: Literal["takegauge/plan/1"]
    """[`PLAN_SCHEMA`]."""
    tasks: list[TaskLine]
    """What was set and is not done, the most urgent first."""
    today: str
    """The day it is for."""

class PlanLine(Record):
    """One drill."""
    days_since: int
    """Days since."""
    drill: str
    """Which."""
    due: bool
    """Its rest is half again as long as usual, or longer."""
    last_day: str
    """The last day it was practised."""
    next_tempo_bpm: float | None
    """What to try, where it may go up."""
    player: str
    """Whose."""
    practice_days: int
    """Practice days at this tempo."""
    stalled: bool
    """Inside +-2 ms over the span."""
    start_bpm: float | None
    """The tempo to begin at."""
    tempo_bpm: float
    """The tempo it stands at."""
    what: str
    """What to do, in a sentence."""
    why: str
    """Why."""
    work_on: str | None
    """The change to work on, where one stands out."""

class TaskLine(Record):
    """A task as of a day."""
    days_left: int | None
    """Days until it is due, below 0 where that is past."""
    done: str | None
    """The day it was ticked off."""
    drill: str | None
    """The drill's name."""
    due: str | None
    """The day by which it is to be done."""
    player: str
    """For whom."""
    set: str
    """The day it was set."""
    so_far: str | None
    """Of a drill: what was played of it since it was set."""
    state: Literal["open", "overdue", "done"]
    """How it stands."""
    task: int
    """Its number in the journal."""
    tempo_bpm: float | None
    """At which tempo."""
    what: str
    """What to do: the words, the drill, the tempo."""
    when: str
    """When it is due, in words: "overdue by 3 days (2026-03-01)"."""
