"""Ports that a test may let go and take again."""

from __future__ import annotations

import contextlib
import random
import socket

# Below what Linux (32768) and macOS (49152) give out by themselves: while nobody listens
# there, no connection of another test is given it.
STEADY = range(20_000, 32_000)


def steady_port() -> int:
    """Return a port on which nobody listens, and which nobody is given meanwhile."""
    while True:
        port = random.SystemRandom().choice(STEADY)
        with contextlib.suppress(OSError), socket.create_server(("127.0.0.1", port)):
            return port
