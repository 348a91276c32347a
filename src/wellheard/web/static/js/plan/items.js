// The things on the plan as one list, whatever they are: what a hand, a key or a mark can mean.

import { area, boundsOf, distance, distanceTo, inside, middle } from './geometry.js';

/** Words for kinds, as they are read out. */
const KINDS = {
  seats: 'seat',
  standing: 'standing area',
  furniture: 'furniture',
  displays: 'display',
  overhead: 'overhead',
  sources: 'noise source',
  equipment: 'equipment',
  devices: 'device',
  obstacles: 'obstacle',
  patches: 'on the wall',
  partitions: 'partition',
};

const REACH = 14; // of a finger or a pointer round a symbol [px]
const EDGE = 6; // beside a line [px]
const ROW = 0.5; // things within it are read as one row [m]

/**
 * @typedef {object} Item
 * @property {string} path
 * @property {string} kind the list of the plan it came from
 * @property {string} id
 * @property {string} label shown beside it
 * @property {string} word what it is, in words
 * @property {number[]} at [m]
 * @property {number|null} z height above the floor [m]
 * @property {number[][]|null} ring outline [m]
 * @property {number[][]|null} segment its two ends on a wall [m]
 * @property {boolean} locked
 * @property {boolean} ceiling whether it snaps to tiles
 * @property {object} source the entry of the plan
 */

/**
 * Return the things on a plan by path.
 * @param {object} plan
 * @returns {Map<string, Item>}
 */
export function itemsOf(plan) {
  const items = new Map();
  for (const kind of Object.keys(KINDS)) {
    for (const entry of plan[kind] ?? []) items.set(entry.path, itemOf(kind, entry));
  }
  return items;
}

function itemOf(kind, entry) {
  const ring = entry.outline ?? null;
  const segment = entry.from ? [entry.from, entry.to] : null;
  const id = entry.id ?? entry.path.slice(entry.path.lastIndexOf('.') + 1);
  const at = entry.at ?? middle(ring ?? segment);
  return {
    path: entry.path,
    kind,
    id,
    label: entry.label ?? id,
    word: wordOf(kind, entry),
    at: at.slice(0, 2),
    z: at.length > 2 ? at[2] : null,
    ring,
    segment,
    locked: entry.locked ?? false,
    ceiling: entry.on_ceiling ?? false,
    source: entry,
  };
}

function wordOf(kind, entry) {
  if (kind === 'devices') return entry.product || 'device';
  if (['furniture', 'overhead', 'patches'].includes(kind)) return entry.kind;
  return KINDS[kind];
}

/** Return the corners or ends of an item, or its point. */
export function extent(item) {
  return item.ring ?? item.segment ?? [item.at];
}

/**
 * Return the item a point means: symbols before areas, the nearest symbol, the smallest area.
 * @param {Iterable<Item>} items
 * @param {number[]} point [m]
 * @param {number} scale [px/m]
 * @returns {Item|null}
 */
export function hit(items, point, scale) {
  let best = null;
  for (const item of items) {
    const rank = rankOf(item, point, scale);
    if (rank && (!best || rank[0] < best.rank[0] || (rank[0] === best.rank[0] && rank[1] < best.rank[1])))
      best = { item, rank };
  }
  return best ? best.item : null;
}

function rankOf(item, point, scale) {
  if (!item.ring && !item.segment) {
    const away = distance(point, item.at) * scale;
    return away <= REACH ? [0, away] : null;
  }
  if (item.segment) {
    const away = distanceTo(point, ...item.segment) * scale;
    return away <= EDGE + 3 ? [1, away] : null;
  }
  const near = item.ring.some(
    (corner, k) => distanceTo(point, corner, item.ring[(k + 1) % item.ring.length]) * scale <= EDGE / 2,
  );
  return near || inside(point, item.ring) ? [2, Math.abs(area(item.ring))] : null;
}

/** Return the items that lie wholly in a rectangle between two points. [m] */
export function within(items, a, b) {
  const [x0, x1] = [Math.min(a[0], b[0]), Math.max(a[0], b[0])];
  const [y0, y1] = [Math.min(a[1], b[1]), Math.max(a[1], b[1])];
  return [...items].filter((item) => {
    const [u0, v0, u1, v1] = boundsOf(extent(item));
    return u0 >= x0 && u1 <= x1 && v0 >= y0 && v1 <= y1;
  });
}

/** Return paths as one reads a page: rows from north to south, each from west to east. */
export function readingOrder(items) {
  const left = [...items].sort((a, b) => b.at[1] - a.at[1] || a.at[0] - b.at[0]);
  const order = [];
  while (left.length) {
    const top = left[0].at[1];
    const count = left.findIndex((item) => top - item.at[1] > ROW);
    const row = left.splice(0, count < 0 ? left.length : count);
    row.sort((a, b) => a.at[0] - b.at[0] || b.at[1] - a.at[1]);
    order.push(...row.map((item) => item.path));
  }
  return order;
}

function nameOf({ kind, label, word, id }) {
  if (kind === 'devices') return `${label}, ${word}`;
  return id.startsWith(word) ? id : `${word} ${id}`;
}

/**
 * Return what is read out for an item: "seat s1, STI outbound 0.65, kept".
 * @param {Item} item
 * @param {{state: string, figure: string}|undefined} mark of the figures
 * @param {string} quantity in words
 */
export function spoken(item, mark, quantity) {
  const parts = [nameOf(item)];
  if (mark) parts.push(`${quantity} ${mark.figure}`, mark.state);
  if (item.source.height_words) parts.push(`at ${item.source.height_words}`);
  if (item.locked) parts.push('locked');
  return parts.join(', ');
}
