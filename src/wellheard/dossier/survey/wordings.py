"""The sentences that open inputs are asked with: polite, plain, answerable on the telephone."""

from __future__ import annotations

from dataclasses import dataclass

from wellheard.dossier.survey.model import Who


@dataclass(frozen=True)
class Wording:
    """How one topic is asked for; {} in the sentence takes the name of the surface or source."""

    part: int
    who: Who
    sentence: str
    why: str


WORDINGS: dict[str, Wording] = {
    "plan": Wording(
        2,
        "architect",
        "Could you send us the floor plan with its dimensions, as a drawing file or a photo? If "
        "there is none, please measure every wall from corner to corner.",
        "Distances, volume and surfaces follow from it.",
    ),
    "ceiling-height": Wording(
        3,
        "customer",
        "How high is the ceiling above the floor? Please measure it with a tape or a laser in two "
        "places; the round figure that everybody knows is often off by a hand.",
        "Whatever is mounted on the ceiling is that much nearer to the voices or further off.",
    ),
    "ceiling-kind": Wording(
        3,
        "customer",
        "What is the ceiling made of – lay-in tiles you can push up, or plasterboard? A photo of "
        "it helps.",
        "It is the largest surface that absorbs, and it decides how a microphone is fixed.",
    ),
    "finish:floor": Wording(
        4,
        "customer",
        "What is on the floor – carpet, vinyl, wood or bare concrete? A photo of it helps.",
        "The floor is a sixth to a third of all surfaces.",
    ),
    "finish:ceiling": Wording(
        4,
        "customer",
        "What do the ceiling panels look like close up – soft with fissures or pinholes, board "
        "with round holes, or smooth and hard? A close photo helps; please do not lift or drill "
        "any.",
        "Panels that look alike from below absorb from almost nothing to almost all.",
    ),
    "finish:wall": Wording(
        4,
        "customer",
        "What is the {} wall made of – plasterboard, glass, concrete or brick, wood, or soft "
        "panels? A photo of it helps.",
        "Hard walls that face each other keep sound in the room.",
    ),
    "finish:window": Wording(
        4,
        "customer",
        "Are there curtains or blinds at “{}”, of which stuff, and are they closed in meetings?",
        "Glass gives back nearly everything, a heavy curtain hardly half.",
    ),
    "finish:door": Wording(
        4,
        "customer",
        "Is the door “{}” wood or glass, and does it close tightly?",
        "A small surface, but gaps let noise in.",
    ),
    "finish:patch": Wording(
        4,
        "customer",
        "What is “{}” on the wall made of – glass, a hard board, wood or a soft panel, and how "
        "thick is it? A photo helps.",
        "A soft panel of 50 mm absorbs, a pin board does not.",
    ),
    "finish:obstacle": Wording(
        4,
        "customer",
        "What is “{}” made of – concrete, plasterboard or wood?",
        "It gives sound back and stands in its way.",
    ),
    "reverberation": Wording(
        4,
        "us",
        "May we come and measure how long the room rings? It takes half an hour in the empty room.",
        "Measured, it replaces what finishes can only suggest, and the range of the answer "
        "narrows.",
    ),
    "temperature": Wording(
        6, "facility", "At what temperature is the room kept?", "Air carries high tones less far."
    ),
    "humidity": Wording(
        6,
        "facility",
        "How dry is the air in winter, and is it humidified?",
        "Dry air swallows the highest octaves.",
    ),
    "scattering": Wording(
        4,
        "customer",
        "Are the walls bare and flat, or broken up by shelves, plants and furniture? A photo of "
        "each wall helps.",
        "Bare, flat walls keep sound between them: the decay lasts longer than the finishes say.",
    ),
    "table-tops": Wording(
        5,
        "customer",
        "How high is the table above the floor, what is its top made of, and does it have holes "
        "or boxes?",
        "It carries table microphones and their cables.",
    ),
    "positions": Wording(
        5,
        "customer",
        "Where exactly do people sit or stand? Please mark the chairs on the plan, or measure the "
        "first one from two walls and then from chair to chair.",
        "The direct sound falls by 6 dB for each doubling of the distance.",
    ),
    "mouths-seated": Wording(
        5,
        "customer",
        "Are these ordinary office chairs, or bar stools, or low sofas? How high is the seat?",
        "Mouths come nearer to the ceiling or further from it.",
    ),
    "mouths-standing": Wording(
        5,
        "customer",
        "Does whoever stands speak from the floor, or from a step or a stage, and how high is it?",
        "Mouths come nearer to the ceiling or further from it.",
    ),
    "facing-seated": Wording(
        5,
        "customer",
        "When people talk, whom do they look at – each other across the table, the picture, or "
        "along the table?",
        "Behind the head a voice is 5 to 15 dB weaker where it matters.",
    ),
    "facing-standing": Wording(
        5,
        "customer",
        "Where does whoever stands look while talking – at the people, at the picture, or at the "
        "board?",
        "Behind the head a voice is 5 to 15 dB weaker where it matters.",
    ),
    "occupancy": Wording(
        5, "customer", "How many of the seats are usually taken?", "People absorb."
    ),
    "effort": Wording(
        5,
        "customer",
        "Do people there speak in a normal voice, quietly, or raised? Is anybody soft-spoken?",
        "A quiet voice is 4 to 5 dB nearer to the noise.",
    ),
    "noise-background": Wording(
        6,
        "facility",
        "How loud is the empty room with the ventilation as in a meeting – is there an NC or dBA "
        "figure in the ventilation documents? Otherwise, may we measure with it on and off?",
        "Noise that is in the room goes out with every word.",
    ),
    "noise-source:air-outlet": Wording(
        6,
        "facility",
        "What does the ventilation schedule say of the outlet “{}” – type, air flow, sound level? "
        "Is there a damper right at it?",
        "A microphone near an outlet hears it before anybody else does.",
    ),
    "noise-source:projector": Wording(
        6,
        "customer",
        "How loud is the projector “{}” by its data sheet, in dBA, and in which setting does it "
        "run?",
        "Its fan is often the nearest source to a ceiling microphone.",
    ),
    "noise-source:display": Wording(
        6,
        "customer",
        "Does the display “{}” have a fan that can be heard, and how loud is it by its data sheet?",
        "Fans behind the picture are near to microphones in front of it.",
    ),
    "noise-source:fan-coil": Wording(
        6,
        "facility",
        "At which speed does the fan coil “{}” run in meetings, and how loud is it at that speed?",
        "From one speed to the next it may be 5 dB louder.",
    ),
    "noise-source:other": Wording(
        6,
        "customer",
        "What is “{}”, how loud is it, and can it be switched off in meetings?",
        "What can be switched off need not be designed for.",
    ),
    "noise-sources": Wording(
        6,
        "facility",
        "Where are the air outlets, projectors, displays with fans and fan coils, and how loud "
        "are they? A photo of the ceiling from each corner helps.",
        "A source beside a microphone decides what the far end hears.",
    ),
    "far-end-noise": Wording(
        9,
        "customer",
        "Where do the people at the other end usually listen – in a quiet office, an open office, "
        "at home, on the road?",
        "Their own noise covers the voice too.",
    ),
    "far-end-level": Wording(
        9,
        "customer",
        "Do the people at the other end listen by loudspeaker or by headset, and how loudly?",
        "Too quiet is not understood, however good the room.",
    ),
}

SUBJECTS: dict[str, str] = {
    "plan": "the floor plan",
    "ceiling-height": "the height of the ceiling",
    "ceiling-kind": "the kind of ceiling",
    "finish:floor": "what is on the floor",
    "finish:ceiling": "the ceiling panels",
    "finish:wall": "the {} wall",
    "finish:window": "the window “{}”",
    "finish:door": "the door “{}”",
    "finish:patch": "“{}” on the wall",
    "finish:obstacle": "what “{}” is made of",
    "reverberation": "how long the room rings",
    "temperature": "the temperature",
    "humidity": "the humidity",
    "scattering": "how bare and flat the walls are",
    "table-tops": "the table top",
    "positions": "where people sit or stand",
    "mouths-seated": "how high the seats are",
    "mouths-standing": "the height of whoever stands",
    "facing-seated": "where seated people look",
    "facing-standing": "where whoever stands looks",
    "occupancy": "how many seats are taken",
    "effort": "how loudly people talk",
    "noise-background": "the background noise",
    "noise-source:air-outlet": "the noise of the outlet “{}”",
    "noise-source:projector": "the noise of the projector “{}”",
    "noise-source:display": "the noise of the display “{}”",
    "noise-source:fan-coil": "the noise of the fan coil “{}”",
    "noise-source:other": "the noise of “{}”",
    "noise-sources": "sources of noise that nobody spoke of",
    "far-end-noise": "the noise at the other end",
    "far-end-level": "how loudly the other end listens",
}
"""What each of these is about, in a list of what need not be asked."""
