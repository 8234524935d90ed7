"""Every page is HTML as the standard has it; public ones are sent compressed."""

from __future__ import annotations

import gzip
from collections import Counter
from collections.abc import Callable

import html5lib
import pytest
from flask import Flask

from tests.support.desk import desk_client
from tests.support.whole_desk import desk_addresses, fill

SECRET = "0123456789abcdef0123456789abcdef"
PUBLIC = ("/checks", "/lessons", "/guide")


def faults(page: str) -> list[str]:
    """What the HTML standard's own parser finds, equal ids, and what has no name."""
    parser = html5lib.HTMLParser(namespaceHTMLElements=False)
    tree = parser.parse(page)
    found = [f"{where}: {code}" for where, code, _more in parser.errors]
    ids = Counter(one.get("id") for one in tree.iter() if one.get("id") is not None)
    found += [f"id {name!r} {count} times" for name, count in ids.items() if count > 1]
    for one in tree.iter():
        for name in ("id", "name", "for", "aria-label", "aria-labelledby"):
            if one.get(name) == "":
                found.append(f"{one.tag} with an empty {name}")
    return found


def test_the_finder_finds() -> None:
    page = (
        '<!doctype html><title>x</title><p id="a"><p id="a"><input name="">'
        "<table><tr><div></table>"
    )
    found = " ".join(faults(page))
    assert "id 'a' 2 times" in found and "empty name" in found and "table" in found


def test_every_page_is_valid(make_app: Callable[..., Flask]) -> None:
    app = make_app(DEMO=False, SECRET_KEY=SECRET)
    depot = fill(app)
    client = desk_client(app, "publish", manages=True)
    wrong = {}
    for path in (*desk_addresses(app, depot).values(), *PUBLIC):
        answer = client.get(path)
        if answer.mimetype == "text/html" and (found := faults(answer.text)):
            wrong[path] = found
    assert wrong == {}


@pytest.mark.parametrize("path", PUBLIC)
def test_public_pages_are_sent_compressed_and_only_once(lone_app: Flask, path: str) -> None:
    client = lone_app.test_client()
    whole = client.get(path)
    assert "Content-Encoding" not in whole.headers
    packed = client.get(path, headers={"Accept-Encoding": "gzip"})
    assert packed.headers["Content-Encoding"] == "gzip"
    assert gzip.decompress(packed.data) == whole.data
    assert len(packed.data) < len(whole.data) / 2
    known = {"Accept-Encoding": "gzip", "If-None-Match": packed.headers["ETag"]}
    assert client.get(path, headers=known).status_code == 304


def test_pages_with_what_people_typed_are_not_compressed(lone_app: Flask) -> None:
    client = desk_client(lone_app)
    answer = client.get("/desk/reports", headers={"Accept-Encoding": "gzip"})
    assert "Content-Encoding" not in answer.headers
