/** Projection and order of painting, against textbook angles and scenes ordered by hand. */

import assert from 'node:assert/strict';
import { test } from 'node:test';

import { standpoint, fittingScale } from '../../../src/wellheard/web/static/js/solid.js';
import {
  ISOMETRIC_DEG, dot, inside, normalOf, paintOrder, prepared, projected, turnedTo, viewFrom,
} from '../../../src/wellheard/web/static/js/space.js';

const near = (actual, expected, within = 1e-9) =>
  assert.ok(Math.abs(actual - expected) <= within, `${actual} is not ${expected}`);

// ISO 5456-3: in an isometric drawing the three axes make 120 degrees with each other and are
// shortened alike, by √(2/3) ≈ 0.816; the two level ones rise at 30 degrees. [M]
test('the isometric view shortens all three axes alike and sets them at 120 degrees', () => {
  near(ISOMETRIC_DEG, 35.264, 0.001);
  const view = viewFrom(45, ISOMETRIC_DEG);
  const axes = [[1, 0, 0], [0, 1, 0], [0, 0, 1]].map((axis) => projected(view, axis));
  for (const [x, y] of axes) near(Math.hypot(x, y), Math.sqrt(2 / 3));
  const angles = axes.map(([x, y]) => (Math.atan2(y, x) * 180) / Math.PI);
  near(angles[0], -150, 1e-6);
  near(angles[1], -30, 1e-6);
  near(angles[2], 90, 1e-6);
});

test('from above the picture is the plan, with east to the right and north up', () => {
  const view = viewFrom(270, 90);
  const [x, y] = projected(view, [3, 2, 1]);
  near(x, 3);
  near(y, 2);
});

test('from the south at eye level, heights are true and depth is lost', () => {
  const view = viewFrom(270, 0);
  const [x, y] = projected(view, [3, 99, 2.75]);
  near(x, 3);
  near(y, 2.75);
});

test('right, up and towards are square to each other, whatever the view', () => {
  for (const [turn, tilt] of [[0, 0], [37, 12], [235, 35], [311, 89]]) {
    const { right, up, towards } = viewFrom(turn, tilt);
    for (const one of [right, up, towards]) near(dot(one, one), 1);
    near(dot(right, up), 0);
    near(dot(right, towards), 0);
    near(dot(up, towards), 0);
  }
});

test('the normal stands on the side from which the corners run anticlockwise', () => {
  assert.deepEqual(normalOf([[0, 0, 0], [2, 0, 0], [2, 3, 0], [0, 3, 0]]), [0, 0, 1]);
  assert.deepEqual(normalOf([[0, 3, 0], [2, 3, 0], [2, 0, 0], [0, 0, 0]]), [0, 0, -1]);
});

test('inside an outline, also in the notch of an L', () => {
  const outline = [[0, 0], [4, 0], [4, 2], [2, 2], [2, 4], [0, 4]];
  assert.equal(inside(outline, [1, 3]), true);
  assert.equal(inside(outline, [3, 1]), true);
  assert.equal(inside(outline, [3, 3]), false);
});

const FLOOR = [[0, 0, 0], [4, 0, 0], [4, 3, 0], [0, 3, 0]];
const upright = (a, b, low, high) => [[...a, low], [...b, low], [...b, high], [...a, high]];
const WALLS = {
  south: upright([0, 0], [4, 0], 0, 2.5),
  east: upright([4, 0], [4, 3], 0, 2.5),
  north: upright([4, 3], [0, 3], 0, 2.5),
  west: upright([0, 3], [0, 0], 0, 2.5),
};

test('walls towards the reader stand open, whichever way their corners run', () => {
  for (const order of [(points) => points, (points) => [...points].reverse()]) {
    const shown = (turn) =>
      Object.keys(WALLS).filter((name) =>
        turnedTo(viewFrom(turn, 30), prepared({ kind: 'wall', points: order(WALLS[name]) }, FLOOR)),
      );
    assert.deepEqual(shown(235), ['east', 'north']);
    assert.deepEqual(shown(45), ['south', 'west']);
  }
});

test('in an L-shaped room the two walls of the notch are seen from inside as well', () => {
  const floor = [[0, 0, 0], [4, 0, 0], [4, 2, 0], [2, 2, 0], [2, 4, 0], [0, 4, 0]];
  const notch = prepared({ kind: 'wall', points: upright([4, 2], [2, 2], 0, 2.5) }, floor);
  near(notch.normal[1], -1);
  assert.equal(turnedTo(viewFrom(270, 30), notch), true);
  assert.equal(turnedTo(viewFrom(90, 30), notch), false);
});

/** Faces by name, ordered; seen from the south, half from above. */
function ordered(faces, view = viewFrom(270, 30)) {
  const names = Object.keys(faces);
  const ready = names.map((name) => prepared({ kind: 'obstacle', ...faces[name] }, FLOOR));
  return paintOrder(ready, view).map((index) => names[index]);
}

test('what stands nearer is painted later', () => {
  const order = ordered({
    near: { points: upright([1, 0.5], [3, 0.5], 0, 1) },
    far: { points: upright([1, 2], [3, 2], 0, 1) },
    middle: { points: upright([1, 1], [3, 1], 0, 1) },
  });
  assert.deepEqual(order, ['far', 'middle', 'near']);
});

test('a long face is ordered by its plane, not by its middle', () => {
  // The post is farther than the middle of the long table top but stands on the floor under it.
  const faces = {
    top: { points: [[0, 0, 0.7], [4, 0, 0.7], [4, 3, 0.7], [0, 3, 0.7]] },
    post: { points: upright([1.9, 0.4], [2.1, 0.4], 0, 0.6) },
  };
  assert.deepEqual(ordered(faces), ['post', 'top']);
  const view = viewFrom(270, 30);
  const depth = (points) => dot(view.towards, points.reduce((s, p) => s.map((v, i) => v + p[i] / points.length), [0, 0, 0]));
  assert.ok(depth(faces.post.points) > depth(faces.top.points), 'by middles it would be the other way');
});

test('what lies in one plane goes by rank: a panel after its wall', () => {
  const order = ordered({
    panel: { points: upright([1, 3], [2, 3], 1, 2), rank: 2 },
    wall: { points: upright([0, 3], [4, 3], 0, 2.5), rank: 1 },
  });
  assert.deepEqual(order, ['wall', 'panel']);
});

test('a circle of faces, each before the next, is still painted, every face once', () => {
  const bar = (a, b, c, d) => ({ points: [a, b, c, d] });
  const order = ordered(
    {
      one: bar([0, 0, 0], [3, 0, 1], [3, 0.5, 1], [0, 0.5, 0]),
      two: bar([2.5, 0, 0], [3, 0, 0], [3, 3, 1], [2.5, 3, 1]),
      three: bar([3, 2.5, 0], [3, 3, 0], [0, 3, 1], [0, 2.5, 1]),
      four: bar([0, 3, 0], [0.5, 3, 0], [0.5, 0, 1], [0, 0, 1]),
    },
    viewFrom(270, 90),
  );
  assert.deepEqual([...order].sort(), ['four', 'one', 'three', 'two']);
});

test('where one looks from is told in words', () => {
  assert.equal(standpoint({ turnDeg: 235, tiltDeg: 35.26 }), 'from the south-west, 35° above the floor');
  assert.equal(standpoint({ turnDeg: 359, tiltDeg: 10 }), 'from the east, 10° above the floor');
  assert.equal(standpoint({ turnDeg: 90, tiltDeg: 90 }), 'from above');
});

test('the room stays in the picture however it is turned', () => {
  const bounds = [0, 0, 0, 6, 4, 2.7];
  const size = { width: 700, height: 500 };
  for (const tilt of [0, 20, 35, 60, 90]) {
    const scale = fittingScale(bounds, tilt, size);
    for (let turn = 0; turn < 360; turn += 15) {
      const view = viewFrom(turn, tilt);
      const seen = [0, 6].flatMap((x) => [0, 4].flatMap((y) => [0, 2.7].map((z) => projected(view, [x, y, z]))));
      const across = Math.max(...seen.map(([x]) => x)) - Math.min(...seen.map(([x]) => x));
      const tall = Math.max(...seen.map(([, y]) => y)) - Math.min(...seen.map(([, y]) => y));
      assert.ok(scale * across <= size.width && scale * tall <= size.height, `${turn}°, ${tilt}°`);
    }
  }
});
