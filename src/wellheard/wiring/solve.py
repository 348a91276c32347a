"""Wire a room at least cost, with proof."""

from __future__ import annotations

from wellheard.wiring.answering import answer
from wellheard.wiring.task import Task
from wellheard.wiring.wired import Wired
from wellheard.wiring.writing import write

TIME_LIMIT = 30.0
"""For the whole of it. [s]"""


def solve(task: Task, time_limit: float = TIME_LIMIT) -> Wired:
    """Wire what a task asks for.

    Parameters
    ----------
    task : Task
        Of `wellheard.wiring.asking.task_of`.
    time_limit : float
        [s]

    Returns
    -------
    Wired
        Links, devices and processing to add, their price, and how sure it is. What cannot be
        wired is left, with why and what would have to give.

    Examples
    --------
    >>> from wellheard.catalog.catalogue import Catalogue
    >>> from wellheard.room.document import Room
    >>> from wellheard.wiring.asking import task_of
    >>> room = Room.model_validate(
    ...     {
    ...         "wellheard": 1,
    ...         "space": {"outline": [[0, 0], [6, 0], [6, 4], [0, 4]], "height": 2.7},
    ...         "people": {"seats": {"s1": {"at": [3, 2], "facing": 0}}},
    ...         "equipment": {"rack": {"kind": "rack", "at": [5.7, 0.4, 0.5]}},
    ...         "devices": {
    ...             "m1": {"kind": "microphone", "product": "ceiling-head-3", "at": [2, 2, 2.4]}
    ...         },
    ...     }
    ... )
    >>> wired = solve(task_of(room, Catalogue.shipped()))
    >>> [(link.from_, link.to) for link in wired.links.values()]
    [('m1.link', 'p1.mic-1'), ('p1.usb', 'computer.usb')]
    >>> wired.devices["p1"].product, wired.proof.status
    ('bridge-2', 'optimal')
    """
    return write(task, answer(task, time_limit=time_limit))
