"""Run with ``python -m vinemap``."""

from vinemap.cli import main

raise SystemExit(main())
