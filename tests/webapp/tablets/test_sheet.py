"""Many tablets: a list of names makes a sheet of codes, each naming the depot's key."""

from __future__ import annotations

import re
from collections.abc import Callable
from datetime import UTC, datetime, timedelta
from pathlib import Path

import pytest
from flask import Flask

from tests.support.desk import desk_client, submit
from tests.support.reports import CHANGE
from tests.support.whole_desk import fill
from webapp.plain import codes, config
from webapp.records import tablets as service
from webapp.records.tablets import EnrolCode
from webapp.store.db import reading

SECRET = "0123456789abcdef0123456789abcdef"


@pytest.fixture
def depot(make_app: Callable[..., Flask]) -> Flask:
    app = make_app(DEMO=False, SECRET_KEY=SECRET)
    fill(app)
    return app


def test_the_name_of_a_key_is_the_one_that_the_tablet_reads() -> None:
    """The same pair as in tests/static/code_test.js."""
    key = "d75a980182b10ab7d54bfed3c964073a0ee172f3daa62325af021a68f707511a"
    assert codes.of_key("0" * 64) == "AAAAAAAA"
    assert f'"{codes.of_key(key)}"' in (Path("tests/static/code_test.js").read_text())


def test_a_list_of_three_hundred_makes_three_hundred_codes(depot: Flask) -> None:
    names = "\n".join(f"Cab {n}; Base {n % 3}" for n in range(300))
    page = submit(desk_client(depot, "review"), "/desk/tablets/sheet", names=names).text
    made = re.findall(r'class="secret">([^<]+)<', page)
    assert len(set(made)) == 300 and page.count("<svg") == 300
    key = depot.extensions["depot_key"].load().id
    assert {codes.plain(one)[8:] for one in made} == {codes.of_key(key)}
    for n in (0, 299):
        tablet = depot.test_client()
        answer = tablet.post("/api/enrol", json={"code": made[n]}, headers=CHANGE)
        assert answer.get_json()["label"] == f"Cab {n}"
    with depot.app_context(), reading() as session:
        listed = service.page(session, size=200).tablets
    assert {(one.label, one.base) for one in listed} >= {("Cab 0", "Base 0")}


@pytest.mark.parametrize(
    ("names", "said"),
    [
        ("", "Fill this in"),
        ("\n\n", "Fill this in"),
        ("Cab 1\nCab 1", "Cab 1 is there twice"),
        ("; base", "Tablet 1"),
        ("x" * 61, "Tablet 1"),
        ("\n".join(f"Cab {n}" for n in range(501)), "At most 500"),
    ],
)
def test_a_list_that_cannot_be_taken_makes_no_code(
    depot: Flask, names: str, said: str
) -> None:
    with depot.app_context(), reading() as session:
        before = session.query(EnrolCode).count()
    answer = submit(desk_client(depot, "review"), "/desk/tablets/sheet", names=names)
    assert answer.status_code == 422 and said in answer.text
    with depot.app_context(), reading() as session:
        assert session.query(EnrolCode).count() == before


@pytest.mark.parametrize(("minutes", "lives"), [(10, 10), (7 * 24 * 60, 7 * 24 * 60)])
def test_codes_live_as_long_as_the_depot_wants(
    make_app: Callable[..., Flask], minutes: int, lives: int
) -> None:
    app = make_app(CODE_MINUTES=minutes)
    submit(desk_client(app, "review"), "/desk/tablets", label="Cab 4")
    with app.app_context(), reading() as session:
        ends = session.query(EnrolCode.expires_at).scalar()
    assert abs(ends - datetime.now(UTC) - timedelta(minutes=lives)) < timedelta(minutes=1)


def test_a_time_beyond_thirty_days_is_refused(make_app: Callable[..., Flask]) -> None:
    with pytest.raises(config.SettingsError, match="CODE_MINUTES"):
        make_app(CODE_MINUTES=43_201)
