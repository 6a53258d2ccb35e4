"""A second generator, slow and obvious, that shares no line with the room: an oracle for its rows.

A change is found by trying every way to leave bells or swap neighbours; rows are plain lists; truth is a search.
"""

SYMBOLS = "1234567890ETABCD"


def changes_of(notation: str, stage: int) -> list[list[int]]:
    """Each change as the list of its places, palindromes written out."""
    sides = []
    for side in notation.replace("x", ".x.").split(","):
        changes = [written for written in side.split(".") if written]
        sides.append(changes)
    if len(sides) == 2:
        sides = [side + side[:-1][::-1] for side in sides]
    return [_places(written, stage) for side in sides for written in side]


def _places(written: str, stage: int) -> list[int]:
    """The one set of places that has all those written and adds none but the first or the last of the row."""
    wanted = [] if written == "x" else [SYMBOLS.index(symbol) + 1 for symbol in written]
    found = []
    for extra in ([], [1], [stage], [1, stage]):
        places = sorted({*wanted, *extra})
        gaps = [b - a - 1 for a, b in zip([0, *places], [*places, stage + 1], strict=True)]
        if len(places) == len(wanted) + len(extra) and all(gap % 2 == 0 for gap in gaps):
            found.append(places)
    assert found, f"{written} cannot be rung on {stage}"
    return found[0]


def after(row: list[int], places: list[int]) -> list[int]:
    """The row after one change."""
    new, place = list(row), 1
    while place <= len(row):
        if place in places:
            place += 1
        else:
            new[place - 1], new[place] = row[place], row[place - 1]
            place += 2
    return new


def text(row: list[int]) -> str:
    return "".join(SYMBOLS[bell - 1] for bell in row)


def touch(notation: str, stage: int, calling: str, calls: dict[str, str]) -> list[str]:
    """Rows of a touch called at the lead heads, one letter a lead; the start row left out."""
    row, rows = list(range(1, stage + 1)), []
    plain = changes_of(notation, stage)
    for letter in calling:
        called = changes_of(calls[letter], stage) if letter in calls else []
        for places in plain[: len(plain) - len(called)] + called:
            row = after(row, places)
            rows.append(text(row))
    return rows


def course(notation: str, stage: int) -> list[str]:
    """Rows of a plain course, rounds at its end."""
    rows: list[str] = []
    leads = 0
    while not rows or rows[-1] != SYMBOLS[:stage]:
        leads += 1
        rows = touch(notation, stage, "p" * leads, {})
    return rows


def is_true(rows: list[str]) -> bool:
    """Whether no row comes twice, each looked for among those after it."""
    return not any(row in rows[at + 1 :] for at, row in enumerate(rows))
