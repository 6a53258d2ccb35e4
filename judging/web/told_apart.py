"""How well each bell is told from its neighbours in the recordings heard at a tower: pairs, the worst first.

Nothing here says who rang, or how well.
"""

from collections import Counter
from collections.abc import Sequence
from dataclasses import dataclass
from statistics import median

#: Of one recording: each bell's number, how far apart it is told (1 at best), and from which bell least well.
Clarities = Sequence[tuple[int, float, int]]

#: Below this a recording's own notes say that a bell is hard to tell. Single blows of real bells put together to
#: touches on six, eight and twelve are told 0.82 to 0.96 apart, made-up bells in rooms 0.79 to 0.89, and bells that are
#: heard with another tower's voices 0.36.
HARDLY = 0.5
#: From here on nothing need be done (our own choice, half way between the two).
PLAINLY = 0.65

_MOVE = (
    "Move the recorder to where {one} and {other} differ more: clearly nearer to one of them, or to another opening of "
    "the bell chamber; half way between two bells they sound most alike. Only with the bells down, and with the tower "
    "captain there. Then make another tower here for its new place."
)
_RING_MORE = (
    "Ring more for the voices to be learnt from: two minutes of steady rounds, or a touch with changes, in which {one} "
    "and {other} strike in every order. Keep the voices of that recording here."
)
_BOTH_STROKES = (
    "Ring whole pulls with the bells fully up. A bell sounds a little different at handstroke and backstroke, and its "
    "voice should know both; bells being raised or lowered teach it nothing."
)
_ADVICE = (_MOVE, _RING_MORE, _BOTH_STROKES)


@dataclass(frozen=True, slots=True)
class BellApart:
    """One bell in the middle one of the recordings.

    Parameters
    ----------
    bell : int
        Which.
    apart : float
        1 where its voice is silent at all other bells' blows, 0 where it answers one of them as it does its own.
    most_like : int
        From which bell it is told least well, in most recordings.
    """

    bell: int
    apart: float
    most_like: int


@dataclass(frozen=True, slots=True)
class Pair:
    """Two bells that are told from each other less well than either from the rest.

    Parameters
    ----------
    bells : tuple of int
        The lower first.
    apart : float
        In the middle one of the recordings in which they are such a pair.
    recordings : int
        In how many they are.
    """

    bells: tuple[int, int]
    apart: float
    recordings: int

    @property
    def verdict(self) -> str:
        """How well, in a word."""
        return "hardly told" if self.apart < HARDLY else "told with doubt" if self.apart < PLAINLY else "plainly told"


@dataclass(frozen=True, slots=True)
class ToldApart:
    """The bells of a tower as its recordings tell them.

    Parameters
    ----------
    recordings : int
        How many say.
    bells : tuple of BellApart
        The treble first.
    pairs : tuple of Pair
        The worst first.
    """

    recordings: int
    bells: tuple[BellApart, ...]
    pairs: tuple[Pair, ...]

    @property
    def sentence(self) -> str:
        """The worst pair in words."""
        worst = self.pairs[0]
        one, other = worst.bells
        if worst.apart >= PLAINLY:
            return (
                f"Every bell is plainly told from the others; {one} and {other} are nearest to being mistaken. "
                "Leave the recorder where it is."
            )
        how = "hardly told from each other" if worst.apart < HARDLY else "told from each other with some doubt"
        share = f"{100 * (1 - worst.apart):.0f} % as strongly as at its own"
        return f"{one} and {other} are {how}: where one strikes, the other seems to sound too, {share}."

    @property
    def advice(self) -> tuple[str, ...]:
        """What to do about the worst pair; nothing where it is plainly told."""
        worst = self.pairs[0]
        if worst.apart >= PLAINLY:
            return ()
        one, other = worst.bells
        return tuple(line.format(one=one, other=other) for line in _ADVICE)


def told_apart(recordings: Sequence[Clarities]) -> ToldApart | None:
    """Sum up how well bells were told apart in some recordings.

    Parameters
    ----------
    recordings : sequence of Clarities
        All of the same number of bells.

    Returns
    -------
    ToldApart or None
        None where no recording says anything.
    """
    bells: dict[int, list[tuple[float, int]]] = {}
    pairs: dict[tuple[int, int], list[float]] = {}
    for recording in recordings:
        of_this: dict[tuple[int, int], float] = {}
        for bell, apart, like in recording:
            if like:
                bells.setdefault(bell, []).append((apart, like))
                pair = (min(bell, like), max(bell, like))
                of_this[pair] = min(apart, of_this.get(pair, 1.0))
        for pair, apart in of_this.items():
            pairs.setdefault(pair, []).append(apart)
    if not pairs:
        return None
    return ToldApart(
        recordings=len(recordings),
        bells=tuple(
            BellApart(bell, median(apart for apart, _ in said), _commonest([like for _, like in said]))
            for bell, said in sorted(bells.items())
        ),
        pairs=tuple(
            sorted(
                (Pair(pair, median(aparts), len(aparts)) for pair, aparts in pairs.items()),
                key=lambda pair: (pair.apart, pair.bells),
            )
        ),
    )


def _commonest(bells: Sequence[int]) -> int:
    """Return the bell that is there most often; of several the lowest."""
    often = Counter(bells)
    return min(often, key=lambda bell: (-often[bell], bell))
