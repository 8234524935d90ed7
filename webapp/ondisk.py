"""Write files so that after a power cut they are whole or absent, never half."""

from __future__ import annotations

import os
from pathlib import Path


def write(path: Path, content: bytes) -> None:
    """Write a file and wait until the disk has its content; its name is the folder's."""
    with path.open("wb") as file:
        file.write(content)
        file.flush()
        os.fsync(file.fileno())


def sync_folder(folder: Path) -> None:
    """Wait until the disk has the names in this folder."""
    try:
        handle = os.open(folder, os.O_RDONLY)
    except PermissionError:  # Windows opens no folder; its file system keeps names itself
        return
    try:
        os.fsync(handle)
    finally:
        os.close(handle)
