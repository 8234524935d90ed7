"""flask-smorest, set up so that JSON is read strictly and every error has the one shape."""

from __future__ import annotations

from collections.abc import Callable
from datetime import datetime
from typing import Any, TypeVar

import marshmallow as ma
from flask import Flask, Response, request
from flask.json.provider import DefaultJSONProvider
from flask_smorest import Api
from flask_smorest import Blueprint as SmorestBlueprint
from webargs.flaskparser import FlaskParser, is_json_request
from werkzeug.exceptions import HTTPException

from webapp.plain import jsontext
from webapp.plain.agreed import MARK, PROTOCOL
from webapp.web.problem import Problem, problem_response

# The name of the desk's log-in among the document's security schemes.
DESK = "desk"
View = TypeVar("View", bound=Callable[..., Any])


class StrictJson(DefaultJSONProvider):
    """Flask's JSON, refusing what JSON has no word for."""

    sort_keys = False

    @staticmethod
    def default(o: Any) -> Any:
        return (
            jsontext.rfc3339(o) if isinstance(o, datetime) else DefaultJSONProvider.default(o)
        )

    def dumps(self, obj: Any, **kwargs: Any) -> str:
        kwargs.setdefault("allow_nan", False)
        return super().dumps(obj, **kwargs)

    def loads(self, s: str | bytes, **kwargs: Any) -> Any:
        return jsontext.loads(s)


class ProblemSchema(ma.Schema):
    type = ma.fields.String(required=True)
    title = ma.fields.String(required=True)
    status = ma.fields.Integer(required=True)
    detail = ma.fields.String(required=True)
    code = ma.fields.String(required=True)
    errors = ma.fields.Dict()
    # Of a 412: what is kept now.
    current = ma.fields.Dict()


class ProblemApi(Api):  # type: ignore[misc]
    """flask-smorest with our error shape."""

    ERROR_SCHEMA = ProblemSchema
    DEFAULT_ERROR_RESPONSE_NAME = None

    def handle_http_exception(self, error: HTTPException) -> Response:
        return problem_response(error)


class StrictParser(FlaskParser):
    """webargs, reading JSON strictly; a broken body is 400, a body that is not JSON 415."""

    def _raw_load_json(self, req: Any) -> Any:
        if not is_json_request(req):
            raise not_json()
        try:
            return jsontext.loads(req.get_data(cache=True))
        except ValueError as error:
            raise Problem(400, "invalid_json", f"The body is not JSON: {error}.") from error


class Blueprint(SmorestBlueprint):  # type: ignore[misc]
    """A room's HTTP calls; the decorators only add types to flask-smorest's own."""

    ARGUMENTS_PARSER = StrictParser()

    def get(self, rule: str, **options: Any) -> Callable[[View], View]:
        wrap: Callable[[View], View] = super().get(rule, **options)
        return wrap

    def post(self, rule: str, **options: Any) -> Callable[[View], View]:
        wrap: Callable[[View], View] = super().post(rule, **options)
        return wrap

    def patch(self, rule: str, **options: Any) -> Callable[[View], View]:
        wrap: Callable[[View], View] = super().patch(rule, **options)
        return wrap

    def of_the_desk(self, view: View) -> View:
        """Describe a call for accounts of the desk; `access` shuts it to others."""
        for status, words in ((401, "Nobody is logged in"), (403, "Not this account's right")):
            view = self.refuses(status, words)(view)
        described: View = self.doc(security=[{DESK: []}])(view)
        return described

    def takes(self, schema: type[ma.Schema], location: str = "json") -> Callable[[View], View]:
        wrap: Callable[[View], View] = self.arguments(schema, location=location)
        return wrap

    def answers(self, status: int, schema: type[ma.Schema]) -> Callable[[View], View]:
        wrap: Callable[[View], View] = self.response(status, schema)
        return wrap

    def also(
        self, status: int, schema: type[ma.Schema] | None, description: str
    ) -> Callable[[View], View]:
        """Describe an answer that the view builds itself."""
        wrap: Callable[[View], View] = self.alt_response(
            status, schema=schema, description=description, success=True
        )
        return wrap

    def takes_header(self, parameter: dict[str, Any]) -> Callable[[View], View]:
        """Describe a header that the view reads itself."""
        wrap: Callable[[View], View] = self.doc(parameters=[parameter])
        return wrap

    def refuses(self, status: int, description: str) -> Callable[[View], View]:
        """Describe a problem that only this call answers with."""
        wrap: Callable[[View], View] = self.alt_response(status, description=description)
        return wrap

    def named(self, operation: str) -> Callable[[View], View]:
        """Give a call the name by which links in the document speak of it."""
        wrap: Callable[[View], View] = self.doc(operationId=operation)
        return wrap

    def leads_to(self, name: str, operation: str, **values: str) -> Callable[[View], View]:
        """Describe a call that this call's 200 gives the parameters for."""
        link = {name: {"operationId": operation, "parameters": values}}
        wrap: Callable[[View], View] = self.doc(responses={200: {"links": link}})
        return wrap


def attach(app: Flask) -> ProblemApi:
    app.config.update(API_TITLE="Step in Hand", API_VERSION="1", OPENAPI_VERSION="3.1.0")
    api = ProblemApi(app)
    app.before_request(guard_writes)
    app.after_request(sign)
    return api


def sign(response: Response) -> Response:
    """Mark every answer as the depot's own: only then may a refusal park a report."""
    response.headers[MARK] = PROTOCOL
    return response


def guard_writes() -> None:
    """Refuse cross-site and form posts: a browser form can send neither header nor JSON."""
    if request.method in {"GET", "HEAD", "OPTIONS"} or request.routing_exception is not None:
        return
    if request.path.startswith("/desk/"):
        return  # plain forms, guarded by log-in and token: webapp/web/access.py
    if request.headers.get(MARK) != PROTOCOL:
        raise Problem(
            403, "header_missing", f"Send the header {MARK}: {PROTOCOL} with every change."
        )
    if request.mimetype != "application/json":
        raise not_json()


def not_json() -> Problem:
    return Problem(415, "not_json", "Send the body as application/json.")
