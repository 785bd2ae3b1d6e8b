// The set-up as it is being edited: its content, where the reader is in it, what the
// program says of it, and the way back. Nothing here touches the page: whoever shows the
// draft is told of each change.
import { say } from './common.js';
import { aim } from './snap.js';

const now = {
  doc: {}, sha: '', tried: null, saved: '{}', past: [], future: [],
  view: 'picture', image: null, size: [1280, 720], file: '', t: 0, empty: false,
  tab: 'marks', cameraName: '', layoutName: '', robotName: '', mark: -1,
  drawing: null,  // {group, name, points, top, height}: an outline on its way
  tapeEnds: [],   // pixels or floor points of the distance being measured
  piece: null,    // {group, name} of the chosen thing; group 'room' for the room
  side: null, square: true, corners: true, dock: false,
};
// S is the draft to be read; it changes by pick, and its content by change.
export const S = new Proxy(now, { set(_, what) { throw new TypeError(`${what} of the draft is changed by pick`); } });
export const groups = ['obstacles', 'overhead', 'areas', 'test_objects'];

const listeners = [];
// onDraft calls back after each change: forms, the forms show it not yet; left, it was
// made by a field as it was left; content, the content may be another.
export function onDraft(f) { listeners.push(f); }
const tell = what => { for (const f of listeners) f(what); };

// pick changes where the reader is, not the content; place does so as part of a change.
export const place = some => { Object.assign(now, some); };
export function pick(some, forms = true) {
  place(some);
  tell({ forms });
}

export const numbers = p => Array.isArray(p) && p.length >= 2 && p.every(Number.isFinite);
export const round = (v, n) => Number(v.toFixed(n));
export const cameraDoc = () => S.doc.cameras?.[S.cameraName];
export const layoutDoc = () => S.doc.layouts?.[S.layoutName];
export const frameSize = () => (S.image ? [...S.size] : [1280, 720]);
export const clean = () => JSON.stringify(S.doc) === S.saved;

// newCamera makes a camera where a first mark is set.
export function newCamera() {
  if (S.cameraName) return;
  now.cameraName = 'ceiling';
  S.doc.cameras ||= {};
  S.doc.cameras.ceiling = { frame: frameSize(), marks: [] };
}

// toLayout goes to a layout, and to the camera that sees it.
export function toLayout(name) {
  const l = S.doc.layouts?.[name];
  if (!l) return;
  if (S.layoutName !== name) now.piece = null;
  now.layoutName = name;
  toCamera(l.camera);
}
export function toCamera(name) {
  if (!name || !S.doc.cameras?.[name] || S.cameraName === name) return;
  now.cameraName = name;
  now.mark = -1;
}

// What can be undone: the content, where the reader is in it, and what is half drawn.
const parts = ['doc', 'cameraName', 'layoutName', 'robotName', 'mark', 'piece', 'drawing', 'tapeEnds'];
const snapshot = () => JSON.stringify(parts.map(p => S[p]));
const mostPast = 300;

// remember keeps the draft as it is, to come back to.
function remember() {
  now.past.push(snapshot());
  if (now.past.length > mostPast) now.past.shift();
  now.future = [];
}

// change does something to the content that can be undone; still: the forms show it
// already and stay as they are.
export function change(what, still = false) {
  remember();
  what();
  changed(still);
}
export const changed = (still = false) => tell({ forms: !still, left: leaving, content: true });

let leaving = false;
// whenLeft runs what a field does as it is left.
export function whenLeft(work) { leaving = true; try { work(); } finally { leaving = false; } }

function step(from, to, words, none) {
  const state = from.pop();
  if (!state) { say(none); return; }
  to.push(snapshot());
  JSON.parse(state).forEach((v, i) => { now[parts[i]] = v; });
  changed();
  say(words);
}
export const undo = () => step(now.past, now.future, 'Undone.', 'There is nothing to undo.');
export const redo = () => step(now.future, now.past, 'Done again.', 'There is nothing to do again.');

// open takes a set-up as it was read, and what an earlier visit left unsaved.
export function open(doc, sha, kept) {
  const first = o => Object.keys(o || {})[0] || '';
  const take = d => Object.assign(now, { doc: d, cameraName: first(d.cameras), layoutName: first(d.layouts), robotName: first(d.robots) });
  take(doc);
  Object.assign(now, { sha, saved: JSON.stringify(doc) });
  const left = kept && kept.sha === sha && (kept.drawing || JSON.stringify(kept.doc) !== S.saved);
  if (left) {
    now.past.push(snapshot());
    take(kept.doc);
    // An outline that was left half drawn can be undone corner by corner.
    const d = kept.drawing;
    if (d) for (let i = 0; i < d.points.length; i++) { now.drawing = { ...d, points: d.points.slice(0, i) }; now.past.push(snapshot()); }
    now.drawing = d;
  }
  changed();
  return Boolean(left);
}

// whole is the content without what is not finished: a mark without its place, an
// empty group.
export function whole() {
  const doc = structuredClone(S.doc);
  for (const c of Object.values(doc.cameras || {})) if (c && Array.isArray(c.marks)) c.marks = c.marks.filter(m => numbers(m.floor) && numbers(m.pixel));
  for (const l of Object.values(doc.layouts || {})) for (const g of groups) if (l && l[g] && Object.keys(l[g]).length === 0) delete l[g];
  for (const g of ['cameras', 'layouts', 'robots']) if (doc[g] && Object.keys(doc[g]).length === 0) delete doc[g];
  return doc;
}

// solved returns the camera as the program solved it.
export const solved = () => S.tried?.cameras?.[S.cameraName];
// residual of mark i of the content, which counts the unfinished ones too.
export function residual(i) {
  const marks = cameraDoc()?.marks || [];
  if (!numbers(marks[i]?.floor) || !numbers(marks[i]?.pixel)) return undefined;
  const n = marks.slice(0, i).filter(m => numbers(m.floor) && numbers(m.pixel)).length;
  return solved()?.judged?.marks?.[n];
}
// misfits lists what is said of marks that the others contradict, each once.
export const misfits = names => [...new Set(names.flatMap(n => (S.tried?.cameras?.[n]?.judged?.marks || []).map(m => m.left_out_because).filter(Boolean)))];

// drawingHere tells whether the outline on its way belongs to the tab that is open.
export const drawingHere = () => Boolean(S.drawing) && (S.drawing.group === 'room' ? S.tab === 'room' : S.tab === 'things');
// drawingAt is the height that corners are pointed at, m.
export const drawingAt = () => (drawingHere() && S.drawing.top ? S.drawing.height || 0 : 0);

// outlines lists what has one in the layout.
export function outlines() {
  const l = layoutDoc(), out = [];
  if (l?.room) out.push({ group: 'room', name: '', points: l.room.filter(numbers) });
  for (const g of groups) for (const [name, p] of Object.entries(l?.[g] || {})) out.push({ group: g, name, points: (p.outline || []).filter(numbers), height: p.height || 0 });
  return out;
}

// snapTo draws a floor point to what it was most likely meant to be: a corner
// that is there, or a right angle with the sides before; then a typed length.
export function snapTo(f, outline, self) {
  const corners = S.corners ? [...outlines(), ...(S.drawing ? [S.drawing] : [])].flatMap(s => s.points).filter(q => q !== self && (!outline || !outline.includes(q))) : [];
  return aim(f, outline || [], { corners, square: S.square, length: outline ? S.side : null, reach: 0.06 }).map(v => round(v, 3));
}

// begin starts an outline; cancel leaves it. Undo brings back what was left.
export function begin(drawing) { change(() => { now.drawing = drawing; }); }
export function cancel() {
  if (!S.drawing) return;
  const n = S.drawing.points.length;
  change(() => { now.drawing = null; });
  if (n) say('The outline was cancelled; Undo brings it back.');
}

// corner sets the next corner of the outline on its way, pointed at floor point f.
export function corner(f) {
  const d = S.drawing;
  if (!f) { say(S.view === 'picture' && !solved()?.camera ? 'First set the marks of the camera, or draw on the plan.' : 'That place does not show the floor.'); return; }
  const first = d.points[0], q = snapTo(f, d.points);
  if (d.points.length >= 3 && Math.hypot(q[0] - first[0], q[1] - first[1]) < 1e-6) { finish(); return; }
  addCorner(q);
  now.side = null;
}

// addCorner adds a corner that is known in metres.
export function addCorner(q) {
  change(() => { S.drawing.points.push(q); });
  say(`Corner ${S.drawing.points.length} at ${q[0]}, ${q[1]} m.`);
}

// back takes back the last corner, or else the last change.
export function back() { if (drawingHere() && S.drawing.points.length) change(() => { S.drawing.points.pop(); }); else undo(); }

// finish ends an outline.
export function finish() {
  const d = S.drawing;
  if (!d) return;
  if (d.points.length < 3) { say(`An outline needs three corners or more; this one has ${d.points.length}.`); return; }
  change(() => {
    const l = layoutDoc();
    if (d.group === 'room') l.room = d.points;
    else { l[d.group] ||= {}; l[d.group][d.name] = { ...(l[d.group][d.name] || d.made), outline: d.points }; now.piece = { group: d.group, name: d.name }; }
    now.drawing = null;
  });
}
