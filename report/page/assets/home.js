// The list of runs: recordings are dropped here, measured, and chosen.
import { $, asked, attempt, clock, make, path, percent, say, send } from './common.js';
import { change } from './bin.js';
import { onLive } from './live.js';
import { Table, rowsNow } from './runs.js';
import { add, refused } from './uploads.js';

const table = new Table(async (row, what) => attempt(async () => {
  const id = path(row.id);
  switch (what) {
    case 'stop': await send('POST', `/runs/${id}/stop`); say(`${row.id} was stopped.`); break;
    case 'measure': await send('POST', `/runs/${id}/measure`); break;
    case 'again': await send('POST', `/runs/${id}/measure?again`); say(`${row.id} will be measured again.`); break;
    case 'name': await name(row.layout, row.file); break;
    case 'change': await change(row); break;
  }
}));

// refresh takes the list anew, and tells of runs that are done. The version is the
// list's own: what changed before the stream began is fetched with its first word.
let version = Number($('choose').dataset.version), fetching = false, again = false;
async function refresh() {
  if (fetching) { again = true; return; }
  fetching = true;
  try {
    const before = new Map(table.rows.map(r => [r.id, r.state]));
    table.take(await rowsNow());
    const news = table.rows.filter(r => before.has(r.id) && before.get(r.id) !== r.state && r.state !== 'waiting').map(r => `${r.id}: ${r.state}`);
    if (news.length) say(`${news.slice(0, 5).join('; ')}${news.length > 5 ? `; and ${news.length - 5} more` : ''}.`);
  } catch { version = -1; } // the stream tells when the program is back
  fetching = false;
  if (again) { again = false; refresh(); }
}
// A long list comes in two steps: its beginning is on the screen by the second frame.
table.take(JSON.parse($('choose').dataset.rows));
requestAnimationFrame(() => performance.mark('rows'));
if ('more' in $('choose').dataset) requestAnimationFrame(() => setTimeout(refresh));

// naming asks which run a recording is; undefined if the reader leaves it.
async function naming(file) {
  $('naming-file').textContent = file;
  if (await asked($('naming')) !== 'ok') return undefined;
  return { robot: $('n-robot').value.trim(), phase: $('n-phase').value, trial: Number($('n-trial').value) };
}

async function name(layout, file) {
  const n = await naming(file);
  if (n) await send('POST', `/name/${path(`${layout}/${file}`)}`, n);
}

// Recordings.
async function take(files) {
  const layout = $('into').value.trim();
  if (!files.length) return;
  if (!layout) { say('First name the layout that the recordings belong to.'); $('into').focus(); return; }
  add(layout, files, (where, file, known) => { if (!known) attempt(() => name(where, file)); });
}

// drop takes what was dragged here; of a folder the browser would send nothing.
function drop(data) {
  const folders = [...data.items].map(i => i.webkitGetAsEntry?.()).filter(e => e?.isDirectory).map(e => e.name);
  for (const n of folders) refused(make('li', {}, make('span', { class: 'file' }, n), ' '), 'This is a folder; drop the recordings in it.');
  take([...data.files].filter(f => !folders.includes(f.name)));
}

$('pick').addEventListener('change', e => { take([...e.target.files]); e.target.value = ''; });
for (const kind of ['dragover', 'dragleave', 'drop']) {
  addEventListener(kind, e => {
    if (!e.dataTransfer?.types.includes('Files')) return;
    e.preventDefault();
    $('drop').classList.toggle('over', kind === 'dragover');
    if (kind === 'drop') drop(e.dataTransfer);
  });
}

// What is being measured, with the frame and the outline found in it.
const cards = new Map();
function active(list) {
  $('now').hidden = list.length === 0;
  for (const [id, c] of cards) if (!list.some(a => a.run === id)) { c.root.remove(); cards.delete(id); }
  for (const a of list) {
    let c = cards.get(a.run);
    if (!c) {
      c = { img: make('img', { alt: '' }), svg: make('svg', { 'aria-hidden': 'true' }), bar: make('progress', { max: 1 }), doing: make('p', { class: 'doing' }), text: make('p', { class: 'readout' }), shown: -9 };
      c.root = make('div', { class: 'going' }, make('h3', {}, a.run), make('div', { class: 'see' }, c.img, c.svg), c.bar, c.doing, c.text,
        make('button', { type: 'button', onclick: () => attempt(() => send('POST', `/runs/${path(a.run)}/stop`)), 'aria-label': `Stop ${a.run}` }, 'Stop'));
      c.bar.setAttribute('aria-label', `${a.run}, share done`);
      cards.set(a.run, c);
      $('active').append(c.root);
    }
    c.bar.value = a.share;
    c.doing.textContent = `${a.doing}${a.left_s === null || a.left_s === undefined ? '' : `, about ${about(a.left_s)} left`}`;
    c.text.textContent = `${percent(a.share)} of the recording, at ${clock(a.t_s)}${a.speed ? `, ${a.speed.toFixed(1)} times real time` : ''}; ${percent(a.reachable_share)} cleaned so far`;
    const now = performance.now();
    if (a.frame && now - c.shown > 2500 && a.outline) {
      c.shown = now;
      const outline = a.outline, size = a.frame;
      const next = new Image();
      next.onload = () => {
        c.img.src = next.src;
        c.svg.setAttribute('viewBox', `-0.5 -0.5 ${size[0]} ${size[1]}`);
        c.svg.replaceChildren(make('polygon', { points: outline.map(p => p.join(',')).join(' '), fill: 'none', stroke: '#ffd400', 'stroke-width': 3 }));
      };
      next.src = `/frame?${a.files.map(f => `file=${encodeURIComponent(f)}`).join('&')}&t=${a.t_s.toFixed(2)}&width=480`;
    }
  }
}

// What waits, who works, and until when: the same that swathe queue prints.
let paused = false;
$('pause').addEventListener('click', () => attempt(async () => {
  await send('POST', paused ? '/queue/resume' : '/queue/pause');
  say(paused ? 'The queue goes on.' : 'The queue is paused: what is under way is finished, nothing new is begun.');
}));

const about = s => s < 90 ? `${Math.max(1, Math.round(s))} s` : s < 5400 ? `${Math.round(s / 60)} min` : `${(s / 3600).toFixed(1)} h`;
const many = (n, one, more) => `${n} ${n === 1 ? one : more}`;

function line(q, waiting) {
  const parts = [`${many(waiting, 'recording waits', 'recordings wait')}`, many(q.workers.length, 'worker', 'workers')];
  if (q.done_per_minute > 0) parts.push(`${q.done_per_minute.toFixed(1)} a minute`);
  if (waiting && q.remaining_s != null && q.done_per_minute > 0) parts.push(`done in about ${about(q.remaining_s)}`);
  let text = `${parts.join(', ')}.`;
  if (q.paused) text += ' Paused: nothing new is begun.';
  if (waiting && !q.workers.length) text += ' No worker is running.';
  if (q.waiting_for_other_versions) text += ` ${many(q.waiting_for_other_versions, 'recording waits', 'recordings wait')} for a program of another analysis version.`;
  return text;
}

function queueOf(q, waiting) {
  paused = q.paused;
  $('queue').hidden = !(waiting || q.paused || q.workers.length > 1 || q.waiting_for_other_versions);
  const text = line(q, waiting);
  if ($('queue-line').textContent !== text) $('queue-line').textContent = text;
  const label = paused ? 'Resume' : 'Pause';
  if ($('pause').textContent !== label) $('pause').textContent = label;
  $('workers').replaceChildren(...q.workers.map(w => make('li', {}, `${w.name}${w.draining ? ', stopping' : ''}: `,
    w.doing.length ? w.doing.map(d => `${d.run} ${percent(d.share)}`).join(', ') : 'idle')));
}

onLive(l => {
  const wrong = [l.setup, l.queue.trouble].filter(Boolean).join('\n');
  $('wrong').hidden = !wrong;
  if (wrong && $('wrong').textContent !== wrong) $('wrong').textContent = wrong;
  queueOf(l.queue, l.waiting.length);
  active(l.active || []);
  const before = version;
  version = l.version;
  if (l.version !== before) refresh();
});
addEventListener('swathe-back', refresh);
