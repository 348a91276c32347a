// Moving things: by hand with the map following, or by keys; what was let go stays put until the
// document has it.

import { along } from './geometry.js';
import { snap } from './snap.js';
import { stepOf } from './words.js';

const REST = 250; // of a hand that stopped [ms]
const PAUSE = 450; // after the last key [ms]
const STILL = 1e-6; // [m]

/** Moves of one sheet. */
export class Mover {
  /** @param {import('./plan.js').Plan} sheet */
  constructor(sheet) {
    this.sheet = sheet;
    this.held = new Map(); // path → {by, from, pending, seen}: let go, not yet in the document
    this.keyed = null; // {paths, by}: keys pressed, not yet committed
    this.timers = { rest: 0, pause: 0 };
  }

  /** Return whether a hand moves something now. */
  get dragging() {
    return this.sheet.state.drag !== null;
  }

  /** Return what may be moved of some paths, and say why the rest may not. */
  movable(paths) {
    const items = paths.map((path) => this.sheet.items.get(path)).filter(Boolean);
    const locked = items.filter((item) => item.locked);
    if (locked.length) {
      const names = locked.map((item) => item.label).join(', ');
      this.sheet.tell(`${names} ${locked.length > 1 ? 'are' : 'is'} locked and stays: unlock it in its rows to move it.`);
    }
    return items.filter((item) => !item.locked).map((item) => item.path);
  }

  /** Begin to move items; the one in the hand leads and snaps. */
  begin(lead, paths) {
    this.commitKeys();
    const free = this.movable(paths);
    if (!free.includes(lead)) return false;
    this.sheet.state.drag = { lead, paths: free, by: [0, 0], live: false };
    this.sheet.lifted(true);
    return true;
  }

  /**
   * Move what is in the hand.
   * @param {number[]} raw from where it was taken up [m]
   * @param {boolean} free whether it does not snap
   */
  to(raw, free) {
    const { drag } = this.sheet.state;
    const lead = this.sheet.items.get(drag.lead);
    if (!lead) return;
    const base = (lead.ring ?? lead.segment ?? [lead.at])[0];
    const [hx, hy] = this.held.get(lead.path)?.by ?? [0, 0];
    const start = [base[0] + hx, base[1] + hy];
    const rules = { tiles: this.sheet.plan.tiles, step: stepOf(this.sheet.unit), ceiling: lead.ceiling, free };
    const end = snap([start[0] + raw[0], start[1] + raw[1]], rules);
    const by = [end[0] - start[0], end[1] - start[1]];
    if (Math.abs(by[0] - drag.by[0]) < STILL && Math.abs(by[1] - drag.by[1]) < STILL) {
      if (drag.live) this.#rest(drag); // it lies still in its tile, but the hand does not
      return;
    }
    drag.by = by;
    this.#show(drag.paths);
    this.#live(drag);
  }

  #live(drag) {
    const moves = this.#moves(drag.paths);
    drag.live = true;
    this.sheet.desk.drag(moves);
    this.#rest(drag);
  }

  /** Ask for everything when the hand has been still for a while, once for each place. */
  #rest(drag) {
    clearTimeout(this.timers.rest);
    const { by } = drag;
    if (drag.rested === by) return;
    this.timers.rest = setTimeout(() => {
      drag.rested = by;
      this.sheet.desk.rest(this.#moves(drag.paths));
    }, REST);
  }

  /** Return where things are now, as the desk asks: devices by their place, others by how far. */
  #moves(paths) {
    const moves = {};
    for (const path of paths) {
      const item = this.sheet.items.get(path);
      if (!item) continue;
      const [dx, dy] = this.by(path);
      moves[path] = item.kind === 'devices' ? [item.at[0] + dx, item.at[1] + dy, item.z] : { by: [dx, dy] };
    }
    return moves;
  }

  /** Let go: one commit for everything moved. */
  drop() {
    const { drag } = this.sheet.state;
    if (!drag) return;
    clearTimeout(this.timers.rest);
    this.sheet.state.drag = null;
    const still = Math.hypot(...drag.by) < STILL;
    if (!still) this.#commit(drag.paths, drag.by);
    if (drag.live) this.sheet.desk.drop();
    this.sheet.lifted(false);
    if (still) this.sheet.repaintFigures();
  }

  /** Give everything in the hand its old place. */
  cancel() {
    const { drag } = this.sheet.state;
    if (!drag) return;
    clearTimeout(this.timers.rest);
    this.sheet.state.drag = null;
    if (drag.live) this.sheet.desk.drop();
    this.#show(drag.paths);
    this.sheet.lifted(false);
    this.sheet.repaintFigures();
    this.sheet.tell('Everything is back in its place.');
  }

  /** Move by a key press; presses in a row become one commit. */
  nudge(paths, step) {
    const free = this.movable(paths);
    if (!free.length) return;
    if (this.keyed && this.keyed.paths.join() !== free.join()) this.commitKeys();
    this.keyed ??= { paths: free, by: [0, 0] };
    this.keyed.by = [this.keyed.by[0] + step[0], this.keyed.by[1] + step[1]];
    this.#show(free);
    clearTimeout(this.timers.pause);
    this.timers.pause = setTimeout(() => this.commitKeys(), PAUSE);
  }

  /** Commit what keys have moved. */
  commitKeys() {
    clearTimeout(this.timers.pause);
    const { keyed } = this;
    this.keyed = null;
    if (keyed && Math.hypot(...keyed.by) >= STILL) this.#commit(keyed.paths, keyed.by);
  }

  #commit(paths, by) {
    const round = by.map((u) => Math.round(u * 1e6) / 1e6);
    for (const path of paths) {
      const item = this.sheet.items.get(path);
      if (!item) continue;
      const held = this.held.get(path) ?? { by: [0, 0], from: item.at, pending: 0, seen: false };
      held.by = [held.by[0] + by[0], held.by[1] + by[1]];
      held.pending += 1;
      this.held.set(path, held);
    }
    const what = `move ${this.sheet.acts.named(paths)}`;
    this.sheet.acts.commit([{ do: 'move', items: paths, by: round }], what).then(
      () => this.#answered(paths, false),
      () => this.#answered(paths, true),
    );
  }

  #answered(paths, refused) {
    for (const path of paths) {
      const held = this.held.get(path);
      if (!held) continue;
      held.pending -= 1;
      if (refused || (held.pending <= 0 && held.seen)) this.held.delete(path);
    }
    this.#show(paths);
    if (refused) this.sheet.repaintFigures();
  }

  /** Take a new plan into account: what it already has moved is no longer held. */
  settle(items) {
    for (const [path, held] of [...this.held]) {
      const item = items.get(path);
      if (!item) {
        this.held.delete(path);
        continue;
      }
      const [dx, dy] = [item.at[0] - held.from[0], item.at[1] - held.from[1]];
      if (Math.hypot(dx, dy) > STILL) held.seen = true;
      held.by = [held.by[0] - dx, held.by[1] - dy];
      held.from = item.at;
      if (held.pending <= 0 || Math.hypot(...held.by) < STILL * 10) this.held.delete(path);
    }
    const { drag } = this.sheet.state;
    if (drag) {
      drag.paths = drag.paths.filter((path) => items.has(path));
      if (!items.has(drag.lead)) this.cancel();
    }
  }

  /** Return by how much an item is shown beside its place in the document. [m] */
  by(path) {
    let [x, y] = this.held.get(path)?.by ?? [0, 0];
    const { drag } = this.sheet.state;
    for (const moving of [drag, this.keyed]) {
      if (moving?.paths.includes(path)) [x, y] = [x + moving.by[0], y + moving.by[1]];
    }
    const item = this.sheet.items.get(path);
    if (!item?.segment || item.kind === 'partitions') return [x, y];
    const wall = along(...item.segment); // what is on a wall slides along it
    const reach = x * wall[0] + y * wall[1];
    return [wall[0] * reach, wall[1] * reach];
  }

  /** Return every offset that is not nought, by path. [m] */
  offsets() {
    const paths = [...this.held.keys(), ...(this.sheet.state.drag?.paths ?? []), ...(this.keyed?.paths ?? [])];
    return new Map(paths.map((path) => [path, this.by(path)]));
  }

  #show(paths) {
    for (const path of paths) this.sheet.show(path, this.by(path));
    this.sheet.followMoved(paths);
  }

  /** Let go of timers; keys pressed last are committed. */
  close() {
    this.commitKeys();
    clearTimeout(this.timers.rest);
  }
}
