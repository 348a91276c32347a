// Edits of what is chosen; each goes to the desk as one commit, which says itself why one failed.

import { snap } from './snap.js';
import { stepOf } from './words.js';

const BESIDE = 0.5; // a copy is put down so far off [m]

/** What can be done with the things on a sheet. */
export class Acts {
  /** @param {import('./plan.js').Plan} sheet */
  constructor(sheet) {
    this.sheet = sheet;
    this.copied = [];
  }

  /** Return what keys act on: the item in focus if it is not chosen, otherwise all that is. */
  targets() {
    const { desk, items, focus } = this.sheet;
    const { path } = focus;
    if (path && !desk.selection.has(path)) return [path];
    return [...desk.selection].filter((chosen) => items.has(chosen));
  }

  /** Send an edit; keys pressed before go first. Rejected where the edit is. */
  commit(operations, what) {
    this.sheet.mover.commitKeys();
    return this.sheet.desk.commit(operations, what);
  }

  #send(operations, what) {
    return this.commit(operations, what).catch(() => null);
  }

  /** Return names of items for undo: "m1", or "3 things". */
  named(paths) {
    return paths.length === 1 ? this.sheet.items.get(paths[0])?.id ?? paths[0] : `${paths.length} things`;
  }

  /** Turn items anticlockwise. [°] */
  turn(paths, by) {
    const free = this.sheet.mover.movable(paths);
    if (free.length) this.#send([{ do: 'turn', items: free, by_deg: by }], `turn ${this.named(free)}`);
  }

  /** Remove items. */
  remove(paths) {
    const free = this.sheet.mover.movable(paths);
    if (free.length) this.#send([{ do: 'remove', items: free }], `remove ${this.named(free)}`);
  }

  /** Remember the targets for putting down copies. */
  copy() {
    this.copied = this.targets();
    if (this.copied.length) this.sheet.tell(`${this.named(this.copied)} copied: Ctrl V puts it down at the pointer.`);
  }

  /** Put copies down at the pointer, or beside what was copied. */
  paste() {
    const { sheet } = this;
    const items = this.copied.filter((path) => sheet.items.has(path));
    if (!items.length) return;
    const first = sheet.items.get(items[0]);
    const { pointer } = sheet.state;
    if (!pointer) {
      this.#beside(items);
      return;
    }
    const rules = { tiles: sheet.plan.tiles, step: stepOf(sheet.unit), ceiling: first.ceiling, free: false };
    const at = snap(sheet.view.toPlan(pointer), rules);
    this.#copies(items, [at[0] - first.at[0], at[1] - first.at[1]]);
  }

  /** Put copies down beside the targets. */
  duplicate() {
    this.#beside(this.targets());
  }

  #beside(items) {
    const step = stepOf(this.sheet.unit);
    const away = Math.round(BESIDE / step) * step;
    this.#copies(items, [away, -away]);
  }

  async #copies(items, by) {
    if (!items.length) return;
    const round = by.map((u) => Math.round(u * 1e6) / 1e6);
    const answer = await this.#send([{ do: 'copy', items, by: round }], `copy ${this.named(items)}`);
    this.choose(answer?.created ?? []);
  }

  /** Choose what was made, as soon as the plan has it. */
  choose(paths) {
    const { sheet } = this;
    if (!paths.length) return;
    const there = () => paths.every((path) => sheet.items.has(path));
    if (there()) sheet.desk.select(paths);
    else {
      const { signal } = sheet.ending;
      sheet.desk.addEventListener('plan', () => there() && sheet.desk.select(paths), { once: true, signal });
    }
  }

  /** Take the last edit back; keys pressed before it count as one. */
  undo() {
    this.sheet.mover.commitKeys();
    this.sheet.desk.undo().catch(() => null);
  }

  /** Bring back what was taken back. */
  redo() {
    this.sheet.desk.redo().catch(() => null);
  }

  /** Add an item to what is chosen, or take it out. */
  toggle(path) {
    this.sheet.desk.select([path], { add: true });
  }

  /** Tell the desk that an item is wanted at the side. */
  open(path) {
    this.sheet.desk.dispatchEvent(new CustomEvent('open', { detail: path }));
  }
}
