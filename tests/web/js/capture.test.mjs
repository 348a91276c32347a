/** Recording in the page: what is refused, the bytes of the file, and how it is sent.
 * Bytes by hand after "Multimedia Programming Interface and Data Specifications 1.0" (RIFF, WAVE,
 * format 3 with a fact chunk), from memory [M]; names of settings: Media Capture and Streams [M]. */

import assert from 'node:assert/strict';
import { test } from 'node:test';

import { send } from '../../../src/wellheard/web/static/js/capture/sender.js';
import { refusal } from '../../../src/wellheard/web/static/js/capture/settings.js';
import { wav } from '../../../src/wellheard/web/static/js/capture/wav.js';

const OFF = { echoCancellation: false, noiseSuppression: false, autoGainControl: false };

test('a microphone is measured with only where everything is known to be off', () => {
  assert.equal(refusal(OFF), '');
  assert.equal(refusal({ ...OFF, voiceIsolation: false }), '');
  for (const name of Object.keys(OFF)) {
    assert.match(refusal({ ...OFF, [name]: true }), / is on, /);
    const { [name]: _, ...rest } = OFF;
    assert.match(refusal(rest), /does not say whether /);
  }
  assert.match(refusal({ ...OFF, voiceIsolation: true }), /voice isolation is on/);
  assert.match(refusal({ ...OFF, echoCancellation: 'all' }), /echo cancellation is on/);
  assert.match(refusal({}), /echo cancellation and noise suppression and automatic gain control/);
});

test('a WAV file has every sample as it came, channels interleaved', () => {
  const left = [Float32Array.of(0.5, -1), Float32Array.of(0.25)];
  const right = [Float32Array.of(0, 1), Float32Array.of(-0.125)];
  const bytes = wav([[left[0], right[0]], [left[1], right[1]]], 44100);
  const view = new DataView(bytes.buffer);
  const word = (at) => String.fromCharCode(...bytes.subarray(at, at + 4));
  assert.deepEqual([word(0), word(8), word(12), word(38), word(50)], ['RIFF', 'WAVE', 'fmt ', 'fact', 'data']);
  assert.equal(view.getUint32(4, true), bytes.length - 8);
  assert.equal(view.getUint16(20, true), 3);
  assert.equal(view.getUint16(22, true), 2);
  assert.equal(view.getUint32(24, true), 44100);
  assert.equal(view.getUint32(28, true), 44100 * 8);
  assert.equal(view.getUint16(32, true), 8);
  assert.equal(view.getUint32(46, true), 3);
  assert.equal(view.getUint32(54, true), 24);
  const samples = [0, 1, 2, 3, 4, 5].map((i) => view.getFloat32(58 + 4 * i, true));
  assert.deepEqual(samples, [0.5, 0, -1, 1, 0.25, -0.125]);
});

test('a recording is sent in order, and a piece again where no answer came', async () => {
  const bytes = new Uint8Array(2 ** 20 + 3).fill(7);
  const asked = [];
  const answers = [{ status: 200 }, null, { status: 503 }, { status: 200 }, { status: 200, body: { id: 'a' } }];
  const put = async (url, { body }) => {
    asked.push([url.split('/').at(-1), body.at ?? body.size]);
    const next = answers.shift();
    if (next === null) throw new TypeError('Failed to fetch');
    return { body: null, ...next };
  };
  const told = [];
  const options = { put, rest: async () => {}, told: (bytes) => told.push(bytes) };
  assert.deepEqual(await send('/api/s', bytes, {}, options), { id: 'a' });
  const second = ['pieces', 2 ** 20];
  assert.deepEqual(asked, [['pieces', 0], second, second, second, ['recordings', bytes.length]]);
  assert.deepEqual(told, [2 ** 20, bytes.length]);
});

test('what the server refuses is said and not asked again', async () => {
  for (const answer of [
    { status: 422, body: { error: 'refused', message: 'to: no place' } },
    { status: 500, body: { error: 'own-fault', message: 'to: no place' } },
  ]) {
    let count = 0;
    const put = async () => {
      count += 1;
      return answer;
    };
    const sent = send('/api/s', new Uint8Array(4), {}, { put, rest: async () => {} });
    await assert.rejects(sent, /to: no place/);
    assert.equal(count, 1);
  }
});
