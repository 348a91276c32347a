"""The drawings of a room, each recorded once and then written as whatever is wanted of it."""

from __future__ import annotations

from collections.abc import Callable, Iterator, Mapping
from dataclasses import dataclass, replace

from wellheard.drawings.backends.svg import render
from wellheard.drawings.canvas import Canvas
from wellheard.drawings.plan import draw_sheet
from wellheard.drawings.sectionsheet import draw_section
from wellheard.drawings.sheet import Paper
from wellheard.drawings.view import PlanView
from wellheard.predict.evidence import Evidence
from wellheard.schedules.whole import Schedules
from wellheard.workflow.cable_ways import cable_marks
from wellheard.workflow.diagrams import wiring_drawings


@dataclass(frozen=True)
class Drawn:
    """One recorded sheet.

    Attributes
    ----------
    stem : str
        Of its files: ``plan``, ``plan-joined``, ``section``, ``wiring``.
    title : str
        Number, heading and room.
    canvas : Canvas
    paper : Paper
    view : PlanView or None
        What a plan shows, for a drawing in true size; None of any other sheet.
    """

    stem: str
    title: str
    canvas: Canvas
    paper: Paper
    view: PlanView | None = None

    @property
    def svg(self) -> str:
        """The sheet as the text of an SVG file."""
        return render(self.canvas, self.paper.width, self.paper.height, title=self.title)

    def files(self, wanted: Callable[[str], bool], *, date: str) -> Iterator[tuple[str, bytes]]:
        """The files of the sheet that are wanted, by name: SVG, PDF and DXF.

        Parameters
        ----------
        wanted : callable
            Whether a file of a name is needed; what is not is never made.
        date : str
            Of the document.
        """
        from wellheard.drawings.backends.dxf import canvas_dxf, plan_dxf
        from wellheard.drawings.backends.pdf import sheet_pdf

        wide, tall, title = self.paper.width, self.paper.height, self.title
        if wanted(f"{self.stem}.svg"):
            yield f"{self.stem}.svg", self.svg.encode()
        if wanted(f"{self.stem}.pdf"):
            yield f"{self.stem}.pdf", sheet_pdf(self.canvas, wide, tall, title=title, date=date)
        if wanted(f"{self.stem}.dxf"):
            made = (
                canvas_dxf(self.canvas, wide, tall, title=title, date=date)
                if self.view is None
                else plan_dxf(self.view, date=date)
            )
            yield f"{self.stem}.dxf", made


def drawings(
    evidence: Evidence, views: Mapping[str, PlanView], found: Schedules
) -> tuple[Drawn, ...]:
    """Every sheet of a room: its plans, its section, its wiring.

    Parameters
    ----------
    evidence : Evidence
        Of the whole room.
    views : mapping of str to PlanView
        What each plan shows, by arrangement, the leading one first.
    found : Schedules
        Of the document; the ways of its cables are in the plan's drawing in true size.
    """
    leading = next(iter(views.values()))
    count = str(len(views) + 1)
    marks = cable_marks(evidence.room, found.cables.rows)
    sheets = []
    for number, (key, view) in enumerate(views.items(), start=1):
        block = replace(view.title_block, sheet=f"C-{number:02}", of=count)
        shown = replace(view, title_block=block)
        drawn = draw_sheet(shown)
        stem = f"plan-{key}" if number > 1 else "plan"
        title = f"{block.sheet} {block.heading}: {block.title}"
        whole = replace(shown, cables=marks)
        sheets.append(Drawn(stem, title, drawn.canvas, drawn.paper, whole))
    block = replace(
        leading.title_block,
        heading="Section A–A, looking north",
        sheet=f"C-{len(views) + 1:02}",
        of=count,
    )
    cut = draw_section(replace(leading, title_block=block))
    sheets.append(Drawn("section", cut.title, cut.canvas, cut.paper))
    wired = wiring_drawings(evidence, leading)
    letters = [""] if len(wired) == 1 else [f"-{chr(ord('a') + n)}" for n in range(len(wired))]
    sheets += [
        Drawn(f"wiring{letter}", one.title, one.canvas, one.paper)
        for letter, one in zip(letters, wired, strict=True)
    ]
    return tuple(sheets)
