"""Protests: until when one may be handed in, by the rules; and what each means for the result."""

from dataclasses import dataclass
from datetime import datetime, timedelta
from typing import Literal

from judging.contest.declared import Protest as ProtestRules
from judging.errors import InputError, RuleError
from judging.figures import some

Outcome = Literal["open", "upheld", "dismissed", "taken back"]

#: How a protest can end.
ANSWERS: tuple[Outcome, ...] = ("upheld", "dismissed", "taken back")


@dataclass(frozen=True, slots=True)
class Window:
    """When protests may be handed in.

    Parameters
    ----------
    opened_at, closes_at : datetime
        Both aware; the last moment still counts.
    minutes : int
        As the rules declare.
    to : str
        Whom a protest is handed to; empty where the rules do not say.
    """

    opened_at: datetime
    closes_at: datetime
    minutes: int
    to: str = ""

    def minutes_left(self, now: datetime) -> int:
        """Whole minutes until it closes, those begun counted; 0 when it is closed."""
        left = self.closes_at - now
        return max(0, -(-left // timedelta(minutes=1)))


def window_of(rules: ProtestRules, announced_at: datetime | None) -> Window | None:
    """Return when protests may be handed in.

    Parameters
    ----------
    rules : Protest
        As declared.
    announced_at : datetime or None
        When the provisional result was announced; None where it was not yet.

    Returns
    -------
    Window or None
        None where there is none (yet).
    """
    if announced_at is None or not rules.minutes:
        return None
    return Window(announced_at, announced_at + timedelta(minutes=rules.minutes), rules.minutes, rules.to)


def refuse_outside(rules: ProtestRules, window: Window | None, handed_in_at: datetime, *, now: datetime) -> None:
    """Refuse a protest that the rules do not allow.

    Parameters
    ----------
    rules : Protest
        As declared.
    window : Window or None
        Of `window_of`.
    handed_in_at : datetime
        When it was handed in, which may be before it is written down.
    now : datetime
        This moment.

    Raises
    ------
    InputError
        It was handed in at a time that has not come.
    RuleError
        Naming the rule and its times.
    """
    if not rules.minutes:
        raise RuleError("By the rules of this contest the judges' decision is final: no protest can be handed in.")
    within = f"By the rules a protest is handed in within {some(rules.minutes, 'minute')} of the provisional result"
    if window is None:
        raise RuleError(f"{within}, which is not announced.")
    if handed_in_at > now + timedelta(minutes=1):
        raise InputError("handed_in_at", f"{handed_in_at:%H:%M} has not come yet; is the day or the hour wrong")
    # Clocks on walls show whole minutes: 16:10 is within a window that closes at 16:10:40.
    if handed_in_at < window.opened_at.replace(second=0, microsecond=0) or handed_in_at > window.closes_at:
        opened_at, closes_at = (one.astimezone(handed_in_at.tzinfo) for one in (window.opened_at, window.closes_at))
        raise RuleError(
            f"{within}: from {opened_at:%H:%M} to {closes_at:%H:%M}. This one was handed in at {handed_in_at:%H:%M}."
        )
