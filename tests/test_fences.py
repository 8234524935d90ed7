"""The fences of DEVELOPERS.md and the sizes of the house, read from the code itself.

Every rule is a function that returns what it found, so that each is also shown
something it must refuse: a fence that cannot fail holds nothing.
"""

from __future__ import annotations

import ast
import json
import re
import subprocess
from pathlib import Path

import pytest

from tests.measure import script_functions

ROOT = Path(__file__).parent.parent
TOP_LEVEL = {
    *("README.md", "DEVELOPERS.md", "pyproject.toml"),
    *("webapp", "static", "calc", "tests", "demo_routes"),
}
CALC_MAY_IMPORT = {
    *("numpy", "__future__", "collections", "dataclasses", "enum", "fractions"),
    *("functools", "itertools", "math", "operator", "typing"),
}
CALC_MAY_NOT_CALL = {"open", "print", "input", "exec", "eval"}
# Which folders of webapp each may import; "" is the application itself.
PLAIN = {"plain"}
STORE = PLAIN | {"store"}
LINES = STORE | {"lines"}
PACKS = LINES | {"packs"}
RECORDS = LINES | {"records"}
PUBLISH = PACKS | RECORDS | {"publish"}
WEB = RECORDS | {"web"}
OPEN = PUBLISH | WEB
APPLICATION = OPEN | {"tablet", "desk", "pages", "ops"}
BELOW = {
    **{"plain": set(), "store": PLAIN, "lines": STORE, "packs": LINES, "records": LINES},
    **{"publish": PACKS | RECORDS, "recorder": PACKS, "web": RECORDS},
    **{"tablet": OPEN, "desk": OPEN, "pages": OPEN, "ops": OPEN},
    **{"": APPLICATION, "commands": APPLICATION | {"", "recorder"}},
}
FLASK_MAY_BE_IN = {"web", "tablet", "desk", "pages", "ops", "commands", ""}
STATIC_MAY_IMPORT = {
    "core": {"core"},
    "data": {"data", "core"},
    "elements": {"elements", "core"},
    "screens": {"screens", "elements", "core", "data", "words"},
    # Nothing of the app imports the ride: a service serves the app without it.
    "ride": {"ride", "screens", "elements", "core", "data", "words"},
}
DOM = re.compile(
    r"(?<![.\w])(document|window|globalThis|navigator|localStorage|sessionStorage|indexedDB|caches|fetch"
    r"|HTMLElement|customElements|XMLHttpRequest|location|self)\b(?!\s*:)"
)
SCHEMAS = ROOT / "webapp/packs/schemas"
SQL = re.compile(r"\b(SELECT\s.+\sFROM|INSERT\s+INTO|UPDATE\s.+\sSET|DELETE\s+FROM)\b", re.S)


def python_files(*folders: str) -> list[Path]:
    return sorted(f for folder in folders for f in (ROOT / folder).rglob("*.py"))


def script_files(folder: str = "static") -> list[Path]:
    return sorted((ROOT / folder).rglob("*.js"))


def ident(path: Path) -> str:
    return str(path.relative_to(ROOT))


def imported(source: str, package: str) -> list[str]:
    """Every module a source imports, absolute; ``package`` is where the source lives."""
    names = []
    for node in ast.walk(ast.parse(source)):
        if isinstance(node, ast.Import):
            names += [alias.name for alias in node.names]
        elif isinstance(node, ast.ImportFrom):
            base = node.module or ""
            if node.level:
                parents = package.split(".")[: len(package.split(".")) - node.level + 1]
                base = ".".join([*parents, base] if base else parents)
            names += [f"{base}.{alias.name}" for alias in node.names]
    return names


def package_of(path: Path) -> str:
    return ".".join(path.relative_to(ROOT).parent.parts)


def folder_of(path: Path) -> str:
    """The folder of ``webapp`` that a file stands in; "" for the application itself."""
    return package_of(path).partition(".")[2].partition(".")[0]


def may_ask_flask(path: Path) -> bool:
    return folder_of(path) in FLASK_MAY_BE_IN or "migrations" in path.parts


def calc_faults(source: str, package: str = "calc") -> list[str]:
    faults = [
        f"imports {name}"
        for name in imported(source, package)
        if name.split(".")[0] not in CALC_MAY_IMPORT | {"calc"}
    ]
    for node in ast.walk(ast.parse(source)):
        if isinstance(node, ast.Global):
            faults.append("keeps global state")
        if isinstance(node, ast.Name) and node.id in CALC_MAY_NOT_CALL:
            faults.append(f"uses {node.id}")
        if isinstance(node, ast.Attribute) and node.attr in {"random", "tofile", "fromfile"}:
            faults.append(f"uses .{node.attr}")
    return faults


def flask_faults(source: str, package: str) -> list[str]:
    """Imports of Flask and what comes with it; the store alone may ask flask_sqlalchemy."""
    names = {name.split(".")[0] for name in imported(source, package)}
    allowed = {"flask_sqlalchemy"} if package.split(".")[1:2] == ["store"] else set()
    return [f"imports {n}" for n in sorted(names - allowed) if n.split("_")[0] == "flask"]


def climbing_faults(source: str, package: str) -> list[str]:
    """Imports of a folder of ``webapp`` that is not below this one."""
    own = package.split(".")[1] if "." in package else ""
    faults = []
    for name in imported(source, package):
        parts = [*name.split("."), ""]
        if parts[0] == "webapp" and parts[1] != own:
            other = parts[1] if parts[1] in BELOW else ""
            faults += [] if other in BELOW[own] else [f"imports {name}"]
    return faults


def passed_on(source: str) -> list[str]:
    """Names that a module imports only for others: ``__all__``, ``import a as a``."""
    faults = []
    for node in ast.parse(source).body:
        if isinstance(node, ast.Assign) and getattr(node.targets[0], "id", "") == "__all__":
            faults.append("holds __all__")
        if isinstance(node, ast.Import | ast.ImportFrom):
            faults += [f"passes on {a.name}" for a in node.names if a.asname == a.name]
    return faults


# Fields of a pack that reports, warnings, settings or other files of ours have as well.
SHARED_FIELDS = {
    *("at_m", "columns", "datum", "direction", "format", "from_m", "key", "kind", "name"),
    *("note", "place", "reason", "route", "source", "state", "states", "steps", "target"),
    *("to_m", "train", "version", "advised"),
}
PACK_PARTS = {"base", "table", "pictures", ".file", ".base", ".table"}


def fields_of(schema: object) -> set[str]:
    """Return every name of a field in a JSON Schema, however deep."""
    if isinstance(schema, list):
        return set().union(*map(fields_of, schema))
    if not isinstance(schema, dict):
        return set()
    return set(schema.get("properties", {})).union(*map(fields_of, schema.values()))


PACK_FIELDS = {
    name
    for file in ("base", "table", "pictures")
    for name in fields_of(json.loads((SCHEMAS / f"{file}.json").read_text()))
} - SHARED_FIELDS


def pack_faults(source: str) -> list[str]:
    """Name the lines that read a pack's JSON by the names of its fields."""
    found = []
    for node in ast.walk(ast.parse(source)):
        of, key = None, None
        if isinstance(node, ast.Subscript):
            of, key = node.value, node.slice
        elif isinstance(node, ast.Call) and isinstance(node.func, ast.Attribute):
            of = node.func.value if node.func.attr == "get" else None
            key = node.args[0] if of is not None and node.args else None
        if not (isinstance(key, ast.Constant) and isinstance(key.value, str)):
            continue
        part = of.id if isinstance(of, ast.Name) else f".{getattr(of, 'attr', None)}"
        if key.value in PACK_FIELDS or part in PACK_PARTS:
            found.append(f"reads {ast.unparse(node)} (line {node.lineno})")
    return found


def frozen_writes(source: str) -> list[str]:
    """Name the lines that write into an array of another object, or of a frozen one's own."""
    tree = ast.parse(source)
    frozen = [
        inner
        for node in ast.walk(tree)
        if isinstance(node, ast.ClassDef)
        and any("frozen=True" in ast.unparse(one) for one in node.decorator_list)
        for inner in ast.walk(node)
    ]
    found = []
    for node in ast.walk(tree):
        targets = node.targets if isinstance(node, ast.Assign) else []
        targets = [node.target] if isinstance(node, ast.AugAssign) else targets
        for target in targets:
            held = isinstance(target, ast.Subscript) and isinstance(
                target.value, ast.Attribute
            )
            if held and (node in frozen or not ast.unparse(target).startswith("self.")):
                found.append(f"writes into {ast.unparse(target)} (line {node.lineno})")
    return found


def undescribed(source: str) -> list[str]:
    """Name public functions that leave open what they take or return: shapes, units."""
    found = []
    bodies = [(node, "") for node in ast.parse(source).body]
    bodies += [
        (inner, f"{node.name}.")
        for node, _ in bodies
        if isinstance(node, ast.ClassDef) and not node.name.startswith("_")
        for inner in node.body
    ]
    for node, of in bodies:
        if not isinstance(node, ast.FunctionDef) or node.name.startswith("_"):
            continue
        if any("property" in ast.unparse(one) for one in node.decorator_list):
            continue
        said = ast.get_docstring(node) or ""
        takes = {one.arg for one in (*node.args.args, *node.args.kwonlyargs)} - {"self", "cls"}
        gives = node.returns is not None and ast.unparse(node.returns) != "None"
        if (takes and "Parameters\n---" not in said) or (
            gives and not re.search(r"(Returns|Yields)\n---", said)
        ):
            found.append(f"{of}{node.name} leaves open what it takes or returns")
    return found


def import_circles(modules: dict[str, str]) -> list[str]:
    """Name the modules of a package that import each other in a circle, however guarded."""
    arrows = {}
    for name, source in modules.items():
        asked = imported(source, name.rpartition(".")[0])
        # A module, or a name in one.
        asked += [one.rpartition(".")[0] for one in asked]
        arrows[name] = modules.keys() & set(asked)
    left = dict(arrows)
    while gone := [name for name, to in left.items() if not to & left.keys() - {name}]:
        for name in gone:
            del left[name]
    return sorted(left)


def view_faults(source: str, package: str) -> list[str]:
    names = imported(source, package)
    faults = [f"imports {n}" for n in names if n.split(".")[0].endswith("sqlalchemy")]
    faults = [one for one in faults if one != "imports sqlalchemy.orm.Session"]
    for node in ast.walk(ast.parse(source)):
        if isinstance(node, ast.Attribute) and node.attr in {"execute", "scalars", "query"}:
            faults.append(f"calls .{node.attr}")
        if isinstance(node, ast.Constant) and isinstance(node.value, str):
            faults += ["holds SQL"] if SQL.search(node.value) else []
    return faults


TOKEN = re.compile(
    r"/\*.*?\*/|//[^\n]*"
    r"|\"(?:\\.|[^\"\\\n])*\"|'(?:\\.|[^'\\\n])*'|`(?:\\.|[^`\\])*`",
    re.S,
)


def without_comments(source: str) -> str:
    """Return JavaScript without comments and quoted text; code inside `${...}` stays."""

    def kept(match: re.Match[str]) -> str:
        code = re.findall(r"\$\{([^}]*)\}", match[0]) if match[0][0] == "`" else []
        return " ".join(["", *code, ""])

    return TOKEN.sub(kept, source)


def script_imports(source: str) -> list[str]:
    code = re.sub(r"/\*.*?\*/|^\s*//[^\n]*", " ", source, flags=re.S | re.M)
    found = re.findall(r"\b(?:import|export)\b[^;'\"]*?\bfrom\s*['\"]([^'\"]+)['\"]", code)
    found += re.findall(r"\bimport\s*\(?\s*['\"]([^'\"]+)['\"]", code)
    return found + ["importScripts"] * ("importScripts" in without_comments(source))


def layer_faults(source: str, path: Path) -> list[str]:
    """Imports of a static module that climb against the arrows of DEVELOPERS.md."""
    layer = path.relative_to(ROOT / "static").parts[0]
    faults = []
    for name in script_imports(source):
        if not name.startswith("."):
            faults.append(f"imports {name}")
            continue
        target = (path.parent / name).resolve().relative_to(ROOT / "static")
        if target.parts[0] not in STATIC_MAY_IMPORT[layer]:
            faults.append(f"imports {target}")
    return faults


def core_faults(source: str) -> list[str]:
    return [f"touches {m[0]}" for m in DOM.finditer(without_comments(source))]


def long_functions(source: str, most: int = 50) -> list[str]:
    found = []
    for node in ast.walk(ast.parse(source)):
        if not isinstance(node, ast.FunctionDef | ast.AsyncFunctionDef):
            continue
        size = node.end_lineno - node.lineno + 1
        if ast.get_docstring(node) is not None:
            size -= node.body[0].end_lineno - node.body[0].lineno + 1
        if size > most:
            found.append(f"{node.name}: {size} lines")
    return found


LAYERED = [f for f in script_files() if f.relative_to(ROOT).parts[1] in STATIC_MAY_IMPORT]


def test_top_level_holds_only_what_the_card_allows():
    git = ["git", "-c", "safe.directory=*", "ls-files", "-z"]
    listed = subprocess.run(git, cwd=ROOT, capture_output=True, text=True, check=True).stdout
    tops = {name.split("/")[0] for name in listed.split("\0") if name}
    assert tops, "git lists no file: this test needs a clone"
    assert {name for name in tops if not name.startswith(".")} <= TOP_LEVEL


@pytest.mark.parametrize("path", python_files("calc"), ids=ident)
def test_calc_knows_numpy_and_pure_python_only(path):
    assert calc_faults(path.read_text(), package_of(path)) == []


# Known faults, to be mended; each of these must fail until it is taken off the list.
STILL = {
    "test_rules_and_rows_do_not_know_flask": set(),
    "test_view_holds_no_sql": set(),
    "test_folders_of_the_server_import_downward_only": set(),
    "test_no_module_passes_on_what_it_imports": set(),
}


@pytest.mark.parametrize("path", python_files("calc"), ids=ident)
def test_calc_writes_into_no_array_of_a_frozen_object(path):
    assert frozen_writes(path.read_text(encoding="utf-8")) == []


# What makes the braking table, from the input's cells to the table's.
ENGINE = (
    *("advised", "approach", "batch", "check", "cover", "family", "hand", "joins", "margins"),
    *("rail", "ramps", "speed_tables", "sweep", "table", "touch", "track"),
)


@pytest.mark.parametrize("name", ENGINE)
def test_the_engine_says_shapes_and_units(name):
    assert undescribed((ROOT / f"calc/{name}.py").read_text(encoding="utf-8")) == []


def test_no_modules_of_calc_import_each_other_in_a_circle():
    modules = {
        ident(path).removesuffix(".py").replace("/", "."): path.read_text(encoding="utf-8")
        for path in python_files("calc")
        if path.name != "__init__.py"
    }
    assert import_circles(modules) == []


def test_the_fences_of_calc_refuse_what_they_must():
    assert frozen_writes("def f(table):\n    table.step[0] = 1\n")
    assert frozen_writes("def f(table):\n    table.step[0] += 1\n")
    own = "class A:\n    def f(self):\n        self.step[0] = 1\n"
    assert not frozen_writes(own)
    assert frozen_writes("@dataclass(frozen=True)\n" + own)
    bare = "def f(u):\n    'Say.\\n\\nParameters\\n----------\\nu'"
    assert not undescribed(bare) and undescribed(bare.replace("(u)", "(u) -> int"))
    assert undescribed("class A:\n    def f(self, u): pass")
    guarded = "if TYPE_CHECKING:\n    from .b import B\n"
    circle = {"p.a": guarded, "p.b": "from .a import A", "p.c": "from .a import A"}
    assert import_circles(circle) == ["p.a", "p.b", "p.c"]
    assert import_circles(circle | {"p.a": ""}) == []


def but(files: list[Path], test: str) -> list[object]:
    """The files as cases; those on the list of known faults must fail."""
    bad = pytest.mark.xfail(strict=True, reason="known, to be mended")
    known = STILL[test]
    return [pytest.param(f, marks=[bad] if ident(f) in known else []) for f in files]


WEBAPP = python_files("webapp")
NO_FLASK = [f for f in WEBAPP if not may_ask_flask(f)]
PAGES_AND_CALLS = [
    f for f in WEBAPP if re.search(r"^@\w*\.(get|post|route)\(", f.read_text(), re.M)
]


@pytest.mark.parametrize(
    "path", but(NO_FLASK, "test_rules_and_rows_do_not_know_flask"), ids=ident
)
def test_rules_and_rows_do_not_know_flask(path):
    assert flask_faults(path.read_text(), package_of(path)) == []


@pytest.mark.parametrize("path", but(PAGES_AND_CALLS, "test_view_holds_no_sql"), ids=ident)
def test_view_holds_no_sql(path):
    assert view_faults(path.read_text(), package_of(path)) == []


@pytest.mark.parametrize(
    "path", but(WEBAPP, "test_folders_of_the_server_import_downward_only"), ids=ident
)
def test_folders_of_the_server_import_downward_only(path):
    assert climbing_faults(path.read_text(), package_of(path)) == []


@pytest.mark.parametrize(
    "path", but(WEBAPP, "test_no_module_passes_on_what_it_imports"), ids=ident
)
def test_no_module_passes_on_what_it_imports(path):
    assert passed_on(path.read_text()) == []


NO_PACK = [f for f in WEBAPP if folder_of(f) not in {"lines", "packs"}]


@pytest.mark.parametrize("path", NO_PACK, ids=ident)
def test_a_pack_is_read_through_lines_alone(path):
    """Its fields have one door, `webapp/lines/base.py`; others hand its files on unread."""
    if "versions" not in path.parts:
        assert pack_faults(path.read_text()) == []


@pytest.mark.parametrize("path", LAYERED, ids=ident)
def test_static_layers_import_downward_only(path):
    assert layer_faults(path.read_text(), path) == []


@pytest.mark.parametrize("path", script_files("static/core"), ids=ident)
def test_core_touches_no_dom(path):
    assert core_faults(path.read_text()) == []


@pytest.mark.parametrize("path", sorted((ROOT / "static").glob("sw*.js")), ids=ident)
def test_service_worker_imports_nothing(path):
    assert script_imports(path.read_text()) == []


@pytest.mark.parametrize("path", script_files(), ids=ident)
def test_no_module_waits_at_its_top(path):
    """WebKit then runs modules before what they import: seen with the catalogue of words."""
    code = without_comments(path.read_text())
    assert re.findall(r"^\S.*\bawait\b.*$", code, re.M) == []


@pytest.mark.parametrize("path", script_files(), ids=ident)
def test_no_page_is_built_from_text_as_html(path):
    code = without_comments(path.read_text())
    assert re.findall(r"\b(innerHTML|outerHTML|insertAdjacentHTML|eval)\b", code) == []


WRITTEN = python_files("calc", "webapp", ".ci")
# A migration is one list of statements, made by a tool and never changed again.
WRITTEN = [f for f in WRITTEN if "versions" not in f.parts]
# A catalogue of words is a list too, as long as the screens have things to say.
CODE = WRITTEN + [f for f in script_files() if f.parent.name != "words"]


@pytest.mark.parametrize("path", CODE, ids=ident)
def test_module_is_read_without_scrolling_for_ever(path):
    assert path.read_text().count("\n") <= 450


@pytest.mark.parametrize("path", WRITTEN, ids=ident)
def test_functions_are_short(path):
    assert long_functions(path.read_text()) == []


# Known faults, to be mended: each holds a state that its inner functions share.
LONG_STILL = {
    "static/core/outbox.js": {"createOutbox"},
    "static/data/actions.js": {"createActions"},
    "static/data/network.js": {"createNetwork"},
    "static/data/preparing.js": {"preparing"},
    "static/data/worker.js": {"startWorker"},
    "static/ride/page.js": {"startRidePage"},
    "static/screens/next-stop.js": {"mount"},
    "static/screens/report.js": {"mount"},
}


def long_script_functions(source: str, most: int = 50) -> set[str]:
    return {name for name, lines in script_functions(source) if lines > most}


@pytest.mark.parametrize("path", script_files(), ids=ident)
def test_functions_of_the_app_are_as_short_as_the_servers(path):
    """A long one that was cut leaves the list of known faults: a new one never enters it."""
    assert long_script_functions(path.read_text()) == LONG_STILL.get(ident(path), set())


def test_a_long_function_of_the_app_is_found():
    body = "  x();\n" * 51
    assert long_script_functions(f"export function f() {{\n{body}}}\n") == {"f"}
    assert long_script_functions("export function f() {\n  x();\n}\n") == set()


@pytest.mark.parametrize(
    "faults",
    [
        calc_faults("import time"),
        calc_faults("from datetime import date"),
        calc_faults("import logging"),
        calc_faults("import random"),
        calc_faults("from webapp import db"),
        calc_faults("from ..webapp import db"),
        calc_faults("from ...webapp import db", "calc.slide"),
        calc_faults("import numpy as np\nnp.random.rand()"),
        calc_faults("def f():\n    return open('x')"),
        flask_faults("from flask import request", "webapp.records"),
        flask_faults("def f():\n    import flask_login", "webapp.store"),
        flask_faults("from flask_sqlalchemy import SQLAlchemy", "webapp.records.reports"),
        climbing_faults("from webapp.desk import frame", "webapp.tablet"),
        climbing_faults("from webapp.tablet import cookie", "webapp.desk"),
        climbing_faults("from ..publish import keys", "webapp.packs"),
        climbing_faults("from webapp import create_app", "webapp.desk"),
        climbing_faults("import webapp", "webapp.store"),
        climbing_faults("import webapp.records.seals", "webapp.lines"),
        passed_on("from a import b as b"),
        passed_on("__all__ = ['b']"),
        pack_faults("name = base['route']['name']"),
        pack_faults("name = in_use.base(session, sha).file['route']"),
        pack_faults("marks = stop['mark_m']"),
        pack_faults("stops = found.get('targets', [])"),
        pack_faults("for one in rows: x = one['pickable']"),
        view_faults("from sqlalchemy import select", "webapp.outbox"),
        view_faults("rows = session.execute(x)", "webapp.outbox"),
        view_faults("q = 'SELECT a FROM report'", "webapp.outbox"),
        layer_faults("import {a} from '../data/idb.js'", ROOT / "static/core/table.js"),
        layer_faults("import {\n a,\n} from 'left'", ROOT / "static/core/table.js"),
        layer_faults("export {a} from '../screens/a.js'", ROOT / "static/data/idb.js"),
        core_faults("const a = document.title"),
        core_faults("export const b = () => fetch(url)"),
        core_faults("const words = `at ${location.href}`"),
        script_imports("import './a.js'"),
        script_imports("await import('./a.js')"),
        script_imports("importScripts(a)"),
        long_functions("def f():\n" + "    x = 1\n" * 50),
    ],
)
def test_each_fence_refuses_what_it_must(faults):
    assert faults != []


@pytest.mark.parametrize(
    "faults",
    [
        calc_faults("import numpy as np\nfrom .units import mph\nfrom . import track"),
        calc_faults("from ..model import Train\nfrom .plan import run", "calc.slide"),
        flask_faults("from sqlalchemy import select", "webapp.records"),
        flask_faults("from flask_sqlalchemy import SQLAlchemy", "webapp.store"),
        climbing_faults("from webapp.records.seals import Seal", "webapp.desk"),
        climbing_faults("from webapp import create_app", "webapp.commands"),
        climbing_faults("from .models import Item", "webapp.records.reports"),
        passed_on("from a import b as c"),
        pack_faults("look_up(base.file, table, target=0); body['route'] = base.key"),
        layer_faults("import {a} from '../core/a.js'", ROOT / "static/data/idb.js"),
        core_faults(
            "// document\nconst words = 'window'; /* fetch */ x = {location: y.location}"
        ),
        script_imports("// import './a.js'\n/** @import {A} from './a.js' */"),
        long_functions('def f():\n    """Say.\n' + "    x\n" * 60 + '    """\n    return 1'),
    ],
)
def test_no_fence_refuses_what_it_may_not(faults):
    assert faults == []


def looks_like_a_test(path: Path) -> bool:
    return path.stem.startswith("test_") or path.stem.endswith("_test")


def test_no_product_file_is_taken_for_a_test_by_tools():
    files = [*python_files("calc", "webapp"), *script_files()]
    assert [ident(path) for path in files if looks_like_a_test(path)] == []
    assert looks_like_a_test(Path("calc/feel/running_test.py")), "it would be seen"


def test_r26c_nothing_depends_on_a_request_whose_answer_nobody_reads():
    """R26c: a beacon or a request kept alive past its page has no answer to act upon."""
    found = [
        f"{ident(path)}: {word}"
        for path in script_files()
        for word in ("sendBeacon", "keepalive")
        if word in without_comments(path.read_text())
    ]
    assert found == []
    assert "sendBeacon" in without_comments("navigator.sendBeacon('/x') // sendBeacon")
