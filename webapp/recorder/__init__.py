"""Recorder: a trace read from a file, and the grip it shows. No page of its own yet."""
