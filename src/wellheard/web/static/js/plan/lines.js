// Lines over the room, in metres: cables where they run, and what is suggested and not there yet.

import { make, set, trace, Keyed } from './svg.js';

const REACH = 0.12; // of the cross at a place that is suggested [m]

/** Return whether a cable is among what is chosen: of one thing all its cables, else those between. */
export function isChosen(ends, selection) {
  const meant = ends.filter((end) => selection.has(end)).length;
  return selection.size > 0 && meant >= Math.min(2, selection.size);
}

/** Cables and suggestions; told of both by the desk. */
export class Lines {
  /**
   * @param {SVGElement} world the group in metres, y up
   * @param {import('../desk.js').Desk} desk
   * @param {AbortSignal} signal ends it
   */
  constructor(world, desk, signal) {
    this.desk = desk;
    this.routes = [];
    this.cables = new Keyed(make('g', { class: 'cables' }, world));
    this.suggested = make('path', { class: 'suggested' }, world);
    desk.addEventListener('cables', ({ detail }) => this.#show(detail ?? []), { signal });
    desk.addEventListener('selection', () => this.#show(this.routes), { signal });
    desk.addEventListener('propose', ({ detail }) => this.#propose(detail), { signal });
  }

  #show(routes) {
    this.routes = routes;
    this.cables.sync(
      routes,
      ({ path }) => path,
      ({ path }, parent) => make('path', { 'data-path': path }, parent),
      (node, { points, ends }) => {
        const chosen = isChosen(ends, this.desk.selection);
        set(node, { class: chosen ? 'cable chosen' : 'cable', d: trace(points) });
      },
    );
  }

  #propose(drawn) {
    const { areas = [], lines = [], points = [] } = drawn ?? {};
    const crosses = points.map(
      ([x, y]) => trace([[x - REACH, y], [x + REACH, y]]) + trace([[x, y - REACH], [x, y + REACH]]),
    );
    const rings = areas.map((ring) => trace(ring, true));
    set(this.suggested, { d: [...rings, ...lines.map((line) => trace(line)), ...crosses].join('') });
  }
}
