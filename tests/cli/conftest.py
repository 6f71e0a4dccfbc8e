"""The command line, and the sample written once."""

from __future__ import annotations

from pathlib import Path

import pytest
from cli_running import Run, run_command


@pytest.fixture(scope="session")
def run() -> Run:
    """The command line."""
    return run_command


@pytest.fixture(scope="session")
def sample(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """A folder with both sample estates and their season files."""
    folder = tmp_path_factory.mktemp("sample")
    said = run_command("sample", folder)
    assert (said.code, said.err) == (0, "")
    assert said.out.count("(invented demonstration data)") == 2
    return folder
