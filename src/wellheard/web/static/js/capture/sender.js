/** Recordings on their way to the server: in pieces, each until it has arrived. */

import { ask, waitMs, worthAnotherTry } from '../transport.js';

const PIECE = 2 ** 20;
const TRIES = 6;

/**
 * Send a file and have it taken into a session.
 *
 * @param {string} address of the session on the interface
 * @param {Uint8Array} bytes
 * @param {object} about what it is of
 * @param {object} options
 * @param {Function} options.told called with how many bytes have arrived
 * @param {AbortSignal|null} options.signal gives it up
 * @param {Function} options.put one question to the server, or a stand-in
 * @param {Function} options.rest waits, or a stand-in [ms]
 * @returns {Promise<object>} what the server says of it; rejected with an Error to be read
 */
export async function send(
  address,
  bytes,
  about,
  { told = () => {}, signal = null, put = ask, rest = pause } = {},
) {
  const key = crypto.randomUUID();
  for (let at = 0; at < bytes.length; at += PIECE) {
    const piece = encoded(bytes.subarray(at, at + PIECE));
    await surely(`${address}/pieces`, { key, at, piece }, { signal, put, rest });
    told(Math.min(at + PIECE, bytes.length));
  }
  const body = { key, size: bytes.length, about };
  return surely(`${address}/recordings`, body, { signal, put, rest });
}

async function surely(url, body, { signal, put, rest }) {
  for (let tries = 1; ; tries += 1) {
    let answer;
    try {
      answer = await put(url, { body, withinMs: 60000, signal });
    } catch {
      answer = { status: 0, body: null };
    }
    if (answer.status === 200) return answer.body;
    if (signal?.aborted) throw new Error('Not sent.');
    // A fault of the program itself is the same however often it is asked.
    const own = answer.body?.error === 'own-fault';
    const again = !own && (answer.status === 0 || worthAnotherTry(answer.status));
    if (!again || tries === TRIES) {
      throw new Error(answer.body?.message ?? 'The server does not answer; try again.');
    }
    await rest(waitMs(tries));
  }
}

function pause(ms) {
  return new Promise((done) => setTimeout(done, ms));
}

/** Bytes as text of base 64. */
function encoded(bytes) {
  let text = '';
  for (let i = 0; i < bytes.length; i += 32768) {
    text += String.fromCharCode(...bytes.subarray(i, i + 32768));
  }
  return btoa(text);
}
