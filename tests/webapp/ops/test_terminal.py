"""Words of somebody else on the terminal of the server, and sums at their end."""

from __future__ import annotations

from flask import Flask

from webapp.commands.terminal import shown
from webapp.records import counts
from webapp.store.db import reading, writing


def test_a_terminal_obeys_no_word_of_a_file() -> None:
    hostile = "ok\x1b]0;owned\x07\x1b[2J\r\x9b31m\u202egnp\ttab"
    safe = shown(f"1: rejected {hostile}")
    assert all(one.isprintable() for one in safe)
    assert "\\x1b]0;owned\\x07" in safe and "\\u202e" in safe
    assert shown("Örsted, 31 mi\nnext") == "Örsted, 31 mi\nnext"


def test_a_sum_of_counts_stays_at_what_its_column_holds(app: Flask) -> None:
    cell = {
        **{"route": "r", "target": "t", "hour": 6, "rail_state": "wet", "train_type": "x"},
        "n": 10_000,
    }
    body = {"month": "2026-11", "cells": [cell]}
    with app.app_context(), writing() as session:
        counts._add(session, body)
        row = session.query(counts.ApproachCount).one()
        row.n = counts.MOST - 5_000
    for _ in range(3):
        with app.app_context(), writing() as session:
            counts._add(session, body)
    with app.app_context(), reading() as session:
        assert list(counts.sums(session).values()) == [counts.MOST]
