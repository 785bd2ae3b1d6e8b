// Two to six runs side by side, each from its own start, on one clock.
import { $, attempt, dark, make, naming, say, send } from './common.js';
import { crosses } from './cross.js';
import { Clock, Player } from './player.js';
import { go } from './uploads.js';

if ($('choose')) choice($('choose'));
else {
  const players = [...document.querySelectorAll('.player')].map(p => new Player(p));
  if (players.length) {
    new Clock(players, p => p.start, 0, Math.max(...players.map(p => p.end - p.start)));
    crosses(players);
  }
  together(players.map(p => p.run));
}

// choice says what would become of the runs that are chosen, before anything is made.
function choice(form) {
  const runs = () => [...form.querySelectorAll('input[name=run]:checked')].map(i => i.value);
  let asked = 0;
  async function judge() {
    const chosen = runs(), mine = ++asked;
    let found;
    if (chosen.length > 1) try { found = await send('POST', '/side/try', { runs: chosen }); } catch (e) { found = { fit: 0, refused: [], notes: [], why: e.message }; }
    if (mine !== asked) return;
    const fit = found?.fit >= 2;
    $('compare').disabled = !fit;
    const verdict = !found ? `Choose ${chosen.length ? 'at least one more' : 'two to six runs'}.` : fit ? `${found.fit} runs can be compared.` : found.why ?? 'These runs can’t be compared.';
    $('judged').replaceChildren(...(!form.querySelector('input[name=run]') ? [] : [make('p', { class: found && !fit ? 'wrong' : 'faint' }, verdict)]),
      ...(found?.refused || []).map(r => make('p', { class: 'wrong' }, `${r.run} is left out: ${r.reason}.`)),
      ...(found?.notes.length ? [make('details', {}, make('summary', {}, 'What this comparison can’t tell'), make('ul', {}, ...found.notes.map(n => make('li', {}, n))))] : []));
  }
  form.addEventListener('change', judge);
  judge();
  form.addEventListener('submit', e => {
    e.preventDefault();
    attempt(async () => {
      say('Comparing the runs.');
      const made = await naming('/side', { name: $('name').value.trim(), runs: runs() });
      if (!made) { say('Nothing was written.'); return; }
      go(`/side?name=${encodeURIComponent(made.name)}`);
    });
  });
}

// together draws one plan of several runs: where they agree, where two differ.
function together(runs) {
  $('joint').hidden = runs.length < 2;
  if (runs.length < 2) return;
  const [a, b] = ['diff-a', 'diff-b'].map((id, k) => { $(id).append(...runs.map((r, i) => make('option', { value: r.id, selected: i === k }, r.title))); return $(id); });
  const figure = $('joint-shown'), img = figure.querySelector('img');
  let shown = '';
  async function show(kind) {
    shown = kind;
    for (const k of ['agreement', 'difference']) $(k).setAttribute('aria-pressed', String(k === kind));
    figure.hidden = true;
    $('joint-why').textContent = '';
    if (!kind) return;
    const of = kind === 'difference' ? [a.value, b.value] : runs.map(r => r.id);
    if (of[0] === of[1]) { $('joint-why').textContent = 'Choose two different runs.'; return; }
    const asked = of.join();
    figure.dataset.of = asked;
    $('joint-why').textContent = 'Drawing the plan.';
    const answer = await fetch(`/joint/${kind}?${of.map(r => `run=${encodeURIComponent(r)}`).join('&')}&width=1200&height=900&theme=${dark() ? 'dark' : 'light'}`);
    if (shown !== kind || figure.dataset.of !== asked) return;
    if (!answer.ok) { $('joint-why').textContent = (await answer.json()).error; return; }
    URL.revokeObjectURL(img.src);
    img.src = URL.createObjectURL(await answer.blob());
    img.alt = kind === 'difference' ? `Floor that only one of ${of.join(' and ')} cleaned` : `In how many of the ${of.length} runs each spot was cleaned`;
    figure.querySelector('figcaption').textContent = img.alt;
    $('joint-why').textContent = '';
    figure.hidden = false;
  }
  for (const k of ['agreement', 'difference']) $(k).addEventListener('click', () => attempt(() => show(shown === k ? '' : k)));
  for (const s of [a, b]) s.addEventListener('change', () => attempt(() => show('difference')));
}
