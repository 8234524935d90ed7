"""R9, R72: the main job in Firefox and WebKitGTK, which know no Background Sync."""

from __future__ import annotations

import urllib.request

from tests.engines.conftest import Starter
from tests.engines.glass import Glass
from tests.support.desk import desk_cookie
from tests.support.engines import kill_firefox, wait_for
from tests.support.server import Server
from tests.support.stand_in import (
    depot_that,
    html_200,
    refuse_all,
    stand_in,
    unknown_tablet,
)

UNSENT = "1 report not sent. Keep this app open where there is signal."
ALL_THERE = "Every report on this tablet has reached the depot."


def send(glass: Glass) -> None:
    glass.press("button", "Send now")


def at_the_desk(server: Server) -> str:
    call = urllib.request.Request(
        f"{server.url}/desk/reports",
        headers={"Cookie": f"sih-desk={desk_cookie(server.data)}"},
    )
    with urllib.request.urlopen(call, timeout=10) as answer:
        return str(answer.read().decode())


def test_r9_r72_the_journey_without_background_sync(glass: Glass, demo_server: Server) -> None:
    server = demo_server
    glass.open(server.url)
    glass.installed()
    assert glass.ask("return 'SyncManager' in window") is False, "what this engine is here for"
    glass.prepare()
    glass.go("Next")
    glass.see(".w1", "Platform stop only. Signals first.")
    glass.see(".line.name", "BRINEWICK 4 cars")
    glass.see(".line.begin", "Begin before")
    glass.press("button", "Show")
    wait_for(lambda: "BRINEWICK" not in glass.text(".line.name"), "the stop after it")
    glass.press("button", "Back to")
    glass.see(".line.name", "BRINEWICK 4 cars")

    server.freeze()
    glass.reload()
    glass.outbox("The depot did not answer in time.")
    server.kill()
    glass.report()
    glass.reload()
    glass.outbox(UNSENT)
    glass.outbox("No contact with the depot.")
    glass.go("Next")
    glass.see(".line.begin", "Begin before")

    glass.go("Outbox")
    with stand_in(server.port, html_200) as asked:
        send(glass)
        glass.see(".standing", "This network answers in place of the depot.")
        wait_for(lambda: any("/api/proof" in path for path in asked), "it did try")
        assert "/api/outbox" not in asked, "nothing is given to a portal"
    with stand_in(server.port, depot_that(unknown_tablet, server.data)):
        send(glass)
        glass.see(
            ".standing", "This tablet is not enrolled: tell the depot. Reports stay here"
        )
        glass.see(".standing", UNSENT)
    with stand_in(server.port, depot_that(refuse_all, server.data)):
        send(glass)
        glass.see(".standing", "1 report needs attention.")
        glass.see(".report-row", "not known")

    server.start()
    glass.press("button", "Send again")
    glass.see(".standing", ALL_THERE)
    glass.see(".reports", "Reached the depot, no. 1")
    glass.see(".standing", "The depot answers.")
    assert server.rows("SELECT seq, quarantined FROM report") == [(1, 0)]
    assert "Reportable" in at_the_desk(server)


def test_r1_r14_firefox_killed_and_reopened(firefox: Starter, demo_server: Server) -> None:
    glass = firefox()
    glass.open(demo_server.url)
    glass.installed()
    glass.prepare()
    glass.driver.quit()  # in order, so that the tablet's enrolment is on disk

    glass = firefox()
    demo_server.kill()
    glass.open(demo_server.url)
    for found in ("Reportable", "Expected", "Good"):
        glass.report(found)
    kill_firefox(glass.driver)
    assert demo_server.count() == 0

    glass = firefox()
    glass.open(demo_server.url)
    glass.outbox("3 reports not sent. Keep this app open where there is signal.")
    glass.outbox("No contact with the depot.")
    demo_server.start()
    send(glass)
    glass.see(".standing", ALL_THERE)
    rows = demo_server.rows("SELECT seq, quarantined FROM report ORDER BY seq")
    assert rows == [(1, 0), (2, 0), (3, 0)]
