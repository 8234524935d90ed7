"""Records: what the depot keeps, rules and rows; no Flask."""
