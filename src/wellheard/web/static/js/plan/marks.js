// Seats, devices and the rest as symbols of constant size, each with its words; one group an item,
// which is also what keyboard and screen readers walk through.

import { along, boundsOf, distance, edgeBoxes, nearestOn } from './geometry.js';
import { extent } from './items.js';
import { choose, deviceOptions, grown, seatOptions, standingOptions } from './labels.js';
import { make, say, set, short, Keyed } from './svg.js';
import { UNITS } from './symbols.js';
import { outwards } from './walls.js';

const SIZES = { seats: 25, standing: 25, devices: 27, sources: 27, equipment: 25 }; // [px]
const LEAST = 22; // of a symbol [px]
const WALL_EDGES = { 'speaker-wall': 9.4, bar: 9.4, 'mic-wall': 8 }; // thick edge below the middle [units]
const AT_WALL = 0.35; // nearer than this a wall device is drawn on the wall [m]
const STATES = { kept: 'state-kept', 'at risk': 'state-at-risk', broken: 'state-broken', 'not assessed': 'state-not-assessed' };
const PADLOCK = 'M-3.5 -1H3.5V4.5H-3.5ZM-2.2 -1V-2.6A2.2 2.2 0 0 1 2.2 -2.6V-1';

/** Symbols and words of the items, in pixels. */
export class Marks {
  /**
   * @param {SVGElement} parent
   * @param {import('./symbols.js').Symbols} symbols
   * @param {(words: string, size: number, strong: boolean) => number} measure [px]
   */
  constructor(parent, symbols, measure) {
    this.symbols = symbols;
    this.measure = measure;
    this.areas = new Keyed(make('g', {}, parent));
    this.points = new Keyed(make('g', {}, parent));
    this.items = new Map();
    this.figures = {};
    this.ring = [];
    this.words = new Map();
  }

  /** Return the group of an item. */
  node(path) {
    return this.points.get(path) ?? this.areas.get(path);
  }

  /**
   * Bring the groups in line with the items of a plan.
   * @param {Map<string, import('./items.js').Item>} items
   * @param {number[][]} ring of the room [m]
   */
  paint(items, ring) {
    this.items = items;
    this.ring = ring;
    const create = (item, parent) =>
      make('g', { class: `item ${item.kind}`, 'data-path': item.path, role: 'option', tabindex: -1, 'aria-selected': 'false' }, parent);
    const all = [...items.values()];
    this.areas.sync(all.filter((item) => !symbolOf(item)), (item) => item.path, create, (node) => this.#outline(node));
    this.points.sync(all.filter(symbolOf), (item) => item.path, create, (node, item) => this.#draw(node, item));
  }

  #outline(node) {
    if (!node.firstChild) make('rect', { class: 'extent' }, node);
  }

  #draw(node, item) {
    const name = symbolOf(item);
    const look = `${name} ${item.locked}`;
    if (node.dataset.look !== look) {
      node.dataset.look = look;
      node.replaceChildren();
      this.symbols.draw(name, node, SIZES[item.kind] ?? LEAST);
      if (item.locked) make('path', { class: 'padlock', d: PADLOCK, transform: 'translate(10 9)' }, node);
      this.words.delete(item.path);
    }
  }

  /**
   * Give every item the figure it has; layout decides where it stands.
   * @param {Record<string, {state: string, figure: string}>} figures
   */
  tell(figures) {
    const before = this.figures;
    this.figures = figures ?? {};
    let moved = false;
    for (const [path, item] of this.items) {
      if (item.kind !== 'seats' && item.kind !== 'standing') continue;
      const [old, now] = [before[path], this.figures[path]];
      if (old?.state !== now?.state || (old?.figure ?? '').length !== (now?.figure ?? '').length) moved = true;
      else if (old?.figure !== now?.figure) this.#figure(path, now.figure);
    }
    return moved;
  }

  /** Only the figure is another one: while a hand moves nothing else is touched. */
  #figure(path, words) {
    const text = this.node(path).querySelector('[data-part=figure]');
    if (text) say(text, words);
  }

  /** Put an item where the view has it, moved by metres. */
  place(path, view, by = [0, 0]) {
    const item = this.items.get(path);
    const node = this.node(path);
    if (!item || !node) return;
    if (!symbolOf(item)) {
      const { x, y, w, h } = this.box(path, view, by, 0);
      set(node.firstChild, { x: short(x), y: short(y), width: short(w), height: short(h) });
      return;
    }
    const { at, turn } = this.#spot(item, view, by);
    set(node, { transform: `translate(${short(at[0])} ${short(at[1])})` });
    const key = String(turn);
    if (node.dataset.turn !== key) {
      node.dataset.turn = key;
      this.symbols.turn(node.firstChild, SIZES[item.kind] ?? LEAST, turn);
    }
  }

  /** Put every item where the view has it. */
  placeAll(view, offsets) {
    for (const path of this.items.keys()) this.place(path, view, offsets.get(path));
  }

  /** Return where a symbol is drawn and how it is turned: those of a wall lie on its face. */
  #spot(item, view, by) {
    const point = [item.at[0] + by[0], item.at[1] + by[1]];
    const facing = item.source.facing_deg ?? item.source.aim_deg ?? null;
    const edge = WALL_EDGES[item.source.symbol];
    if (edge === undefined) {
      const aimed = item.kind === 'seats' || item.kind === 'standing';
      return { at: view.toScreen(point), turn: aimed ? 90 - (facing ?? 90) : 0 };
    }
    const wall = nearestWall(point, this.ring);
    if (!wall || wall.away > AT_WALL) return { at: view.toScreen(point), turn: 90 - (facing ?? 90) };
    const lift = (edge * SIZES.devices) / UNITS;
    const foot = view.toScreen(wall.foot);
    const into = [-wall.out[0], -wall.out[1]];
    const turn = 90 - (Math.atan2(into[1], into[0]) * 180) / Math.PI;
    return { at: [foot[0] + into[0] * lift, foot[1] - into[1] * lift], turn };
  }

  /**
   * Return the box of an item on the sheet. [px]
   * @param {string} path
   * @param {import('./view.js').View} view
   * @param {number[]} [by] [m]
   * @param {number} [margin] [px]
   */
  box(path, view, by = [0, 0], margin = 3) {
    const item = this.items.get(path);
    if (symbolOf(item) && !item.ring) {
      const [x, y] = this.#spot(item, view, by).at;
      return { x: x - 14 - margin, y: y - 14 - margin, w: 28 + 2 * margin, h: 28 + 2 * margin };
    }
    const [x0, y0, x1, y1] = boundsOf(extent(item).map(([x, y]) => view.toScreen([x + by[0], y + by[1]])));
    return grown({ x: x0, y: y0, w: x1 - x0, h: y1 - y0 }, [0, 0], margin);
  }

  /**
   * Choose where words stand.
   * @param {import('./view.js').View} view
   * @param {Map<string, number[]>} offsets [m]
   * @returns {{taken: object[], gaps: Map<string, object[]>}} boxes of words and symbols [px]; boxes of words by item
   */
  layout(view, offsets) {
    const taken = [];
    const things = [];
    for (const item of this.items.values()) {
      if (!symbolOf(item)) continue;
      const { at } = this.#spot(item, view, offsets.get(item.path) ?? [0, 0]);
      taken.push({ x: at[0] - 9, y: at[1] - 9, w: 18, h: 18 });
      const options = this.#options(item);
      if (options.length) things.push({ path: item.path, at, options, item });
    }
    things.sort((a, b) => order(a.item) - order(b.item));
    const rings = [...this.items.values()].filter((item) => item.ring);
    const edges = rings.flatMap((item) => edgeBoxes(item.ring.map((at) => view.toScreen(at))));
    this.words = choose(things, taken, edges);
    const gaps = new Map();
    for (const { path, at, item } of things) {
      this.#write(this.node(path), item);
      gaps.set(path, (this.words.get(path) ?? []).map((w) => grown(w.box, at, 2.5)));
    }
    return { taken, gaps };
  }

  #options(item) {
    const mark = this.figures[item.path];
    const told = { figure: mark?.figure ?? '', state: mark?.state ?? 'kept', name: item.label };
    if (item.kind === 'seats') return seatOptions({ facing: item.source.facing_deg ?? 90, ...told }, this.measure);
    if (item.kind === 'standing') return standingOptions(told, this.measure);
    if (item.kind === 'devices') return deviceOptions({ label: item.label, height: item.source.height_words ?? '' }, this.measure);
    return [];
  }

  #write(node, item) {
    const words = this.words.get(item.path);
    if (!words) return;
    const mark = this.figures[item.path];
    const text = { figure: mark?.figure ?? '', name: item.label, label: item.label, height: `▽\u00a0${item.source.height_words ?? ''}` };
    const wanted = new Set(words.map((w) => w.part));
    for (const child of [...node.querySelectorAll('[data-part]')]) {
      if (!wanted.has(child.dataset.part)) child.remove();
    }
    for (const { part, x, y, anchor, box } of words) {
      let child = node.querySelector(`[data-part=${part}]`);
      if (part === 'state') {
        if (child?.dataset.state !== mark.state) {
          child?.remove();
          child = make('g', { 'data-part': 'state', 'data-state': mark.state }, node);
          this.symbols.draw(STATES[mark.state] ?? STATES['not assessed'], child, 14.5);
        }
        set(child, { transform: `translate(${short(x)} ${short(y)})` });
      } else if (part === 'height') {
        this.#height(node, child, { x: box.x, y, words: item.source.height_words });
      } else {
        child ??= make('text', { 'data-part': part, class: part }, node);
        set(child, { x: short(x), y: short(y), 'text-anchor': anchor });
        say(child, text[part]);
      }
    }
  }

  /** A height has the level mark drawn in front: fonts need not have it. */
  #height(node, child, { x, y, words }) {
    if (!child) {
      child = make('g', { 'data-part': 'height' }, node);
      make('path', { class: 'level', d: 'M0 -7.6H8.4L4.2 -1Z' }, child);
      make('text', { x: 11, class: 'height' }, child);
    }
    set(child, { transform: `translate(${short(x)} ${short(y)})` });
    say(child.lastElementChild, words);
  }
}

/** Devices are written first, then seats: what is set out leads. */
function order(item) {
  return { devices: 0, seats: 1, standing: 2 }[item.kind] ?? 3;
}

function symbolOf(item) {
  if (item.kind === 'seats') return 'seat';
  if (item.kind === 'standing') return 'person-standing';
  return ['devices', 'sources', 'equipment'].includes(item.kind) ? item.source.symbol : '';
}

function nearestWall(point, ring) {
  let best = null;
  ring.forEach((from, k) => {
    const to = ring[(k + 1) % ring.length];
    const foot = nearestOn(point, from, to).at;
    const away = distance(point, foot);
    if (along(from, to).some(Boolean) && (!best || away < best.away)) best = { away, foot, out: outwards(ring, from, to) };
  });
  return best;
}
