"""Tablets: which device is speaking."""

from __future__ import annotations

from flask import Flask
from flask_smorest import Api

from webapp import tablet_cookie


def attach(app: Flask, _api: Api) -> None:
    tablet_cookie.attach(app)
