"""Mutations of documents and tables: of their data, their text and their bytes; as strategies.

Every mutation is a plain value, so that a failing one shrinks to the few that matter.
"""

from __future__ import annotations

import json
import os
import signal
from collections.abc import Callable, Iterator, Sequence
from contextlib import contextmanager
from copy import deepcopy
from pathlib import Path
from typing import Any, TypeAlias

import yaml
from hypothesis import HealthCheck, Phase, settings
from hypothesis import strategies as st

ROOT = Path(__file__).parents[2]
EXAMPLES = sorted(ROOT.glob("examples/*/*.room.yaml"))
PRODUCTS = sorted((ROOT / "tests" / "cases" / "products" / "good").iterdir())

Where: TypeAlias = float
"""A place in a text or tree, as a part of the whole."""
Change: TypeAlias = tuple[Any, ...]

VALUES: st.SearchStrategy[Any] = (
    st.sampled_from(
        [
            *(
                None,
                True,
                False,
                0,
                -0.0,
                1,
                -1,
                7,
                1e-9,
                5e-324,
                1e9,
                1.7e308,
                -1e308,
                10**31,
                2**63,
            ),
            *("", " ", "0", "-1", "1e999", ".nan", ".inf", "yes", "null", "~", "=1+1", "#image(1)"),
            *(
                "14 ft 6 in",
                "17'-4\"",
                "4,2 m",
                "9 km",
                "½ in",
                "2026-02-30",
                "../x",
                "con",
                "A" * 41,
            ),
            *(
                "\u202emoor",
                "zero\u200bwidth",
                "\ufeff",
                "☕" * 30,
                "x" * 2001,
                "a\nb",
                "\x07",
                "ｍ",
            ),
            *(
                [],
                {},
                [[]],
                [None],
                [0, 0],
                [0, 0, 0],
                [[0, 0], [1, 0], [1, 1]],
                {"": 1},
                {"nc": 30},
            ),
            *(
                {"x-a": {"b": [1]}},
                {"kind": "tiles"},
                {"125": 1},
                [1] * 600,
                {str(i): i for i in range(9)},
            ),
        ]
    )
    | st.floats()
    | st.integers()
    | st.text(max_size=12)
)
FRACTIONS = st.floats(0, 1, exclude_max=True)
TREE_CHANGES: st.SearchStrategy[Change] = st.one_of(
    st.tuples(st.just("set"), FRACTIONS, VALUES),
    st.tuples(st.just("delete"), FRACTIONS),
    st.tuples(
        st.just("rename"), FRACTIONS, st.text(max_size=8) | st.sampled_from(["at", "height"])
    ),
    st.tuples(st.just("copy"), FRACTIONS, FRACTIONS),
    st.tuples(st.just("scale"), FRACTIONS, st.sampled_from([-1, 0, 0.001, 0.5, 2, 1000, 1e300])),
    st.tuples(st.just("repeat"), FRACTIONS, st.integers(2, 30)),
    st.tuples(st.just("cut"), FRACTIONS),
)
PIECES = st.sampled_from(
    [
        *(
            "[",
            "]",
            "{",
            "}",
            ":",
            ": ",
            "- ",
            "? ",
            "\n",
            "\r",
            "\t",
            "'",
            '"',
            "#",
            "|\n",
            ">-\n",
        ),
        *("&a ", "*a", "<<: ", "!!set ", "!x ", "---\n", "...\n", "%YAML 1.2\n", "\ufeff", "\0"),
        *("\x85", "\u2028", "\u202e", "\u00a0", "é", "☕", "\ud83d", "\x1b[2J", "1e999", "null"),
        *(" " * 30, "[" * 30, "x" * 300, "9" * 40),
    ]
) | st.text(max_size=6)
TEXT_CHANGES: st.SearchStrategy[Change] = st.one_of(
    st.tuples(st.just("insert"), FRACTIONS, PIECES),
    st.tuples(st.just("drop"), FRACTIONS, st.integers(1, 60)),
    st.tuples(st.just("end"), FRACTIONS),
    st.tuples(st.just("double line"), FRACTIONS),
    st.tuples(st.just("swap lines"), FRACTIONS, FRACTIONS),
    st.tuples(st.just("indent"), FRACTIONS, st.integers(1, 4)),
    st.tuples(st.just("digit"), FRACTIONS, st.sampled_from(["0", "9", "-", ".", "e", "x", "٣"])),
    st.tuples(st.just("line ends"), st.sampled_from(["\r\n", "\r", "\x85"])),
    st.tuples(st.just("encode"), st.sampled_from(["utf-16", "utf-8-sig", "utf-32-be"])),
    st.tuples(st.just("byte"), FRACTIONS, st.integers(0, 255)),
)


def changed_tree(data: Any, changes: Sequence[Change]) -> Any:
    """Plain data after changes."""
    data = json.loads(json.dumps(data))
    for change in changes:
        _change(data, *change)
    return data


def _change(data: Any, kind: str, at: Where, *more: Any) -> None:
    places = list(_places(data))
    if not places:
        return
    holder, key = places[int(at * len(places))]
    value = holder[key]
    if kind == "set":
        # A list of the strategy's own, changed later, would grow from try to try or hold itself.
        holder[key] = deepcopy(more[0])
    elif kind == "delete":
        del holder[key]
    elif kind == "rename" and isinstance(holder, dict):
        holder[more[0]] = holder.pop(key)
    elif kind == "copy":
        other, its = places[int(more[0] * len(places))]
        other[its] = json.loads(json.dumps(value))
    elif kind == "scale" and isinstance(value, int | float):
        holder[key] = value * more[0]
    elif kind == "repeat" and isinstance(holder, list):
        holder[key:key] = [json.loads(json.dumps(value)) for _ in range(more[0])]
    elif kind == "repeat":
        holder.update({f"{key}-{i}": json.loads(json.dumps(value)) for i in range(more[0])})
    elif kind == "cut" and isinstance(value, list | str):
        holder[key] = value[: len(value) // 2]


def _places(data: Any) -> list[tuple[Any, Any]]:
    found: list[tuple[Any, Any]] = []
    pending = [data]
    while pending:
        holder = pending.pop()
        steps = list(holder) if isinstance(holder, dict) else range(len(holder))
        found += [(holder, step) for step in steps]
        pending += [holder[s] for s in steps if isinstance(holder[s], dict | list)]
    return found


def changed_text(text: str, changes: Sequence[Change]) -> bytes:
    """Bytes of a text after changes; those of bytes come last."""
    coding, flips = "utf-8", []
    for kind, *more in changes:
        if kind == "encode":
            coding = more[0]
        elif kind == "byte":
            flips.append(more)
        elif kind == "line ends":
            text = text.replace("\n", more[0])
        elif "line" in kind or kind == "indent":
            text = _lines(text, kind, *more)
        else:
            text = _characters(text, kind, *more)
    raw = bytearray(text.encode(coding, "surrogatepass"))
    for at, value in flips:
        if raw:
            raw[int(at * len(raw))] = value
    return bytes(raw)


def _lines(text: str, kind: str, at: Where, *more: Any) -> str:
    lines = text.split("\n")
    here = int(at * len(lines))
    if kind == "double line":
        lines.insert(here, lines[here])
    elif kind == "swap lines":
        other = int(more[0] * len(lines))
        lines[here], lines[other] = lines[other], lines[here]
    else:
        lines[here] = " " * more[0] + lines[here]
    return "\n".join(lines)


def _characters(text: str, kind: str, at: Where, *more: Any) -> str:
    here = int(at * len(text))
    if kind == "insert":
        return text[:here] + more[0] + text[here:]
    if kind == "drop":
        return text[:here] + text[here + more[0] :]
    if kind == "digit":
        digits = [i for i, c in enumerate(text) if c.isdigit()]
        if not digits:
            return text
        spot = digits[int(at * len(digits))]
        return text[:spot] + more[0] + text[spot + 1 :]
    return text[:here]


def _dumped(data: Any, style: str) -> str:
    if style == "json":
        return json.dumps(data, indent=1)
    dumper = getattr(yaml, "CSafeDumper", yaml.SafeDumper)
    return yaml.dump(data, Dumper=dumper, allow_unicode=True, default_flow_style=style == "flow")


def mutants(texts: Sequence[str], read: Callable[[str], Any]) -> st.SearchStrategy[bytes]:
    """Texts that were well once: changed as data, as text, or two of them mixed.

    Parameters
    ----------
    texts : sequence of str
        What is well.
    read : callable
        Gives the plain data of such a text.
    """
    one = st.sampled_from(texts)
    as_text = st.tuples(one, st.lists(TEXT_CHANGES, min_size=1, max_size=3)).map(
        lambda t: changed_text(*t)
    )
    data = one.map(read)
    mixed = st.tuples(data, data).flatmap(
        lambda pair: st.lists(st.sampled_from(sorted(pair[1])), max_size=3, unique=True).map(
            lambda keys: {**pair[0], **{key: pair[1][key] for key in keys}}
        )
    )
    as_data = st.tuples(
        data | mixed,
        st.lists(TREE_CHANGES, min_size=1, max_size=3),
        st.sampled_from(["block", "flow", "json"]),
        st.lists(TEXT_CHANGES, max_size=1),
    ).map(lambda t: changed_text(_dumped(changed_tree(t[0], t[1]), t[2]), t[3]))
    joined = st.tuples(one, one, FRACTIONS).map(
        lambda t: (t[0][: int(t[2] * len(t[0]))] + t[1][int(t[2] * len(t[1])) :]).encode()
    )
    return as_text | as_data | as_data | joined


COUNT = int(os.environ.get("WELLHEARD_MUTATIONS", "150"))
"""How many are tried of documents; of other texts some part of it."""
LONGEST = 30.0
"""More processor time than any text of these sizes may need, on the slowest machine. [s]"""


# To shrink what was found takes longer than to find it: asked for when something is to be mended.
PHASES = [phase for phase in Phase if phase != Phase.shrink or "WELLHEARD_SHRINK" in os.environ]


def tried(part: float = 1.0) -> settings:
    """Settings of a test that takes that part of the mutations: the same ones unless asked for."""
    many = "WELLHEARD_MUTATIONS" in os.environ
    return settings(
        max_examples=max(1, round(COUNT * part)),
        deadline=None,
        database=None,
        derandomize=not many,
        print_blob=True,
        phases=PHASES,
        suppress_health_check=list(HealthCheck),
    )


class Endless(BaseException):
    """A text took longer than any may; not to be caught as an error of what is tested."""


@contextmanager
def bounded() -> Iterator[None]:
    """Stop what does not come to an end."""
    if not hasattr(signal, "setitimer"):
        yield
        return

    def stop(*_: object) -> None:
        raise Endless(f"more than {LONGEST:g} s of processor time")

    before = signal.signal(signal.SIGVTALRM, stop)
    signal.setitimer(signal.ITIMER_VIRTUAL, LONGEST)
    try:
        yield
    finally:
        signal.setitimer(signal.ITIMER_VIRTUAL, 0)
        signal.signal(signal.SIGVTALRM, before)
