"""What the rules found, the worst first, each with its remedy and its source."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass

from wellheard.checks.model import ORDER, Finding
from wellheard.checks.registry import rules
from wellheard.dossier.model import Block, Entries, Entry, Line, Paragraph, Run, Section
from wellheard.dossier.words import counted, fixed_spaces, full_stop, listed, sentence
from wellheard.predict.evidence import State
from wellheard.room.divide import spoken

TRIED = (
    "A change that is computed was made in the document, predicted and checked before it is told "
    "here; it brings no error that was not there. Figures go from what is to what would be."
)
STRENGTH = {
    "law": "law or standard",
    "product": "stated for the product",
    "house": "house rule",
}


@dataclass(frozen=True)
class Computed:
    """A change that was tried for a finding and mends or eases it.

    Parameters
    ----------
    says : str
        The change, in the imperative.
    figure : str
        What becomes of the finding alone.
    achieves : str
        The same and all else that it does: what it mends besides, costs, and makes worse.
    note : str
        What to know besides.
    told_at : str
        Place of an earlier finding that the same change is told of; empty where it is the first.
    further : int
        How many other changes do.
    """

    says: str
    figure: str
    achieves: str
    note: str = ""
    told_at: str = ""
    further: int = 0


def findings_section(
    findings: Sequence[Finding], computed: Mapping[Finding, Computed] | None = None
) -> Section:
    """Return all findings, errors before warnings before notes.

    Parameters
    ----------
    findings : sequence of Finding
        What the rules found.
    computed : mapping of Finding to Computed, optional
        What was tried for those that have it.
    """
    computed = computed or {}
    if not findings:
        blocks: tuple[Block, ...] = (
            Paragraph((Run("The rules that were run found nothing."),), "lead"),
        )
    else:
        ordered = sorted(findings, key=lambda f: (ORDER[f.severity], f.status != "fail"))
        blocks = (
            Paragraph((Run(_count(findings)),), "lead"),
            *((Paragraph((Run(TRIED),), "note"),) if computed else ()),
            Entries(tuple(_entry(one, computed.get(one)) for one in ordered)),
        )
    return Section("Findings", "engineer", blocks, new_page=False)


def _count(findings: Sequence[Finding]) -> str:
    parts = [
        counted(number, word)
        for word in ("error", "warning", "note")
        if (number := sum(f.severity == word for f in findings))
    ]
    unknown = sum(f.status == "not-assessed" for f in findings)
    tail = f", of which {counted(unknown, 'check')} could not be assessed" if unknown else ""
    if unknown == len(findings):
        tail = "; none could be assessed" if unknown > 1 else "; it could not be assessed"
    return sentence(f"{listed(parts)}{tail}.")


def finding_state(finding: Finding) -> State:
    """Return the mark of a finding: an error is broken, a lesser one a risk, unknown is neither."""
    if finding.status == "not-assessed":
        return "not assessed"
    return "broken" if finding.severity == "error" else "at risk"


def _standing(finding: Finding) -> str:
    """Who stands behind the rule; of a house rule whether a document may relax it."""
    if finding.strength != "house":
        return STRENGTH[finding.strength]
    may = rules()[finding.code].relaxable
    return f"{STRENGTH['house']}, {'may be relaxed with a reason' if may else 'cannot be relaxed'}"


def _change(computed: Computed) -> Line:
    """What was tried, in full where it is told first."""
    if computed.told_at:
        said = f"by the change for {computed.told_at}: {full_stop(computed.figure)}"
    else:
        more = counted(computed.further, "other change")
        other = f"{sentence(more)} would do too." if computed.further else ""
        parts = (computed.says, computed.achieves, computed.note, other)
        said = " ".join(full_stop(one) for one in parts if one)
    return (Run("Computed: ", "strong"), Run(fixed_spaces(said)))


def _entry(finding: Finding, computed: Computed | None) -> Entry:
    remedy: Line = ()
    if finding.remedy:
        remedy = (Run(fixed_spaces(full_stop(finding.remedy))),)
    source = " · ".join(
        part for part in (finding.code, finding.at, _standing(finding), finding.source) if part
    )
    lead = finding.severity if finding.status == "fail" else f"{finding.severity}, not assessed"
    if finding.arrangements:
        lead += f", in {'; '.join(map(spoken, finding.arrangements))}"
    return Entry(
        finding_state(finding),
        sentence(lead),
        (Run(fixed_spaces(full_stop(finding.message))),),
        remedy,
        source,
        () if computed is None else _change(computed),
    )
