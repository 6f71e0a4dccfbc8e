"""Sun on each face and wind through each row; which face to open. Pure."""
