// The bench: a form for one reading; what is refused stays in it, with the reason.
import { $, say, send } from './common.js';

const form = $('reading');
const text = id => $(id).value.trim();
const unit = () => { $('b-unit').value = $('b-quantity').selectedOptions[0]?.dataset.unit || ''; };
$('b-quantity').addEventListener('change', unit);
unit();

form.addEventListener('submit', async e => {
  e.preventDefault();
  const wrong = $('b-wrong');
  wrong.hidden = true;
  try {
    const done = await send('POST', '/bench', {
      robot: text('b-robot'), quantity: text('b-quantity'), value: text('b-value'), unit: text('b-unit'), uncertainty: text('b-uncertainty'),
      trial: Number(text('b-trial')), pass: Number(text('b-pass')), surface: text('b-surface'), layout: text('b-layout'), phase: text('b-phase'),
      sample: text('b-sample'), firmware: text('b-firmware'), date: text('b-date'), operator: text('b-operator'), note: text('b-note'), replace: $('b-replace').checked,
    });
    const fresh = new DOMParser().parseFromString(await (await fetch('/bench')).text(), 'text/html');
    $('values').replaceWith(fresh.getElementById('values'));
    for (const d of $('values').children) d.open = d.querySelector('h2').textContent === text('b-robot');
    $('b-value').value = '';
    $('b-replace').checked = false;
    say(done.said);
    $('b-value').focus();
  } catch (problem) {
    wrong.textContent = problem.message;
    wrong.hidden = false;
  }
});
