"""Desk: the frame round the depot's pages."""

from __future__ import annotations

from dataclasses import dataclass

from flask import Flask
from flask_smorest import Api

from webapp.desk.views import blueprint


@dataclass(frozen=True)
class DeskPage:
    """One entry of the desk's navigation: where it leads, whose it is, who sees it."""

    endpoint: str
    room: str
    need: str
    words: str


PAGES = (
    DeskPage("reports.newest", "reports", "look", "Reports"),
    DeskPage("warning_desk.everyone", "warning_desk", "look", "Warnings"),
    DeskPage("places.everyone", "places", "look", "Places"),
    DeskPage("pack_desk.everyone", "pack_desk", "look", "Packs"),
    DeskPage("control.page", "control", "look", "Control"),
    DeskPage("handover.page", "handover", "look", "Hand-over"),
    DeskPage("tablet_list.everyone", "tablet_list", "look", "Tablets"),
    DeskPage("privacy.kept", "privacy", "look", "What is kept"),
    DeskPage("people.everyone", "people", "people", "People"),
)


def attach(app: Flask, _api: Api) -> None:
    app.register_blueprint(blueprint)
    app.context_processor(lambda: {"desk_pages": PAGES})
