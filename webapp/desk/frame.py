from __future__ import annotations

from dataclasses import dataclass
from pathlib import Path

from flask import Blueprint, Response, redirect, url_for
from werkzeug.wrappers import Response as AnyResponse

from webapp.web.access import needs, open_to_all
from webapp.web.stored import FACE, REVALIDATE, answer, sheet

STYLE = sheet(FACE, Path(__file__).parent / "desk.css")

blueprint = Blueprint("desk", __name__, template_folder="templates")


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
    DeskPage("weather.everyone", "weather", "look", "Weather"),
    DeskPage("pack_desk.everyone", "pack_desk", "look", "Packs"),
    DeskPage("control.page", "control", "look", "Control"),
    DeskPage("handover.page", "handover", "look", "Hand-over"),
    DeskPage("tablet_list.everyone", "tablet_list", "look", "Tablets"),
    DeskPage("privacy.kept", "privacy", "look", "What is kept"),
    DeskPage("people.everyone", "people", "people", "People"),
)


@blueprint.get("/desk")
@needs("look")
def front() -> AnyResponse:
    return redirect(url_for("reports.newest"))


@blueprint.get("/desk/desk.css")
@open_to_all
def style() -> Response:
    return answer(STYLE, REVALIDATE)
