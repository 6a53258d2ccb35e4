"""JUDGES' SHEETS + COUNT → MARKS → RANKED RESULT, its safety, judges compared. Decimal where it ranks."""

from judging.marks.combining import Combined, Panel, combine
from judging.marks.ranking import rank
from judging.marks.rules import Combining, MachinePart, MarksRules, Penalty, Rounding, Sheets, Ties
from judging.marks.values import Adjustment, Entrant, Placed, Result, Sheet, Tap

__all__ = [
    "Adjustment",
    "Combined",
    "Combining",
    "Entrant",
    "MachinePart",
    "MarksRules",
    "Panel",
    "Penalty",
    "Placed",
    "Result",
    "Rounding",
    "Sheet",
    "Sheets",
    "Tap",
    "Ties",
    "combine",
    "rank",
]
