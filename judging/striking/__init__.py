"""STRIKE LOG + PIECE → BLOWS → RHYTHM → DEVIATIONS → FAULTS → COUNT. Pure: bytes and values in, values out, numpy only.

The arrows, each a module with its helpers:

- `reading`: bytes → `StrikeLog`; `silent_notes`: a MIDI file with fewer notes than bells
- `laying`: → `Rung`, by `seeding`, `cheapest` and `alignment`; `happenings` names what befell the method
- `rhythm`: → `Rhythm`, by `grid`, `chain` and `learning`
- `deviation`: → `Deviations`
- `faults`: → `Fault`, told by `explaining`
- `habits`, `summing_up`: the words
- `pull_off` and `pull_off_series`: the first whole pull, and many of them
- `counting`: the whole; `document`: a `Count` as plain data
- `calibration`: people's counts → tolerance bands
"""

from judging.striking.blows_csv import blows_csv, log_for_spreadsheets
from judging.striking.calibration import Calibration, calibrate
from judging.striking.counting import count_striking
from judging.striking.deviation import deviations
from judging.striking.document import blows_table, count_document, percentage
from judging.striking.laying import lay
from judging.striking.leading import Leading, leads_of
from judging.striking.log_midi import midi_from_log
from judging.striking.log_text import write_log
from judging.striking.marking import SCHEMES, MarkingScheme
from judging.striking.pull_off import pull_offs
from judging.striking.pull_off_series import BellInPullOffs, Progress, bells_of, progress, series_in_words
from judging.striking.reading import is_midi, read_log
from judging.striking.rhythm import fit_rhythm
from judging.striking.rules import CountingRules, Marked
from judging.striking.silent_notes import note_map, read_log_of
from judging.striking.strike_log import StrikeLog
from judging.striking.summing_up import faults_in_words
from judging.striking.tolerance import ToleranceBands
from judging.striking.values import Count, Deviations, Event, Fault, Habit, PullOff, Rhythm, Rung

__all__ = [
    "SCHEMES",
    "BellInPullOffs",
    "Calibration",
    "Count",
    "CountingRules",
    "Deviations",
    "Event",
    "Fault",
    "Habit",
    "Leading",
    "Marked",
    "MarkingScheme",
    "Progress",
    "PullOff",
    "Rhythm",
    "Rung",
    "StrikeLog",
    "ToleranceBands",
    "bells_of",
    "blows_csv",
    "blows_table",
    "calibrate",
    "count_document",
    "count_striking",
    "deviations",
    "faults_in_words",
    "fit_rhythm",
    "is_midi",
    "lay",
    "leads_of",
    "log_for_spreadsheets",
    "midi_from_log",
    "note_map",
    "percentage",
    "progress",
    "pull_offs",
    "read_log",
    "read_log_of",
    "series_in_words",
    "write_log",
]
