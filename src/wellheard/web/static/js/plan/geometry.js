// Plane geometry of the drawing: rings are lists of [x, y] in metres, not closed twice.

/** Return the signed area of a ring, positive anticlockwise. [m²] */
export function area(ring) {
  let twice = 0;
  ring.forEach(([x, y], k) => {
    const [u, v] = ring[(k + 1) % ring.length];
    twice += x * v - u * y;
  });
  return twice / 2;
}

/** Return x0, y0, x1, y1 of points. */
export function boundsOf(points) {
  const xs = points.map((p) => p[0]);
  const ys = points.map((p) => p[1]);
  return [Math.min(...xs), Math.min(...ys), Math.max(...xs), Math.max(...ys)];
}

/** Return whether a point lies in a ring (even-odd). */
export function inside([x, y], ring) {
  let within = false;
  for (let k = 0, last = ring.length - 1; k < ring.length; last = k++) {
    const [x0, y0] = ring[last];
    const [x1, y1] = ring[k];
    if (y0 > y !== y1 > y && x < x0 + ((y - y0) / (y1 - y0)) * (x1 - x0)) within = !within;
  }
  return within;
}

/** Return the point of a segment nearest to a point, and how far along it lies (0–1). */
export function nearestOn([x, y], [x0, y0], [x1, y1]) {
  const [dx, dy] = [x1 - x0, y1 - y0];
  const square = dx * dx + dy * dy;
  const share = square ? Math.min(Math.max(((x - x0) * dx + (y - y0) * dy) / square, 0), 1) : 0;
  return { at: [x0 + share * dx, y0 + share * dy], share };
}

/** Return the distance between two points. */
export function distance(a, b) {
  return Math.hypot(a[0] - b[0], a[1] - b[1]);
}

/** Return the distance of a point from a segment. */
export function distanceTo(point, from, to) {
  return distance(point, nearestOn(point, from, to).at);
}

/** Return the mean of the corners of a ring. */
export function middle(points) {
  const sum = points.reduce(([x, y], [u, v]) => [x + u, y + v], [0, 0]);
  return [sum[0] / points.length, sum[1] / points.length];
}

/** Return the unit vector from one point to another; [0, 0] where they are one. */
export function along(from, to) {
  const length = distance(from, to);
  return length ? [(to[0] - from[0]) / length, (to[1] - from[1]) / length] : [0, 0];
}

/**
 * Return a ring moved outwards (inwards where negative), its corners mitred.
 * @param {number[][]} ring
 * @param {number} by [m]
 */
export function offset(ring, by) {
  const away = area(ring) > 0 ? by : -by;
  return ring.map((corner, k) => {
    const before = along(ring[(k + ring.length - 1) % ring.length], corner);
    const after = along(corner, ring[(k + 1) % ring.length]);
    const normal = [before[1] + after[1], -before[0] - after[0]];
    const stretch = (normal[0] ** 2 + normal[1] ** 2) / 2;
    const mitre = away / Math.max(stretch, 0.2); // a needle of a corner stays on the sheet
    return [corner[0] + normal[0] * mitre, corner[1] + normal[1] * mitre];
  });
}

/**
 * Return how far a wall is from a point in a direction along an axis; null where there is none.
 * @param {number[]} point [m]
 * @param {number[]} direction [±1, 0] or [0, ±1]
 * @param {number[][]} ring
 */
export function toWall(point, direction, ring) {
  const [axis, other] = direction[0] ? [0, 1] : [1, 0];
  let nearest = null;
  ring.forEach((a, k) => {
    const b = ring[(k + 1) % ring.length];
    if (a[other] > point[other] === b[other] > point[other]) return;
    const share = (point[other] - a[other]) / (b[other] - a[other]);
    const reach = (a[axis] + share * (b[axis] - a[axis]) - point[axis]) * direction[axis];
    if (reach >= -1e-9 && (nearest === null || reach < nearest)) nearest = Math.max(reach, 0);
  });
  return nearest;
}

/**
 * Return the strokes of a 45° hatch of a ring.
 * @param {number[][]} ring
 * @param {number} spacing between strokes along x [m]
 * @returns {number[][][]} pairs of points
 */
export function hatch(ring, spacing) {
  const sums = ring.map(([x, y]) => x + y);
  const strokes = [];
  const first = Math.floor(Math.min(...sums) / spacing) + 1;
  for (let sum = first * spacing; sum < Math.max(...sums); sum += spacing) {
    const cuts = [];
    ring.forEach((a, k) => {
      const b = ring[(k + 1) % ring.length];
      const [u, v] = [a[0] + a[1] - sum, b[0] + b[1] - sum];
      if (u > 0 === v > 0) return;
      const share = u / (u - v);
      cuts.push([a[0] + share * (b[0] - a[0]), a[1] + share * (b[1] - a[1])]);
    });
    cuts.sort((a, b) => a[0] - b[0]);
    for (let k = 0; k + 1 < cuts.length; k += 2) strokes.push([cuts[k], cuts[k + 1]]);
  }
  return strokes;
}

/** Return whether boxes {x, y, w, h} overlap. */
export function overlap(a, b) {
  return a.x < b.x + b.w && b.x < a.x + a.w && a.y < b.y + b.h && b.y < a.y + a.h;
}

/**
 * Return small boxes along the edges of a ring, so that words can keep off it.
 * @param {number[][]} ring [px]
 */
export function edgeBoxes(ring) {
  return ring.flatMap((from, k) => {
    const to = ring[(k + 1) % ring.length];
    const slanted = from[0] !== to[0] && from[1] !== to[1];
    const count = slanted ? Math.min(Math.ceil(distance(from, to) / 12), 100) : 1;
    return Array.from({ length: count }, (_, n) => {
      const at = (share) => [0, 1].map((axis) => from[axis] + (to[axis] - from[axis]) * share);
      const [x0, y0, x1, y1] = boundsOf([at(n / count), at((n + 1) / count)]);
      return { x: x0 - 0.5, y: y0 - 0.5, w: x1 - x0 + 1, h: y1 - y0 + 1 };
    });
  });
}
