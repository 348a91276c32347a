/** Edits arrive once, in order, and are kept until the server has them. The expectations are the
 * rules of the product ("only a persisted commit counts"), worked out by hand for each story. */

import assert from 'node:assert/strict';
import { beforeEach, mock, test } from 'node:test';

import { Outbox, item, named } from '../../../src/wellheard/web/static/js/outbox.js';
import { FakeStorage, settle } from './fakes.mjs';

beforeEach(() => {
  mock.timers.reset();
  mock.timers.enable({ apis: ['setTimeout', 'setInterval', 'Date'] });
});

/** An outbox and the questions it asks, each to be answered by hand. */
function outbox(storage = new FakeStorage(), key = 'tide') {
  const posts = [];
  const told = [];
  const post = (kind, body) =>
    new Promise((resolve, reject) => {
      posts.push({
        kind,
        body: structuredClone(body),
        answer: (answer, status = 200) => resolve({ status, body: answer }),
        fail: () => reject(new TypeError('Failed to fetch')),
      });
    });
  const box = new Outbox(key, { post, storage, told: (status) => told.push(status) });
  return { box, posts, told, storage };
}

const move = (id, x = 1) => ({
  operations: [{ do: 'move', items: [`people.seats.${id}`], by: [x, 0] }],
  what: `move ${id}`,
  base: 12,
});
const acknowledged = (version, more = {}) => ({
  version,
  saved_at: '14:02:31',
  created: [],
  merged: false,
  ...more,
});

test('one edit is on its way at a time, in the order they were made', async () => {
  const { box, posts } = outbox();
  box.add(move('s1'));
  box.add(move('s2'));
  box.add({ kind: 'undo' });
  await settle();
  assert.deepEqual(posts.map((p) => p.body.what), ['move s1']);
  posts[0].answer(acknowledged(13));
  await settle();
  posts[1].answer(acknowledged(14));
  await settle();
  assert.deepEqual(posts.map((p) => p.kind), ['commit', 'commit', 'undo']);
  assert.deepEqual(Object.keys(posts[2].body), ['key']);
  assert.equal(new Set(posts.map((p) => p.body.key)).size, 3);
});

test('an answer settles the promise of its edit, and the queue is empty', async () => {
  const { box, posts, told, storage } = outbox();
  const done = box.add(move('s1'));
  await settle();
  posts[0].answer(acknowledged(13, { created: ['people.seats.s11'] }));
  assert.deepEqual((await done).created, ['people.seats.s11']);
  assert.equal(box.waiting, 0);
  assert.equal(storage.items.size, 0);
  assert.equal(told.at(-1).words, 'saved 14:02:31');
});

for (const [name, silence] of [
  ['no answer', (p) => p.fail()],
  ['an answer of 503', (p) => p.answer(null, 503)],
  ['an answer of 500', (p) => p.answer({ error: 'oops' }, 500)],
  ['half an answer', (p) => p.answer(null, 200)],
]) {
  test(`after ${name} the same edit goes again under the same key, half a second later`, async () => {
    const { box, posts, told } = outbox();
    box.add(move('s1'));
    await settle();
    silence(posts[0]);
    await settle();
    assert.equal(told.at(-1).state, 'waiting');
    assert.equal(told.at(-1).waiting, 1);
    mock.timers.tick(499);
    await settle();
    assert.equal(posts.length, 1);
    mock.timers.tick(1);
    await settle();
    assert.deepEqual(posts[1].body, posts[0].body);
    posts[1].answer(acknowledged(13));
    await settle();
    assert.equal(told.at(-1).state, 'saved');
  });
}

test('an error of the program itself is told, and the edit is not sent for ever', async () => {
  const { box, posts, told } = outbox();
  const lost = box.add(move('s1'));
  await settle();
  posts[0].answer({ error: 'own-fault', message: 'an error of Wellheard itself (TypeError: x)' }, 500);
  await assert.rejects(lost, { state: 'refused' });
  assert.match(told.find(({ state }) => state === 'refused').words, /an error of Wellheard itself/);
  assert.equal(box.waiting, 0);
});

test('the pauses grow from half a second to five, and the network being back ends them', async () => {
  const { box, posts } = outbox();
  box.add(move('s1'));
  for (const pause of [500, 1000, 2000, 4000, 5000, 5000]) {
    await settle();
    posts.at(-1).fail();
    await settle();
    const before = posts.length;
    mock.timers.tick(pause - 1);
    await settle();
    assert.equal(posts.length, before, `before ${pause} ms`);
    mock.timers.tick(1);
    await settle();
    assert.equal(posts.length, before + 1, `after ${pause} ms`);
  }
  posts.at(-1).fail();
  await settle();
  box.hurry();
  await settle();
  assert.equal(posts.length, 8);
});

test('edits made offline outlive the page and go out in order, with the keys they had', async () => {
  const first = outbox();
  first.box.add(move('s1'));
  first.box.add(move('s2'));
  await settle();
  first.posts[0].fail();
  await settle();

  const second = outbox(first.storage);
  assert.equal(second.box.waiting, 2);
  second.box.start();
  await settle();
  assert.deepEqual(second.posts[0].body, first.posts[0].body);
  second.posts[0].answer(acknowledged(13));
  await settle();
  assert.equal(second.posts[1].body.what, 'move s2');
  assert.equal(second.posts[1].body.base, 13);
});

test('another room of the same tab has edits of its own', () => {
  const { box, storage } = outbox();
  box.add(move('s1'));
  assert.equal(outbox(storage, 'quay').box.waiting, 0);
});

test('later edits build on the version that the earlier ones got', async () => {
  const { box, posts } = outbox();
  box.add(move('s1'));
  box.add(move('s2'));
  await settle();
  posts[0].answer(acknowledged(13));
  await settle();
  assert.equal(posts[1].body.base, 13);
  posts[1].answer(acknowledged(14));
  await settle();
  box.add(move('s3')); // made while version 12 is still drawn, with both edits put on top
  await settle();
  assert.equal(posts[2].body.base, 14);
});

test('what others wrote in between is not overwritten unseen', async () => {
  const { box, posts } = outbox();
  box.add(move('s1'));
  box.add(move('s2'));
  box.add(move('s1', 2));
  await settle();
  posts[0].answer(acknowledged(14, { merged: true })); // 13 was somebody else's
  await settle();
  assert.equal(posts[1].body.base, 12, 's2 was moved without knowing 13');
  posts[1].answer(acknowledged(15, { merged: true }));
  await settle();
  assert.equal(posts[2].body.base, 14, 'but s1 would clash with our own move');
});

test('a conflict is told with its clashes and takes only edits of the same items with it', async () => {
  const { box, posts, told } = outbox();
  const first = box.add(move('s1'));
  const second = box.add(move('s1', 2));
  box.add(move('s2'));
  await settle();
  const clash = { path: 'people.seats.s1.at', yours: '2.00', theirs: '3.00', what: 's1 stands at 3.00' };
  posts[0].answer({ error: 'conflict', clashes: [clash], version: 14 }, 409);
  await assert.rejects(first, { state: 'conflict', clashes: [clash] });
  await assert.rejects(second, { state: 'conflict' });
  const status = told.find(({ state }) => state === 'conflict');
  assert.deepEqual(status.clashes, [clash]);
  assert.match(status.words, /“move s1” was not saved.*s1 stands at 3\.00/);
  await settle();
  assert.equal(posts.at(-1).body.what, 'move s2');
  assert.equal(box.waiting, 1);
});

test('a refusal says what was found and what is allowed, and the rest goes on', async () => {
  const { box, posts, told } = outbox();
  const refused = box.add({
    operations: [{ path: 'devices.m1.at.2', typed: '9 m' }],
    what: 'height of M1',
    base: 12,
  });
  box.add(move('s2'));
  await settle();
  const problem = { where: 'devices.m1.at', what: '9 m is above the ceiling', allowed: 'at most 2.75 m' };
  posts[0].answer({ error: 'refused', problems: [problem] }, 422);
  await assert.rejects(refused, { state: 'refused', problems: [problem] });
  assert.equal(
    told.find(({ state }) => state === 'refused').words,
    '“height of M1” was not saved: 9 m is above the ceiling; at most 2.75 m',
  );
  await settle();
  assert.equal(posts[1].body.what, 'move s2');
});

test('an answer that can never change is no reason to ask for ever', async () => {
  const { box, posts } = outbox();
  const tooBig = box.add(move('s1'));
  await settle();
  posts[0].answer(null, 413);
  await assert.rejects(tooBig, { state: 'refused' });
  assert.equal(box.waiting, 0);
});

test('an undo goes with the edit it would have taken back, and only then', async () => {
  const { box, posts } = outbox();
  box.add(move('s1'));
  const undone = box.add({ kind: 'undo', what: 'undo' });
  box.add(move('s2'));
  const kept = box.add({ kind: 'undo', what: 'undo' });
  await settle();
  posts[0].answer({ error: 'refused', problems: [] }, 422);
  await assert.rejects(undone, { state: 'refused' });
  await settle();
  assert.equal(posts[1].body.what, 'move s2');
  posts[1].answer(acknowledged(13));
  await settle();
  assert.equal(posts[2].kind, 'undo');
  posts[2].answer(acknowledged(14));
  assert.equal((await kept).version, 14);
});

test('without room to keep edits they are sent all the same, and the danger is told', async () => {
  const { box, posts, told, storage } = outbox();
  storage.full = true;
  box.add(move('s1'));
  await settle();
  assert.equal(box.kept, false);
  assert.match(told.at(-1).words, /a reload would lose them/);
  posts[0].answer(acknowledged(13));
  await settle();
  assert.equal(told.at(-1).state, 'saved');

  const none = outbox(null);
  none.box.add(move('s1'));
  await settle();
  assert.equal(none.posts.length, 1);
});

test('a guard that no longer lets the page in ends the asking, and the edits stay kept', async () => {
  const { box, posts, told, storage } = outbox();
  box.add(move('s1'));
  await settle();
  posts[0].answer({ error: 'no-entry' }, 403);
  await settle();
  mock.timers.tick(60000);
  await settle();
  assert.equal(posts.length, 1);
  assert.match(told.at(-1).words, /open the address that wellheard serve printed/);
  assert.equal(outbox(storage).box.waiting, 1);
});

test('closing the page is warned of while something is unsent, and only then', async () => {
  const page = new EventTarget();
  const { box, posts } = outbox();
  box.watch(page);
  const leave = () => {
    const event = new Event('beforeunload', { cancelable: true });
    Object.defineProperty(event, 'returnValue', { writable: true }); // as browsers have it
    page.dispatchEvent(event);
    return event.defaultPrevented;
  };
  assert.equal(leave(), false);
  box.add(move('s1'));
  await settle();
  assert.equal(leave(), true);
  posts[0].answer(acknowledged(13));
  await settle();
  assert.equal(leave(), false);
});

test('the network being back sends at once', async () => {
  const page = new EventTarget();
  const { box, posts } = outbox();
  box.watch(page);
  box.add(move('s1'));
  await settle();
  posts[0].fail();
  await settle();
  page.dispatchEvent(new Event('online'));
  await settle();
  assert.equal(posts.length, 2);
});

test('what an edit names is the item, not the field', () => {
  assert.equal(item('people.seats.s1.at'), 'people.seats.s1');
  assert.equal(item('space.finishes.patches.window.top'), 'space.finishes.patches.window');
  assert.equal(item('space.finishes.floor'), 'space.finishes.floor');
  assert.equal(item('space.walls.2'), 'space.outline');
  assert.equal(item('targets.sti_outbound'), 'targets.sti_outbound');
  const operations = [
    { do: 'seats-around', table: 'table', count: 8 },
    { do: 'corner-move', corner: 0, to: [0, 0] },
    { do: 'add', kind: 'seat', at: [1, 1] },
  ];
  assert.deepEqual([...named(operations)], ['furniture.table', 'space.outline']);
});
