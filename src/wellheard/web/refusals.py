"""How the workbench says no: in plain words to a reader, as JSON to a script."""

from __future__ import annotations

import html
import json
from dataclasses import dataclass

_PAGE = """<!doctype html>
<html lang="en"><head><meta charset="utf-8"><title>Wellheard</title>
<meta name="viewport" content="width=device-width"><link rel="icon" href="data:,">
<style>
:root {{ color-scheme: light dark; --paper: #ffffff; --ink: #16202a; --accent: #9c1a5c; }}
@media (prefers-color-scheme: dark) {{
  :root {{ --paper: #25313b; --ink: #f4f6f3; --accent: #f49ac1; }}
}}
body {{ margin: 0; background: var(--paper); color: var(--ink);
  font: 15px/1.5 Barlow, sans-serif; }}
main {{ max-width: 32rem; margin: 18vh auto 0; padding: 0 24px; }}
h1 {{ font-size: 24px; font-weight: 600; line-height: 1.25; margin: 0 0 12px; }}
a {{ color: var(--accent); }}
code {{ font-family: inherit; font-weight: 600; }}
</style></head>
<body><main><h1>{title}</h1>{body}</main></body></html>
"""

_SIGN_IN = """<p>This page belongs to whoever started Wellheard on this machine. Open the address
that <code>wellheard serve</code> printed when it started; it begins with <code>http://127.0.0.1</code>
and holds the key. The key is a new one at every start.</p>
<p>If you have opened it before in this browser, <a href="">try this page again</a>.</p>"""


@dataclass(frozen=True, slots=True)
class Refusal:
    """Why something is not done.

    Parameters
    ----------
    status : int
        Status code of HTTP.
    code : str
        Word for scripts.
    message : str
        A sentence for a person. It holds nothing that came with the request.
    headers : tuple of (bytes, bytes)
        What HTTP wants to be said besides.
    """

    status: int
    code: str
    message: str
    headers: tuple[tuple[bytes, bytes], ...] = ()

    def as_json(self) -> bytes:
        """The one shape of errors of the interface."""
        said = {"error": self.code, "message": self.message}
        return json.dumps(said, ensure_ascii=False).encode()

    def as_page(self) -> bytes:
        """A page that needs nothing else from the server: whoever sees it gets nothing else."""
        if self.status == 401:
            return _PAGE.format(title="Not signed in", body=_SIGN_IN).encode()
        words = f"<p>{html.escape(self.message)}</p>"
        return _PAGE.format(title="This cannot be shown", body=words).encode()


NOT_SIGNED_IN = Refusal(
    401,
    "not-signed-in",
    "Not signed in: open the address that wellheard serve printed when it started.",
    ((b"www-authenticate", b'Wellheard realm="the address printed at the start"'),),
)
"""One answer to a missing, a wrong and an old key, so that none tells which it was."""

TOO_MANY = Refusal(
    429,
    "too-many-tries",
    "Too many wrong addresses at once; wait a few seconds and open the printed address again.",
    ((b"retry-after", b"10"),),
)
