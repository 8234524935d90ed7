"""The approach on a report's page: what the pack held advised, no more."""

from __future__ import annotations

import re
from collections.abc import Callable, Iterator
from datetime import UTC, datetime
from typing import Any
from xml.etree import ElementTree as ET

import pytest
from flask import Flask
from hypothesis import given
from hypothesis import strategies as st

from tests.support.desk import desk_client
from tests.support.fake_pack import FakePack
from tests.support.queries import counted
from tests.support.reports import item
from tests.support.small_pack import _base, _file, _table
from webapp.lines import in_use
from webapp.lines.advice import Cell
from webapp.lines.base import Base
from webapp.plain import drawing
from webapp.publish import service as publisher
from webapp.records.reports import approach
from webapp.store.db import writing

Send = Callable[..., list[dict[str, Any]]]
NOW = datetime(2026, 11, 25, 7, 0, tzinfo=UTC)
#: Up to 60 mph over 2,000 m, and later with a better rail.
CURVES = [[min(600, 15 * n + 5 * rail) for n in range(41)] for rail in (2, 1, 0)]


def pictures(train: str, **changes: Any) -> dict[str, Any]:
    one = [CURVES, CURVES]
    return {
        **{"format": "step-in-hand/pictures", "version": 1, "base": "0" * 64, "train": train},
        **{"spacing_m": 50, "usual": [CURVES[0], CURVES[0]], "advised": [one, one]},
        **{"ceiling": [one, one], "cover_by_onset": []},
        **changes,
    }


def pack(*, base: dict[str, Any] | None = None, **changes: Any) -> FakePack:
    """A whole pack of the test line with curves; nobody drives the second train."""
    first = _file("base", base or _base("larch-valley", "Larch Valley"))
    files = {"base": first, "table": _file("table", _table(first.sha256))}
    for train in ("unit-4", "unit-9"):
        files[f"pictures-{train}"] = _file("pictures", pictures(train, **changes))
    listed = [
        {"kind": one.kind, "name": name, "sha256": one.sha256} for name, one in files.items()
    ]
    manifest = _file("manifest", {"route": "larch-valley", "files": listed})
    return FakePack(
        "larch-valley", "Larch Valley", manifest.sha256, (manifest, *files.values())
    )


@pytest.fixture(autouse=True)
def cold() -> Iterator[None]:
    """Each test begins as a server does: no part of a pack has been read."""
    in_use._held.clear()
    yield
    in_use._held.clear()


def published(app: Flask, one: FakePack) -> str:
    with app.app_context(), writing() as session:
        publisher.publish(session, one, NOW)
    return one.sha256


def report(pack_sha: str | None, **changes: Any) -> dict[str, Any]:
    said = {"pack": pack_sha, "target": "fern-mill/down", "at_m": 3000.0}
    return item(1, **{**said, "train": "unit-4", "rail_state": "damp", **changes})


def shown(app: Flask, send: Send, one: dict[str, Any]) -> str:
    send(one)
    answer = desk_client(app, "look").get(f"/desk/reports/{one['id']}")
    assert answer.status_code == 200, answer.text
    return answer.text


def section(page: str) -> str:
    """What stands under the heading, without tags."""
    part = page[page.index('id="advised"') :].split("</section>")[0]
    return re.sub(r"\s+", " ", re.sub(r"<[^>]+>", " ", part))


def svg(page: str) -> ET.Element:
    found = re.search(r'<svg class="drawing".*?</svg>', page, re.S)
    assert found
    return ET.fromstring(found[0])


def test_the_marks_stand_where_the_pack_says(app: Flask, send: Send) -> None:
    """By hand out of the table at 60 mph: damp 1,500 m, leaf film 1,900 m before 4,000 m.

    Posts stand every 400 m, so braking begins before the one at 2,400 m and at 2,000 m.
    """
    page = shown(app, send, report(published(app, pack())))
    said = section(page)
    before = "m before the stop mark"
    assert f"Planned, Damp: Begin before 6 post, step 1 (1600 {before})." in said
    assert f"If worse, Leaf film: Begin before 5 post, step 1 (2000 {before})." in said
    assert "This report: 1000 m before the stop mark." in said
    assert "As the pack advised, not how the train was driven." in said
    picture = svg(page)
    desc = picture.find("desc")
    assert desc is not None and desc.text is not None
    assert desc.text.startswith("Speed in mph over metres") and "6 post" in desc.text
    ways = {one.text: one for one in picture.iter("text")}
    stems = [float(one.get("x1", 0)) for one in picture.iter() if one.get("class") == "stem"]
    far = 1.12 * 2000
    width = drawing.RIGHT - drawing.LEFT
    expected = [drawing.RIGHT - width * one / far for one in (1600, 2000, 1000)]
    assert stems == pytest.approx(expected, abs=0.1)
    assert {"planned", "worse", "this report", "mph"} <= set(ways)
    kinds = [one.get("class") for one in picture.iter("polyline")]
    assert kinds == ["stroke solid", "stroke dashed", "stroke dotted"]


def test_the_worst_rail_has_no_worse_one(app: Flask, send: Send) -> None:
    said = section(shown(app, send, report(published(app, pack()), rail_state="leaf")))
    assert "Planned, Leaf film" in said and "If worse" not in said


def test_a_report_of_the_stop_alone_has_no_diamond(app: Flask, send: Send) -> None:
    page = shown(app, send, report(published(app, pack()), at_m=None))
    assert "names the stop, but no place on the way to it" in section(page)
    assert not any(one.get("class") == "own" for one in svg(page).iter())


OFF = {
    4000.0: ("0 m before the stop mark.", True),
    4120.0: ("120 m past the stop mark.", True),
    4800.0: ("800 m past the stop mark, off the picture", False),
    1300.0: ("2700 m before the stop mark.", True),
    10.0: ("3990 m before the stop mark, off the picture", False),
}


def test_a_report_off_the_picture_is_told(app: Flask, send: Send) -> None:
    sha = published(app, pack())
    for seq, (at_m, (words, drawn)) in enumerate(OFF.items(), 1):
        page = shown(app, send, report(sha, at_m=at_m) | {"seq": seq})
        assert f"This report: {words}" in section(page)
        assert any(one.get("class") == "own" for one in svg(page).iter()) == drawn


#: What a report says otherwise, and why nothing is drawn then.
WHY: tuple[tuple[dict[str, Any], str], ...] = (
    ({"pack": None}, "the report names no pack"),
    ({"pack": "f" * 64}, "the pack held is not kept here"),
    ({"target": None}, "the report names no stop"),
    ({"target": "<b>x</b>\u202e"}, "the pack held knows no such stop: &lt;b&gt;x"),
    ({"train": None}, "the report names no train"),
    ({"train": "../unit-4"}, "the pack held knows no such train: ../unit-4"),
    ({"rail_state": None}, "the report names no planned rail"),
    ({"rail_state": "0"}, "the pack held knows no such planned rail: 0"),
    ({"route": "kettle-bay"}, "the pack held is of another line"),
)


def test_without_a_picture_the_page_says_why(app: Flask, send: Send) -> None:
    sha = published(app, pack())
    for seq, (changes, why) in enumerate(WHY, 1):
        page = shown(app, send, report(sha, **changes) | {"seq": seq})
        assert f"Not drawn: {why}" in section(page)
        assert '<svg class="drawing"' not in page and "<b>x" not in page


def test_a_withdrawn_pack_draws_nothing_and_gives_the_reason(app: Flask, send: Send) -> None:
    sha = published(app, pack())
    with app.app_context(), writing() as session:
        publisher.ready(session, keys := app.extensions["depot_key"], NOW)
        reason = "<i>wrong</i> post"
        publisher.withdraw(session, "larch-valley", reason, NOW, keys.load(), "a test")
    page = shown(app, send, report(sha))
    assert "withdrawn: &lt;i&gt;wrong&lt;/i&gt; post" in section(page)
    assert '<svg class="drawing"' not in page


def test_an_older_pack_is_drawn_as_it_was(app: Flask, send: Send) -> None:
    old = published(app, pack())
    moved = _base("larch-valley", "Larch Valley")
    moved["targets"][0]["mark_m"] = [5000]
    published(app, pack(base=moved))
    assert "1600 m before the stop mark" in section(shown(app, send, report(old)))


@pytest.mark.parametrize("empty", [{"advised": []}, {"advised": [[[[]]]], "usual": [[]]}])
def test_a_pack_without_the_curve_says_so(app: Flask, send: Send, empty: Any) -> None:
    said = section(shown(app, send, report(published(app, pack(**empty)))))
    assert "holds no curve for this stop, train and rail" in said


def test_words_of_a_pack_are_words(app: Flask, send: Send) -> None:
    base = _base("larch-valley", "Larch Valley")
    base["states"][1]["name"] = '<script>"&\u202e'
    base["landmarks"][6]["words"] = "</desc><b>"
    page = shown(app, send, report(published(app, pack(base=base))))
    assert "<script>&#34;" not in page and "</desc><b>" not in page
    desc = svg(page).find("desc")
    assert desc is not None and desc.text is not None and "before </desc><b>" in desc.text


def test_one_trains_part_is_read_once(
    app: Flask, send: Send, monkeypatch: pytest.MonkeyPatch
) -> None:
    one = pack()
    drawn, bare = report(published(app, one)), report(one.sha256, target=None)
    read: list[str] = []
    content = in_use.content

    def noted(session: Any, sha: str) -> Any:
        read.append(sha)
        return content(session, sha)

    monkeypatch.setattr(in_use, "content", noted)
    shown(app, send, drawn)
    shas = dict(zip(("manifest", "base", "table", "unit-4", "unit-9"), one.files, strict=True))
    assert shas["unit-4"].sha256 in read and shas["unit-9"].sha256 not in read
    read.clear()
    shown(app, send, bare | {"seq": 2})
    client, counts = desk_client(app, "look"), []
    for name in (drawn["id"], bare["id"]):
        with counted(app) as asked:
            client.get(f"/desk/reports/{name}")
        counts.append(len(asked))
    assert read == [] and counts[0] == counts[1], "a picture asks the store for nothing more"


@given(
    st.lists(st.integers(0, 1300), min_size=1, max_size=120),
    st.one_of(st.none(), st.floats(-5000, 12000)),
    st.sampled_from([None, 40, 60]),
)
def test_all_that_is_drawn_stands_inside(
    tenths: list[int], at_m: float | None, fastest: int | None
) -> None:
    base = _base("larch-valley", "Larch Valley")
    base["targets"][0]["approach_speed"] = [fastest]
    one = [[tenths] * 3] * 2
    given_pictures = pictures("unit-4", usual=[tenths] * 2, advised=[one, one])
    cell = Cell(0, 0, 1, 0)
    picture = approach.draw(Base(base), _table(""), given_pictures, cell, at_m).picture
    assert picture is not None and len(picture.x_ticks) <= 8
    for stroke in picture.strokes:
        points = [tuple(map(float, one.split(","))) for one in stroke.points.split()]
        assert all(drawing.LEFT <= x <= drawing.RIGHT for x, _ in points)
        assert all(drawing.TOP <= y <= drawing.BOTTOM for _, y in points)
    assert all(drawing.LEFT <= one.at <= drawing.RIGHT for one in picture.stems)
    assert len({one.row for one in picture.stems}) == len(picture.stems)
    assert all(-picture.head <= one.y - 10 for one in picture.stems)
