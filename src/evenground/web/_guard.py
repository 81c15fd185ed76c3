"""What stands between the network and the application: host, session key, origin, size, headers."""

from __future__ import annotations

import hmac
from collections.abc import Awaitable, Callable, MutableMapping
from http.cookies import CookieError, SimpleCookie
from typing import Any
from urllib.parse import parse_qs

__all__ = ["MAX_UPLOAD_BYTES", "Guard"]

MAX_UPLOAD_BYTES = 5_000_000
"""Largest body of a request; a field book as text is far smaller."""

Scope = MutableMapping[str, Any]
Message = MutableMapping[str, Any]
Receive = Callable[[], Awaitable[Message]]
Send = Callable[[Message], Awaitable[None]]
App = Callable[[Scope, Receive, Send], Awaitable[None]]

_CLOSED = (
    "This page belongs to another session. Start it with: evenground open FILE, and use the address "
    "that the command prints."
)


class TooMuchError(Exception):
    """A request body went beyond the limit."""


class Guard:
    """ASGI middleware that lets only this session's own page in.

    A request must name this machine as its host, hold the session's key (once in the address, then
    in a cookie), and, when a page sends it, come from this very origin. So no other program's page
    and no other machine can read or steer the application.
    """

    def __init__(self, app: App, *, port: int, key: str) -> None:
        self.app = app
        self.key = key
        self.cookie = f"evenground-{port}"
        self.hosts = {f"127.0.0.1:{port}", f"localhost:{port}"}
        self.origins = {f"http://{host}" for host in self.hosts}
        sockets = " ".join(f"ws://{host}" for host in sorted(self.hosts))
        self.policy = "; ".join(
            (
                "default-src 'self'",
                "script-src 'self' 'unsafe-inline' 'unsafe-eval'",
                "style-src 'self' 'unsafe-inline'",
                "img-src 'self' data: blob:",
                "font-src 'self' data:",
                "worker-src 'self' blob:",
                f"connect-src 'self' {sockets}",
                "object-src 'none'",
                "base-uri 'self'",
                "form-action 'self'",
                "frame-ancestors 'none'",
            )
        )

    async def __call__(self, scope: Scope, receive: Receive, send: Send) -> None:
        """Let a request through, send it on with a cookie, or refuse it."""
        if scope["type"] not in ("http", "websocket"):
            await self.app(scope, receive, send)
            return
        headers = {k.decode("latin-1").lower(): v.decode("latin-1") for k, v in scope["headers"]}
        if headers.get("host", "") not in self.hosts:
            await self._refuse(scope, send, 403, "This application answers on this machine only.")
        elif self._foreign(scope, headers):
            await self._refuse(scope, send, 403, "The request comes from another page.")
        elif self._key_in_address(scope):
            await self._welcome(scope, send)
        elif not self._known(headers):
            await self._refuse(scope, send, 403, _CLOSED)
        elif self._too_large(headers):
            await self._refuse(scope, send, 413, "The upload is too large.")
        else:
            await self._pass(scope, receive, send)

    def _foreign(self, scope: Scope, headers: dict[str, str]) -> bool:
        origin = headers.get("origin")
        must = scope["type"] == "websocket" or scope.get("method") not in ("GET", "HEAD")
        return (must or origin is not None) and origin not in self.origins

    def _key_in_address(self, scope: Scope) -> bool:
        if scope["type"] != "http" or scope.get("method") != "GET" or scope["path"] != "/":
            return False
        given = parse_qs(scope.get("query_string", b"").decode("latin-1")).get("key", [""])[0]
        return hmac.compare_digest(given.encode(), self.key.encode())

    def _known(self, headers: dict[str, str]) -> bool:
        try:
            cookies = SimpleCookie(headers.get("cookie", ""))
        except CookieError:
            return False
        held = cookies.get(self.cookie)
        return held is not None and hmac.compare_digest(held.value.encode(), self.key.encode())

    def _too_large(self, headers: dict[str, str]) -> bool:
        length = headers.get("content-length", "0")
        return not length.isdigit() or int(length) > MAX_UPLOAD_BYTES

    async def _welcome(self, scope: Scope, send: Send) -> None:
        """The key leaves the address bar: into a cookie, then on to the page."""
        cookie = f"{self.cookie}={self.key}; Path=/; HttpOnly; SameSite=Lax"
        headers = [(b"location", b"/"), (b"set-cookie", cookie.encode()), (b"cache-control", b"no-store")]
        await send({"type": "http.response.start", "status": 303, "headers": headers})
        await send({"type": "http.response.body", "body": b""})

    async def _refuse(self, scope: Scope, send: Send, status: int, words: str) -> None:
        if scope["type"] == "websocket":
            await send({"type": "websocket.close", "code": 4403})
            return
        headers = [(b"content-type", b"text/plain; charset=utf-8"), (b"cache-control", b"no-store")]
        await send({"type": "http.response.start", "status": status, "headers": headers})
        await send({"type": "http.response.body", "body": words.encode()})

    async def _pass(self, scope: Scope, receive: Receive, send: Send) -> None:
        taken = 0

        async def counted() -> Message:
            nonlocal taken
            message = await receive()
            if message["type"] == "http.request":
                taken += len(message.get("body", b""))
                if taken > MAX_UPLOAD_BYTES:
                    raise TooMuchError
            return message

        async def guarded(message: Message) -> None:
            if message["type"] == "http.response.start":
                message["headers"] = [
                    *message.get("headers", []),
                    (b"content-security-policy", self.policy.encode()),
                    (b"x-content-type-options", b"nosniff"),
                    (b"referrer-policy", b"no-referrer"),
                    (b"x-frame-options", b"DENY"),
                    (b"cross-origin-opener-policy", b"same-origin"),
                    (b"cross-origin-resource-policy", b"same-origin"),
                ]
            await send(message)

        try:
            await self.app(scope, counted if scope["type"] == "http" else receive, guarded)
        except TooMuchError:
            await self._refuse(scope, send, 413, "The upload is too large.")
