"""What every answer says: what a browser may load for it, keep of it, and do with it."""

from __future__ import annotations

from collections.abc import Iterable

PAGE_POLICY = "; ".join(
    (
        "default-src 'none'",
        # The pages' own start is written into them, and templates are compiled in the browser.
        "script-src 'self' 'unsafe-inline' 'unsafe-eval'",
        "style-src 'self' 'unsafe-inline'",
        "img-src 'self' data: blob:",
        "font-src 'self'",
        "connect-src 'self'",
        "form-action 'self'",
        "base-uri 'none'",
        "frame-ancestors 'none'",
    )
)
DATA_POLICY = "default-src 'none'; style-src 'unsafe-inline'; frame-ancestors 'none'; sandbox"
"""For what is no page but could be opened as one: a drawing, an answer of the interface."""
OTHER_POLICY = "frame-ancestors 'none'"

PERMISSIONS = b"microphone=(self), camera=(), geolocation=()"
"""Of the devices that a browser may be asked for, only the microphone, and only by our own pages:
recordings of a room are made with it."""

_ALWAYS = (
    (b"permissions-policy", PERMISSIONS),
    (b"x-content-type-options", b"nosniff"),
    (b"referrer-policy", b"no-referrer"),
    (b"cross-origin-opener-policy", b"same-origin"),
    (b"cross-origin-resource-policy", b"same-origin"),
    (b"x-frame-options", b"DENY"),
)
_OURS_ALONE = {name for name, _ in _ALWAYS} | {b"content-security-policy", b"server"}
_DATA = ("application/json", "image/svg+xml", "text/plain", "application/xml", "text/xml")


def headers(given: Iterable[tuple[bytes, bytes]], path: bytes) -> list[tuple[bytes, bytes]]:
    """What an application says of its answer, and what the guard says of every one."""
    lower = [(bytes(name).lower(), bytes(value)) for name, value in given]
    kept = [
        (name, value)
        for name, value in lower
        # The library behind the sockets would share its answers with every site that asks.
        if name not in _OURS_ALONE and not name.startswith(b"access-control-")
    ]
    kind = dict(kept).get(b"content-type", b"").decode("latin-1").partition(";")[0].strip()
    asset = path.startswith((b"/static/", b"/_nicegui/"))
    if not asset:
        kept = [(name, value) for name, value in kept if name != b"cache-control"]
        kept.append((b"cache-control", b"no-store"))
    elif b"cache-control" not in dict(kept):
        kept.append((b"cache-control", b"no-cache"))
    return [*kept, *_ALWAYS, (b"content-security-policy", _policy(kind.lower()).encode())]


def _policy(kind: str) -> str:
    if kind == "text/html":
        return PAGE_POLICY
    return DATA_POLICY if kind in _DATA else OTHER_POLICY
