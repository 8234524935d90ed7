"""Recorder: a trace from a file, the grip it shows, dry brake tests laid over plans."""
