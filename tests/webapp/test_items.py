"""What an item may hold, field by field, and that nothing sent can break the server."""

from __future__ import annotations

import uuid
from collections.abc import Callable
from typing import Any

import pytest
from flask import Flask
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from tests.support.reports import CHANGE, batch, item, opened
from webapp.records import outbox_schemas
from webapp.records.outbox import fingerprint
from webapp.records.reports.body import ReportBody

CONTRACT = {
    *("route", "pack", "direction", "target", "place", "at_m", "position", "found"),
    *("happened", "step", "weather", "sand_used", "flats_suspected", "train_not_seen"),
    *("told_signaller_at", "text", "train", "rail_state", "driver_name", "supersedes"),
}
WRONG: list[tuple[str, list[Any]]] = [
    ("route", [None, "", 5, "x" * 121]),
    ("direction", [None, "", "x" * 121]),
    ("pack", ["", "0" * 63, "0" * 65, "G" * 64, "A" * 64, "0" * 64 + "\n", 5]),
    ("at_m", ["5", True, 1e9, -2e6, [], 10**400]),
    ("position", [{}, [], 5, {"lat": 1, "lon": 2}, {"lat": 91, "lon": 2}]),
    ("found", [None, "", "Good", "very low", 5]),
    ("happened", [None, "slide", ["skid"], ["slide", "slide"], [None]]),
    ("step", ["4", 2, "", "full"]),
    ("weather", ["sunny", ""]),
    ("sand_used", ["yes", 0, 1, "true"]),
    ("flats_suspected", [None, "no", 0]),
    ("train_not_seen", [None, 1]),
    ("told_signaller_at", ["06:40", "2026-11-25T06:40:00", "2026-13-25T06:40:00Z", 5]),
    ("driver_name", ["", "x" * 101]),
    ("supersedes", ["", "5", 5]),
]


@pytest.fixture
def one(lone_app: Flask) -> Callable[[Any], dict[str, Any]]:
    client = opened(lone_app)

    def send(thing: Any) -> dict[str, Any]:
        answer = client.post("/api/outbox", json=batch(thing), headers=CHANGE)
        assert answer.status_code == 200, answer.text
        (result,) = answer.get_json()["results"]
        return dict(result)

    return send


def test_the_fields_are_those_of_the_contract() -> None:
    assert set(ReportBody().fields) == CONTRACT
    assert set(outbox_schemas.ReportItem().fields) == {
        "kind",
        "id",
        "seq",
        "observed_at",
        "body",
    }


@pytest.mark.parametrize(("field", "values"), WRONG, ids=[name for name, _ in WRONG])
def test_a_wrong_value_is_rejected_by_field_with_a_sentence(
    one: Callable[[Any], dict[str, Any]], field: str, values: list[Any]
) -> None:
    for value in values:
        result = one(item(1, **{field: value}))
        assert (result["result"], result["code"]) == ("rejected", "invalid"), value
        assert list(result["errors"]["body"]) == [field]


@pytest.mark.parametrize("seq", [0, -1, 2**31, 1.5, "1", True, None, 1e400])
def test_a_wrong_sequence_number_is_rejected(
    one: Callable[[Any], dict[str, Any]], seq: Any
) -> None:
    if seq == float("inf"):
        seq = 10**400  # fits no float; 500 here would hold up the whole batch for ever
    assert list(one({**item(), "seq": seq})["errors"]) == ["seq"]


@pytest.mark.parametrize(
    "moment",
    [
        *("2026-11-25", "2026-11-25T06:40:00", "2026-11-25 06:40:00Z", "20261125T064000Z"),
        *("2026-11-25T06:40:00+0000", "2026-11-25T24:00:00Z", "2026-02-30T00:00:00Z"),
        *("0000-01-01T00:00:00Z", "10000-01-01T00:00:00Z", "2026-W48-3T06:40:00Z"),
        *("2026-11-25T06:40:00+25:00", "٢٠٢٦-11-25T06:40:00Z", 1764052800, None),
    ],
)
def test_r92_a_time_needs_the_form_of_rfc_3339_and_an_offset(
    one: Callable[[Any], dict[str, Any]], moment: Any
) -> None:
    assert list(one({**item(), "observed_at": moment})["errors"]) == ["observed_at"]


@pytest.mark.parametrize(
    "moment",
    [
        *("2026-11-25T06:40:00Z", "2026-11-25t06:40:00z", "2026-11-25T06:40:00.123456789Z"),
        *("2026-11-25T06:40:00-00:00", "1970-01-01T00:00:00+05:30", "2026-11-25T06:40:00.1Z"),
        *("0001-01-01T00:00:00+14:00", "9999-12-31T23:59:59-14:00"),
    ],
)
def test_r92_every_form_of_rfc_3339_is_taken(
    one: Callable[[Any], dict[str, Any]], moment: str
) -> None:
    assert one({**item(), "observed_at": moment})["result"] == "created"


@pytest.mark.parametrize("where", ["item", "body", "position"])
def test_an_unknown_field_has_its_own_code(
    one: Callable[[Any], dict[str, Any]], where: str
) -> None:
    """A newer tablet may know a field that this server does not; nothing is dropped."""
    report = item()
    places = {
        "item": report,
        "body": report["body"],
        "position": report["body"]["position"],
    }
    places[where]["mood"] = "bad"
    result = one(report)
    assert (result["result"], result["code"]) == ("rejected", "unknown_field")
    assert "mood" in str(result["errors"]) and "update the server" in str(result["errors"])


@pytest.mark.parametrize("kind", [None, "warning", 5, ["report"], {}])
def test_an_unknown_kind_says_which_are_known(
    one: Callable[[Any], dict[str, Any]], kind: Any
) -> None:
    result = one({**item(), "kind": kind})
    assert (result["result"], result["code"]) == ("rejected", "unknown_kind")
    assert "report" in result["errors"]["kind"][0]


def test_the_fingerprint_is_that_of_rfc_8785() -> None:
    """Worked out by hand: sorted names, no blanks, 4.0 written as 4, sent_at left out.

    sha-256 by `printf '%s' '{"a":4,"b":"\u00e9"}' | sha256sum`, in UTF-8.
    """
    import hashlib

    by_hand = hashlib.sha256('{"a":4,"b":"é"}'.encode()).hexdigest()
    assert fingerprint({"b": "é", "sent_at": "x", "a": 4.0}) == by_hand


def test_the_order_of_fields_does_not_matter(one: Callable[[Any], dict[str, Any]]) -> None:
    report = item()
    turned = dict(reversed([*report.items()]))
    turned["body"] = dict(reversed([*report["body"].items()]))
    assert [one(report)["result"], one(turned)["result"]] == ["created", "duplicate"]


anything = st.recursive(
    st.one_of(
        st.none(),
        st.booleans(),
        st.integers(),
        st.floats(allow_nan=False, allow_infinity=False),
        st.text(),
    ),
    lambda inner: st.one_of(
        st.lists(inner, max_size=4), st.dictionaries(st.text(), inner, max_size=4)
    ),
    max_leaves=8,
)


@st.composite
def bent_items(draw: st.DrawFn) -> Any:
    """A good report in which some values were replaced by anything at all."""
    report = item(draw(st.integers(1, 9)), id=str(uuid.UUID(int=draw(st.integers(0, 3)))))
    for _ in range(draw(st.integers(0, 2))):
        inside = draw(st.sampled_from([report, report["body"]]))
        if not isinstance(inside, dict):
            continue
        inside[draw(st.sampled_from([*sorted(inside), "more"]))] = draw(anything)
        if not isinstance(report["body"], dict):
            break
    return report


@settings(
    max_examples=150,
    deadline=None,
    suppress_health_check=[HealthCheck.function_scoped_fixture],
)
@given(things=st.lists(st.one_of(anything, bent_items()), max_size=6))
def test_whatever_is_sent_each_item_gets_one_answer(
    lone_app: Flask, things: list[Any]
) -> None:
    answer = opened(lone_app).post("/api/outbox", json=batch(*things), headers=CHANGE)
    assert answer.status_code == 200, answer.text
    results = answer.get_json()["results"]
    assert len(results) == len(things)
    for thing, result in zip(things, results, strict=True):
        name = thing.get("id") if isinstance(thing, dict) else None
        assert result["id"] == (name if isinstance(name, str) else None)
        stored = result["result"] in {"created", "duplicate"}
        assert (
            stored == (result["server_no"] is not None) == (result["received_at"] is not None)
        )
        assert stored or (result["result"] == "rejected" and result["code"])


@settings(
    max_examples=150,
    deadline=None,
    suppress_health_check=[HealthCheck.function_scoped_fixture],
)
@given(content=st.one_of(st.binary(max_size=200), st.text(max_size=200).map(str.encode)))
def test_any_bytes_get_an_answer_in_the_one_shape(lone_app: Flask, content: bytes) -> None:
    headers = {**CHANGE, "Content-Type": "application/json"}
    answer = opened(lone_app).post("/api/outbox", data=content, headers=headers)
    assert answer.status_code in {400, 422}
    assert answer.headers["Content-Type"] == "application/problem+json"
