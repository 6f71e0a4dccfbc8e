"""The same job without a window."""

from __future__ import annotations

import sys


def main(arguments: list[str] | None = None) -> int:
    """Run one command; the exit code is 0 when it is done, 1 for problems found, 2 for an error."""
    print("vinemap: no command yet", file=sys.stderr)
    return 2
