"""Who is counted on what, and how many files go out at once."""

from __future__ import annotations

from collections.abc import Callable
from datetime import timedelta

import pytest
from flask import Flask

from tests.support.desk import desk_client
from tests.support.problems import assert_problem
from webapp.plain.addresses import network
from webapp.web import limits

FEW = limits.Rate(3, 0.5)


@pytest.fixture
def few(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(limits, "TABLET", FEW)
    monkeypatch.setattr(limits, "ADDRESS", FEW)


def passed(counted: limits.Limits, token: str | None, address: str, tries: int) -> int:
    return sum(counted.wait(token, address) is None for _ in range(tries))


def test_a_bucket_fills_again_and_says_when() -> None:
    now = [100.0]
    buckets = limits.Buckets(lambda: now[0])
    assert [buckets.wait("x", FEW) for _ in range(3)] == [None] * 3
    assert buckets.wait("x", FEW) == timedelta(seconds=2)
    assert buckets.wait("y", FEW) is None, "another one's is its own"
    now[0] += 2
    assert buckets.wait("x", FEW) is None
    assert buckets.wait("x", FEW) is not None
    now[0] += 1000
    assert [buckets.wait("x", FEW) for _ in range(4)][:3] == [None] * 3, "never more than full"


def test_what_is_remembered_is_bounded(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(limits, "MOST_KEYS", 50)
    buckets = limits.Buckets()
    for n in range(1000):
        buckets.wait(str(n), FEW)
        assert len(buckets._left) <= 50


def test_tablets_behind_one_address_are_counted_each(few: None) -> None:
    counted = limits.Limits(
        lambda token: token.startswith("enrolled"), limits.Buckets(lambda: 0)
    )
    for n in range(300):
        assert passed(counted, f"enrolled {n}", "203.0.113.1", 5) == 3
    assert passed(counted, None, "203.0.113.1", 5) == 3, "strangers there have their own"


def test_made_up_tokens_buy_nothing(few: None) -> None:
    asked: list[str] = []

    def valid(token: str) -> bool:
        asked.append(token)
        return False

    counted = limits.Limits(valid, limits.Buckets(lambda: 0))
    assert sum(counted.wait(f"made up {n}", "203.0.113.1") is None for n in range(900)) == 3
    assert len(asked) <= limits.LOOK_UPS.at_once


def test_an_ended_tablet_is_a_stranger_soon(
    few: None, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(limits, "BELIEVED_S", -1.0)
    still = [True]
    counted = limits.Limits(lambda _token: still[0], limits.Buckets(lambda: 0))
    assert passed(counted, "t", "203.0.113.1", 3) == 3
    still[0] = False
    assert passed(counted, "t", "203.0.113.1", 5) == 3
    assert passed(counted, None, "203.0.113.1", 5) == 0


@pytest.mark.parametrize(
    ("one", "other", "same"),
    [
        ("2001:db8:1:2::1", "2001:db8:1:2:ffff::9", True),
        ("2001:db8:1:2::1", "2001:db8:1:3::1", False),
        ("203.0.113.1", "203.0.113.2", False),
        ("::ffff:203.0.113.1", "203.0.113.1", True),
        ("not an address", "not an address", True),
    ],
)
def test_an_address_of_ipv6_is_counted_by_its_network(
    one: str, other: str, same: bool
) -> None:
    assert (network(one) == network(other)) is same


def test_one_file_of_an_account_at_a_time(lone_app: Flask) -> None:
    limits.attach(lone_app)
    one, other = desk_client(lone_app, "look"), desk_client(lone_app, "review")
    first = one.get("/desk/reports.csv")
    assert first.status_code == 200
    refused = assert_problem(one.get("/desk/warnings.csv"), 429, "export_running")
    assert "Wait" in refused["detail"]
    second = other.get("/desk/reports.geojson")
    assert second.status_code == 200, "somebody else's is sent beside it"
    first.close()
    assert one.get("/desk/warnings.csv").status_code == 200
    second.close()


def test_a_file_read_to_its_end_gives_its_place_back(lone_app: Flask) -> None:
    limits.attach(lone_app)
    client = desk_client(lone_app, "look")
    for _ in range(4):
        answer = client.get("/desk/reports.csv")
        assert answer.status_code == 200 and answer.text
    for _ in range(4):
        answer = client.head("/desk/reports.csv")
        assert answer.status_code == 200
        answer.close()


def test_few_files_in_all(make_app: Callable[..., Flask]) -> None:
    slots = limits.Slots(3, 1)
    given = [slots.take(name) for name in "abc"]
    assert all(given) and slots.take("d") is None
    for give_back in given:
        assert give_back is not None
        give_back()
        give_back()
    assert all(slots.take(name) for name in "xyz") and slots.take("w") is None
