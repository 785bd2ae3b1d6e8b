// Uploads that outlive the page they began on. They go in pieces, each to the end
// of what has arrived, so that one that breaks off goes on where it was. While one
// is on its way, links open in a frame over this page, which stays and sends.
import { $, attempt, clock, make, path, say, send } from './common.js';

const piece = 32 << 20; // bytes of one request
const inFrame = window.parent !== window;

// jobs are what is to be sent, in turn: two at once would only halve the speed.
const jobs = [];
let sending = false;

// active tells whether leaving this page would break an upload off.
const active = () => jobs.length > 0;

const known = /^.+_(mapping|mapped|single)_[1-9][0-9]*(_part[0-9]+)?\.[^.]+$/i;

// add takes files for a layout; done(layout, name, known) is called for each that
// has arrived while the page that asked is still to be seen.
export function add(layout, files, done, framed = false) {
  if (inFrame) { window.parent.swatheUploads.add(layout, files, done); return; }
  for (const f of files) {
    const bar = make('progress', { max: 1, value: 0, 'aria-label': f.name }), how = make('span', { class: 'how' });
    const job = { layout, f, bar, how, done, framed, stop: new AbortController() };
    job.line = make('li', {}, make('span', { class: 'file' }, f.name), ' ', bar, ' ', how, ' ',
      make('button', { type: 'button', 'aria-label': `Cancel ${f.name}`, onclick: () => cancel(job) }, 'Cancel'));
    for (const l of $('arriving').querySelectorAll('li.part')) if (l.dataset.of === `${layout}/${f.name}`) l.remove();
    $('arriving').append(job.line);
    how.textContent = 'waiting';
    jobs.push(job);
  }
  show();
  if (!sending) run();
}

async function run() {
  sending = true;
  while (jobs.length) {
    const job = jobs[0];
    try {
      await upload(job);
      job.line.remove();
      say(`${job.f.name} has arrived.`);
      if (job.framed || !frame) job.done?.(job.layout, job.f.name, known.test(job.f.name));
    } catch (e) {
      if (job.stop.signal.aborted) job.line.remove(); else refused(job.line, e.message);
    }
    jobs.splice(jobs.indexOf(job), 1);
    show();
  }
  sending = false;
}

async function cancel(job) {
  job.stop.abort();
  if (jobs[0] !== job) { jobs.splice(jobs.indexOf(job), 1); job.line.remove(); }
  await attempt(() => send('DELETE', address(job)));
  say(`${job.f.name} was cancelled.`);
  show();
}

const address = ({ layout, f }) => `/uploads/${path(`${layout}/${f.name}`)}?size=${f.size}&modified=${f.lastModified}`;

// lost is how an attempt ends that is worth repeating.
class Lost extends Error { lost = true; }

// upload sends one file, again and again from where it broke off.
async function upload(job) {
  const { f, stop } = job;
  job.seen = [];
  for (let pause = 500; ; pause = Math.min(2 * pause, 15000)) {
    try {
      let at = (await send('GET', address(job))).have;
      if (at > 0 && at < f.size) say(`${f.name} goes on from ${size(at)}.`);
      do {
        at = await put(job, at);
        pause = 500;
      } while (at < f.size);
      return;
    } catch (e) {
      if (stop.signal.aborted || !e.lost) throw e;
      job.how.textContent = `connection lost at ${size(job.at ?? 0)} of ${size(f.size)}; it goes on by itself`;
      job.seen = [];
      await new Promise(again => { const t = setTimeout(again, pause); stop.signal.addEventListener('abort', () => { clearTimeout(t); again(); }, { once: true }); addEventListener('online', again, { once: true }); });
      if (stop.signal.aborted) throw e;
    }
  }
}

// put sends a piece and returns how much has arrived then.
function put(job, at) {
  const { f, stop } = job;
  return new Promise((done, fail) => {
    const x = new XMLHttpRequest(); // fetch cannot tell how far an upload is
    x.open('PATCH', address(job));
    x.setRequestHeader('Upload-Offset', at);
    x.upload.onprogress = e => progress(job, at + e.loaded);
    x.onerror = () => fail(new Lost('the connection broke'));
    x.onabort = () => fail(new Error('cancelled'));
    x.onload = () => {
      const have = Number(x.getResponseHeader('Upload-Offset') ?? NaN);
      if (x.status === 200 || x.status === 201) { done(have); return; }
      // Another one was sending it, or the last answer was lost: go on from what is there.
      if (x.status === 409 && Number.isFinite(have) && have !== at) { fail(new Lost('another place')); return; }
      let text = x.responseText;
      try { text = JSON.parse(text).error; } catch { /* as it is */ }
      fail(text.includes('broke off') ? new Lost(text) : new Error(text));
    };
    stop.signal.addEventListener('abort', () => x.abort(), { once: true });
    if (stop.signal.aborted) fail(new Error('cancelled')); else x.send(f.slice(at, at + piece));
  });
}

const size = n => (n >= 1e9 ? `${(n / 1e9).toFixed(2)} GB` : n >= 1e6 ? `${(n / 1e6).toFixed(1)} MB` : `${Math.ceil(n / 1e3)} kB`);

// progress shows size, speed over the last ten seconds, and the time left by it.
function progress(job, at) {
  const now = performance.now(), { f, seen } = job;
  job.at = at;
  seen.push([now, at]);
  while (seen.length > 2 && seen[0][0] < now - 10000) seen.shift();
  job.bar.value = at / f.size;
  const [t0, n0] = seen[0], rate = now - t0 > 500 ? 1000 * (at - n0) / (now - t0) : 0;
  const left = rate > 0 ? (f.size - at) / rate : NaN;
  job.how.textContent = `${size(at)} of ${size(f.size)}${rate > 0 ? `, ${size(rate)}/s, ${left < 60 ? `${Math.ceil(left)} s` : `${clock(left).split('.')[0]} min`} left` : ''}`;
}

// refused says on a line of its own why a file was not taken.
export function refused(line, why) {
  if (inFrame) { window.parent.swatheUploads.refused(line, why); return; }
  line.querySelectorAll('progress, .how, button').forEach(e => e.remove());
  line.append(make('span', { class: 'wrong', role: 'alert' }, why), ' ', make('button', { type: 'button', 'aria-label': 'Close this notice', onclick: () => { line.remove(); show(); } }, 'Close'));
  $('arriving').append(line);
  show();
}

// waiting lists what has arrived in part and is not being sent from here.
async function waiting() {
  let list;
  try { list = await send('GET', '/uploads'); } catch { return; }
  for (const l of $('arriving').querySelectorAll('li.part')) l.remove();
  for (const p of list) {
    if (p.sending || jobs.some(j => j.layout === p.layout && j.f.name === p.name)) continue;
    const line = make('li', { class: 'part', 'data-of': `${p.layout}/${p.name}` }, make('span', { class: 'file' }, p.name), ' ', make('progress', { max: 1, value: p.have / p.size, 'aria-label': `${p.name}, share arrived` }),
      ` ${size(p.have)} of ${size(p.size)} arrived for ${p.layout}. Choose or drop the same file again to go on. `,
      make('button', { type: 'button', 'aria-label': `Remove the part of ${p.name}`, onclick: () => attempt(async () => {
        await send('DELETE', `/uploads/${path(`${p.layout}/${p.name}`)}?size=${p.size}&modified=${p.modified}`);
        line.remove();
        show();
      }) }, 'Remove'));
    $('arriving').append(line);
  }
  show();
}

function show() {
  const box = $('uploads');
  box.hidden = $('arriving').children.length === 0;
  document.body.classList.toggle('sending', active());
}

// Leaving. A link followed while something is on its way opens in the frame.
let frame = null;
function inside(url) {
  if (!frame) {
    history.pushState({ swathe: 'frame' }, '', location.href);
    frame = make('iframe', { id: 'other', title: 'Page of the lab' });
    frame.addEventListener('load', () => {
      let at;
      try { at = frame.contentWindow.location; } catch { return; }
      if (at.href === 'about:blank') return;
      if (!active()) { location.replace(at.href); return; }
      document.title = frame.contentDocument.title;
      history.replaceState({ swathe: 'frame' }, '', at.href);
    });
    document.body.append(frame);
    document.body.classList.add('framed');
    for (const e of document.querySelectorAll('body > header, body > main, body > .skip')) e.inert = true;
  }
  frame.src = url;
}

function outside() {
  frame.remove();
  frame = null;
  document.body.classList.remove('framed');
  for (const e of document.querySelectorAll('[inert]')) e.inert = false;
}

// go leads to another page of the lab.
export function go(url) { if (!inFrame && active()) inside(url); else location.href = url; }

if (!inFrame) {
  window.swatheUploads = { add: (layout, files, done) => add(layout, files, done, true), refused };
  addEventListener('popstate', () => { if (frame) outside(); });
  addEventListener('click', e => {
    const a = e.target.closest?.('a[href]');
    if (!a || !active() || e.defaultPrevented || e.button !== 0 || e.ctrlKey || e.metaKey || e.shiftKey || e.altKey || a.target || a.hasAttribute('download')) return;
    const to = new URL(a.href, location.href);
    if (to.origin !== location.origin || to.pathname === location.pathname && to.search === location.search && to.hash) return;
    e.preventDefault();
    inside(to.href);
  });
  addEventListener('submit', e => {
    if (!active() || e.defaultPrevented || e.target.method !== 'get' || e.target.getAttribute('method') === null) return;
    e.preventDefault();
    const to = new URL(e.submitter?.formAction || e.target.action, location.href);
    to.search = new URLSearchParams(new FormData(e.target)).toString();
    inside(to.href);
  });
  addEventListener('beforeunload', e => { if (active()) e.preventDefault(); });
  waiting();
}
