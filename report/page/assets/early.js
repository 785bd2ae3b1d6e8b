// Until the page's own scripts have run, a button does nothing of use, or sends its form
// as it stands: what was pressed last is kept, and pressed once they are there. Not a
// module: it is at work before the first button is drawn.
{
  let pressed;
  const keep = e => {
    const b = e.target.closest?.('button');
    if (!b) return;
    e.preventDefault();
    e.stopImmediatePropagation();
    pressed = b;
  };
  addEventListener('click', keep, true);
  document.addEventListener('DOMContentLoaded', () => {
    removeEventListener('click', keep, true);
    pressed?.click();
  });
}
