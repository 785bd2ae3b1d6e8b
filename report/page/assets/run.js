// The page of one run.
import { $, attempt, clock, dark, make, path, say, send } from './common.js';
import { conditions } from './conditions.js';
import { crosses } from './cross.js';
import { Clock, Player } from './player.js';
import { go } from './uploads.js';

const player = new Player(document.querySelector('.player'));
const time = new Clock([player], () => 0, 0, player.length);
time.seek(player.start);
crosses([player]);

// Events on the time line, each a button that goes there.
(player.run.events || []).forEach((e, i) => {
  if (e.start_s === null) return;
  const b = make('button', { type: 'button', title: e.sentence, 'aria-label': `${i + 1}: ${e.kind} at ${clock(e.start_s)}: ${e.sentence}`, onpointerenter: () => player.ready(e.start_s), onfocus: () => player.ready(e.start_s), onclick: () => { time.seek(e.start_s); say(e.sentence); } }, String(i + 1));
  b.style.left = `${(100 * e.start_s) / player.length}%`;
  $('marks').append(b);
});
// Marks that would lie over one another stand in rows.
function rows() {
  const wide = $('marks').clientWidth, ends = [];
  for (const b of $('marks').children) {
    const x = wide * parseFloat(b.style.left) / 100, size = b.offsetWidth + 1;
    let row = ends.findIndex(end => x - size / 2 >= end);
    if (row < 0) row = ends.length;
    ends[row] = x + size / 2;
    b.style.top = `${row * size}px`;
  }
  $('marks').style.height = `${Math.max(1, ends.length) * 1.6}rem`;
}
new ResizeObserver(rows).observe($('marks'));

// Events and missed patches lead to their time and place.
const ring = make('circle', { class: 'ring', r: 22 });
function point(x, y) {
  if (x === null || y === null) { ring.remove(); return; }
  const [cx, cy] = player.at(x, y);
  ring.setAttribute('cx', cx);
  ring.setAttribute('cy', cy);
  player.svg.append(ring);
}
const lead = (words, t, x, y) => make('li', {}, make('button', { type: 'button', class: 'lead-to', onclick: () => { if (t !== null) time.seek(t); point(x, y); document.querySelector('.stage').scrollIntoView({ block: 'nearest' }); say(words); } }, words));
$('event-list').replaceChildren(...(player.run.events || []).map(e => lead(e.sentence, e.start_s, e.x_m, e.y_m)));
$('missed-list').replaceChildren(...(player.run.missed || []).slice(0, 20).map(m => lead(`${m.area_m2.toFixed(3)} m² at ${m.x_m.toFixed(2)}, ${m.y_m.toFixed(2)} m${m.beside ? `, beside ${m.beside}` : ''}`, null, m.x_m, m.y_m)));
for (const id of ['event-list', 'missed-list']) if (!$(id).children.length) $(id).closest('details').hidden = true;

for (const img of document.querySelectorAll('.pictures img[data-kind]')) {
  img.src = `/pictures/${path(player.run.id)}/${img.dataset.kind}?width=1200&height=900&theme=${dark() ? 'dark' : 'light'}`;
  img.addEventListener('load', () => { img.alt = img.nextElementSibling?.textContent || img.alt; });
}

// Corrections, written beside the recording.
const form = $('notes');
const given = JSON.parse(form.dataset.notes);
const carried = [...(given.carried || [])];
$('note-start').value = given.start_s ?? '';
$('note-end').value = given.end_s ?? '';
for (const b of form.querySelectorAll('button[data-now]')) b.addEventListener('click', () => { $(b.dataset.now).value = time.t.toFixed(2); $(b.dataset.now).dispatchEvent(new Event('input')); });

// The bounds of the run, each a handle on the time line. Dragged, or moved by keys,
// it fills its field and shows its place in the recording.
const handles = [['note-start', 'The run begins', () => player.start], ['note-end', 'The run ends', () => player.end]].map(([id, words, found]) => {
  const field = $(id), value = () => { const v = Number(field.value.trim().replace(',', '.')); return field.value.trim() === '' || !Number.isFinite(v) ? found() : v; };
  const h = make('button', { type: 'button', role: 'slider', class: id, title: words, 'aria-label': words, 'aria-valuemin': 0, 'aria-valuemax': player.length });
  const show = () => {
    const t = Math.min(Math.max(value(), 0), player.length);
    h.style.left = `${100 * t / player.length}%`;
    h.setAttribute('aria-valuenow', t.toFixed(2));
    h.setAttribute('aria-valuetext', clock(t));
  };
  const set = t => {
    const [first, last] = id === 'note-start' ? [0, handles[1].value()] : [handles[0].value(), player.length];
    t = Math.min(Math.max(t, first), last);
    field.value = t.toFixed(2);
    show();
    time.seek(t);
  };
  h.addEventListener('pointerdown', e => { h.setPointerCapture(e.pointerId); h.dataset.held = 'yes'; });
  h.addEventListener('pointermove', e => { if (!h.dataset.held) return; const r = $('bounds').getBoundingClientRect(); set(player.length * (e.clientX - r.left) / r.width); });
  for (const end of ['pointerup', 'pointercancel']) h.addEventListener(end, () => { delete h.dataset.held; });
  h.addEventListener('keydown', e => {
    const by = time.step({ ArrowDown: 'ArrowLeft', ArrowUp: 'ArrowRight' }[e.key] ?? e.key, e.shiftKey);
    if (by) { e.preventDefault(); set(value() + by); }
  });
  field.addEventListener('input', show);
  $('bounds').append(h);
  return { value, show };
});
for (const h of handles) h.show();

function list() {
  $('carried').replaceChildren(...carried.map((c, i) => make('li', {}, `${c[0]} s to ${c[1]} s `,
    make('button', { type: 'button', 'aria-label': `Remove the stretch from ${c[0]} s`, onclick: () => { carried.splice(i, 1); list(); } }, 'Remove'))));
}
list();

function number(id) {
  const text = $(id).value.trim().replace(',', '.');
  if (text === '') return null;
  const v = Number(text);
  if (!Number.isFinite(v) || v < 0) { $(id).focus(); throw new Error(`"${text}" is not a time in seconds.`); }
  // Said at once, not after a measurement.
  if (v > player.run.length_s + 0.5) { $(id).focus(); throw new Error(`The recording is ${player.run.length_s.toFixed(1)} s long; ${v} s lies behind its end.`); }
  return v;
}

function add() {
  const from = number('carried-from'), to = number('carried-to');
  if (from === null || to === null || to <= from) throw new Error('Type two times, the earlier one first.');
  carried.push([from, to]);
  $('carried-from').value = $('carried-to').value = '';
  list();
}
$('carried-add').addEventListener('click', () => attempt(add));

form.addEventListener('submit', e => {
  e.preventDefault();
  attempt(async () => {
    if ($('carried-from').value.trim() && $('carried-to').value.trim()) add();
    const [from, to] = [number('note-start'), number('note-end')];
    if (from !== null && to !== null && to <= from) { $('note-end').focus(); throw new Error('The end comes before the start.'); }
    await send('PUT', `/runs/${path(player.run.id)}/notes`, { start_s: number('note-start'), end_s: number('note-end'), carried });
    await send('POST', `/runs/${path(player.run.id)}/measure?again`);
    go('/');
  });
});

const stated = document.getElementById('stated');
if (stated) conditions(stated, () => `/runs/${path(stated.dataset.run)}/conditions`, () => location.reload());
