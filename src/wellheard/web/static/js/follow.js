/** What is asked of the server only while somebody looks at it: one answer for each version. */

import { Newest } from './latest.js';
import { worthAnotherTry } from './transport.js';

const TRIES = 4; // after an answer that is an error

const followed = new WeakMap();

/**
 * The one of a desk, whoever asks.
 *
 * @param {import('./desk.js').Desk} desk
 * @param {string} what end of the address
 * @param {{on: string, afterMs?: number}} options event of the desk that it follows, and how long
 *   after it
 * @returns {Followed}
 */
export function followedOf(desk, what, options) {
  const known = followed.get(desk) ?? new Map();
  followed.set(desk, known);
  if (!known.has(what)) known.set(what, new Followed(desk, what, options));
  return known.get(what);
}

/** Events: 'answer' (another one is there, or none any more). */
export class Followed extends EventTarget {
  /** Newest answer; null before the first. */
  answer = null;
  /** Why there is none. */
  why = '';

  #desk;
  #lookers = new Set();
  #newest;
  #timer = null;
  #afterMs;

  constructor(desk, what, { on, afterMs = 0 }) {
    super();
    this.#desk = desk;
    this.#afterMs = afterMs;
    this.#newest = new Newest(
      () => desk.read(what, { unit: desk.unit }),
      (answer) => this.#use(answer),
      (trouble, failures) => this.#failed(trouble, failures),
    );
    desk.addEventListener(on, () => this.#ask());
  }

  /** Whether the answer is of what is drawn, with nothing on its way to the server. */
  get current() {
    return this.answer !== null && this.answer.version === this.#desk.version && !this.#desk.unsent;
  }

  /** Somebody looks at it, or does not any more. */
  look(who, on) {
    if (on === this.#lookers.has(who)) return;
    if (on) this.#lookers.add(who);
    else this.#lookers.delete(who);
    if (on && this.#lookers.size === 1 && this.#desk.plan) this.#ask();
  }

  #ask() {
    clearTimeout(this.#timer);
    if (this.#lookers.size === 0) return;
    if (this.#afterMs) this.#timer = setTimeout(() => this.#newest.ask(), this.#afterMs);
    else this.#newest.ask();
  }

  #use(answer) {
    const late = answer.version < this.#desk.version;
    if (!late) {
      this.answer = answer;
      this.why = '';
      this.dispatchEvent(new CustomEvent('answer'));
    }
    const settled = !late && answer.state !== 'trying';
    return settled || this.#lookers.size === 0; // asked again, less and less often
  }

  #failed(trouble, failures) {
    const again = trouble.status === undefined || (worthAnotherTry(trouble.status) && failures < TRIES);
    if (!again) {
      this.answer = null;
      this.why = trouble.message;
      this.dispatchEvent(new CustomEvent('answer'));
    }
    return again;
  }
}
