// The plan: a recording that answers a due entry is named by one click.
import { $, attempt, path, say, send } from './common.js';
import { conditions } from './conditions.js';

for (const b of document.querySelectorAll('button[data-file]')) {
  b.addEventListener('click', () => attempt(async () => {
    const d = b.dataset;
    await send('POST', `/name/${path(`${d.layout}/${d.file}`)}`, { robot: d.robot, phase: d.phase, trial: Number(d.trial) });
    say(`${d.file} is now ${d.robot}_${d.phase}_${d.trial}.`);
    setTimeout(() => location.reload(), 600);
  }));
}

$('new-plan')?.addEventListener('submit', e => {
  e.preventDefault();
  attempt(async () => {
    await send('POST', '/plan', { trials: Number($('p-trials').value), phases: $('p-phases').value });
    location.reload();
  });
});

const day = $('day'), of = $('day-of');
of.addEventListener('change', () => { if (of.value) location.href = `/plan?day=${of.value}#day`; });
conditions(day, () => `/days/${of.value}`, () => location.reload());
