"""The pack as a tablet gets it: schemas, sizes, hashes, order along the chain."""

from __future__ import annotations

import gzip
import hashlib
import itertools
import json
import math
from collections.abc import Iterator
from dataclasses import replace

import jsonschema
import pytest
import rfc8785

from tests.support.pack_schemas import schema
from tests.webapp.packs.conftest import Built, built
from webapp.lines.lookup import look_up
from webapp.packs.files import LARGEST, PackTooLarge, pack_file
from webapp.packs.model import Route


def cells(demo: Built) -> Iterator[tuple[int, int, int]]:
    base = demo.base
    return itertools.product(range(2), range(len(base["targets"])), range(len(base["trains"])))


def test_every_file_keeps_its_schema(demo: Built) -> None:
    kinds = set()
    for file in demo.pack.files:
        validator = jsonschema.Draft202012Validator(schema(file.kind))
        errors = [error.message for error in validator.iter_errors(json.loads(file.content))]
        assert not errors, (file.name, errors[:3])
        kinds.add(file.kind)
    assert kinds == {"manifest", "base", "table", "pictures"}


def test_a_schema_can_fail() -> None:
    cell = {"columns": {"brake": [[[[[7]]]]]}, "knots": [0]}
    found = [
        e.message for e in jsonschema.Draft202012Validator(schema("table")).iter_errors(cell)
    ]
    assert "7 is not valid under any of the given schemas" in found, "no multiple of 5"
    assert any("0 is less than the minimum of 1" in message for message in found)
    assert list(jsonschema.Draft202012Validator(schema("base")).iter_errors({}))


def test_files_are_canonical_named_by_hash_and_small(demo: Built) -> None:
    for file in demo.pack.files:
        raw = gzip.decompress(file.gz)
        assert hashlib.sha256(raw).hexdigest() == file.sha256
        assert rfc8785.dumps(json.loads(raw)) == raw
        assert len(raw) == file.size
        assert len(file.gz) <= LARGEST
        assert file.gz[4:8] == b"\0\0\0\0", "gzip carries no time"
    manifest = json.loads(demo.pack.file("manifest").content)
    assert demo.pack.sha256 == demo.pack.file("manifest").sha256
    assert [line["sha256"] for line in manifest["files"]] == [
        file.sha256 for file in demo.pack.files[:-1]
    ]
    assert demo.table["base"] == demo.pack.file("base").sha256


def test_the_same_route_gives_the_same_hash_and_a_changed_one_another(short: Route) -> None:
    first, again = built(short), built(short)
    assert first.pack == again.pack
    slower = replace(short, speeds=(replace(short.speeds[0], speed=15), *short.speeds[1:]))
    assert built(slower).pack.sha256 != first.pack.sha256


def test_a_file_that_no_tablet_could_fetch_is_refused() -> None:
    digest = b""
    noise = []
    for number in range(9000):
        digest = hashlib.sha256(digest + bytes([number % 256])).digest()
        noise.append(digest.hex())
    with pytest.raises(PackTooLarge, match="more than 262144"):
        pack_file("base", "base", {"noise": noise})


def test_a_worse_state_is_never_later_never_faster(demo: Built) -> None:
    columns = demo.table["columns"]
    states = range(len(demo.base["states"]))
    for season, target, train in cells(demo):
        for better, worse in itertools.pairwise(states):
            one, other = (
                {name: columns[name][season][target][s][train] for name in columns}
                for s in (better, worse)
            )
            for k in range(len(demo.table["knots"])):
                assert other["status"][k] >= one["status"][k]
                if other["status"][k] == 0:
                    assert other["brake"][k] >= one["brake"][k] >= one["usual"][k]
            above = dict(map(tuple, one["speeds"]))
            assert all(speed <= above.get(index, speed) for index, speed in other["speeds"])


def test_figures_rise_with_speed_and_words_stand_where_no_figure_is(demo: Built) -> None:
    columns = demo.table["columns"]
    for season, target, train in cells(demo):
        for state in range(len(demo.base["states"])):
            status = columns["status"][season][target][state][train]
            brake = columns["brake"][season][target][state][train]
            known = [value for value in brake if value is not None]
            assert known == sorted(known)
            for name in ("brake", "seconds", "cover"):
                column = columns[name][season][target][state][train]
                assert [v is None for v in column] == [bool(s) for s in status], name


def test_card_speeds_fall_towards_the_stop_on_the_dial(demo: Built) -> None:
    base, columns = demo.base, demo.table["columns"]
    dial = base["route"]["dial"]
    shown = 0
    for season, number, train in cells(demo):
        target = base["targets"][number]
        sign = next(d["sign"] for d in base["directions"] if d["key"] == target["direction"])
        most = 3 if target["kind"] == "buffers" else 2
        for state in range(len(base["states"])):
            speeds = columns["speeds"][season][number][state][train]
            shown += bool(speeds)
            at = [sign * base["landmarks"][index]["at_m"] for index, _ in speeds]
            assert at == sorted(at) and len(speeds) <= most
            values = [value for _, value in speeds]
            assert values == sorted(set(values), reverse=True)
            assert all(v % dial == 0 and v > target["to_speed"] for v in values)
            assert all(v < target["approach_speed"][train] for v in values)
            assert {index for index, _ in speeds} <= set(target["landmarks"])
    assert shown > 100


def test_card_speeds_are_ceilings_under_the_plan(demo: Built) -> None:
    """Against the physics' own curve, straight between its two nodes."""
    import numpy as np

    mps = demo.computed.route.head.mps
    first = 0
    checked = 0
    for half in demo.computed.halves:
        for number, target in enumerate(half.targets):
            for train, mark in enumerate(target.marks):
                if mark is None:
                    continue
                for state in range(len(demo.base["states"])):
                    speeds = demo.table["columns"]["speeds"][1][first + number][state][train]
                    curve = half.table.advised[number, 1, state, train]
                    for index, value in speeds:
                        at = demo.base["landmarks"][index]["at_m"]
                        ahead = half.direction.sign * (mark - at)
                        plan = np.interp(ahead, half.table.nodes, curve)
                        assert np.isnan(plan) or value * mps <= plan + 1e-6
                        checked += 1
        first += len(half.targets)
    assert checked > 500


def test_brake_marks_are_at_real_things_and_rarely_far(demo: Built) -> None:
    """Snapping outward costs a driver time; over 300 m in few cases, never 'far'."""
    base = demo.base
    gaps = []
    for number, target in enumerate(base["targets"]):
        sign = next(d["sign"] for d in base["directions"] if d["key"] == target["direction"])
        for train, mark in enumerate(target["mark_m"]):
            for state in range(5):
                ask = {"target": number, "train": train, "state": state, "season": 1}
                speed = target["approach_speed"][train]
                answer = look_up(base, demo.table, **ask, speed=speed)
                if answer["status"] == 0:
                    at = base["landmarks"][answer["mark"]["index"]]["at_m"]
                    gaps.append(sign * (mark - at) - answer["brake"])
                    assert not answer["mark"]["far"]
    assert len(gaps) > 500
    assert min(gaps) >= 0
    assert sum(gap > 300 for gap in gaps) < 0.02 * len(gaps)


def test_words_name_one_landmark_only_on_each_approach(demo: Built) -> None:
    base = demo.base
    for target in base["targets"]:
        words = [base["landmarks"][index]["words"] for index in target["landmarks"]]
        assert len(words) == len(set(words)), target["key"]
        assert words.count("ramp") <= 1


def test_every_call_has_its_target_in_order_of_travel(demo: Built) -> None:
    base = demo.base
    order = {target["key"]: number for number, target in enumerate(base["targets"])}
    for trip in base["trips"]:
        numbers = [order[call["target"]] for call in trip["calls"]]
        assert numbers == sorted(numbers)
        assert trip["starts"]["place"] in {place["key"] for place in base["places"]}


def test_fixed_words_and_assumptions_travel_with_the_pack(demo: Built) -> None:
    assert demo.base["words"]["W1"] == "Platform stop only. Signals first."
    assert demo.base["words"]["W6"] == "No advice here. Drive to the conditions."
    stated = " ".join(entry["what"] for entry in demo.base["assumptions"])
    for needed in ("eta", "mass_t", "rates", "Rail state Damp", "slide to the handle"):
        assert needed in stated
    assert all(entry["basis"] for entry in demo.base["assumptions"])


def test_approach_speed_is_one_the_table_can_answer(demo: Built) -> None:
    last = demo.table["knots"][-1]
    for target in demo.base["targets"]:
        assert all(0 <= speed <= last for speed in target["approach_speed"])
        assert all(reach > 0 for reach in target["reach_m"])


def test_each_state_has_its_own_approach_speed_and_is_never_later_for_it(demo: Built) -> None:
    base, columns, knots = demo.base, demo.table["columns"], demo.table["knots"]

    def brake(cell: tuple[int, ...], speed: int) -> float:
        season, target, state, train = cell
        ask = {"target": target, "train": train, "state": state, "season": season}
        answer = look_up(base, demo.table, **ask, speed=speed)
        return math.inf if answer["brake"] is None else answer["brake"]

    slower = 0
    for season, target, train in cells(demo):
        if base["targets"][target]["mark_m"][train] is None:
            continue
        most = base["targets"][target]["approach_speed"][train]
        last = -math.inf
        for state in range(len(base["states"])):
            speed = columns["approach"][season][target][state][train]
            assert 0 < speed <= most <= knots[-1]
            found = brake((season, target, state, train), speed)
            assert found >= last
            last = found
            if season:
                out = columns["approach"][0][target][state][train]
                assert found >= brake((0, target, state, train), out)
            slower += speed < most
    assert slower > 100


def test_nearly_every_stop_has_advice_for_whole_trains(demo: Built) -> None:
    """Trains with all their brakes; words instead of a number stay the exception."""
    base, columns = demo.base, demo.table["columns"]
    asked = given = 0
    for number, target in enumerate(base["targets"]):
        for train, about in enumerate(base["trains"]):
            for state in range(5):
                if about["isolated_cars"] or target["mark_m"][train] is None:
                    continue
                speed = columns["approach"][1][number][state][train]
                ask = {"target": number, "train": train, "state": state, "season": 1}
                asked += 1
                given += look_up(base, demo.table, **ask, speed=speed)["status"] == 0
    assert given >= 0.93 * asked, (given, asked)
