// Plan symbols, drawn from the shapes the server has: 24 units high, origin in the middle, aim up.

import { make } from './svg.js';

/** Height of a symbol in its own units. */
export const UNITS = 24;

const TAGS = new Set(['path', 'circle', 'ellipse', 'rect', 'line', 'polygon', 'polyline']);

/** The shapes of every symbol by name. */
export class Symbols {
  /** @param {Record<string, {tag: string, attrs: Record<string, string>}[]>} shapes */
  constructor(shapes) {
    this.shapes = new Map(Object.entries(shapes));
  }

  /** Fetch them from the server. */
  static async load(address = '/static/symbols.json') {
    const answer = await fetch(address);
    if (!answer.ok) throw new Error(`the plan symbols could not be read: ${answer.status}`);
    return new Symbols(await answer.json());
  }

  /**
   * Draw a symbol.
   * @param {string} name an unknown one is drawn as a dashed square
   * @param {SVGElement} parent
   * @param {number} size height [px]
   * @param {number} [turn] clockwise [°]
   */
  draw(name, parent, size, turn = 0) {
    const group = make('g', { class: 'symbol' }, parent);
    this.turn(group, size, turn);
    for (const { tag, attrs } of this.shapes.get(name) ?? this.shapes.get('state-not-assessed') ?? []) {
      if (TAGS.has(tag)) make(tag, attrs, group);
    }
    return group;
  }

  /** Size and turn a drawn symbol again. */
  turn(group, size, turn) {
    group.setAttribute('transform', `rotate(${turn}) scale(${size / UNITS})`);
  }
}
