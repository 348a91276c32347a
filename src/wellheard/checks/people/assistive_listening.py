"""People who hear by hearing aid or receiver."""

from __future__ import annotations

import re
from collections.abc import Iterator

from wellheard.checks.model import Draft
from wellheard.checks.receivers import Asked, asked, asked_in
from wellheard.checks.registry import rule
from wellheard.checks.wording import listed
from wellheard.forms.fields import ID_PATTERN
from wellheard.predict import privacy
from wellheard.predict.evidence import Evidence
from wellheard.room.assistive import AssistiveListening

AT = "people.assistive_listening"
PORT = re.compile(rf"({ID_PATTERN})\.({ID_PATTERN})")
LAW = "The law of the place decides"


@rule(
    "assistive-listening",
    "warning",
    strength="law",
    cites="accessibility law of the place; for the US 2010 ADA Standards, 219 and Table 219.3 [L]",
)
def assistive_listening(evidence: Evidence) -> Iterator[Draft]:
    """People with hearing loss hear what the loudspeakers play, and there are receivers enough.

    Where a loudspeaker plays in the room, or the document names an assistive listening system
    under `people.assistive_listening`, that system is there, its sound comes from somewhere
    (`feed`; a device.port must exist), and it has the receivers that the law asks for the
    number of seats, some of them hearing-aid compatible; where a loop serves all seats those
    few are not asked. Figures for the United States are built in; for any other place the
    document brings its own as `targets.assistive_receivers`. Where neither is known the
    American figures are printed as advice, and nothing is assessed. Which rooms a law covers,
    and what else it asks (signs, field strength), is for the law of the place.
    """
    system = evidence.room.people.assistive_listening
    plays = privacy.plays(evidence)
    if system is None and not plays:
        return
    wanted = asked(evidence.room)
    if system is None:
        yield _missing(evidence, wanted)
        return
    yield from _feed(evidence, system)
    if wanted is None:
        yield _unknown(evidence, f"Whether the receivers of the {system.system} system are enough")
    else:
        yield from _receivers(evidence, system, wanted)


def _missing(evidence: Evidence, wanted: Asked | None) -> Draft:
    if wanted is None:
        return _unknown(evidence, "Whether an assistive listening system is asked here")
    return Draft(
        at=AT,
        message=(
            f"Loudspeakers play to {_seats(evidence)} and no assistive listening system is in the "
            f"document; {_figures(wanted)} are asked where the room is a place of assembly."
        ),
        value=0.0,
        limit=float(wanted.receivers),
        remedy=f"Add {AT} with system, feed and receivers. {LAW}.",
        source=wanted.source,
    )


def _feed(evidence: Evidence, system: AssistiveListening) -> Iterator[Draft]:
    if system.feed is None or not system.feed.strip():
        yield Draft(
            at=AT,
            message=f"The {system.system} system has no feed: its sound comes from nowhere.",
            remedy=(
                f"Feed it what the loudspeakers play, local microphones included, and enter {AT}."
                "feed."
            ),
        )
        return
    port = PORT.fullmatch(system.feed.strip())
    if port is None:
        return
    name, end = port.groups()
    device = evidence.room.devices.get(name)
    if device is None:
        yield Draft(
            at=f"{AT}.feed",
            message=f"The {system.system} system is fed from {system.feed}: no such device.",
            remedy=f"Name one of {listed(list(evidence.room.devices)) or 'the devices'}.",
        )
        return
    ports = evidence.catalogue.product(device.product).ports
    leaving = [one for port in ports if port.flow != "in" for one in port.names]
    if end not in leaving:
        yield Draft(
            at=f"{AT}.feed",
            message=(
                f"The {system.system} system is fed from {system.feed}; {device.product} has no "
                f"such output."
            ),
            remedy=(
                f"Use one of {listed(leaving)}."
                if leaving
                else "Use another device: this one has no output."
            ),
        )


def _receivers(evidence: Evidence, system: AssistiveListening, wanted: Asked) -> Iterator[Draft]:
    compatible = 0 if system.system == "loop" else wanted.compatible
    for given, needed, field, what in (
        (system.receivers, wanted.receivers, "receivers", "receivers"),
        (
            system.hearing_aid_compatible,
            compatible,
            "hearing_aid_compatible",
            "hearing-aid compatible receivers",
        ),
    ):
        if given is None and needed:
            yield Draft(
                at=f"{AT}.{field}",
                message=(
                    f"How many {what} there are is unknown; {needed} are asked for "
                    f"{_seats(evidence)}."
                ),
                limit=float(needed),
                remedy=f"Enter {AT}.{field}. {LAW}.",
                severity="note",
                status="not-assessed",
                source=wanted.source,
            )
        elif given is not None and given < needed:
            yield Draft(
                at=f"{AT}.{field}",
                message=f"{what.capitalize()} for {_seats(evidence)}: {given}; {needed} are asked.",
                value=float(given),
                limit=float(needed),
                remedy=f"Add {needed - given}. {LAW}.",
                source=wanted.source,
            )


def _unknown(evidence: Evidence, what: str) -> Draft:
    region = evidence.room.site.region.strip()
    is_stated = region.lower() not in ("", "unknown")
    why = (
        f"the figures of {region} for {_seats(evidence)} are not known here"
        if is_stated
        else "site.region is unknown"
    )
    enter = "its figures" if is_stated else "site.region, or its figures"
    advice = asked_in("US", len(evidence.room.people.seats))
    as_advice = f" As advice: {_figures(advice)} in the United States." if advice else ""
    return Draft(
        at=AT,
        message=f"{what} is not assessed: {why}.{as_advice}",
        remedy=(
            f"Ask for the accessibility law of the place and enter {enter} as "
            "targets.assistive_receivers."
        ),
        severity="note",
        status="not-assessed",
    )


def _figures(wanted: Asked) -> str:
    return f"{wanted.receivers} receivers, {wanted.compatible} of them hearing-aid compatible,"


def _seats(evidence: Evidence) -> str:
    count = len(evidence.room.people.seats)
    return f"{count} seat{'' if count == 1 else 's'}"
