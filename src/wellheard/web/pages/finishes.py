"""Surfaces of a room: what each is made of, what else it might be, and what that would change."""

from __future__ import annotations

from collections.abc import Awaitable, Callable, Sequence
from typing import Any, TypeAlias

from nicegui import ui
from nicegui.element import Element

from wellheard.errors import WellheardError
from wellheard.units import Unit
from wellheard.web.elements import tag
from wellheard.web.typed import Form, button, hide, searched, submitted, typed_line
from wellheard.web.workbench import Workbench
from wellheard.workflow import finishing
from wellheard.workflow.desk import Desk
from wellheard.workflow.finishing import Choice, SurfaceRow

Commit: TypeAlias = Callable[[Sequence[dict[str, Any]], str], Awaitable[str]]
"""Makes a change, named in a few words, and tells what is wrong with it; '' if nothing is."""
OCTAVES = ("125", "250", "500", "1000", "2000", "4000", "8000")
HEADS = ("125", "250", "500", "1k", "2k", "4k", "8k")


class Surfaces:
    """All surfaces of a room, one of them open."""

    def __init__(self, workbench: Workbench, desk: Desk, unit: Unit, commit: Commit) -> None:
        self.workbench = workbench
        self.desk = desk
        self.unit = unit
        self.commit = commit
        self.rows: tuple[SurfaceRow, ...] = ()
        self.open_path = ""
        self.chosen: Choice | tuple[float, ...] | None = None
        self.word = ""
        with tag("section", classes="surfaces", id="surfaces", aria_label="Surfaces"):
            with tag("div", classes="headline"):
                tag("h2", "Surfaces")
                tag("span", "what each is made of, and how that is known", classes="soft")
            self.table = tag("div", classes="list")
            self.editor = tag("div", classes="editor")
        self.refresh()

    @property
    def row(self) -> SurfaceRow | None:
        """The surface that is open."""
        return next((one for one in self.rows if one.path == self.open_path), None)

    def _present(self) -> SurfaceRow:
        row = self.row
        assert row is not None
        return row

    def refresh(self) -> None:
        """Show the document as it is now; what is chosen and not used yet stays chosen."""
        self.rows = finishing.surface_rows(self.desk.state.loaded)
        if self.row is None:
            self.open_path, self.chosen = self.rows[0].path, None
        self._list()
        self._edit()

    def show(self, path: str) -> None:
        """Open a surface by the path of its finish."""
        if any(one.path == path for one in self.rows):
            if path != self.open_path:
                self.open_path, self.chosen = path, None
            self._list()
            self._edit()

    # The list --------------------------------------------------------------------------------

    def _list(self) -> None:
        self.table.clear()
        with self.table, tag("table"):
            with tag("thead"), tag("tr"):
                tag("th", "Surface", scope="col")
                tag("th", "Area", scope="col", classes="num")
                tag("th", "Finish", scope="col")
                tag("th", "Mean", scope="col", classes="num", title="of 250 Hz to 2 kHz")
                tag("th", "Known", scope="col")
            with tag("tbody"):
                for one in self.rows:
                    self._line(one)

    def _line(self, one: SurfaceRow) -> None:
        here = one.path == self.open_path
        with tag("tr", classes="on" if here else ""):
            with tag("th", scope="row"):
                press = button(one.name, self._opening(one.path), classes="row")
                press.props["aria-pressed"] = str(here).lower()
            tag("td", one.area_words(self.unit), classes="num")
            told = "told" if one.standing in ("told", "assumed", "left out") else ""
            tag("td", one.words, classes=f"words {told}", title=one.finish)
            tag("td", f"{sum(one.absorption[1:5]) / 4:.2f}", classes="num")
            tag("td", one.said, classes="soft")

    def _opening(self, path: str) -> Callable[[], Awaitable[None]]:
        async def act() -> None:
            self.show(path)

        return act

    # The one that is open --------------------------------------------------------------------

    def _edit(self) -> None:
        row, self.word = self._present(), ""
        self.editor.clear()
        with self.editor:
            with tag("div", classes="headline"):
                tag("h3", row.name)
                tag(
                    "span", f"{row.area_words(self.unit)} · {row.words}, {row.said}", classes="soft"
                )
            with tag("div", classes="both"):
                with tag("div", classes="choose"):
                    self._search()
                    self.listed = tag("ul", classes="choices", aria_label="Finishes")
                    self._choices()
                with tag("div", classes="seen"):
                    self.curve = ui.html("", sanitize=False).classes("curve-box")
                    self.about = tag("p", classes="note about")
            self.octaves = tag("div")
            self._octaves(row)
            self.effect = tag("div", classes="effect", role="status", aria_live="polite")
            self._use(row)
        self._drawn()

    def _search(self) -> None:
        with tag("label", classes="search"):
            tag("span", "Another finish", classes="soft")
            line = typed_line("word", "", kind="search")
            line.props["placeholder"] = "carpet, glass, panel …"

        async def look(word: str) -> None:
            self.word = word
            self._choices()

        searched(line, look)

    def _choices(self) -> None:
        self.listed.clear()
        self.presses: dict[str, Element] = {}
        found = finishing.choices(self.desk.state.loaded.catalogue, self.word)
        with self.listed:
            for one in found:
                with tag("li"):
                    press = self.presses[one.id] = button("", self._choosing(one), classes="choice")
                    with press:
                        tag("span", one.name)
                        tag("span", one.whose or one.mean, classes="num soft")
            if not found:
                tag("li", "No finish has these words; write its figures below.", classes="soft")
        self._mark()

    def _mark(self) -> None:
        """Mark what is chosen; the list stays where it was scrolled to."""
        chosen = self.chosen.id if isinstance(self.chosen, Choice) else ""
        for name, press in self.presses.items():
            press.props["aria-pressed"] = str(name == chosen).lower()
            press.update()

    def _choosing(self, one: Choice) -> Callable[[], Awaitable[None]]:
        async def act() -> None:
            self.chosen = one
            self._mark()
            self._octaves(self._present())
            self._drawn()
            await self._effect()

        return act

    def _octaves(self, row: SurfaceRow) -> None:
        """Figures by octave: of what is chosen, to be changed by hand."""
        figures = self._shown(row)
        self.cells: dict[str, Element] = {}
        self.octaves.clear()
        with self.octaves:
            with tag("form", classes="octaves", novalidate=True) as form, tag("fieldset"):
                tag("legend", "Absorption by octave, Hz", classes="soft")
                for key, head, value in zip(OCTAVES, HEADS, figures, strict=True):
                    with tag("label"):
                        tag("span", head, classes="note")
                        self.cells[key] = typed_line(key, f"{value:.2f}", classes="num")
                        self.cells[key].props["inputmode"] = "decimal"
                tag("button", "look at these figures", classes="word", type="submit")
            self.wrong = tag("div", classes="wrongs", role="alert")
        submitted(form, self._typed)

    def _shown(self, row: SurfaceRow) -> Sequence[float]:
        if self.chosen is None:
            return row.absorption
        return self.chosen.absorption if isinstance(self.chosen, Choice) else self.chosen

    async def _typed(self, form: Form) -> None:
        values, wrong = finishing.typed_absorption(form)
        self.wrong.clear()
        with self.wrong:
            for text in wrong.values():
                tag("p", text, classes="wrong")
        for key, cell in self.cells.items():
            cell.props["aria-invalid"] = str(key in wrong).lower()
            cell.update()
        if wrong:
            return
        self.chosen = values
        self._mark()
        self._drawn()
        await self._effect()

    def _drawn(self) -> None:
        self.curve.set_content(finishing.curve(self._present(), self.chosen))
        said = ""
        if isinstance(self.chosen, Choice):
            one = self.chosen
            said = " · ".join(p for p in (one.source, one.trust, one.whose, one.note) if p)
        elif self.chosen is not None:
            said = "Figures as typed; the document will hold them."
        self.about.set_text(said)
        self.press.set_text("use it" if self.chosen is not None else "keep it, and note this")

    def _use(self, row: SurfaceRow) -> None:
        with tag("form", classes="use", novalidate=True) as form:
            with tag("label"):
                tag("span", "Known", classes="soft")
                with tag("select", classes="field", name_="basis"):
                    now = row.standing if row.standing in finishing.BASES else "told"
                    for basis in finishing.BASES:
                        option = tag("option", finishing.SAID[basis], value=basis)
                        if basis == now:
                            option.props["selected"] = True
            self.press = tag("button", "use it", classes="press", type="submit")
            self.said = tag("span", classes="wrong", role="alert", hidden=True)
        submitted(form, self._used)

    async def _used(self, form: Form) -> None:
        row = self.row
        basis = form.get("basis", "")
        if row is None or basis not in finishing.BASES:
            return
        changes: Sequence[dict[str, Any]]
        if self.chosen is None and row.standing != "left out":
            changes = ({"path": f"basis.{row.path}", "set": basis},)
        else:
            changes = finishing.operations(row.path, self._finish(row), basis)
        wrong = await self.commit(changes, f"finish of the {row.name}")
        if wrong:
            self.said.set_text(wrong)
            hide(self.said, False)
            return
        self.chosen = None
        self.refresh()

    def _finish(self, row: SurfaceRow) -> str | Sequence[float]:
        """What is chosen, else what is there, as the document writes it."""
        if self.chosen is None:
            return row.finish or row.absorption
        return self.chosen.id if isinstance(self.chosen, Choice) else self.chosen

    # What it does ----------------------------------------------------------------------------

    async def _effect(self) -> None:
        """Predict the decay with what is chosen; of several wishes the last one is answered."""
        row, chosen = self.row, self.chosen
        if row is None or chosen is None:
            return
        changes = finishing.operations(row.path, self._finish(row), "told")
        self.effect.clear()
        with self.effect:
            tag("p", "predicting how long the room would ring …", classes="busy-line")
        loaded = self.desk.state.loaded
        try:
            found = await self.workbench.slowly(finishing.effect, loaded, changes, unit=self.unit)
        except WellheardError as error:
            found, said = None, str(error)
        if self.chosen is not chosen or self.row is not row:
            return
        self.effect.clear()
        with self.effect:
            if found is None:
                tag("p", said, classes="wrong")
            else:
                _decay(found)


def _decay(found: finishing.Effect) -> None:
    tag("p", found.words, classes="strong")
    with tag("table", classes="decay"):
        rows = list(found.rows())
        with tag("thead"), tag("tr"):
            tag("th", "T, s", scope="col")
            for head, _, _ in rows:
                tag("th", head, scope="col", classes="num")
        with tag("tbody"):
            for word, column in (("now", 1), ("then", 2)):
                with tag("tr"):
                    tag("th", word, scope="row")
                    for one in rows:
                        tag("td", one[column], classes="num")
    if found.note:
        tag("p", found.note, classes="note")
