"""Errors as people and processes see them."""

import pickle

from judging.errors import InputError, NothingHeard


def test_an_error_comes_back_whole_from_a_worker_process() -> None:
    error = pickle.loads(pickle.dumps(NothingHeard("touch.wav", "holds no ringing")))  # noqa: S301 - our own bytes
    assert isinstance(error, NothingHeard)
    assert (str(error), error.where) == ("touch.wav: holds no ringing", "touch.wav")


def test_an_error_without_a_place_is_its_problem_alone() -> None:
    assert str(InputError("", "nothing was given")) == "nothing was given"
