"""Pages as drawing instructions in millimetres. No Qt, no files."""
