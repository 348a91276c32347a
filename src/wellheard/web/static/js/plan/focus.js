// The keyboard's focus: one thing of the plan is a stop of the Tab key, and Tab walks on from it as
// one reads; what each is called by those who listen.

import { readingOrder, spoken } from './items.js';
import { set } from './svg.js';

/** Focus on one sheet. */
export class Focus {
  /**
   * @param {import('./plan.js').Plan} sheet
   * @param {AbortSignal} signal ends the listening
   */
  constructor(sheet, signal) {
    this.sheet = sheet;
    this.last = null; // path that had the focus last
    this.pointed = false; // whether a pointer came last, not a key: then the focus is not drawn
    const by = (name, pointed) => sheet.svg.addEventListener(name, () => this.#by(pointed), { signal, capture: true });
    by('pointerdown', true);
    by('keydown', false);
    sheet.svg.addEventListener('focusin', (event) => this.#came(event.target), { signal });
    sheet.svg.addEventListener('focusout', () => sheet.mark(), { signal });
  }

  /** Return the path of the item in focus; null where something else is. */
  get path() {
    return this.#item()?.dataset.path ?? null;
  }

  /** Return the path of the item in focus where the focus ought to be seen. */
  get visible() {
    const item = this.#item();
    return item && !this.pointed && item.matches(':focus-visible') ? item.dataset.path : null;
  }

  #item() {
    const item = document.activeElement?.closest?.('.item');
    return item && this.sheet.svg.contains(item) ? item : null;
  }

  #by(pointed) {
    if (this.pointed === pointed) return;
    this.pointed = pointed;
    this.sheet.mark();
  }

  #came(target) {
    const path = target.closest('.item')?.dataset.path;
    if (path) this.last = path;
    this.tabStop();
    this.sheet.mark();
  }

  /** Focus the item after or before the one in focus; returns whether there is one. */
  walk(by) {
    const { items } = this.sheet;
    const order = readingOrder(items.values());
    const now = this.path ? order.indexOf(this.path) : by > 0 ? -1 : order.length;
    const next = order[now + by];
    if (!next) return false;
    this.to(next);
    this.sheet.goTo(items.get(next).at);
    return true;
  }

  /** Give an item the focus. */
  to(path) {
    this.last = path;
    this.sheet.marks.node(path)?.focus({ preventScroll: true });
  }

  /** Give the sheet the focus: keys act on what is chosen. */
  onSheet() {
    this.sheet.svg.focus({ preventScroll: true });
  }

  /** Leave one item as the stop of the Tab key: the last one, a chosen one, or the first. */
  tabStop() {
    const { items, desk, marks } = this.sheet;
    const [chosen] = desk.selection;
    const stop = [this.last, chosen].find((path) => items.has(path)) ?? readingOrder(items.values())[0];
    for (const path of items.keys()) set(marks.node(path), { tabindex: path === stop ? 0 : -1 });
  }

  /** After a new plan: what had the focus may be gone. */
  settle() {
    if (this.last === null || this.sheet.items.has(this.last)) return;
    this.last = null;
    if (document.activeElement === document.body) this.onSheet();
  }

  /** Say what every item is. */
  name() {
    const { desk, items, marks } = this.sheet;
    const quantity = desk.figures?.quantities?.find((one) => one.key === desk.quantity)?.word ?? '';
    for (const [path, item] of items) {
      set(marks.node(path), { 'aria-label': spoken(item, marks.figures[path], quantity) });
    }
  }
}
