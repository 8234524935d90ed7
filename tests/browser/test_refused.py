"""What the driver sees of the signed index: refusals, withdrawals, renewed keys. R18, R49."""

from __future__ import annotations

import json
import re
from collections.abc import Callable

import pytest
from playwright.sync_api import Page, Route, expect

from tests.browser.packs import Depot
from tests.browser.tablet import Cab, Tablet
from tests.support.server import Server
from tests.support.small_pack import small_pack

OLD = small_pack(name="Larch Valley, old")
NEW = small_pack(name="Larch Valley, new")
W6 = "No advice here. Drive to the conditions."
REASON = "brake marks of Fern Mill are wrong"
STAY = "Those on this tablet stay. Tell the depot."


@pytest.fixture
def depot(server: Server) -> Depot:
    made = Depot(server.data)
    made.publish(OLD)
    return made


@pytest.fixture
def small_tablet(new_tablet: Callable[..., Tablet], server: Server, depot: Depot) -> Tablet:
    one = new_tablet()
    one.open(server.url)
    expect(one.page.locator("input[name=line]")).to_have_count(1)
    return one


def prepare(tablet: Tablet) -> None:
    tablet.prepare("Damp", "d0700", "larch-valley")


def sync(page: Page) -> None:
    """Let the app ask the depot now, as when the network comes back, and wait for it."""
    with page.expect_response(re.compile("/api/index$")):
        # Again after a while: the first asks nothing anew while the app is still asking.
        page.evaluate(
            """() => {
                const ask = () => dispatchEvent(new Event("online"));
                window.asking = setInterval(ask, 3000);
                ask();
            }"""
        )
    page.evaluate("clearInterval(window.asking)")


def alter(page: Page, change: Callable[[dict[str, object]], object]) -> None:
    def answer(route: Route) -> None:
        response = route.fetch()
        body = response.json()
        change(body)
        route.fulfill(response=response, body=json.dumps(body))

    page.context.route(re.compile("/api/index$"), answer)


def test_r49_a_refusal_is_told_and_the_former_pack_goes_on(small_tablet: Tablet, depot: Depot):
    page = small_tablet.page
    prepare(small_tablet)
    cases: list[tuple[str, Callable[[dict[str, object]], object]]] = [
        ("they are not signed", lambda body: body.pop("sig_p256")),
        ("another key signed them", lambda body: body.update(key_id="0" * 64)),
        (
            "they were altered on the way",
            lambda body: body.update(signed=str(body["signed"]).replace("old", "odd")),
        ),
    ]
    for words, change in cases:
        alter(page, change)
        sync(page)
        notice = page.locator(".notice", has_text=words)
        expect(notice).to_contain_text(f"Packs from the depot were refused: {words}. {STAY}")
        small_tablet.go("Outbox")
        expect(page.locator(".standing")).to_contain_text(f"{words}. {STAY}")
        expect(page.locator(".standing")).to_contain_text("The depot answers.")
        small_tablet.go("Brief")
        expect(page.locator(".road")).to_contain_text("Begin before")
        page.context.unroute_all(behavior="ignoreErrors")
        sync(page)
        expect(page.get_by_text("were refused")).to_have_count(0)


def test_r49_a_depot_put_back_to_an_older_index_is_refused(small_tablet: Tablet, depot: Depot):
    page = small_tablet.page
    with page.expect_response(re.compile("/api/index$")) as former:
        page.evaluate("() => dispatchEvent(new Event('online'))")
    older = former.value.text()
    depot.publish(NEW)
    sync(page)
    expect(page.locator(".notice", has_text="A newer pack")).to_be_visible()
    page.context.route(
        re.compile("/api/index$"),
        lambda route: route.fulfill(body=older, content_type="application/json"),
    )
    sync(page)
    expect(page.locator(".notice", has_text="older than those held here")).to_be_visible()
    page.get_by_role("button", name="Use it").click()
    prepare(small_tablet)
    expect(page.locator(".train")).to_contain_text("Larch Valley, new")
    page.context.unroute_all(behavior="ignoreErrors")


def test_r49_a_tablet_follows_the_depots_renewed_key(small_tablet: Tablet, depot: Depot):
    page = small_tablet.page
    depot.renew_key()
    depot.renew_key()
    depot.publish(NEW)
    sync(page)
    expect(page.locator(".notice", has_text="A newer pack")).to_be_visible()
    expect(page.get_by_text("were refused")).to_have_count(0)


def test_a_withdrawn_pack_gives_no_advice_until_it_is_published_again(
    small_tablet: Tablet, depot: Depot, server: Server
):
    page = small_tablet.page
    prepare(small_tablet)
    expect(page.locator(".road")).to_contain_text("Begin before")
    depot.withdraw("larch-valley", REASON)
    sync(page)
    notice = page.locator(".notice.strong")
    expect(notice).to_contain_text(W6)
    expect(notice).to_contain_text(REASON)
    expect(page.locator(".road .how", has_text=W6)).to_have_count(2)
    assert "post" not in page.locator(".road").inner_text()
    page.locator(".road summary").first.click()
    expect(page.locator(".road details[open] .picture")).to_be_empty()
    small_tablet.go("Next stop")
    expect(page.locator(".card")).to_contain_text(W6)
    expect(page.locator(".card .begin, .card .worse, .card .speeds")).to_have_count(0)
    # Also without any contact, from the start on.
    small_tablet.until("async () => Boolean(navigator.serviceWorker.controller)")
    small_tablet.context.set_offline(True)
    page.reload()
    page.wait_for_selector("main > *")
    expect(page.locator(".card")).to_contain_text(W6)
    small_tablet.go("Brief")
    expect(page.locator(".notice.strong")).to_contain_text(REASON)
    small_tablet.context.set_offline(False)
    depot.publish(OLD)
    sync(page)
    expect(page.locator(".road")).to_contain_text("Begin before")
    expect(page.locator(".notice.strong")).to_have_count(0)


def test_a_tablet_without_a_pack_is_told_that_it_was_withdrawn(
    new_tablet: Callable[..., Tablet], server: Server, depot: Depot
):
    depot.withdraw("larch-valley", REASON)
    page = new_tablet().open(server.url)
    expect(page.locator(".notice.strong")).to_contain_text(REASON)


def test_a_frozen_card_stays_until_the_stand_when_its_pack_is_withdrawn(
    small_tablet: Tablet, depot: Depot
):
    page = small_tablet.page
    # Before the trip is prepared, which is when the app begins to listen.
    cab = Cab(small_tablet, [[-20, 44, 0], [-20, 44.072, 8000], [-20, 44.0738, 8200]])
    prepare(small_tablet)
    small_tablet.go("Next stop")
    cab.at(3000, 20)
    expect(page.locator("body")).to_have_class(re.compile("moving"))
    cab.at(3050, 20)
    expect(page.locator(".card")).to_contain_text("Begin before")
    shown = page.locator(".card").inner_text()
    depot.withdraw("larch-valley", REASON)
    sync(page)
    page.wait_for_timeout(500)
    assert page.locator(".card").inner_text() == shown
    cab.at(3500, 15)
    assert page.locator(".card").inner_text() == shown
    cab.stand(4000)
    expect(page.locator(".card")).to_contain_text(W6)


def test_r18_little_room_is_told_before_a_pack_is_fetched(
    small_tablet: Tablet, depot: Depot, server: Server
):
    page = small_tablet.page
    full = "async () => ({quota: 9_000_000, usage: 8_999_000})"
    page.add_init_script(f"StorageManager.prototype.estimate = {full}")
    page.reload()
    page.wait_for_selector("main > *")
    depot.publish(NEW)
    sync(page)
    expect(page.locator(".notice", has_text="Little room")).to_contain_text(
        "0 MB free, a pack takes 1 MB."
    )
    expect(page.locator(".notice", has_text="A newer pack")).to_be_visible()
