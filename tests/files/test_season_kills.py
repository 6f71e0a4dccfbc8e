"""Kill the program while it saves one edit, or one import, after another: all that were reported as saved are in the file.

By default a few kills; for 300 at random moments of each:

    VINEMAP_KILLS=300 python -m pytest tests/files/test_season_kills.py
"""

from __future__ import annotations

import json
import os
import subprocess
import sys
from pathlib import Path

import pytest

KILLS = {"edit": int(os.environ.get("VINEMAP_KILLS", "20")), "import": int(os.environ.get("VINEMAP_KILLS", "10"))}


@pytest.mark.skipif(not hasattr(os, "fork"), reason="needs fork")
@pytest.mark.parametrize("work", KILLS)
def test_killing_loses_at_most_the_step_being_written(tmp_path: Path, work: str) -> None:
    script = Path(__file__).parent / "season_killing.py"
    ran = subprocess.run(
        [sys.executable, str(script), str(tmp_path / "a.vinemap"), work, str(KILLS[work])],
        capture_output=True,
        text=True,
        timeout=120 + KILLS[work],
    )
    assert ran.returncode == 0, ran.stderr
    *kills, left = [json.loads(line) for line in ran.stdout.splitlines()]
    assert len(kills) == KILLS[work]
    for kill in kills:
        assert kill["signal"] == 9
        assert kill["sound"] == "ok"
        assert kill["told"] <= kill["saved"] <= kill["told"] + 1, kill
        assert kill["told"] >= 1
        steps = int(kill["label"].split()[1])
        if work == "edit":
            # two vines differ from the start; each of the first twenty edits marks one vine more
            assert kill["vines"] == 2 + min(steps, 20)
        else:
            # an import is whole or not there
            assert kill["stops"] == [20] * steps
    if work == "edit":
        assert any(kill["journal"] for kill in kills), "no kill came while an edit was being written"
    assert left == ["a.vinemap"]
