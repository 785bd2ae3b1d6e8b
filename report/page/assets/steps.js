// The way through a first set-up: numbered steps, each with a tick once it is done,
// each leading to its place.
import { $, make } from './common.js';

const numbers = p => Array.isArray(p) && p.length >= 2 && p.every(Number.isFinite);
const value = v => (v && typeof v === 'object' ? v.value : v);

// list is what there is to do: its words, whether it is done, and where it is done.
function list(S, solved, clean) {
  const camera = S.doc.cameras?.[S.cameraName], layout = S.doc.layouts?.[S.layoutName], marks = (camera?.marks || []).filter(m => numbers(m.floor) && numbers(m.pixel)).length;
  const robots = Object.values(S.doc.robots || {});
  const right = Boolean(S.tried?.judged) && S.tried.problems.length === 0;
  return [
    ['Recording', Boolean(S.file), '#footage'],
    [marks && !solved()?.camera ? `Marks (${marks}; four or more)` : 'Marks', Boolean(solved()?.camera), '#tab-marks'],
    ['Room', (layout?.room || []).length >= 3, '#tab-room'],
    ['Robots', robots.length > 0 && robots.every(r => (r.outline || value(r.diameter) > 0) && Object.values(r.tools || {}).every(t => value(t.width) > 0)), '#tab-robots'],
    ['Check', right, '#check'],
    ['Save', right && clean, '#save'],
  ];
}

// steps shows them; the first that is not done is the one to go on with.
export function steps(S, solved, clean) {
  const all = list(S, solved, clean), next = all.findIndex(s => !s[1]);
  const text = JSON.stringify([all, next]);
  if ($('steps').dataset.shown === text) return;
  $('steps').dataset.shown = text;
  const had = document.activeElement?.dataset?.step;
  $('steps').replaceChildren(...all.map(([words, done, to], i) => make('li', { class: done ? 'done' : null }, make('button', { type: 'button', 'data-step': i, 'aria-current': i === next ? 'step' : null, onclick: () => {
    const e = document.querySelector(to);
    if (e.getAttribute('role') === 'tab') e.click();
    const target = document.querySelector(to);
    target.scrollIntoView({ block: 'center' });
    target.focus();
  } }, make('span', { 'aria-hidden': 'true', class: 'no' }, done ? '✓' : String(i + 1)), ` ${words}`, make('span', { class: 'hide' }, done ? ', done' : '')))));
  if (had !== undefined) document.querySelector(`[data-step="${had}"]`)?.focus();
}
