// The map as the server drew it, in metres: tints, lines, the promise with its hachures.

import { make, set, trace, Keyed, say } from './svg.js';

/**
 * Return the value of a grid at a point by bilinear interpolation of the figures given; null where
 * a neighbour is unknown or the point lies outside.
 * @param {{x0: number, y0: number, dx: number, dy: number, columns: number, rows: number, values: (number|null)[]}} grid
 * @param {number[]} point [m]
 */
export function bilinear(grid, [x, y]) {
  const u = (x - grid.x0) / grid.dx;
  const v = (y - grid.y0) / grid.dy;
  const slack = 1e-9;
  if (u < -slack || v < -slack || u > grid.columns - 1 + slack || v > grid.rows - 1 + slack) return null;
  const i = Math.min(Math.max(Math.floor(u), 0), Math.max(grid.columns - 2, 0));
  const j = Math.min(Math.max(Math.floor(v), 0), Math.max(grid.rows - 2, 0));
  const [s, t] = [u - i, v - j];
  let sum = 0;
  for (const [di, dj, weight] of [
    [0, 0, (1 - s) * (1 - t)],
    [1, 0, s * (1 - t)],
    [0, 1, (1 - s) * t],
    [1, 1, s * t],
  ]) {
    if (weight <= slack) continue;
    const value = grid.values[(j + dj) * grid.columns + i + di];
    if (value === null || value === undefined) return null;
    sum += weight * value;
  }
  return sum;
}

/** The map on the sheet. */
export class MapLayer {
  /**
   * @param {SVGElement} world the group in metres, y up
   * @param {SVGElement} notes the group in pixels
   * @param {string} key distinguishes the clip paths of one page
   */
  constructor(world, notes, key) {
    const room = make('clipPath', { id: `${key}-room` }, world);
    this.room = make('path', {}, room);
    const gaps = make('clipPath', { id: `${key}-gaps` }, world);
    this.gaps = make('path', { 'clip-rule': 'evenodd' }, gaps);
    const clipped = make('g', { 'clip-path': `url(#${key}-room)`, 'aria-hidden': 'true' }, world);
    this.tints = make('g', { class: 'tints' }, clipped);
    this.lines = make('g', { class: 'lines', 'clip-path': `url(#${key}-gaps)` }, clipped);
    this.labels = new Keyed(make('g', { class: 'line-labels', 'aria-hidden': 'true' }, notes));
    this.map = null;
  }

  /** Clip to the outline of a room. */
  clip(ring) {
    set(this.room, { d: trace(ring, true) });
  }

  /** Paint a map, or none. */
  paint(map) {
    this.map = map;
    fill(this.tints, (map?.bands ?? []).map(({ tint, d }) => [`b${tint}`, d]));
    const lines = (map?.lines ?? []).map(({ d, index, promise }) => [promise ? 'promise' : index ? 'index' : 'between', d]);
    if (map?.hachures) lines.push(['hachures', map.hachures]);
    fill(this.lines, lines);
  }

  /** Return the labels that could be written, in metres. */
  get wanted() {
    return this.map?.labels ?? [];
  }

  /** Return the value at a point as the map gives figures; null where there is none. */
  value(point) {
    return this.map?.grid ? bilinear(this.map.grid, point) : null;
  }

  /**
   * Write labels and leave gaps for them and for other words.
   * @param {{label: object, at: number[], angle: number}[]} placed labels [px]
   * @param {number[][][]} holes quadrangles that lines leave blank [m]
   */
  write(placed, holes) {
    this.labels.sync(
      placed,
      ({ label }) => `${label.words} ${label.at}`,
      ({ label }, parent) => make('text', { class: label.promise ? 'promise' : '' }, parent),
      (node, { label, at, angle }) => {
        set(node, { transform: `translate(${at[0]} ${at[1]}) rotate(${angle})`, dy: 4 });
        say(node, label.words);
      },
    );
    const all = 'M-1e4 -1e4H1e4V1e4H-1e4Z';
    set(this.gaps, { d: all + holes.map((hole) => trace(hole, true)).join('') });
  }
}

function fill(group, wanted) {
  while (group.childElementCount > wanted.length) group.lastElementChild.remove();
  wanted.forEach(([name, d], k) => {
    const child = group.children[k] ?? make('path', {}, group);
    set(child, { class: name, d });
  });
}
