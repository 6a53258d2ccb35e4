"""Judges who have to do with a band: what they declare, which entries that may mean, and what the rules say follows.

A judge says in words where he or she belongs, without being told who has entered; the organiser, who sees the entries,
says which of them that is. So no judge learns from this whether a band rings.
"""

import re
from collections.abc import Iterable

from judging.contest.declared import ConflictRule
from judging.contest.values import Entry
from judging.marks.values import Sheet

#: Words of a name that say nothing about whose it is. Common practice, no source.
_COMMON = frozenset(
    ("and", "bells", "branch", "church", "district", "guild", "saint", "society", "the", "tower", "young")
)


def may_be(belongs_to: str, band: str) -> bool:
    """Whether what a judge declared may mean a band: the two have a telling word in common.

    Parameters
    ----------
    belongs_to : str
        As the judge wrote it.
    band : str
        The band's name.

    Returns
    -------
    bool
        A hint for the organiser, who decides.
    """
    return bool(_telling(belongs_to) & _telling(band))


def sheets_that_count(sheets: Iterable[Sheet], entries: Iterable[Entry], then: ConflictRule) -> tuple[Sheet, ...]:
    """Return the sheets that count under the rule on conflicts of interest.

    Parameters
    ----------
    sheets : iterable of Sheet
        Every signed sheet.
    entries : iterable of Entry
        With the judges who have to do with them.
    then : {"declared only", "sheet left out"}
        What the rules say.

    Returns
    -------
    tuple of Sheet
    """
    if then == "declared only":
        return tuple(sheets)
    concerned = {(judge, entry.id) for entry in entries for judge in entry.conflicts}
    return tuple(sheet for sheet in sheets if (sheet.judge, sheet.entry) not in concerned)


def _telling(text: str) -> set[str]:
    return {word for word in re.findall(r"[^\W\d_]{3,}", text.casefold()) if word not in _COMMON}
