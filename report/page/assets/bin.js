// Renaming and removing runs, and the page of the bin.
import { $, asked, attempt, make, path, say, send } from './common.js';

// change asks what becomes of a run.
export async function change(row) {
  const d = $('change');
  $('change-run').textContent = row.id;
  $('c-robot').value = row.robot;
  $('c-phase').value = row.phase || 'single';
  $('c-trial').value = row.trial || 1;
  $('renaming').hidden = !row.recording || !row.robot;
  for (const i of $('renaming').querySelectorAll('input')) i.disabled = $('renaming').hidden;
  $('c-all').hidden = !row.recording;
  $('c-result').hidden = !row.result;
  $('c-rename').hidden = $('renaming').hidden;
  const id = path(row.id);
  switch (await asked(d)) {
    case 'rename': {
      const to = { robot: $('c-robot').value.trim(), phase: $('c-phase').value, trial: Number($('c-trial').value) };
      await send('POST', `/runs/${id}/rename`, to);
      say(`${row.id} is now ${row.layout}/${to.robot}_${to.phase}_${to.trial}${row.result ? '; it is measured again, and the old result is in the bin' : ''}.`);
      break;
    }
    case 'all': await send('POST', `/runs/${id}/discard`, { what: 'recording and result' }); say(`${row.id} is in the bin.`); break;
    case 'result': await send('POST', `/runs/${id}/discard`, { what: 'result' }); say(`The result of ${row.id} is in the bin. Press Measure to measure it again.`); break;
  }
}

// The page of the bin.
for (const b of document.querySelectorAll('#bin button[data-do=restore]')) {
  b.addEventListener('click', () => attempt(async () => {
    const tr = b.closest('tr');
    await send('POST', `/bin/${path(tr.dataset.id)}/restore`);
    say(`${tr.cells[0].textContent} is back.`);
    tr.remove();
    if (!document.querySelector('#bin tbody tr')) { document.querySelector('#bin').replaceWith(make('p', {}, 'The bin is empty.')); $('empty').hidden = true; }
  }));
}
if ($('sure')) {
  $('empty').addEventListener('click', () => attempt(async () => {
    if (await asked($('sure')) !== 'ok') return;
    await send('DELETE', '/bin');
    location.reload();
  }));
}
