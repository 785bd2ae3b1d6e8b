// Room and camera: the set-up by pointing and typing. What is made here is the
// content of lab.yaml, kept in `doc`; the program judges it after every change.
import { Board } from './board.js';
import { shown } from './corners.js';
import { $, attempt, make, say, send } from './common.js';
import { tabs } from './panels.js';
import { aim } from './snap.js';
import { steps } from './steps.js';

export const S = {
  doc: {}, sha: '', tried: null, saved: '{}', past: [], future: [],
  view: 'picture', image: null, size: [1280, 720], file: '', t: 0, empty: false,
  tab: 'marks', cameraName: '', layoutName: '', robotName: '', mark: -1,
  drawing: null,  // {group, name, points, top, height}: an outline on its way
  tapeEnds: [],   // pixels or floor points of the distance being measured
  piece: null,    // {group, name} of the chosen thing; group 'room' for the room
  side: null, square: true, corners: true,
};
export const groups = ['obstacles', 'overhead', 'areas', 'test_objects'];
export const colours = { room: '#ffffff', obstacles: '#ff9f40', overhead: '#7cc7ff', areas: '#a5e65a', test_objects: '#ff7ac6' };

export const cameraDoc = () => S.doc.cameras?.[S.cameraName];
export const layoutDoc = () => S.doc.layouts?.[S.layoutName];
export const frameSize = () => (S.image ? [...S.size] : [1280, 720]);
// toLayout goes to a layout, and to the camera that sees it.
export function toLayout(name) {
  const l = S.doc.layouts?.[name];
  if (!l) return;
  if (S.layoutName !== name) S.piece = null;
  S.layoutName = name;
  toCamera(l.camera);
}
export function toCamera(name) {
  if (!name || !S.doc.cameras?.[name] || S.cameraName === name) return;
  S.cameraName = name;
  S.mark = -1;
}
const numbers = p => Array.isArray(p) && p.length >= 2 && p.every(Number.isFinite);

// What can be undone: the content, where the reader is in it, and what is half drawn.
const snapshot = () => JSON.stringify([S.doc, S.cameraName, S.layoutName, S.robotName, S.mark, S.piece, S.drawing, S.tapeEnds]);
const mostPast = 300;

// remember keeps the state as it is, to come back to.
export function remember() {
  S.past.push(snapshot());
  if (S.past.length > mostPast) S.past.shift();
  S.future = [];
}

// change does something to the doc that can be undone; still: the forms show it
// already and stay as they are.
export function change(what, still = false) {
  remember();
  what();
  after(still);
}

function go1(from, to, words, none) {
  const state = from.pop();
  if (!state) { say(none); return; }
  to.push(snapshot());
  [S.doc, S.cameraName, S.layoutName, S.robotName, S.mark, S.piece, S.drawing, S.tapeEnds] = JSON.parse(state);
  after();
  say(words);
}
export const undo = () => go1(S.past, S.future, 'Undone.', 'There is nothing to undo.');
export const redo = () => go1(S.future, S.past, 'Done again.', 'There is nothing to do again.');

// drawingHere tells whether the outline on its way belongs to the tab that is open.
export const drawingHere = () => Boolean(S.drawing) && (S.drawing.group === 'room' ? S.tab === 'room' : S.tab === 'things');

// The forms are built anew after a change. One that a field makes as it is left
// comes before the tabulator or the mouse has reached what is next: then the
// building waits, or the key or click would meet what is no longer there; nor does
// it come between the pressing of a key and its letter.
let leaving = false, pressed = false, wanted = false;
export function whenLeft(work) { leaving = true; try { work(); } finally { leaving = false; } }
const rebuild = () => setTimeout(() => { if (wanted && !pressed) { wanted = false; panel(); } });
addEventListener('pointerdown', () => { pressed = true; }, true);
addEventListener('keydown', () => { pressed = true; }, true);
for (const kind of ['pointerup', 'pointercancel', 'keyup', 'blur']) addEventListener(kind, e => { if (kind !== 'blur' || e.target === window) { pressed = false; rebuild(); } }, true);

// begun takes up an outline that was left half drawn: it can be undone corner by corner.
function begun(d) {
  if (!d) return;
  for (let i = 0; i < d.points.length; i++) { S.drawing = { ...d, points: d.points.slice(0, i) }; S.past.push(snapshot()); }
  S.drawing = d;
}

let waiting;
export function after(still = false) {
  $('undo').disabled = S.past.length === 0;
  $('redo').disabled = S.future.length === 0;
  const clean = JSON.stringify(S.doc) === S.saved;
  $('unsaved').hidden = clean;
  steps(S, solved, clean);
  if (still) $('how').textContent = how(); else if (leaving) { wanted = true; rebuild(); } else panel();
  board.draw();
  clearTimeout(waiting);
  waiting = setTimeout(judge, 200);
  try { localStorage.setItem(key(), JSON.stringify({ sha: S.sha, doc: S.doc, drawing: S.drawing })); } catch { /* kept in memory alone */ }
}
const key = () => `set-up of ${document.querySelector('.lab strong').textContent}`;

// whole leaves out what is not finished: a mark without its place, an empty group.
export function whole() {
  const doc = structuredClone(S.doc);
  for (const c of Object.values(doc.cameras || {})) if (c && Array.isArray(c.marks)) c.marks = c.marks.filter(m => numbers(m.floor) && numbers(m.pixel));
  for (const l of Object.values(doc.layouts || {})) for (const g of groups) if (l && l[g] && Object.keys(l[g]).length === 0) delete l[g];
  for (const g of ['cameras', 'layouts', 'robots']) if (doc[g] && Object.keys(doc[g]).length === 0) delete doc[g];
  return doc;
}

let asked = 0;
async function judge() {
  const mine = ++asked;
  try {
    const t = await send('POST', '/setup/try', { doc: whole() });
    if (mine !== asked) return;
    S.tried = t;
    told(t);
  } catch (e) {
    if (mine === asked) $('problems').replaceChildren(make('li', {}, e.message));
  }
  // Not the whole panel: somebody may be typing in it.
  tabs[S.tab].judged?.();
  board.draw();
}

// solved returns the camera as the program solved it.
export const solved = () => S.tried?.cameras?.[S.cameraName];
// residual of mark i of the doc, which counts the unfinished ones too.
export function residual(i) {
  const marks = cameraDoc()?.marks || [];
  if (!numbers(marks[i]?.floor) || !numbers(marks[i]?.pixel)) return undefined;
  const n = marks.slice(0, i).filter(m => numbers(m.floor) && numbers(m.pixel)).length;
  return solved()?.judged?.marks?.[n];
}

// misfits lists what is said of marks that the others contradict, each once.
const misfits = names => [...new Set(names.flatMap(n => (S.tried?.cameras?.[n]?.judged?.marks || []).map(m => m.left_out_because).filter(Boolean)))];

const mm = v => (v === null || v === undefined ? 'not known' : `${(1000 * v).toFixed(1)} mm`);
function told(t) {
  $('problems').replaceChildren(...t.problems.map(p => make('li', {}, `${p.line ? `${p.file}:${p.line}: ` : ''}${p.message}`, p.excerpt ? make('pre', {}, p.excerpt) : null)));
  const out = [];
  const j = solved()?.judged;
  if (solved()?.problem && !t.problems.length) out.push(make('p', { class: 'wrong' }, solved().problem));
  if (j) {
    const fit = j.mark_rms_px === null ? 'not known' : `${j.mark_rms_px.toFixed(2)} px, ${mm(j.mark_rms_m)}`;
    out.push(make('p', {}, `Camera ${S.cameraName}: fit of its marks ${fit}; each mark left out ${mm(j.leave_one_out_m)} (RMS). Lens ${j.lens_height_m === null ? 'height not known' : `${j.lens_height_m.toFixed(3)} m above the floor`}.`));
    const off = misfits([S.cameraName]);
    for (const w of j.warnings || []) out.push(make('p', { class: off.some(o => w.endsWith(o)) ? 'wrong' : 'why' }, w));
  }
  for (const l of t.judged?.layouts || []) {
    const px = l.pixel_m?.[0] === null ? '' : ` Pixel size on the floor ${mm(l.pixel_m[0])} to ${mm(l.pixel_m[2])}; standard uncertainty of a position ${mm(l.floor_sigma_m)}.`;
    out.push(make('p', {}, `Layout ${l.layout}: ${l.open_m2?.toFixed(2)} m² of open floor, ${l.unseen_m2 === null ? 'unseen floor not known' : `${Math.abs(l.unseen_m2).toFixed(2)} m² of it not seen`}.${px}`));
    for (const w of l.warnings || []) out.push(make('p', { class: 'why' }, w));
  }
  if (!t.problems.length && t.judged) out.push(make('p', {}, 'No problems found in the set-up.'));
  $('judged').replaceChildren(...out);
  // Spoken once a change, not with every letter that is typed.
  const n = t.problems.length, verdict = n ? `Check: ${n === 1 ? '1 problem' : `${n} problems`} to fix. ${t.problems[0].message}` : t.judged ? 'Check: no problems found.' : '';
  if ($('verdict').textContent !== verdict) $('verdict').textContent = verdict;
  $('yaml').textContent = t.text;
  steps(S, solved, JSON.stringify(S.doc) === S.saved);
  $('bad-count').textContent = n === 1 ? '1 problem to fix' : `${n} problems to fix`;
  $('bad-count').hidden = n === 0;
}

// panel builds the forms of the chosen tab; what had the focus keeps it.
export function panel() {
  const had = document.activeElement?.dataset?.key;
  // What was typed and is not taken over yet stays where it is.
  const typed = [...document.querySelectorAll('#panel input[type=text], #panel select[data-key^="new-"]')].filter(e => e.value !== (e.defaultValue ?? '')).map(e => [e.dataset.key, e.value, e.defaultValue ?? '']);
  const at = document.activeElement?.selectionStart, to = document.activeElement?.selectionEnd;
  $('tabs').replaceChildren(...Object.entries(tabs).map(([id, t]) => make('button', {
    type: 'button', role: 'tab', id: `tab-${id}`, 'aria-selected': String(S.tab === id), 'aria-controls': 'panel', 'data-key': `tab-${id}`, tabindex: S.tab === id ? 0 : -1,
    onclick: () => choose(id),
    onkeydown: e => {
      const ids = Object.keys(tabs), by = { ArrowRight: 1, ArrowLeft: -1 }[e.key];
      if (by) { choose(ids[(ids.indexOf(S.tab) + by + ids.length) % ids.length]); $(`tab-${S.tab}`).focus(); }
    },
  }, t.title)));
  $('panel').setAttribute('aria-labelledby', `tab-${S.tab}`);
  $('panel').replaceChildren(...tabs[S.tab].build());
  $('how').textContent = how();
  for (const [k, v, was] of typed) {
    const e = document.querySelector(`#panel [data-key="${CSS.escape(k)}"]`);
    if (e && (e.defaultValue ?? '') === was) e.value = v;
  }
  if (had) {
    const e = document.querySelector(`[data-key="${CSS.escape(had)}"]`);
    e?.focus();
    if (at !== undefined && at !== null && e?.setSelectionRange && e.type === 'text') e.setSelectionRange(at, to);
    if (!e) $('panel').focus({ preventScroll: true }); // what was pressed is gone; the keys go on from here
  }
}

export function choose(id) { S.tab = id; S.dock = false; panel(); board.draw(); }

function how() {
  if (drawingHere()) return `Set the corners of ${S.drawing.name} one after another. Enter or “Done” finishes the outline, Escape cancels it, Backspace removes the last corner.`;
  return tabs[S.tab].how + ' Zoom with the wheel, + or −; drag to move the view.';
}

// What the board shows and what pointing does.
const state = {
  get view() { return S.view; }, get image() { return S.image; }, get size() { return S.image ? S.size : cameraDoc()?.frame || S.size; },
  get camera() { return solved()?.camera || undefined; },
  shapes() {
    const l = layoutDoc(), out = [];
    if (l?.room) out.push({ group: 'room', name: '', points: l.room.filter(numbers), closed: true, colour: colours.room, chosen: S.tab === 'room' && !drawingHere() });
    for (const g of groups) for (const [name, p] of Object.entries(l?.[g] || {})) {
      out.push({ group: g, name, points: (p.outline || []).filter(numbers), closed: true, colour: colours[g], chosen: S.tab === 'things' && S.piece?.name === name, dash: g === 'overhead', height: p.height || 0, solid: true });
    }
    if (S.drawing) out.push({ ...S.drawing, colour: colours[S.drawing.group], closed: false, chosen: true });
    return out;
  },
  marks: () => (cameraDoc()?.marks || []).map((m, i) => ({ ...m, pixel: numbers(m.pixel) ? m.pixel : null, floor: numbers(m.floor) ? m.floor : null, chosen: S.tab === 'marks' && i === S.mark })),
  tape: () => (S.tab === 'distances' ? S.tapeEnds : []),
  tapes: () => (cameraDoc()?.tapes || []).filter(t => t.pixels?.length === 2),
  dock: () => (layoutDoc()?.dock?.at ? { ...layoutDoc().dock, radius: (plainOf(S.doc.robots?.[S.robotName]?.diameter) || 0.34) / 2 } : null),
  loupe: () => S.tab === 'marks',
  drawing: drawingHere,
  found: () => (S.tab === 'marks' ? { points: shown(), ends: [shown()[0], shown()[1]] } : { points: [] }),
  height: () => (drawingHere() && S.drawing.top ? S.drawing.height || 0 : 0),
  chosenPixel: () => (S.tab === 'marks' && numbers(cameraDoc()?.marks?.[S.mark]?.pixel) ? cameraDoc().marks[S.mark].pixel : undefined),
  hover(spoken) { const t = board.tell(); $('pointer').textContent = t; if (spoken) say(t); },
  point(p) { tabs[S.tab].point?.(p, board); },
  finish: () => finish(),
  cancel: () => cancel(),
  last: () => (drawingHere() ? S.drawing.points.at(-1) : undefined),
  undo() { if (drawingHere() && S.drawing.points.length) { remember(); S.drawing.points.pop(); after(); } else undo(); },
  // grab takes hold of a corner or mark near p.
  grab(p) {
    const near = 9 / board.scale, close = q => q && Math.hypot(q[0] - p[0], q[1] - p[1]) < near;
    if (drawingHere()) return null;
    if (S.tab === 'marks' && S.view === 'picture') {
      const i = state.marks().findIndex(m => close(m.pixel));
      if (i >= 0) { S.mark = i; panel(); return { mark: i, from: p, was: [...cameraDoc().marks[i].pixel] }; }
    }
    if (S.tab === 'room' || S.tab === 'things') {
      for (const s of state.shapes()) {
        if (!s.chosen) continue;
        const i = s.points.findIndex(f => close(board.ofFloor(f)));
        if (i >= 0) return { shape: s, i, was: [...s.points[i]] };
      }
    }
    return null;
  },
  move(d, p) {
    if (d.mark !== undefined) cameraDoc().marks[d.mark].pixel = [d.was[0] + p[0] - d.from[0], d.was[1] + p[1] - d.from[1]].map(v => round(v, 2));
    else { const f = board.floorAt(p); if (f) Object.assign(d.shape.points[d.i], snapTo(f, null, d.shape.points[d.i])); }
  },
  drop(d, moved) {
    const now = d.mark !== undefined ? cameraDoc().marks[d.mark].pixel : [...d.shape.points[d.i]];
    const put = v => { if (d.mark !== undefined) cameraDoc().marks[d.mark].pixel = v; else Object.assign(d.shape.points[d.i], v); };
    put(d.was);
    if (moved) change(() => put(now)); else panel();
  },
};
const plainOf = v => (v && typeof v === 'object' ? v.value : v);
export const round = (v, n) => Number(v.toFixed(n));

// snapTo draws a floor point to what it was most likely meant to be: a corner
// that is there, or a right angle with the sides before; then a typed length.
export function snapTo(f, outline, self) {
  const corners = S.corners ? state.shapes().flatMap(s => s.points).filter(q => q !== self && (!outline || !outline.includes(q))) : [];
  return aim(f, outline || [], { corners, square: S.square, length: outline ? S.side : null, reach: 0.06 }).map(v => round(v, 3));
}

// corner sets the next corner of the outline on its way.
export function corner(p) {
  const d = S.drawing;
  const f = board.floorAt(p, d.top ? d.height || 0 : 0);
  if (!f) { say(S.view === 'picture' && !solved()?.camera ? 'First set the marks of the camera, or draw on the plan.' : 'That place does not show the floor.'); return; }
  const first = d.points[0], q = snapTo(f, d.points);
  if (d.points.length >= 3 && Math.hypot(q[0] - first[0], q[1] - first[1]) < 1e-6) { finish(); return; }
  addCorner(q);
  S.side = null;
}

// addCorner adds a corner that is known in metres.
export function addCorner(q) {
  remember();
  S.drawing.points.push(q);
  say(`Corner ${S.drawing.points.length} at ${q[0]}, ${q[1]} m.`);
  after();
}

// begin starts an outline; cancel leaves it. Undo brings back what was left.
export function begin(drawing) { remember(); S.drawing = drawing; after(); }
export function cancel() {
  if (!S.drawing) return;
  const n = S.drawing.points.length;
  remember();
  S.drawing = null;
  after();
  if (n) say('The outline was cancelled; Undo brings it back.');
}

// finish ends an outline.
export function finish() {
  const d = S.drawing;
  if (!d) return;
  if (d.points.length < 3) { say(`An outline needs three corners or more; this one has ${d.points.length}.`); return; }
  change(() => {
    const l = layoutDoc();
    if (d.group === 'room') l.room = d.points;
    else { l[d.group] ||= {}; l[d.group][d.name] = { ...(l[d.group][d.name] || d.made), outline: d.points }; S.piece = { group: d.group, name: d.name }; }
    S.drawing = null;
  });
}

export const board = new Board(state);
window.swathe = { S, board }; // for tests and for the curious

// Recordings and frames.
async function footage() {
  const list = await send('GET', '/recordings');
  $('footage').replaceChildren(make('option', { value: '' }, list.length ? 'choose one' : 'none in the lab yet'), ...list.map(f => make('option', { value: f }, f)));
  S.file ||= list[0] || '';
  $('footage').value = S.file;
  if (S.file) { toLayout(S.file.split('/')[0]); panel(); frame(); }
}

let fetching = 0;
function frame() {
  if (!S.file) return;
  const mine = ++fetching;
  $('time').value = S.t.toFixed(2);
  $('empty').setAttribute('aria-pressed', String(S.empty));
  if (S.empty) say('Calculating the empty room from frames of the whole recording.');
  const img = new Image();
  img.onload = () => {
    if (mine !== fetching) return;
    S.image = img;
    S.size = [img.naturalWidth, img.naturalHeight];
    board.draw();
    panel();
    if (S.empty) say('The empty room is shown.');
  };
  img.onerror = async () => {
    if (mine === fetching) await attempt(() => send('GET', img.src));
  };
  img.src = `/frame?file=${encodeURIComponent(S.file)}&${S.empty ? 'empty' : `t=${S.t.toFixed(3)}`}`;
}
function go(t) { S.t = Math.max(0, t); S.empty = false; frame(); }
$('footage').addEventListener('change', e => { S.file = e.target.value; S.t = 0; S.empty = false; toLayout(S.file.split('/')[0]); panel(); frame(); });
$('time').addEventListener('change', e => go(Number(e.target.value) || 0));
$('back').addEventListener('click', () => go(S.t - 1));
$('forth').addEventListener('click', () => go(S.t + 1));
$('empty').addEventListener('click', () => { S.empty = !S.empty; frame(); });
$('larger').addEventListener('click', () => board.enlarge(1.5));
$('smaller').addEventListener('click', () => board.enlarge(1 / 1.5));
$('undo').addEventListener('click', undo);
$('redo').addEventListener('click', redo);
addEventListener('keydown', e => {
  if (e.key === 'Escape' && !e.defaultPrevented && drawingHere()) { e.preventDefault(); cancel(); return; }
  // In a field that is being typed in, the browser undoes its letters.
  if (!(e.ctrlKey || e.metaKey) || /^(input|textarea)$/i.test(e.target.tagName) && e.target.value !== e.target.defaultValue) return;
  const key = e.key.toLowerCase();
  if (key === 'z' && !e.shiftKey) { e.preventDefault(); undo(); } else if (key === 'z' || key === 'y') { e.preventDefault(); redo(); }
});
for (const v of ['picture', 'plan']) $(`show-${v}`).addEventListener('click', () => {
  S.view = v;
  if (S.tapeEnds.length < 2) S.tapeEnds = [];
  board.zoom = 1;
  for (const w of ['picture', 'plan']) $(`show-${w}`).setAttribute('aria-pressed', String(w === v));
  board.draw();
  panel();
});

// The loupe: a click or the arrow keys set the chosen mark more finely.
const nudge = (x, y) => {
  const m = cameraDoc()?.marks?.[S.mark];
  if (S.tab !== 'marks' || !numbers(m?.pixel)) return;
  change(() => { m.pixel = [round(m.pixel[0] + x, 2), round(m.pixel[1] + y, 2)]; });
  say(`Mark ${S.mark + 1} at pixel ${m.pixel[0]}, ${m.pixel[1]}.`);
};
$('loupe').addEventListener('click', e => {
  const b = e.currentTarget.getBoundingClientRect();
  nudge((e.clientX - b.left - b.width / 2) / 8, (e.clientY - b.top - b.height / 2) / 8);
});
$('loupe').addEventListener('keydown', e => {
  const step = e.shiftKey ? 1 : 0.1, by = { ArrowLeft: [-step, 0], ArrowRight: [step, 0], ArrowUp: [0, -step], ArrowDown: [0, step] }[e.key];
  if (by) { e.preventDefault(); nudge(...by); }
});

$('text').addEventListener('click', () => { $('yaml').hidden = !$('yaml').hidden; });
$('save').addEventListener('click', () => attempt(async () => {
  const t = await send('PUT', '/setup/doc', { doc: whole(), sha256: S.sha });
  S.tried = t;
  told(t);
  if (!t.saved) { say('Not saved. Fix the problems listed first.'); $('problems').scrollIntoView({ block: 'center' }); return; }
  S.sha = t.sha256;
  S.saved = JSON.stringify(S.doc);
  $('unsaved').hidden = true;
  steps(S, solved, true);
  localStorage.removeItem(key());
  const off = misfits(Object.keys(t.cameras || {}));
  say(off.length ? `lab.yaml is saved, but check its marks: ${off.join('. ')}.` : 'lab.yaml is saved and used from now on.');
}));

attempt(async () => {
  const s = await send('GET', '/setup/doc');
  if (s.doc === null) throw new Error(s.problems.map(p => p.message).join(' '));
  S.sha = s.sha256;
  S.doc = s.doc;
  S.saved = JSON.stringify(S.doc);
  const first = o => Object.keys(o || {})[0] || '';
  const places = () => { S.cameraName = first(S.doc.cameras); S.layoutName = first(S.doc.layouts); S.robotName = first(S.doc.robots); };
  places();
  const kept = JSON.parse(localStorage.getItem(key()) || 'null');
  if (kept && kept.sha === S.sha && (kept.drawing || JSON.stringify(kept.doc) !== S.saved)) { S.past.push(snapshot()); S.doc = kept.doc; places(); begun(kept.drawing); say('Your unsaved changes were restored; Undo discards them.'); }
  after();
  await footage();
});
