const spark = this; let looks = 100;
const begin = () => {
  const view = spark.closest('.VIEW');
  if (!view || !view.querySelector('.VIEW-whole')) { if (looks--) setTimeout(begin, 100); return; }
  if (view.dataset.hears) return;
  view.dataset.hears = 'keys';
  view.tabIndex = 0;
  view.setAttribute('data-lm-suppress-shortcuts', 'true');
  view.setAttribute('role', 'region');
  view.setAttribute('aria-label', 'Projector view: arrow keys or page keys for next and back, F for full screen');
  const words = {ArrowRight: 'next', ArrowDown: 'next', PageDown: 'next', ' ': 'next', Enter: 'next',
                 ArrowLeft: 'back', ArrowUp: 'back', PageUp: 'back', Backspace: 'back', f: 'whole', F: 'whole'};
  const press = name => view.querySelector('.VIEW-' + name).click();
  view.addEventListener('keydown', event => {
    const name = words[event.key];
    if (!name || event.ctrlKey || event.altKey || event.metaKey) return;
    if ((event.key === ' ' || event.key === 'Enter') && event.target.closest('button')) return;
    event.preventDefault();
    event.stopPropagation();
    if (!event.repeat) press(name);
  });
  view.querySelector('.VIEW-whole').addEventListener('click', () => {
    if (document.fullscreenElement) document.exitFullscreen(); else view.requestFullscreen();
    view.focus({preventScroll: true});
  });
};
begin();
