"""Lines: packs in use, places along a line, and the look-up in a braking table."""
