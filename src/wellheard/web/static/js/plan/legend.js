// Under the plan: the bands of the map with the promise among them, what it shows, the pointer.

import { make, say, set, Keyed } from './svg.js';

const WIDTH = 300;
const HIGH = 11;
const TOP = 16;

/** The line under the sheet. */
export class Legend {
  /** @param {HTMLElement} root */
  constructor(root) {
    const line = document.createElement('div');
    line.className = 'plan-under';
    this.svg = make('svg', { class: 'plan-legend', width: WIDTH + 8, height: 44, role: 'img' });
    this.bands = new Keyed(make('g', {}, this.svg));
    this.frame = make('rect', { class: 'frame', x: 0.5, y: TOP, width: WIDTH, height: HIGH }, this.svg);
    this.ticks = new Keyed(make('g', {}, this.svg));
    this.svg.style.display = 'none';
    line.append(this.svg);
    [this.title, this.conditions] = lines(line, 'plan-said');
    [this.scale, this.pointer] = lines(line, 'plan-where');
    root.append(line);
  }

  /**
   * Show the bands of a map.
   * @param {object|null} map
   * @param {string} why there is none
   */
  paint(map, why) {
    say(this.title, map ? `${map.title}${map.unit ? `, ${map.unit}` : ''}` : (why ?? ''));
    say(this.conditions, map?.conditions ?? '');
    this.conditions.title = map?.conditions ?? '';
    this.svg.style.display = map ? '' : 'none';
    if (!map) return;
    const wide = WIDTH / map.bands.length;
    this.bands.sync(
      map.bands.map((band, k) => ({ ...band, k })),
      (band) => String(band.k),
      (band, parent) => make('rect', { y: TOP, height: HIGH }, parent),
      (node, band) => set(node, { x: 0.5 + band.k * wide, width: wide, class: `b${band.tint}` }),
    );
    const promise = (level) => map.target !== null && Math.abs(level - map.target) < 1e-9;
    const marks = map.key.map((entry, k) => ({ ...entry, x: 0.5 + (k + 1) * wide, promise: promise(entry.level) }));
    const every = wide < 30 ? Math.ceil(30 / wide) : 1;
    const fixed = Math.max(marks.findIndex((mark) => mark.promise), 0);
    this.ticks.sync(
      marks,
      (mark) => String(mark.level),
      (mark, parent) => {
        const group = make('g', {}, parent);
        make('path', {}, group);
        make('text', { class: 'level' }, group);
        make('text', { class: 'over', y: TOP - 5 }, group);
        return group;
      },
      (node, mark) => {
        const [tick, level, word] = node.children;
        const k = marks.indexOf(mark);
        set(node, { class: mark.promise ? 'promise' : '', transform: `translate(${mark.x} 0)` });
        set(tick, { d: `M0 ${TOP}V${TOP + HIGH}` });
        set(level, { y: TOP + HIGH + 12 });
        say(level, (k - fixed) % every ? '' : mark.words);
        say(word, mark.promise ? 'promise' : '');
      },
    );
    set(this.svg, { 'aria-label': `Bands of ${map.title}: ${map.key.map((entry) => entry.words).join(', ')}` });
  }

  /** Say the scale of the sheet. */
  tellScale(words) {
    say(this.scale, words);
  }

  /** Say where the pointer is, and the value there. */
  tellPointer(words) {
    say(this.pointer, words);
  }
}

function lines(parent, name) {
  const box = document.createElement('div');
  box.className = name;
  const both = [document.createElement('p'), document.createElement('p')];
  box.append(...both);
  parent.append(box);
  return both;
}
