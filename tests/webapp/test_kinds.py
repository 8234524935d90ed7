"""The outbox takes any kind of item that a room adds, with or without a number of its own."""

from __future__ import annotations

import uuid
from collections.abc import Callable, Iterator
from datetime import UTC, datetime
from typing import Any

import pytest
from sqlalchemy.orm import Session

from tests.support.reports import item
from webapp.plain.fields import Id, Strict, choice
from webapp.records import outbox
from webapp.records.items import Delivery, Kept, Kind, Refused
from webapp.records.outbox_schemas import KNOWN_ITEMS

Send = Callable[..., list[dict[str, Any]]]
FIRST = datetime(2026, 11, 25, 6, 40, tzinfo=UTC)


class NoteItem(Strict):
    """An item with nothing but what every item has."""

    kind = choice("note", required=True)
    id = Id(required=True)


def test_every_kind_is_described_as_an_item() -> None:
    described = {entry.get("$ref", "").rsplit("/")[-1] for entry in KNOWN_ITEMS}
    assert described == {type(kind.schema).__name__ for kind in outbox.KINDS.values()} | {""}


@pytest.fixture
def kept(monkeypatch: pytest.MonkeyPatch) -> Iterator[dict[uuid.UUID, str]]:
    """A kind "note", held in a dictionary; ids that begin with a 0 are refused."""
    held: dict[uuid.UUID, str] = {}

    def keep(_s: Session, _a: Delivery, checked: Any, _raw: Any, sha: str) -> Kept:
        if str(checked["id"]).startswith("0"):
            raise Refused("not_ours", {"id": ["Send a note of this depot."]})
        new = checked["id"] not in held
        return Kept(None, FIRST, held.setdefault(checked["id"], sha), new)

    monkeypatch.setitem(outbox.KINDS, "note", Kind(NoteItem(), keep))
    yield held


def note(first: str = "1") -> dict[str, str]:
    return {"kind": "note", "id": first + str(uuid.uuid4())[1:]}


def test_r30_a_kind_without_numbers_is_answered_like_a_report(
    send: Send, kept: dict[uuid.UUID, str]
) -> None:
    one = note()
    created, report = send(one, item(1))
    assert report["result"] == "created"
    assert created == {
        **{"id": one["id"], "result": "created", "server_no": None},
        "received_at": "2026-11-25T06:40:00.000000Z",
    }
    assert send(one) == [{**created, "result": "duplicate"}]
    assert list(kept) == [uuid.UUID(one["id"])]


def test_r30_a_keeper_that_refuses_an_item_spoils_no_other(
    send: Send, kept: dict[uuid.UUID, str]
) -> None:
    refused, created, report = send(note("0"), note(), item(1))
    assert (refused["result"], refused["code"]) == ("rejected", "not_ours")
    assert refused["errors"] == {"id": ["Send a note of this depot."]}
    assert created["result"] == report["result"] == "created"
    assert len(kept) == 1
