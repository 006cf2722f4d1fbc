"""What all tests share: the same examples on every run, and a diary of nobody's."""

import os

import hypothesis
import pytest

hypothesis.settings.register_profile("house", max_examples=40, deadline=None, derandomize=True, database=None)
hypothesis.settings.load_profile(os.environ.get("HYPOTHESIS_PROFILE", "house"))


@pytest.fixture(autouse=True)
def _nobodys_folders(tmp_path, monkeypatch):
    """No test reads or writes the diary, key or cache of whoever runs it."""
    monkeypatch.delenv("TOURSTATS_DIARY", raising=False)
    for name in ("XDG_DATA_HOME", "XDG_CONFIG_HOME", "XDG_CACHE_HOME"):
        monkeypatch.setenv(name, str(tmp_path / name.lower()))
