/** The painter of the view in space: a scene of faces, lines and marks onto a canvas. */

import { paintOrder } from './space.js';

const SYMBOL = 22; // height of a symbol [px]
const UNITS = 24; // height of a symbol in its own units
const CORNER = 6; // arm of a corner mark [px]
const AROUND = 15; // from the middle of a symbol to its corner marks [px]
const GAP = 3; // between words [px]
const NOTE = 11; // [px]

/** How each kind of face is filled and drawn: colour, colour and width [px] of its lines. */
const FACES = {
  floor: ['panel', 'ink', 1.25],
  wall: ['paper', 'ink', 1.25],
  panel: ['panel', 'ink', 0.75],
  display: ['ink', 'ink', 1],
  table: ['paper', 'ink', 1],
  obstacle: ['paper', 'ink', 1],
};

/** How each kind of line is drawn: colour, width [px], dashes [px]. */
const LINES = {
  tile: ['faint', 0.5, []],
  ceiling: ['rule', 0.75, []],
  'keep-out': ['rule', 0.75, []],
  drop: ['ink', 1, []],
};

/**
 * Paint a scene.
 *
 * @param {CanvasRenderingContext2D} context
 * @param {object} scene as Solid makes it; `place` gives the pixel of a point
 */
export function paintScene(context, scene) {
  const { size, faces, view, colour } = scene;
  context.clearRect(0, 0, size.width, size.height);
  context.fillStyle = colour.paper;
  context.fillRect(0, 0, size.width, size.height);
  context.lineJoin = 'round';
  for (const face of faces.filter(({ kind }) => kind === 'floor')) paintFace(context, scene, face);
  const standing = faces.filter(({ kind }) => kind !== 'floor');
  for (const index of paintOrder(standing, view)) paintFace(context, scene, standing[index]);
  for (const face of scene.open) outline(context, scene, face.points, ['rule', 0.5, []], true);
  for (const kind of ['tile', 'ceiling', 'keep-out', 'drop']) {
    for (const line of scene.lines) {
      if (line.kind === kind) outline(context, scene, line.points, LINES[kind], false);
    }
  }
  paintFeet(context, scene);
  if (scene.voice) paintVoice(context, scene);
  for (const mark of scene.marks) paintMark(context, scene, mark);
  paintWords(context, scene);
}

function paintFace(context, scene, face) {
  const [fill, line, width] = FACES[face.kind] ?? FACES.obstacle;
  const chosen = face.path && (scene.selection.has(face.path) || face.path === scene.hovered);
  trace(context, scene, face.points);
  context.closePath();
  context.fillStyle = scene.colour[fill];
  context.fill();
  context.strokeStyle = scene.colour[chosen ? 'accent' : line];
  context.lineWidth = chosen ? 1.75 : width;
  context.stroke();
}

function outline(context, scene, points, [colour, width, dashes], closed) {
  trace(context, scene, points);
  if (closed) context.closePath();
  context.strokeStyle = scene.colour[colour];
  context.lineWidth = width;
  context.setLineDash(dashes);
  context.stroke();
  context.setLineDash([]);
}

function trace(context, scene, points) {
  context.beginPath();
  points.forEach((point, index) => {
    const [x, y] = scene.place(point);
    if (index === 0) context.moveTo(x, y);
    else context.lineTo(x, y);
  });
}

/** A thin line from a seat to the floor says how high it floats. */
function paintFeet(context, scene) {
  for (const mark of scene.marks) {
    if (mark.kind !== 'seat') continue;
    outline(context, scene, [mark.at, [mark.at[0], mark.at[1], 0]], ['rule', 0.75, [1.8, 1.8]], false);
  }
}

function paintVoice(context, { voice, colour }) {
  context.beginPath();
  for (const [from, to] of voice.legs) {
    context.moveTo(...from);
    context.lineTo(...to);
  }
  context.strokeStyle = colour.accent;
  context.lineWidth = 1.75;
  context.stroke();
}

/** How long the chosen path is, beside its middle where nothing stands. */
function paintLength(context, { voice, colour, font }, taken) {
  if (!voice?.words) return;
  context.font = `600 13px ${font}`;
  const [dx, dy] = [voice.to[0] - voice.from[0], voice.to[1] - voice.from[1]];
  const length = Math.hypot(dx, dy) || 1;
  const half = context.measureText(voice.words).width / 2 + GAP;
  const out = half * Math.abs(dy / length) + 9 * Math.abs(dx / length) + 2;
  for (const [share, side] of [[0.5, 1], [0.5, -1], [0.3, 1], [0.3, -1], [0.7, 1], [0.7, -1]]) {
    const spot = [
      voice.from[0] + share * dx - (side * out * dy) / length,
      voice.from[1] + share * dy + (side * out * dx) / length,
    ];
    if (!isFree(around(spot, half, 8), taken)) continue;
    taken.push(around(spot, half, 8));
    write(context, voice.words, ...spot, colour.accent, colour.paper);
    return;
  }
}

function paintMark(context, scene, mark) {
  const { symbols, colour, selection, hovered } = scene;
  const [x, y] = mark.spot;
  const shapes = symbols[mark.symbol] ?? symbols['state-not-assessed'] ?? [];
  context.save();
  context.translate(x, y);
  context.scale(SYMBOL / UNITS, SYMBOL / UNITS);
  for (const shape of shapes) paintShape(context, shape, colour);
  context.restore();
  if (selection.has(mark.path) || mark.path === hovered) paintCorners(context, x, y, colour.accent);
}

function paintShape(context, { tag, attrs }, colour) {
  const path = pathOf(tag, attrs);
  const kinds = (attrs.class ?? '').split(' ');
  if (kinds.includes('sp')) context.fillStyle = colour.paper;
  if (kinds.includes('sf')) context.fillStyle = colour.ink;
  if (kinds.includes('sp') || kinds.includes('sf')) context.fill(path);
  if (kinds.includes('sf')) return;
  context.strokeStyle = kinds.includes('sx') ? colour.paper : colour.ink;
  context.lineWidth = kinds.includes('bold') ? 2 : kinds.includes('wall') ? 2.6 : kinds.includes('hair') ? 0.6 : 1;
  context.setLineDash(kinds.includes('dot') ? [1.8, 1.8] : kinds.includes('dash') ? [3, 1.6] : kinds.includes('chain') ? [5, 1.4, 1.2, 1.4] : []);
  context.stroke(path);
  context.setLineDash([]);
}

function pathOf(tag, attrs) {
  const number = (name, standard = 0) => Number(attrs[name] ?? standard);
  if (tag === 'path') return new Path2D(attrs.d);
  const path = new Path2D();
  if (tag === 'rect') path.rect(number('x'), number('y'), number('width'), number('height'));
  else if (tag === 'circle') path.arc(number('cx'), number('cy'), number('r'), 0, 2 * Math.PI);
  else if (tag === 'ellipse') path.ellipse(number('cx'), number('cy'), number('rx'), number('ry'), 0, 0, 2 * Math.PI);
  return path;
}

function paintCorners(context, x, y, colour) {
  context.beginPath();
  for (const [sx, sy] of [[-1, -1], [1, -1], [1, 1], [-1, 1]]) {
    const [cx, cy] = [x + sx * AROUND, y + sy * AROUND];
    context.moveTo(cx - sx * CORNER, cy);
    context.lineTo(cx, cy);
    context.lineTo(cx, cy - sy * CORNER);
  }
  context.strokeStyle = colour;
  context.lineWidth = 1.75;
  context.stroke();
}

/** Words of the marks, devices first, each where nothing has been written yet; then the walls. */
function paintWords(context, scene) {
  const { colour, font, states } = scene;
  const taken = scene.marks.map(({ spot }) => around(spot, 11, 11));
  paintLength(context, scene, taken);
  const devicesFirst = [...scene.marks].sort((a, b) => (b.kind === 'device') - (a.kind === 'device'));
  for (const mark of devicesFirst) {
    const strong = mark.kind === 'device';
    context.font = strong ? `600 13px ${font}` : `400 ${NOTE}px ${font}`;
    const figure = mark.kind === 'seat' ? (states[mark.path]?.figure ?? '–') : '–';
    const words = figure === '–' ? mark.words : `${mark.words} ${figure}`;
    const width = context.measureText(words).width;
    const [x, y] = mark.spot;
    const spots = [[x + 14 + width / 2, y], [x - 14 - width / 2, y], [x, y + 20], [x, y - 20]];
    const free = spots.find((spot) => isFree(around(spot, width / 2 + GAP, 8), taken));
    if (!free) continue;
    taken.push(around(free, width / 2 + GAP, 8));
    write(context, words, ...free, strong ? colour.ink : colour['ink-2'], colour.paper);
  }
  paintWalls(context, scene, taken);
}

/** Names of walls at their upper edge, of those that stand open at the floor. */
function paintWalls(context, { walls, open, height, place, colour, font, size }, taken) {
  context.font = `400 ${NOTE}px ${font}`;
  const [mx, my] = [size.width / 2, size.height / 2];
  const atFloor = new Set(open.map(({ path }) => path));
  for (const { path, from, to, name } of walls) {
    const edge = atFloor.has(path) ? 0 : height;
    const [x, y] = place([(from[0] + to[0]) / 2, (from[1] + to[1]) / 2, edge]);
    const away = Math.hypot(x - mx, y - my) || 1;
    const spot = [x + (14 * (x - mx)) / away, y + (14 * (y - my)) / away];
    const box = around(spot, context.measureText(name).width / 2 + GAP, 8);
    if (!isFree(box, taken)) continue;
    taken.push(box);
    write(context, name, ...spot, colour['ink-2'], colour.paper);
  }
}

function around([x, y], halfWidth, halfHeight) {
  return [x - halfWidth, y - halfHeight, x + halfWidth, y + halfHeight];
}

function isFree([left, top, right, bottom], taken) {
  return taken.every(([l, t, r, b]) => right <= l || r <= left || bottom <= t || b <= top);
}

function write(context, words, x, y, colour, paper) {
  context.textAlign = 'center';
  context.textBaseline = 'middle';
  context.lineJoin = 'round';
  context.strokeStyle = paper;
  context.lineWidth = 4;
  context.strokeText(words, x, y);
  context.fillStyle = colour;
  context.fillText(words, x, y);
}
