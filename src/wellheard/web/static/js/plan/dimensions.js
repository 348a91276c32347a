// Dimension chains south and west of the room, with the chain line from each device to its foot.

import { make, say, set, short, Keyed } from './svg.js';

const AWAY = 40; // of a chain from the face of the wall [px]
const LARGE = 7.4; // of a figure, per character [px]
const SMALL = 6.2;
const SLANT = 3.5; // half an architect's tick [px]

/** What the chains need outside the room. [px] */
export const ROOM = AWAY + 10;

/** The set-out chains of a plan. */
export class Dimensions {
  /** @param {SVGElement} parent in pixels */
  constructor(parent) {
    this.group = make('g', { class: 'dimensions', 'aria-hidden': 'true' }, parent);
    this.thin = make('path', { class: 'thin' }, this.group);
    this.hair = make('path', { class: 'hair' }, this.group);
    this.ticks = make('path', { class: 'ticks' }, this.group);
    this.chained = make('path', { class: 'chained' }, this.group);
    this.words = new Keyed(this.group);
  }

  /**
   * Draw the chains.
   * @param {{axis: 'x'|'y', stops: number[], words: string[]}[]} chains
   * @param {import('./view.js').View} view
   * @param {number[]} bounds of the room [m]
   * @param {number[][]} devices that are set out [m]
   */
  draw(chains, view, bounds, devices) {
    let [thin, hair, ticks, chained] = ['', '', '', ''];
    const written = [];
    const counts = { x: 0, y: 0 };
    for (const { axis, stops, words } of chains) {
      const level = axis === 'x';
      const origin = view.toScreen([bounds[0], bounds[1]]);
      const face = level ? origin[1] : origin[0];
      const away = (AWAY + 22 * counts[axis]) * (level ? 1 : -1);
      counts[axis] += 1;
      const line = face + away;
      const at = (u, v) => (level ? `${short(u)} ${short(v)}` : `${short(v)} ${short(u)}`);
      const places = stops.map((stop) => (level ? view.x + stop * view.scale : view.y - stop * view.scale));
      thin += `M${at(places[0], line)}L${at(places[places.length - 1], line)}`;
      let beyond = false;
      places.forEach((u, k) => {
        hair += `M${at(u, face + away * 0.35)}L${at(u, line + Math.sign(away) * 5)}`;
        const [x, y] = level ? [u, line] : [line, u];
        ticks += `M${short(x - SLANT)} ${short(y + SLANT)}L${short(x + SLANT)} ${short(y - SLANT)}`;
        chained += this.#foot(level, stops[k], u, face, view, devices);
        if (k === 0) return;
        const centre = (places[k - 1] + u) / 2;
        const room = Math.abs(u - places[k - 1]);
        beyond = words[k - 1].length * SMALL > room && !beyond; // figures too long for their part stand on either side
        const base = beyond ? line + 13 : line - 4;
        written.push({ key: `${axis}${counts[axis]}${k}`, words: words[k - 1], place: level ? [centre, base] : [base, centre], level, room });
      });
    }
    set(this.thin, { d: thin });
    set(this.hair, { d: hair });
    set(this.ticks, { d: ticks });
    set(this.chained, { d: chained });
    this.words.sync(
      written,
      (entry) => entry.key,
      (entry, parent) => make('text', {}, parent),
      (node, { words, place, level, room }) => {
        const small = words.length * LARGE > room;
        set(node, { transform: `translate(${place.map(short).join(' ')})${level ? '' : ' rotate(-90)'}`, class: small ? 'small' : '' });
        say(node, words);
      },
    );
  }

  /** Return the line from the device nearest to the wall down to the chain, if one is set out here. */
  #foot(level, stop, u, face, view, devices) {
    const axis = level ? 0 : 1;
    const here = devices.filter((at) => Math.abs(at[axis] - stop) < 0.005).map((at) => view.toScreen(at)[1 - axis]);
    if (!here.length) return '';
    const end = level ? Math.max(...here) + 13 : Math.min(...here) - 13;
    return level ? `M${short(u)} ${short(end)}V${short(face)}` : `M${short(end)} ${short(u)}H${short(face)}`;
  }
}
