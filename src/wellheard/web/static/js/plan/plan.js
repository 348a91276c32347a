// The plan of a room: what is drawn, what is in the hand, and what goes to the desk.

import { Acts } from './acts.js';
import { Border, EDGE, STRIP } from './border.js';
import { Lines } from './lines.js';
import { Dimensions, ROOM } from './dimensions.js';
import { Outline } from './edit.js';
import { Focus } from './focus.js';
import { inside, offset, overlap } from './geometry.js';
import { Hand } from './hand.js';
import { helpSheet } from './help.js';
import { itemsOf } from './items.js';
import { Keys } from './keys.js';
import { Legend } from './legend.js';
import { MapLayer } from './map.js';
import { Marks } from './marks.js';
import { Mover } from './mover.js';
import { Overlay, legsOf } from './overlay.js';
import { Placer } from './place.js';
import { Scenery } from './scenery.js';
import { make, set } from './svg.js';
import { Symbols } from './symbols.js';
import { View } from './view.js';
import { figure, placeWords, scaleWords } from './words.js';

const REST = 140; // after a change of the view words find their places again [ms]
const MARGIN = 26; // round the room when all is shown [px]

/** A sheet on which a room is drawn and changed. */
export class Plan {
  /**
   * @param {HTMLElement} root is filled
   * @param {import('../desk.js').Desk} desk
   */
  constructor(root, desk) {
    Object.assign(this, { root, desk });
    this.view = new View();
    this.plan = null;
    this.items = new Map();
    this.symbols = null;
    this.state = {
      mode: 'select', // 'place' and 'outline' besides
      placing: null, // {kind, product, symbol, at}
      drag: null, // {lead, paths, by, live}
      pointer: null, // [px]
      space: false,
      panned: false,
      fitted: false,
      layers: { lines: true, tint: true, tiles: true, dimensions: true, findings: true },
    };
    this.frames = 0;
    this.timer = 0;
    this.ending = new AbortController();
    this.#build();
    this.ready = this.#start();
  }

  #build() {
    this.root.classList.add('plan');
    this.paper = document.createElement('div');
    this.paper.className = 'plan-paper';
    this.svg = make('svg', { class: 'plan-sheet', tabindex: -1, role: 'group', 'aria-label': 'Plan' }, this.paper);
    this.said = document.createElement('p');
    this.said.className = 'plan-line';
    this.said.setAttribute('role', 'status');
    this.paper.append(this.said);
    this.root.append(this.paper);
    this.legend = new Legend(this.root);
    const key = `plan-${Math.random().toString(36).slice(2, 9)}`;
    this.world = make('g', { class: 'world', 'aria-hidden': 'true' }, this.svg);
    this.notes = make('g', { class: 'notes' }, this.svg);
    this.map = new MapLayer(this.world, this.notes, key);
    this.scenery = new Scenery(this.world);
    this.lines = new Lines(this.world, this.desk, this.ending.signal);
    this.dimensions = new Dimensions(this.notes);
    this.list = make('g', { class: 'items', role: 'listbox', 'aria-multiselectable': 'true', 'aria-label': 'Things on the plan' }, this.svg);
    this.overlay = new Overlay(this.svg);
    this.border = new Border(this.svg);
    this.edit = new Outline(this);
  }

  async #start() {
    this.symbols = await Symbols.load();
    const { signal } = this.ending;
    if (signal.aborted) return;
    this.marks = new Marks(this.list, this.symbols, measurer(this.root));
    this.mover = new Mover(this);
    this.acts = new Acts(this);
    this.focus = new Focus(this, signal);
    this.placer = new Placer(this);
    this.hand = new Hand(this, signal);
    this.keys = new Keys(this, signal);
    const on = (name, told) => this.desk.addEventListener(name, told, { signal });
    on('plan', () => this.#usePlan());
    on('figures', () => this.#useFigures());
    on('live', (event) => this.#useLive(event.detail));
    on('selection', () => this.#selected());
    on('path', () => this.#way());
    on('hover', () => this.mark());
    on('busy', (event) => this.root.classList.toggle('busy', Boolean(event.detail)));
    on('show', (event) => this.#pointAt(event.detail));
    this.watcher = new ResizeObserver(() => this.#resized());
    this.watcher.observe(this.paper);
    document.fonts?.addEventListener('loadingdone', () => this.layout(), { signal });
    if (this.desk.plan) this.#usePlan();
    if (this.desk.figures) this.#useFigures();
  }

  /** End: nothing listens any more, and what keys moved last is committed. */
  close() {
    this.mover?.close();
    this.ending.abort();
    this.watcher?.disconnect();
    clearTimeout(this.timer);
    cancelAnimationFrame(this.frames);
  }

  /** Unit of what is said. */
  get unit() {
    return this.desk.unit === 'ft' ? 'ft' : 'm';
  }

  // What comes from the desk --------------------------------------------------------------------

  #usePlan() {
    const { plan } = this.desk;
    if (!plan) return;
    this.plan = plan;
    this.items = itemsOf(plan);
    this.mover.settle(this.items);
    this.svg.setAttribute('aria-label', `Plan of ${plan.title}`);
    this.map.clip(plan.outline);
    this.scenery.paint(plan);
    this.marks.paint(this.items, plan.outline);
    const bounds = plan.bounds.join();
    if (!this.state.fitted || (this.state.fitted === 'all' && bounds !== this.bounds && !this.state.drag)) this.fit();
    this.bounds = bounds;
    for (const [path, by] of this.mover.offsets()) this.scenery.move(path, by);
    this.focus.settle();
    this.edit.settle();
    this.#selected();
    this.focus.name();
    this.layout();
  }

  #useFigures() {
    if (this.mover.dragging) return; // painted when the hand lets go
    this.repaintFigures();
  }

  /** Paint the figures the desk has: map, marks, findings. */
  repaintFigures() {
    const { figures } = this.desk;
    if (!figures || !this.plan) return;
    this.#paintMap(figures.map, figures.map_words);
    this.marks.tell(figures.marks);
    this.focus.name();
    this.layout();
  }

  #paintMap(map, why) {
    this.map.paint(map);
    this.legend.paint(map, why);
    this.tellPointer();
  }

  /** The quick answer while the hand moves; the map stays where it says nothing of one. */
  #useLive(answer) {
    if (!this.mover.dragging || !this.state.drag.live) return;
    if (answer.map) {
      this.map.paint(answer.map);
      this.legend.paint(answer.map);
      this.#writeLines(answer.map.labels ?? []);
    }
    if (answer.waits) this.tell(answer.waits);
    if (answer.marks) this.marks.tell({ ...this.marks.figures, ...answer.marks });
    const rows = answer.ledger?.rows ?? answer.rows;
    if (rows?.length) this.#way(rows, answer.rest);
  }

  #selected() {
    for (const path of this.items.keys()) {
      set(this.marks.node(path), { 'aria-selected': String(this.desk.selection.has(path)) });
    }
    this.focus.tabStop();
    this.mark();
    this.#way();
  }

  #pointAt({ path, place }) {
    const at = place ?? this.items.get(path)?.at ?? this.edit.middle(path);
    if (at) this.goTo(at);
  }

  // The view ------------------------------------------------------------------------------------

  #resized() {
    const { width, height } = this.paper.getBoundingClientRect();
    if (!width || !height || (width === this.view.width && height === this.view.height)) return;
    Object.assign(this.view, { width, height });
    set(this.svg, { width, height, viewBox: `0 0 ${width} ${height}` });
    if (!this.plan) return;
    if (this.state.fitted !== 'moved') this.fit();
    else this.viewChanged();
  }

  /** Show the whole room. */
  fit() {
    const { width, height } = this.view;
    if (!this.plan || !width || !height) return;
    const side = EDGE + STRIP;
    const chains = this.state.layers.dimensions ? this.plan.dimensions : [];
    const room = (axis) => (chains.some((chain) => chain.axis === axis) ? ROOM + 4 : MARGIN);
    this.view.fit(this.plan.bounds, { left: side + room('y'), bottom: side + room('x'), right: side + MARGIN, top: side + MARGIN });
    this.state.fitted = 'all';
    this.viewChanged(false);
  }

  /** Bring a point into view, in the middle if it was out of it. [m] */
  goTo(point) {
    const [x, y] = this.view.toScreen(point);
    const edge = EDGE + STRIP + 20;
    if (x > edge && y > edge && x < this.view.width - edge && y < this.view.height - edge) return;
    this.view.pan(this.view.width / 2 - x, this.view.height / 2 - y);
    this.viewChanged();
  }

  /** Zoom about the middle. */
  zoom(factor) {
    this.view.zoom(factor, [this.view.width / 2, this.view.height / 2]);
    this.viewChanged();
  }

  /** The view is another one: draw again with the next frame. */
  viewChanged(moved = true) {
    if (moved) this.state.fitted = 'moved';
    if (!this.frames) this.frames = requestAnimationFrame(() => this.#draw());
  }

  #draw() {
    this.frames = 0;
    if (!this.plan) return;
    set(this.world, { transform: this.view.transform });
    this.marks.placeAll(this.view, this.mover.offsets());
    this.border.draw(this.view, this.plan.bounds, this.unit);
    this.#chains();
    this.#writeLines(this.map.wanted);
    this.edit.draw();
    this.placer.draw();
    this.mark();
    this.#way();
    this.#findings();
    this.legend.tellScale(scaleWords(this.view.scale));
    this.tellPointer();
    clearTimeout(this.timer);
    this.timer = setTimeout(() => this.state.drag ?? this.layout(), REST); // letting go does it as well
  }

  /** Let words find their places, and lines leave them blank. */
  layout() {
    if (!this.plan || !this.marks || !this.view.width) return;
    const offsets = this.mover.offsets();
    this.written = this.marks.layout(this.view, offsets);
    this.marks.placeAll(this.view, offsets);
    this.#writeLines(this.map.wanted);
    this.#chains();
    this.#findings();
    this.#way();
    this.mark();
  }

  /** Write what stands in the lines where nothing else stands; what is in the hand leaves no gap. */
  #writeLines(wanted) {
    const { view } = this;
    const written = this.written ?? { taken: [], gaps: new Map() };
    const moving = new Set(this.state.drag?.paths ?? []);
    const placed = [];
    for (const label of wanted) {
      const at = view.toScreen(label.at);
      const half = Math.max(label.words.length * 3, 8);
      const box = { x: at[0] - half, y: at[1] - half * 0.7, w: 2 * half, h: 1.4 * half };
      if (label.width && label.width * view.scale < label.words.length * 5) continue;
      if (written.taken.some((other) => overlap(box, other)) || this.#covered(label.at)) continue;
      placed.push({ label, at, angle: -label.angle_deg });
    }
    const holes = [...written.gaps].filter(([path]) => !moving.has(path)).flatMap(([, boxes]) => boxes);
    this.map.write(placed, apart(holes).map((box) => quadrangle(box, view)));
  }

  /** Return whether a point lies where the map is covered. [m] */
  #covered(point) {
    return this.plan.standing.some(({ outline }) => inside(point, offset(outline, 0.1)));
  }

  #chains() {
    const show = this.state.layers.dimensions && !this.state.drag && this.state.mode !== 'outline';
    const set_out = [...this.items.values()].filter((item) => item.kind === 'devices').map((item) => item.at);
    this.dimensions.draw(show ? this.plan.dimensions : [], this.view, this.plan.bounds, set_out);
  }

  #findings() {
    const show = this.state.layers.findings && !this.state.drag && this.state.mode !== 'outline';
    const rows = show ? this.desk.figures?.findings?.rows ?? [] : [];
    const found = [];
    rows.forEach((row, k) => {
      const at = row.shown_at ?? this.items.get(row.at)?.at;
      const said = (this.marks.figures[row.at]?.state ?? 'kept') !== 'kept'; // by its state mark
      const severity = row.state === 'not assessed' ? 'open' : row.severity;
      if (at && !said) found.push({ number: k + 1, severity, at: this.view.toScreen(at) });
    });
    this.overlay.number(found, this.written?.taken ?? []);
  }

  /** Draw corner marks round what is selected and hovered, and the focus. */
  mark() {
    if (!this.plan || !this.marks) return;
    const box = (path) => (this.items.has(path) ? this.marks.box(path, this.view, this.mover.by(path)) : this.edit.box(path));
    const chosen = [...this.desk.selection].map(box).filter(Boolean);
    const { hovered } = this.desk;
    const focused = this.focus.visible;
    this.overlay.mark(chosen, hovered && !this.desk.selection.has(hovered) ? box(hovered) : null, focused && box(focused));
  }

  /** Draw the way from the chosen place to the microphone that hears it best. */
  #way(rows = this.desk.figures?.ledger?.rows, settled = false) {
    const [path] = this.desk.selection;
    const seat = this.desk.selection.size === 1 ? this.items.get(path) : null;
    if (seat && (this.desk.way ?? 'outbound') !== 'outbound') {
      this.#followed(path);
      return;
    }
    const row = seat && (rows ?? []).find((one) => one.path === path || one.id === seat.id);
    const device = row && this.items.get(row.microphone);
    if (!device || (seat.kind !== 'seats' && seat.kind !== 'standing')) {
      this.overlay.way([], '');
      return;
    }
    const at = (item) => {
      const [dx, dy] = this.mover.by(item.path);
      return this.view.toScreen([item.at[0] + dx, item.at[1] + dy]);
    };
    const moving = this.mover.offsets();
    const still = !moving.has(seat.path) && !moving.has(device.path);
    this.overlay.way([[at(seat), at(device)]], still || settled ? row.distance ?? '' : '');
  }

  /** Draw the path in, of the echo or of a lift: as it was worked out last, while nothing moves. */
  #followed(path) {
    const { seat, line = [], line_words: words = '' } = this.desk.path ?? {};
    const still = seat === path && this.mover.offsets().size === 0;
    this.overlay.way(still ? legsOf(line.map((at) => this.view.toScreen(at))) : [], words);
  }

  // What the mover asks for -----------------------------------------------------------------------

  /** Show one item moved by metres. */
  show(path, by) {
    this.scenery.move(path, by);
    this.marks.place(path, this.view, by);
  }

  /** Marks follow what has moved. */
  followMoved() {
    this.mark();
    const { drag } = this.state;
    const lead = drag && this.items.get(drag.lead);
    this.overlay.toWalls(lead, lead ? this.mover.by(lead.path) : [0, 0], this.plan.outline, this.view, this.unit);
    this.#way();
  }

  /** The hand has taken something up, or let it go. */
  lifted(up) {
    this.svg.classList.toggle('lifting', up);
    this.#chains();
    this.#findings();
    this.#writeLines(this.map.wanted);
    if (up) this.tell('');
    else {
      this.overlay.toWalls(null);
      this.layout();
    }
  }

  // What hands and keys do ------------------------------------------------------------------------

  /** Return the items that a hand can mean, moved ones where they are shown. */
  shown() {
    const offsets = this.mover.offsets();
    return [...this.items.values()].map((item) => (offsets.has(item.path) ? moved(item, offsets.get(item.path)) : item));
  }

  // Modes, layers, words --------------------------------------------------------------------------

  /**
   * Begin to place things.
   * @param {string} kind of the operation "add"
   * @param {string} [product] catalogue id
   * @param {string} [symbol] drawn as the ghost
   */
  startPlacing(kind, product, symbol) {
    if (!this.plan) return;
    if (this.state.mode === 'outline') this.outline(false);
    this.placer.start(kind, product, symbol);
  }

  /** Place no more. */
  stopPlacing() {
    this.placer?.stop();
  }

  /** Begin or end editing the outline. */
  outline(on) {
    if (!this.plan || on === (this.state.mode === 'outline')) return;
    this.stopPlacing();
    this.setMode(on ? 'outline' : 'select');
    this.edit.toggle(on);
    if (!on) this.tell('');
    this.layout();
  }

  /** Change what pressing on the sheet does; told by 'mode' at the desk. */
  setMode(mode) {
    const before = this.state.mode;
    this.state.mode = mode;
    this.svg.dataset.mode = mode;
    if (before === 'place') this.desk.dispatchEvent(new CustomEvent('placed'));
    this.desk.dispatchEvent(new CustomEvent('mode', { detail: mode }));
  }

  /** Show or hide layers: {lines, tint, tiles, dimensions, findings}. */
  layers(wanted) {
    Object.assign(this.state.layers, wanted);
    for (const [name, on] of Object.entries(this.state.layers)) this.svg.classList.toggle(`without-${name}`, !on);
    if (this.plan) this.layout();
  }

  /** Say something in the line over the plan; '' clears it. */
  tell(words) {
    this.said.textContent = words;
  }

  /** Say where the pointer is and what the map has there. */
  tellPointer() {
    const { pointer } = this.state;
    if (!pointer || !this.plan) {
      this.legend.tellPointer('');
      return;
    }
    const point = this.view.toPlan(pointer);
    const { map } = this.map;
    const value = this.map.value(point);
    const said = value === null ? '' : `: ${figure(value, map.decimals)}`;
    this.legend.tellPointer(`pointer\u00a0 ${placeWords(point, this.unit)}${said}`);
  }

  /** Show or hide the list of keys. */
  help() {
    this.helpShown = this.helpShown ? void this.helpShown.remove() : helpSheet(this.paper, () => this.help());
    if (!this.helpShown) this.focus.onSheet();
  }
}

function moved(item, [dx, dy]) {
  const shift = ([x, y]) => [x + dx, y + dy];
  return { ...item, at: shift(item.at), ring: item.ring?.map(shift) ?? null, segment: item.segment?.map(shift) ?? null };
}

/** Return boxes of which none overlaps another: of two that do, the later one is left out. */
function apart(boxes) {
  const kept = [];
  for (const box of boxes) if (!kept.some((other) => overlap(box, other))) kept.push(box);
  return kept;
}

function quadrangle({ x, y, w, h }, view) {
  return [[x, y], [x + w, y], [x + w, y + h], [x, y + h]].map((pixel) => view.toPlan(pixel));
}

/** Return a function that measures words in the font of an element. */
function measurer(root) {
  const pen = document.createElement('canvas').getContext('2d');
  const family = getComputedStyle(root).fontFamily;
  return (words, size, strong) => {
    pen.font = `${strong ? 600 : 400} ${size}px ${family}`;
    return pen.measureText(words).width;
  };
}
