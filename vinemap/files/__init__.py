"""Everything that opens a file: the season file, readers and writers. No Qt."""
