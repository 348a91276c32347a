/** The pure parts of the plan. Expected values are worked out by hand beside each; an inch is 25.4 mm
 * and a foot 12 inches by definition (international yard and pound agreement of 1959). [M] */

import assert from 'node:assert/strict';
import { test } from 'node:test';

import { bars, labels, labelStep } from '../../../src/wellheard/web/static/js/plan/border.js';
import { area, edgeBoxes, hatch, inside, nearestOn, offset, toWall } from '../../../src/wellheard/web/static/js/plan/geometry.js';
import { hit, itemsOf, readingOrder, spoken, within } from '../../../src/wellheard/web/static/js/plan/items.js';
import { choose, seatOptions } from '../../../src/wellheard/web/static/js/plan/labels.js';
import { bilinear } from '../../../src/wellheard/web/static/js/plan/map.js';
import { nearestWalls } from '../../../src/wellheard/web/static/js/plan/overlay.js';
import { onStep, onTiles, snap, squared } from '../../../src/wellheard/web/static/js/plan/snap.js';
import { CLOSEST, FARTHEST, View } from '../../../src/wellheard/web/static/js/plan/view.js';
import { outwards, patchPaths, solidWalls } from '../../../src/wellheard/web/static/js/plan/walls.js';
import { figure, lengthWords, placeWords, scaleWords, stepOf } from '../../../src/wellheard/web/static/js/plan/words.js';

const near = (actual, expected, slack = 1e-9) => {
  assert.equal(actual.length, expected.length);
  actual.forEach((value, k) => assert.ok(Math.abs(value - expected[k]) <= slack, `${actual} is not ${expected}`));
};
const SQUARE = [[0, 0], [4, 0], [4, 3], [0, 3]];
const L_SHAPE = [[0, 0], [4, 0], [4, 2], [2, 2], [2, 4], [0, 4]];
const TILES = { module: [0.6, 1.2], origin: [0.2, 0.1], rotation_deg: 0 };

// The view -------------------------------------------------------------------------------------

test('a point comes back from the screen where it was', () => {
  const view = new View();
  Object.assign(view, { scale: 137.3, x: 41.7, y: 512.9 });
  near(view.toPlan(view.toScreen([2.345, -1.2])), [2.345, -1.2]);
});

test('north is up: one metre north is scale pixels less', () => {
  const view = new View();
  const [, low] = view.toScreen([0, 0]);
  const [, high] = view.toScreen([0, 1]);
  assert.equal(low - high, view.scale);
});

test('what is under the pointer stays under it while zooming', () => {
  const view = new View();
  Object.assign(view, { scale: 90, x: 60, y: 500 });
  const before = view.toPlan([333, 222]);
  view.zoom(1.7, [333, 222]);
  near(view.toPlan([333, 222]), before);
  assert.ok(Math.abs(view.scale - 153) < 1e-9);
});

test('zooming ends at both ends, and the point still stays', () => {
  const view = new View();
  const before = view.toPlan([10, 20]);
  view.zoom(1e9, [10, 20]);
  assert.equal(view.scale, CLOSEST);
  view.zoom(1e-9, [10, 20]);
  assert.equal(view.scale, FARTHEST);
  near(view.toPlan([10, 20]), before, 1e-6);
});

test('all of a room is shown, in the middle of what the margins leave', () => {
  const view = new View();
  Object.assign(view, { width: 800, height: 600 });
  view.fit([-1, 0, 7, 4], { left: 100, right: 0, top: 0, bottom: 100 });
  assert.equal(view.scale, 87.5); // 700 px for 8 m; 500 px would do for 4 m at 125
  near(view.toScreen([3, 2]), [450, 250]); // the middle of x 100–800, y 0–500
});

// The border -----------------------------------------------------------------------------------

test('labels stand at round steps that leave them room', () => {
  assert.equal(labelStep(100, 'm', 52), 1);
  assert.equal(labelStep(30, 'm', 52), 2);
  assert.equal(labelStep(200, 'm', 52), 0.5);
  assert.equal(labelStep(30.48, 'ft', 52), 2);
  assert.equal(labelStep(1, 'ft', 52), 100);
});

test('the first length after nought is dark on every side', () => {
  assert.deepEqual(bars(0, 100, 20, 20), [[20, 40], [60, 80]]);
  assert.deepEqual(bars(0, 100, 80, 20, true), [[20, 40], [60, 80]]);
  assert.deepEqual(bars(10, 70, 20, 20), [[20, 40], [60, 70]]);
});

test('labels count over the room only, and nought wears the unit', () => {
  assert.deepEqual(labels(0, 2.5, 1, 'm').map((one) => one.words), ['0 m', '1', '2']);
  assert.deepEqual(labels(-1, 1, 0.5, 'm').map((one) => one.words), ['−1.0', '−0.5', '0 m', '0.5', '1.0']);
  const feet = labels(0, 20 * 0.3048, 5, 'ft');
  assert.deepEqual(feet.map((one) => one.words), ['0 ft', '5', '10', '15', '20']);
  assert.ok(Math.abs(feet[2].at - 3.048) < 1e-9);
});

// Words ----------------------------------------------------------------------------------------

test('lengths read as on the sheet', () => {
  assert.equal(lengthWords(2.3, 'm'), '2.30\u00a0m');
  assert.equal(lengthWords(-0.05, 'm'), '−0.05\u00a0m');
  assert.equal(lengthWords(-0.001, 'm'), '0.00\u00a0m');
  assert.equal(lengthWords(2.1336, 'ft'), '7\'-0"');
  assert.equal(lengthWords(0.0254 * 90.5, 'ft'), '7\'-6½"');
  assert.equal(lengthWords(0.0254 * 11.99, 'ft'), '1\'-0"'); // rounds up into the next foot
  assert.equal(lengthWords(-0.0254, 'ft'), '−0\'-1"');
  assert.equal(placeWords([4.72, 1.3], 'm'), '4.72, 1.30\u00a0m');
});

test('figures keep their decimals and a true minus', () => {
  assert.equal(figure(0.6, 2), '0.60');
  assert.equal(figure(-6, 1), '−6.0');
  assert.equal(figure(-0.04, 1), '0.0');
});

test('a centimetre of the screen is 96 / 2.54 pixels, as CSS has it', () => {
  assert.equal(scaleWords((96 / 2.54) * 2), '1 : 50 on the screen'); // 2 cm a metre
  assert.equal(scaleWords((96 / 2.54) * 0.5), '1 : 200 on the screen');
});

// Snapping -------------------------------------------------------------------------------------

test('a ceiling device snaps to the nearest tile centre or crossing', () => {
  near(onTiles([0.22, 0.12], TILES), [0.2, 0.1]); // the crossing at the origin
  near(onTiles([0.47, 0.75], TILES), [0.5, 0.7]); // the centre of the first tile
  near(onTiles([0.78, 1.22], TILES), [0.8, 1.3]); // the crossing at its far corner
  near(onTiles([-0.12, -0.52], TILES), [-0.1, -0.5]); // beyond the origin as well
});

test('tiles that are turned are snapped to as they lie', () => {
  const turned = { module: [1, 1], origin: [1, 1], rotation_deg: 90 };
  near(onTiles([0.45, 1.55], turned), [0.5, 1.5]); // a centre, a quarter turn round (1, 1)
  const slanted = { module: [1, 1], origin: [0, 0], rotation_deg: 45 };
  near(onTiles([0.72, 0.69], slanted), [Math.SQRT1_2, Math.SQRT1_2]); // crossing one along the turned axis
});

test('everything else snaps to a round distance, and nothing where it is free', () => {
  near(onStep([1.234, 0.876], 0.05), [1.25, 0.9]);
  assert.equal(stepOf('m'), 0.05);
  assert.equal(Math.round(stepOf('ft') * 1e9) / 1e9, 0.0254);
  near(snap([1.234, 0.876], { tiles: TILES, step: 0.05, ceiling: false, free: false }), [1.25, 0.9]);
  near(snap([0.47, 0.75], { tiles: TILES, step: 0.05, ceiling: true, free: false }), [0.5, 0.7]);
  near(snap([0.47, 0.76], { tiles: null, step: 0.05, ceiling: true, free: false }), [0.45, 0.75]);
  near(snap([0.47, 0.761], { tiles: TILES, step: 0.05, ceiling: true, free: true }), [0.47, 0.761]);
});

test('a corner is pulled level with its neighbours', () => {
  const rules = { step: 0.05, near: 0.1, free: false };
  near(squared([4.07, 2.93], [[4, 0], [0, 3]], rules), [4, 3]);
  near(squared([4.57, 2.93], [[4, 0], [0, 3]], rules), [4.55, 3]);
  near(squared([4.07, 2.93], [[4, 0], [0, 3]], { ...rules, free: true }), [4.07, 2.93]);
});

// The value under the pointer ------------------------------------------------------------------

const GRID = { x0: 1, y0: 2, dx: 0.5, dy: 1, columns: 3, rows: 2, values: [0, 1, 2, 10, 11, null] };

test('a value is read between four figures', () => {
  assert.equal(bilinear(GRID, [1, 2]), 0);
  assert.equal(bilinear(GRID, [1.5, 3]), 11);
  assert.ok(Math.abs(bilinear(GRID, [1.25, 2.5]) - 5.5) < 1e-12); // (0 + 1 + 10 + 11) / 4
  assert.ok(Math.abs(bilinear(GRID, [1.125, 2.75]) - 7.75) < 1e-12); // 0.25 along, 7.5 up
});

test('no value is made up beside an unknown one or outside', () => {
  assert.equal(bilinear(GRID, [1.75, 2.5]), null);
  assert.equal(bilinear(GRID, [1.75, 2]), 1.5); // on the edge, the unknown one has no weight
  assert.equal(bilinear(GRID, [0.9, 2.5]), null);
  assert.equal(bilinear(GRID, [2.1, 2.5]), null);
  assert.equal(bilinear(GRID, [1, 3.2]), null);
});

// Geometry -------------------------------------------------------------------------------------

test('areas, insides and nearest points of an L', () => {
  assert.equal(area(L_SHAPE), 12);
  assert.equal(area([...L_SHAPE].reverse()), -12);
  assert.ok(inside([1, 3], L_SHAPE));
  assert.ok(!inside([3, 3], L_SHAPE));
  assert.deepEqual(nearestOn([5, 1], [0, 0], [4, 0]), { at: [4, 0], share: 1 });
});

test('a ring grows by the same distance on every side, whichever way it runs', () => {
  const grown = [[-1, -1], [5, -1], [5, 4], [-1, 4]];
  offset(SQUARE, 1).forEach((corner, k) => near(corner, grown[k]));
  assert.ok(Math.abs(area(offset([...SQUARE].reverse(), 1))) === 30);
  assert.ok(Math.abs(area(offset(L_SHAPE, 1)) - 32) < 1e-9); // 6 × 6 less the notch, still 2 × 2
});

test('a wall is as far as one would measure it, round a notch too', () => {
  assert.equal(toWall([1, 1], [1, 0], L_SHAPE), 3);
  assert.equal(toWall([1, 3], [1, 0], L_SHAPE), 1);
  assert.equal(toWall([1, 3], [0, -1], L_SHAPE), 3);
  assert.equal(toWall([9, 1], [1, 0], L_SHAPE), null);
});

test('the nearer wall of each direction is shown, from the edge of a thing', () => {
  const table = { at: [2, 1], ring: [[1, 0.5], [2, 0.5], [2, 1.5], [1, 1.5]], segment: null };
  const found = nearestWalls(table, [0.5, 0], SQUARE);
  assert.deepEqual(found.map(({ length, level }) => [length, level]), [[1.5, true], [0.5, false]]);
});

test('a hatch stays inside what it fills', () => {
  const strokes = hatch(L_SHAPE, 0.5);
  assert.ok(strokes.length > 8);
  for (const [a, b] of strokes) {
    assert.ok(Math.abs(a[0] + a[1] - b[0] - b[1]) < 1e-9); // at 45°
    assert.ok(inside([(a[0] + b[0]) / 2, (a[1] + b[1]) / 2], L_SHAPE));
  }
});

// Walls ----------------------------------------------------------------------------------------

const shoelace = (data) => data.split('Z').filter(Boolean).map((part) => Math.abs(area(part.slice(1).split('L').map((pair) => pair.split(' ').map(Number)))));

test('walls are solid but for windows and doors', () => {
  const whole = shoelace(solidWalls(SQUARE, []));
  assert.equal(whole.length, 4);
  // a frame of 0.1 m round 4 × 3 m: 4.2 × 3.2 − 12
  assert.ok(Math.abs(whole.reduce((a, b) => a + b) - 1.44) < 1e-6);
  const door = { kind: 'door', from: [1, 0], to: [2, 0], hinge: 'start' };
  const panel = { kind: 'panel', from: [0, 1], to: [0, 2], hinge: null };
  const cut = shoelace(solidWalls(SQUARE, [door, panel]));
  assert.equal(cut.length, 5);
  assert.ok(Math.abs(cut.reduce((a, b) => a + b) - 1.34) < 1e-6); // 1 m of 0.1 m less
});

test('an opening given against the way of the wall is cut as well', () => {
  const window = { kind: 'window', from: [3, 3], to: [1, 3], hinge: null };
  const turned = { kind: 'window', from: [1, 3], to: [3, 3], hinge: null };
  assert.equal(solidWalls(SQUARE, [window]), solidWalls(SQUARE, [turned]));
});

test('a wall looks out of the room whichever way the outline runs', () => {
  assert.deepEqual(outwards(SQUARE, [0, 0], [4, 0]).map((u) => u + 0), [0, -1]);
  assert.deepEqual(outwards([...SQUARE].reverse(), [4, 0], [0, 0]).map((u) => u + 0), [0, -1]);
});

test('a door opens into the room about its hinge', () => {
  const paths = patchPaths({ kind: 'door', from: [1, 0], to: [2, 0], hinge: 'start' }, SQUARE);
  assert.equal(paths.bold, 'M1 0L1 1'); // the leaf, as long as the opening is wide
  assert.ok(paths.hair.endsWith('M1 1A1 1 0 0 0 2 0')); // clockwise to the latch in a plan with y up
  const other = patchPaths({ kind: 'door', from: [1, 0], to: [2, 0], hinge: 'end' }, SQUARE);
  assert.equal(other.bold, 'M2 0L2 1');
  assert.ok(other.hair.endsWith('M2 1A1 1 0 0 1 1 0'));
});

// Things ---------------------------------------------------------------------------------------

const ROOM = itemsOf({
  seats: [
    { path: 'people.seats.s1', id: 's1', at: [1, 2.6], facing_deg: 270 },
    { path: 'people.seats.s2', id: 's2', at: [2, 2.5], facing_deg: 270 },
    { path: 'people.seats.s3', id: 's3', at: [0.5, 0.5], facing_deg: 90 },
  ],
  furniture: [{ path: 'furniture.table', id: 'table', kind: 'table', outline: [[0.5, 1], [3.5, 1], [3.5, 2.3], [0.5, 2.3]] }],
  overhead: [{ path: 'overhead.lamp', id: 'lamp', kind: 'luminaire', outline: [[1, 1.2], [3, 1.2], [3, 1.8], [1, 1.8]], clearance: 0 }],
  devices: [{ path: 'devices.m1', id: 'm1', label: 'M1', symbol: 'mic-ceiling', at: [2, 1.5, 2.4], height_words: '2400', product: 'ceiling-head-3', locked: true, on_ceiling: true }],
  patches: [{ path: 'space.finishes.patches.door', kind: 'door', from: [3, 0], to: [3.9, 0], hinge: 'start', words: 'door' }],
});

test('a hand means the symbol before what lies under it, and the smaller area before the larger', () => {
  const at = (point) => hit(ROOM.values(), point, 100)?.path ?? null;
  assert.equal(at([2.1, 1.5]), 'devices.m1');
  assert.equal(at([2.5, 1.5]), 'overhead.lamp');
  assert.equal(at([3.3, 1.5]), 'furniture.table');
  assert.equal(at([3.4, 0.05]), 'space.finishes.patches.door');
  assert.equal(at([0.2, 2.9]), null);
});

test('of two symbols within reach the nearer one is meant', () => {
  const two = itemsOf({ seats: [{ path: 'a', id: 'a', at: [0, 0] }, { path: 'b', id: 'b', at: [0.1, 0] }] });
  assert.equal(hit(two.values(), [0.04, 0], 100).path, 'a');
  assert.equal(hit(two.values(), [0.06, 0], 100).path, 'b');
  assert.equal(hit(two.values(), [0.3, 0], 100), null); // 20 px off
  assert.equal(hit(two.values(), [0.3, 0], 50).path, 'b'); // 10 px off
});

test('things are walked through as one reads: rows from the top, each from the left', () => {
  const seats = ['s1', 's2', 's3'].map((id) => ROOM.get(`people.seats.${id}`));
  assert.deepEqual(readingOrder([...seats].reverse()), ['people.seats.s1', 'people.seats.s2', 'people.seats.s3']);
  assert.equal(new Set(readingOrder(ROOM.values())).size, ROOM.size);
});

test('a band holds what lies wholly in it', () => {
  const found = within(ROOM.values(), [2.2, 2.7], [0.4, 0.9]).map((item) => item.path);
  assert.deepEqual(found, ['people.seats.s1', 'people.seats.s2', 'devices.m1']);
});

test('a thing says what it is, its figure and its state', () => {
  const mark = { figure: '0.65', state: 'kept' };
  assert.equal(spoken(ROOM.get('people.seats.s1'), mark, 'STI outbound'), 'seat s1, STI outbound 0.65, kept');
  assert.equal(spoken(ROOM.get('devices.m1'), undefined, ''), 'M1, ceiling-head-3, at 2400, locked');
  assert.equal(spoken(ROOM.get('furniture.table'), undefined, ''), 'table');
});

// Words beside symbols -------------------------------------------------------------------------

const measure = (words, size) => words.length * size * 0.55;

test('the figure stands behind the chair, the name beside it', () => {
  const seat = { facing: 270, figure: '0.65', state: 'kept', name: 's1' };
  const [[first]] = seatOptions(seat, measure);
  const [words, name] = first;
  assert.equal(words.part, 'figure');
  assert.ok(words.y < -8, 'north of a chair that looks south');
  assert.equal(name.anchor, 'end');
});

test('no word covers another or a symbol while there is room', () => {
  const seat = { facing: 90, figure: '0.65', state: 'at risk', name: 's10' };
  const places = Array.from({ length: 12 }, (_, k) => [50 + (k % 4) * 70, 60 + Math.floor(k / 4) * 60]);
  const symbols = places.map(([x, y]) => ({ x: x - 9, y: y - 9, w: 18, h: 18 }));
  const taken = [...symbols];
  const things = places.map((at, k) => ({ path: String(k), at, options: seatOptions(seat, measure) }));
  const chosen = choose(things, taken);
  assert.equal(chosen.size, 12);
  for (let a = 0; a < taken.length; a += 1) {
    for (let b = a + 1; b < taken.length; b += 1) {
      const [p, q] = [taken[a], taken[b]];
      const together = a >= 12 && Math.floor((a - 12) / 3) === Math.floor((b - 12) / 3); // words of one seat
      const apart = p.x >= q.x + q.w || q.x >= p.x + p.w || p.y >= q.y + q.h || q.y >= p.y + p.h;
      assert.ok(together || apart, `${a} covers ${b}`);
    }
  }
});

test('edges of things are known to words as thin boxes', () => {
  assert.equal(edgeBoxes(SQUARE.map(([x, y]) => [x * 100, y * 100])).length, 4);
  const slanted = edgeBoxes([[0, 0], [60, 60], [0, 60]]);
  assert.ok(slanted.length > 8);
  assert.ok(slanted.every(({ w, h }) => Math.min(w, h) <= 13));
});
