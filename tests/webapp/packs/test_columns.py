"""One list of columns drives writing, both look-ups and the schema."""

from __future__ import annotations

from dataclasses import fields

import pytest

from calc.result import COLUMNS, Table
from tests.golden.make_columns import SCRIPT, script
from tests.webapp.packs.conftest import Built
from webapp.lines.columns import FILE_COLUMNS, FLAGS, check_columns, columns_schema
from webapp.lines.lookup import look_up


def test_the_tablets_copy_of_the_list_is_the_list() -> None:
    assert SCRIPT.read_text(encoding="utf-8") == script(), (
        "a column was added or changed: python tests/golden/make_columns.py"
    )


def test_every_field_of_a_table_but_its_nodes_is_described() -> None:
    assert [one.name for one in fields(Table)] == ["nodes", *(one.name for one in COLUMNS)]
    bound = {one.bound for one in COLUMNS if one.bound}
    assert bound < {one.name for one in COLUMNS}


def test_every_flag_has_a_bit_of_its_own() -> None:
    assert sorted(FLAGS.values()) == [2**n for n in range(len(FLAGS))]


def test_a_pack_holds_the_columns_of_the_list_and_no_other(demo: Built) -> None:
    names = {one.name for one in FILE_COLUMNS}
    assert set(demo.table["columns"]) == names == set(columns_schema()["properties"])


@pytest.mark.parametrize("name", [one.name for one in FILE_COLUMNS])
def test_a_forgotten_column_stops_the_build_with_its_name(demo: Built, name: str) -> None:
    columns = dict(demo.table["columns"])
    check_columns(columns)
    del columns[name]
    with pytest.raises(ValueError, match=repr(name)):
        check_columns(columns)


def test_a_column_that_nobody_described_stops_the_build(demo: Built) -> None:
    with pytest.raises(ValueError, match="'slope'"):
        check_columns({**demo.table["columns"], "slope": []})


def test_a_pack_from_before_a_later_column_is_read_without_it(
    demo: Built, monkeypatch: pytest.MonkeyPatch
) -> None:
    """A column that is not in every pack is left out where a pack lacks it."""
    from webapp.lines import columns, lookup

    later = columns.FileColumn("later", "added later", {"type": "integer"}, required=False)
    monkeypatch.setattr(lookup, "_ANSWERED", (*lookup._ANSWERED, later))
    asked = {"target": 0, "train": 0, "state": 0, "season": 0, "speed": 20}
    assert "later" not in look_up(demo.base, demo.table, **asked)
    one = demo.table["columns"]["step"]
    newer = {**demo.table, "columns": {**demo.table["columns"], "later": one}}
    found = look_up(demo.base, newer, **asked)
    assert found["later"] == found["step"]
