// The pointer: zoom, pan, select, stretch a band, drag; mouse, pen and fingers alike.

import { hit, within } from './items.js';

const START = { mouse: 3, pen: 4, touch: 8 }; // moved by so much a press becomes a drag [px]
const WHEEL = 0.0016; // zoom of a wheel, per pixel of its travel
const LINE = 16; // of wheels that count lines [px]

/** What a pointer does on the sheet. */
export class Hand {
  /**
   * @param {import('./plan.js').Plan} sheet
   * @param {AbortSignal} signal ends the listening
   */
  constructor(sheet, signal) {
    this.sheet = sheet;
    this.fingers = new Map(); // pointer id → pixel
    this.gesture = null; // {kind, id, from, ...}
    this.pending = null; // last move, applied once a frame
    const { svg } = sheet;
    const on = (name, told) => svg.addEventListener(name, told.bind(this), { signal, passive: false });
    on('pointerdown', this.down);
    on('pointermove', this.move);
    on('pointerup', this.up);
    on('pointercancel', this.lost);
    on('pointerleave', this.leave);
    on('dblclick', this.twice);
    on('wheel', this.wheel);
    on('contextmenu', (event) => event.preventDefault());
  }

  pixel(event) {
    const box = this.sheet.svg.getBoundingClientRect();
    return [event.clientX - box.left, event.clientY - box.top];
  }

  hitAt(pixel) {
    const { sheet } = this;
    return hit(sheet.shown(), sheet.view.toPlan(pixel), sheet.view.scale);
  }

  down(event) {
    const at = this.pixel(event);
    if (this.sheet.state.mode === 'select') this.sheet.tell('');
    this.fingers.set(event.pointerId, at);
    this.sheet.svg.setPointerCapture(event.pointerId);
    if (this.fingers.size === 2) {
      this.#pinch();
      return;
    }
    if (this.fingers.size > 2 || (event.button !== 0 && event.button !== 1)) return;
    this.gesture = this.#gesture(event, at);
    if (event.button === 1) event.preventDefault();
  }

  #gesture(event, at) {
    const { sheet } = this;
    const base = { id: event.pointerId, type: event.pointerType, from: at, last: at, moved: false, shift: event.shiftKey };
    if (event.button === 1 || sheet.state.space) return { ...base, kind: 'pan' };
    if (sheet.state.mode === 'place') return { ...base, kind: event.pointerType === 'touch' ? 'put' : 'place' };
    if (sheet.state.mode === 'outline') {
      return { ...base, ...sheet.edit.down(event.target) };
    }
    const item = this.hitAt(at);
    if (!item) {
      sheet.focus.onSheet();
      return { ...base, kind: event.pointerType === 'touch' ? 'pan' : 'band' };
    }
    const already = sheet.desk.selection.has(item.path);
    if (event.shiftKey) sheet.acts.toggle(item.path);
    else if (!already) sheet.desk.select([item.path]);
    sheet.focus.to(item.path);
    return { ...base, kind: 'item', path: item.path, already };
  }

  #pinch() {
    if (this.gesture?.kind === 'item') this.sheet.mover.cancel();
    if (this.gesture?.kind === 'corner') this.sheet.edit.cancel();
    this.sheet.overlay.stretch(null);
    const [a, b] = [...this.fingers.values()];
    this.gesture = { kind: 'pinch', apart: Math.hypot(a[0] - b[0], a[1] - b[1]), middle: mean(a, b) };
  }

  move(event) {
    const at = this.pixel(event);
    if (this.fingers.has(event.pointerId)) this.fingers.set(event.pointerId, at);
    const first = this.pending === null;
    this.pending = { at, alt: event.altKey, buttons: event.buttons };
    if (first) requestAnimationFrame(() => this.#apply());
  }

  #apply() {
    const { pending, gesture, sheet } = this;
    this.pending = null;
    if (!pending) return;
    const { at } = pending;
    sheet.state.pointer = at;
    if (!gesture) this.#hover(at, pending.alt);
    else if (gesture.kind === 'pinch') this.#pinched();
    else if (this.#begun(gesture, at)) this.#drag(gesture, at, pending.alt);
    sheet.tellPointer();
  }

  #hover(at, alt) {
    const { sheet } = this;
    if (sheet.state.mode === 'place') sheet.placer.move(sheet.view.toPlan(at), alt);
    else if (sheet.state.mode === 'select') sheet.desk.hover(this.hitAt(at)?.path ?? null);
  }

  #begun(gesture, at) {
    if (gesture.moved) return true;
    const far = Math.hypot(at[0] - gesture.from[0], at[1] - gesture.from[1]);
    if (far < (START[gesture.type] ?? START.mouse)) return false;
    gesture.moved = true;
    const { sheet } = this;
    if (gesture.kind === 'item') {
      const chosen = sheet.desk.selection.has(gesture.path) ? [...sheet.desk.selection] : [gesture.path];
      if (!sheet.mover.begin(gesture.path, chosen)) gesture.kind = 'nothing';
    }
    if (gesture.kind === 'pan') sheet.svg.classList.add('panning');
    return true;
  }

  #drag(gesture, at, alt) {
    const { sheet } = this;
    const { scale } = sheet.view;
    if (gesture.kind === 'pan') {
      sheet.view.pan(at[0] - gesture.last[0], at[1] - gesture.last[1]);
      sheet.viewChanged();
    } else if (gesture.kind === 'item' && sheet.mover.dragging) {
      sheet.mover.to([(at[0] - gesture.from[0]) / scale, (gesture.from[1] - at[1]) / scale], alt);
    } else if (gesture.kind === 'band') sheet.overlay.stretch(gesture.from, at);
    else if (gesture.kind === 'corner') sheet.edit.drag(sheet.view.toPlan(at), alt);
    else if (gesture.kind === 'place' || gesture.kind === 'put') sheet.placer.move(sheet.view.toPlan(at), alt);
    gesture.last = at;
  }

  #pinched() {
    const [a, b] = [...this.fingers.values()];
    if (!a || !b) return;
    const { gesture, sheet } = this;
    const [apart, centre] = [Math.hypot(a[0] - b[0], a[1] - b[1]), mean(a, b)];
    sheet.view.pan(centre[0] - gesture.middle[0], centre[1] - gesture.middle[1]);
    if (gesture.apart > 1) sheet.view.zoom(apart / gesture.apart, centre);
    Object.assign(gesture, { apart, middle: centre });
    sheet.viewChanged();
  }

  up(event) {
    const at = this.pixel(event);
    this.#apply();
    this.fingers.delete(event.pointerId);
    const { gesture, sheet } = this;
    if (!gesture) return;
    if (gesture.kind === 'pinch') {
      if (!this.fingers.size) this.gesture = null;
      return;
    }
    if (gesture.id !== event.pointerId) return;
    this.gesture = null;
    sheet.svg.classList.remove('panning');
    if (gesture.kind === 'pan' && gesture.moved) sheet.state.panned = true;
    else if (gesture.kind === 'pan' && sheet.state.mode === 'select') sheet.desk.select([]);
    if (gesture.kind === 'item') this.#released(gesture);
    if (gesture.kind === 'band') this.#banded(gesture, at);
    if (gesture.kind === 'corner') sheet.edit.drop(gesture.moved);
    if (gesture.kind === 'length') sheet.edit.type(gesture.wall);
    if (gesture.kind === 'place' || gesture.kind === 'put') {
      sheet.placer.move(sheet.view.toPlan(at), event.altKey);
      sheet.placer.put(event.shiftKey);
    }
  }

  #released(gesture) {
    const { sheet } = this;
    if (gesture.moved) sheet.mover.drop();
    else if (gesture.already && !gesture.shift && sheet.desk.selection.size > 1) sheet.desk.select([gesture.path]);
  }

  #banded(gesture, at) {
    const { sheet } = this;
    sheet.overlay.stretch(null);
    if (!gesture.moved) {
      if (!gesture.shift) sheet.desk.select([]);
      return;
    }
    const [a, b] = [sheet.view.toPlan(gesture.from), sheet.view.toPlan(at)];
    const found = within(sheet.shown(), a, b).map((item) => item.path);
    sheet.desk.select(found, { add: gesture.shift });
  }

  /** Esc: whatever the hand is doing ends, and everything has its old place. */
  cancel() {
    const { gesture, sheet } = this;
    if (!gesture || !gesture.moved) return false;
    if (gesture.kind === 'item') sheet.mover.cancel();
    if (gesture.kind === 'corner') sheet.edit.cancel();
    if (gesture.kind === 'band') sheet.overlay.stretch(null);
    gesture.kind = 'nothing';
    return true;
  }

  lost(event) {
    this.cancel();
    this.fingers.delete(event.pointerId);
    this.gesture = null;
  }

  leave() {
    this.sheet.state.pointer = null;
    if (!this.gesture) this.sheet.desk.hover(null);
    this.sheet.tellPointer();
  }

  twice(event) {
    const { sheet } = this;
    const at = this.pixel(event);
    if (sheet.state.mode === 'outline') {
      sheet.edit.split(sheet.view.toPlan(at));
      return;
    }
    if (sheet.state.mode !== 'select') return;
    const item = this.hitAt(at);
    if (item) sheet.acts.open(item.path);
    else sheet.fit();
  }

  wheel(event) {
    event.preventDefault();
    const travel = event.deltaY * (event.deltaMode === 1 ? LINE : 1);
    const speed = event.ctrlKey ? 6 : 1; // a pinch on a track pad comes as small turns of the wheel
    this.sheet.view.zoom(Math.exp(-travel * WHEEL * speed), this.pixel(event));
    this.sheet.viewChanged();
  }
}

function mean(a, b) {
  return [(a[0] + b[0]) / 2, (a[1] + b[1]) / 2];
}
