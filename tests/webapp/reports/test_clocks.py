"""A server whose own clock is wrong: it is doubted, and both times are kept."""

from __future__ import annotations

import re
import uuid
from datetime import UTC, datetime, timedelta
from typing import Any

import pytest
from flask import Flask

from tests.support.desk import desk_client
from tests.support.reports import item
from webapp.records import outbox, tablets
from webapp.records.reports import desk
from webapp.store.db import reading, writing

DAY = timedelta(days=1)
SEEN = datetime(2026, 11, 25, 6, 40, tzinfo=UTC)


class Depot:
    """Tablets send to a server whose clock is off by what is said."""

    def __init__(self, app: Flask, enrolled: int = 4) -> None:
        self.app = app
        with app.app_context(), writing() as session:
            names = [f"tablet {n}" for n in range(enrolled)]
            self.tokens = [tablets.enrol(session, name, SEEN) for name in names]
        self.seq = 0

    def send(self, tablet: int, server_off: timedelta, tablet_off: timedelta = 0 * DAY) -> str:
        """One report, seen a minute before it was sent; return its id."""
        self.seq += 1
        now = SEEN + timedelta(minutes=self.seq)
        observed = now + tablet_off - timedelta(minutes=1)
        one = item(self.seq, observed_at=observed.isoformat())
        batch = outbox.Batch(
            install_id=uuid.UUID(int=tablet + 1),
            sent_at=now + tablet_off,
            app_build="a build",
            items=[one],
        )
        result = outbox.hand_in(batch, outbox.Sender(self.tokens[tablet]), now + server_off)
        assert result[0].result == "created"
        return str(one["id"])

    def times(self, name: str) -> tuple[datetime, datetime]:
        with self.app.app_context(), reading() as session:
            report = desk.one(session, uuid.UUID(name))
            assert report
            return report.observed_at, report.observed_est_at


def sent(depot: Depot, *calls: tuple[Any, ...]) -> list[str]:
    with depot.app.app_context():
        return [depot.send(*call) for call in calls]


@pytest.mark.parametrize("off", [400 * DAY, -400 * DAY])
def test_a_server_400_days_wrong_corrects_nothing_once_tablets_agree(
    app: Flask, off: timedelta
) -> None:
    """Forward: the third tablet shows it. Back: it stands before what it wrote itself."""
    depot = Depot(app)
    right = sent(depot, (0, 0 * DAY), (1, 0 * DAY))
    wrong = sent(depot, (0, off), (1, off), (2, off), (3, off))
    for name in right + (wrong[2:] if off > 0 * DAY else wrong):
        observed, corrected = depot.times(name)
        assert abs(corrected - observed) < timedelta(seconds=1)
    words = re.sub(r"\s+", " ", desk_client(app).get(f"/desk/reports/{wrong[-1]}").text)
    assert "The server's clock was wrong by 400 d" in words
    assert "Counted by the tablet's clock: Wed 25 Nov 2026" in words
    by_server = SEEN + off
    assert by_server.strftime("%b %Y") in words


def test_one_tablet_400_days_wrong_is_corrected_and_both_times_are_shown(app: Flask) -> None:
    depot = Depot(app)
    sent(depot, (0, 0 * DAY), (1, 0 * DAY), (2, 0 * DAY))
    (name,) = sent(depot, (3, 0 * DAY, -400 * DAY))
    observed, corrected = depot.times(name)
    assert abs(corrected - observed - 400 * DAY) < timedelta(seconds=1)
    words = re.sub(r"\s+", " ", desk_client(app).get(f"/desk/reports/{name}").text)
    assert "The tablet's clock is wrong by 400 d (slow)" in words
    assert "the server's may be the wrong one: compare both" in words


def test_a_few_hours_never_put_the_server_in_doubt(app: Flask) -> None:
    depot = Depot(app)
    wrong = timedelta(hours=-8)
    names = sent(depot, (0, 0 * DAY, wrong), (1, 0 * DAY, wrong), (2, 0 * DAY, wrong))
    for name in names:
        observed, corrected = depot.times(name)
        assert abs(corrected - observed + wrong) < timedelta(seconds=1)
