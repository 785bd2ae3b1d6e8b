// Export: pictures, pages and tables of finished runs into a folder of the lab.
import { $, attempt, make, path, say, send } from './common.js';

const form = $('export');
const chosen = name => [...form.querySelectorAll(`input[name=${name}]:checked`)].map(i => i.value);

form.addEventListener('submit', e => {
  e.preventDefault();
  attempt(async () => {
    say('Drawing the pictures. Large ones take a while.');
    const done = await send('POST', '/export', {
      name: $('name').value.trim(), runs: chosen('run'), pictures: chosen('picture'), formats: chosen('format'), themes: [$('theme').value],
      labels: $('labels').value, unit: $('unit').value, width: Number($('width').value), height: Number($('height').value), dpi: Number($('dpi').value),
      same_scale: $('same').checked, tables: $('tables').checked, page: $('page').checked,
    });
    $('done').hidden = false;
    $('files').replaceChildren(
      ...done.files.map(f => make('li', {}, make('a', { href: `/exports/${path(`${done.name}/${f}`)}?download`, download: f }, f))),
      ...(done.notes || []).map(n => make('li', { class: 'faint' }, n)));
    say(`${done.files.length} files written to exports/${done.name}.`);
    $('done').scrollIntoView();
  });
});
