// The graduated border: the document's unit south and west, the other one north and east.

import { make, say, set, short, Keyed } from './svg.js';

const FOOT = 0.3048; // [m]
const STEPS = {
  m: [0.1, 0.2, 0.5, 1, 2, 5, 10, 20, 50],
  ft: [1, 2, 5, 10, 20, 50, 100],
};
const METRES = { m: 1, ft: FOOT };
const LEAST = 52; // between labels [px]
const THICK = 5; // [px]

/** Width of the border with its labels; nothing of the plan is drawn there. [px] */
export const STRIP = 26;
/** Between the edge of the sheet and the border. [px] */
export const EDGE = 6;

/**
 * Return the smallest round step whose labels stand far enough apart.
 * @param {number} pixels of one unit
 * @param {'m'|'ft'} unit
 * @param {number} [least] [px]
 */
export function labelStep(pixels, unit, least = LEAST) {
  const fits = STEPS[unit].find((step) => step * pixels >= least);
  return fits ?? STEPS[unit][STEPS[unit].length - 1];
}

/**
 * Return the dark lengths of one side; the first after 0 is dark.
 * @param {number} low where the side begins [px]
 * @param {number} high where it ends [px]
 * @param {number} zero pixel of 0
 * @param {number} half length of one segment [px]
 * @param {boolean} [down] whether the scale counts against the pixels
 * @returns {number[][]} from, to [px]
 */
export function bars(low, high, zero, half, down = false) {
  const found = [];
  for (let k = Math.floor((low - zero) / half); k < Math.ceil((high - zero) / half); k += 1) {
    if ((k & 1) !== (down ? 1 : 0)) continue;
    const [from, to] = [Math.max(zero + k * half, low), Math.min(zero + (k + 1) * half, high)];
    if (to - from > 0.05) found.push([from, to]);
  }
  return found;
}

/**
 * Return the labels of one side: words and how far from 0 in metres.
 * @param {number} from first metre of the room on this axis
 * @param {number} to last metre
 * @param {number} step in the unit
 * @param {'m'|'ft'} unit
 */
export function labels(from, to, step, unit) {
  const metres = step * METRES[unit];
  const found = [];
  for (let k = Math.ceil(from / metres - 1e-6); k <= to / metres + 1e-6; k += 1) {
    const value = Math.abs(k * step).toFixed(step < 1 ? 1 : 0);
    found.push({ words: k ? (k < 0 ? `−${value}` : value) : `0 ${unit}`, at: k * metres });
  }
  return found;
}

/** The border on the sheet. */
export class Border {
  /** @param {SVGElement} parent drawn last, over the plan */
  constructor(parent) {
    this.group = make('g', { class: 'plan-border', 'aria-hidden': 'true' }, parent);
    this.ground = make('path', { class: 'ground', 'fill-rule': 'evenodd' }, this.group);
    this.frame = make('path', { class: 'frame' }, this.group);
    this.dark = make('path', { class: 'dark' }, this.group);
    this.words = new Keyed(make('g', {}, this.group));
  }

  /**
   * Draw the border for a view.
   * @param {import('./view.js').View} view
   * @param {number[]} bounds of the room [m]
   * @param {'m'|'ft'} unit of the document
   */
  draw(view, bounds, unit) {
    const other = unit === 'm' ? 'ft' : 'm';
    const [x0, y0] = [EDGE, EDGE];
    const [x1, y1] = [view.width - EDGE, view.height - EDGE];
    const box = (inset) =>
      `M${x0 + inset} ${y0 + inset}H${x1 - inset}V${y1 - inset}H${x0 + inset}Z`;
    set(this.ground, { d: `M0 0H${view.width}V${view.height}H0Z${box(STRIP)}` });
    set(this.frame, { d: box(0) + box(THICK) });
    const sides = [
      { name: 's', unit, level: true, edge: y1 - THICK, base: y1 - THICK - 5 },
      { name: 'n', unit: other, level: true, edge: y0, base: y0 + THICK + 13 },
      { name: 'w', unit, level: false, edge: x0, base: x0 + THICK + 13 },
      { name: 'e', unit: other, level: false, edge: x1 - THICK, base: x1 - THICK - 5 },
    ];
    let dark = '';
    const written = [];
    for (const side of sides) {
      const pixels = METRES[side.unit] * view.scale;
      const step = labelStep(pixels, side.unit);
      const span = side.level ? [x0, x1, view.x] : [y0, y1, view.y];
      for (const [from, to] of bars(...span, (step * pixels) / 2, !side.level)) {
        dark += side.level
          ? `M${short(from)} ${side.edge}H${short(to)}v${THICK}H${short(from)}Z`
          : `M${side.edge} ${short(from)}V${short(to)}h${THICK}V${short(from)}Z`;
      }
      const room = side.level ? [bounds[0], bounds[2]] : [bounds[1], bounds[3]];
      for (const { words, at } of labels(...room, step, side.unit)) {
        const u = side.level ? view.x + at * view.scale : view.y - at * view.scale;
        if (u < span[0] + STRIP - 4 || u > span[1] - STRIP + 4) continue;
        written.push({ key: side.name + words, words, place: side.level ? [u, side.base] : [side.base, u], level: side.level });
      }
    }
    set(this.dark, { d: dark });
    this.words.sync(
      written,
      (label) => label.key,
      (label, parent) => make('text', {}, parent),
      (node, label) => {
        const [x, y] = label.place.map(short);
        set(node, { transform: `translate(${x} ${y})${label.level ? '' : ' rotate(-90)'}` });
        say(node, label.words);
      },
    );
  }
}
