/** Stand-ins of the browser and the server for the tests of the scripts. */

/** Storage of a tab that can be full. */
export class FakeStorage {
  items = new Map();
  full = false;

  getItem(name) {
    return this.items.get(name) ?? null;
  }

  setItem(name, value) {
    if (this.full) throw new Error('QuotaExceededError');
    this.items.set(name, String(value));
  }

  removeItem(name) {
    this.items.delete(name);
  }
}

/** A server whose every answer the test gives by hand, in the order it likes. */
export class HandServer {
  asked = [];

  fetch = (url, options = {}) =>
    new Promise((resolve, reject) => {
      const question = {
        url,
        body: options.body === undefined ? null : JSON.parse(options.body),
        answer: (body, status = 200) =>
          resolve({ status, text: async () => (typeof body === 'string' ? body : JSON.stringify(body)) }),
        fail: () => reject(new TypeError('Failed to fetch')),
      };
      options.signal?.addEventListener('abort', () => reject(new DOMException('', 'AbortError')));
      this.asked.push(question);
    });

  /** Questions whose address holds a text. */
  of(text) {
    return this.asked.filter(({ url }) => url.includes(text));
  }

  last(text) {
    return this.of(text).at(-1);
  }
}

/** Let every promise that can settle settle; no time passes. */
export async function settle() {
  for (let turn = 0; turn < 30; turn += 1) await Promise.resolve();
}

/** Every event of these names, as it comes. */
export function heard(target, ...names) {
  const all = [];
  for (const name of names) {
    target.addEventListener(name, ({ detail }) => all.push({ name, detail }));
  }
  return all;
}
