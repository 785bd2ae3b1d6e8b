// Export: pictures, pages and tables of finished runs into a folder of the lab.
import { $, attempt, make, naming, path, say } from './common.js';

const form = $('export');
const chosen = name => [...form.querySelectorAll(`input[name=${name}]:checked`)].map(i => i.value);

// What would be drawn, small, of the first runs that are chosen: nothing is written.
const most = 12;
let pending;
function preview() {
  clearTimeout(pending);
  pending = setTimeout(() => {
    const w = Number($('width').value) || 1600, h = Number($('height').value) || 1200, f = 320 / Math.max(w, h);
    // Drawn at half its size or less, so that letters keep their proportion.
    const look = `width=${Math.round(w * Math.min(1, 4 * f))}&height=${Math.round(h * Math.min(1, 4 * f))}&theme=${$('theme').value}&labels=${$('labels').value}&unit=${$('unit').value}`;
    const runs = chosen('run'), words = kind => form.querySelector(`input[name=picture][value="${kind}"]`).closest('label').textContent.trim();
    const single = chosen('picture').filter(k => form.querySelector(`input[name=picture][value="${k}"]`).dataset.single !== undefined), joint = chosen('picture').filter(k => !single.includes(k));
    const want = runs.flatMap(run => single.map(kind => [`/pictures/${path(run)}/${kind}?${look}`, `${words(kind)}: ${run}`]));
    if (runs.length) {
      want.unshift(...joint.map(kind => [`/joint/${kind}?${runs.map(r => `run=${encodeURIComponent(r)}`).join('&')}&${look}`, `${words(kind)}: ${runs.length === 1 ? runs[0] : `${runs.length} runs`}`]));
      if ($('f-each').checked) want.unshift(...runs.map(run => [`/pictures/${path(run)}/film?${look}`, `From the middle of the film: ${run}`]));
    }
    const shown = want.slice(0, most).map(([url, text]) => make('figure', {}, make('img', { src: url, alt: text, loading: 'lazy', onerror: async e => {
      const said = await fetch(url).then(a => a.json()).catch(() => ({}));
      e.target.replaceWith(make('p', { class: 'why' }, said.error || 'This can’t be drawn.'));
    } }), make('figcaption', {}, text)));
    $('previews').replaceChildren(...shown);
    const rest = want.length - shown.length;
    $('previewed').textContent = !runs.length ? 'Choose runs to see what would be drawn.' : !want.length ? 'Choose pictures to see what would be drawn.' : `As it would be drawn; nothing is written yet.${rest > 0 ? ` ${rest} more like these are not shown.` : ''}`;
  }, 300);
}
form.addEventListener('change', preview);
preview();

// doing shows each part of an export: films grow, what is written is counted.
function doing() {
  const parts = new Map();
  let written = 0;
  return p => {
    if (p.written) written++;
    let l = parts.get(p.what);
    if (!l && p.share < 1) {
      l = { bar: make('progress', { max: 1, 'aria-label': p.what }) };
      l.line = make('li', {}, make('span', { class: 'file' }, p.what), ' ', l.bar);
      parts.set(p.what, l);
      $('doing').append(l.line);
    }
    if (l && p.share < 1) { if (p.share > 0) l.bar.value = p.share; } else if (l) { l.line.remove(); parts.delete(p.what); }
    $('stop').textContent = `Cancel (${written} ${written === 1 ? 'file' : 'files'} written)`;
  };
}

form.addEventListener('submit', e => {
  e.preventDefault();
  attempt(async () => {
    const button = form.querySelector('.go'), stop = new AbortController();
    button.disabled = true;
    $('doing').replaceChildren();
    $('stop').textContent = 'Cancel';
    $('stop').hidden = false;
    $('stop').onclick = () => stop.abort();
    say('The export has begun.');
    let done;
    try {
      done = await naming('/export', {
        name: $('name').value.trim(), runs: chosen('run'), pictures: chosen('picture'), formats: chosen('format'), themes: [$('theme').value],
        labels: $('labels').value, unit: $('unit').value, width: Number($('width').value), height: Number($('height').value), dpi: Number($('dpi').value),
        same_scale: $('same').checked, tables: $('tables').checked, page: $('page').checked,
        films: { each: $('f-each').checked, beside: $('f-beside').checked, clips: $('f-clips').checked, speed: Number($('f-speed').value), aspect: $('f-aspect').value, blur: $('f-blur').checked },
      }, { told: doing(), signal: stop.signal });
    } catch (problem) {
      if (!stop.signal.aborted) throw problem;
      say('The export was cancelled; what was complete is kept.');
      return;
    } finally { button.disabled = false; $('stop').hidden = true; $('doing').replaceChildren(); }
    if (!done) { say('Nothing was written.'); return; }
    $('done').hidden = false;
    $('zip').href = `/zip/exports/${path(done.name)}`;
    $('files').replaceChildren(
      ...done.files.map(f => make('li', {}, make('a', { href: `/exports/${path(`${done.name}/${f}`)}?download`, download: f }, f))),
      ...(done.notes || []).map(n => make('li', { class: 'faint' }, n)));
    say(`${done.files.length} files written to exports/${done.name}.`);
    $('done').scrollIntoView();
  });
});
