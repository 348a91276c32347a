// What is not in the room: selection, focus, the way of a voice, distances while a hand moves.

import { boundsOf, overlap, toWall } from './geometry.js';
import { extent } from './items.js';
import { make, say, set, short, Keyed } from './svg.js';
import { lengthWords } from './words.js';

const ARM = 7; // of a corner mark [px]
const SPOTS = [17, 26, 36, 48].flatMap((d) => [[d, -d], [d, d], [-d, -d], [-d, d], [d * 1.3, 0], [-d * 1.3, 0], [0, -d * 1.3], [0, d * 1.3]]);
const HEAD = 9.5; // of the arrow [px]
const SHORTEST = 40; // way that is drawn [px]

/** Legs of a way: from its first point to its second, from the third to the fourth. */
export function legsOf(points) {
  const legs = [];
  for (let k = 0; k + 1 < points.length; k += 2) legs.push([points[k], points[k + 1]]);
  return legs;
}

/** Marks over the plan, in pixels. */
export class Overlay {
  /** @param {SVGElement} parent */
  constructor(parent) {
    const layer = make('g', { class: 'overlay', 'aria-hidden': 'true' }, parent);
    this.arrow = make('path', { class: 'arrow' }, layer);
    this.arrowWords = make('text', { class: 'arrow-words' }, layer);
    this.findings = new Keyed(make('g', { class: 'found' }, layer));
    this.hover = make('path', { class: 'hovered' }, layer);
    this.selection = make('path', { class: 'selected' }, layer);
    this.focus = make('rect', { class: 'focus' }, layer);
    this.measure = make('path', { class: 'measure' }, layer);
    this.distances = new Keyed(make('g', { class: 'distances' }, layer));
    this.band = make('rect', { class: 'band' }, layer);
    this.ghost = make('g', { class: 'ghost' }, layer);
  }

  /** Mark what is selected, hovered and in focus; boxes in pixels, null for none. */
  mark(selected, hovered, focused) {
    set(this.selection, { d: selected.map(corners).join('') });
    set(this.hover, { d: hovered ? corners(hovered) : '' });
    set(this.focus, focused ? { x: focused.x - 2, y: focused.y - 2, width: focused.w + 4, height: focused.h + 4, display: null } : { display: 'none' });
  }

  /**
   * Draw the way of a voice.
   * @param {number[][][]} legs from and to of each, the longest has the words [px]
   * @param {string} words its length
   */
  way(legs, words) {
    const drawn = legs.map(([from, to]) => leg(from, to)).filter(Boolean);
    set(this.arrow, { d: drawn.map(({ d }) => d).join('') });
    const [longest] = [...drawn].sort((a, b) => b.length - a.length);
    say(this.arrowWords, longest ? words : '');
    if (!longest) return;
    const { start, tip, x, y } = longest;
    const forward = x >= 0 ? 1 : -1;
    const angle = (Math.atan2(y * forward, x * forward) * 180) / Math.PI;
    const middle = [(start[0] + tip[0]) / 2 + y * forward * 6, (start[1] + tip[1]) / 2 - x * forward * 6];
    set(this.arrowWords, { transform: `translate(${point(middle)}) rotate(${short(angle)})` });
  }

  /**
   * Show how far an item is from the nearest walls east or west, and north or south.
   * @param {object|null} item none clears
   * @param {number[]} by [m]
   * @param {number[][]} ring [m]
   * @param {import('./view.js').View} view
   * @param {'m'|'ft'} unit
   */
  toWalls(item, by, ring, view, unit) {
    const found = item ? nearestWalls(item, by, ring) : [];
    let lines = '';
    const written = found.map(({ from, to, length, level }) => {
      const [a, b] = [view.toScreen(from), view.toScreen(to)];
      lines += `M${point(a)}L${point(b)}`;
      for (const [u, v] of [a, b]) lines += `M${short(u - 3.5)} ${short(v + 3.5)}L${short(u + 3.5)} ${short(v - 3.5)}`;
      const place = [(a[0] + b[0]) / 2 + (level ? 0 : -5), (a[1] + b[1]) / 2 + (level ? -5 : 0)];
      return { words: lengthWords(length, unit), place, level };
    });
    set(this.measure, { d: lines });
    this.write(written);
  }

  /** Write lengths on the sheet; `level` ones lie, others stand. */
  write(written) {
    this.distances.sync(
      written.map((entry, k) => ({ ...entry, k })),
      (entry) => String(entry.k),
      (entry, parent) => make('text', {}, parent),
      (node, { words, place, level }) => {
        set(node, { transform: `translate(${point(place)})${level ? '' : ' rotate(-90)'}` });
        say(node, words);
      },
    );
  }

  /** Show the rubber band between two pixels, or none. */
  stretch(a, b) {
    if (!a) {
      set(this.band, { display: 'none' });
      return;
    }
    const [x0, y0, x1, y1] = boundsOf([a, b]);
    set(this.band, { x: short(x0), y: short(y0), width: short(x1 - x0), height: short(y1 - y0), display: null });
  }

  /**
   * Number the findings near their places, where nothing is written.
   * @param {{number: number, severity: string, at: number[]}[]} found [px]
   * @param {{x: number, y: number, w: number, h: number}[]} written boxes of words and symbols [px]
   */
  number(found, written) {
    const taken = [...written];
    const box = ([x, y]) => ({ x: x - 9, y: y - 9, w: 18, h: 18 });
    const placed = found.map((finding) => {
      const spots = SPOTS.map(([dx, dy]) => [finding.at[0] + dx, finding.at[1] + dy]);
      const [x, y] = spots.find((spot) => !taken.some((other) => overlap(other, box(spot)))) ?? spots[0];
      taken.push(box([x, y]));
      return { ...finding, x, y };
    });
    this.findings.sync(
      placed,
      ({ number }) => String(number),
      (finding, parent) => {
        const group = make('g', {}, parent);
        make('circle', { r: 8 }, group);
        make('text', { y: 4 }, group);
        return group;
      },
      (node, { number, severity, x, y }) => {
        set(node, { class: severity, transform: `translate(${point([x, y])})` });
        say(node.lastElementChild, String(number));
      },
    );
  }
}

/** Return the nearest wall in either direction of an item moved by metres. */
export function nearestWalls(item, by, ring) {
  const [x0, y0, x1, y1] = boundsOf(extent(item).map(([x, y]) => [x + by[0], y + by[1]]));
  const middle = [(x0 + x1) / 2, (y0 + y1) / 2];
  const ways = [
    { from: [x0, middle[1]], direction: [-1, 0] },
    { from: [x1, middle[1]], direction: [1, 0] },
    { from: [middle[0], y0], direction: [0, -1] },
    { from: [middle[0], y1], direction: [0, 1] },
  ].map(({ from, direction }) => {
    const length = toWall(from, direction, ring);
    const to = length === null ? null : [from[0] + direction[0] * length, from[1] + direction[1] * length];
    return { from, to, length, level: direction[0] !== 0 };
  });
  return [true, false].flatMap((level) => {
    const there = ways.filter((way) => way.level === level && way.length !== null && way.length > 1e-6);
    there.sort((a, b) => a.length - b.length);
    return there.slice(0, 1);
  });
}

function corners({ x, y, w, h }) {
  const [u, v] = [x + w, y + h];
  const arm = Math.min(ARM, w / 2, h / 2);
  return (
    `M${point([x, y + arm])}V${short(y)}H${short(x + arm)}M${point([u, y + arm])}V${short(y)}H${short(u - arm)}` +
    `M${point([u, v - arm])}V${short(v)}H${short(u - arm)}M${point([x, v - arm])}V${short(v)}H${short(x + arm)}`
  );
}

function point([x, y]) {
  return `${short(x)} ${short(y)}`;
}

/** One arrow between two marks; null where they are too near for one. */
function leg(from, to) {
  const length = Math.hypot(to[0] - from[0], to[1] - from[1]);
  if (length < SHORTEST) return null;
  const [x, y] = [(to[0] - from[0]) / length, (to[1] - from[1]) / length];
  const start = [from[0] + x * 14, from[1] + y * 14];
  const tip = [to[0] - x * 13, to[1] - y * 13];
  const barb = (turn) => {
    const [c, s] = [Math.cos(turn), Math.sin(turn)];
    return `M${point(tip)}L${point([tip[0] - HEAD * (x * c - y * s), tip[1] - HEAD * (x * s + y * c)])}`;
  };
  return { length, start, tip, x, y, d: `M${point(start)}L${point(tip)}${barb(0.36)}${barb(-0.36)}` };
}
