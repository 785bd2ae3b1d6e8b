// The page of one run.
import { $, attempt, clock, dark, make, path, say, send } from './common.js';
import { Clock, Player } from './player.js';
import { go } from './uploads.js';

const player = new Player(document.querySelector('.player'));
const time = new Clock([player], () => 0, 0, player.length);
time.seek(player.start);

// Events on the time line, each a button that goes there.
(player.run.events || []).forEach((e, i) => {
  if (e.start_s === null) return;
  const b = make('button', { type: 'button', title: e.sentence, 'aria-label': `${e.kind} at ${clock(e.start_s)}: ${e.sentence}`, onpointerenter: () => player.ready(e.start_s), onfocus: () => player.ready(e.start_s), onclick: () => { time.seek(e.start_s); say(e.sentence); } }, String(i + 1));
  b.style.left = `${(100 * e.start_s) / player.length}%`;
  $('marks').append(b);
});

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
for (const b of form.querySelectorAll('button[data-now]')) b.addEventListener('click', () => { $(b.dataset.now).value = time.t.toFixed(2); });

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
    await send('PUT', `/runs/${path(player.run.id)}/notes`, { start_s: number('note-start'), end_s: number('note-end'), carried });
    await send('POST', `/runs/${path(player.run.id)}/measure?again`);
    go('/');
  });
});
