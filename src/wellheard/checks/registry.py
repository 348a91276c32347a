"""The rules that exist, each under a code that never changes its meaning.

A rule is a generator function from evidence to drafts, registered by the
decorator `rule`. Its docstring is its documentation: `documentation` prints
all of them, and a test holds ``docs/rules.md`` equal to that text.
"""

from __future__ import annotations

import inspect
import re
from collections.abc import Callable, Iterable
from dataclasses import dataclass, field
from importlib import import_module

from wellheard.checks.model import Draft, Severity, Strength
from wellheard.predict.evidence import Evidence
from wellheard.room.house_limits import HOUSE_LIMITS

Check = Callable[[Evidence], Iterable[Draft]]

MODULES: tuple[str, ...] = (
    "promise.target_missed_direct_to_reverberant",
    "promise.target_missed_noise",
    "promise.target_missed_reverberation",
    "promise.target_missed_speech_to_noise",
    "promise.target_missed_sti",
    "pickup.beam_far_aside",
    "pickup.loudspeaker_nearer_than_talkers",
    "pickup.microphone_behind_talker",
    "pickup.microphone_near_air_outlet",
    "pickup.microphone_near_fan",
    "pickup.microphone_near_loudspeaker",
    "pickup.microphone_near_papers",
    "pickup.noise_at_microphone",
    "pickup.table_microphone_distance",
    "pickup.table_or_ceiling",
    "pickup.talker_beyond_rated_distance",
    "listening.loudspeaker_headroom",
    "listening.loudspeaker_late_arrival",
    "listening.loudspeaker_without_place",
    "listening.playback_level_high",
    "listening.space_without_loudspeaker",
    "listening.speech_over_noise_inbound",
    "listening.target_missed_listening_level",
    "listening.target_missed_sti_inbound",
    "listening.target_missed_uniformity",
    "listening.voice_not_from_picture",
    "signal.canceller_missing",
    "signal.canceller_of_computer",
    "signal.canceller_twice",
    "signal.gain_changes_before_canceller",
    "signal.link_ports_mismatch",
    "signal.loudspeaker_without_amplifier",
    "signal.mixer_before_canceller",
    "signal.mute_before_canceller",
    "signal.port_unknown",
    "signal.reference_holds_microphone",
    "signal.reference_lacks_far_end",
    "signal.reference_lacks_programme",
    "signal.volume_after_reference",
    "lift.lift_delay",
    "lift.lift_hears_itself",
    "lift.lift_host_processing",
    "lift.lift_howls",
    "lift.lift_not_enough",
    "lift.lift_too_loud",
    "echo.converter_clips",
    "echo.echo_loss_missed",
    "echo.in_room_delay",
    "echo.lip_sync",
    "echo.loudspeaker_over_talker",
    "echo.noise_of_electronics",
    "echo.one_way_delay",
    "echo.preamplifier_clips",
    "echo.tail_too_short",
    "placement.cable_too_long",
    "placement.device_overlaps",
    "placement.head_height_under_pendant",
    "placement.loudspeaker_in_keep_out",
    "placement.microphone_in_keep_out",
    "placement.microphone_near_wall",
    "placement.pendant_in_camera_view",
    "placement.pendant_in_projector_beam",
    "placement.ports_exceeded",
    "placement.sight_line_crossed",
    "placement.space_without_microphone",
    "cables.amplifier_load_too_low",
    "cables.bundle_heating",
    "cables.cable_too_thin",
    "cables.circuit_overloaded",
    "cables.cord_too_short",
    "cables.jacket_too_low",
    "cables.line_overloaded",
    "cables.network_ports_exceeded",
    "cables.poe_budget_exceeded",
    "cables.poe_class_exceeded",
    "cables.rack_full",
    "cables.rack_heat",
    "cables.switch_unmanaged",
    "ceiling.grid_mixed",
    "ceiling.safety_bond",
    "ceiling.tile_load",
    "ceiling.void_air_return",
    "layout.chair_clearance",
    "layout.chair_in_wall",
    "layout.floor_per_person",
    "layout.furniture_overlaps",
    "layout.picture_distance",
    "layout.seat_in_furniture",
    "layout.seat_pitch",
    "layout.seat_unreachable",
    "layout.seats_overlap",
    "room.below_schroeder",
    "room.furniture_across_partition",
    "room.parallel_hard_walls",
    "room.decay_not_reproduced",
    "room.uneven_absorption",
    "privacy.privacy_margin",
    "people.assistive_listening",
    "products.price_old",
    "products.product_discontinued",
    "document.arrangements_not_assessed",
    "document.assumed_inputs",
    "document.house_rule_relaxed",
    "document.not_used_yet",
    "document.region_unknown",
)
"""Every rule module, by topic. Listed by hand, so that importing this module costs nothing."""

RETIRED: frozenset[str] = frozenset()
"""Codes of former rules. A code is never given to another rule."""

TOPICS: dict[str, str] = {
    "promise": "The promise",
    "pickup": "What a microphone picks up",
    "listening": "What the room hears of the far end",
    "signal": "Where the signal goes, and in which order",
    "echo": "What goes back to the far end, how loud and how late",
    "lift": "Local voices through the loudspeakers",
    "placement": "Where a device may be",
    "cables": "Cables, power over them, and the rack",
    "ceiling": "What the ceiling carries, and the void above it",
    "layout": "People, chairs and furniture",
    "room": "The room itself",
    "privacy": "What the neighbours hear",
    "people": "What people are owed",
    "products": "Prices, and what can be had",
    "document": "What the document says or leaves open",
}


@dataclass(frozen=True)
class Rule:
    """A registered rule.

    ``thresholds`` are the keys of ``HOUSE_LIMITS`` that the rule compares with; the
    one named like the rule is what a document's ``limit`` replaces. ``relaxable``
    is true for house rules that a document may relax with a reason.
    """

    code: str
    severity: Severity
    strength: Strength
    source: str
    thresholds: tuple[str, ...]
    relaxable: bool
    topic: str
    documentation: str
    check: Check = field(repr=False, compare=False)


_RULES: dict[str, Rule] = {}


def rule(
    code: str,
    severity: Severity,
    *,
    strength: Strength,
    cites: str,
    thresholds: tuple[str, ...] = (),
    relaxable: bool = True,
) -> Callable[[Check], Check]:
    """Register the decorated generator function as the rule ``code``.

    Parameters
    ----------
    code : str
        Lower-case words joined by hyphens; unique and never reused.
    severity : {'error', 'warning', 'note'}
        What its findings are unless a draft says otherwise.
    strength : {'law', 'product', 'house'}
        Who stands behind the limit. Only house rules can be relaxed.
    cites : str
        Where the rule comes from, in the reader's words; empty takes the source of
        its first threshold.
    thresholds : tuple of str, optional
        Keys of ``HOUSE_LIMITS``.
    relaxable : bool, optional
        False for a house rule that makes no sense relaxed, such as the promise itself.

    Raises
    ------
    ValueError
        If the code is malformed, taken or retired, if a threshold does not exist,
        if nothing says where the rule comes from, or if the function has no docstring.
    """
    if not re.fullmatch(r"[a-z][a-z0-9]*(-[a-z0-9]+)*", code):
        raise ValueError(f"rule code {code!r}: lower-case words joined by hyphens are allowed")
    if code in RETIRED:
        raise ValueError(f"rule code {code!r} is retired; choose another")
    for threshold in thresholds:
        if threshold not in HOUSE_LIMITS:
            raise ValueError(f"rule {code!r}: threshold {threshold!r} is not in HOUSE_LIMITS")
    source = cites or (HOUSE_LIMITS[thresholds[0]].source if thresholds else "")
    if not source:
        raise ValueError(f"rule {code!r} does not say where it comes from")

    def register(check: Check) -> Check:
        if code in _RULES:
            raise ValueError(f"rule code {code!r} is taken by {_RULES[code].check.__module__}")
        documentation = inspect.getdoc(check)
        if not documentation:
            raise ValueError(f"rule {code!r} has no docstring, which is its documentation")
        _RULES[code] = Rule(
            code=code,
            severity=severity,
            strength=strength,
            source=source,
            thresholds=thresholds,
            relaxable=relaxable and strength == "house",
            topic=check.__module__.split(".")[-2],
            documentation=documentation,
            check=check,
        )
        return check

    return register


def rules() -> dict[str, Rule]:
    """Every rule by its code, in alphabetical order.

    Examples
    --------
    >>> rules()["target-missed-sti"].strength
    'house'
    """
    for module in MODULES:
        import_module(f"wellheard.checks.{module}")
    return {code: _RULES[code] for code in sorted(_RULES)}


def documentation() -> str:
    """Every rule by topic, as the reader's reference in Markdown.

    Returns
    -------
    str
        The text of ``docs/rules.md``.
    """
    known = rules()
    lines = [
        "# Rules",
        "",
        "Every rule that `wellheard check` applies, with its code. A code keeps its meaning for",
        "ever. This page is generated from the rules themselves.",
        "",
        "A *house* rule may be relaxed, or given another limit, under",
        "`targets.house_rules.<code>` with a reason. What *law* or a *product* stands behind",
        "cannot be relaxed. Common practice without a source is marked [C], a figure",
        "looked up [L], one from memory [M].",
        "",
    ]
    for topic, title in TOPICS.items():
        lines += [f"## {title}", ""]
        for code, one in known.items():
            if one.topic == topic:
                lines += [f"### `{code}`", "", _terms(one), "", one.documentation, ""]
                lines += _limit_table(one)
    return "\n".join(lines).rstrip() + "\n"


def _terms(one: Rule) -> str:
    relaxing = "may be relaxed" if one.relaxable else "cannot be relaxed"
    return f"*{one.severity}, {one.strength}, {relaxing}.* Source: {one.source}."


def _limit_table(one: Rule) -> list[str]:
    if not one.thresholds:
        return []
    rows = ["| limit | | means | source |", "|---|---|---|---|"]
    for key in one.thresholds:
        limit = HOUSE_LIMITS[key]
        figure = f"{limit.sense} {limit.limit:g} {limit.unit}".rstrip()
        rows.append(f"| `{key}` | {figure} | {limit.means} | {limit.source} |")
    return [*rows, ""]
