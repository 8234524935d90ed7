from __future__ import annotations

from flask import Blueprint, Response, current_app

from webapp.tablet import build as service
from webapp.tablet.build import Shell
from webapp.web.problem import Problem
from webapp.web.stored import IMMUTABLE, REVALIDATE, answer, reading_sheet

blueprint = Blueprint("shell", __name__)
ICON = "icons/icon-192.png"
READING = reading_sheet()


def _shell() -> Shell:
    shell: Shell = current_app.extensions["shell"]
    return shell


def _at_root(name: str) -> Response:
    try:
        return answer(_shell().current.root[name], REVALIDATE)
    except KeyError:
        raise Problem(404, "no_such_file", f"The app has no {name}.") from None


@blueprint.get("/")
def page() -> Response:
    return _at_root(service.PAGE)


@blueprint.get("/ride")
def ride() -> Response:
    """The ride along, which only a demo has; elsewhere the address is unknown."""
    return _at_root(service.RIDE_PAGE)


@blueprint.get("/sw.js")
def worker() -> Response:
    return _at_root(service.worker_name(current_app.config["DATA"]))


@blueprint.get("/manifest.webmanifest")
def manifest() -> Response:
    return _at_root(service.MANIFEST)


@blueprint.get("/favicon.ico")
def icon() -> Response:
    """Browsers ask for it of every page that names no icon; they look at what it is."""
    try:
        return answer(_shell().current.files[ICON], REVALIDATE)
    except KeyError:
        raise Problem(404, "no_such_file", f"The app has no {ICON}.") from None


@blueprint.get("/type/reading.css")
def reading() -> Response:
    """The style that pages to read have in common, for those without one of their own."""
    return answer(READING, REVALIDATE)


@blueprint.get("/type/<name>")
def typeface(name: str) -> Response:
    """The app's typeface for pages beside it, which know no build."""
    try:
        return answer(_shell().current.files[f"fonts/{name}"], REVALIDATE)
    except KeyError:
        raise Problem(404, "no_such_file", f"The app has no typeface {name}.") from None


@blueprint.get("/app/<build>/<path:name>")
def file(build: str, name: str) -> Response:
    """A missing file is 404 in the error shape: HTML would be cached as a script."""
    try:
        return answer(_shell().builds[build].files[name], IMMUTABLE)
    except KeyError:
        raise Problem(404, "no_such_file", "This build has no such file.") from None
