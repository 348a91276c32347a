/**
 * One open room in the browser: what is drawn, what is chosen, and everything that goes to and comes
 * from the server. The plan, the ledger and the other parts of the page only know this.
 */

import { LiveLoop, Newest } from './latest.js';
import { Outbox, problemWords, tabStorage } from './outbox.js';
import { NOT_LET_IN, ask, shutOut, worthAnotherTry } from './transport.js';

const desks = new Map();
const TRIES_AFTER_AN_ERROR = 4;
const NOTHING = { state: 'saved', words: '', waiting: 0, problems: [], clashes: [] };

/**
 * The desk of a room; one per page, whoever asks.
 *
 * @param {string} key how addresses name the room
 * @returns {Desk}
 */
export function deskFor(key) {
  if (!desks.has(key)) desks.set(key, new Desk(key));
  return desks.get(key);
}

/** An answer that is no success; `status` is the number of HTTP. */
class NoSuccess extends Error {
  constructor(status, message) {
    super(message || `The server answered ${status}.`);
    this.status = status;
  }
}

/**
 * Events: 'plan' and 'figures' (new ones are here), 'live' (detail: the answer, with `rest`), 'drop'
 * (the hand let go), 'busy' (detail: words, or ''), 'selection', 'hover', 'status' (detail: state,
 * words, waiting, problems, clashes), 'path' (detail: the strip, or null), 'show' (detail: a place),
 * 'edit' (an edit was made and is on its way). Parts of the page tell each other by it as well: 'side'
 * and 'view' (detail: which one is shown), 'cables' (detail: routes on the plan, or null), 'propose'
 * (detail: what is suggested and not in the room, or null).
 */
export class Desk extends EventTarget {
  /** Newest answers of the server; null before the first. */
  plan = null;
  figures = null;
  path = null;
  /** Newest version heard of; `plan.version` is the one that is drawn. */
  version = 0;
  quantity = 'sti';
  worst = false;
  /** Which path of a place is followed: outbound, inbound, echo or lift. */
  way = 'outbound';
  selection = new Set();
  hovered = null;
  busy = '';
  status = NOTHING;
  /** What undo and redo would take back, '' for nothing. */
  undoWords = '';
  redoWords = '';
  /** Why there is no path where one was asked for. */
  pathWords = '';

  #url;
  #fetch;
  #outbox;
  #plans;
  #figures;
  #live;
  #started = false;
  #shut = false;
  #lost = false;
  #savedWords = '';
  #figuresVersion = -1;
  #pathOf = null;
  #pathNumber = 0;
  #clock = null;
  #own = new Set();

  /**
   * @param {string} key
   * @param {object} options stand-ins for tests
   */
  constructor(key, { fetch = (...all) => globalThis.fetch(...all), storage = tabStorage() } = {}) {
    super();
    this.key = key;
    this.unit = chosenUnit();
    this.#url = `/api/rooms/${encodeURIComponent(key)}`;
    this.#fetch = fetch;
    this.#outbox = new Outbox(key, {
      storage,
      post: (kind, body) => this.#ask(kind, { body }),
      told: (status) => this.#tell(status),
      saved: (answer) => this.#acknowledged(answer),
    });
    this.#plans = new Newest(
      () => this.#get('plan', { unit: this.unit }),
      (answer) => this.#usePlan(answer),
      (trouble, failures) => this.#failed(trouble, failures),
    );
    this.#figures = new Newest(
      () => this.#loadFigures(),
      (answer) => this.#useFigures(answer),
      (trouble, failures) => this.#noFigures(trouble, failures),
    );
    this.#live = new LiveLoop(
      (body, limits) => this.#ask('live', { body, ...limits }),
      (answer, rest) => this.#emit('live', { ...answer, rest }),
    );
  }

  /** Ask for everything, and send what an earlier page left unsent. Harmless when called again. */
  start() {
    if (this.#started) return;
    this.#started = true;
    if (globalThis.addEventListener) {
      this.#outbox.watch(globalThis);
      globalThis.addEventListener('online', () => this.#refresh());
    }
    this.#outbox.start();
    this.#startClock();
    this.#plans.ask(); // figures follow
  }

  /** The server tells of a version: an edit of ours, of another page, or of the file itself. */
  arrived(version) {
    this.#outbox.hurry();
    if (version > this.version) {
      this.version = version;
      this.#refresh();
    } else if (version === this.version && !this.#own.has(version) && !this.unsent) {
      this.#plans.ask(); // the same version again: an edit of the file that cannot be read
    }
  }

  /** Whether edits are on their way to the server. */
  get unsent() {
    return this.#outbox.waiting > 0;
  }

  /** Whether figures of what is drawn are still to come. */
  get unsettled() {
    return this.unsent || this.#figures.busy;
  }

  /**
   * Choose items on the plan, in the ledger and everywhere.
   *
   * @param {Iterable<string>} paths item paths; none to choose nothing
   * @param {{add?: boolean}} options add: keep what is chosen, and let go what is chosen already
   */
  select(paths, { add = false } = {}) {
    const chosen = new Set(add ? this.selection : []);
    for (const path of paths) {
      if (add && this.selection.has(path)) chosen.delete(path);
      else chosen.add(path);
    }
    if (sameSet(chosen, this.selection)) return;
    this.selection = chosen;
    this.#emit('selection', chosen);
  }

  /** Mark what the pointer is on, everywhere; null for nothing. */
  hover(path) {
    if (path === this.hovered) return;
    this.hovered = path;
    this.#emit('hover', path);
  }

  /** Point at an item or a place of the plan: `place` is [x, y] in metres, or null. */
  point(path, place = null) {
    if (path) this.select([path]);
    this.#emit('show', { path, place });
  }

  /**
   * Change the document.
   *
   * @param {object[]} operations
   * @param {string} what in words, for undo and for messages: "move s1"
   * @param {{exact?: boolean}} options exact: refused where the room has changed meanwhile at all
   * @returns {Promise<{created: string[], version: number}>} rejected with Unsaved where the edit was
   *   refused; that is told by 'status' as well, so that nobody has to listen
   */
  commit(operations, what, { exact = false } = {}) {
    const base = this.plan?.version ?? this.version;
    const promise = this.#outbox.add({ operations, what, unit: this.unit, base, exact });
    this.#emit('edit', { operations, what });
    return promise;
  }

  /** Take the last edit back. */
  undo() {
    return this.#outbox.add({ kind: 'undo', what: 'undo' });
  }

  /** Put the last valid text back where an edit from outside cannot be read. */
  restore() {
    return this.#outbox.add({ kind: 'restore', what: 'put the last valid drawing back' });
  }

  /** Bring back what was taken back. */
  redo() {
    return this.#outbox.add({ kind: 'redo', what: 'redo' });
  }

  /** Figures while the hand moves: `moves` is {item path: [x, y, z]} in metres. */
  drag(moves) {
    this.#live.ask({ moves, rest: false, ...this.#asked() });
  }

  /** The full prediction while the hand rests. */
  rest(moves) {
    this.#live.ask({ moves, rest: true, ...this.#asked() });
  }

  /** The hand has let go. */
  drop() {
    this.#live.end();
    this.#emit('drop', null);
  }

  /** Show another quantity, its worst value, or the other unit ('m' or 'ft'). */
  show({ quantity = this.quantity, worst = this.worst, unit = this.unit }) {
    const units = unit !== this.unit;
    if (!units && quantity === this.quantity && worst === this.worst) return;
    Object.assign(this, { quantity, worst, unit });
    if (!this.#started) return;
    if (units) this.#plans.ask();
    this.#askFigures();
  }

  /** Show the path of a seat or standing area, by id or item path; null closes it. */
  openPath(seat) {
    this.#pathOf = seat === null ? null : seat.split('.').at(-1);
    this.#loadPath();
  }

  /** Follow another path of the same place: outbound, inbound, echo or lift. */
  follow(way) {
    if (way === this.way) return;
    this.way = way;
    if (this.#pathOf !== null) this.#loadPath();
  }

  /** The room as faces and lines, for the view in space. */
  solid() {
    return this.#get('solid');
  }

  /** What else the server has of the room: `what` is the end of its address. */
  read(what, values = {}) {
    return this.#get(what, values);
  }

  /** Address of a picture of the room as it is drawn. */
  pictureOf(what, values = {}) {
    return `${this.#url}/${what}?${new URLSearchParams({ ...values, unit: this.unit, v: this.version })}`;
  }

  #emit(name, detail) {
    this.dispatchEvent(new CustomEvent(name, { detail }));
  }

  #asked() {
    return { unit: this.unit, quantity: this.quantity, worst: this.worst };
  }

  async #ask(what, options = {}) {
    if (this.#shut) return { status: 403, body: { message: NOT_LET_IN } };
    const answer = await ask(`${this.#url}/${what}`, { ...options, fetch: this.#fetch });
    if (shutOut(answer.status)) this.#closeDoor();
    return answer;
  }

  async #get(what, values = {}) {
    const query = new URLSearchParams(values);
    const { status, body } = await this.#ask(`${what}?${query}`, { withinMs: 60000 });
    if (status !== 200 || body === null) throw new NoSuccess(status, body?.message);
    return body;
  }

  #closeDoor() {
    if (this.#shut) return;
    this.#shut = true;
    this.#setBusy('');
    this.#tell({ ...this.status, state: 'waiting', words: NOT_LET_IN, waiting: this.#outbox.waiting });
  }

  #tell({ answer = null, version = null, ...status }) {
    if (this.#shut) Object.assign(status, { state: 'waiting', words: NOT_LET_IN });
    if (status.state === 'saved') this.#savedWords = status.words;
    if (answer !== null) {
      this.undoWords = answer.undo ?? '';
      this.redoWords = answer.redo ?? '';
    }
    // an edit refused because the file cannot be read leaves the way out of that open
    if (status.state === 'refused' && this.plan?.problems?.length) status.outside = true;
    this.status = status;
    this.#emit('status', status);
    if (status.state === 'conflict' || status.state === 'refused') {
      if (version !== null) this.version = Math.max(this.version, version);
      this.#refresh(true);
    }
  }

  #acknowledged({ version }) {
    this.#own.add(version);
    this.version = Math.max(this.version, version);
    this.#refresh();
  }

  /**
   * Ask for what is not of the newest version. While edits wait, what was put somewhere stays there:
   * a plan without those edits would only make it jump.
   */
  #refresh(takenBack = false) {
    if (!this.#started || this.unsent || this.#shut) return;
    const behind = this.plan === null || this.plan.version < this.version || this.#lost;
    if (behind) this.#plans.ask();
    else if (takenBack) this.#emit('plan', this.plan);
    if (this.#figuresVersion < this.version) this.#askFigures();
    else if (takenBack) this.#emit('figures', this.figures);
  }

  #usePlan(plan) {
    this.#found();
    const first = this.plan === null;
    if (!first && this.unsent) return true; // asked again when the edits are through
    if (plan.version < Math.max(this.version, this.plan?.version ?? 0) && !first) return false;
    const newer = plan.version > this.version; // figures were asked for with what was known
    this.version = Math.max(this.version, plan.version);
    this.plan = plan;
    this.undoWords = plan.undo ?? this.undoWords;
    this.redoWords = plan.redo ?? this.redoWords;
    this.#outbox.seen(plan.version);
    this.#forget();
    this.#emit('plan', plan);
    this.#tellPlan(plan);
    if (first || newer) this.#askFigures();
    return plan.version >= this.version;
  }

  /** What the plan says of itself: when it was saved, and why an edit of the file is not in it. */
  #tellPlan({ problems = [], saved_at }) {
    if (problems.length > 0) {
      const words = `The file was changed elsewhere and cannot be read: ${problems
        .map(problemWords)
        .join('; ')}. The last valid drawing stays.`;
      this.status = { state: 'refused', words, waiting: 0, problems, clashes: [], outside: true };
      this.#emit('status', this.status);
    } else if (this.status.outside || (this.status.words === '' && saved_at)) {
      this.#tell({ ...NOTHING, words: saved_at ? `saved ${saved_at}` : '' });
    }
  }

  /** What is gone from the room is chosen no more. */
  #forget() {
    const aspects = this.plan.aspects;
    if (!aspects) return;
    this.select([...this.selection].filter((path) => path in aspects));
    if (this.hovered !== null && !(this.hovered in aspects)) this.hover(null);
  }

  #askFigures() {
    this.#startClock();
    this.#figures.ask();
  }

  async #loadFigures() {
    const asked = this.#asked();
    const version = this.version;
    return { asked: { ...asked, version }, figures: await this.#get('figures', asked) };
  }

  #useFigures({ asked, figures }) {
    this.#found();
    const version = figures.version ?? asked.version;
    const settled = asked.quantity === this.quantity && asked.worst === this.worst;
    if (!settled || asked.unit !== this.unit) return true; // the question with the new settings is asked already
    if (version < this.version) return false;
    this.version = Math.max(this.version, version);
    this.#figuresVersion = version;
    this.figures = figures;
    this.#setBusy('');
    this.#emit('figures', figures);
    if (this.#pathOf !== null) this.#loadPath();
    return true;
  }

  #noFigures(trouble, failures) {
    const again = this.#failed(trouble, failures);
    if (!again) this.#setBusy(this.#shut ? '' : `The figures cannot be worked out: ${trouble.message}`);
    return again;
  }

  /** Whether to ask again after a failure; no answer at all is told, and asked for without end. */
  #failed(trouble, failures) {
    if (this.#shut) return false;
    const noAnswer = !(trouble instanceof NoSuccess);
    if (noAnswer && !this.unsent) {
      this.#lost = true;
      this.#tell({ ...this.status, state: 'waiting', words: 'The server does not answer; trying again.' });
    }
    if (!noAnswer && failures >= TRIES_AFTER_AN_ERROR) return false;
    return noAnswer || worthAnotherTry(trouble.status);
  }

  /** The server answers again. */
  #found() {
    if (!this.#lost) return;
    this.#lost = false;
    this.#outbox.hurry();
    if (!this.unsent) this.#tell({ ...this.status, state: 'saved', words: this.#savedWords });
  }

  async #loadPath() {
    this.#pathNumber += 1;
    const number = this.#pathNumber;
    let path = null;
    let words = '';
    if (this.#pathOf !== null) {
      const seat = encodeURIComponent(this.#pathOf);
      try {
        path = await this.#get(`path/${seat}`, { unit: this.unit, way: this.way });
      } catch (trouble) {
        words = trouble instanceof NoSuccess ? trouble.message : 'The server does not answer.';
      }
    }
    if (number !== this.#pathNumber) return; // another one was asked for meanwhile
    this.path = path;
    this.pathWords = words;
    this.#emit('path', path);
  }

  #startClock() {
    const since = Date.now();
    clearInterval(this.#clock);
    this.#setBusy('Working out the figures…');
    this.#clock = setInterval(() => {
      const seconds = Math.round((Date.now() - since) / 1000);
      this.#setBusy(`Working out the figures: ${seconds}\u00a0s`);
    }, 1000);
    this.#clock.unref?.();
  }

  #setBusy(words) {
    if (words === '' || words.startsWith('The ')) clearInterval(this.#clock);
    if (words === this.busy) return;
    this.busy = words;
    this.#emit('busy', words);
  }
}

function sameSet(some, others) {
  return some.size === others.size && [...some].every((one) => others.has(one));
}

/** The unit that the reader chose on this machine; that of the page (frame.js) where she has not. */
function chosenUnit() {
  if (globalThis.wellheardUnit) return globalThis.wellheardUnit();
  const cookies = globalThis.document?.cookie ?? '';
  return /(?:^|;\s*)wellheard-unit=ft\b/.test(cookies) ? 'ft' : 'm';
}
