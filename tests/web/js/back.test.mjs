/** Ways of a voice: which one is followed, how it is drawn, and what a lacking figure says. */

import assert from 'node:assert/strict';
import { beforeEach, mock, test } from 'node:test';

import { cellOf } from '../../../src/wellheard/web/static/js/back.js';
import { Desk } from '../../../src/wellheard/web/static/js/desk.js';
import { moving } from '../../../src/wellheard/web/static/js/ledger.js';
import { legsOf } from '../../../src/wellheard/web/static/js/plan/overlay.js';
import { FakeStorage, HandServer, settle } from './fakes.mjs';

beforeEach(() => {
  mock.timers.reset();
  mock.timers.enable({ apis: ['setTimeout', 'setInterval', 'Date'] });
});

test('a way is drawn leg by leg, from its first point to its second, from the third to the fourth', () => {
  assert.deepEqual(legsOf([[0, 0], [1, 0]]), [[[0, 0], [1, 0]]]);
  assert.deepEqual(legsOf([[0, 0], [1, 0], [4, 4], [5, 5]]), [[[0, 0], [1, 0]], [[4, 4], [5, 5]]]);
  assert.deepEqual(legsOf([]), []);
});

test('a figure that is lacking says why, one that is there does not', () => {
  const row = { tail: '–', can_add: '45.0', why: 'its sheet states no tail' };
  assert.deepEqual(cellOf(row, 'tail'), { words: '–', why: 'its sheet states no tail' });
  assert.deepEqual(cellOf(row, 'can_add'), { words: '45.0', why: null });
  assert.deepEqual(cellOf(row, 'nothing'), { words: '–', why: 'its sheet states no tail' });
});

test('while the hand moves what is heard of the far end stays as it was', () => {
  const row = { path: 'people.seats.s1', sti: '0.63', inbound: '0.71', inbound_level: '69.2' };
  const now = moving(row, { sti: '0.65' });
  assert.equal(now.inbound, '0.71');
  assert.equal(now.inbound_level, '69.2');
});

test('another way of the same place is asked for when it is followed, and kept for the next place', async () => {
  const server = new HandServer();
  const desk = new Desk('room', { fetch: server.fetch, storage: new FakeStorage() });
  desk.openPath('people.seats.s1');
  desk.follow('inbound');
  desk.openPath('people.seats.s2');
  await settle();
  const ways = server.of('/path/').map(({ url }) => /path\/(\w+)\?.*way=(\w+)/.exec(url).slice(1));
  assert.deepEqual(ways, [['s1', 'outbound'], ['s1', 'inbound'], ['s2', 'inbound']]);
  desk.follow('inbound');
  await settle();
  assert.equal(server.of('/path/').length, 3);
});
