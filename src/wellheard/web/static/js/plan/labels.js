// Where words stand: beside their symbol, over nothing that is already written.

import { overlap } from './geometry.js';

/** Sizes on the screen. [px] */
export const FIGURE = 13;
export const NOTE = 11;
const CAP = 0.7;
const STATE = 11; // side of a state mark
const BODY = 8.5; // from the middle of a seat to its outermost stroke
const AIM = 10.5; // to the tip of its arrow

/**
 * @typedef {object} Word
 * @property {'figure'|'state'|'name'|'label'|'height'} part
 * @property {number} x from the middle of the symbol [px]
 * @property {number} y baseline
 * @property {'start'|'middle'|'end'} anchor
 * @property {{x: number, y: number, w: number, h: number}} box from the middle of the symbol
 */

function word(part, words, x, y, anchor, size, measure) {
  const w = measure(words, size, part !== 'name' && part !== 'height');
  const left = anchor === 'middle' ? x - w / 2 : anchor === 'end' ? x - w : x;
  return { part, x, y, anchor, box: { x: left, y: y - CAP * size, w, h: CAP * size } };
}

function stateAt(x, y) {
  return { part: 'state', x, y, anchor: 'middle', box: { x: x - STATE / 2, y: y - STATE / 2, w: STATE, h: STATE } };
}

const turned = (a, b) => Math.abs(((((a - b + 180) % 360) + 360) % 360) - 180);

/**
 * Return where the figure, the state and the name of a seat may stand, best first: the figure
 * behind the chair, the name beside it; one list for each side of the chair.
 * @param {{facing: number, figure: string, state: string, name: string}} seat facing [°]
 * @param {(words: string, size: number, strong: boolean) => number} measure width [px]
 * @returns {Word[][][]}
 */
export function seatOptions({ facing, figure, state, name }, measure) {
  const back = facing + 180;
  const order = [90, 270, 0, 180].sort((a, b) => turned(a, back) - turned(b, back));
  return order.map((direction) => {
    const options = [];
    const reach = turned(direction, facing) < 60 ? AIM : BODY;
    for (const near of [10, 6, 3]) {
      const figures = figure ? seatFigure(direction, reach + near, figure, state, measure) : [];
      for (const place of namePlaces(direction, figures, facing, measure, name)) {
        options.push([...figures, place]);
      }
    }
    return options;
  });
}

function seatFigure(direction, away, figure, state, measure) {
  const cap = CAP * FIGURE;
  const width = measure(figure, FIGURE, true);
  const extra = state === 'kept' ? 0 : STATE + 4;
  let left = -width / 2;
  let base = direction === 90 ? -away : away + cap;
  if (direction === 0 || direction === 180) {
    left = direction === 0 ? away : -away - width - extra;
    base = cap / 2;
  }
  const words = [word('figure', figure, left, base, 'start', FIGURE, measure)];
  if (extra) words.push(stateAt(left + width + 4 + STATE / 2, base - cap / 2));
  return words;
}

function namePlaces(direction, figures, facing, measure, name) {
  const cap = CAP * NOTE;
  const note = (x, y, anchor) => word('name', name, x, y, anchor, NOTE, measure);
  const west = turned(180, facing) < 60 ? AIM : BODY;
  const east = turned(0, facing) < 60 ? AIM : BODY;
  const level = [note(-west - 4, cap / 2, 'end'), note(east + 4, cap / 2, 'start')];
  if (!figures.length) return [...level, note(0, -AIM - 5, 'middle'), note(0, AIM + 5 + cap, 'middle')];
  const top = Math.min(...figures.map((w) => w.box.y));
  const bottom = Math.max(...figures.map((w) => w.box.y + w.box.h));
  const left = Math.min(...figures.map((w) => w.box.x));
  if (direction === 0 || direction === 180) {
    return [note(left, bottom + 5 + cap, 'start'), note(left, top - 5, 'start'), ...level];
  }
  const beyond = direction === 90 ? top - 4 : bottom + 4 + cap;
  const facingSide = direction === 90 ? AIM + 4 + cap : -AIM - 4;
  return [...level, note(0, beyond, 'middle'), note(0, facingSide, 'middle')];
}

/** Return where the label and the height of a device may stand, best first. */
export function deviceOptions({ label, height }, measure) {
  const [cap, small] = [CAP * FIGURE, CAP * NOTE];
  const options = [];
  for (const [dx, dy, anchor] of [
    [16, 0, 'start'],
    [-16, 0, 'end'],
    [9, -14, 'start'],
    [-9, -14, 'end'],
    [9, 14, 'start'],
    [-9, 14, 'end'],
    [0, -18, 'middle'],
    [0, 18, 'middle'],
  ]) {
    const stack = cap + (height ? 7 + small : 0);
    let top = dy - stack / 2;
    if (dy < 0) top = dy - stack;
    if (dy > 0) top = dy;
    const words = [word('label', label, dx, top + cap, anchor, FIGURE, measure)];
    if (height) words.push(word('height', `▽ ${height}`, dx, top + stack, anchor, NOTE, measure));
    options.push(words);
  }
  return [options];
}

/** Return where the figure and the name of a standing area may stand. */
export function standingOptions({ figure, state, name }, measure) {
  const options = [];
  for (const direction of [270, 90, 0, 180]) {
    const figures = figure ? seatFigure(direction, AIM + 6, figure, state, measure) : [];
    const lower = Math.max(AIM, ...figures.map((w) => w.box.y + w.box.h));
    const upper = Math.min(-AIM, ...figures.map((w) => w.box.y));
    const cap = CAP * NOTE;
    for (const y of [lower + 7 + cap, upper - 7]) {
      options.push([...figures, word('name', name, 0, y, 'middle', NOTE, measure)]);
    }
  }
  return [options];
}

/**
 * Choose for every thing the first option that covers nothing; where none is free its name is left
 * out. In a list of options those that cover no drawn line go before others.
 * @param {{path: string, at: number[], options: Word[][][]}[]} things at [px]
 * @param {{x: number, y: number, w: number, h: number}[]} taken boxes of symbols [px]; grows
 * @param {{x: number, y: number, w: number, h: number}[]} edges drawn lines that words avoid where they can
 * @returns {Map<string, Word[]>}
 */
export function choose(things, taken, edges = []) {
  const chosen = new Map();
  for (const { path, at, options } of things) {
    const boxes = (words) => words.map(({ box }) => grown(box, at, 1.5));
    const free = (words, lines) =>
      boxes(words).every((box) => !taken.some((other) => overlap(box, other)) && !lines.some((line) => overlap(box, line)));
    let best = null;
    for (const side of options) best ??= side.find((words) => free(words, edges)) ?? side.find((words) => free(words, [])) ?? null;
    best ??= crowded(options, free, (words) => boxes(words).reduce((sum, box) => sum + covered(box, taken), 0));
    if (!best) continue;
    chosen.set(path, best);
    taken.push(...boxes(best));
  }
  return chosen;
}

/** Return what to write where nothing is free: no name; then what covers least. */
function crowded(options, free, cost) {
  const nameless = options.flat().map((words) => words.filter(({ part }) => part !== 'name' && part !== 'height'));
  const found = nameless.find((words) => free(words, []));
  if (found) return found;
  const costs = nameless.map(cost);
  return nameless[costs.indexOf(Math.min(...costs))];
}

/** Return how much of a box others cover. [px²] */
function covered(box, others) {
  return others.reduce((sum, other) => {
    const wide = Math.min(box.x + box.w, other.x + other.w) - Math.max(box.x, other.x);
    const high = Math.min(box.y + box.h, other.y + other.h) - Math.max(box.y, other.y);
    return sum + Math.max(wide, 0) * Math.max(high, 0);
  }, 0);
}

/** Return a box moved to a place and grown on all sides. */
export function grown({ x, y, w, h }, [u, v], by) {
  return { x: x + u - by, y: y + v - by, w: w + 2 * by, h: h + 2 * by };
}
