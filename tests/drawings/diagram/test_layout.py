"""Layouts of random systems: nothing over anything, everything at its place, few crossings."""

from __future__ import annotations

import itertools
import random
from itertools import pairwise

import networkx as nx
import pytest

from tests.drawings.diagram.systems import joined, random_system
from wellheard.drawings.canvas import Point, Text
from wellheard.drawings.diagram.columns import columns
from wellheard.drawings.diagram.layout import crossings, layout
from wellheard.drawings.diagram.model import Box, End, Layout, Link, Port, System

SIZES = (
    *((1, 0), (1, 2), (2, 1), (3, 5), (5, 4), (6, 12), (8, 8), (10, 25), (12, 14), (15, 40)),
    *((20, 20), (24, 50), (30, 30), (36, 70), (40, 80), (50, 60), (60, 50), (60, 90)),
)
SYSTEMS = [(seed, boxes, links) for seed, (boxes, links) in enumerate(SIZES)]
CLEAR = 1e-6


@pytest.fixture(scope="module", params=SYSTEMS, ids=lambda one: f"{one[1]} boxes {one[2]} links")
def laid(request: pytest.FixtureRequest) -> Layout:
    return made(random_system(*request.param))


def made(system: System) -> Layout:
    found = layout(system)
    assert found is not None
    return found


def stretches(laid: Layout) -> list[tuple[int, Point, Point]]:
    return [
        (number, one, other)
        for number, link in enumerate(laid.links)
        for one, other in pairwise(link.points)
    ]


def texts(laid: Layout) -> list[Text]:
    found = [text for box in laid.boxes for text in box.texts]
    found += [port.text for box in laid.boxes for port in box.ports]
    return found + [link.label for link in laid.links if link.label is not None]


def test_every_stretch_is_level_or_upright_and_as_long_as_a_corner_needs(laid: Layout) -> None:
    for _, (x0, y0), (x1, y1) in stretches(laid):
        assert (x0 == x1) != (y0 == y1)
    for link in laid.links:
        for (x0, _), (x1, _), (x2, _) in zip(
            link.points, link.points[1:], link.points[2:], strict=False
        ):
            assert (x0 == x1) != (x1 == x2)


def test_links_run_from_their_port_to_their_port_and_ports_are_on_the_edge(laid: Layout) -> None:
    ends: dict[End, list[Point]] = {}
    for link in laid.links:
        ends.setdefault(link.link.start, []).append(link.points[0])
        ends.setdefault(link.link.end, []).append(link.points[-1])
    for box in laid.boxes:
        for port in box.ports:
            edge = box.x if port.side == "left" else box.x + box.width
            assert port.x == pytest.approx(edge, abs=CLEAR)
            there = sorted(ends.pop(End(box.box.id, port.name)))
            assert [x for x, _ in there] == pytest.approx([edge] * len(there), abs=CLEAR)
            assert sorted(y for _, y in there) == list(port.heights)
            assert all(box.y < y < box.y + box.height for y in port.heights)
    assert ends == {}


def test_wanted_sides_and_orders_of_ports_are_kept(laid: Layout) -> None:
    for box in laid.boxes:
        placed = {port.name: port for port in box.ports}
        wanted = [port for port in box.box.ports if port.name in placed]
        for port in wanted:
            assert port.side in (None, placed[port.name].side)
        for side in ("left", "right"):
            numbered = [p for p in wanted if p.group and placed[p.name].side == side]
            heights = [placed[p.name].heights[0] for p in numbered]
            assert heights == sorted(heights)


def test_no_line_passes_through_a_box_or_a_text(laid: Layout) -> None:
    areas = [(b.x, b.y, b.x + b.width, b.y + b.height) for b in laid.boxes]
    areas += [text.box.bounds for text in texts(laid)]
    for _, (x0, y0), (x1, y1) in stretches(laid):
        for left, top, right, bottom in areas:
            misses = (
                max(x0, x1) <= left + CLEAR
                or min(x0, x1) >= right - CLEAR
                or max(y0, y1) <= top + CLEAR
                or min(y0, y1) >= bottom - CLEAR
            )
            assert misses


def test_no_box_lies_over_a_box_and_no_text_over_text(laid: Layout) -> None:
    for one, other in itertools.combinations(laid.boxes, 2):
        assert (
            one.x + one.width <= other.x
            or other.x + other.width <= one.x
            or one.y + one.height + 1.9 <= other.y
            or other.y + other.height + 1.9 <= one.y
        )
    for text, again in itertools.combinations(texts(laid), 2):
        assert text.box.overlap(again.box) == 0, (text.text, again.text)


def test_what_is_written_in_a_box_stays_in_it(laid: Layout) -> None:
    for box in laid.boxes:
        for text in (*box.texts, *(port.text for port in box.ports)):
            x0, y0, x1, y1 = text.box.bounds
            assert box.x < x0
            assert x1 < box.x + box.width
            assert box.y < y0
            assert y1 < box.y + box.height


def test_two_links_never_share_a_stretch_nor_touch_but_where_they_cross(laid: Layout) -> None:
    for (one, (ax, ay), (bx, by)), (two, (cx, cy), (dx, dy)) in itertools.combinations(
        stretches(laid), 2
    ):
        if one == two or (ay == by) != (cy == dy):
            continue
        if ay == by and abs(ay - cy) < CLEAR:
            assert max(ax, bx) < min(cx, dx) or max(cx, dx) < min(ax, bx)
        if ax == bx and abs(ax - cx) < CLEAR:
            assert max(ay, by) < min(cy, dy) or max(cy, dy) < min(ay, by)
    for number, (x, y0), (x1, y1) in stretches(laid):
        for other, (a, y), (b, y2) in stretches(laid):
            if x == x1 and y == y2 and number != other and min(a, b) <= x <= max(a, b):
                # An upright ends on nobody's level line: it crosses it or stays clear of it.
                assert min(abs(y - y0), abs(y - y1)) > 0.5


def test_labels_stand_on_their_own_line(laid: Layout) -> None:
    for link in laid.links:
        if link.label is None:
            assert link.link.label == ""
            continue
        x0, _, x1, bottom = link.label.box.bounds
        assert any(
            y0 == y1 and min(a, b) <= x0 and x1 <= max(a, b) and 0 < y0 - bottom < 1.0
            for (a, y0), (b, y1) in pairwise(link.points)
        )


def test_everything_is_on_the_paper(laid: Layout) -> None:
    for text in texts(laid):
        x0, y0, x1, y1 = text.box.bounds
        assert x0 >= 0
        assert y0 >= 0
        assert x1 <= laid.width
        assert y1 <= laid.height
    for link in laid.links:
        assert all(0 <= x <= laid.width and 0 <= y <= laid.height for x, y in link.points)
    for box in laid.boxes:
        assert box.x >= 0
        assert box.x + box.width <= laid.width
        assert box.y >= 0
        assert box.y + box.height <= laid.height


def test_crossings_are_those_of_the_drawn_lines(laid: Layout) -> None:
    assert laid.crossings == crossings([link.points for link in laid.links])


@pytest.mark.parametrize("seed", range(6))
def test_the_same_system_gives_the_same_layout(seed: int) -> None:
    system = random_system(seed, 16, 24)
    assert layout(system) == layout(system)


@pytest.mark.parametrize("seed", range(25))
def test_a_tree_is_drawn_without_a_crossing_as_every_planar_graph_can_be(seed: int) -> None:
    count = 2 + 2 * seed
    tree = nx.random_labeled_rooted_tree(count, seed=seed)
    assert nx.check_planarity(tree)[0]
    root = tree.graph["root"]
    pairs = list(nx.bfs_edges(tree, root))
    if seed % 2:
        pairs = [(b, a) for a, b in pairs]  # all towards the root
    assert made(joined(pairs, count)).crossings == 0


def least_crossings(system: System) -> int:
    """Of every order of every column, ports where they are best: by trying all."""
    column = columns(system)
    items: dict[int, list[str]] = {k: [] for k in range(max(column.values()) + 1)}
    for name, place in column.items():
        items[place].append(name)
    nets: dict[int, list[tuple[str, str]]] = {}
    for link in system.links:
        one, other = sorted((link.start.box, link.end.box), key=column.__getitem__)
        here = one
        for place in range(column[one] + 1, column[other] + 1):
            there = other if place == column[other] else f"{link.id} in {place}"
            if there not in items[place]:
                items[place].append(there)
            nets.setdefault(place, []).append((here, there))
            here = there
    best = 10**9
    for orders in itertools.product(*(itertools.permutations(c) for c in items.values())):
        at = {name: k for order in orders for k, name in enumerate(order)}
        found = sum(
            (at[a] - at[c]) * (at[b] - at[d]) < 0
            for level in nets.values()
            for (a, b), (c, d) in itertools.combinations(level, 2)
        )
        best = min(best, found)
        if best == 0:
            break
    return best


def small_systems() -> list[System]:
    found: list[System] = []
    chance = random.Random(5)
    while len(found) < 40:
        count = chance.randint(5, 8)
        pairs = []
        for _ in range(chance.randint(7, 13)):
            one, other = sorted(chance.sample(range(count), 2))
            pairs.append((one, other))
        system = joined(pairs, count)
        column = columns(system)
        sizes = [0] * (max(column.values()) + 1)
        for place in column.values():
            sizes[place] += 1
        for a, b in pairs:
            low, high = sorted((column[f"b{a}"], column[f"b{b}"]))
            for place in range(low + 1, high):
                sizes[place] += 1
        tries = 1
        for size in sizes:
            for k in range(2, size + 1):
                tries *= k
        if 1 < tries <= 4000:
            found.append(system)
    return found


def test_small_systems_have_the_fewest_crossings_that_their_columns_allow() -> None:
    drawn = [made(system).crossings for system in small_systems()]
    least = [least_crossings(system) for system in small_systems()]
    assert sum(value > 0 for value in least) >= 5
    assert all(value <= 1.25 * bar for value, bar in zip(drawn, least, strict=True))


def test_what_swaps_two_heights_is_drawn_with_two_turns() -> None:
    ports = ("p-1", "p-2")
    left = Box("left", ("left",), tuple(Port(p, "right", "p") for p in ports))
    right = Box("right", ("right",), tuple(Port(p, "left", "p") for p in ports))
    links = tuple(
        Link(f"c{k}", End("left", ports[k]), End("right", ports[1 - k]), f"c{k}") for k in (0, 1)
    )
    found = made(System((left, right), links))
    assert found.crossings == 1
    assert sorted(len(link.points) for link in found.links) == [4, 6]


def test_a_reference_back_to_the_left_keeps_its_arrow_and_the_columns() -> None:
    out, back = Port("line-out", "right"), Port("line-in", "left")
    branch = Box("branch", ("branch",), (out, back))
    root = Box("root", ("root",), (Port("line-in", "left"), Port("line-out", "right")))
    links = (
        Link("c1", End("branch", "line-out"), End("root", "line-in"), "c1"),
        Link("c2", End("root", "line-out"), End("branch", "line-in"), "c2"),
    )
    system = System((branch, root), links)
    assert columns(system) == {"branch": 0, "root": 1}
    found = made(system)
    (xs, _), (xe, _) = found.links[1].points[0], found.links[1].points[-1]
    boxes = {box.box.id: box for box in found.boxes}
    assert xs == boxes["root"].x + boxes["root"].width
    assert xe == boxes["branch"].x


def test_what_does_not_fit_is_not_drawn() -> None:
    system = random_system(3, 20, 30)
    free = made(system)
    assert layout(system, width=free.width - 1) is None
    assert layout(system, height=20.0) is None
    assert layout(system, width=free.width, height=free.height + 10) is not None


def test_a_system_without_boxes_is_laid_out_as_nothing() -> None:
    found = made(System((), ()))
    assert (found.boxes, found.links, found.width, found.height) == ((), (), 0.0, 0.0)
