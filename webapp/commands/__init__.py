"""The command line: `step-in-hand` and all its commands."""
