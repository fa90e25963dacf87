"""The gate before every live page and its WebSocket: by path, who may pass."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from typing import Any

from bokeh.server.auth_provider import AuthProvider

from trainer.classroom.access import Access, Who

COOKIE = "trainer-login"

#: The roles that a live page is for. The page of trainees is for everybody who joined.
PAGES: Mapping[str, tuple[str, ...]] = {
    "/instructor": ("instructor",),
    "/watch": ("instructor", "assessor"),
}
ANYBODY = ("trainee", "instructor", "assessor")


def roles_for(path: str) -> tuple[str, ...]:
    """The roles that may open the live page of this path, whatever of it (document, socket, script)."""
    for page, roles in PAGES.items():
        if path == page or path.startswith(page + "/"):
            return roles
    return ANYBODY


class Gate(AuthProvider):
    """Asked by the server for each document, socket and script that it serves.

    ``open_practice``: the trainee's page needs no joining, as on one's own machine.
    """

    def __init__(self, access: Access, open_practice: bool) -> None:
        self._access = access
        self.open_practice = open_practice
        super().__init__()

    @property
    def get_user(self) -> Callable[[Any], str | None]:
        """Who asks, or None when they may not have it."""
        return self._user

    @property
    def login_url(self) -> str:
        """Where those go who may not have it."""
        return "/login"

    def _user(self, handler: Any) -> str | None:
        path = handler.request.path
        who = self._access.who(handler.get_cookie(COOKIE))
        if admits(who, path, self.open_practice):
            return who.name if who else "guest"
        return None


def admits(who: Who | None, path: str, open_practice: bool) -> bool:
    """Whether this person may have this live page."""
    roles = roles_for(path)
    if who is None:
        return open_practice and roles is ANYBODY
    return who.role in roles and not who.setting
