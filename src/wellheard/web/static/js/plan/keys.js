// The keyboard: everything a pointer can do on the sheet, without one.

import { stepOf } from './words.js';

const TURN = 15; // [°]
const FAR = 10; // steps with shift
const ARROWS = { ArrowLeft: [-1, 0], ArrowRight: [1, 0], ArrowUp: [0, 1], ArrowDown: [0, -1] };

/** What the list of keys says. */
export const KEYS = [
  ['Tab, Shift Tab', 'next or previous thing, as one reads'],
  ['Enter', 'open it at the side'],
  ['Space', 'choose it, or let it go'],
  ['arrows', 'move by 5 cm or 1 in; ten times as far with Shift'],
  ['[ and ]', 'turn by 15°'],
  ['Delete', 'remove'],
  ['Ctrl C, V, D', 'copy, put down, double'],
  ['Ctrl Z, Ctrl Shift Z', 'undo, redo'],
  ['Ctrl A', 'choose everything'],
  ['Esc', 'end a drag and give everything its old place'],
  ['o', 'edit the outline; a adds a corner, Delete removes it'],
  ['0, +, −', 'show all, nearer, farther'],
  ['Space and drag, middle button', 'move the sheet'],
  ['Alt while dragging', 'without snapping'],
  ['?', 'this list'],
];

/** The keys of one sheet. */
export class Keys {
  /**
   * @param {import('./plan.js').Plan} sheet
   * @param {AbortSignal} signal ends the listening
   */
  constructor(sheet, signal) {
    this.sheet = sheet;
    sheet.svg.addEventListener('keydown', (event) => this.down(event), { signal });
    sheet.svg.addEventListener('keyup', (event) => this.up(event), { signal });
    sheet.svg.addEventListener('blur', () => this.#space(false), { signal, capture: true });
  }

  down(event) {
    const handled = event.ctrlKey || event.metaKey ? this.#control(event) : this.#plain(event);
    if (!handled) return;
    event.preventDefault();
    event.stopPropagation();
  }

  up(event) {
    if (event.key !== ' ' || !this.sheet.state.space) return;
    const { panned } = this.sheet.state;
    this.#space(false);
    const { focus, state, acts } = this.sheet;
    if (!panned && state.mode === 'select' && focus.path) acts.toggle(focus.path);
  }

  #space(on) {
    this.sheet.state.space = on;
    this.sheet.state.panned = false;
    this.sheet.svg.classList.toggle('hand', on);
  }

  #control(event) {
    const { sheet } = this;
    const key = event.key.toLowerCase();
    const acts = {
      z: () => (event.shiftKey ? sheet.acts.redo() : sheet.acts.undo()),
      y: () => sheet.acts.redo(),
      c: () => sheet.acts.copy(),
      v: () => sheet.acts.paste(),
      d: () => sheet.acts.duplicate(),
      a: () => sheet.desk.select([...sheet.items.keys()]),
    };
    if (event.altKey || !acts[key]) return false;
    acts[key]();
    return true;
  }

  #plain(event) {
    const { sheet } = this;
    const { key } = event;
    if (event.altKey) return false;
    if (key === 'Escape') return this.#escape();
    if (key === '?') return this.#does(() => sheet.help());
    if (key === '0') return this.#does(() => sheet.fit());
    if (key === '+' || key === '=') return this.#does(() => sheet.zoom(1.25));
    if (key === '-' || key === '−') return this.#does(() => sheet.zoom(0.8));
    const step = this.#step(event);
    if (sheet.state.mode === 'place') return this.#placing(event, step);
    if (key === 'o') return this.#does(() => sheet.outline(sheet.state.mode !== 'outline'));
    if (sheet.state.mode === 'outline') return sheet.edit.key(event, step);
    if (key === 'Tab') return sheet.focus.walk(event.shiftKey ? -1 : 1);
    if (key === ' ') return this.#does(() => !event.repeat && this.#space(true));
    return this.#onTargets(event, step);
  }

  #onTargets(event, step) {
    const { sheet } = this;
    const targets = sheet.acts.targets();
    if (!targets.length) return false;
    if (step) return this.#does(() => sheet.mover.nudge(targets, step));
    if (event.key === 'Enter') return this.#does(() => sheet.acts.open(sheet.focus.path ?? targets[0]));
    if (event.key === '[') return this.#does(() => sheet.acts.turn(targets, TURN));
    if (event.key === ']') return this.#does(() => sheet.acts.turn(targets, -TURN));
    if (event.key === 'Delete' || event.key === 'Backspace') return this.#does(() => sheet.acts.remove(targets));
    return false;
  }

  #placing(event, step) {
    const { placer } = this.sheet;
    if (step) return this.#does(() => placer.nudge(step));
    if (event.key === 'Enter') return this.#does(() => placer.put(event.shiftKey));
    return false;
  }

  #step(event) {
    const arrow = ARROWS[event.key];
    if (!arrow) return null;
    const length = stepOf(this.sheet.unit) * (event.shiftKey ? FAR : 1);
    return [arrow[0] * length, arrow[1] * length];
  }

  #escape() {
    const { sheet } = this;
    if (sheet.helpShown) return this.#does(() => sheet.help());
    if (sheet.hand.cancel()) return true;
    if (sheet.state.mode === 'place') return this.#does(() => sheet.placer.stop());
    if (sheet.state.mode === 'outline') return this.#does(() => sheet.outline(false));
    if (sheet.desk.selection.size) return this.#does(() => sheet.desk.select([]));
    return false;
  }

  #does(act) {
    act();
    return true;
  }
}
