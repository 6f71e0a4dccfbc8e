"""Possible work, what it saves, and the order of the rows. Pure."""
