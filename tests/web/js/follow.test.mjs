// What follows the room only while somebody looks at it, and what is chosen of its cables.
import assert from 'node:assert/strict';
import { test } from 'node:test';

import { scaleFor } from '../../../src/wellheard/web/static/js/diagram.js';
import { Followed } from '../../../src/wellheard/web/static/js/follow.js';
import { isChosen } from '../../../src/wellheard/web/static/js/plan/lines.js';
import { settle } from './fakes.mjs';

class FakeDesk extends EventTarget {
  plan = {};
  version = 3;
  unit = 'm';
  unsent = false;
  asked = 0;
  next = [];

  async read() {
    this.asked += 1;
    const answer = this.next.shift() ?? { version: this.version };
    if (answer instanceof Error) throw answer;
    return answer;
  }
}

test('nothing is asked before anybody looks, and nothing after', async () => {
  const desk = new FakeDesk();
  const followed = new Followed(desk, 'wiring', { on: 'plan' });
  desk.dispatchEvent(new Event('plan'));
  await settle();
  assert.equal(desk.asked, 0);
  followed.look('tab', true);
  followed.look('view', true);
  await settle();
  assert.equal(desk.asked, 1, 'two who look at the same ask once');
  assert.ok(followed.current);
  followed.look('tab', false);
  followed.look('view', false);
  desk.dispatchEvent(new Event('plan'));
  await settle();
  assert.equal(desk.asked, 1);
});

test('an answer is current only for the version that is drawn, with nothing on its way', async () => {
  const desk = new FakeDesk();
  const followed = new Followed(desk, 'remedies', { on: 'figures' });
  followed.look('list', true);
  await settle();
  assert.ok(followed.current);
  desk.unsent = true;
  assert.ok(!followed.current);
  desk.unsent = false;
  desk.version = 4;
  assert.ok(!followed.current);
  desk.dispatchEvent(new Event('figures'));
  await settle();
  assert.ok(followed.current);
});

test('what is still being tried is asked for again', async (context) => {
  context.mock.timers.enable({ apis: ['setTimeout'] });
  const desk = new FakeDesk();
  desk.next = [{ version: 3, state: 'trying' }, { version: 3, state: 'tried' }];
  const followed = new Followed(desk, 'remedies', { on: 'figures' });
  followed.look('list', true);
  await settle();
  assert.equal(followed.answer.state, 'trying');
  context.mock.timers.tick(600);
  await settle();
  assert.equal(followed.answer.state, 'tried');
  context.mock.timers.tick(60000);
  await settle();
  assert.equal(desk.asked, 2);
});

test('what the server refuses is said and not asked again', async () => {
  const desk = new FakeDesk();
  desk.next = [Object.assign(new Error('no cable of that name'), { status: 422 })];
  const followed = new Followed(desk, 'wiring', { on: 'plan' });
  followed.look('tab', true);
  await settle();
  assert.deepEqual([followed.answer, followed.why, desk.asked], [null, 'no cable of that name', 1]);
});

test('of one thing all its cables are chosen, of several those between them', () => {
  const ends = ['devices.m1', 'devices.mixer'];
  assert.ok(!isChosen(ends, new Set()));
  assert.ok(isChosen(ends, new Set(['devices.mixer'])));
  assert.ok(isChosen(ends, new Set(ends)));
  assert.ok(!isChosen(ends, new Set(['devices.mixer', 'devices.l1'])));
});

test('a diagram is never so small that its words are under 11 pixels', () => {
  assert.equal(scaleFor(1000, 500), 4.3);
  assert.equal(scaleFor(50, 500), 5.5);
  assert.equal(scaleFor(100, 500), 5);
});
