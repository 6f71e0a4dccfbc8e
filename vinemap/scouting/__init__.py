"""Rounds and stops; incidence and its certainty; where to stop next. Pure."""
