"""Depot: which one this is, whether its database is still its own, which history it is in."""

from __future__ import annotations

import time

from flask import Flask, Response, request
from flask_smorest import Api
from sqlalchemy.exc import ProgrammingError

from webapp.store import depot
from webapp.store.datafolder import FolderTrouble
from webapp.store.db import db, folder_of, reading
from webapp.web import logs
from webapp.web.problem import folder_trouble

# The app itself goes on from what is in memory: a tablet without it could keep no report.
# And who watches the server is told what is wrong, not that something is.
STILL_SERVED = ("/app/", "/sw.js", "/manifest.webmanifest", *logs.QUIET)
# A database by address is asked this often whether it is still the one.
ASKED_EVERY_S = 2.0


def attach(app: Flask, _api: Api) -> None:
    """Answer nobody from a database that is not this depot's, or not there, any more."""
    asked = 0.0

    @app.before_request
    def look() -> Response | None:
        nonlocal asked
        if request.path == "/" or request.path.startswith(STILL_SERVED):
            return None
        folder = folder_of(db.session())
        trouble = folder.trouble()
        if trouble:
            raise FolderTrouble(trouble)
        now = time.monotonic()
        if folder.lite is None and folder.expected and now - asked > ASKED_EVERY_S:
            with reading() as session:
                depot.sure(session)
            asked = now
        return None

    @app.errorhandler(ProgrammingError)
    def look_why(error: ProgrammingError) -> Response:
        """A table that is missing: is it another database, or a fault of ours?"""
        try:
            db.session.rollback()
            with reading() as session:
                depot.sure(session)
        except FolderTrouble as trouble:
            return folder_trouble(trouble)
        raise error

    @app.after_request
    def look_again(response: Response) -> Response:
        """What was written a moment ago may have gone where nobody will find it."""
        if request.method in {"GET", "HEAD", "OPTIONS"} or response.status_code >= 400:
            return response
        trouble = folder_of(db.session()).trouble(wrote=True)
        return folder_trouble(FolderTrouble(trouble)) if trouble else response
