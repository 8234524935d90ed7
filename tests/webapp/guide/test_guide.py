"""The guide: twelve pictures that are there, small, each with its question and its answer."""

from __future__ import annotations

import io
from pathlib import Path

import pytest
from flask import Flask
from lxml import html
from PIL import Image

from webapp.pages.guide.service import PICTURES, SHOTS

ROOT = Path(__file__).parents[3]
#: Twelve of them are fetched over a depot's network; own number.
MOST_BYTES = 60_000


def test_twelve_questions_stand_beside_their_pictures_and_the_cautions_above(lone_app: Flask):
    client = lone_app.test_client()
    page = html.fromstring(client.get("/guide").get_data(as_text=True))
    assert "Signals, the rule book, local instructions" in page.text_content()
    assert "has not been tried with drivers" in page.text_content()
    figures = page.xpath("//ol/li/figure")
    assert len(figures) == 12
    for figure in figures:
        question = figure.xpath(".//h2")[0].text_content()
        assert question.endswith("?")
        image = figure.xpath("./img")[0]
        assert image.get("alt").strip()
        answer = client.get(image.get("src"))
        assert answer.content_type == "image/png"
        size = Image.open(io.BytesIO(answer.data)).size
        shown = (int(image.get("width")), int(image.get("height")))
        assert size[0] * shown[1] == size[1] * shown[0], "the picture would be distorted"
    assert client.get("/guide/guide.css").content_type.startswith("text/css")


@pytest.mark.parametrize("shot", SHOTS, ids=lambda shot: shot.key)
def test_a_picture_is_small(shot):
    assert 2_000 < len((PICTURES / f"{shot.key}.png").read_bytes()) <= MOST_BYTES


def test_no_picture_lies_there_unused():
    assert {one.stem for one in PICTURES.glob("*.png")} == {shot.key for shot in SHOTS}


def test_a_name_that_is_no_picture_is_not_found(lone_app: Flask):
    assert lone_app.test_client().get("/guide/nothing.png").status_code == 404


def test_readme_and_brief_lead_to_the_guide():
    assert "`/guide`" in (ROOT / "README.md").read_text("utf-8")
    brief = (ROOT / "static/screens/brief.js").read_text("utf-8")
    assert 'href: "/guide"' in brief
