/** Questions to the server: one way to ask, with a time limit, for every part of the page. */

/** What is said when the guard of the server no longer lets this page in. */
export const NOT_LET_IN =
  'This page is no longer let in; open the address that wellheard serve printed.';

/** Whether a status of HTTP means that this page is not let in. */
export function shutOut(status) {
  return status === 401 || status === 403;
}

/** Whether asking the same again later can help: the server is starting, busy or gone. */
export function worthAnotherTry(status) {
  return status >= 500 || status === 408 || status === 425 || status === 429;
}

/** Milliseconds to wait before try number `failures` + 1: 500, doubled, at most 5000. */
export function waitMs(failures) {
  return Math.min(5000, 500 * 2 ** Math.max(0, failures - 1));
}

/**
 * Ask the server and read its JSON.
 *
 * @param {string} url
 * @param {object} options
 * @param {object|null} options.body sent as JSON by POST; without it, GET
 * @param {number} options.withinMs time limit of the whole answer [ms]
 * @param {AbortSignal|null} options.signal ends the question early
 * @param {Function} options.fetch the browser's, or a stand-in
 * @returns {Promise<{status: number, body: object|null}>} rejected when there is no answer; the body
 *   is null where it is no JSON
 */
export async function ask(
  url,
  { body = null, withinMs = 15000, signal = null, fetch = globalThis.fetch } = {},
) {
  const limit = new AbortController();
  const end = () => limit.abort();
  const timer = setTimeout(end, withinMs);
  signal?.addEventListener('abort', end);
  if (signal?.aborted) end();
  const options = { credentials: 'same-origin', cache: 'no-store', signal: limit.signal };
  if (body !== null) {
    options.method = 'POST';
    options.headers = { 'Content-Type': 'application/json' };
    options.body = JSON.stringify(body);
  }
  try {
    const answer = await fetch(url, options);
    const text = await answer.text();
    return { status: answer.status, body: parsed(text) };
  } finally {
    clearTimeout(timer);
    signal?.removeEventListener('abort', end);
  }
}

function parsed(text) {
  try {
    const value = JSON.parse(text);
    return value !== null && typeof value === 'object' ? value : null;
  } catch {
    return null;
  }
}
