"""JUDGES' SHEETS + COUNT → MARKS → RANKED RESULT, its safety, judges compared. Decimal where it ranks."""

from judging.marks.combining import Combined, Panel, combine
from judging.marks.exact import Rounding
from judging.marks.judges import JudgeCompared, JudgesCompared, compare_judges
from judging.marks.penalties import Penalty
from judging.marks.ranking import rank
from judging.marks.rules import Combining, MachinePart, MarksRules, Ties
from judging.marks.sheet_rules import Sheets
from judging.marks.surprising import Surprise, surprising
from judging.marks.taps import TapsCompared, compare_taps, heard_by_sort, heard_in_words
from judging.marks.values import Adjustment, Entrant, Placed, Result, Safety, Sheet, Tap

__all__ = [
    "Adjustment",
    "Combined",
    "Combining",
    "Entrant",
    "JudgeCompared",
    "JudgesCompared",
    "MachinePart",
    "MarksRules",
    "Panel",
    "Penalty",
    "Placed",
    "Result",
    "Rounding",
    "Safety",
    "Sheet",
    "Sheets",
    "Surprise",
    "Tap",
    "TapsCompared",
    "Ties",
    "combine",
    "compare_judges",
    "compare_taps",
    "heard_by_sort",
    "heard_in_words",
    "rank",
    "surprising",
]
