/** What is drawn is the newest that is known, and what the hand does is answered for the newest
 * position only; each story is worked out by hand. */

import assert from 'node:assert/strict';
import { beforeEach, mock, test } from 'node:test';

import { Desk, deskFor } from '../../../src/wellheard/web/static/js/desk.js';
import { FakeStorage, HandServer, heard, settle } from './fakes.mjs';

beforeEach(() => {
  mock.timers.reset();
  mock.timers.enable({ apis: ['setTimeout', 'setInterval', 'Date'] });
});

const plan = (version, more = {}) => ({ version, units: 'm', aspects: {}, ...more });
const figures = (version, more = {}) => ({ version, ledger: { rows: [] }, ...more });

/** A desk that has drawn version 12. */
async function opened() {
  const server = new HandServer();
  const desk = new Desk('tide room', { fetch: server.fetch, storage: new FakeStorage() });
  desk.start();
  await settle();
  server.last('/plan').answer(plan(12));
  await settle();
  server.last('/figures').answer(figures(12));
  await settle();
  return { desk, server };
}

const edit = [{ path: 'people.seats.s1.at', set: [1, 1] }];

test('a page has one desk for a room, and a key is a part of an address, not a path', async () => {
  assert.equal(deskFor('tide'), deskFor('tide'));
  assert.notEqual(deskFor('tide'), deskFor('quay'));
  const { server } = await opened();
  assert.ok(server.asked.every(({ url }) => url.startsWith('/api/rooms/tide%20room/')));
});

test('starting twice asks once', async () => {
  const { desk, server } = await opened();
  const before = server.asked.length;
  desk.start();
  await settle();
  assert.equal(server.asked.length, before);
});

test('a version that arrives is drawn, and old news is not asked for', async () => {
  const { desk, server } = await opened();
  const events = heard(desk, 'plan', 'figures');
  desk.arrived(11);
  desk.arrived(14);
  await settle();
  assert.equal(server.of('/plan').length, 2);
  server.last('/plan').answer(plan(14));
  await settle();
  server.last('/figures').answer(figures(14));
  await settle();
  assert.deepEqual([...new Set(events.map(({ name }) => name))], ['plan', 'figures']);
  assert.equal(desk.plan.version, 14);
});

test('an answer that is older than what is known is dropped and asked again', async () => {
  const { desk, server } = await opened();
  desk.arrived(13);
  await settle();
  desk.arrived(14);
  await settle();
  server.last('/plan').answer(plan(13));
  server.last('/figures').answer(figures(13));
  await settle();
  assert.equal(desk.plan.version, 12);
  assert.equal(desk.figures.version, 12);
  server.last('/plan').answer(plan(14));
  server.last('/figures').answer(figures(14));
  await settle();
  assert.equal(desk.plan.version, 14);
  assert.equal(desk.figures.version, 14);
});

test('figures of the quantity before are dropped when they come late', async () => {
  const { desk, server } = await opened();
  desk.show({ quantity: 'level' });
  await settle();
  desk.show({ quantity: 'c50' });
  await settle();
  const [, level] = server.of('/figures');
  level.answer(figures(12, { of: 'level' }));
  await settle();
  assert.equal(desk.figures.of, undefined);
  assert.match(server.last('/figures').url, /quantity=c50/);
  server.last('/figures').answer(figures(12, { of: 'c50' }));
  await settle();
  assert.equal(desk.figures.of, 'c50');
});

test('busy says in words that figures are coming, and nothing when they are here', async () => {
  const { desk, server } = await opened();
  assert.equal(desk.busy, '');
  const events = heard(desk, 'busy');
  desk.show({ quantity: 'level' });
  await settle();
  mock.timers.tick(3000);
  server.last('/figures').answer(figures(12));
  await settle();
  const words = events.map(({ detail }) => detail);
  assert.equal(words[0], 'Working out the figures…');
  assert.ok(words.includes('Working out the figures: 3\u00a0s'));
  assert.equal(words.at(-1), '');
});

test('an item that was put somewhere stays there until the plan with it comes', async () => {
  const { desk, server } = await opened();
  const events = heard(desk, 'plan');
  desk.commit(edit, 'move s1');
  desk.arrived(13); // of somebody else, while ours is on its way
  await settle();
  assert.equal(server.of('/plan').length, 1, 'no plan without our edit');
  server.last('/commit').answer({ version: 14, merged: true, created: [] });
  await settle();
  server.last('/plan').answer(plan(14));
  await settle();
  assert.deepEqual(events.map(({ detail }) => detail.version), [14]);
});

test('a plan that was on its way before an edit was made does not undo it on the screen', async () => {
  const { desk, server } = await opened();
  const events = heard(desk, 'plan');
  desk.arrived(13);
  await settle();
  const late = server.last('/plan');
  desk.commit(edit, 'move s1');
  await settle();
  late.answer(plan(13));
  await settle();
  assert.equal(events.length, 0);
  server.last('/commit').answer({ version: 14, merged: true, created: [] });
  await settle();
  server.last('/plan').answer(plan(14));
  await settle();
  assert.equal(desk.plan.version, 14);
});

test('a refused edit brings the last valid drawing back', async () => {
  const { desk, server } = await opened();
  const events = heard(desk, 'plan', 'status');
  desk.commit(edit, 'move s1');
  await settle();
  server.last('/commit').answer({ error: 'refused', problems: [{ where: '', what: 'outside the room' }] }, 422);
  await settle();
  assert.deepEqual(
    events.map(({ name, detail }) => (name === 'plan' ? detail.version : detail.state)),
    ['saving', 'refused', 12],
  );
});

test('an edit is based on what was drawn', async () => {
  const { desk, server } = await opened();
  desk.arrived(13);
  desk.commit(edit, 'move s1');
  await settle();
  assert.equal(server.last('/commit').body.base, 12);
});

test('while the hand moves one question is on its way, and then the latest position', async () => {
  const { desk, server } = await opened();
  const events = heard(desk, 'live');
  for (const x of [1, 2, 3, 4]) desk.drag({ 'devices.m1': [x, 1, 2.4] });
  await settle();
  assert.equal(server.of('/live').length, 1);
  server.last('/live').answer({ seq: server.last('/live').body.seq, x: 1 });
  await settle();
  assert.deepEqual(
    server.of('/live').map(({ body }) => body.moves['devices.m1'][0]),
    [1, 4],
  );
  server.last('/live').answer({ seq: server.last('/live').body.seq, x: 4 });
  await settle();
  assert.equal(server.of('/live').length, 2);
  assert.deepEqual(events.map(({ detail }) => detail.x), [1, 4]);
});

test('an answer under a number that was not asked is not shown', async () => {
  const { desk, server } = await opened();
  const events = heard(desk, 'live');
  desk.drag({ 'devices.m1': [1, 1, 2.4] });
  await settle();
  server.last('/live').answer({ seq: 99 });
  await settle();
  assert.equal(events.length, 0);
});

test('an answer that takes longer than two seconds is given up for the latest position', async () => {
  const { desk, server } = await opened();
  const events = heard(desk, 'live');
  desk.drag({ 'devices.m1': [1, 1, 2.4] });
  desk.drag({ 'devices.m1': [2, 1, 2.4] });
  await settle();
  mock.timers.tick(1999);
  await settle();
  assert.equal(server.of('/live').length, 1);
  mock.timers.tick(1);
  await settle();
  assert.equal(server.of('/live').length, 2);
  server.of('/live')[0].answer({ seq: 1 });
  server.of('/live')[1].answer({ seq: 2 });
  await settle();
  assert.deepEqual(events.map(({ detail }) => detail.seq), [2]);
});

test('a hand that moves on does not wait for the prediction of its rest', async () => {
  const { desk, server } = await opened();
  const events = heard(desk, 'live');
  desk.rest({ 'devices.m1': [1, 1, 2.4] });
  await settle();
  desk.drag({ 'devices.m1': [2, 1, 2.4] });
  await settle();
  assert.deepEqual(server.of('/live').map(({ body }) => body.rest), [true, false]);
  server.of('/live')[0].answer({ seq: 1 });
  server.of('/live')[1].answer({ seq: 2 });
  await settle();
  assert.deepEqual(events.map(({ detail }) => detail.rest), [false]);
});

test('nothing is shown after the hand let go', async () => {
  const { desk, server } = await opened();
  const events = heard(desk, 'live', 'drop');
  desk.drag({ 'devices.m1': [1, 1, 2.4] });
  await settle();
  desk.drop();
  server.last('/live').answer({ seq: 1 });
  await settle();
  assert.deepEqual(events.map(({ name }) => name), ['drop']);
});

test('the path that was asked for last is shown, whichever answer comes first', async () => {
  const { desk, server } = await opened();
  desk.openPath('people.seats.s1');
  desk.openPath('s2');
  await settle();
  const [first, second] = server.of('/path/');
  assert.match(first.url, /\/path\/s1\?/);
  second.answer({ title: 's2' });
  await settle();
  first.answer({ title: 's1' });
  await settle();
  assert.equal(desk.path.title, 's2');
});

test('choosing with add puts in and takes out, and the same choice is no news', async () => {
  const { desk } = await opened();
  const events = heard(desk, 'selection');
  desk.select(['people.seats.s1']);
  desk.select(['people.seats.s1']);
  desk.select(['people.seats.s2'], { add: true });
  desk.select(['people.seats.s1'], { add: true });
  assert.equal(events.length, 3);
  assert.deepEqual([...desk.selection], ['people.seats.s2']);
});

test('what is gone from the room is chosen no more', async () => {
  const { desk, server } = await opened();
  desk.select(['people.seats.s1', 'people.seats.s2']);
  desk.arrived(13);
  await settle();
  server.last('/plan').answer(plan(13, { aspects: { 'people.seats.s2': [] } }));
  await settle();
  assert.deepEqual([...desk.selection], ['people.seats.s2']);
});

test('a page that is no longer let in says so, and asks nothing more', async () => {
  const { desk, server } = await opened();
  desk.arrived(13);
  await settle();
  server.last('/plan').answer({ error: 'no-entry' }, 401);
  server.last('/figures').answer({ error: 'no-entry' }, 401);
  await settle();
  assert.match(desk.status.words, /no longer let in; open the address that wellheard serve printed/);
  assert.equal(desk.busy, '');
  const asked = server.asked.length;
  desk.arrived(15);
  desk.drag({ 'devices.m1': [1, 1, 2.4] });
  desk.commit(edit, 'move s1');
  await settle();
  assert.equal(server.asked.length, asked);
  assert.match(desk.status.words, /no longer let in/);
});

test('a server that is gone is told, asked again, and found again', async () => {
  const { desk, server } = await opened();
  desk.arrived(13);
  await settle();
  server.last('/plan').fail();
  await settle();
  assert.equal(desk.status.state, 'waiting');
  mock.timers.tick(500);
  await settle();
  server.last('/plan').answer(plan(13));
  await settle();
  assert.equal(desk.status.state, 'saved');
  assert.equal(desk.plan.version, 13);
});

test('figures that cannot be worked out say why, and are not asked for without end', async () => {
  const { desk, server } = await opened();
  desk.show({ quantity: 'level' });
  await settle();
  server.last('/figures').answer({ error: 'refused', message: 'no seats' }, 422);
  await settle();
  assert.equal(desk.busy, 'The figures cannot be worked out: no seats');
  const asked = server.asked.length;
  mock.timers.tick(60000);
  await settle();
  assert.equal(server.asked.length, asked);
});

test('an edit of the file that cannot be read is told, and the drawing stays', async () => {
  const { desk, server } = await opened();
  desk.arrived(12);
  await settle();
  const problem = { where: 'space.height', what: 'height is −2 m', allowed: '1.8 to 20 m' };
  server.last('/plan').answer(plan(12, { problems: [problem] }));
  await settle();
  assert.match(desk.status.words, /cannot be read: height is −2 m; 1\.8 to 20 m\. The last valid/);
  desk.arrived(13);
  await settle();
  server.last('/plan').answer(plan(13, { saved_at: '15:00:00' }));
  await settle();
  assert.equal(desk.status.words, 'saved 15:00:00');
});
