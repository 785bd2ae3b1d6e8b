// The table of runs: sorted by any column, filtered, with the columns that the
// reader chose. However long the list, only what may be on the screen is built.
import { $, clock, make, path, percent, send } from './common.js';

const step = 150; // rows built at a time
const words = { mapping: 'mapping', mapped: 'mapped', single: 'single' };
const share = v => (v === null || v === undefined ? '' : percent(v));
const fixed = (v, n) => (v === null || v === undefined ? '' : v.toFixed(n));

// Columns: what a cell shows, what it is sorted by, whether it is there at first.
const columns = {
  run: { title: 'Run', by: r => r.id, always: true },
  layout: { title: 'Layout', by: r => r.layout },
  robot: { title: 'Robot', by: r => r.robot },
  phase: { title: 'Phase', by: r => words[r.phase] ?? r.phase },
  trial: { title: 'Trial', by: r => r.trial || null, number: true, text: r => r.trial || '' },
  state: { title: 'State', by: r => r.state, first: true },
  share: { title: 'Share of reachable floor', by: r => r.reachable_share, text: r => share(r.reachable_share), number: true, first: true },
  covered: { title: 'Share of open floor', by: r => r.covered_share, text: r => share(r.covered_share), number: true },
  minutes: { title: 'Minutes', by: r => r.minutes, text: r => (r.minutes === null ? '' : clock(60 * r.minutes).split('.')[0]), number: true, first: true },
  distance: { title: 'Distance, m', by: r => r.distance_m, text: r => fixed(r.distance_m, 1), number: true },
  redundancy: { title: 'Redundancy', by: r => r.redundancy, text: r => fixed(r.redundancy, 2), number: true },
  lost: { title: 'Lost', by: r => r.lost_share, text: r => share(r.lost_share), number: true },
  ended: { title: 'Ended', by: r => r.ended },
  firmware: { title: 'Firmware', by: r => r.firmware },
  date: { title: 'Date', by: r => r.date },
};
const filters = { layout: 'Layout', robot: 'Robot', phase: 'Phase', state: 'State', firmware: 'Firmware' };

const key = () => `runs of ${document.querySelector('.lab strong').textContent}`;
const kept = () => { try { return JSON.parse(localStorage.getItem(key())) || {}; } catch { return {}; } };

// Table shows rows; act(row, what) is called for what is pressed in one of them.
export class Table {
  constructor(act) {
    this.act = act;
    this.rows = [];
    this.chosen = new Set();
    const k = kept();
    this.sort = columns[k.sort?.[0]] ? k.sort : ['run', 1];
    this.shown = new Set(Object.keys(columns).filter(c => columns[c].always || (k.columns ? k.columns.includes(c) : columns[c].first)));
    this.want = k.want || {};
    this.body = $('rows');
    $('filter').value = k.text || '';
    $('filter').addEventListener('input', () => this.changed());
    this.body.addEventListener('change', e => { if (e.target.name === 'run') { if (e.target.checked) this.chosen.add(e.target.value); else this.chosen.delete(e.target.value); this.count(); } });
    this.body.addEventListener('click', e => {
      const b = e.target.closest('button[data-do]');
      if (b) this.act(this.rows.find(r => r.id === b.closest('tr').dataset.id), b.dataset.do);
    });
    $('all').addEventListener('change', e => {
      for (const r of this.list) if (r.result) { if (e.target.checked) this.chosen.add(r.id); else this.chosen.delete(r.id); }
      for (const i of this.body.querySelectorAll('input[name=run]')) i.checked = this.chosen.has(i.value);
      this.count();
    });
    // What is chosen counts, whether its row is built or not.
    $('choose').addEventListener('submit', () => {
      const built = new Set([...this.body.querySelectorAll('input[name=run]')].map(i => i.value));
      $('more-chosen').replaceChildren(...[...this.chosen].filter(id => !built.has(id)).map(id => make('input', { type: 'hidden', name: 'run', value: id })));
    });
    $('columns').append(...Object.entries(columns).filter(([, c]) => !c.always).map(([id, c]) => make('label', {},
      make('input', { type: 'checkbox', checked: this.shown.has(id), 'data-column': id, onchange: e => { if (e.target.checked) this.shown.add(id); else this.shown.delete(id); this.changed(); } }), ` ${c.title}`)));
    $('clear').addEventListener('click', () => { this.want = {}; $('filter').value = ''; this.changed(); });
    new IntersectionObserver(seen => { if (seen.some(s => s.isIntersecting)) this.grow(); }, { rootMargin: '600px' }).observe($('end'));
  }

  // take shows another list; what was chosen stays chosen as far as it is there.
  take(rows) {
    this.rows = rows;
    const there = new Set(rows.map(r => r.id));
    for (const id of this.chosen) if (!there.has(id)) this.chosen.delete(id);
    this.show();
  }

  changed() {
    try { localStorage.setItem(key(), JSON.stringify({ sort: this.sort, columns: [...this.shown], want: this.want, text: $('filter').value })); } catch { /* this visit alone */ }
    this.built = 0;
    this.show();
  }

  show() {
    const text = $('filter').value.toLowerCase().split(/\s+/).filter(Boolean);
    this.list = this.rows.filter(r => text.every(w => r.id.toLowerCase().includes(w)) && Object.keys(this.want).every(f => !this.want[f] || r[f] === this.want[f]));
    const [by, way] = this.sort, of = columns[by].by, order = new Intl.Collator('en', { numeric: true });
    const empty = v => v === null || v === undefined || v === '';
    // What is not known comes last, whichever way.
    const keyed = this.list.map(r => [of(r), r]);
    keyed.sort(([a, r], [b, q]) => (empty(a) - empty(b)) || (empty(a) ? 0 : way * (typeof a === 'number' ? a - b : order.compare(a, b))) || order.compare(r.id, q.id));
    this.list = keyed.map(k => k[1]);
    this.head();
    this.filters();
    const focus = document.activeElement?.closest?.('#rows tr')?.dataset.id, what = document.activeElement?.dataset?.do;
    const n = Math.max(this.built || 0, step);
    this.built = 0;
    this.body.replaceChildren();
    this.grow(n);
    if (focus) { const tr = this.body.querySelector(`tr[data-id="${CSS.escape(focus)}"]`); (tr?.querySelector(what ? `[data-do="${what}"]` : 'input') || tr?.querySelector('button'))?.focus(); }
    this.count();
  }

  // grow builds the next rows.
  grow(n = step) {
    if (!this.list) return;
    const to = Math.min(this.list.length, this.built + n);
    for (; this.built < to; this.built++) this.body.append(this.row(this.list[this.built], this.built));
    if (!this.rows.length) this.body.replaceChildren(make('tr', {}, make('td', { colspan: this.shown.size + 2 }, 'There is no recording yet.')));
    else if (!this.list.length) this.body.replaceChildren(make('tr', {}, make('td', { colspan: this.shown.size + 2 }, 'No run is like that. '), make('td', {})));
  }

  count() {
    const all = this.rows.length, n = this.list.length, c = this.chosen.size;
    $('count').textContent = `${n === all ? `${all} ${all === 1 ? 'run' : 'runs'}` : `${n} of ${all} runs`}${c ? `, ${c} selected` : ''}`;
    const able = this.list.filter(r => r.result), some = able.filter(r => this.chosen.has(r.id)).length;
    $('all').checked = some > 0 && some === able.length;
    $('all').indeterminate = some > 0 && some < able.length;
    $('clear').hidden = n === all && !$('filter').value;
    $('table').setAttribute('aria-rowcount', n + 1);
  }

  head() {
    const cells = [...this.shown].sort((a, b) => Object.keys(columns).indexOf(a) - Object.keys(columns).indexOf(b)).map(id => {
      const c = columns[id], on = this.sort[0] === id, way = this.sort[1];
      return make('th', { scope: 'col', class: c.number ? 'n' : null, 'aria-sort': on ? (way > 0 ? 'ascending' : 'descending') : null },
        make('button', { type: 'button', class: 'sort', 'data-sort': id, onclick: () => { this.sort = [id, on ? -way : c.number ? -1 : 1]; this.changed(); document.querySelector(`[data-sort="${id}"]`).focus(); } }, c.title, make('span', { 'aria-hidden': 'true' }, on ? (way > 0 ? ' ▲' : ' ▼') : '')));
    });
    const row = $('head');
    while (row.children.length > 1) row.lastChild.remove();
    row.append(...cells, make('th', { scope: 'col' }, make('span', { class: 'hide' }, 'Actions')));
  }

  filters() {
    $('filters').replaceChildren(...Object.entries(filters).flatMap(([f, title]) => {
      const values = [...new Set(this.rows.map(r => r[f]).filter(Boolean))].sort(new Intl.Collator('en', { numeric: true }).compare);
      if (values.length < 2 && !this.want[f]) return [];
      return [make('label', {}, `${title} `, make('select', { 'data-filter': f, onchange: e => { this.want[f] = e.target.value; this.changed(); document.querySelector(`[data-filter="${f}"]`)?.focus(); } },
        make('option', { value: '' }, 'all'), ...values.map(v => make('option', { value: v, selected: this.want[f] === v }, v)), ...(this.want[f] && !values.includes(this.want[f]) ? [make('option', { selected: true }, this.want[f])] : []))), ' '];
    }));
  }

  row(r, i) {
    const button = (what, text, label) => make('button', { type: 'button', 'data-do': what, 'aria-label': label ? `${text} ${label}` : `${text} ${r.id}` }, text);
    const cell = id => {
      const c = columns[id];
      if (id === 'run') return make('th', { scope: 'row' }, r.result ? make('a', { href: `/runs/${path(r.id)}` }, r.id) : r.id);
      if (id === 'state') {
        return make('td', {}, make('span', { class: 'state' }, r.state), r.differs ? make('span', { class: 'faint' }, ' with another set-up than today’s') : null,
          r.same ? make('p', { class: 'why' }, `The same recording as ${r.same}, to the last byte.`) : null, r.why ? make('p', { class: 'why' }, r.why) : null);
      }
      return make('td', { class: c.number ? 'n' : null }, String((c.text ? c.text(r) : c.by(r)) ?? ''));
    };
    const doing = { 'needs a name': () => button('name', 'Name it', r.file), waiting: () => button('stop', 'Stop'), 'being measured': () => button('stop', 'Stop'), stopped: () => button('measure', 'Measure'), 'being copied': () => null }[r.state] || (() => (r.recording ? button('again', 'Measure again') : null));
    return make('tr', { 'data-id': r.id, 'data-state': r.state, 'aria-rowindex': i + 2 },
      make('td', {}, r.result ? make('input', { type: 'checkbox', name: 'run', value: r.id, checked: this.chosen.has(r.id), 'aria-label': `Choose ${r.id}` }) : null),
      ...Object.keys(columns).filter(c => this.shown.has(c)).map(cell),
      make('td', { class: 'do' }, doing(), ' ', r.state === 'being copied' ? null : make('button', { type: 'button', 'data-do': 'change', 'aria-label': `Change ${r.id}: rename or remove` }, 'Change')));
  }
}

// rowsNow asks for the whole list.
export async function rowsNow() { return (await send('GET', '/rows')).rows; }
