/**
 * Geometry of the view in space: parallel projection, and which face is painted before which.
 * Metres, z up; angles in degrees, anticlockwise seen from above.
 */

const RAD = Math.PI / 180;
const NEAR = 1e-6; // two heights over a plane are the same [m]
const APART = 1e-9;

/** Tilt at which all three axes are shortened alike: the isometric view. [°] */
export const ISOMETRIC_DEG = Math.asin(Math.tan(30 * RAD)) / RAD;

/**
 * A parallel view of the room.
 *
 * @param {number} turnDeg direction, on the plan, from the room to whoever looks [°]
 * @param {number} tiltDeg height of whoever looks above the horizon: 0 from the side, 90 from above [°]
 * @returns {{right: number[], up: number[], towards: number[]}} unit vectors: to the right on the
 *   picture, upwards on it, and out of it towards whoever looks
 */
export function viewFrom(turnDeg, tiltDeg) {
  const [ct, st] = [Math.cos(turnDeg * RAD), Math.sin(turnDeg * RAD)];
  const [cp, sp] = [Math.cos(tiltDeg * RAD), Math.sin(tiltDeg * RAD)];
  return { right: [-st, ct, 0], up: [-sp * ct, -sp * st, cp], towards: [cp * ct, cp * st, sp] };
}

/** A point on the picture, [to the right, upwards] in metres. */
export function projected(view, point) {
  return [dot(view.right, point), dot(view.up, point)];
}

/** Scalar product. */
export function dot(a, b) {
  return a[0] * b[0] + a[1] * b[1] + a[2] * b[2];
}

/**
 * Unit normal of a flat face (Newell's sum), on the side from which its corners run anticlockwise.
 *
 * @param {number[][]} points
 */
export function normalOf(points) {
  const sum = [0, 0, 0];
  points.forEach((a, i) => {
    const b = points[(i + 1) % points.length];
    sum[0] += (a[1] - b[1]) * (a[2] + b[2]);
    sum[1] += (a[2] - b[2]) * (a[0] + b[0]);
    sum[2] += (a[0] - b[0]) * (a[1] + b[1]);
  });
  const length = Math.hypot(...sum) || 1;
  return sum.map((part) => part / length);
}

/** Whether a place on the plan lies inside an outline. */
export function inside(outline, [x, y]) {
  let within = false;
  outline.forEach(([xa, ya], i) => {
    const [xb, yb] = outline[(i + 1) % outline.length];
    if (ya > y !== yb > y && x < xa + ((y - ya) / (yb - ya)) * (xb - xa)) within = !within;
  });
  return within;
}

/**
 * A face with what every view needs of it. The normal of a wall points into the room, whichever way
 * its corners run.
 *
 * @param {{kind: string, points: number[][]}} face
 * @param {number[][]} floor outline of the room
 */
export function prepared(face, floor) {
  let normal = normalOf(face.points);
  const centre = [0, 1, 2].map((axis) => face.points.reduce((sum, p) => sum + p[axis], 0) / face.points.length);
  if (face.kind === 'wall' && Math.abs(normal[2]) < 0.5) {
    const step = 0.01;
    if (!inside(floor, [centre[0] + step * normal[0], centre[1] + step * normal[1]])) {
      normal = normal.map((part) => -part);
    }
  }
  return { ...face, normal, centre, offset: dot(normal, face.points[0]) };
}

/** Whether whoever looks sees the inner side of a wall; the others stand open. */
export function turnedTo(view, face) {
  return dot(view.towards, face.normal) > NEAR;
}

/**
 * The order in which faces are painted, so that what is nearer covers what is behind.
 *
 * Two faces that overlap on the picture are compared by their planes: one lies behind the other when
 * it is on the far side of the other's plane, or the other on the near side of its own. Faces in one
 * plane go by rank (a panel after its wall). What goes round in a circle is broken at the face
 * farthest away, which is the best that can be done without cutting faces.
 *
 * @param {object[]} faces as `prepared` makes them, with `rank`
 * @param {object} view
 * @returns {number[]} indices, farthest first
 */
export function paintOrder(faces, view) {
  const boxes = faces.map((face) => boxOf(face, view));
  const after = faces.map(() => []);
  const before = new Array(faces.length).fill(0);
  for (let i = 0; i < faces.length; i += 1) {
    for (let j = i + 1; j < faces.length; j += 1) {
      if (!overlap(boxes[i], boxes[j])) continue;
      const sign = compare(faces[i], faces[j], view);
      if (sign < 0) {
        after[i].push(j);
        before[j] += 1;
      } else if (sign > 0) {
        after[j].push(i);
        before[i] += 1;
      }
    }
  }
  return drained(after, before, boxes.map(({ depth }) => depth));
}

/** −1 where the first is painted first, 1 where the second is, 0 where it does not matter. */
export function compare(first, second, view) {
  const one = sideOf(first, second, view);
  const other = sideOf(second, first, view);
  if (one === 0 && other === 0) return Math.sign((first.rank ?? 0) - (second.rank ?? 0));
  if (one < 0 || other > 0) return one > 0 || other < 0 ? 0 : -1;
  if (one > 0 || other < 0) return 1;
  return 0;
}

/**
 * Where a face lies of another's plane: −1 behind, 1 before it, 0 in it; NaN on both sides of it, or
 * where the plane is seen edge-on and says nothing.
 */
function sideOf(face, other, view) {
  const facing = dot(view.towards, other.normal) < 0 ? -1 : 1;
  let low = Infinity;
  let high = -Infinity;
  for (const point of face.points) {
    const height = facing * (dot(other.normal, point) - other.offset);
    low = Math.min(low, height);
    high = Math.max(high, height);
  }
  if (high <= NEAR && low >= -NEAR) return 0;
  if (Math.abs(dot(view.towards, other.normal)) < NEAR) return NaN;
  if (high <= NEAR) return -1;
  return low >= -NEAR ? 1 : NaN;
}

function boxOf(face, view) {
  const box = { left: Infinity, right: -Infinity, low: Infinity, high: -Infinity };
  for (const point of face.points) {
    const [x, y] = projected(view, point);
    box.left = Math.min(box.left, x);
    box.right = Math.max(box.right, x);
    box.low = Math.min(box.low, y);
    box.high = Math.max(box.high, y);
  }
  box.depth = dot(view.towards, face.centre);
  return box;
}

function overlap(a, b) {
  return a.left < b.right - APART && b.left < a.right - APART && a.low < b.high - APART && b.low < a.high - APART;
}

/** Take what nothing waits before, the farthest first; a circle is broken at its farthest. */
function drained(after, before, depths) {
  const farFirst = depths.map((_, i) => i).sort((i, j) => depths[i] - depths[j]);
  const taken = new Array(depths.length).fill(false);
  const order = [];
  while (order.length < depths.length) {
    let next = farFirst.find((i) => !taken[i] && before[i] === 0);
    next ??= farFirst.find((i) => !taken[i]);
    taken[next] = true;
    order.push(next);
    for (const i of after[next]) before[i] -= 1;
  }
  return order;
}
