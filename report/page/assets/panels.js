// The forms of the set-up, one panel a tab.
import { make, say } from './common.js';
import * as chess from './corners.js';
import { S, addCorner, begin, cameraDoc, cancel, change, changed, corner, drawingAt, drawingHere, finish, frameSize, groups, layoutDoc, newCamera, pick, place, residual, round, solved, toCamera, toLayout, whenLeft } from './draft.js';

// number reads what was typed; a comma serves as the decimal sign too.
function number(text) {
  const t = text.trim().replace(',', '.');
  if (t === '') return undefined;
  const v = Number(t);
  return Number.isFinite(v) ? v : NaN;
}

// wrong holds, by field, what is wrong with what was typed there.
const wrong = new Map();
// Values to show what is meant, where a field is empty.
const samples = { height: '2.70', diameter: '0.34', 'robot-height': '0.095', 'dock-0': '0.30', 'dock-1': '0.15', 'dock-h': '90', 'mark-0-0': '0.20', 'mark-0-1': '0.20', 'mark-1-0': '4.80', 'mark-1-1': '0.20' };
const sample = key => samples[key] ?? (/-width$/.test(key) ? '0.18' : /-ahead$/.test(key) ? '0.02' : undefined);

// cell is an input of a number that belongs to a place of the doc. One marked
// data-shape changes what else the form shows; set returns false to refuse.
function cell(key, label, value, set, attributes = {}) {
  const e = make('input', { type: 'text', inputmode: 'decimal', autocomplete: 'off', 'data-key': key, 'aria-label': label, value: value ?? '', placeholder: sample(key), ...attributes });
  // What is wrong stands beside the field until it is mended.
  const tell = () => {
    const id = `wrong-${key}`, why = wrong.get(key);
    document.getElementById(id)?.remove();
    if (why) { e.setAttribute('aria-invalid', 'true'); e.setAttribute('aria-describedby', id); e.after(make('span', { class: 'bad beside', id, role: 'alert' }, why)); } else { e.removeAttribute('aria-invalid'); e.removeAttribute('aria-describedby'); }
  };
  if (wrong.has(key)) queueMicrotask(tell);
  e.addEventListener('change', () => {
    const v = number(e.value);
    if (Number.isNaN(v)) { wrong.set(key, `“${e.value}” is not a number.`); tell(); return; }
    wrong.delete(key);
    tell();
    if (v === undefined || 'data-shape' in attributes) { whenLeft(() => change(() => set(v))); return; }
    // A number alone changes no form: what is typed next is not disturbed.
    let taken;
    change(() => { taken = set(v); }, true);
    if (taken === false) whenLeft(() => changed()); else e.defaultValue = e.value = String(v);
  });
  return e;
}

function word(key, label, value, set) {
  const e = make('input', { type: 'text', autocomplete: 'off', 'data-key': key, value: value ?? '' });
  e.addEventListener('change', () => whenLeft(() => set(e.value.trim())));
  return make('label', {}, `${label} `, e);
}

const labelled = (label, input) => { input.removeAttribute('aria-label'); return make('label', {}, `${label} `, input); };
const button = (key, text, onclick, more = {}) => make('button', { type: 'button', 'data-key': key, onclick, ...more }, text);
const p = (...c) => make('p', {}, ...c);
// next puts the focus on the field that is filled in next; the picture stays in view.
const next = key => document.querySelector(`[data-key="${CSS.escape(key)}"]`)?.focus({ preventScroll: true });

// rename gives an entry another name at its old place.
function rename(of, from, to) {
  const out = {};
  for (const [k, v] of Object.entries(of)) out[k === from ? to : k] = v;
  for (const k of Object.keys(of)) delete of[k];
  Object.assign(of, out);
}

function setOrDrop(o, k, v) { if (v === undefined) delete o[k]; else o[k] = v; }

// chooser offers the entries of a part of the doc and a name for a new one.
function chooser(kind, part, now, to, fresh) {
  const names = Object.keys(S.doc[part] || {});
  const e = make('select', { 'data-key': `${part}-choose` }, ...names.map(n => make('option', { value: n, selected: n === now }, n)), make('option', { value: '\n', selected: !now }, `a new ${kind}`));
  e.addEventListener('change', () => { to(e.value === '\n' ? '' : e.value); pick({}); });
  const name = word(`${part}-name`, 'called', now, v => {
    if (!v) return;
    if ((S.doc[part] || {})[v] && v !== now) { say(`There is already a ${kind} called ${v}.`); return; }
    change(() => {
      S.doc[part] ||= {};
      if (now) rename(S.doc[part], now, v); else S.doc[part][v] = fresh();
      if (now && part === 'cameras') for (const l of Object.values(S.doc.layouts || {})) if (l.camera === now) l.camera = v;
      to(v);
    });
  });
  return p(make('label', {}, `${kind[0].toUpperCase()}${kind.slice(1)} `, e), ' ', name);
}

// offCell says how far mark i lies from where the solved camera puts it.
function offCell(i, td) {
  const r = residual(i);
  td.className = r?.left_out_as_outlier ? 'off bad' : 'off';
  td.textContent = r ? `${r.residual_px === null ? '–' : r.residual_px.toFixed(2)} px${r.residual_m === null ? '' : `\n${(1000 * r.residual_m).toFixed(1)} mm`}${r.left_out_as_outlier ? '\nleft out' : ''}` : '';
  return td;
}

// seenCell says how long tape i is as the camera sees it.
function seenCell(i, td) {
  const err = solved()?.judged?.tapes?.[i]?.error_m, long = cameraDoc()?.tapes?.[i]?.length;
  td.className = 'seen';
  td.textContent = err === null || err === undefined ? 'not known' : `${(long + err).toFixed(3)} m, ${err >= 0 ? '+' : '−'}${Math.abs(1000 * err).toFixed(1)} mm`;
  return td;
}

const refresh = (what, cell) => [...document.querySelectorAll(`#panel td.${what}`)].forEach((td, i) => cell(i, td));

// head is the head of a column; ? is that of what can be done, which only readers
// of the screen need.
const head = name => make('th', { scope: 'col' }, name === '?' ? make('span', { class: 'hide' }, 'Actions') : name);

// corners is the table of an outline.
function corners(key, points, name) {
  const rows = points.map((q, i) => make('tr', {}, make('th', { scope: 'row' }, String(i + 1)),
    ...[0, 1].map(k => make('td', {}, cell(`${key}-${i}-${k}`, `${name}, corner ${i + 1}, ${'xy'[k]} in metres`, q[k], v => { if (v !== undefined) q[k] = v; }))),
    make('td', {}, button(`${key}-${i}-less`, 'Remove', () => { if (points.length > 3) change(() => points.splice(i, 1)); else say('An outline needs three corners.'); }, { 'aria-label': `Remove corner ${i + 1} of ${name}` }))));
  return make('table', {}, make('thead', {}, make('tr', {}, ...['Corner', 'x, m', 'y, m', '?'].map(head))), make('tbody', {}, ...rows,
    make('tr', {}, make('td', { colspan: 4 }, button(`${key}-more`, 'Add a corner', () => change(() => points.push([...points[points.length - 1]])))))));
}

// outlining is what helps while an outline is drawn.
function outlining(start) {
  const side = make('input', { type: 'text', inputmode: 'decimal', autocomplete: 'off', 'data-key': 'side', value: S.side ?? '' });
  side.setAttribute('value', S.side ?? '');
  side.addEventListener('input', () => { side.defaultValue = side.value; const v = number(side.value); pick({ side: v > 0 ? v : null }, false); });
  const tick = (k, text) => make('label', {}, make('input', { type: 'checkbox', 'data-key': `tick-${k}`, checked: S[k], onchange: e => pick({ [k]: e.target.checked }, false) }), ` ${text}`);
  const top = drawingHere() && S.drawing.group !== 'room' ? make('label', {}, make('input', { type: 'checkbox', 'data-key': 'tick-top', checked: S.drawing.top, onchange: e => pick({ drawing: { ...S.drawing, top: e.target.checked } }, false) }), ' Corners are at its top') : null;
  const typed = make('form', {}, 'Or type its place: ', make('label', {}, 'x ', make('input', { type: 'text', inputmode: 'decimal', 'data-key': 'next-x', autocomplete: 'off' })), ' ', make('label', {}, 'y ', make('input', { type: 'text', inputmode: 'decimal', 'data-key': 'next-y', autocomplete: 'off' })), ' ', make('button', { 'data-key': 'next' }, 'Set corner'));
  typed.addEventListener('submit', e => {
    e.preventDefault();
    const [a, b] = [...typed.querySelectorAll('input')].map(i => number(i.value));
    if (!Number.isFinite(a) || !Number.isFinite(b)) { say('A corner needs x and y in metres.'); return; }
    typed.reset();
    addCorner([a, b]);
    next('next-x');
  });
  if (!drawingHere()) return [start, p(tick('square', 'Right angles'), ' ', tick('corners', 'Snap to corners'))];
  return [p(`${S.drawing.points.length} corners so far. `, button('done', 'Done', finish), ' ', button('leave', 'Cancel', cancel)),
    p(make('label', {}, 'Length of the next side, m ', side)), typed, p(tick('square', 'Right angles'), ' ', tick('corners', 'Snap to corners'), ' ', top)];
}

export const tabs = {
  marks: {
    title: 'Camera and marks',
    judged: () => refresh('off', offCell),
    how: 'Click a mark in the picture, or move to it with the arrow keys and press Enter. Then type its place on the floor; Enter returns to the picture. For fine setting drag it, or use the magnified view.',
    point(q, board) {
      if (S.view !== 'picture') { say('Set marks in the picture.'); return; }
      if (!S.image) { say('Choose a recording first.'); return; }
      q = chess.caught(q, 10 / board.scale);
      change(() => {
        newCamera();
        const c = cameraDoc();
        c.marks ||= [];
        const open = c.marks[S.mark] && !c.marks[S.mark].pixel ? S.mark : -1;
        if (open >= 0) c.marks[open].pixel = q.map(v => round(v, 2));
        else { c.marks.push({ pixel: q.map(v => round(v, 2)) }); place({ mark: c.marks.length - 1 }); }
      });
      document.querySelector(`[data-key="mark-${S.mark}-0"]`)?.focus();
      say(`Mark ${S.mark + 1} at pixel ${q.map(v => v.toFixed(1)).join(', ')}. Type its place.`);
    },
    build() {
      const c = cameraDoc();
      const out = [chooser('camera', 'cameras', S.cameraName, v => place({ cameraName: v, mark: -1 }), () => ({ frame: frameSize(), marks: [] }))];
      if (!c) return [...out, p('Click the first mark in the picture, or name the camera.'), chess.form()];
      c.frame ||= frameSize();
      out.push(p(labelled('Frame width, pixels', cell('frame-0', '', c.frame[0], v => { c.frame[0] = v; }, { 'data-shape': true })), ' ', labelled('high', cell('frame-1', '', c.frame[1], v => { c.frame[1] = v; }, { 'data-shape': true }))));
      if (S.image && (c.frame[0] !== S.size[0] || c.frame[1] !== S.size[1])) {
        out.push(make('p', { class: 'wrong' }, `This recording's frames are ${S.size[0]} by ${S.size[1]}. `, button('frame-take', 'Use this size', () => change(() => { c.frame = [...S.size]; }))));
      }
      out.push(p(labelled('Lens above the floor, m (if measured)', cell('height', '', c.height, v => setOrDrop(c, 'height', v)))));
      const names = ['Mark', 'x, m', 'y, m', 'z, m', 'column', 'row', 'error', '?'];
      const rows = (c.marks || []).map((m, i) => {
        const floor = k => cell(`mark-${i}-${k}`, `Mark ${i + 1}, ${'xyz'[k]} in metres`, m.floor?.[k], v => {
          m.floor ||= [];
          if (k === 2 && (v === undefined || v === 0)) { m.floor.length = Math.min(2, m.floor.length); return; }
          m.floor[k] = v ?? null;
        }, { onfocus: () => { if (S.mark !== i) { pick({ mark: i }, false); for (const tr of document.querySelectorAll('#panel tr[aria-selected]')) tr.setAttribute('aria-selected', String(tr.dataset.mark === String(i))); } } });
        const pixel = k => cell(`mark-${i}-p${k}`, `Mark ${i + 1}, ${['column', 'row'][k]}`, m.pixel?.[k], v => { m.pixel ||= []; m.pixel[k] = v ?? null; }, { class: 'wide' });
        return make('tr', { 'aria-selected': String(S.mark === i), 'data-mark': i }, make('th', { scope: 'row' }, button(`mark-${i}`, String(i + 1), () => pick({ mark: i }), { 'aria-label': `Choose mark ${i + 1}` })),
          ...[0, 1, 2].map(k => make('td', {}, floor(k))), ...[0, 1].map(k => make('td', {}, pixel(k))), offCell(i, make('td', {})),
          make('td', {}, button(`mark-${i}-less`, 'Remove', () => change(() => { c.marks.splice(i, 1); place({ mark: -1 }); }), { 'aria-label': `Remove mark ${i + 1}` })));
      });
      out.push(make('table', { onkeydown: e => { if (e.key === 'Enter' && e.target.tagName === 'INPUT') { e.preventDefault(); e.target.blur(); document.getElementById('canvas').focus(); } } },
        make('thead', {}, make('tr', {}, ...names.map(head))), make('tbody', {}, ...rows)));
      out.push(p(button('mark-more', 'Add a mark by typing', () => { change(() => { c.marks ||= []; c.marks.push({}); place({ mark: c.marks.length - 1 }); }); document.querySelector(`[data-key="mark-${S.mark}-0"]`)?.focus(); })));
      out.push(chess.form());
      const b = c.board || {};
      const of = (k, label, text) => {
        const set = v => change(() => { const n = { ...(c.board || { pictures: 'boards/*.png' }) }; setOrDrop(n, k, v); c.board = n; if (!['columns', 'rows', 'square'].some(x => n[x])) delete c.board; });
        if (text) return word(`board-${k}`, label, b[k], set);
        const e = make('input', { type: 'text', inputmode: 'decimal', autocomplete: 'off', 'data-key': `board-${k}`, value: b[k] ?? '' });
        e.addEventListener('change', () => { const v = number(e.value); if (Number.isNaN(v)) say(`"${e.value}" is not a number.`); else whenLeft(() => set(v)); });
        return make('label', {}, `${label} `, e);
      };
      out.push(make('details', { open: Boolean(c.board) }, make('summary', {}, 'Lens from pictures of a chessboard'),
        p(of('pictures', 'Pictures, from the lab’s folder', true)), p(of('columns', 'Inner corners along a row'), ' ', of('rows', 'along a column')), p(of('square', 'Side of a square, m'))));
      return out;
    },
  },

  room: {
    title: 'Room',
    how: 'Draw the outline of the room on the picture or the plan. Drag corners to correct them.',
    point(q, board) {
      if (S.dock) { const f = board.floorAt(q); if (f) { place({ dock: false }); change(() => { const l = layoutDoc(); l.dock = { at: f.map(v => round(v, 3)), heading: l.dock?.heading || 0 }; }); } return; }
      if (drawingHere()) corner(board.floorAt(q, drawingAt())); else say('First press “Draw the room”.');
    },
    build() {
      const l = layoutDoc();
      const out = [chooser('layout', 'layouts', S.layoutName, v => { place({ layoutName: v, piece: null }); toLayout(v); }, () => (S.cameraName ? { camera: S.cameraName } : {}))];
      if (!l) return [...out, p('First name the layout; its recordings go in a folder of that name.')];
      const cameras = Object.keys(S.doc.cameras || {});
      out.push(p(make('label', {}, 'Seen by camera ', make('select', { 'data-key': 'layout-camera', onchange: e => change(() => { l.camera = e.target.value; toCamera(l.camera); }) }, ...(l.camera ? [] : [make('option', { value: '' }, 'choose')]), ...cameras.map(n => make('option', { value: n, selected: n === l.camera }, n))))));
      out.push(...outlining(p(button('draw', l.room ? 'Draw the room again' : 'Draw the room', () => { begin({ group: 'room', name: 'the room', points: [] }); next('next-x'); }))));
      if (l.room && !drawingHere()) out.push(corners('room', l.room, 'the room'));
      const d = l.dock;
      out.push(make('fieldset', {}, make('legend', {}, 'Dock: where the robot stands when docked'),
        p(labelled('x', cell('dock-0', '', d?.at?.[0], v => dock(l, 0, v), { 'data-shape': true })), ' ', labelled('y', cell('dock-1', '', d?.at?.[1], v => dock(l, 1, v), { 'data-shape': true })), ' ', labelled('faces, degrees', cell('dock-h', '', d?.heading, v => { l.dock ||= { at: [0, 0] }; l.dock.heading = v ?? 0; }, { 'data-shape': true }))),
        p(button('dock-point', S.dock ? 'Click the dock now' : 'Click its place', () => pick({ dock: !S.dock }), { 'aria-pressed': String(Boolean(S.dock)) }), ' ', d ? button('dock-less', 'Remove the dock', () => change(() => { delete l.dock; })) : null)));
      return out;
    },
  },

  things: {
    title: 'Furniture and objects',
    how: 'Obstacles stand on the floor. The robot drives under overhead pieces. Areas are parts of the floor. Test objects are small objects that the robot should avoid.',
    point(q, board) { if (drawingHere()) corner(board.floorAt(q, drawingAt())); else say('First name a piece and press “Draw it”.'); },
    build() {
      const l = layoutDoc();
      if (!l) return [p('First draw the room.')];
      const kinds = { obstacles: 'obstacle', overhead: 'overhead', areas: 'area', test_objects: 'test object' };
      const list = groups.flatMap(g => Object.keys(l[g] || {}).map(n => make('li', {}, button(`piece-${n}`, n, () => pick({ piece: { group: g, name: n } }), { 'aria-pressed': String(S.piece?.name === n) }), ` ${kinds[g]}`)));
      const group = make('select', { 'data-key': 'new-group' }, ...groups.map(g => make('option', { value: g }, kinds[g])));
      const name = make('input', { type: 'text', autocomplete: 'off', 'data-key': 'new-name' });
      const height = make('input', { type: 'text', inputmode: 'decimal', autocomplete: 'off', 'data-key': 'new-height' });
      const start = make('form', {}, make('label', {}, 'A new ', group), ' ', make('label', {}, 'called ', name), ' ', make('label', {}, 'high, m ', height), ' ', make('button', { 'data-key': 'draw-it' }, 'Draw it'));
      start.addEventListener('submit', e => {
        e.preventDefault();
        const n = name.value.trim(), h = number(height.value), g = group.value;
        if (!n) { say('Give it a name.'); name.focus(); return; }
        if (groups.some(x => l[x]?.[n])) { say(`There is already a piece called ${n}.`); return; }
        if (!(h >= 0) && (g === 'obstacles' || g === 'overhead')) { say('Type its height in metres: it decides what the piece hides from the camera.'); height.focus(); return; }
        // It comes into the room once its outline is done.
        const made = {};
        if (g === 'areas') made.kind = 'surface';
        if (h >= 0) made.height = h;
        start.reset();
        begin({ group: g, name: n, points: [], top: g === 'overhead', height: h || 0, made });
        next('next-x');
      });
      const out = [...outlining(start)];
      if (list.length) out.push(make('ul', {}, ...list));
      const s = S.piece && l[S.piece.group]?.[S.piece.name];
      if (s && !drawingHere()) {
        const { group: g, name: n } = S.piece;
        out.push(make('fieldset', {}, make('legend', {}, `${n}, ${kinds[g]}`),
          p(word('piece-name', 'Called', n, v => { if (v && v !== n && !groups.some(x => l[x]?.[v])) change(() => { rename(l[g], n, v); place({ piece: { group: g, name: v } }); }); }), ' ', labelled('high, m', cell('piece-height', '', s.height, v => setOrDrop(s, 'height', v)))),
          g === 'areas' ? p(make('label', {}, 'It is ', make('select', { 'data-key': 'piece-kind', onchange: e => change(() => { s.kind = e.target.value; }) }, ...[['surface', 'another surface'], ['target', 'the area to be cleaned'], ['off_limits', 'an area to stay off']].map(([v, t]) => make('option', { value: v, selected: s.kind === v }, t))))) : null,
          corners('piece', s.outline || [], n),
          p(button('piece-less', `Remove ${n}`, () => change(() => { delete l[g][n]; if (!Object.keys(l[g]).length) delete l[g]; place({ piece: null }); })))));
      }
      return out;
    },
  },

  robots: {
    title: 'Robots',
    how: 'Type the sizes of each robot. The headline figures are for the first tool.',
    build() {
      const out = [chooser('robot', 'robots', S.robotName, v => place({ robotName: v }), () => ({ tools: { brush: {} } }))];
      const r = S.doc.robots?.[S.robotName];
      if (!r) return [...out, p('Name the robot as in the names of its recordings.')];
      const plain = v => (v && typeof v === 'object' ? v.value : v);
      const put = (o, k, v) => { if (o[k] && typeof o[k] === 'object' && v !== undefined) o[k].value = v; else setOrDrop(o, k, v); };
      out.push(p(r.outline ? 'It is not round; edit its outline in lab.yaml. ' : labelled('Diameter, m', cell('diameter', '', plain(r.diameter), v => put(r, 'diameter', v))), ' ', labelled('high, m', cell('robot-height', '', plain(r.height), v => put(r, 'height', v)))));
      for (const [n, t] of Object.entries(r.tools || {})) {
        out.push(make('fieldset', {}, make('legend', {}, `Tool ${n}`), p(word(`tool-${n}`, 'Called', n, v => { if (v && v !== n && !r.tools[v]) change(() => rename(r.tools, n, v)); }), ' ', labelled('wide, m', cell(`tool-${n}-width`, '', plain(t.width), v => put(t, 'width', v)))),
          p(labelled('ahead of the centre, m', cell(`tool-${n}-ahead`, '', plain(t.ahead), v => put(t, 'ahead', v))), ' ', labelled('left of it, m', cell(`tool-${n}-left`, '', plain(t.left), v => put(t, 'left', v)))),
          Object.keys(r.tools).length > 1 ? p(button(`tool-${n}-less`, `Remove ${n}`, () => change(() => { delete r.tools[n]; }))) : null));
      }
      out.push(p(button('tool-more', 'Add a tool', () => {
        let n = 'pad';
        for (let i = 2; r.tools?.[n]; i++) n = `tool${i}`;
        change(() => { r.tools ||= {}; r.tools[n] = {}; });
        next(`tool-${n}-width`);
      })));
      return out;
    },
  },

  distances: {
    title: 'Distances',
    judged: () => refresh('seen', seenCell),
    how: 'Click two points to measure their distance, and compare it with a tape measure.',
    point(q, board) {
      pick({ tapeEnds: [...(S.tapeEnds.length >= 2 ? [] : S.tapeEnds), q.map(v => round(v, 2))] });
      if (S.tapeEnds.length === 2) { say(span(board)); next('tape-length'); }
    },
    build(board) {
      const c = cameraDoc();
      const out = [p(S.tapeEnds.length === 2 ? span(board) : S.tapeEnds.length === 1 ? 'Click the other end.' : 'Click the first end.')];
      if (S.tapeEnds.length === 2 && S.view === 'picture' && c) {
        const e = make('input', { type: 'text', inputmode: 'decimal', autocomplete: 'off', 'data-key': 'tape-length' });
        const form = make('form', {}, make('label', {}, 'Length by the tape, m ', e), ' ', make('button', { 'data-key': 'tape-keep' }, 'Add as a tape'));
        form.addEventListener('submit', ev => {
          ev.preventDefault();
          const v = number(e.value);
          if (!(v > 0)) { say('Type the length by the tape, in metres.'); return; }
          const ends = S.tapeEnds;
          form.reset();
          change(() => { place({ tapeEnds: [] }); c.tapes ||= []; c.tapes.push({ pixels: ends, length: v }); });
        });
        out.push(form);
      }
      if (c?.tapes?.length) {
        out.push(make('table', {}, make('thead', {}, make('tr', {}, ...['Tape', 'length, m', 'in the picture', '?'].map(head))), make('tbody', {}, ...c.tapes.map((t, i) => {
          return make('tr', {}, make('th', { scope: 'row' }, String(i + 1)), make('td', {}, cell(`tape-${i}`, `Tape ${i + 1}, metres`, t.length, v => { if (!(v > 0)) return false; t.length = v; return true; })),
            seenCell(i, make('td', {})),
            make('td', {}, button(`tape-${i}-less`, 'Remove', () => change(() => { c.tapes.splice(i, 1); if (!c.tapes.length) delete c.tapes; }), { 'aria-label': `Remove tape ${i + 1}` })));
        }))));
      }
      return out;
    },
  },
};

function dock(l, k, v) { l.dock ||= { at: [0, 0], heading: 0 }; l.dock.at ||= [0, 0]; if (v !== undefined) l.dock.at[k] = v; }

function span(board) {
  const ends = S.tapeEnds.map(q => board.floorAt(q));
  if (!ends[0] || !ends[1]) return 'Both points must show the floor. Check that the marks are set.';
  return `The distance is ${Math.hypot(ends[1][0] - ends[0][0], ends[1][1] - ends[0][1]).toFixed(3)} m.`;
}
