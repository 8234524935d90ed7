"""Warnings: what the signaller said about a piece of rail, and how each ends."""
