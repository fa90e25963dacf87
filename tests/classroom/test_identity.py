"""One identity a socket and a page: whose session it is, who may speak in it, and what a page never holds."""

from __future__ import annotations

import asyncio
import json
import urllib.parse
from collections.abc import Callable

import pytest
from bokeh.util.token import get_session_id, get_token_payload
from tornado.httpclient import HTTPClientError
from tornado.websocket import websocket_connect

from tests.classroom.conftest import Server, Visitor
from tests.classroom.wire import Page, run
from tests.waiting import PATIENCE
from trainer.classroom.channel import LONGEST_MESSAGE


@pytest.fixture(scope="session")
def pair(joined: Callable[[str], Visitor]) -> tuple[Visitor, Visitor]:
    """Two trainees: one who attacks, one who is attacked."""
    return joined("Ada Rook"), joined("Bo Fern")


def test_the_session_of_a_page_cannot_be_chosen(server: Server, pair: tuple[Visitor, Visitor]) -> None:
    attacker, victim = pair
    token = run(Page(server.url, attacker.cookie()).token())
    session = urllib.parse.quote(get_session_id(token))
    for asked, headers in (
        (f"?bokeh-session-id={session}", {}),
        ("?bokeh-session-id=chosen-by-me", {}),
        (f"?bokeh-token={urllib.parse.quote(token)}", {}),
        ("", {"Bokeh-Session-Id": urllib.parse.unquote(session)}),
        (f"metadata?bokeh-session-id={session}", {}),
        (f"autoload.js?bokeh-autoload-element=1&bokeh-session-id={session}", {}),
    ):
        assert "token" not in victim.request(asked, headers=headers), asked
        assert victim.status in (403, 404), asked
    victim.get("")
    assert victim.status == 200


def test_a_page_made_for_one_person_takes_no_socket_of_another(server: Server, pair: tuple[Visitor, Visitor]) -> None:
    attacker, victim = pair

    async def story(own: bool) -> bool:
        token = await Page(server.url, attacker.cookie()).token()
        page = Page(server.url, attacker.cookie() if own else victim.cookie())
        try:
            await asyncio.wait_for(page.connect(token), 20)
        except (HTTPClientError, ConnectionError):
            return False
        page.close()
        return True

    assert run(story(own=True))
    assert not run(story(own=False))


def test_the_log_in_cookie_is_in_no_page_and_no_protocol_header(
    server: Server, pair: tuple[Visitor, Visitor], instructor: Visitor
) -> None:
    for visitor, path in ((pair[0], ""), (instructor, "instructor"), (instructor, "watch?seat=0")):
        cookie = visitor.cookie()
        assert cookie
        token = run(Page(server.url, cookie).token(path))
        told = repr(get_token_payload(token))
        assert cookie not in told
        assert cookie.split(".")[0] not in told
        assert cookie not in visitor.get(path)


def test_readings_come_over_the_channel_of_their_page(server: Server, pair: tuple[Visitor, Visitor]) -> None:
    async def story() -> None:
        page = await Page(server.url, pair[0].cookie()).open()
        assert page.channel is not None
        await page.start("")
        before = page.text("page.clock")
        await page.until(lambda: page.text("page.clock") != before)
        # Between two beats without markup nothing goes the page library's way any more.
        page.close()

    run(story())


def test_the_channel_is_for_its_own_page_and_person_only(server: Server, pair: tuple[Visitor, Visitor]) -> None:
    attacker, victim = pair

    async def closed(ticket: str, cookie: str | None) -> int | None:
        address = server.url.replace("http", "ws", 1) + "readings"
        from tornado.httpclient import HTTPRequest

        headers = {"Origin": server.url.rstrip("/"), "Cookie": f"trainer-login={cookie}"}
        socket = await websocket_connect(HTTPRequest(address, headers=headers))
        await socket.write_message(ticket)
        said = await asyncio.wait_for(socket.read_message(), 20)
        return socket.close_code if said is None else None

    async def story() -> None:
        page = await Page(server.url, victim.cookie()).open()
        await page.start("")
        assert await closed(page.ticket, attacker.cookie()) == 4403
        assert await closed("made up", attacker.cookie()) == 4404
        assert await closed(page.ticket, victim.cookie()) is None
        with pytest.raises(HTTPClientError):
            await page.open_channel(page.ticket, origin="http://elsewhere.invalid")
        page.close()

    run(story())


def test_the_channel_takes_what_hands_do_and_passes_over_all_else(
    server: Server, pair: tuple[Visitor, Visitor]
) -> None:
    async def story() -> None:
        page = await Page(server.url, pair[0].cookie()).open()
        await page.start("")
        channel = page.channel
        assert channel is not None
        huge = json.dumps({"page": "units", "more": "x" * LONGEST_MESSAGE})
        for said in ("{", "[1]", "null", "7", "[" * 15_000, huge, b"\xff\x00"):
            await channel.write_message(said, binary=isinstance(said, bytes))
        page.do("set", "bank_b.isolation", "shut", "unit")
        await page.until(lambda: page.state("bank_b.isolation") == "shut")
        assert page.text("page.units") == "Metric"
        # A channel opened anew is told everything once more: what was under way in the old one may be lost.
        told = page.readings.pop("bank_b.isolation")
        channel.close()
        await page.open_channel(page.ticket)
        await page.until(lambda: page.readings.get("bank_b.isolation") == told)
        page.close()

    run(story())


def test_nothing_is_shown_or_done_after_logging_out(server: Server, joined: Callable[[str], Visitor]) -> None:
    visitor = joined("Cy Lark")

    async def story() -> None:
        page = await Page(server.url, visitor.cookie()).open()
        await page.start("")
        listener = page._listener
        assert listener is not None
        await asyncio.to_thread(visitor.post, "logout", {})
        # The server closes the channel, and tells nothing more the other way.
        await asyncio.wait_for(listener, PATIENCE)
        clock = page.text("page.clock")
        page.do("set", "upper_annular", "close")
        page.send("header", {"page": "hello", "value": page.seat, "theme": "light"})
        with pytest.raises(TimeoutError):
            await page.until(lambda: page.text("page.clock") != clock, 1.0)
        page.close()

    run(story())


@pytest.mark.parametrize("path", ["", "login", "fit", "mine", "readings", "static/js/bokeh.min.js"])
def test_a_name_that_is_not_the_servers_gets_nothing(server: Server, pair: tuple[Visitor, Visitor], path: str) -> None:
    visitor = pair[0]
    text = visitor.request(path, headers={"Host": "rebound.invalid"})
    assert visitor.status == 421, text[:200]
    assert "_xsrf" not in text
