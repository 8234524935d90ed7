"""Grip read from a recorder's trace: adhesion achieved, by place, with its uncertainty."""

from __future__ import annotations

from .grip import Doubt, Grip, grip_from_trace
from .pieces import Piece
from .trace import Trace

__all__ = ["Doubt", "Grip", "Piece", "Trace", "grip_from_trace"]
