// Room and camera: the set-up by pointing and typing. What is made here is the
// content of lab.yaml, kept in the draft; the program judges it after every change.
import { Board } from './board.js';
import { shown } from './corners.js';
import { $, attempt, make, say, send } from './common.js';
import { S, back, cameraDoc, cancel, change, clean, drawingAt, drawingHere, finish, layoutDoc, misfits, numbers, onDraft, open, outlines, pick, place, redo, round, snapTo, solved, toLayout, undo, whole } from './draft.js';
import { tabs } from './panels.js';
import { steps } from './steps.js';

const colours = { room: '#ffffff', obstacles: '#ff9f40', overhead: '#7cc7ff', areas: '#a5e65a', test_objects: '#ff7ac6' };

// The forms are built anew after a change. One that a field makes as it is left
// comes before the tabulator or the mouse has reached what is next: then the
// building waits, or the key or click would meet what is no longer there; nor does
// it come between the pressing of a key and its letter.
let pressed = false, wanted = false;
const rebuild = () => setTimeout(() => { if (wanted && !pressed) { wanted = false; panel(); } });
addEventListener('pointerdown', () => { pressed = true; }, true);
addEventListener('keydown', () => { pressed = true; }, true);
for (const kind of ['pointerup', 'pointercancel', 'keyup', 'blur']) addEventListener(kind, e => { if (kind !== 'blur' || e.target === window) { pressed = false; rebuild(); } }, true);

let waiting;
onDraft(({ forms, left, content }) => {
  if (!forms) $('how').textContent = how(); else if (left) { wanted = true; rebuild(); } else panel();
  board.draw();
  if (!content) return;
  $('undo').disabled = S.past.length === 0;
  $('redo').disabled = S.future.length === 0;
  $('unsaved').hidden = clean();
  steps(S, solved, clean());
  clearTimeout(waiting);
  waiting = setTimeout(judge, 200);
  try { localStorage.setItem(key(), JSON.stringify({ sha: S.sha, doc: S.doc, drawing: S.drawing })); } catch { /* kept in memory alone */ }
});
const key = () => `set-up of ${document.querySelector('.lab strong').textContent}`;

let asked = 0;
async function judge() {
  const mine = ++asked;
  try {
    const t = await send('POST', '/setup/try', { doc: whole() });
    if (mine !== asked) return;
    place({ tried: t });
    told(t);
  } catch (e) {
    if (mine === asked) $('problems').replaceChildren(make('li', {}, e.message));
  }
  // Not the whole panel: somebody may be typing in it.
  tabs[S.tab].judged?.();
  board.draw();
}

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
  steps(S, solved, clean());
  $('bad-count').textContent = n === 1 ? '1 problem to fix' : `${n} problems to fix`;
  $('bad-count').hidden = n === 0;
}

// tab shows whether a tab is chosen. It stays the button that it is: one that is
// replaced while it is pressed never hears that it was.
function tab(id) {
  if (!$(`tab-${id}`)) $('tabs').append(make('button', {
    type: 'button', role: 'tab', id: `tab-${id}`, 'aria-controls': 'panel', 'data-key': `tab-${id}`,
    onclick: () => choose(id),
    onkeydown: e => {
      const ids = Object.keys(tabs), by = { ArrowRight: 1, ArrowLeft: -1 }[e.key];
      if (by) { choose(ids[(ids.indexOf(S.tab) + by + ids.length) % ids.length]); $(`tab-${S.tab}`).focus(); }
    },
  }, tabs[id].title));
  $(`tab-${id}`).setAttribute('aria-selected', String(S.tab === id));
  $(`tab-${id}`).tabIndex = S.tab === id ? 0 : -1;
}

// panel builds the forms of the chosen tab; what had the focus keeps it.
function panel() {
  const had = document.activeElement?.dataset?.key;
  // What was typed and is not taken over yet stays where it is.
  const typed = [...document.querySelectorAll('#panel input[type=text], #panel select[data-key^="new-"]')].filter(e => e.value !== (e.defaultValue ?? '')).map(e => [e.dataset.key, e.value, e.defaultValue ?? '']);
  const at = document.activeElement?.selectionStart, to = document.activeElement?.selectionEnd;
  for (const id in tabs) tab(id);
  $('panel').setAttribute('aria-labelledby', `tab-${S.tab}`);
  $('panel').replaceChildren(...tabs[S.tab].build(board));
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

function choose(id) { pick({ tab: id, dock: false }); }

function how() {
  if (drawingHere()) return `Set the corners of ${S.drawing.name} one after another. Enter or “Done” finishes the outline, Escape cancels it, Backspace removes the last corner.`;
  return tabs[S.tab].how + ' Zoom with the wheel, + or −; drag to move the view.';
}

// What the board shows and what pointing does.
const state = {
  get view() { return S.view; }, get image() { return S.image; }, get size() { return S.image ? S.size : cameraDoc()?.frame || S.size; },
  get camera() { return solved()?.camera || undefined; },
  shapes() {
    const out = outlines().map(s => ({ ...s, closed: true, colour: colours[s.group], dash: s.group === 'overhead', solid: s.group !== 'room',
      chosen: s.group === 'room' ? S.tab === 'room' && !drawingHere() : S.tab === 'things' && S.piece?.name === s.name }));
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
  height: drawingAt,
  chosenPixel: () => (S.tab === 'marks' && numbers(cameraDoc()?.marks?.[S.mark]?.pixel) ? cameraDoc().marks[S.mark].pixel : undefined),
  hover(spoken) { const t = board.tell(); $('pointer').textContent = t; if (spoken) say(t); },
  point(p) { tabs[S.tab].point?.(p, board); },
  finish: () => finish(),
  cancel: () => cancel(),
  last: () => (drawingHere() ? S.drawing.points.at(-1) : undefined),
  undo: back,
  // grab takes hold of a corner or mark near p.
  grab(p) {
    const near = 9 / board.scale, close = q => q && Math.hypot(q[0] - p[0], q[1] - p[1]) < near;
    if (drawingHere()) return null;
    if (S.tab === 'marks' && S.view === 'picture') {
      const i = state.marks().findIndex(m => close(m.pixel));
      if (i >= 0) { pick({ mark: i }); return { mark: i, from: p, was: [...cameraDoc().marks[i].pixel] }; }
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
    if (moved) change(() => put(now)); else pick({});
  },
};
const plainOf = v => (v && typeof v === 'object' ? v.value : v);
const board = new Board(state);
window.swathe = { S, board }; // for tests and for the curious

// Recordings and frames.
async function footage() {
  const list = await send('GET', '/recordings');
  $('footage').replaceChildren(make('option', { value: '' }, list.length ? 'choose one' : 'none in the lab yet'), ...list.map(f => make('option', { value: f }, f)));
  if (!S.file) place({ file: list[0] || '' });
  $('footage').value = S.file;
  if (S.file) { toLayout(S.file.split('/')[0]); pick({}); frame(); }
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
    pick({ image: img, size: [img.naturalWidth, img.naturalHeight] });
    if (S.empty) say('The empty room is shown.');
  };
  img.onerror = async () => {
    if (mine === fetching) await attempt(() => send('GET', img.src));
  };
  img.src = `/frame?file=${encodeURIComponent(S.file)}&${S.empty ? 'empty' : `t=${S.t.toFixed(3)}`}`;
}
function go(t) { place({ t: Math.max(0, t), empty: false }); frame(); }
$('footage').addEventListener('change', e => { place({ file: e.target.value, t: 0, empty: false }); toLayout(S.file.split('/')[0]); pick({}); frame(); });
$('time').addEventListener('change', e => go(Number(e.target.value) || 0));
$('back').addEventListener('click', () => go(S.t - 1));
$('forth').addEventListener('click', () => go(S.t + 1));
$('empty').addEventListener('click', () => { place({ empty: !S.empty }); frame(); });
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
  board.zoom = 1;
  for (const w of ['picture', 'plan']) $(`show-${w}`).setAttribute('aria-pressed', String(w === v));
  pick({ view: v, tapeEnds: S.tapeEnds.length < 2 ? [] : S.tapeEnds });
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
  place({ tried: t });
  told(t);
  if (!t.saved) { say('Not saved. Fix the problems listed first.'); $('problems').scrollIntoView({ block: 'center' }); return; }
  place({ sha: t.sha256, saved: JSON.stringify(S.doc) });
  $('unsaved').hidden = true;
  steps(S, solved, true);
  localStorage.removeItem(key());
  const off = misfits(Object.keys(t.cameras || {}));
  say(off.length ? `lab.yaml is saved, but check its marks: ${off.join('. ')}.` : 'lab.yaml is saved and used from now on.');
}));

attempt(async () => {
  const s = await send('GET', '/setup/doc');
  if (s.doc === null) throw new Error(s.problems.map(p => p.message).join(' '));
  if (open(s.doc, s.sha256, JSON.parse(localStorage.getItem(key()) || 'null'))) say('Your unsaved changes were restored; Undo discards them.');
  await footage();
});
