"""How the projector view looks, and how it hears its keys.

All sizes are shares of the view's width: on a wall of 1280 x 720 or 1920 x 1080, and in a cell, the same lines stand in the same places.
Letters are 1/46 of the width, about 28 of 1280 pixels: some 16 minutes of arc at six times the height of the wall's picture.

No front-end package is needed: a picture of one pixel, once it is loaded, tells the view to listen to the keyboard and passes each key on
as a press of the buttons that anybody can click.
"""

from helpers.panels.keys import PIXEL

__all__ = ["KEYS", "STYLE", "VIEW"]

VIEW = "pressure-loop-projector"

STYLE = f"""<style>
.{VIEW} {{ container-type: inline-size; position: relative; width: 100%; max-width: 1920px; background: #fff; overflow: hidden;
  outline-offset: -3px; }}
.{VIEW}:fullscreen {{ container-type: size; width: 100vw; height: 100vh; max-width: none; align-items: center; }}
.{VIEW}:focus-visible {{ outline: 3px solid #0b3c6f; }}
.{VIEW}:fullscreen:focus-visible {{ outline: none; }}
.{VIEW} .widget-html, .{VIEW} .widget-html-content {{ width: 100%; margin: 0; line-height: normal; overflow: hidden; height: auto; }}
.{VIEW} .sheet {{ --u: min(1cqw, 1.7777cqh); position: relative; width: calc(100 * var(--u)); height: calc(56.2 * var(--u));
  margin: 0 auto; color: #1b2733;
  font-family: "Liberation Sans", Arial, Helvetica, sans-serif; font-size: calc(2.19 * var(--u)); line-height: 1.19; }}
.{VIEW} .sheet img {{ display: block; width: calc(100 * var(--u)); height: calc(42.67 * var(--u)); max-width: none; margin: 0; }}
.{VIEW} .said {{ padding: 0 calc(12 * var(--u)) 0 calc(1.2 * var(--u)); }}
.{VIEW} .said p {{ margin: 0; font-size: inherit; line-height: inherit; }}
.{VIEW} .now {{ font-weight: bold; }}
.{VIEW} .options {{ padding-top: 0.1em !important; }}
.{VIEW} .options b {{ padding: 0 0.25em; color: #fff; background: #0b3c6f; }}
.{VIEW} .options span {{ margin-right: 0.7em; }}
.{VIEW} .answer {{ color: #0b3c6f; }}
.{VIEW} .count {{ position: absolute; right: calc(1 * var(--u)); top: calc(43 * var(--u)); width: calc(10 * var(--u)); font-size: 0.65em;
  text-align: center; color: #55616d; }}
.{VIEW} .count span {{ display: block; margin-top: 0.3em; padding: 0.1em; font-weight: bold; }}
.{VIEW}-buttons {{ position: absolute; right: 1%; bottom: 1%; width: 10%; flex-flow: column; overflow: visible; }}
.{VIEW}-buttons button {{ width: 100%; height: auto; margin: 2px 0 0 0; padding: 0; font-size: max(11px, 1.15cqw); line-height: 1.7; }}
.{VIEW}-buttons button:focus-visible {{ outline: 2px solid #0b3c6f; }}
</style>"""

_PASS_ON = """
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
"""
# The widget may be loaded a little before it stands in the page: it looks again until it does, for ten seconds.
_LISTEN = """
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
  PASS_ON
};
begin();
"""
_SCRIPT = _LISTEN.replace("PASS_ON", _PASS_ON).replace("VIEW", VIEW).replace("\n", " ")
KEYS = f'<img src="{PIXEL}" alt="" style="display:none" onload="{_SCRIPT}">'
