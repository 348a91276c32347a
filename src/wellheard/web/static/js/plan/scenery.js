// The room and what stands in it, in metres; strokes keep their width whatever the zoom.

import { along, boundsOf, distance, hatch, inside, middle, offset } from './geometry.js';
import { make, set, trace, Keyed } from './svg.js';
import { patchPaths, solidWalls } from './walls.js';

const HATCH = 0.18; // of a keep-out [m]
const TABLE_EDGE = 0.05; // between the two lines of a table [m]

/** Everything drawn in metres that is not the map. */
export class Scenery {
  /** @param {SVGElement} world the group in metres, y up */
  constructor(world) {
    const layer = (name) => make('g', { class: name }, world);
    this.standing = new Keyed(layer('standings'));
    this.tiles = make('path', { class: 'tiles' }, world);
    this.furniture = new Keyed(layer('furniture'));
    this.overhead = new Keyed(layer('overhead'));
    this.displays = new Keyed(layer('displays'));
    this.walls = make('path', { class: 'walls' }, world);
    this.obstacles = new Keyed(layer('obstacles'));
    this.patches = new Keyed(layer('patches'));
    this.partitions = new Keyed(layer('partitions'));
    this.ring = [];
  }

  /** Draw a plan; what is as before is left alone. */
  paint(plan) {
    this.ring = plan.outline;
    set(this.walls, { d: solidWalls(plan.outline, plan.patches) });
    set(this.tiles, { d: (plan.tiles?.lines ?? []).map(([a, b, c, d]) => trace([[a, b], [c, d]])).join('') });
    this.#sync(this.standing, plan.standing, (entry) => [['area', trace(entry.outline, true)]]);
    this.#sync(this.obstacles, plan.obstacles, (entry) => [['cut', trace(entry.outline, true)]]);
    this.#sync(this.furniture, plan.furniture, (entry) => furniturePaths(entry));
    this.#sync(this.overhead, plan.overhead, (entry) => overheadPaths(entry));
    this.#sync(this.displays, plan.displays, (entry) => displayPaths(entry, plan.outline));
    this.#sync(this.partitions, plan.partitions, (entry) => [['fold', trace([entry.from, entry.to])]]);
    this.#sync(this.patches, plan.patches, (entry) => Object.entries(patchPaths(entry, plan.outline)));
  }

  /** Move an item by metres from where the plan has it; symbols are moved elsewhere. */
  move(path, [dx, dy]) {
    for (const layer of [this.standing, this.furniture, this.overhead, this.displays, this.obstacles, this.patches, this.partitions]) {
      const node = layer.get(path);
      if (node) set(node, { transform: dx || dy ? `translate(${dx} ${dy})` : null });
    }
  }

  /** Show another outline while a corner moves; openings follow when it is let go. */
  reshape(ring, patches) {
    set(this.walls, { d: solidWalls(ring, patches) });
  }

  #sync(layer, entries, paths) {
    layer.sync(
      entries ?? [],
      (entry) => entry.path,
      (entry, parent) => make('g', { 'data-path': entry.path }, parent),
      (node, entry) => {
        const wanted = paths(entry).filter(([, data]) => data);
        while (node.childElementCount > wanted.length) node.lastElementChild.remove();
        wanted.forEach(([pen, d], k) => {
          const child = node.children[k] ?? make('path', {}, node);
          set(child, { class: pen, d });
        });
      },
    );
  }
}

function furniturePaths({ kind, outline }) {
  const body = ['body', trace(outline, true)];
  if (kind !== 'table') return [body, ['hair', backs(outline)]];
  return [body, ['hair', trace(offset(outline, -TABLE_EDGE), true)]];
}

/** Return an inner line along three sides: soft seating has a back. */
function backs(outline) {
  return trace(offset(outline, -2 * TABLE_EDGE));
}

function overheadPaths({ kind, outline, clearance }) {
  if (kind === 'panel') return [['dashed', trace(outline, true)]];
  const around = clearance ? [['dashed', trace(offset(outline, clearance), true)]] : [];
  if (kind === 'keep-out') {
    const [x0, y0, x1, y1] = boundsOf(outline);
    const strokes = hatch(outline, Math.min(HATCH, (x1 - x0 + y1 - y0) / 4));
    return [...around, ['dashed', trace(outline, true)], ['hair', strokes.map((stroke) => trace(stroke)).join('')]];
  }
  return [...around, ['lamp', trace(outline, true)], ['chained', trace(axisOf(outline))]];
}

/** Return the middle line of a ring of four along its longer sides. */
function axisOf(ring) {
  if (ring.length !== 4) return [middle(ring), middle(ring)];
  const half = (k) => middle([ring[k], ring[(k + 1) % 4]]);
  return distance(ring[0], ring[1]) > distance(ring[1], ring[2]) ? [half(1), half(3)] : [half(0), half(2)];
}

function displayPaths({ from, to }, ring) {
  const [x, y] = along(from, to);
  const centre = middle([from, to]);
  const left = [-y, x];
  const into = inside([centre[0] + left[0] * 0.05, centre[1] + left[1] * 0.05], ring) ? left : [y, -x];
  const at = (point, by) => [point[0] + into[0] * by, point[1] + into[1] * by];
  return [
    ['cut', trace([at(from, 0.02), at(to, 0.02), at(to, 0.09), at(from, 0.09)], true)],
    ['hair', trace([at(from, 0.14), at(to, 0.14)])],
  ];
}
