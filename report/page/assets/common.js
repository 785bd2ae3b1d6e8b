// What all pages share: asking the server, saying what happened.

// send asks the server to change something; the answer is its JSON, of several lines the
// last: the others go to told. A refusal is thrown as an Error with the server's sentence.
export async function send(method, url, body, { told, signal } = {}) {
  const init = { method, signal };
  if (body !== undefined) {
    init.headers = { 'Content-Type': 'application/json' };
    init.body = JSON.stringify(body);
  }
  let answer, text;
  try {
    answer = await fetch(url, init);
    text = told ? await lines(answer, told) : await answer.text();
  } catch (e) {
    if (signal?.aborted) throw e;
    throw Object.assign(new Error('The connection to swathe serve is lost. Is it still running?'), { lost: true });
  }
  let data;
  try { data = JSON.parse(text); } catch { data = { error: text }; }
  if (!answer.ok || data.error) throw Object.assign(new Error(data.error || answer.statusText), { status: answer.status, taken: data.taken });
  return data;
}

// lines reads an answer line by line and returns the last.
async function lines(answer, told) {
  let last = '', rest = '';
  const reader = answer.body.pipeThrough(new TextDecoderStream()).getReader();
  for (let part = await reader.read(); !part.done; part = await reader.read()) {
    const whole = (rest + part.value).split('\n');
    rest = whole.pop();
    for (const l of whole) { if (last) told(JSON.parse(last)); last = l; }
  }
  return rest || last;
}

let fading;
// say tells the reader something, on the page and to a screen reader.
export function say(text) {
  const p = document.getElementById('say');
  p.textContent = text;
  clearTimeout(fading);
  if (text) fading = setTimeout(() => { p.textContent = ''; }, 6000 + 60 * text.length);
}

// asked shows a dialog and returns the value of the button that closed it. A dialog's
// closing is told a moment later: by then it may have been opened again, and the word is
// not for the new question.
export function asked(d) {
  d.returnValue = '';
  d.showModal();
  return new Promise(done => {
    const closed = () => {
      const mine = d.asking === closed;
      if (mine && d.open) return;
      d.removeEventListener('close', closed);
      done(mine ? d.returnValue : '');
    };
    d.asking = closed;
    d.addEventListener('close', closed);
  });
}

// attempt runs something and says what went wrong with it.
export async function attempt(work) {
  try { return await work(); } catch (e) { say(e.message); return undefined; }
}

export const $ = id => document.getElementById(id);

// make creates an element: make('p', {class: 'faint'}, 'words', child).
export function make(tag, attributes, ...children) {
  const svg = ['svg', 'path', 'circle', 'polygon', 'polyline', 'line', 'g', 'text'].includes(tag);
  const e = svg ? document.createElementNS('http://www.w3.org/2000/svg', tag) : document.createElement(tag);
  for (const [k, v] of Object.entries(attributes || {})) {
    if (k.startsWith('on')) e.addEventListener(k.slice(2), v);
    else if (v === true) e.setAttribute(k, '');
    else if (v !== false && v !== undefined && v !== null) e.setAttribute(k, v);
  }
  e.append(...children.filter(c => c !== null && c !== undefined));
  return e;
}

// clock writes seconds as minutes and seconds.
export function clock(s) {
  if (!Number.isFinite(s)) return '–';
  const sign = s < 0 ? '−' : '';
  s = Math.abs(s);
  const m = Math.floor(s / 60);
  return `${sign}${m}:${(s - 60 * m).toFixed(1).padStart(4, '0')}`;
}

export const dark = () => matchMedia('(prefers-color-scheme: dark)').matches;
export const percent = v => v === null || v === undefined ? 'not measured' : `${(100 * v).toFixed(1)} %`;
// path escapes the parts of an address.
export const path = id => id.split('/').map(encodeURIComponent).join('/');

// decide asks the reader to choose: decide('…', [['ok', 'Replace it'], …]) gives the
// key of what was pressed, '' for Cancel and Escape.
export async function decide(text, choices) {
  const d = make('dialog', { 'aria-label': text }, make('form', { method: 'dialog' }, make('p', {}, text),
    make('p', { class: 'actions' }, ...choices.map(([value, label]) => make('button', { value }, label)), make('button', { value: '', autofocus: true }, 'Cancel'))));
  document.body.append(d);
  const how = await asked(d);
  d.remove();
  return how;
}

// naming sends what is to be written under a name, and asks before it takes the
// place of something else: replace it, or another name.
export async function naming(url, body, way) {
  try { return await send('POST', url, body, way); } catch (e) {
    if (!e.taken) throw e;
    const how = await decide(e.message, [['other', 'Keep both'], ['replace', url === '/export' ? 'Write into it' : 'Replace it']]);
    if (how === 'replace') return send('POST', url, { ...body, replace: true }, way);
    if (how !== 'other') return undefined;
    const [, stem, n] = /^(.*?)(?:-(\d+))?$/.exec(e.taken);
    return naming(url, { ...body, name: `${stem}-${Number(n || 1) + 1}` }, way);
  }
}
