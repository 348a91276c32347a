"""The front of a rack: what is in it from the bottom up, unit by unit, with weight and heat.

::

     6 ┌──────────────┐
       │              │
     5 ├┬────────────┬┤
       │└─ bridge ───┘│   USB bridge             on a shelf    0.4 kg    4 W
     4 ├──────────────┤
       │ mixer        │   Processor                            3.9 kg   45 W
"""

from __future__ import annotations

from dataclasses import dataclass

from wellheard.drawings.backends import svg
from wellheard.drawings.canvas import Canvas
from wellheard.drawings.lettering import text_width
from wellheard.drawings.tokens import ThemeName, size_mm
from wellheard.schedules.rack import Rack, Slot
from wellheard.units import Unit, format_mass

WIDTH = 168.0
UNIT = 7.0
"""Height of one unit on paper: the front is drawn 2.4 times as wide as it would be to that
height, since names stand in it. [mm]"""
LEFT, FRONT = 9.0, 58.0
"""Room for the numbers of the units, and width of the front. [mm]"""
TOP, BOTTOM = 4.0, 2.5
EMPTY = 2
"""Free units that are drawn above the highest that is taken."""
SHELF = 4.0
"""How far a device on a shelf stays from the rails. [mm]"""
GAP = 0.6
"""Between a front and the lines round it. [mm]"""
NOTE, BODY = size_mm("note"), size_mm("body")


def rack_drawing(
    rack: Rack, *, unit: Unit = "m", theme: ThemeName = "white", embed_fonts: bool = True
) -> str:
    """Return the elevation of a rack as SVG.

    Parameters
    ----------
    rack : Rack
        With something in it.
    unit : {"m", "ft"}
        Of the document's lengths: beside feet weights are in pounds too.
    theme : {"white", "slate"}
        Colours.
    embed_fonts : bool
        False where the document that holds the drawing brings the fonts.
    """
    canvas, height = draw(rack, unit)
    title = f"Rack {rack.equipment}, seen from the front"
    return svg.render(canvas, WIDTH, height, title=title, theme=theme, embed_fonts=embed_fonts)


def draw(rack: Rack, unit: Unit = "m") -> tuple[Canvas, float]:
    """Return the drawing as a recording, with its height. [mm]"""
    free = EMPTY if rack.free_u is None else max(min(EMPTY, int(rack.free_u)), 0)
    top = rack.used_u + free
    canvas = Canvas()
    canvas.begin("rack")
    sketch = _Sketch(canvas, top, unit)
    sketch.grid(open_=rack.free_u is None or rack.free_u > free)
    canvas.begin("equipment")
    for slot in rack.slots:
        sketch.slot(slot)
    return canvas, TOP + top * UNIT + BOTTOM


@dataclass(frozen=True, slots=True)
class _Sketch:
    canvas: Canvas
    top: int
    unit: Unit

    def y(self, unit: int) -> float:
        """Lower edge of a unit. [mm]"""
        return TOP + (self.top - unit + 1) * UNIT

    def grid(self, *, open_: bool) -> None:
        """Rails, a tick and a number at every unit; open at the top where it goes on."""
        for unit in range(1, self.top + 1):
            y = self.y(unit)
            self.canvas.line(((LEFT, y), (LEFT + FRONT, y)), pen="hair", colour="faint")
            at = (LEFT - 2.0, y - UNIT / 2 + 0.35 * NOTE)
            self.canvas.text(str(unit), at, size=NOTE, colour="ink-2", anchor="end")
        for x in (LEFT, LEFT + FRONT):
            end = TOP - (2.5 if open_ else GAP)
            self.canvas.line(((x, self.y(1) + GAP), (x, end)), pen="mid")
        ends = [self.y(1) + GAP, *(() if open_ else (TOP - GAP,))]
        for y in ends:
            self.canvas.line(((LEFT, y), (LEFT + FRONT, y)), pen="mid")

    def slot(self, slot: Slot) -> None:
        """One slot, and what it is beside it."""
        low, high = self.y(slot.from_u), self.y(slot.to_u) - UNIT
        middle = (low + high) / 2
        base = middle + 0.35 * BODY
        if slot.kind == "air":
            at = (LEFT + FRONT / 2, base)
            self.canvas.text(
                "free, for air", at, size=NOTE, face="italic", colour="ink-2", anchor="middle"
            )
            return
        shelved = slot.kind == "shelf"
        inset = SHELF if shelved else GAP
        self.canvas.rectangle(
            LEFT + inset,
            high + (2 * GAP if shelved else GAP),
            FRONT - 2 * inset,
            low - high - (3.4 * GAP if shelved else 2 * GAP),
            fill="paper",
            pen="thin" if shelved else "fine",
            dash="dashed" if slot.owned else "solid",
        )
        if shelved:
            plate = low - 1.4 * GAP
            self.canvas.line(((LEFT, plate), (LEFT + FRONT, plate)), pen="bold")
        name = fitted(slot.device, FRONT - 2 * inset - 4.0, BODY)
        self.canvas.text(name, (LEFT + inset + 2.0, base), size=BODY, face="medium")
        self._beside(slot, middle + 0.35 * NOTE)

    def _beside(self, slot: Slot, base: float) -> None:
        heat = f"{slot.heat_w:.0f} W"
        weight = format_mass(slot.weight_kg, unit=self.unit)
        said = slot.product
        extra = [
            *(("on a shelf",) if slot.kind == "shelf" else ()),
            *(("there already",) if slot.owned else ()),
        ]
        right = WIDTH - 15.0 - text_width(weight, NOTE) - 2.0
        words = fitted(", ".join((said, *extra)), right - LEFT - FRONT - 5.0, NOTE)
        self.canvas.text(words, (LEFT + FRONT + 4.0, base), size=NOTE)
        self.canvas.text(weight, (WIDTH - 15.0, base), size=NOTE, colour="ink-2", anchor="end")
        self.canvas.text(heat, (WIDTH - 0.5, base), size=NOTE, colour="ink-2", anchor="end")


def fitted(text: str, width: float, size: float) -> str:
    """Text, cut with an ellipsis where it is wider than there is room.

    Examples
    --------
    >>> fitted("mixer", 40.0, 3.57), fitted("a-very-long-name-of-a-device", 20.0, 3.57)
    ('mixer', 'a-very-lon…')
    """
    if text_width(text, size) <= width:
        return text
    while text and text_width(text + "…", size) > width:
        text = text[:-1]
    return text.rstrip() + "…"
