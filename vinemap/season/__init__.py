"""One immutable value that holds a season, and the named edits that make the next one. Pure."""
