// Where a thing may come to lie: on the tiles, or on a round distance.

/**
 * Return the nearest tile centre or crossing of tile lines.
 * @param {number[]} point [m]
 * @param {{module: number[], origin: number[], rotation_deg: number}} tiles
 */
export function onTiles([x, y], tiles) {
  const turn = (tiles.rotation_deg * Math.PI) / 180;
  const [cos, sin] = [Math.cos(turn), Math.sin(turn)];
  const [dx, dy] = [x - tiles.origin[0], y - tiles.origin[1]];
  const local = [dx * cos + dy * sin, -dx * sin + dy * cos];
  const crossing = local.map((u, k) => Math.round(u / tiles.module[k]) * tiles.module[k]);
  const centre = local.map((u, k) => (Math.floor(u / tiles.module[k]) + 0.5) * tiles.module[k]);
  const far = (p) => Math.hypot(p[0] - local[0], p[1] - local[1]);
  const [u, v] = far(crossing) < far(centre) ? crossing : centre;
  return [tiles.origin[0] + u * cos - v * sin, tiles.origin[1] + u * sin + v * cos];
}

/** Return the point with both distances rounded to whole steps. [m] */
export function onStep(point, step) {
  return point.map((u) => Math.round(u / step) * step);
}

/**
 * Return where a point snaps to.
 * @param {number[]} point [m]
 * @param {{tiles: object|null, step: number, ceiling: boolean, free: boolean}} rules
 */
export function snap(point, { tiles, step, ceiling, free }) {
  if (free) return [...point];
  return ceiling && tiles ? onTiles(point, tiles) : onStep(point, step);
}

/**
 * Return a corner pulled level with its neighbours where it nearly is, on a round distance otherwise.
 * @param {number[]} point [m]
 * @param {number[][]} neighbours the corners before and after
 * @param {{step: number, near: number, free: boolean}} rules `near` [m]
 */
export function squared(point, neighbours, { step, near, free }) {
  if (free) return [...point];
  return point.map((u, axis) => {
    const level = neighbours.map((corner) => corner[axis]).find((w) => Math.abs(w - u) <= near);
    return level === undefined ? Math.round(u / step) * step : level;
  });
}
