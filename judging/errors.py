"""What can go wrong, and whose hands can put it right.

The hierarchy::

    JudgingError
    ├── InputError      a file, a form or an option: the person who gave it can mend it
    ├── NothingHeard    the input is sound, but it holds no ringing of this piece
    └── RuleError       a step of the contest that its rules do not allow now

A message names the place, the value found, the limit and the likely cause, and stands alone: it is
printed as it is by the command line (exit code 2, or 1 for `NothingHeard`) and shown beside the field
by the service (a 4xx answer).
"""


class JudgingError(Exception):
    """Base of every error that is told to a person and not shown as a crash."""


class InputError(JudgingError):
    """Something given is not usable; the message says where, what was found and the likely cause.

    Parameters
    ----------
    where : str
        File, line, row or field in the giver's own terms, such as ``"draw.csv, line 4"``.
    problem : str
        What was found, the limit, and the likely cause, as one sentence without a full stop.
    """

    def __init__(self, where: str, problem: str) -> None:
        super().__init__(where, problem)  # both, so that it comes back whole from a worker process
        self.where = where
        self.problem = problem

    def __str__(self) -> str:
        """Return place and problem as one message."""
        return f"{self.where}: {self.problem}" if self.where else self.problem


class NothingHeard(InputError):  # noqa: N818 - it says what happened, and nothing is at fault
    """A readable recording or log that holds no ringing, or ringing of some other piece."""


class RuleError(JudgingError):
    """A step that the contest's phase, rules or a person's rights do not allow now."""
