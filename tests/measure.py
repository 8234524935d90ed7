"""Print the size and shape of the code: ``python -m tests.measure``, or ``... --root FOLDER``.

Everything is read from the files' content. A unit is a package or a loose module right
inside ``webapp/``; the layer of a unit is one more than the highest it imports. Where units
import each other in a circle, the fewest arrows that close it count as running back up.
"""

from __future__ import annotations

import argparse
import ast
import re
import statistics
from collections.abc import Iterator
from pathlib import Path

ROOT = Path(__file__).resolve().parent.parent
# What begins a function in JavaScript that has a body in braces.
FUNCTION = re.compile(
    r"\bfunction\b\s*\*?\s*(?P<a>\w*)\s*\("
    r"|(?P<b>\w+)\s*(?::\s*|=\s*)(?:async\s+)?\([^()]*\)\s*=>\s*\{"
    r"|^\s*(?:static\s+)?(?:async\s+)?(?:get\s+|set\s+)?(?P<c>#?\w+)\s*\([^()]*\)\s*\{",
    re.M,
)
NO_FUNCTION = {"if", "for", "while", "switch", "catch", "function", "return"}
TEXT = re.compile(
    r"/\*.*?\*/|//[^\n]*|\"(?:\\.|[^\"\\\n])*\"|'(?:\\.|[^'\\\n])*'"
    r"|`(?:\\.|[^`\\])*`|(?<=[=(,:])\s*/(?![*/])(?:\\.|\[(?:\\.|[^\]\\\n])*\]|[^/\\\n])+/",
    re.S,
)


def modules(root: Path = ROOT, package: str = "webapp") -> dict[str, Path]:
    """Every module of a package by its dotted name; migrations' versions are left out."""
    found = {}
    for path in sorted((root / package).rglob("*.py")):
        parts = path.relative_to(root).with_suffix("").parts
        if "versions" not in parts:
            found[".".join(parts).removesuffix(".__init__")] = path
    return found


def imports(path: Path, package: str) -> Iterator[str]:
    """Every name that a file imports, absolute, also within functions and for types."""
    for node in ast.walk(ast.parse(path.read_text("utf-8"))):
        if isinstance(node, ast.Import):
            yield from (alias.name for alias in node.names)
        elif isinstance(node, ast.ImportFrom):
            base = node.module or ""
            if node.level:
                parents = package.split(".")
                parents = parents[: len(parents) - node.level + 1]
                base = ".".join([*parents, base] if base else parents)
            yield from (f"{base}.{alias.name}" for alias in node.names)


def arrows(root: Path = ROOT, package: str = "webapp") -> set[tuple[str, str]]:
    """Which module imports which, both of the package."""
    known = modules(root, package)
    found = set()
    for name, path in known.items():
        home = name if path.name == "__init__.py" else name.rpartition(".")[0]
        for wanted in imports(path, home):
            while wanted and wanted not in known:
                wanted = wanted.rpartition(".")[0]
            if wanted and wanted != name:
                found.add((name, wanted))
    return found


def unit(name: str) -> str:
    """The package or loose module right inside ``webapp`` that a module belongs to."""
    return ".".join(name.split(".")[:2])


def unit_arrows(root: Path = ROOT) -> set[tuple[str, str]]:
    """Which unit imports which."""
    pairs = {(unit(a), unit(b)) for a, b in arrows(root)}
    return {(a, b) for a, b in pairs if a != b}


def layers(edges: set[tuple[str, str]]) -> tuple[dict[str, int], set[tuple[str, str]]]:
    """Give each name its layer from 1 upward, and the arrows that run back up."""
    below = {name: {b for a, b in edges if a == name} for pair in edges for name in pair}
    upward: set[tuple[str, str]] = set()
    placed: dict[str, int] = {}
    while len(placed) < len(below):
        ready = [n for n in below if n not in placed and below[n] <= placed.keys()]
        if not ready:  # a circle: let go whatever misses least, needed by most
            left = [n for n in below if n not in placed]
            name = min(
                left,
                key=lambda n: (
                    len(below[n] - placed.keys()),
                    -sum(n in below[o] for o in left),
                    n,
                ),
            )
            upward |= {(name, b) for b in below[name] - placed.keys()}
            below[name] &= placed.keys()
            ready = [name]
        level = {n: 1 + max((placed[b] for b in below[n]), default=0) for n in ready}
        placed |= level
    return placed, upward


def code_lines(text: str) -> int:
    """Lines that hold something besides a comment of the line's own."""
    return sum(
        1
        for line in text.splitlines()
        if line.strip() and not line.lstrip().startswith(("#", "//", "/*", "*"))
    )


def python_functions(text: str) -> list[tuple[str, int]]:
    """Each function with its lines, from ``def`` to its end, without its docstring."""
    found = []
    for node in ast.walk(ast.parse(text)):
        if isinstance(node, ast.FunctionDef | ast.AsyncFunctionDef):
            size = (node.end_lineno or node.lineno) - node.lineno + 1
            first = node.body[0]
            if ast.get_docstring(node) is not None:
                size -= (first.end_lineno or first.lineno) - first.lineno + 1
            found.append((node.name, size))
    return found


def script_functions(text: str) -> list[tuple[str, int]]:
    """Each function of a JavaScript file that has a body in braces, with its lines."""
    blank = TEXT.sub(lambda m: re.sub(r"[^\n]", " ", m[0]), text)
    found = []
    for match in FUNCTION.finditer(blank):
        name = match["a"] or match["b"] or match["c"] or "?"
        if name in NO_FUNCTION:
            continue
        begin = match.end() - 1 if blank[match.end() - 1] == "{" else _body(blank, match.end())
        end = _closing(blank, begin)
        if end:
            found.append((name, blank.count("\n", match.start("c"), end) + 1))
            if match["c"] is None:
                found[-1] = (name, blank.count("\n", match.start(), end) + 1)
    return found


def _body(blank: str, after: int) -> int:
    """Return where the body begins, behind the parameters that begin at ``after``."""
    depth = 1
    while depth and after < len(blank):
        depth += {"(": 1, ")": -1}.get(blank[after], 0)
        after += 1
    return blank.find("{", after)


def _closing(blank: str, begin: int) -> int:
    depth = 0
    for at in range(begin, len(blank)):
        depth += {"{": 1, "}": -1}.get(blank[at], 0)
        if depth == 0:
            return at
    return 0


def helpers_used_once(root: Path = ROOT, package: str = "webapp") -> tuple[int, int]:
    """How many functions at the top of a module are named once elsewhere, and how many in all.

    Functions with a decorator are called by others than our code and count in neither.
    """
    texts = [p.read_text("utf-8") for p in (root / package).rglob("*.py")]
    texts = [t for p, t in zip((root / package).rglob("*.py"), texts, strict=True)]
    named: dict[str, int] = {}
    defined: list[str] = []
    for text in texts:
        tree = ast.parse(text)
        for node in ast.walk(tree):
            name = getattr(node, "id", None) or getattr(node, "attr", None)
            if isinstance(node, ast.Name | ast.Attribute) and name:
                named[name] = named.get(name, 0) + 1
        defined += [
            node.name
            for node in tree.body
            if isinstance(node, ast.FunctionDef) and not node.decorator_list
        ]
    return sum(named.get(name, 0) == 1 for name in defined), len(defined)


def _spread(sizes: list[int]) -> str:
    ordered = sorted(sizes)
    ninth = ordered[int(0.9 * (len(ordered) - 1))]
    return f"median {statistics.median(ordered):.0f}, 90th {ninth}, longest {ordered[-1]}"


def main() -> None:
    """Print the figures of a checkout."""
    parser = argparse.ArgumentParser()
    parser.add_argument("--root", type=Path, default=ROOT)
    root = parser.parse_args().root
    known, pairs = modules(root), unit_arrows(root)
    placed, upward = layers(pairs)
    packages = sum(path.name == "__init__.py" for path in known.values())
    top = {unit(name) for name in known} - {"webapp"}
    loose = sum((root / "webapp" / f"{name.split('.')[1]}.py").is_file() for name in top)
    print(
        f"webapp: {len(top)} packages and loose modules ({loose} loose), {packages} packages"
    )
    print(f"  layers {max(placed.values())}, arrows {len(pairs)}, back up {len(upward)}")
    for one, other in sorted(upward):
        print(f"    up: {one} -> {other}")
    once, all_ = helpers_used_once(root)
    print(f"  helpers used once: {once} of {all_}, {100 * once / all_:.0f} %")
    for folder, ending, sizes in (
        ("webapp", "py", python_functions),
        ("calc", "py", python_functions),
        ("static", "js", script_functions),
    ):
        files = [p for p in (root / folder).rglob(f"*.{ending}") if "versions" not in p.parts]
        texts = [path.read_text("utf-8") for path in files]
        lines = sum(map(code_lines, texts))
        lengths = [size for text in texts for _, size in sizes(text)]
        print(f"{folder}: {len(files)} files, {lines} code lines; {_spread(lengths)}")
    moves = list((root / "webapp").rglob("versions/*.py"))
    lines = sum(code_lines(path.read_text("utf-8")) for path in moves)
    print(f"migrations: {len(moves)} files, {lines} code lines")


if __name__ == "__main__":
    main()
