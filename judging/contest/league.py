"""RESULTS OF MATCHES → A LEAGUE'S TABLE: two points a win, one a draw; level bands by the matches among themselves.

Points and the rule for level bands are a published league's (trade practice). A match of more than two bands counts as
one between each two of them.
"""

from collections.abc import Collection, Iterable, Sequence
from dataclasses import dataclass
from itertools import combinations, groupby

from judging.marks.values import Result

_WIN, _DRAW = 2, 1


@dataclass(frozen=True, slots=True)
class LeagueLine:
    """One band's line of the table.

    Parameters
    ----------
    entry : str
        Identifier, the same in every match.
    place : int
        1 is best.
    tied : bool
        Whether the place is shared.
    won, drawn, lost, points : int
        Over the season.
    among : int or None
        Points from the matches among those level on points; None where none is.
    """

    entry: str
    place: int
    tied: bool
    won: int
    drawn: int
    lost: int
    points: int
    among: int | None


def league_table(matches: Sequence[Result]) -> tuple[LeagueLine, ...]:
    """Table of a season.

    Parameters
    ----------
    matches : sequence of Result
        One a match, in any order. An unplaced band loses to a placed one; two unplaced ones have no match.

    Returns
    -------
    tuple of LeagueLine
        Best first; bands that the matches among themselves leave level share the place.
    """
    bands = sorted({line.entry for match in matches for line in match.places})
    met = [meeting for match in matches for meeting in _meetings(match)]
    points = {band: _points(band, met, bands) for band in bands}
    lines: list[LeagueLine] = []
    for _, together in groupby(sorted(bands, key=lambda band: -points[band]), key=points.__getitem__):
        level = list(together)
        among = {band: _points(band, met, level) for band in level}
        for _, shared in groupby(sorted(level, key=lambda band: (-among[band], band)), key=among.__getitem__):
            group = list(shared)
            place = len(lines) + 1
            lines += [
                LeagueLine(
                    entry=band,
                    place=place,
                    tied=len(group) > 1,
                    won=sum(winner == band for winner, loser, drawn in met if not drawn),
                    drawn=sum(band in {winner, loser} for winner, loser, drawn in met if drawn),
                    lost=sum(loser == band for winner, loser, drawn in met if not drawn),
                    points=points[band],
                    among=among[band] if len(level) > 1 else None,
                )
                for band in group
            ]
    return tuple(lines)


def _meetings(match: Result) -> Iterable[tuple[str, str, bool]]:
    """Each two bands of a match: the better one, the other, and whether they drew."""
    for first, second in combinations(match.places, 2):
        if first.place is None and second.place is None:
            continue
        if second.place is not None and (first.place is None or second.place < first.place):
            yield second.entry, first.entry, False
        else:
            yield first.entry, second.entry, first.place == second.place


def _points(band: str, met: Iterable[tuple[str, str, bool]], among: Collection[str]) -> int:
    """Points of a band from its meetings with some of the others."""
    won = {True: _DRAW, False: _WIN}
    return sum(
        won[drawn]
        for winner, loser, drawn in met
        if {winner, loser} <= set(among) and (winner == band or (drawn and loser == band))
    )
