// Cut walls, solid, and what is let into them or hangs on them.

import { along, distance, inside, offset } from './geometry.js';
import { trace } from './svg.js';

/** Drawn thickness of a wall, outwards from the face. [m] */
export const THICK = 0.1;

/**
 * Return the path of the solid parts of the walls: everything but windows and doors.
 * @param {number[][]} ring the faces, as in the document [m]
 * @param {{kind: string, from: number[], to: number[]}[]} patches
 */
export function solidWalls(ring, patches) {
  const outer = offset(ring, THICK);
  const openings = patches.filter((patch) => patch.kind === 'window' || patch.kind === 'door');
  let data = '';
  ring.forEach((from, k) => {
    const next = (k + 1) % ring.length;
    const [to, a, b] = [ring[next], outer[k], outer[next]];
    const length = distance(from, to);
    const ahead = along(from, to);
    const cuts = openings
      .filter((patch) => onLine(patch.from, from, ahead) && onLine(patch.to, from, ahead))
      .map((patch) => [reach(patch.from, from, ahead), reach(patch.to, from, ahead)].sort((u, v) => u - v))
      .filter(([u, v]) => v > 0 && u < length)
      .sort((u, v) => u[0] - v[0]);
    const out = along(from, to);
    const normal = outwards(ring, from, to);
    const foot = (u) => [from[0] + out[0] * u, from[1] + out[1] * u];
    const head = (u) => [foot(u)[0] + normal[0] * THICK, foot(u)[1] + normal[1] * THICK];
    let start = 0;
    const solid = (u, v) => {
      if (v - u < 1e-6) return;
      const first = u === 0 ? [from, a] : [foot(u), head(u)];
      const last = v === length ? [to, b] : [foot(v), head(v)];
      data += trace([first[0], last[0], last[1], first[1]], true);
    };
    for (const [u, v] of cuts) {
      solid(start, Math.max(u, 0));
      start = Math.max(start, Math.min(v, length));
    }
    solid(start, length);
  });
  return data;
}

function onLine(point, from, ahead) {
  const across = (point[0] - from[0]) * ahead[1] - (point[1] - from[1]) * ahead[0];
  return Math.abs(across) < 0.02;
}

function reach(point, from, ahead) {
  return (point[0] - from[0]) * ahead[0] + (point[1] - from[1]) * ahead[1];
}

/** Return the unit vector from a stretch of wall out of the room. */
export function outwards(ring, from, to) {
  const [x, y] = along(from, to);
  const probe = [(from[0] + to[0]) / 2 + y * 0.02, (from[1] + to[1]) / 2 - x * 0.02];
  return inside(probe, ring) ? [-y, x] : [y, -x];
}

/**
 * Return the drawing of what is let into a wall or hangs on it: paths by pen.
 * @param {{kind: string, from: number[], to: number[], hinge: string|null}} patch
 * @param {number[][]} ring of the room [m]
 * @returns {{blank: string, thin: string, hair: string, bold: string}}
 */
export function patchPaths(patch, ring) {
  const { from, to } = patch;
  const out = outwards(ring, from, to);
  const at = (point, by) => [point[0] + out[0] * by, point[1] + out[1] * by];
  const none = { blank: '', thin: '', hair: '', bold: '' };
  if (patch.kind === 'window') {
    const lines = [0, THICK / 2, THICK].map((by) => trace([at(from, by), at(to, by)])).join('');
    return { ...none, thin: lines };
  }
  if (patch.kind === 'door') {
    const sills = [0, THICK].map((by) => trace([at(from, by), at(to, by)])).join('');
    if (!patch.hinge) return { ...none, hair: sills };
    const [hinge, latch] = patch.hinge === 'start' ? [from, to] : [to, from];
    const width = distance(from, to);
    const leaf = at(hinge, -width);
    const swing = `${trace([leaf])}A${width} ${width} 0 0 ${turns(hinge, leaf, latch)} ${latch[0]} ${latch[1]}`;
    return { ...none, hair: sills + swing, bold: trace([hinge, leaf]) };
  }
  const deep = patch.kind === 'panel' ? 0.05 : 0.03;
  const body = trace([from, to, at(to, -deep), at(from, -deep)], true);
  if (patch.kind !== 'panel') return { ...none, blank: body };
  const folds = Math.max(Math.round(distance(from, to) / 0.1), 2);
  const fold = Array.from({ length: folds + 1 }, (_, k) => {
    const share = k / folds;
    const point = [from[0] + share * (to[0] - from[0]), from[1] + share * (to[1] - from[1])];
    return at(point, k % 2 ? -deep : 0);
  });
  return { ...none, blank: body, hair: trace(fold) };
}

/** Return the sweep flag of the arc round a hinge, for path data whose y runs up. */
function turns(hinge, start, end) {
  const cross =
    (start[0] - hinge[0]) * (end[1] - hinge[1]) - (start[1] - hinge[1]) * (end[0] - hinge[0]);
  return cross > 0 ? 1 : 0;
}
