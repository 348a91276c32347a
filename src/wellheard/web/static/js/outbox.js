/**
 * Edits on their way to the server.
 *
 * Every edit is kept in the storage of the tab until the server has acknowledged it. One is on its
 * way at a time, in order; it is sent again under the same key when no answer comes, so that nothing
 * is lost and nothing is done twice.
 */

import { NOT_LET_IN, shutOut, waitMs, worthAnotherTry } from './transport.js';

const LONGEST_WHAT = 200; // as the server takes it
const COLLECTIONS = [
  'people.seats',
  'people.standing',
  'noise.sources',
  'space.obstacles',
  'space.finishes.patches',
  'furniture',
  'devices',
  'overhead',
  'equipment',
  'partitions',
  'links',
];

/** Why an edit was not saved: state 'conflict' or 'refused', with problems and clashes. */
export class Unsaved extends Error {
  constructor(words, { state, problems = [], clashes = [], what = '' }) {
    super(words);
    this.name = 'Unsaved';
    this.state = state;
    this.problems = problems;
    this.clashes = clashes;
    this.what = what;
  }
}

/**
 * Item paths that operations name; two edits depend on each other only where these meet.
 *
 * @param {object[]} operations
 * @returns {Set<string>}
 */
export function named(operations) {
  const paths = new Set();
  for (const operation of operations ?? []) {
    if (operation.path) paths.add(item(operation.path));
    for (const path of operation.items ?? []) paths.add(item(path));
    if (operation.table) paths.add(item(`furniture.${operation.table}`));
    if ('corner' in operation || 'wall' in operation) paths.add('space.outline');
  }
  return paths;
}

/** The item that a path of the document belongs to: `people.seats.s1.at` is of `people.seats.s1`. */
export function item(path) {
  if (/^space\.(outline|walls)\b/.test(path)) return 'space.outline';
  const under = COLLECTIONS.find((collection) => path.startsWith(`${collection}.`));
  if (under === undefined) return path;
  const [id] = path.slice(under.length + 1).split('.');
  return `${under}.${id}`;
}

function meet(some, others) {
  for (const a of some) {
    for (const b of others) {
      if (a === b || a.startsWith(`${b}.`) || b.startsWith(`${a}.`)) return true;
    }
  }
  return false;
}

/** A key that no other edit has; randomUUID is only there in a secure context. */
export function freshKey() {
  if (globalThis.crypto.randomUUID) return globalThis.crypto.randomUUID();
  const bytes = globalThis.crypto.getRandomValues(new Uint8Array(16));
  return Array.from(bytes, (byte) => byte.toString(16).padStart(2, '0')).join('');
}

/** The storage of this tab, or null where the browser keeps none. */
export function tabStorage() {
  try {
    return globalThis.sessionStorage ?? null;
  } catch {
    return null; // switched off: even the name throws
  }
}

/** The edits of one room that the server has not acknowledged. */
export class Outbox {
  #queue = [];
  #promises = new Map();
  #acknowledged = [];
  #flying = false;
  #failures = 0;
  #timer = null;
  #stopped = false;
  #kept = true;
  #name;
  #post;
  #storage;
  #told;
  #saved;

  /**
   * @param {string} key the room
   * @param {object} options
   * @param {(kind: string, body: object) => Promise<{status: number, body: object|null}>} options.post
   *   kind 'commit', 'undo', 'redo' or 'restore'
   * @param {Storage|null} options.storage
   * @param {(status: object) => void} options.told hears every change of state, in words
   * @param {(answer: object) => void} options.saved hears every acknowledgement
   */
  constructor(key, { post, storage = tabStorage(), told = () => {}, saved = () => {} }) {
    this.#name = `wellheard-outbox-${key}`;
    this.#post = post;
    this.#storage = storage;
    this.#told = told;
    this.#saved = saved;
    this.#queue = this.#read();
  }

  /** Edits not acknowledged yet. */
  get waiting() {
    return this.#queue.length;
  }

  /** Whether a reload of the page would bring the waiting edits back. */
  get kept() {
    return this.#kept;
  }

  /** Send what an earlier page of this tab left behind. */
  start() {
    if (this.#queue.length > 0) this.#send();
  }

  /**
   * Keep an edit and send it when its turn comes.
   *
   * @param {{kind?: string, operations?: object[], what?: string, unit?: string, base?: number,
   *   exact?: boolean}} edit `base` is the version that was on the screen when it was made; an exact
   *   one is refused on any other
   * @returns {Promise<object>} the answer of the server; rejected with Unsaved
   */
  add({ kind = 'commit', operations = [], what = '', unit = 'm', base = 0, exact = false }) {
    const entry = { kind, key: freshKey(), what: what.slice(0, LONGEST_WHAT) };
    if (kind === 'commit') {
      const names = named(operations);
      let from = base;
      for (const done of this.#acknowledged) from = rebased(from, names, done);
      Object.assign(entry, { operations, unit, base: exact ? base : from }, exact ? { exact } : {});
    }
    this.#queue.push(entry);
    this.#write();
    const promise = new Promise((resolve, reject) => {
      this.#promises.set(entry.key, { resolve, reject });
    });
    promise.catch(() => {}); // the words of a refusal are told by status: nobody has to listen here
    this.#send();
    return promise;
  }

  /** Forget acknowledgements that a drawn version holds already. */
  seen(version) {
    this.#acknowledged = this.#acknowledged.filter((done) => done.version > version);
  }

  /** Try at once: the network is back, or the server has shown that it lives. */
  hurry() {
    if (this.#timer === null) return;
    clearTimeout(this.#timer);
    this.#timer = null;
    this.#send();
  }

  /** Send when the network is back, and warn before a page closes on unsent edits. */
  watch(page) {
    page.addEventListener('online', () => this.hurry());
    page.addEventListener('beforeunload', (event) => {
      if (this.#queue.length === 0) return;
      event.preventDefault();
      event.returnValue = ''; // browsers that do not heed preventDefault alone
    });
  }

  async #send() {
    if (this.#flying || this.#stopped || this.#timer !== null || this.#queue.length === 0) return;
    const entry = this.#queue[0];
    this.#flying = true;
    if (this.#failures === 0) this.#tell('saving', this.#lossy('saving…'));
    let answer = null;
    try {
      const { kind, ...body } = entry;
      answer = await this.#post(kind, kind === 'commit' ? body : { key: entry.key });
    } catch {
      answer = null; // no answer: the same edit is sent again
    }
    this.#flying = false;
    this.#settle(entry, answer);
  }

  #settle(entry, answer) {
    const fault = answer?.status === 500 && answer.body?.error === 'own-fault';
    if (answer !== null && shutOut(answer.status)) {
      this.#stopped = true;
      this.#tell('waiting', this.#lossy(NOT_LET_IN), { shut: true });
    } else if (answer === null || (worthAnotherTry(answer.status) && !fault) || halfAnAnswer(answer)) {
      this.#later();
    } else {
      this.#failures = 0;
      if (answer.status < 300) this.#acknowledge(entry, answer.body);
      else this.#refuse(entry, answer.status, answer.body ?? {});
      this.#send();
    }
  }

  #later() {
    this.#failures += 1;
    const count = this.#queue.length;
    const edits = count === 1 ? '1 edit is' : `${count} edits are`;
    this.#tell('waiting', this.#lossy(`The server does not answer: ${edits} not saved yet.`));
    this.#timer = setTimeout(() => {
      this.#timer = null;
      this.#send();
    }, waitMs(this.#failures));
  }

  #acknowledge(entry, body) {
    this.#queue.shift();
    const done = {
      version: body.version,
      base: entry.base ?? null,
      alone: entry.kind === 'commit' && !body.merged,
      names: entry.kind === 'commit' ? named(entry.operations) : null,
    };
    this.#acknowledged.push(done);
    for (const later of this.#queue) {
      if (later.kind === 'commit' && !later.exact) {
        later.base = rebased(later.base, named(later.operations), done);
      }
    }
    this.#write();
    if (this.#queue.length === 0) {
      this.#tell('saved', body.saved_at ? `saved ${body.saved_at}` : 'saved', { answer: body, notes: body.notes ?? [] });
    }
    this.#promise(entry)?.resolve(body);
    this.#saved(body);
  }

  #refuse(entry, status, body) {
    const state = status === 409 && body.error === 'conflict' ? 'conflict' : 'refused';
    this.#queue.shift();
    const dropped = this.#dependents(entry);
    this.#queue = this.#queue.filter((later) => !dropped.includes(later));
    this.#write();
    const details = { problems: body.problems ?? [], clashes: body.clashes ?? [] };
    let words = state === 'conflict' ? clashWords(entry, details) : refusalWords(entry, details, body.message);
    if (dropped.length > 0) {
      words += ` Not saved with it: ${dropped.map((later) => later.what || later.kind).join(', ')}.`;
    }
    this.#tell(state, words, { ...details, version: body.version ?? null });
    for (const lost of [entry, ...dropped]) {
      this.#promise(lost)?.reject(new Unsaved(words, { state, ...details, what: lost.what }));
    }
  }

  /** Later edits that make no sense without this one: of the same items, or taking it back. */
  #dependents(entry) {
    if (entry.kind !== 'commit') return [];
    const names = named(entry.operations);
    const dropped = [];
    let above = 0; // edits on top of this one that an undo takes back first; below 0: it is undone
    for (const later of this.#queue) {
      if (later.kind === 'undo') {
        if (above === 0) dropped.push(later);
        above -= 1;
      } else if (later.kind === 'redo') {
        if (above === -1) dropped.push(later);
        above += 1;
      } else if (later.kind === 'restore') {
        continue; // it is about the file, not about edits
      } else if (meet(names, named(later.operations))) {
        named(later.operations).forEach((name) => names.add(name));
        dropped.push(later);
      } else {
        above = Math.max(0, above) + 1;
      }
    }
    return dropped;
  }

  #promise(entry) {
    const promise = this.#promises.get(entry.key);
    this.#promises.delete(entry.key);
    return promise;
  }

  #tell(state, words, more = {}) {
    this.#told({ state, words, waiting: this.#queue.length, problems: [], clashes: [], ...more });
  }

  #lossy(words) {
    if (this.#kept) return words;
    return `${words} This browser does not keep unsent edits: a reload would lose them.`;
  }

  #read() {
    try {
      const entries = JSON.parse(this.#storage.getItem(this.#name) ?? '[]');
      return entries.filter((entry) => typeof entry.key === 'string');
    } catch {
      return []; // no storage, or not ours
    }
  }

  #write() {
    try {
      if (this.#queue.length === 0) this.#storage.removeItem(this.#name);
      else this.#storage.setItem(this.#name, JSON.stringify(this.#queue));
      this.#kept = true;
    } catch {
      this.#kept = false; // full or switched off: the edits live as long as the page
    }
  }
}

function halfAnAnswer({ status, body }) {
  return status < 300 && body === null;
}

/**
 * The version that an edit is based on after an earlier edit of this tab was acknowledged.
 *
 * Where nobody else wrote in between, or the earlier edit names the same items, the edit was made
 * knowing it. Otherwise the old base stays, so that the server still sees a clash with what others
 * wrote meanwhile.
 */
function rebased(base, names, done) {
  if (done.version <= base) return base;
  const follows = done.alone && done.base <= base;
  return follows || done.names === null || meet(names, done.names) ? done.version : base;
}

function clashWords(entry, { clashes }) {
  const told = clashes.map((clash) => clash.what || clash.path).filter(Boolean);
  const edit = entry.what ? `“${entry.what}” was not saved` : 'The edit was not saved';
  return `${edit}: somebody else changed the same${told.length ? ` (${told.join('; ')})` : ''}.`;
}

function refusalWords(entry, { problems }, message) {
  const told = problems.map(problemWords);
  if (told.length === 0 && message) told.push(message);
  const edit = entry.what ? `“${entry.what}” was not saved` : 'The edit was not saved';
  return told.length ? `${edit}: ${told.join('; ')}` : `${edit}.`;
}

/** One problem as a sentence: what was found, what is allowed. */
export function problemWords({ what = '', allowed = '' }) {
  return allowed ? `${what}; ${allowed}` : what;
}
