/** What the parts of the page work out before they draw; figures by hand. */

import assert from 'node:assert/strict';
import { test } from 'node:test';

import { ordered } from '../../../src/wellheard/web/static/js/findings.js';
import { along, moving, parts } from '../../../src/wellheard/web/static/js/ledger.js';
import { entryOf, operationOf, problemsAt } from '../../../src/wellheard/web/static/js/panel.js';

// The scale of the drawn example: 0.58 to 0.72 over 120 px; the promise 0.62 stands at 34.29 px, as
// the sheet of the look has it.
const scale = { low: 0.58, high: 0.72, promise: 0.62 };

test('values stand on the scale in proportion, and never outside it', () => {
  assert.equal(along(scale, 0.62), 34.29);
  assert.equal(along(scale, 0.7), 102.86);
  assert.equal(along(scale, 0.5), 0);
  assert.equal(along(scale, 0.9), 120);
});

test('a range is hollow where it misses the promise and filled where it meets it', () => {
  assert.deepEqual(parts(scale, { low: 0.59, high: 0.66 }), { hollow: [8.57, 34.29], filled: [34.29, 68.57] });
  assert.deepEqual(parts(scale, { low: 0.59, high: 0.61 }), { hollow: [8.57, 25.71], filled: null });
  assert.deepEqual(parts(scale, { low: 0.64, high: 0.66 }), { hollow: null, filled: [51.43, 68.57] });
});

test('without a promise a whole range is filled', () => {
  assert.equal(parts({ ...scale, promise: null }, { low: 0.59, high: 0.61 }).hollow, null);
});

test('while the hand moves a row keeps its name, and what is not known yet is left out', () => {
  const row = { path: 'people.seats.s1', id: 's1', sti: '0.63', chance: '58 %', low: 0.59, high: 0.66 };
  const now = moving(row, { sti: '0.65', middle: 0.65 });
  assert.deepEqual(now, { ...row, sti: '0.65', middle: 0.65, chance: '', low: null, high: null });
});

test('findings stand worst first, what is not assessed last, and keep their order otherwise', () => {
  const rows = ['not assessed', 'at risk', 'broken', 'at risk', 'kept'].map((state, n) => ({ state, n }));
  assert.deepEqual(ordered(rows).map(({ n }) => n), [2, 1, 3, 4, 0]);
});

test('a length goes as it was typed, a finish as what was chosen', () => {
  assert.deepEqual(operationOf({ path: 'devices.m1.at.2', kind: 'length' }, "7'-9\""), { path: 'devices.m1.at.2', typed: "7'-9\"" });
  assert.deepEqual(operationOf({ path: 'space.finishes.floor', kind: 'finish' }, 'vinyl-floor'), { path: 'space.finishes.floor', set: 'vinyl-floor' });
});

test('a problem is told at the field it belongs to, and all of them where none does', () => {
  const height = { where: 'devices.m1.at', what: 'above the ceiling' };
  const other = { where: 'people.seats.s1', what: 'outside the room' };
  assert.deepEqual(problemsAt('devices.m1.at.2', [height, other]), [height]);
  assert.deepEqual(problemsAt('devices.m1.at.2', [other]), [other]);
});

test('an item is found by its path in whatever list it stands', () => {
  const plan = { seats: [{ path: 'people.seats.s1', id: 's1' }], walls: [{ path: 'space.walls.0', name: 'south' }] };
  assert.equal(entryOf(plan, 'space.walls.0').name, 'south');
  assert.equal(entryOf(plan, 'devices.m1'), null);
});
