"""Settings: from the environment, checked, and frozen."""

from pathlib import Path

import pytest
from pydantic import ValidationError

from judging.store import Settings


def test_a_setting_comes_from_the_environment(monkeypatch: pytest.MonkeyPatch, tmp_path: Path) -> None:
    monkeypatch.setenv("EVENBLOW_DATA", str(tmp_path))
    monkeypatch.setenv("EVENBLOW_WORKERS", "2")

    settings = Settings()

    assert (settings.data, settings.workers) == (tmp_path, 2)


@pytest.mark.parametrize(
    ("name", "value"), [("WORKERS", "0"), ("WORKERS", "many"), ("MAX_RECORDING_BYTES", "-1"), ("JOB_SECONDS", "nan")]
)
def test_a_setting_that_makes_no_sense_stops_the_start(monkeypatch: pytest.MonkeyPatch, name: str, value: str) -> None:
    monkeypatch.setenv(f"EVENBLOW_{name}", value)

    with pytest.raises(ValidationError, match=name.lower()):
        Settings()


def test_settings_cannot_change_while_the_service_runs() -> None:
    with pytest.raises(ValidationError, match="frozen"):
        Settings().workers = 2


def test_every_setting_is_explained() -> None:
    explained = Settings.__doc__ or ""

    assert [name for name in Settings.model_fields if f"    {name} : " not in explained] == []
