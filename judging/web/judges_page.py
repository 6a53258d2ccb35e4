"""The judges as the organiser sees them."""

from collections.abc import Iterable
from dataclasses import dataclass

from judging.contest import may_be
from judging.store import StoredJudge
from judging.web.views import ContestView


@dataclass(frozen=True, slots=True)
class BandConcerned:
    """An entry beside a judge: whether the judge has to do with it, and whether the judge's words may mean it."""

    key: str
    name: str
    is_concerned: bool
    may_be_meant: bool


@dataclass(frozen=True, slots=True)
class JudgeShown:
    """One judge.

    Parameters
    ----------
    key, name : str
        Identifier, and as printed.
    is_shadow : bool
        Whether the sheets do not count.
    has_declared : bool
        Whether the judge has said whom he or she has to do with.
    belongs_to : str
        In the judge's words; empty for nobody.
    bands : tuple of BandConcerned
        Every entry.
    """

    key: str
    name: str
    is_shadow: bool
    has_declared: bool
    belongs_to: str
    bands: tuple[BandConcerned, ...]

    @property
    def unsettled(self) -> tuple[str, ...]:
        """Bands that the judge's words may mean and that are not noted."""
        return tuple(band.name for band in self.bands if band.may_be_meant and not band.is_concerned)


def judges_shown(view: ContestView, judges: Iterable[StoredJudge]) -> tuple[JudgeShown, ...]:
    """Return the judges of a contest with what they have to do with."""
    return tuple(
        JudgeShown(
            judge.key,
            judge.name,
            judge.shadow,
            judge.declared_at is not None,
            judge.belongs_to,
            tuple(
                BandConcerned(
                    entry.id,
                    view.names.name(entry.id),
                    judge.key in entry.conflicts,
                    may_be(judge.belongs_to, entry.band),
                )
                for entry in view.judged.day.entries
            ),
        )
        for judge in judges
    )
