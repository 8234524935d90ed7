"""R42, R72b: the served OpenAPI document is valid, whole and true; Schemathesis says so."""

from __future__ import annotations

import json
import uuid
from collections import Counter
from collections.abc import Callable
from datetime import UTC, datetime
from typing import Any

import pytest
import schemathesis
from flask import Flask
from openapi_spec_validator import OpenAPIV31SpecValidator
from schemathesis.config import SchemathesisConfig
from schemathesis.engine import events, from_schema
from schemathesis.transport.wsgi import WSGITransport

from tests.support.desk import desk_client
from tests.support.fake_pack import pack
from tests.support.reports import opened
from tests.support.warned import line_pack, typed
from webapp.lines import in_use
from webapp.packs.register import fit_listed
from webapp.plain.agreed import MARK
from webapp.publish import service as publisher
from webapp.records.places import service as places
from webapp.records.warnings import service as warnings
from webapp.store.db import writing
from webapp.web.document import ADDRESS
from webapp.web.problem import MEDIA_TYPE

# What may answer a bad request. 413 on top of its own list: the tablet halves the batch on it.
NAMED = [400, 401, 403, 404, 405, 406, 409, 412, 413, 415, 422, 428]
# And a good one. 410: a cursor of another server is told to begin anew; 412: a tag of
# something else; 428: one that names nothing that was read.
MET = ["2xx", "3xx", 401, 403, 404, 409, 410, 412, 428, 429, "5xx"]
LISTED = {
    **{"name": "Larch cutting", "direction": "down", "from": "31m 20ch", "to": "31m 60ch"},
    **{"from_place": "31m 20ch", "to_place": "31m 60ch", "state": "damp", "reason": "trees"},
    **{"season_from": "", "season_to": "", "source": "a test"},
}
OF_SOCKETS = {"max_redirects", "verify", "cert", "proxies"}
ALL_PHASES = {"coverage", "fuzzing", "stateful"}


@pytest.fixture
def published(app: Flask, monkeypatch: pytest.MonkeyPatch) -> Flask:
    """An application with a pack, a warning and a listed place: the links lead somewhere."""
    monkeypatch.setattr(WSGITransport, "send", without_sockets(WSGITransport.send))
    now, name = datetime.now(UTC), uuid.UUID(int=7)
    with app.app_context(), writing() as session:
        publisher.publish(session, pack(), now)
        publisher.publish(session, line_pack(), now)
        warnings.draft(session, typed(), "x", now, name)
        warnings.publish(session, name, 1, "x", now)
        base = in_use.bases(session)["larch-valley"]
        places.enlist(session, base, LISTED, "x", now, fit=fit_listed)
    return app


def without_sockets(send: Callable[..., Any]) -> Callable[..., Any]:
    """Leave out what has no meaning in process: its check `ignored_auth` passes it on."""

    def sent(self: WSGITransport, case: Any, **how: Any) -> Any:
        return send(self, case, **{name: how[name] for name in how if name not in OF_SOCKETS})

    return sent


def sent_by_a_tablet(app: Flask) -> Callable[[dict[str, Any], Any], Any]:
    """Let items be sent by a tablet: of others nothing is created."""
    tablet = opened(app).get_cookie("sih-tablet")
    assert tablet is not None

    def call(environ: dict[str, Any], start_response: Any) -> Any:
        if environ["PATH_INFO"] == "/api/outbox":
            environ["HTTP_COOKIE"] = f"sih-tablet={tablet.value}"
        return app(environ, start_response)

    return call


class Run:
    """One run of Schemathesis over the whole document, every check on, in process."""

    def __init__(self, app: Flask, examples: int) -> None:
        self.faults: list[str] = []
        self.phases: set[str] = set()
        self.statuses: Counter[tuple[str, int]] = Counter()
        self.results: Counter[str] = Counter()
        self.shapeless: list[str] = []
        held = desk_client(app).get_cookie("sih-desk")
        assert held is not None
        settings = {
            "seed": 1,
            "headers": {"Accept-Encoding": "identity"},  # in process nothing unpacks
            "parameters": {"cookie.sih-desk": held.value},
            "generation": {
                "max-examples": examples,
                "deterministic": True,
                "database": "none",
            },
            "checks": {
                "negative_data_rejection": {"expected-statuses": NAMED},
                "missing_required_header": {"expected-statuses": NAMED},
                "positive_data_acceptance": {"expected-statuses": MET},
            },
        }
        schema = schemathesis.openapi.from_wsgi(
            ADDRESS, sent_by_a_tablet(app), config=SchemathesisConfig.from_dict(settings)
        )
        schema.config.base_url = "http://localhost"
        for event in from_schema(schema).execute():
            self._note(event)

    def _note(self, event: Any) -> None:
        if isinstance(event, events.NonFatalError | events.FatalError):
            self.faults.append(repr(getattr(event, "value", None) or event))
        if isinstance(event, events.PhaseFinished) and not event.phase.skip_reason:
            self.phases.add(event.phase.name.value)
        if isinstance(event, events.ScenarioFinished):
            for checks in event.recorder.checks.values():
                for check in checks:
                    if check.failure_info:
                        failure = check.failure_info.failure
                        self.faults.append(f"{event.recorder.label}: {failure.message}")
            for interaction in event.recorder.interactions.values():
                if interaction.response is not None:
                    self._look(interaction)

    def _look(self, interaction: Any) -> None:
        response = interaction.response
        path = interaction.request.uri.split("?")[0].removeprefix("http://localhost")
        self.statuses[path, response.status_code] += 1
        if response.status_code >= 400:
            kind = response.headers.get("content-type", [""])[0]
            if interaction.request.method == "HEAD":
                return
            said = json.loads(response.content) if kind == MEDIA_TYPE else {}
            if not {"type", "title", "status", "detail", "code"} <= set(said):
                self.shapeless.append(f"{path} {response.status_code} {kind}")
        elif (interaction.request.method, path) == ("POST", "/api/outbox"):
            self.results.update(r["result"] for r in json.loads(response.content)["results"])


def test_r42_r72b_schemathesis_finds_no_fault_in_the_whole_document(
    published: Flask, request: pytest.FixtureRequest
) -> None:
    run = Run(published, request.config.getoption("--schemathesis-examples"))
    assert run.faults == []
    assert run.shapeless == []
    assert run.phases >= ALL_PHASES
    # It was not turned away at the door: each call was also answered with success.
    assert run.results["created"] and run.results["rejected"], run.results
    answered = {path for path, status in run.statuses if status == 200}
    document = published.test_client().get(ADDRESS).get_json()
    for path in set(document["paths"]) - {ADDRESS}:  # that one it reads, and does not try
        shape = path.split("{")[0]
        assert any(seen.startswith(shape) for seen in answered), (path, run.statuses)


def test_r72b_schemathesis_sees_an_answer_that_is_not_as_described(published: Flask) -> None:
    """The control: one call that answers with a number where the document says text."""
    published.view_functions["ops.ping"] = lambda: {"n": 5, "server_time": "now"}
    assert any("/api/ping" in fault for fault in Run(published, 2).faults)


def test_r42_the_document_is_valid_openapi_3_1(lone_app: Flask) -> None:
    """Against the OpenAPI Initiative's schema of 3.1, as openapi-spec-validator ships it."""
    document = lone_app.test_client().get(ADDRESS).get_json()
    assert list(OpenAPIV31SpecValidator(document).iter_errors()) == []
    del document["paths"]["/api/ping"]["get"]["responses"]["200"]["description"]
    assert list(OpenAPIV31SpecValidator(document).iter_errors()) != []


def test_r42_every_call_describes_its_errors_and_the_mark(lone_app: Flask) -> None:
    document = lone_app.test_client().get(ADDRESS).get_json()
    for path, calls in document["paths"].items():
        for verb, call in calls.items():
            if verb == "parameters":
                continue
            for status, answer in call["responses"].items():
                assert MARK in answer["headers"], (path, status)
                if status >= "400":
                    assert list(answer["content"]) == [MEDIA_TYPE], (path, status)
            sent = {entry["name"] for entry in call["parameters"] if entry["in"] == "header"}
            assert (MARK in sent) == ("requestBody" in call) == (verb != "get"), path


@pytest.mark.parametrize("path", ["/api/index", "/packs/" + "0" * 64, "/nowhere", ADDRESS])
def test_r42_our_own_answers_carry_the_mark(lone_app: Flask, path: str) -> None:
    answer = lone_app.test_client().get(path)
    assert answer.headers[MARK] == "1"
