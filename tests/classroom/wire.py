"""A browser's side of the wire without a browser: the page over HTTP, its socket, messages out and patches in.

The server cannot tell it from a page: it fetches the document, takes the token from it, opens the WebSocket with
it, pulls the document, sends the same events that the boards send, and opens the channel of the readings.
"""

from __future__ import annotations

import asyncio
import json
import re
import secrets
import time
from collections.abc import Coroutine
from concurrent.futures import ThreadPoolExecutor
from typing import Any, TypeVar

from tornado.httpclient import AsyncHTTPClient, HTTPRequest
from tornado.websocket import WebSocketClientConnection, websocket_connect

from tests.waiting import PATIENCE

T = TypeVar("T")
CODE = re.compile(r"[A-Z2-9]{8}")


def run(story: Coroutine[Any, Any, T]) -> T:
    """Play a story to its end, in a thread of its own: a browser's driver may hold this one's event loop."""
    with ThreadPoolExecutor(1) as thread:
        return thread.submit(asyncio.run, story).result()


class Page:
    """One open live page."""

    def __init__(self, url: str, cookie: str | None = None, seat: str | None = None) -> None:
        self.url = url
        self.cookie = cookie
        self.seat = seat or secrets.token_hex(16)
        self.boards: dict[str, str] = {}
        """Model ids by board name."""
        self.readings: dict[str, Any] = {}
        """The last of every reading."""
        self.markup: dict[str, str] = {}
        self.patches = 0
        self._socket: WebSocketClientConnection | None = None
        self._reader: asyncio.Task[None] | None = None
        self._news = asyncio.Event()
        self._names: dict[str, str] = {}
        self._told: dict[str, int] = {}
        self.ticket = ""
        """What opens this page's channel."""
        self.channel: WebSocketClientConnection | None = None
        self._listener: asyncio.Task[None] | None = None

    # Opening

    async def open(self, hello: bool = True, path: str = "") -> Page:
        """Fetch the page, open its socket, and say hello as the header board does."""
        token = await self.token(path)
        await self.connect(token, path)
        if hello:
            self.send("header", {"page": "hello", "value": self.seat, "theme": "light"})
            await self.until(lambda: "page.page" in self.readings)
            if self.ticket:
                await self.open_channel(self.ticket)
        return self

    async def open_channel(self, ticket: str, origin: str | None = None, cookie: str | None = None) -> None:
        """Open the channel of the readings, as the header board does."""
        headers = {"Origin": origin or self.url.rstrip("/")}
        if cookie or self.cookie:
            headers["Cookie"] = f"trainer-login={cookie or self.cookie}"
        address = self.url.replace("http", "ws", 1) + "readings"
        self.channel = await websocket_connect(HTTPRequest(address, headers=headers), max_message_size=50_000_000)
        if self.channel.protocol is not None:
            self.channel.protocol.set_nodelay(True)
        self.channel.write_message(ticket)
        self._listener = asyncio.create_task(self._listen())

    async def _listen(self) -> None:
        assert self.channel is not None
        while (said := await self.channel.read_message()) is not None:
            told = json.loads(said)
            self.patches += 1
            for readings in told["boards"].values():
                self._learn(readings, told["n"])
            self._news.set()

    async def token(self, path: str = "") -> str:
        """The token in the page's document."""
        headers = {"Cookie": f"trainer-login={self.cookie}"} if self.cookie else {}
        answer = await AsyncHTTPClient().fetch(
            HTTPRequest(self.url + path, headers=headers, request_timeout=PATIENCE, follow_redirects=False)
        )
        found = re.search(r'"token":"([^"]+)"', answer.body.decode())
        assert found, "the page holds no token"
        return found[1]

    async def connect(self, token: str, path: str = "", origin: str | None = None) -> None:
        """Open the socket with a token and read what comes."""
        address = self.url.replace("http", "ws", 1) + (f"{path}/ws" if path else "ws")
        headers = {"Origin": origin or self.url.rstrip("/")}
        if self.cookie:
            headers["Cookie"] = f"trainer-login={self.cookie}"
        self._socket = await websocket_connect(
            HTTPRequest(address, headers=headers, request_timeout=PATIENCE),
            subprotocols=["bokeh", token],
            max_message_size=50_000_000,
        )
        # As browsers do: no waiting for more to send.
        if self._socket.protocol is not None:
            self._socket.protocol.set_nodelay(True)
        kind, _ = await self._message()
        assert kind == "ACK"
        self._write("PULL-DOC-REQ", {})
        early = []
        while True:
            kind, content = await self._message()
            if kind == "PULL-DOC-REPLY":
                break
            # As a browser does: what comes before the document waits for it.
            early.append((kind, content))
        self._find(content)
        for kind, patch in early:
            self._hear(kind, patch)
        self._reader = asyncio.create_task(self._read())
        self._event("document_ready", {"type": "map", "entries": []})

    def close(self) -> None:
        """Go away as a closed tab does."""
        for task in (self._reader, self._listener):
            if task is not None:
                task.cancel()
        if self.channel is not None:
            self.channel.close()
        if self._socket is not None:
            self._socket.close()

    # The wire

    def _write(self, kind: str, content: Any) -> None:
        assert self._socket is not None
        header = json.dumps({"msgid": secrets.token_hex(8), "msgtype": kind})
        for fragment in (header, "{}", json.dumps(content)):
            self._socket.write_message(fragment)

    async def _message(self) -> tuple[str, Any]:
        assert self._socket is not None
        header = await self._fragment()
        head = json.loads(header)
        await self._fragment()
        content = await self._fragment()
        for _ in range(2 * head.get("num_buffers", 0)):
            await self._fragment()
        return head["msgtype"], json.loads(content)

    async def _fragment(self) -> Any:
        assert self._socket is not None
        fragment = await self._socket.read_message()
        if fragment is None:
            raise ConnectionError(f"the server closed the socket: {self._socket.close_code}")
        return fragment

    def _find(self, content: Any) -> None:
        """Where the boards are: their models and the data models that hold their markup and readings."""
        if isinstance(content, dict):
            attributes = content.get("attributes")
            if isinstance(attributes, dict) and isinstance(attributes.get("data"), dict) and "esm" in attributes:
                data = attributes["data"]
                name = attributes.get("name") or data.get("attributes", {}).get("name")
                if name:
                    self.boards[name] = content["id"]
                    self._names[data["id"]] = name
                    self.markup[name] = data.get("attributes", {}).get("markup", "")
                    self._learn(data.get("attributes", {}).get("readings"))
            for value in content.values():
                self._find(value)
        elif isinstance(content, list):
            for value in content:
                self._find(value)

    def _learn(self, readings: Any, number: int = 0) -> None:
        news = plain(readings or {})
        number = news.pop("page.order", {}).get("n", number)
        self.ticket = news.pop("page.channel", {}).get("text", self.ticket)
        for key, value in news.items():
            if number >= self._told.get(key, 0):
                self._told[key] = number
                self.readings.setdefault(key, {}).update(value)

    async def _read(self) -> None:
        try:
            while True:
                kind, content = await self._message()
                self._hear(kind, content)
        except ConnectionError:
            self._news.set()

    def _hear(self, kind: str, content: Any) -> None:
        if kind != "PATCH-DOC":
            return
        self.patches += 1
        for event in content.get("events", []):
            if event.get("kind") == "ModelChanged" and event["model"]["id"] in self._names:
                if event["attr"] == "readings":
                    self._learn(event["new"])
                elif event["attr"] == "markup":
                    self.markup[self._names[event["model"]["id"]]] = event["new"]
        self._news.set()

    # What an operator does

    def send(self, board: str, message: Any) -> None:
        """Send a message from a board: over the channel once that is open, as boards do."""
        if self.channel is not None and self._listener is not None and not self._listener.done():
            self.channel.write_message(json.dumps(message))
            return
        entries = [["model", {"id": self.boards[board]}], ["data", wire(message)]]
        self._event("data_event", {"type": "map", "entries": entries})

    def _event(self, name: str, values: Any) -> None:
        said = {"type": "event", "name": name, "values": values}
        self._write("PATCH-DOC", {"events": [{"kind": "MessageSent", "msg_type": "bokeh_event", "msg_data": said}]})

    async def until(self, true: Any, longest: float = PATIENCE) -> float:
        """Wait until a condition on what came holds; the seconds it took."""
        began = time.perf_counter()
        while not true():
            left = longest - (time.perf_counter() - began)
            if left <= 0:
                raise TimeoutError("waited in vain")
            self._news.clear()
            try:
                await asyncio.wait_for(self._news.wait(), min(left, 1.0))
            except TimeoutError:
                continue
        return time.perf_counter() - began

    def text(self, key: str) -> str:
        """The text of a reading."""
        return str(self.readings.get(key, {}).get("text", ""))

    def state(self, key: str) -> str:
        """The state of a reading."""
        return str(self.readings.get(key, {}).get("state", ""))

    async def start(self, drill: str, mode: str = "practice", seed: int = 0) -> None:
        """Start a drill from the chooser and begin it."""
        self.send("chooser", {"page": "start", "drill": drill, "mode": mode, "seed": str(seed)})
        await self.until(lambda: self.state("page.page") == "console")
        if drill:
            self.send("brief", {"page": "begin"})
            await self.until(lambda: self.state("page.running") == "on")

    async def check(self, staff: Page, drill: str, name: str) -> None:
        """Ask for a check from the chooser; staff, who have this trainee chosen by name, allow it; begin it."""
        self.send("chooser", {"page": "start", "drill": drill, "mode": "check", "seed": "0"})
        await staff.until(lambda: name in staff.markup["desk_roster"])
        found = re.search(
            rf"number&quot;:&quot;([0-9a-f]{{20}})&quot;[^>]*>{re.escape(name)}<", staff.markup["desk_roster"]
        )
        assert found, f"{name} is not in the roster"
        staff.send("desk_roster", {"page": "select", "number": found[1]})
        await staff.until(lambda: "Asks for the check" in str(staff.readings.get("desk.asks")))
        staff.send("desk_talk", {"page": "allow"})
        await self.until(lambda: self.state("page.page") == "console")
        self.send("brief", {"page": "begin"})
        await self.until(lambda: self.state("page.running") == "on")

    async def class_code(self) -> str:
        """The code by which trainees join, from the instructor's page; a new one when none is open."""
        if not CODE.fullmatch(self.text("desk.code")):
            self.send("desk_top", {"page": "open_class"})
            await self.until(lambda: CODE.fullmatch(self.text("desk.code")))
        return self.text("desk.code")

    def do(self, do: str, target: str, value: Any = None, station: str = "driller") -> None:
        """Operate something."""
        command = {"do": do, "target": target, "from": station}
        self.send(station, command if value is None else {**command, "value": value})


def plain(value: Any) -> Any:
    """A value as the server spells it, as plain data."""
    if isinstance(value, dict):
        if value.get("type") == "map":
            return {key: plain(item) for key, item in value.get("entries", [])}
        return {key: plain(item) for key, item in value.items()}
    if isinstance(value, list):
        return [plain(item) for item in value]
    return value


def wire(value: Any) -> Any:
    """Plain data as a page spells it."""
    if isinstance(value, dict):
        return {"type": "map", "entries": [[key, wire(item)] for key, item in value.items()]}
    if isinstance(value, list):
        return [wire(item) for item in value]
    return value
