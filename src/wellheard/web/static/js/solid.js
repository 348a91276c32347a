/** The room in space, drawn as on the sheet: ink lines, paper faces, walls open towards the reader. */

import { html } from './build.js';
import { paintScene } from './paint.js';
import { legsOf } from './plan/overlay.js';
import { say } from './plan/svg.js';
import { ISOMETRIC_DEG, prepared, projected, turnedTo, viewFrom } from './space.js';

const START = { turnDeg: 235, tiltDeg: ISOMETRIC_DEG, zoom: 1 }; // from the south-west
const STEP_DEG = 5;
const PER_PIXEL_DEG = 0.4;
const ZOOM_STEP = 1.15;
const ZOOMS = [0.5, 8];
const MARGIN = 36; // around the room [px]
const REACH = 16; // of the pointer to a mark [px]
const RANKS = { floor: 0, wall: 1, panel: 2, display: 3, obstacle: 4, table: 4 };
const SIDES = ['east', 'north-east', 'north', 'north-west', 'west', 'south-west', 'south', 'south-east'];
const HELP = 'Drag or arrow keys turn it, wheel or + and − bring it nearer.';

/** Where somebody looks from, in words: "from the south-west, 35° above the floor". */
export function standpoint({ turnDeg, tiltDeg }) {
  if (tiltDeg > 89.5) return 'from above';
  const side = SIDES[((Math.round(turnDeg / 45) % 8) + 8) % 8];
  return `from the ${side}, ${Math.round(tiltDeg)}° above the floor`;
}

/**
 * Pixels for a metre at which the room stays in the picture however it is turned.
 *
 * @param {number[]} bounds [x0, y0, z0, x1, y1, z1] [m]
 * @param {number} tiltDeg
 * @param {{width: number, height: number}} size [px]
 */
export function fittingScale([x0, y0, z0, x1, y1, z1], tiltDeg, { width, height }) {
  const across = Math.hypot(x1 - x0, y1 - y0);
  const tilt = (tiltDeg * Math.PI) / 180;
  const tall = across * Math.sin(tilt) + (z1 - z0) * Math.cos(tilt);
  return Math.max(1, Math.min((width - 2 * MARGIN) / across, (height - 2 * MARGIN) / tall));
}

export class Solid {
  #off = new AbortController();
  #model = null;
  #version = -1;
  #loading = false;
  #symbols = {};
  #frame = 0;
  #view = { ...START };
  #spots = [];
  #dragged = 0;

  /**
   * @param {HTMLElement} root
   * @param {import('./desk.js').Desk} desk
   */
  constructor(root, desk) {
    this.desk = desk;
    this.canvas = html('canvas', { class: 'solid-drawing', tabindex: 0, role: 'img' });
    this.words = html('p', { class: 'note', role: 'status' });
    const bar = html('div', { class: 'solid-bar' }, this.words, this.#act('from above', { turnDeg: 270, tiltDeg: 90, zoom: 1 }), this.#act('set back', START));
    root.classList.add('solid-part');
    root.append(this.canvas, bar);
    this.root = root;
    this.#listen();
  }

  /** Stop listening and drawing. */
  close() {
    this.#off.abort();
    this.sized.disconnect();
    this.themed.disconnect();
    cancelAnimationFrame(this.#frame);
  }

  /** Look from somewhere else; what is not named stays. */
  turn({ turnDeg = this.#view.turnDeg, tiltDeg = this.#view.tiltDeg, zoom = this.#view.zoom }) {
    this.#view = {
      turnDeg: ((turnDeg % 360) + 360) % 360,
      tiltDeg: Math.min(90, Math.max(0, tiltDeg)),
      zoom: Math.min(ZOOMS[1], Math.max(ZOOMS[0], zoom)),
    };
    this.#say();
    this.#draw();
  }

  #act(word, view) {
    const button = html('button', { type: 'button', class: 'word' }, word);
    button.addEventListener('click', () => this.turn(view));
    return button;
  }

  #listen() {
    const { signal } = this.#off;
    const on = (name, told) => this.desk.addEventListener(name, told, { signal });
    on('plan', () => this.#wanted());
    on('view', () => this.#wanted());
    for (const name of ['selection', 'hover', 'path', 'figures']) on(name, () => this.#draw());
    this.sized = new ResizeObserver(() => this.#wanted());
    this.sized.observe(this.canvas);
    this.themed = new MutationObserver(() => this.#draw());
    this.themed.observe(document.documentElement, { attributes: true, attributeFilter: ['class'] });
    const hand = (name, told, options = {}) => this.canvas.addEventListener(name, told, { signal, ...options });
    hand('pointerdown', (event) => this.#take(event));
    hand('pointermove', (event) => this.#move(event));
    hand('pointerup', (event) => this.#letGo(event));
    hand('pointerleave', () => this.desk.hover(null));
    hand('wheel', (event) => this.#wheel(event), { passive: false });
    hand('keydown', (event) => this.#key(event));
  }

  // The model ------------------------------------------------------------------------------------

  get #shown() {
    return this.canvas.clientWidth > 0 && this.canvas.clientHeight > 0;
  }

  /** Nothing is asked for before the view is shown for the first time. */
  #wanted() {
    if (!this.#shown) return;
    if (this.#version !== (this.desk.plan?.version ?? 0)) this.#load();
    this.#draw();
  }

  async #load() {
    if (this.#loading) return;
    this.#loading = true;
    const version = this.desk.plan?.version ?? 0;
    try {
      const [solid, symbols] = await Promise.all([this.desk.solid(), this.#readSymbols()]);
      this.#symbols = symbols;
      this.#model = modelOf(solid);
      this.#version = version;
    } catch (trouble) {
      say(this.words, `The room cannot be drawn in space: ${trouble.message}`);
      this.#loading = false;
      return;
    }
    this.#loading = false;
    this.#say();
    if (this.#version !== (this.desk.plan?.version ?? 0)) this.#load();
    this.#draw();
  }

  async #readSymbols() {
    if (Object.keys(this.#symbols).length > 0) return this.#symbols;
    const answer = await fetch('/static/symbols.json');
    return answer.ok ? answer.json() : {};
  }

  // The picture ----------------------------------------------------------------------------------

  #say() {
    const seen = standpoint(this.#view);
    say(this.words, `Seen ${seen}. ${HELP}`);
    this.canvas.setAttribute('aria-label', `${this.desk.plan?.title ?? 'The room'} in space, ${seen}. ${HELP} Home sets it back.`);
  }

  /** Draw once before the next picture of the screen, however much has changed. */
  #draw() {
    if (this.#model === null || !this.#shown) return;
    cancelAnimationFrame(this.#frame);
    this.#frame = requestAnimationFrame(() => this.#paint());
  }

  #paint() {
    const size = { width: this.canvas.clientWidth, height: this.canvas.clientHeight };
    const ratio = globalThis.devicePixelRatio ?? 1;
    const [width, height] = [Math.round(size.width * ratio), Math.round(size.height * ratio)];
    if (this.canvas.width !== width || this.canvas.height !== height) Object.assign(this.canvas, { width, height });
    const context = this.canvas.getContext('2d');
    context.setTransform(ratio, 0, 0, ratio, 0, 0);
    const scene = this.#scene(size);
    paintScene(context, scene);
    this.#spots = scene.marks;
  }

  #scene(size) {
    const { bounds, faces, lines, marks } = this.#model;
    const view = viewFrom(this.#view.turnDeg, this.#view.tiltDeg);
    const scale = fittingScale(bounds, this.#view.tiltDeg, size) * this.#view.zoom;
    const middle = projected(view, [0, 1, 2].map((axis) => (bounds[axis] + bounds[axis + 3]) / 2));
    const place = (point) => {
      const [x, y] = projected(view, point);
      return [size.width / 2 + scale * (x - middle[0]), size.height / 2 - scale * (y - middle[1])];
    };
    const open = (face) => ['wall', 'panel', 'display'].includes(face.kind) && !turnedTo(view, face);
    return {
      size,
      view,
      place,
      faces: faces.filter((face) => !open(face)),
      open: faces.filter(open),
      lines,
      marks: marks.map((mark) => ({ ...mark, spot: place(mark.at) })),
      walls: this.desk.plan?.walls ?? [],
      height: bounds[5],
      voice: this.#voice(marks, place),
      symbols: this.#symbols,
      selection: this.desk.selection,
      hovered: this.desk.hovered,
      states: this.desk.figures?.marks ?? {},
      colour: coloursOf(this.root),
      font: getComputedStyle(this.root).fontFamily,
    };
  }

  /** The path that is followed, leg by leg between the marks that it touches. */
  #voice(marks, place) {
    const { line, line_words: words = '' } = this.desk.path ?? {};
    if (!Array.isArray(line) || line.length < 2) return null;
    const nearest = ([x, y]) => {
      const far = (mark) => Math.hypot(mark.at[0] - x, mark.at[1] - y);
      const met = marks.filter(({ kind }) => kind === 'seat' || kind === 'device');
      return met.sort((a, b) => far(a) - far(b))[0] ?? null;
    };
    const met = line.map(nearest);
    if (met.includes(null)) return null;
    const legs = legsOf(met.map((mark) => place(mark.at)));
    return { from: legs[0][0], to: legs[0][1], legs, words };
  }

  // The hand and the keys ------------------------------------------------------------------------

  #take(event) {
    if (event.button !== 0) return;
    this.canvas.setPointerCapture(event.pointerId);
    this.#dragged = 0;
    this.from = [event.clientX, event.clientY];
  }

  #move(event) {
    if (!this.from) {
      const spot = this.#nearest(event);
      this.canvas.classList.toggle('on-mark', spot !== null);
      this.desk.hover(spot?.path ?? null);
      return;
    }
    const [dx, dy] = [event.clientX - this.from[0], event.clientY - this.from[1]];
    this.from = [event.clientX, event.clientY];
    this.#dragged += Math.abs(dx) + Math.abs(dy);
    const { turnDeg, tiltDeg } = this.#view;
    this.turn({ turnDeg: turnDeg - PER_PIXEL_DEG * dx, tiltDeg: tiltDeg + PER_PIXEL_DEG * dy });
  }

  #letGo(event) {
    if (!this.from) return;
    this.from = null;
    if (this.#dragged > 4) return;
    const spot = this.#nearest(event);
    this.desk.select(spot ? [spot.path] : [], { add: event.shiftKey || event.ctrlKey || event.metaKey });
  }

  #nearest(event) {
    const box = this.canvas.getBoundingClientRect();
    const far = ({ spot }) => Math.hypot(spot[0] - event.clientX + box.left, spot[1] - event.clientY + box.top);
    const [best] = [...this.#spots].sort((a, b) => far(a) - far(b));
    return best && far(best) <= REACH ? best : null;
  }

  #wheel(event) {
    event.preventDefault();
    this.turn({ zoom: this.#view.zoom * ZOOM_STEP ** (-event.deltaY / 100) });
  }

  #key(event) {
    const { turnDeg, tiltDeg, zoom } = this.#view;
    const changes = {
      ArrowLeft: { turnDeg: turnDeg + STEP_DEG },
      ArrowRight: { turnDeg: turnDeg - STEP_DEG },
      ArrowUp: { tiltDeg: tiltDeg + STEP_DEG },
      ArrowDown: { tiltDeg: tiltDeg - STEP_DEG },
      '+': { zoom: zoom * ZOOM_STEP },
      '=': { zoom: zoom * ZOOM_STEP },
      '-': { zoom: zoom / ZOOM_STEP },
      Home: START,
    };
    const change = changes[event.key];
    if (!change || event.ctrlKey || event.metaKey || event.altKey) return;
    event.preventDefault();
    this.turn(change);
  }
}

/** Faces made ready for every view; what hangs under the ceiling is drawn as lines only. */
function modelOf({ faces, lines, marks, bounds }) {
  const floor = faces.find(({ kind }) => kind === 'floor')?.points ?? [];
  const ready = faces.map((face) => ({ ...prepared(face, floor), rank: RANKS[face.kind] ?? 4 }));
  return {
    bounds,
    faces: ready.filter(({ kind }) => kind !== 'ceiling' && kind !== 'keep-out'),
    lines: [
      ...lines,
      ...faces.filter(({ kind }) => kind === 'keep-out' || kind === 'ceiling').map(({ kind, points }) => ({ kind, points: [...points, points[0]] })),
    ],
    marks,
  };
}

function coloursOf(element) {
  const style = getComputedStyle(element);
  const names = ['ink', 'ink-2', 'rule', 'faint', 'paper', 'panel', 'accent', 'desk'];
  return Object.fromEntries(names.map((name) => [name, style.getPropertyValue(`--${name}`).trim()]));
}
