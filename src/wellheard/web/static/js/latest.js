/** Questions of which only the newest answer counts. */

import { waitMs } from './transport.js';

/**
 * One drawn thing that follows the server, such as the plan: asked for again and again, one question
 * at a time, and an answer that something newer has overtaken is dropped.
 */
export class Newest {
  #load;
  #use;
  #failed;
  #loading = false;
  #again = false;
  #timer = null;
  #failures = 0;

  /**
   * @param {() => Promise<object>} load
   * @param {(answer: object) => boolean} use false where the answer is too old: ask again
   * @param {(trouble: Error, failures: number) => boolean} failed whether to try again
   */
  constructor(load, use, failed = () => true) {
    this.#load = load;
    this.#use = use;
    this.#failed = failed;
  }

  /** Whether an answer is still to come. */
  get busy() {
    return this.#loading || this.#timer !== null;
  }

  /** Ask, or ask once more when the question on its way is answered. */
  ask() {
    if (this.#loading) {
      this.#again = true;
      return;
    }
    clearTimeout(this.#timer);
    this.#timer = null;
    this.#run();
  }

  async #run() {
    this.#loading = true;
    this.#again = false;
    let answer = null;
    let trouble = null;
    try {
      answer = await this.#load();
    } catch (error) {
      trouble = error;
    }
    this.#loading = false;
    const good = trouble === null && this.#use(answer);
    this.#failures = good ? 0 : this.#failures + 1;
    const persist = trouble === null ? !good : this.#failed(trouble, this.#failures);
    if (this.#again) this.#run();
    else if (persist) this.#later();
  }

  #later() {
    this.#timer = setTimeout(() => this.ask(), waitMs(this.#failures));
  }
}

/**
 * Questions while the hand moves: the latest position wins, one question is on its way, and its
 * answer, named by number, releases the next. An answer that does not come within the limit is given
 * up, and is dropped if it comes after all.
 */
export class LiveLoop {
  #ask;
  #shown;
  #waiting = null;
  #flying = null;
  #number = 0;

  /**
   * @param {(body: object, limits: object) => Promise<{status: number, body: object|null}>} ask
   * @param {(answer: object, rest: boolean) => void} shown
   * @param {{withinMs?: number, restWithinMs?: number}} limits of an answer while the hand moves and
   *   while it rests [ms]
   */
  constructor(ask, shown, { withinMs = 2000, restWithinMs = 15000 } = {}) {
    this.#ask = ask;
    this.#shown = shown;
    this.limits = { move: withinMs, rest: restWithinMs };
  }

  /** The newest question; of what has not been sent yet, only this one will be. */
  ask(body) {
    this.#waiting = body;
    if (this.#flying?.rest && !body.rest) this.#give(); // the hand moves on: do not wait for the rest
    this.#next();
  }

  /** The hand has let go: nothing more is asked, and what is on its way is not shown. */
  end() {
    this.#waiting = null;
    this.#give();
  }

  #give() {
    this.#flying?.giveUp.abort();
    this.#flying = null;
  }

  async #next() {
    if (this.#flying !== null || this.#waiting === null) return;
    this.#number += 1;
    const question = { seq: this.#number, rest: this.#waiting.rest, giveUp: new AbortController() };
    const body = { ...this.#waiting, seq: question.seq };
    this.#flying = question;
    this.#waiting = null;
    let answer = null;
    try {
      answer = await this.#ask(body, {
        withinMs: question.rest ? this.limits.rest : this.limits.move,
        signal: question.giveUp.signal,
      });
    } catch {
      answer = null; // given up, or no server: the next position asks again
    }
    if (this.#flying !== question) return;
    this.#flying = null;
    const ours = answer?.status === 200 && (answer.body?.seq ?? question.seq) === question.seq;
    if (ours && answer.body !== null) this.#shown(answer.body, question.rest);
    this.#next();
  }
}
