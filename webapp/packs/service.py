"""What other rooms may ask of the packs: build one, check one, find a demo route."""

from __future__ import annotations

from pathlib import Path

from .build import Progress, build_route
from .faults import Fault, RouteFaults
from .files import Pack, PackFile
from .read import read_route

__all__ = ["Pack", "PackFile", "RouteFaults", "build_pack", "check_folder", "demo_routes"]


def build_pack(folder: Path, progress: Progress | None = None) -> Pack:
    """Read, check and compute a route folder.

    Raises
    ------
    RouteFaults
        With every fault of the folder; no pack is built then.
    """
    return build_route(read_route(folder), progress)


def check_folder(folder: Path) -> list[Fault]:
    """Return every fault of a route folder, none if it is right."""
    try:
        read_route(folder)
    except RouteFaults as found:
        return found.faults
    return []


def demo_routes() -> dict[str, Path]:
    """Return the invented routes that come with the project, by name."""
    here = Path(__file__).resolve().parent.parent
    for folder in (here / "_demo_routes", here.parent / "demo_routes"):
        if folder.is_dir():
            return {
                path.name: path
                for path in sorted(folder.iterdir())
                if (path / "route.toml").is_file()
            }
    return {}


def write_files(pack: Pack, folder: Path) -> list[Path]:
    """Write a pack's files compressed, each named by its hash."""
    folder.mkdir(parents=True, exist_ok=True)
    written = []
    for file in pack.files:
        path = folder / f"{file.sha256}.json.gz"
        path.write_bytes(file.gz)
        written.append(path)
    return written
