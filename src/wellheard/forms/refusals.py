"""What pydantic refuses, in the words of this tool: where, what was found, what is allowed."""

from __future__ import annotations

import types
from collections.abc import Iterable, Iterator, Mapping
from dataclasses import dataclass, field
from typing import Annotated, Any, Union, get_args, get_origin

from pydantic import BaseModel
from pydantic_core import ErrorDetails

from wellheard.forms.fields import shown
from wellheard.forms.source import Path


@dataclass(frozen=True, slots=True)
class Refusal:
    """One thing wrong in the data of a document, before it has a line and column.

    Parameters
    ----------
    path : tuple of str or int
        Where.
    what, allowed : str
        What was found, and what is allowed.
    key : bool
        The key is wrong, not its value.
    """

    path: Path
    what: str
    allowed: str
    key: bool = False


def near(word: str, known: Iterable[str], *, else_: str = "") -> str:
    """Question whether a known word was meant, else ``else_``.

    Examples
    --------
    >>> near("hight", ["height", "walls"], else_="height or walls")
    'did you mean height?'
    """
    if word.isdecimal():
        return else_  # one figure for another is no slip of the keyboard
    known = list(known)
    begun = [name for name in known if len(word) > 3 and name.startswith(word.lower())]
    if len(begun) == 1:
        return f"did you mean {begun[0]}?"
    best = min(known, key=lambda name: _slips(word.lower(), name), default="")
    likely = best and _slips(word.lower(), best) <= min(len(word), len(best)) // 3
    return f"did you mean {best}?" if likely else else_


def _slips(a: str, b: str) -> int:
    """Typing slips from one word to another: a letter too many, too few, wrong, or two swapped."""
    a, b = a[:40], b[:40]
    rows = [list(range(len(b) + 1))]
    for i in range(1, len(a) + 1):
        row = [i]
        for j in range(1, len(b) + 1):
            same = a[i - 1] == b[j - 1]
            fewest = min(rows[-1][j] + 1, row[-1] + 1, rows[-1][j - 1] + (not same))
            if i > 1 and j > 1 and a[i - 1] == b[j - 2] and a[i - 2] == b[j - 1]:
                fewest = min(fewest, rows[-2][j - 2] + 1)
            row.append(fewest)
        rows.append(row)
    return rows[-1][-1]


def listed(words: Iterable[str]) -> str:
    """Words as a list in a sentence.

    Examples
    --------
    >>> listed(["m", "ft"]), listed(["a", "b", "c"])
    ('m or ft', 'a, b or c')
    """
    *most, last = words
    return f"{', '.join(most)} or {last}" if most else last


@dataclass(frozen=True, slots=True)
class Form:
    """What a text is validated against.

    Parameters
    ----------
    root : type of model
        Of the whole text.
    kinds : mapping of str to type of model
        Models of its tagged union by their ``kind``; a tag is "=" and the kind.
    """

    root: type[BaseModel]
    kinds: Mapping[str, type[BaseModel]] = field(default_factory=dict)

    def refusals(self, errors: Iterable[ErrorDetails]) -> Iterator[Refusal]:
        """Refusals of a validation, one for each place and reason."""
        for error in errors:
            if error["type"] == "default_factory_not_called":
                continue  # a follow-up of an error that is in the list already
            yield _refusal(error, self)

    def fields_at(self, loc: Iterable[str | int]) -> list[str]:
        """Names, as written, of the fields that a place of the text may have."""
        names: list[str] = []
        for model in _models_at(loc, self):
            names += [f.alias or n for n, f in model.model_fields.items()]
        return list(dict.fromkeys(names))


def _refusal(error: ErrorDetails, form: Form) -> Refusal:
    # Tags of unions begin with "="; a mapping's key is marked "[key]".
    key = error["loc"][-1:] == ("[key]",)
    path: Path = tuple(s for s in error["loc"] if not str(s).startswith("=") and s != "[key]")
    kind, ctx, found = error["type"], error.get("ctx", {}), error["input"]
    if kind == "refused":
        return Refusal(path, ctx["what"], ctx["allowed"], key)
    if kind == "missing":
        return Refusal(path, "is missing", _purpose(error["loc"], form))
    if kind in ("extra_forbidden", "unknown_field"):
        known = form.fields_at(error["loc"][:-1])
        allowed = near(str(path[-1]), known, else_=f"known here: {', '.join(known)}")
        return Refusal(path, "unknown field", allowed, key=True)
    if kind == "literal_error":
        words = [word.strip("'") for word in ctx["expected"].replace(" or ", ", ").split(", ")]
        return _word(path, found, words, key=key)
    if kind in ("union_tag_invalid", "union_tag_not_found"):
        if not isinstance(found, dict):
            return Refusal(path, f"{shown(found)} is no mapping", "a mapping with a kind")
        if "kind" not in found:
            return Refusal((*path, "kind"), "is missing", listed(form.kinds))
        return _word((*path, "kind"), found["kind"], list(form.kinds))
    if kind in ("model_type", "dict_type", "model_attributes_type"):
        hint = "a mapping of fields" if kind == "model_type" else "a mapping of entries by id"
        known = form.fields_at(error["loc"])
        if kind == "model_type" and known:
            hint = f"a mapping of {', '.join(known[:6])}{' …' if len(known) > 6 else ''}"
        if found is None:
            return Refusal(path, "is empty", f"{hint}, or leave it out")
        return Refusal(path, f"{shown(found)} is no mapping", hint)
    if kind == "too_short" and not found:
        return Refusal(path, "is empty", f"at least {ctx['min_length']}")
    bounds = {
        "greater_than": ("too small", "more than", "gt"),
        "greater_than_equal": ("too small", "at least", "ge"),
        "less_than": ("too large", "less than", "lt"),
        "less_than_equal": ("too large", "at most", "le"),
    }
    if kind in bounds:
        wrong, words_, name = bounds[kind]
        return Refusal(path, f"{found:g} is {wrong}", f"{words_} {ctx[name]:g}")
    return Refusal(path, f"found {shown(found)}", error["msg"])


def _word(path: Path, found: object, words: list[str], *, key: bool = False) -> Refusal:
    allowed = listed(words)
    question = near(found, words) if isinstance(found, str) else ""
    return Refusal(
        path, f"found {shown(found)}", f"{allowed} ({question})" if question else allowed, key
    )


def _purpose(loc: tuple[str | int, ...], form: Form) -> str:
    for model in _models_at(loc[:-1], form):
        for name, info in model.model_fields.items():
            if (info.alias or name) == loc[-1] and info.description:
                text = info.description[0].lower() + info.description[1:]
                return f"required: {text}"
    return "required"


def _models_at(loc: Iterable[str | int], form: Form) -> list[type[BaseModel]]:
    candidates: list[Any] = [form.root]
    for step in loc:
        text = str(step)
        if text.startswith("="):
            if text[1:] in form.kinds:
                candidates = [form.kinds[text[1:]]]
            continue
        fields = [
            info.annotation
            for model in candidates
            for name, info in model.model_fields.items()
            if (info.alias or name) == text
        ]
        if fields:
            candidates = [model for a in fields for model in _models_in(a)]
        # Otherwise the step is the id of an entry or its place in a list.
    return candidates


def _models_in(annotation: Any) -> list[type[BaseModel]]:
    if isinstance(annotation, type) and issubclass(annotation, BaseModel):
        return [annotation]
    origin, args = get_origin(annotation), get_args(annotation)
    if origin is Annotated:
        return _models_in(args[0])
    if origin in (Union, types.UnionType):
        return [model for a in args for model in _models_in(a)]
    if origin in (dict, Mapping):
        return _models_in(args[1])
    if origin is tuple:
        return _models_in(args[0])
    return []
