"""Put all modules of the tablet app into one script, each as a function that runs once.

A tablet then asks for one file at a start instead of a hundred, and has nothing to link. The
modules stay what they are in static/: own files, checked and tested as such. Only forms that
mean the same in a function are let through; any other stops the start, with file and line.

What makes it the same: no module imports itself by a detour, so what it imports has run
before it; imports stand first; nothing that is exported changes its value later (constants,
functions and classes, to which oxlint lets nobody assign). So a name may be handed over once.
"""

from __future__ import annotations

import json
import posixpath
import re
from collections.abc import Iterator
from dataclasses import dataclass, field

import tree_sitter_javascript
from tree_sitter import Language, Node, Parser, Query, QueryCursor

from webapp.plain.config import SettingsError

LANGUAGE = Language(tree_sitter_javascript.language())
#: What a module is searched for. The last are errors in its grammar.
FOUND = Query(
    LANGUAGE,
    """
    (comment) @comment
    (import_statement) @import
    (export_statement) @export
    (call_expression function: (import)) @later
    (meta_property) @meta
    (await_expression) @await
    (for_in_statement "await") @await
    ((identifier) @ours (#match? @ours "^[$](need|later|made|modules)$"))
    (ERROR) @error
    (MISSING) @error
    """,
)
FUNCTIONS = frozenset(
    {
        "arrow_function",
        "function_declaration",
        "function_expression",
        "generator_function",
        "generator_function_declaration",
        "method_definition",
    }
)
DECLARED = frozenset(
    {"function_declaration", "generator_function_declaration", "class_declaration"}
)
HEAD = """\
// Made of the modules in static/ when the server started. Each keeps its lines, less comments.
(() => {
"use strict";
const $made = {};
const $need = (name) => ($made[name] ??= $modules[name]());
const $later = async (name) => $need(name);
const $modules = {
"""
FOOT = """\
};
$need(%s);
})();
"""


@dataclass
class Module:
    """One module: what it asks for, what it gives, and the changes that make it a function."""

    name: str
    source: bytes
    #: Names asked for, by module; None stands for all of it. With the line, for messages.
    needs: list[tuple[str, str | None, int]] = field(default_factory=list)
    #: Modules that are asked for when they are first wanted.
    later: list[tuple[str, int]] = field(default_factory=list)
    #: What it gives, by the name under which others know it.
    gives: dict[str, str] = field(default_factory=dict)
    #: From byte, to byte, what comes in their place.
    changes: list[tuple[int, int, str]] = field(default_factory=list)

    def targets(self) -> Iterator[tuple[str, int]]:
        yield from ((name, line) for name, _, line in self.needs)
        yield from self.later

    def refuse(self, node: Node, what: str) -> SettingsError:
        return refusal(self.name, line_of(node), what)


def refusal(name: str, line: int, what: str) -> SettingsError:
    return SettingsError(f"static/{name}:{line}: {what}")


def line_of(node: Node) -> int:
    return int(node.start_point[0]) + 1


def text_of(node: Node) -> str:
    return (node.text or b"").decode()


def bundle(source: dict[str, bytes], entry: str) -> bytes:
    """
    Return one script of `entry` and all that it needs, now or later.

    Raises SettingsError for a form that would not mean the same, for a module or a name that
    is not there, and for modules that import each other in a circle.
    """
    modules: dict[str, Module] = {}
    ahead = [(entry, entry, 1)]
    while ahead:
        name, asker, line = ahead.pop()
        if name in modules:
            continue
        if name not in source:
            raise refusal(asker, line, f"there is no static/{name}. Correct the address.")
        modules[name] = read_module(name, source[name])
        ahead += [(target, name, at) for target, at in modules[name].targets()]
    for module in modules.values():
        _hold_to_names(module, modules)
    _hold_to_order(modules)
    written = [_written(modules[name]) for name in sorted(modules)]
    return b"".join([HEAD.encode(), *written, (FOOT % json.dumps(entry)).encode()])


def read_module(name: str, source: bytes) -> Module:
    """Read one module; raise SettingsError for what could not be put in a function."""
    module = Module(name, source)
    found = QueryCursor(FOUND).captures(Parser(LANGUAGE).parse(source).root_node)
    _hold_to_forms(module, found)
    for kind, take in (
        ("comment", _take_out),
        ("later", _take_later),
        ("import", _take_import),
        ("export", _take_export),
    ):
        for node in sorted(found.get(kind, []), key=lambda one: one.start_byte):
            take(module, node)
    return module


def _hold_to_forms(module: Module, found: dict[str, list[Node]]) -> None:
    for node in found.get("error", []):
        raise module.refuse(node, "this is no JavaScript that the server can read.")
    for number, line in enumerate(module.source.split(b"\n"), 1):
        if b"<!--" in line or b"-->" in line:
            # In a plain script they begin a comment, in a module they do not.
            raise refusal(module.name, number, "write <!-- and --> in two pieces.")
    for node in found.get("ours", []):
        raise module.refuse(node, f"{text_of(node)} is the bundle's own. Take another name.")
    for node in found.get("meta", []):
        if text_of(node) != "new.target":
            raise module.refuse(
                node, "one script has no import.meta. See static/data/build.js."
            )
    for node in found.get("await", []):
        _hold_in_function(module, node)


def _hold_in_function(module: Module, node: Node) -> None:
    above = node.parent
    while above is not None and above.type not in FUNCTIONS:
        above = above.parent
    if above is None:
        # WebKit then ran modules before what they import: seen with the catalogue of words.
        raise module.refuse(
            node, "no module waits (await) at its top. Wait in a function that is called."
        )


def _take_out(module: Module, node: Node) -> None:
    """A comment goes; its line ends stay, for they end statements and count lines."""
    text, begin = text_of(node), node.start_byte
    while module.source[begin - 1 : begin] in {b" ", b"\t"}:
        begin -= 1
    beside = "" if text.startswith("//") else " "
    module.changes.append((begin, node.end_byte, "\n" * text.count("\n") or beside))


def _target(module: Module, node: Node | None, asker: Node) -> str:
    """Return the module that a literal address names."""
    address = text_of(node)[1:-1] if node is not None and node.type == "string" else ""
    if not address.startswith(("./", "../")):
        raise module.refuse(
            asker, 'a module is named by a plain address in quotes, as in "./table.js".'
        )
    return posixpath.normpath(posixpath.join(posixpath.dirname(module.name), address))


def _take_later(module: Module, node: Node) -> None:
    arguments = node.child_by_field_name("arguments")
    given = arguments.named_children if arguments is not None else []
    given = [one for one in given if one.type != "comment"]
    target = _target(module, given[0] if len(given) == 1 else None, node)
    module.later.append((target, line_of(node)))
    _replace(module, node.start_byte, node.end_byte, f"$later({json.dumps(target)})")


def _take_import(module: Module, node: Node) -> None:
    before = node.prev_named_sibling
    while before is not None and before.type == "comment":
        before = before.prev_named_sibling
    if before is not None and before.type != "import_statement":
        raise module.refuse(node, "imports are run first: write them before anything else.")
    target = _target(module, node.child_by_field_name("source"), node)
    line = line_of(node)
    need = f"$need({json.dumps(target)})"
    names: list[str] = []
    whole = ""
    for part in _clause(module, node):
        if part.type == "namespace_import":
            whole = text_of(part.named_children[0])
        elif part.type == "named_imports":
            for one in part.named_children:
                if one.type == "comment":
                    continue
                wanted, local = _pair(module, one)
                module.needs.append((target, wanted, line))
                names.append(wanted if wanted == local else f"{wanted}: {local}")
        else:
            raise module.refuse(part, "there is no default. Import it by its name, in braces.")
    module.needs.append((target, None, line))
    given = whole or ("{ " + ", ".join(names) + " }" if names else "")
    text = f"const {given} = {need};" if given else f"{need};"
    _replace(module, node.start_byte, node.end_byte, text)


def _clause(module: Module, node: Node) -> list[Node]:
    """Return the parts between `import` and `from`."""
    parts: list[Node] = []
    for child in node.named_children:
        if child.type == "import_clause":
            parts = child.named_children
        elif child.type not in {"string", "comment"}:
            raise module.refuse(child, "an import has names and an address, nothing more.")
    return [part for part in parts if part.type != "comment"]


def _pair(module: Module, node: Node) -> tuple[str, str]:
    """Return both names of `a as b`; both are a name's, neither `default` nor in quotes."""
    name = node.child_by_field_name("name")
    alias = node.child_by_field_name("alias") or name
    for one in (name, alias):
        if one is None or one.type != "identifier" or text_of(one) == "default":
            raise module.refuse(node, "there is no default. Give it a name.")
    return text_of(name), text_of(alias)  # type: ignore[arg-type]


def _replace(module: Module, begin: int, end: int, text: str) -> None:
    """Put `text` in place of what stands there, on as many lines; comments inside go too."""
    module.changes = [one for one in module.changes if one[1] <= begin or end <= one[0]]
    lines = "\n" * module.source[begin:end].count(b"\n")
    module.changes.append((begin, end, text + lines))


def _take_export(module: Module, node: Node) -> None:
    declared = node.child_by_field_name("declaration")
    if any(child.type == "default" for child in node.children):
        raise module.refuse(node, "export default: give it a name and export that.")
    if node.child_by_field_name("source") is not None or any(
        child.type in {"*", "namespace_export"} for child in node.children
    ):
        raise module.refuse(node, "export … from: import it here, or there where it is used.")
    if declared is None:
        clause = next(one for one in node.named_children if one.type == "export_clause")
        for one in clause.named_children:
            if one.type != "comment":
                local, known = _pair(module, one)
                module.gives[known] = local
        _replace(module, node.start_byte, node.end_byte, "")
        return
    for name in _declared(module, declared):
        module.gives[name] = name
    _replace(module, node.start_byte, declared.start_byte, "")


def _declared(module: Module, node: Node) -> list[str]:
    if node.type in DECLARED:
        names = [node.child_by_field_name("name")]
    elif node.type == "lexical_declaration" and text_of(node).startswith("const"):
        found = [one for one in node.named_children if one.type == "variable_declarator"]
        names = [one.child_by_field_name("name") for one in found]
    else:
        raise module.refuse(
            node, "what is exported keeps its value: const, function or class."
        )
    for one in names:
        if one is None or one.type != "identifier":
            raise module.refuse(node, "export each name by itself, not a pattern.")
    return [text_of(one) for one in names if one is not None]


def _hold_to_names(module: Module, modules: dict[str, Module]) -> None:
    for target, name, line in module.needs:
        if name is not None and name not in modules[target].gives:
            raise refusal(module.name, line, f"static/{target} exports no {name}.")


def _hold_to_order(modules: dict[str, Module]) -> None:
    """Raise for modules in a circle: one of them would run before what it imports."""
    done: set[str] = set()

    def visit(name: str, path: tuple[str, ...]) -> None:
        for target, _, line in modules[name].needs:
            if target in path:
                circle = " -> ".join([*path[path.index(target) :], target])
                raise refusal(
                    name,
                    line,
                    f"modules import each other: {circle}. Divide them in another way.",
                )
            if target not in done:
                visit(target, (*path, target))
        done.add(name)

    for name in sorted(modules):
        if name not in done:
            visit(name, (name,))


def _written(module: Module) -> bytes:
    """Return the module as a function of the bundle, on the lines that it has in its file."""
    parts: list[bytes] = []
    at = 0
    for begin, end, text in sorted(module.changes):
        parts += [module.source[at:begin], text.encode()]
        at = end
    body = b"".join([*parts, module.source[at:]])
    given = ", ".join(
        known if known == local else f"{known}: {local}"
        for known, local in sorted(module.gives.items())
    )
    name = json.dumps(module.name)
    return b"".join(
        [
            f"// {module.name}\n{name}() {{\n".encode(),
            body,
            f"return {{ {given} }};\n}},\n".encode(),
        ]
    )


IMPORT = re.compile(r'@import "([\w/-]+\.css)";')


def sheet(source: dict[str, bytes], entry: str) -> bytes:
    """
    Return one sheet: those that `entry` imports, in their order, and then its own rules.

    Raises SettingsError for an import of another form, for a sheet that is not there, and for
    a sheet that imports or has an address of its own: from `entry` it would name another file.
    """
    parts: list[str] = []
    for number, line in enumerate(source[entry].decode().splitlines(keepends=True), 1):
        found = IMPORT.fullmatch(line.strip())
        if found is None:
            if "@import" in line:
                raise refusal(
                    entry, number, 'write @import "looks/name.css"; on a line alone.'
                )
            parts.append(line)
        elif found[1] not in source:
            raise refusal(entry, number, f"there is no static/{found[1]}. Correct the name.")
        else:
            parts.append(f"/* {found[1]} */\n{_part(source[found[1]].decode(), found[1])}\n")
    return "".join(parts).encode()


def _part(text: str, name: str) -> str:
    for number, line in enumerate(text.splitlines(), 1):
        if "@import" in line or "url(" in line:
            raise refusal(name, number, "only static/app.css imports and names files.")
    return text
