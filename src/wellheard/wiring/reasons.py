"""What keeps a port without a cable, in words, and what would have to give."""

from __future__ import annotations

from wellheard.wiring.answer import Answer
from wellheard.wiring.asking import Stage
from wellheard.wiring.task import (
    LineNeed,
    MicrophoneNeed,
    NetworkNeed,
    PassiveNeed,
    StraightNeed,
    Task,
)
from wellheard.wiring.wired import Unwired

Need = MicrophoneNeed | PassiveNeed | LineNeed | NetworkNeed | StraightNeed


def unwired(task: Task, answer: Answer) -> tuple[Unwired, ...]:
    """Each need that the answer leaves, in the document's order."""
    missed = set(answer.missed)
    needs: tuple[Need, ...] = (
        *task.microphones,
        *task.passive,
        *task.line,
        *task.network,
        *task.straight,
    )
    found: list[Unwired] = []
    for need in needs:
        heard = isinstance(need, NetworkNeed) and need.of == "microphone"
        name = need.port if isinstance(need, StraightNeed) else need.id
        if name in missed and not heard:
            found.append(_reason(task, answer, need))
    return tuple(found)


def joining_nothing(stage: Stage) -> dict[str, Unwired]:
    """Links that wiring has to leave as they are, and that make no connection."""
    return {
        name: Unwired(
            link.from_,
            f"{'Locked link' if link.locked else 'Link'} {name} leads it to {link.to}: "
            f"{wrong.says}.",
            f"Unlock it, so that it may be wired anew, or mend it: {_lower(wrong.gives)}"
            if link.locked
            else wrong.gives,
        )
        for name, link, wrong in stage.kept.misfits(stage.catalogue.cables)
    }


def _reason(task: Task, answer: Answer, need: Need) -> Unwired:
    if isinstance(need, MicrophoneNeed):
        switch = next((one for one in task.network if one.id == need.id), None)
        if switch is not None and not switch.ways:
            return Unwired(need.port, _sentence(switch.why_not), _nearer("a switch"))
    if need.why_not:
        return Unwired(need.port, _sentence(need.why_not), _gives(need))
    if not isinstance(need, StraightNeed) and not answer.root and _wants_root(need):
        return Unwired(need.port, _no_root(task), _ROOT_GIVES)
    return Unwired(need.port, *_full(task, answer, need))


def _wants_root(need: Need) -> bool:
    return not isinstance(need, NetworkNeed) or need.of == "loudspeaker"


_ROOT_GIVES = (
    "Allow a processor with an echo canceller and a USB port, place computer and processor within "
    "reach of each other, or allow an extender for USB."
)


def _no_root(task: Task) -> str:
    if not task.hubs:
        return (
            "No processor with an echo canceller is there, and none may be bought where it could "
            "stand."
        )
    if all(one.computer is None for one in task.hubs):
        return (
            "None of the processors that are there or may be bought reaches a computer or a codec "
            "by USB."
        )
    return "No processor that reaches a computer has what this asks for."


def _full(task: Task, answer: Answer, need: Need) -> tuple[str, str]:
    """Everything that could serve it serves something else."""
    match need:
        case MicrophoneNeed():
            ports = sum(hub.microphones * answer.number("hub", hub.site.key) for hub in task.hubs)
            return (
                f"No port is left: the processors that can be joined have {ports} for microphones, "
                "and none of those that may be bought can hang on them as a branch.",
                "Allow a processor with more microphone ports, or with line inputs and outputs "
                "through which another can hang on it.",
            )
        case PassiveNeed():
            return (
                "No channel is left of the amplifiers that are there, and none that may be bought "
                "can be fed.",
                "Allow an amplifier with more channels or more power, or a processor with more "
                "line outputs.",
            )
        case LineNeed():
            return (
                "No line output is left to feed it.",
                "Allow a processor with more line outputs.",
            )
        case NetworkNeed():
            what = (
                f"class {need.power_class} and {need.need_mw / 1000:.3g} W"
                if need.power_class
                else "a free port"
            )
            return (
                f"No switch that is there or may be bought has {what} left for it where it could "
                "stand, or nothing plays to it over the network.",
                "Allow a switch with more power, or a processor with networked audio.",
            )
        case StraightNeed():
            return (
                "Every output for it is taken.",
                "Add another computer or codec, or what splits the picture.",
            )


def _gives(need: Need) -> str:
    match need:
        case MicrophoneNeed():
            return _nearer("a processor that takes its link")
        case PassiveNeed():
            return _nearer("an amplifier that feeds it")
        case LineNeed():
            return _nearer("the processor")
        case NetworkNeed():
            return _nearer("a switch")
        case StraightNeed():
            return _nearer("the computer or codec")


def _nearer(what: str) -> str:
    return (
        f"Allow {what} nearer to it: a rack or a table box under equipment, the product under "
        "choices.allow, or an extender that carries it so far."
    )


def _lower(text: str) -> str:
    return f"{text[:1].lower()}{text[1:]}"


def _sentence(text: str) -> str:
    return f"{text[:1].upper()}{text[1:]}."
