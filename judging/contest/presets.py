"""RULES TO START FROM, after the practice of district contests; every figure in them is for the organiser to change.

The figures are common in published contest rules: a 120 on six and a 224 on eight, 15 per cent a borrowed ringer on six
and 10 on eight, a restart within 32 changes at 10 per cent, missing rows at the most a row can cost, handicaps of 4/3,
5/3 and 2 for novices. Title, date, judges and the seed of the draw are the organiser's.
"""

import datetime as dt
import json
import re
from collections.abc import Mapping, Sequence

_SIX_BELL = """\
# Six bells, a 120: half and whole faults, two judges or more, added up.
rules = 1
title = "Six-bell striking contest"

[[section]]
name = "Six bells"
changes = 120
practice_minutes = 5
slot_minutes = 15

[sheets]
unit = "faults"
step = 0.5

[combining]
policy = "sum"

[[penalty]]
for = "borrowed ringers"
base = "combined"
percent = 15
most = 2

[[penalty]]
for = "restart"
base = "combined"
percent = 10
most = 1
within_changes = 32

[[penalty]]
for = "missing rows"      # a row cannot cost more than this
amount = 3

[[penalty]]
for = "over time"
most = 0

[[penalty]]
for = "wrong method"
most = 0

[ties]
rules = ["better by more judges", "fewest whole faults"]
"""

_EIGHT_BELL = """\
# Eight bells, a 224: whole faults a row, the mean of the judges; only the first 224 changes are marked.
rules = 1
title = "Eight-bell striking contest"

[[section]]
name = "Eight bells"
changes = 224
practice_minutes = 5
slot_minutes = 30

[counting]
scheme = "up to 3 a row"

[marked]
most_changes = 224

[sheets]
unit = "faults"
step = 1
most = 672                # 3 a row

[combining]
policy = "mean"

[[penalty]]
for = "borrowed ringers"
base = "combined"
percent = 10
most = 2

[[penalty]]
for = "missing rows"
amount = 3

[[penalty]]
for = "wrong method"
most = 0

[ties]
rules = ["better by more judges", "fewest faulty changes"]
"""

_CALL_CHANGES = """\
# Call changes: from the first call to the return to rounds, every bell but the tenor to lead.
rules = 1
title = "Call-change striking contest"

[[section]]
name = "Call changes"
practice_minutes = 5
minutes_allowed = 5
every_bell_leads = true

[counting]
scheme = "half or whole for each blow"

[combining]
policy = "sum"

[[penalty]]
for = "over time"
amount = 5
base = "combined"

[ties]
rules = ["better by more judges", "best single sheet"]

[protest]
minutes = 10
to = "the competition secretary"
"""

_ROUNDS = """\
# Rounds: the first 20 rows settle the band and are not marked.
rules = 1
title = "Rounds contest"

[[section]]
name = "Rounds"
practice_minutes = 3
eligibility = "A helper may stand with a learner."

[counting]
scheme = "0, 1 or 2 a row"

[marked]
pull_off = true
opening = true
free_rows = 20

[sheets]
unit = "faults"
step = 1

[combining]
policy = "mean"

[ties]
rules = ["better by more judges"]
"""

_NOVICE = """\
# Novices: faults are multiplied by how many experienced ringers help.
rules = 1
title = "Novice striking contest"

[[section]]
name = "Novice"
changes = 120
practice_minutes = 5
eligibility = "A novice has rung no quarter peal except on a covering bell."

[combining]
policy = "mean"

[[penalty]]
for = "novice handicap"
base = "combined"
multipliers = ["1", "4/3", "5/3", "2"]

[[penalty]]
for = "missing rows"
amount = 3

[ties]
rules = ["better by more judges"]
"""

_LEAGUE = """\
# A league match: two bands, one neutral ringer (or several who agree on one sheet); level is a draw.
rules = 1
title = "League match"

[[section]]
name = "Match"
changes = 120
practice_minutes = 5

[combining]
policy = "agreed mark"

[[penalty]]
for = "missing rows"
amount = 3

[protest]
minutes = 0
"""

#: Texts of ``rules.toml`` by plain name.
PRESETS: Mapping[str, str] = {
    "six bells, 120 changes": _SIX_BELL,
    "eight bells, 224 changes": _EIGHT_BELL,
    "call changes": _CALL_CHANGES,
    "rounds": _ROUNDS,
    "novice": _NOVICE,
    "league match": _LEAGUE,
}


def fill_in(
    preset: str,
    *,
    title: str,
    judges: Sequence[str],
    seed: str,
    district: str = "",
    place: str = "",
    date: dt.date | None = None,
) -> str:
    """Return the text of a ``rules.toml``: a preset with what only the organiser knows.

    Parameters
    ----------
    preset : str
        Text of one of `PRESETS`.
    title, district, place, seed : str
        As printed; the seed of the draw.
    judges : sequence of str
        Names as printed; identifiers are made from their order.
    date : date or None
        The day of the contest.

    Returns
    -------
    str
        To be read by `judging.contest.read_rules`, which says what is wrong with it.
    """
    head = [f"title = {_quoted(title)}"]
    head += [f"{key} = {_quoted(value)}" for key, value in (("district", district), ("place", place)) if value]
    head += [f"date = {date.isoformat()}"] if date else []
    named = [f'[[judge]]\nid = "judge-{number}"\nname = {_quoted(name)}\n' for number, name in enumerate(judges, 1)]
    filled = re.sub(r'^title = ".*"$', lambda _: "\n".join(head), preset, count=1, flags=re.MULTILINE)
    return "\n".join([filled, *named, f"[draw]\nseed = {_quoted(seed)}\n"])


def _quoted(text: str) -> str:
    """Return a text as TOML writes it, which is as JSON does but for one control character."""
    return json.dumps(text, ensure_ascii=False).replace("\x7f", "\\u007f")
