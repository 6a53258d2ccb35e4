"""What the commands are tried on."""

from pathlib import Path

import pytest


@pytest.fixture
def piece(tmp_path: Path) -> Path:
    """Four whole pulls of rounds and a plain course of Plain Bob Minor."""
    path = tmp_path / "minor.toml"
    lines = ("piece = 1", 'title = "A course"', 'method = "Plain Bob Minor"', "opening_rows = 8", "closing_rows = 2")
    path.write_text("\n".join(lines), encoding="utf-8")
    return path
