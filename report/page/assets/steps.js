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

// What to click, step by step: a drawing and a sentence. The lines are those of a page of
// 200 by 110; r is a frame, d is drawn bold, p is where the pointer is, t are words.
const drawings = [
  { r: [[10, 40, 180, 30]], d: 'M165 52l8 8 8-8', p: [120, 58], t: [[20, 60, 'recording']],
    say: 'Choose a recording above the picture. Its frame is what you click on next. None yet? Add one under Runs.' },
  { d: 'M40 15H130L160 95H10ZM30 80h12m-6-6v12M124 80h12m-6-6v12M50 27h12m-6-6v12M108 27h12m-6-6v12', p: [36, 80], r: [[146, 20, 44, 20], [146, 44, 44, 20]], t: [[150, 35, 'x 0.20'], [150, 59, 'y 0.20']],
    say: 'Click each mark on the floor in the picture, then type where it lies: x and y in metres. Four marks or more, spread to the corners.' },
  { d: 'M40 15H150L180 95H12Z', p: [180, 95], t: [[30, 12, '1'], [154, 12, '2'], [184, 92, '3'], [2, 92, '4']], dots: [[40, 15], [150, 15], [180, 95], [12, 95]],
    say: 'Name the layout, press “Draw the room” and click its corners one after another; type a side’s length if you measured it. Then draw what stands in it under Furniture and objects.' },
  { d: 'M100 55m-38 0a38 38 0 1 0 76 0a38 38 0 1 0-76 0M72 40H128M54 102H146m-92-4v8m92-8v8', t: [[78, 36, 'brush'], [150, 106, 'diameter']],
    say: 'Name the robot as in its recordings’ names, and type its diameter, its height, and the width of what cleans.' },
  { d: 'M20 28l6 6 10-14M20 58l6 6 10-14M28 78v14m0 5v3', r: [[50, 20, 130, 14], [50, 50, 130, 14], [50, 84, 130, 14]],
    say: 'Read the list under Check. Each line names what is missing or wrong; fix it until none is left.' },
  { r: [[30, 35, 140, 34]], t: [[48, 57, 'Save as lab.yaml']], p: [140, 60], say: 'Press Save. Recordings that wait are measured from then on.' },
];

function drawing({ r = [], d = '', p, t = [], dots = [] }) {
  const svg = make('svg', { viewBox: '0 0 210 115', 'aria-hidden': 'true' }, make('path', { d: r.map(([x, y, w, h]) => `M${x} ${y}h${w}v${h}h${-w}z`).join('') }), make('path', { d, class: 'bold' }),
    ...dots.map(([x, y]) => make('path', { class: 'dot', d: `M${x - 4} ${y - 4}h8v8h-8z` })), ...t.map(([x, y, words]) => make('text', { x, y }, words)));
  if (p) svg.append(make('path', { class: 'pointer', transform: `translate(${p[0]} ${p[1]})`, d: 'M0 0V18L5 14L9 21L12 19L8 12H14Z' }));
  return svg;
}

// steps shows them; the first that is not done is the one to go on with.
export function steps(S, solved, clean) {
  const all = list(S, solved, clean), next = all.findIndex(s => !s[1]);
  const text = JSON.stringify([all, next]);
  if ($('steps').dataset.shown === text) return;
  $('steps').dataset.shown = text;
  // A set-up that is right and saved needs no recording any more.
  $('next').hidden = all.at(-1)[1];
  if (!$('next').hidden) $('next').replaceChildren(drawing(drawings[next]), make('figcaption', {}, make('strong', {}, `${next + 1}. ${all[next][0]}. `), drawings[next].say));
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
