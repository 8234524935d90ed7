"""One script of all modules means what they mean by themselves; other forms are refused."""

from __future__ import annotations

import json
import os
import re
import shutil
import subprocess
import sys
from pathlib import Path

import pytest

from webapp.plain.config import SettingsError
from webapp.tablet.build import find_static, read_build, read_kept
from webapp.tablet.bundle import bundle, sheet

TESTS = Path(__file__).parents[1]
STATIC = find_static()
SOURCE = {
    path.relative_to(STATIC).as_posix(): path.read_bytes() for path in STATIC.rglob("*.js")
}
#: The ride along has a script of its own, in a demo alone.
RIDE = {name for name in SOURCE if name.startswith("ride")}
#: Scripts that are no modules, and one that holds types only.
ALONE = {"sw.js", "sw-off.js", "theme.js", "core/types.js"}
PART = re.compile(
    r"^// ([\w/-]+\.js)\n(\"\1\"\(\) \{\n.*?\n)(?=// [\w/-]+\.js\n|\};\n\$need)", re.M | re.S
)


def deno(*arguments: str, within: Path) -> str:
    program = Path(sys.executable).with_name("deno")
    env = {**os.environ, "NO_COLOR": "1", "DENO_NO_UPDATE_CHECK": "1", "TZ": "Europe/London"}
    run = subprocess.run(
        [str(program), *arguments],
        capture_output=True,
        text=True,
        timeout=120,
        env=env,
        cwd=within,
    )
    assert run.returncode == 0, run.stdout + run.stderr
    return run.stdout


def written(root: Path, modules: dict[str, str]) -> Path:
    for name, text in modules.items():
        (root / name).parent.mkdir(parents=True, exist_ok=True)
        (root / name).write_text(text, "utf-8")
    return root


def bundled(modules: dict[str, str], entry: str = "a.js") -> str:
    return bundle({name: text.encode() for name, text in modules.items()}, entry).decode()


# What a module can say, and where a careless reader of it would go wrong.
MODULES = {
    "a.js": """\
import "./first.js";
import { b as other, Thing, count /* how often it ran */ } from "./deep/b.js";
import * as all from "./deep/b.js"; // the same again
import {
  last,
} from "./last.js";

/* import { nothing } from "./nowhere.js"; */
const text = "import('./no.js') // no comment <" + "!-- here";
const more = `export const ${/* a note */ last} = "/* kept */" // kept\x20\x20\x20
  two  lines`;
const pattern = /\\/\\*.*?\\*\\//u;
const sum = 1
/* a comment over
   two lines ends a statement */
const after = ((x) => x)(2)
export { text };
globalThis.order.push("a");
const kinds = [typeof other, typeof Thing, new Thing().name, all.b === other, count()];
const later = await_all();
async function await_all() {
  const one = await import("./deep/later.js");
  const two = await import( /* again */ "./deep/later.js");
  const three = await Promise.all([import("./deep/b.js")]);
  return [one.once === two.once, one.runs(), three[0].Thing === Thing, count()];
}
later.then((found) => console.log(JSON.stringify([
  globalThis.order, text, more, pattern.source, sum, after, kinds, found, other(3), last,
  (function () { return this === undefined; })(),
])));
""",
    "first.js": 'globalThis.order = ["first"];\n',
    "deep/b.js": """\
import { last } from "../last.js";
globalThis.order.push("b" + early(1));
let ran = 0;
export function b(x) { return x + last.length; }
function early(x) { return b(x); }
export class Thing { name = "thing"; }
export const count = () => (ran += 1), unused = 1;
export async function* many() { yield 1; }
export {};
""",
    "last.js": 'globalThis.order.push("last");\nconst l = "end";\nexport { l as last };\n',
    "deep/later.js": """\
globalThis.order.push("later");
let n = 0;
export const once = {};
export const runs = () => (n += 1);
""",
}


def test_the_script_does_what_the_modules_do_in_their_order_and_once(tmp_path: Path):
    apart = deno("run", "--no-check", "a.js", within=written(tmp_path / "apart", MODULES))
    (tmp_path / "one.js").write_text(bundled(MODULES), "utf-8")
    one = deno("run", "--no-check", "one.js", within=tmp_path)
    assert json.loads(one) == json.loads(apart)
    assert json.loads(one)[0] == ["first", "last", "b4", "a", "later"]
    assert "two  lines" in one and "/* kept */" in one and "// kept   " in one


def test_the_tests_of_the_core_pass_on_the_script_too(tmp_path: Path):
    """The modules behind them are replaced by what the script made of them."""
    names = sorted(
        name for name in SOURCE if name.startswith(("core/", "words/")) and name not in ALONE
    )
    names = [name for name in names if name != "words/chosen.js"]  # asks the page
    entry = "".join(f'import * as m{n} from "./{name}";\n' for n, name in enumerate(names))
    given = ", ".join(f'"{name}": m{n}' for n, name in enumerate(names))
    entry += f"globalThis.bundled = {{ {given} }};\n"
    (tmp_path / "one.js").write_bytes(
        bundle({**SOURCE, "entry.js": entry.encode()}, "entry.js")
    )
    for name in names:
        known = re.findall(
            r"^export (?:async )?(?:const|function\*?|class) (\w+)",
            SOURCE[name].decode(),
            re.M,
        )
        listed = re.findall(r"^export \{ (.*) \};", SOURCE[name].decode(), re.M)
        known += [one for some in listed for one in some.split(", ")]
        up = "../" * (name.count("/") + 1)
        text = f'import "{up}one.js";\n'
        text += f'export const {{ {", ".join(known)} }} = globalThis.bundled["{name}"];\n'
        written(tmp_path / "static", {name: text})
    for name in SOURCE.keys() - set(names):
        written(tmp_path / "static", {name: SOURCE[name].decode()})
    # words_test.js is about how the sources are written.
    beside = shutil.ignore_patterns("words_test.js")
    shutil.copytree(TESTS / "static", tmp_path / "tests" / "static", ignore=beside)
    shutil.copytree(TESTS / "golden", tmp_path / "tests" / "golden")
    said = deno(
        "test", "--no-check", "--no-remote", "--allow-read", "tests/static", within=tmp_path
    )
    passed = re.search(r"(\d+) passed", said)
    assert passed and int(passed[1]) > 100, said


def test_each_module_is_in_it_once_and_on_its_own_lines():
    text = bundle(SOURCE, "app.js").decode()
    parts = dict(PART.findall(text))
    assert set(parts) == set(SOURCE) - ALONE - RIDE
    for name, part in parts.items():
        # The line that opens it; its own; what it gives, and the end.
        assert part.count("\n") == 1 + SOURCE[name].count(b"\n") + 2, name
    assert "@param" not in text and "/**" not in text


def test_equal_modules_make_equal_bytes_in_whatever_order_they_are_read():
    backwards = dict(reversed(list(SOURCE.items())))
    assert bundle(SOURCE, "app.js") == bundle(backwards, "app.js")


def test_a_change_in_any_module_is_another_build(tmp_path: Path):
    static = tmp_path / "static"
    shutil.copytree(STATIC, static)
    first = read_build(static)
    module = static / "core" / "held.js"
    module.write_text(module.read_text("utf-8") + "export const another = 1;\n", "utf-8")
    second = read_build(static)
    assert first.id != second.id
    assert b"another" in (second.files["app.js"].plain or b"")


def test_a_build_that_was_written_down_is_read_as_it_was(tmp_path: Path):
    """Its script is not made anew: a server with another bundle would give it another name."""
    build = read_build(STATIC)
    written(tmp_path, {name: "" for name in build.source})
    for name, content in build.source.items():
        (tmp_path / name).write_bytes(content)
    assert read_kept(tmp_path).id == build.id


REFUSED = {
    "export default 1;": r"a\.js:1: export default: give it a name",
    "export default function go() {}": r"a\.js:1: export default",
    'export * from "./b.js";': r"a\.js:1: export … from",
    'export * as b from "./b.js";': r"a\.js:1: export … from",
    'export { b } from "./b.js";': r"a\.js:1: export … from",
    "\nexport let a = 1;": r"a\.js:2: what is exported keeps its value",
    "export var a = 1;": r"a\.js:1: what is exported keeps its value",
    "export const { a } = {};": r"a\.js:1: export each name by itself",
    "const a = 1;\nexport { a as default };": r"a\.js:2: there is no default",
    'const a = 1;\nexport { a as "b c" };': r"a\.js:2: there is no default",
    'import b from "./b.js";': r"a\.js:1: there is no default",
    'import { default as b } from "./b.js";': r"a\.js:1: there is no default",
    'import b from "b";': r"a\.js:1: a module is named by a plain address",
    'import { b } from "https://example.org/b.js";': r"a\.js:1: a module is named by",
    'import { b } from "./b.js" with { type: "json" };': r"a\.js:1: an import has names",
    'import { b } from "./none.js";': r"a\.js:1: there is no static/none\.js",
    'const go = () => import("./none.js");': r"a\.js:1: there is no static/none\.js",
    'import { c } from "./b.js";': r"a\.js:1: static/b\.js exports no c",
    'const x = 1;\nimport { b } from "./b.js";': r"a\.js:2: imports are run first",
    "const go = (name) => import(name);": r"a\.js:1: a module is named by a plain address",
    "const go = () => import(`./b.js`);": r"a\.js:1: a module is named by a plain address",
    'const go = () => import("./b.js", {});': r"a\.js:1: a module is named by a plain",
    "const at = import.meta.url;": r"a\.js:1: one script has no import\.meta",
    "\n\nawait 1;": r"a\.js:3: no module waits \(await\) at its top",
    "for await (const a of []) {}": r"a\.js:1: no module waits",
    "{ const a = [await 1]; }": r"a\.js:1: no module waits",
    "class A { static { } static a = await 1; }": r"a\.js:1: no module waits",
    "const $need = 1;": r"a\.js:1: \$need is the bundle's own",
    "const a = 1 <!--2;": r"a\.js:1: write <!-- and --> in two pieces",
    "const a = ;": r"a\.js:1: this is no JavaScript",
    "function (": r"a\.js:1: this is no JavaScript",
    'import { d } from "./d.js";\nexport const a = 1;': r"modules import each other: a\.js -> "
    r"d\.js -> a\.js",
}


@pytest.mark.parametrize("text", REFUSED)
def test_a_form_that_would_not_mean_the_same_is_refused_with_its_place(text: str):
    modules = {
        "a.js": text + "\n",
        "b.js": "export const b = 1;\n",
        "d.js": 'import { a } from "./a.js";\nexport const d = 1;\n',
    }
    with pytest.raises(SettingsError, match=REFUSED[text]):
        bundled(modules)


def test_a_circle_of_modules_asked_for_later_is_refused_too():
    """Nothing of it is imported by the entry, only asked for when it is wanted."""
    modules = {
        "a.js": 'export const go = () => import("./b.js");\n',
        "b.js": 'import { c } from "./c.js";\nexport const b = 1;\n',
        "c.js": 'import { b } from "./b.js";\nexport const c = 1;\n',
    }
    with pytest.raises(SettingsError, match="modules import each other"):
        bundled(modules)
    modules["c.js"] = 'export const c = 1, back = () => import("./b.js");\n'
    assert '"c.js"() {' in bundled(modules)


def test_the_sheet_holds_all_that_it_imports_in_their_order():
    own = {"app.css": '@import "x/b.css";\n@import "a.css";\np { margin: 0; }\n'}
    source = {**own, "a.css": "a { color: red; }\n", "x/b.css": "b { color: blue; }\n"}
    made = sheet({name: text.encode() for name, text in source.items()}, "app.css").decode()
    assert re.findall(r"^(\w) \{", made, re.M) == ["b", "a", "p"]
    assert "@import" not in made


@pytest.mark.parametrize(
    ("entry", "part", "why"),
    [
        ('@import "b.css";', "", r"app\.css:1: there is no static/b\.css"),
        ("\n@import url(a.css);", "", r"app\.css:2: write @import"),
        ('@import "a.css" screen;', "", r"app\.css:1: write @import"),
        ('@import "a.css";', 'i { background: url("x.png"); }', r"a\.css:1: only static/app"),
        ('@import "a.css";', '\n@import "b.css";', r"a\.css:2: only static/app"),
    ],
)
def test_a_sheet_that_would_not_mean_the_same_is_refused(entry: str, part: str, why: str):
    with pytest.raises(SettingsError, match=why):
        sheet({"app.css": entry.encode(), "a.css": part.encode()}, "app.css")
