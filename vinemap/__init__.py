"""Vinemap: from a scouting round to the rows a crew opens first."""

__version__ = "0.1.0"
