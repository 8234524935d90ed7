"""Audit: what happened and who did it, append-only."""
