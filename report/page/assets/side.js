// Two to six runs side by side, each from its own start, on one clock.
import { $, attempt, naming, say } from './common.js';
import { Clock, Player } from './player.js';
import { go } from './uploads.js';

const form = $('choose');
if (form) {
  form.addEventListener('submit', e => {
    e.preventDefault();
    const runs = [...form.querySelectorAll('input[name=run]:checked')].map(i => i.value);
    attempt(async () => {
      say('Comparing the runs.');
      const made = await naming('/side', { name: $('name').value.trim(), runs });
      if (!made) { say('Nothing was written.'); return; }
      go(`/side?name=${encodeURIComponent(made.name)}`);
    });
  });
} else {
  const players = [...document.querySelectorAll('.player')].map(p => new Player(p));
  if (players.length) new Clock(players, p => p.start, 0, Math.max(...players.map(p => p.end - p.start)));
}
