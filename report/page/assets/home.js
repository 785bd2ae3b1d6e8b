// The list of runs: recordings are dropped here, measured, and chosen.
import { $, attempt, clock, make, path, percent, say, send } from './common.js';
import { add, refused } from './uploads.js';

const rows = $('rows');
let version;

// refresh takes the list anew and keeps what was chosen.
async function refresh() {
  let answer;
  try { answer = await fetch('/rows'); } catch { version = -1; return; } // the stream tells when the program is back
  if (!answer.ok) return;
  const chosen = new Set([...rows.querySelectorAll('input:checked')].map(i => i.value));
  const focus = document.activeElement?.closest?.('#rows tr')?.dataset.id;
  const kind = document.activeElement?.tagName;
  const text = await answer.text();
  const before = new Map([...rows.rows].map(r => [r.dataset.id, r.dataset.state]));
  rows.innerHTML = text;
  const news = [...rows.rows].filter(r => r.dataset.id && before.has(r.dataset.id) && before.get(r.dataset.id) !== r.dataset.state && r.dataset.state !== 'waiting').map(r => `${r.dataset.id}: ${r.dataset.state}`);
  if (news.length) say(`${news.slice(0, 5).join('; ')}.`);
  for (const i of rows.querySelectorAll('input')) i.checked = chosen.has(i.value);
  if (focus) rows.querySelector(`tr[data-id="${CSS.escape(focus)}"] ${kind || 'button'}`)?.focus();
  filter();
}

function filter() {
  const words = $('filter').value.toLowerCase().split(/\s+/).filter(Boolean);
  for (const r of rows.rows) r.hidden = !words.every(w => (r.dataset.id || '').toLowerCase().includes(w));
}
$('filter').addEventListener('input', filter);
// A long list comes in two steps: its beginning is on the screen by the second frame.
if ('more' in rows.dataset) requestAnimationFrame(() => setTimeout(refresh));

rows.addEventListener('click', e => {
  const b = e.target.closest('button[data-do]');
  if (!b) return;
  const id = b.closest('tr').dataset.id;
  attempt(async () => {
    switch (b.dataset.do) {
      case 'stop': await send('POST', `/runs/${path(id)}/stop`); say(`${id} was stopped.`); break;
      case 'measure': await send('POST', `/runs/${path(id)}/measure`); break;
      case 'again': await send('POST', `/runs/${path(id)}/measure?again`); say(`${id} will be measured again.`); break;
      case 'name': await name(b.dataset.layout, b.dataset.file); break;
    }
  });
});

// naming asks which run a recording is; undefined if the reader leaves it.
function naming(file) {
  const d = $('naming');
  $('naming-file').textContent = file;
  d.returnValue = '';
  d.showModal();
  return new Promise(done => d.addEventListener('close', () => done(d.returnValue !== 'ok' ? undefined
    : { robot: $('n-robot').value.trim(), phase: $('n-phase').value, trial: Number($('n-trial').value) }), { once: true }));
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
      c = { img: make('img', { alt: '' }), svg: make('svg', { 'aria-hidden': 'true' }), bar: make('progress', { max: 1 }), text: make('p', { class: 'readout' }), shown: -9 };
      c.root = make('div', { class: 'going' }, make('h3', {}, a.run), make('div', { class: 'see' }, c.img, c.svg), c.bar, c.text,
        make('button', { type: 'button', onclick: () => attempt(() => send('POST', `/runs/${path(a.run)}/stop`)), 'aria-label': `Stop ${a.run}` }, 'Stop'));
      c.bar.setAttribute('aria-label', `${a.run}, share done`);
      cards.set(a.run, c);
      $('active').append(c.root);
    }
    c.bar.value = a.share;
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

const stream = new EventSource('/live');
stream.onmessage = e => {
  const l = JSON.parse(e.data);
  const wrong = [l.setup, l.queue.trouble].filter(Boolean).join('\n');
  $('wrong').hidden = !wrong;
  if (wrong && $('wrong').textContent !== wrong) $('wrong').textContent = wrong;
  queueOf(l.queue, l.waiting.length);
  active(l.active || []);
  const before = version;
  version = l.version;
  if (before !== undefined && l.version !== before) refresh();
};
addEventListener('pagehide', () => stream.close());
