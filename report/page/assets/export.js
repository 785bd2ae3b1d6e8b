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
    const want = chosen('run').flatMap(run => chosen('picture').filter(k => form.querySelector(`input[name=picture][value="${k}"]`).dataset.single !== undefined).map(kind => [run, kind]));
    const shown = want.slice(0, most).map(([run, kind]) => {
      // Drawn at half its size or less, so that letters keep their proportion.
      const url = `/pictures/${path(run)}/${kind}?width=${Math.round(w * Math.min(1, 4 * f))}&height=${Math.round(h * Math.min(1, 4 * f))}&theme=${$('theme').value}&labels=${$('labels').value}`;
      const words = `${form.querySelector(`input[name=picture][value="${kind}"]`).closest('label').textContent.trim()}: ${run}`;
      return make('figure', {}, make('img', { src: url, alt: words, loading: 'lazy', onerror: e => { e.target.replaceWith(make('p', { class: 'why' }, 'This can’t be drawn of this run.')); } }), make('figcaption', {}, words));
    });
    $('previews').replaceChildren(...shown);
    const n = chosen('run').length, rest = want.length - shown.length;
    $('previewed').textContent = !n ? 'Choose runs to see what would be drawn.' : !want.length ? 'Choose pictures to see what would be drawn.' : `As it would be drawn; nothing is written yet.${rest > 0 ? ` ${rest} more like these are not shown.` : ''}`;
  }, 300);
}
form.addEventListener('change', preview);
preview();

form.addEventListener('submit', e => {
  e.preventDefault();
  attempt(async () => {
    const button = form.querySelector('.go');
    button.disabled = true;
    say('Drawing the pictures. Large ones take a while.');
    let done;
    try {
      done = await naming('/export', {
        name: $('name').value.trim(), runs: chosen('run'), pictures: chosen('picture'), formats: chosen('format'), themes: [$('theme').value],
        labels: $('labels').value, unit: $('unit').value, width: Number($('width').value), height: Number($('height').value), dpi: Number($('dpi').value),
        same_scale: $('same').checked, tables: $('tables').checked, page: $('page').checked,
      });
    } finally { button.disabled = false; }
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
