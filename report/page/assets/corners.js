// A chessboard lying on the floor: its corners are found in the frame that is
// shown, catch the pointer, and become marks once it is said where the board lies.
import { attempt, make, say, send } from './common.js';
import { S, cameraDoc, change, newCamera, pick, place, round } from './draft.js';

// What was typed about the board, and what was found.
const typed = { columns: '', rows: '', square: '', x: '', y: '', z: '', along: '0' };
let found = null; // {file, t, columns, rows, pixels, turn}

// shown returns the corners that were found in the frame that is shown, the one
// that was chosen as the first in front; empty otherwise.
export function shown() {
  return found && found.file === S.file && found.t === S.t && !S.empty && S.view === 'picture' ? ordered() : [];
}

// ordered lists the corners row by row from the chosen outer corner.
function ordered() {
  const { columns: n, rows: m, pixels, turn } = found, out = [];
  for (let j = 0; j < m; j++) for (let i = 0; i < n; i++) out.push(pixels[(turn & 2 ? m - 1 - j : j) * n + (turn & 1 ? n - 1 - i : i)]);
  return out;
}

// caught returns the corner that a point within reach of it was meant for, or the point.
export function caught(p, reach) {
  let best = p, least = reach;
  for (const c of shown()) { const d = Math.hypot(c[0] - p[0], c[1] - p[1]); if (d < least) [best, least] = [c, d]; }
  return best;
}

// places returns where each corner lies on the floor: from the first along the
// row, rows beside it on the side where the picture shows them. The camera looks
// down, so that what turns clockwise in the picture does so on the plan.
export function places(pixels, columns, { x, y, square, along }) {
  const [o, r, c] = [pixels[0], pixels[1], pixels[columns]];
  const clockwise = (r[0] - o[0]) * (c[1] - o[1]) - (r[1] - o[1]) * (c[0] - o[0]) > 0;
  const a = along * Math.PI / 180, u = [Math.cos(a), Math.sin(a)], v = clockwise ? [u[1], -u[0]] : [-u[1], u[0]];
  return pixels.map((_, k) => {
    const i = k % columns, j = Math.floor(k / columns);
    return [0, 1].map(d => round([x, y][d] + square * (i * u[d] + j * v[d]), 4));
  });
}

const value = k => { const t = typed[k].trim().replace(',', '.'); return t === '' ? undefined : Number(t); };

function field(k, label) {
  const e = make('input', { type: 'text', inputmode: 'decimal', autocomplete: 'off', 'data-key': `chess-${k}`, value: typed[k] });
  e.addEventListener('input', () => { typed[k] = e.value; e.defaultValue = e.value; });
  return make('label', {}, `${label} `, e);
}

async function find() {
  const columns = value('columns'), rows = value('rows');
  if (!(columns >= 3 && rows >= 3)) { say('Type the number of inner corners along a row and along a column, three or more each.'); return; }
  if (!S.file) { say('Choose a recording first.'); return; }
  if (S.empty) { say('Show a frame of the recording first, not the empty room.'); return; }
  say('Finding the corners.');
  const at = { file: S.file, t: S.t };
  await attempt(async () => {
    const got = await send('GET', `/corners?file=${encodeURIComponent(at.file)}&t=${at.t.toFixed(3)}&columns=${columns}&rows=${rows}`);
    found = { ...at, columns, rows, pixels: got.corners.map(p => p.map(v => round(v, 2))), turn: 0 };
    pick({});
    document.querySelector('[data-key="chess-x"]')?.focus();
    say(`${got.corners.length} corners found. Type where the ringed one lies.`);
  });
}

function take() {
  const pixels = shown();
  if (!pixels.length) { say('These corners belong to another frame; find them in this one.'); return; }
  const [x, y, z, square, along] = ['x', 'y', 'z', 'square', 'along'].map(value);
  if (!Number.isFinite(x) || !Number.isFinite(y)) { say('Type where the first corner lies, x and y in metres.'); return; }
  if (!(square > 0)) { say('Type the side of a square, in metres.'); return; }
  if (!Number.isFinite(along) || z !== undefined && !Number.isFinite(z)) { say('Direction and height should be numbers.'); return; }
  const floor = places(pixels, found.columns, { x, y, square, along });
  change(() => {
    newCamera();
    const c = cameraDoc();
    c.marks = [...(c.marks || []), ...pixels.map((p, i) => ({ floor: z ? [...floor[i], z] : floor[i], pixel: p }))];
    place({ mark: -1 });
    found = null;
  });
  say(`${pixels.length} marks were added.`);
}

// form is the part of the marks' panel that deals with the board.
export function form() {
  const ask = make('form', {}, field('columns', 'Inner corners along a row'), ' ', field('rows', 'along a column'), ' ', field('square', 'side of a square, m'), ' ', make('button', { 'data-key': 'chess-find' }, 'Find corners in this frame'));
  ask.addEventListener('submit', e => { e.preventDefault(); find(); });
  const out = [make('summary', {}, 'Marks from a chessboard on the floor'), ask];
  if (shown().length) {
    const say1 = make('form', {}, make('p', {}, `${found.pixels.length} corners found. The first is ringed, with a line along its row; clicks snap to corners. `,
      make('button', { type: 'button', 'data-key': 'chess-turn', onclick: () => { found.turn = (found.turn + 1) % 4; pick({}); say('The numbering starts at another corner.'); } }, 'Start at another corner')),
    make('p', {}, field('x', 'The ringed corner is at x, m'), ' ', field('y', 'y, m'), ' ', field('z', 'height, m (if not 0)')),
    make('p', {}, field('along', 'direction of its row, degrees from +x'), ' ', make('button', { 'data-key': 'chess-take' }, 'Use as marks')));
    say1.addEventListener('submit', e => { e.preventDefault(); take(); });
    out.push(say1, make('p', { class: 'faint' }, 'Set marks in the room’s corners too: a board covers only a small part of the room.'));
  }
  return make('details', { open: Boolean(found) || typed.columns !== '' }, ...out);
}
