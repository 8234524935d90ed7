"""Tablets: which device is speaking."""

from __future__ import annotations

from flask import Flask
from flask_smorest import Api

from webapp.tablets import cookie


def attach(app: Flask, _api: Api) -> None:
    cookie.attach(app)
