"""``step-in-hand weather read``, as a depot's own job calls it."""

from __future__ import annotations

from datetime import UTC, datetime
from pathlib import Path

import pytest
from click.testing import CliRunner, Result
from flask import Flask

from tests.support.weather import csv_file, hourly_body, json_file, rows, weather_pack
from webapp.commands import cli
from webapp.publish import service as publisher
from webapp.records.weather import held
from webapp.store.db import reading, writing


@pytest.fixture
def data(lone_app: Flask) -> Path:
    with lone_app.app_context(), writing() as session:
        publisher.publish(session, weather_pack(), datetime.now(UTC))
    return Path(lone_app.config["DATA"])


def read(data: Path, tmp_path: Path, content: bytes, *more: str) -> Result:
    file = tmp_path / "hours"
    file.write_bytes(content)
    line = ["weather", "read", str(file), "--line", "larch-valley", "--data", str(data)]
    return CliRunner().invoke(cli.cli, [*line, *more])


def test_a_file_is_taken_in_and_what_is_proposed_now_is_printed(
    data: Path, tmp_path: Path, lone_app: Flask
) -> None:
    said = read(data, tmp_path, json_file(hourly_body()))
    assert said.exit_code == 0, said.output
    assert "larch-valley: taken in. Now: dry (no rain, and the air is far" in said.output
    with lone_app.app_context(), reading() as session:
        row = held.latest(session, "larch-valley")
        assert row is not None and (row.source, row.read_by) == ("hours", "weather read")


def test_each_fault_is_printed_and_nothing_is_kept(
    data: Path, tmp_path: Path, lone_app: Flask
) -> None:
    said = read(data, tmp_path, csv_file(rows("8,3,-1,3,4")))
    assert said.exit_code != 0 and "nothing was taken in" in said.output
    assert "hours, row 2, column rain_mm: -1 is not believed" in said.output
    assert "and 30 more." in said.output
    with lone_app.app_context(), reading() as session:
        assert held.latest(session, "larch-valley") is None


def test_other_columns_are_sent_to_the_desk(data: Path, tmp_path: Path) -> None:
    said = read(data, tmp_path, csv_file(["x"], heading="Zeit"))
    assert "Take it in once at the desk, at /desk/weather/larch-valley" in said.output


def test_an_unknown_line_names_the_known_ones(data: Path, tmp_path: Path) -> None:
    said = read(data, tmp_path, csv_file(rows()), "--line", "kettle")
    assert "--line kettle: no such line. In use: larch-valley." in said.output


def test_a_place_beyond_a_pole_is_no_place(data: Path, tmp_path: Path) -> None:
    said = read(data, tmp_path, csv_file(rows()), "--at", "98", "0")
    assert said.exit_code == 2 and "latitude within 90 degrees" in said.output
