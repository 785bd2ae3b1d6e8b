// Forms of conditions: only what was changed is sent.
import { send, say } from './common.js';

export function conditions(form, url, done) {
  form.addEventListener('submit', async e => {
    e.preventDefault();
    const changed = {};
    for (const f of form.querySelectorAll('[name]')) {
      const was = f.tagName === 'SELECT' ? [...f.options].find(o => o.defaultSelected)?.value ?? '' : f.defaultValue;
      if (f.value.trim() !== was) changed[f.name] = f.value.trim();
    }
    if (!Object.keys(changed).length) { say('Nothing was changed.'); return; }
    try {
      await send('PUT', url(), changed);
      say('Saved.');
      setTimeout(done, 600);
    } catch (problem) { say(problem.message); }
  });
}
