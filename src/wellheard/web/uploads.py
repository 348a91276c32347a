"""Bytes that a browser sends over its page's connection, piece by piece."""

from __future__ import annotations

import base64
import binascii
from typing import Any

PIECE = 150_000
"""Characters that the browser sends at a time."""

_AS_TEXT = """let text = "";
  for (let i = 0; i < bytes.length; i += 32768)
    text += String.fromCharCode(...bytes.subarray(i, i + 32768));
  const sent = btoa(text);"""


def of_file(largest: int) -> str:
    """Script that sends the file that was chosen; of one beyond ``largest`` [byte] the size."""
    return f"""async (e) => {{
  const file = e.target.files[0];
  if (!file) return;
  e.target.value = "";
  if (file.size > {largest}) {{
    emit({{name: file.name, size: file.size, piece: "", last: true}});
    return;
  }}
  const bytes = new Uint8Array(await file.arrayBuffer());
  {_AS_TEXT}
  for (let i = 0; i === 0 || i < sent.length; i += {PIECE})
    emit({{name: file.name, size: file.size, piece: sent.slice(i, i + {PIECE}),
      first: i === 0, last: i + {PIECE} >= sent.length}});
}}"""


def of_form(largest: int) -> str:
    """Script that sends what was typed in a form's ``text``, with ``called`` and ``form``."""
    return f"""(e) => {{
  e.preventDefault();
  const f = Object.fromEntries(new FormData(e.target));
  const typed = new TextEncoder().encode(f.text);
  const bytes = typed.length <= {largest} ? typed : new Uint8Array();
  {_AS_TEXT}
  for (let i = 0; i === 0 || i < sent.length; i += {PIECE})
    emit({{called: f.called, form: f.form, size: typed.length,
      piece: sent.slice(i, i + {PIECE}), first: i === 0,
      last: i + {PIECE} >= sent.length}});
}}"""


class Refused(Exception):
    """What was sent is too large, or did not arrive whole; says so in words."""


class Pieces:
    """Gathers what a browser sends.

    Parameters
    ----------
    largest : int
        That is taken. [byte]
    """

    def __init__(self, largest: int) -> None:
        self.largest = largest
        self._pieces: list[str] = []
        self._length = 0

    def whole(self, sent: Any) -> bytes | None:
        """The bytes once all have come; None before, and where something else was sent.

        Raises
        ------
        Refused
            They are too many, or did not arrive whole.
        """
        if not isinstance(sent, dict) or not isinstance(sent.get("piece"), str):
            return None
        if sent.get("first", True):
            self._pieces, self._length = [], 0
        piece = sent["piece"][: 2 * PIECE]
        self._pieces.append(piece)
        self._length += len(piece)
        size = sent.get("size", 0)
        # A browser may say anything; what counts is what has come.
        if self._length * 3 / 4 > self.largest + 4 or (
            isinstance(size, int) and size > self.largest
        ):
            self._pieces = []
            megabytes = size / 1e6 if isinstance(size, int) else 0.0
            raise Refused(f"{megabytes:.1f} MB; at most {self.largest / 1e6:g} MB")
        if not sent.get("last", True):
            return None
        pieces, self._pieces = self._pieces, []
        try:
            return base64.b64decode("".join(pieces), validate=True)
        except (binascii.Error, ValueError):
            raise Refused("the file did not arrive whole; choose it again") from None
