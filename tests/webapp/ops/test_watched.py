"""What an administrator watches: /health, /metrics, the log."""

from __future__ import annotations

import io
import json
import logging
from collections.abc import Callable, Iterator
from pathlib import Path
from typing import Any

import pytest
from flask import Flask
from prometheus_client.parser import text_string_to_metric_families

from tests.support.problems import assert_problem
from tests.support.reports import CHANGE, batch, item
from tests.support.whole_desk import fill
from webapp.ops import service
from webapp.plain import config
from webapp.web import logs

SECRET = "0123456789abcdef0123456789abcdef"


@pytest.fixture
def depot(make_app: Callable[..., Flask]) -> Flask:
    app = make_app(DEMO=False, SECRET_KEY=SECRET)
    fill(app)
    return app


def checks(app: Flask) -> tuple[int, dict[str, str]]:
    app.extensions["checks"]._seen = None
    answer = app.test_client().get("/health")
    body = answer.get_json()
    assert body["status"] == ("ok" if answer.status_code == 200 else "trouble")
    return answer.status_code, body["checks"]


def test_a_depot_in_order_is_well(depot: Flask) -> None:
    assert checks(depot) == (200, {"store": "ok", "disk": "ok", "key": "ok"})


def test_a_database_that_went_away_is_told(
    depot: Flask, caplog: pytest.LogCaptureFixture
) -> None:
    file = Path(depot.config["DATA"]) / "step-in-hand.sqlite3"
    file.rename(file.with_name("elsewhere"))
    status, found = checks(depot)
    assert (status, found["disk"], found["key"]) == (503, "ok", "ok")
    assert found["store"].startswith("trouble")
    assert str(depot.config["DATA"]) not in found["store"]
    assert "is gone under the running server" in caplog.text


def test_a_full_disk_is_told(depot: Flask) -> None:
    depot.extensions["checks"].floor_mb = 10**12
    status, found = checks(depot)
    assert (status, found["store"], found["disk"][:7]) == (503, "ok", "trouble")


@pytest.mark.parametrize("spoil", ["gone", "open", "broken"])
def test_a_key_that_cannot_be_read_is_told(depot: Flask, spoil: str) -> None:
    key = Path(depot.config["DATA"]) / "keys" / "signing.json"
    if spoil == "gone":
        key.unlink()
    elif spoil == "open":
        key.chmod(0o644)
    else:
        key.write_text("{}")
    status, found = checks(depot)
    assert (status, found["store"], found["key"][:7]) == (503, "ok", "trouble")


def test_asking_often_looks_once(depot: Flask, monkeypatch: pytest.MonkeyPatch) -> None:
    looked = []
    monkeypatch.setattr(service, "_store", lambda: looked.append(1))
    for _ in range(20):
        depot.test_client().get("/health")
    assert len(looked) <= 2


def figures(app: Flask, **more: Any) -> dict[str, float]:
    answer = app.test_client().get("/metrics", **more)
    assert answer.status_code == 200
    families = text_string_to_metric_families(answer.text)
    return {
        f"{sample.name}{sorted(sample.labels.values())}": sample.value
        for family in families
        for sample in family.samples
    }


def test_figures_count_what_was_answered(depot: Flask) -> None:
    depot.test_client().get("/api/keys")
    depot.test_client().get("/api/keys")
    depot.test_client().get("/desk/reports")
    found = figures(depot)
    assert found["step_in_hand_answers_total['/api/keys', '200', 'GET']"] == 2
    assert found["step_in_hand_answers_total['/desk/reports', '302', 'GET']"] == 1
    assert found["step_in_hand_tablets_enrolled[]"] >= 1
    assert found["step_in_hand_store_well[]"] == 1
    assert found["step_in_hand_disk_free_bytes[]"] > 0


def test_figures_without_a_store_are_what_is_left(depot: Flask) -> None:
    file = Path(depot.config["DATA"]) / "step-in-hand.sqlite3"
    file.rename(file.with_name("elsewhere"))
    depot.extensions["checks"]._seen = None
    found = figures(depot)
    assert found["step_in_hand_store_well[]"] == 0
    assert "step_in_hand_tablets_enrolled[]" not in found


def test_figures_are_for_this_machine_and_the_one_named(
    make_app: Callable[..., Flask],
) -> None:
    app = make_app(DEMO=False, SECRET_KEY=SECRET, METRICS_FROM="10.1.2.3")
    near, far = {"REMOTE_ADDR": "10.1.2.3"}, {"REMOTE_ADDR": "10.1.2.4"}
    assert app.test_client().get("/metrics", environ_base=near).status_code == 200
    refused = assert_problem(app.test_client().get("/metrics", environ_base=far), 403)
    assert "STEP_IN_HAND_METRICS_FROM" in refused["detail"]


def test_an_address_that_is_none_is_refused(make_app: Callable[..., Flask]) -> None:
    with pytest.raises(config.SettingsError, match=r"METRICS_FROM.*one IP address"):
        make_app(METRICS_FROM="monitor")


@pytest.fixture
def log() -> Iterator[io.StringIO]:
    """All that is logged, as `serve` writes it."""
    names = (None, "waitress", "waitress.queue", "alembic")
    levels = {name: logging.getLogger(name).level for name in names}
    before = logging.getLogger().handlers[:]
    stream = io.StringIO()
    logs.begin(stream)
    yield stream
    logging.getLogger().handlers[:] = before
    for name, level in levels.items():
        logging.getLogger(name).setLevel(level)


def lines(log: io.StringIO) -> list[dict[str, Any]]:
    return [json.loads(line) for line in log.getvalue().splitlines()]


def test_an_answer_is_one_line_with_time_and_the_id_it_was_sent_with(
    depot: Flask, log: io.StringIO
) -> None:
    answer = depot.test_client().get("/api/keys")
    (line,) = lines(log)
    assert line["request"] == answer.headers["X-Request-Id"]
    assert (line["method"], line["rule"], line["status"]) == ("GET", "/api/keys", 200)
    assert line["time"].endswith("+00:00") and line["ms"] >= 0
    depot.test_client().get("/health")
    assert len(lines(log)) == 1, "what is asked every few seconds is not logged"


def test_an_id_is_taken_from_a_front_server_alone(
    depot: Flask, make_app: Callable[..., Flask]
) -> None:
    given = {"X-Request-Id": "0123456789abcdef"}
    assert depot.test_client().get("/api/keys", headers=given).headers["X-Request-Id"] != (
        "0123456789abcdef"
    )
    depot.config["TRUSTED_PROXY"] = "127.0.0.1"
    answer = depot.test_client().get("/api/keys", headers=given)
    assert answer.headers["X-Request-Id"] == "0123456789abcdef"
    spoilt = {"X-Request-Id": 'x" injected'}
    answer = depot.test_client().get("/api/keys", headers=spoilt)
    assert "injected" not in answer.headers["X-Request-Id"]


def test_the_log_names_nobody(
    depot: Flask, log: io.StringIO, monkeypatch: pytest.MonkeyPatch
) -> None:
    """A log-in that fails, a report, a search, and a failure that quotes what was typed."""
    client = depot.test_client()
    person = {"REMOTE_ADDR": "203.0.113.77"}
    typed = {"login": "o.secretname", "password": "hush hush"}
    client.post("/desk/log-in", data=typed, environ_base=person)
    client.get("/desk/reports?q=secretname", environ_base=person)
    report = batch(item(text="driver Secretname slid", driver="Secretname"))
    client.post("/api/outbox", json=report, headers=CHANGE, environ_base=person)

    def fail() -> None:
        raise ValueError("invalid literal 'Secretname'")

    monkeypatch.setitem(depot.view_functions, "watch.health", fail)
    assert client.get("/health?q=secretname", environ_base=person).status_code == 500
    text = log.getvalue()
    failed = [line for line in lines(log) if "failure" in line]
    assert [line["failure"] for line in failed] == ["builtins.ValueError"]
    assert "test_watched.py" in failed[0]["at"][-1]
    assert len(lines(log)) >= 4
    for word in ("ecretname", "203.0.113.77", "hush", report["items"][0]["id"]):
        assert word not in text
