"""Every example in a docstring is true."""

import doctest
import importlib
from pathlib import Path

import pytest

import judging

PACKAGE = Path(judging.__file__).parent
MODULES = sorted(
    ".".join(("judging", *path.relative_to(PACKAGE).with_suffix("").parts))
    for path in PACKAGE.rglob("*.py")
    if ">>>" in path.read_text(encoding="utf-8")
)


@pytest.mark.parametrize("module", MODULES)
def test_the_examples_in_the_docstrings_are_true(module: str) -> None:
    found = doctest.testmod(importlib.import_module(module))

    assert found.attempted > 0
    assert found.failed == 0
