"""The few plain pages that a class server has of its own, and what it says instead of a page."""

from html import escape
from http.client import responses

from jupyter_server.base.handlers import JupyterHandler

__all__ = ["PlainErrors", "PlainPage", "page"]

HEAD = """<!doctype html><html lang="en"><head><meta charset="utf-8"><meta name="viewport" content="width=device-width">
<title>{title}</title><style>body{{font:17px/1.5 sans-serif;max-width:44em;margin:2em auto;padding:0 1em;color:#1b2733}}
input,button{{font:inherit;padding:.2em .5em}} [role=alert]{{border:2px solid #0b3c6f;padding:.5em 1em}}
a{{color:#0b4f94}}</style></head><body><main>{body}</main></body></html>"""
TROUBLE = """<h1>{title}</h1>{told}<p><a href="">Try again</a> · <a href="/">To the start page</a></p>"""
OWN_FAULT = "The server has a fault of its own here; what you did is kept. Tell your instructor, and load the page again."


def page(title, body, told="", markup=None, **texts):
    """A page. told: a sentence that must be seen; markup and texts fill the places of the body by name, the texts escaped."""
    alert = f'<p role="alert">{escape(told)}</p>' if told else ""
    filled = body.format(title=escape(title), told=alert, **(markup or {}), **{name: escape(text) for name, text in texts.items()})
    return HEAD.format(title=escape(title), body=filled)


class PlainErrors:
    """Mixed into a handler: what goes wrong is told in a sentence."""

    def write_error(self, status_code, exc_info=(None, None, None), **more):
        """The sentence that was raised; for a fault of our own, one that says so."""
        told = getattr(exc_info[1], "log_message", None) or (OWN_FAULT if status_code >= 500 else responses.get(status_code, ""))
        self.finish(page("Not now" if status_code == 503 else "This did not work", TROUBLE, told))


class PlainPage(PlainErrors, JupyterHandler):
    """Answers with plain pages."""

    def show(self, title, body, told="", status=200, markup=None, **texts):
        """Answer with a page; its forms know the visitor by {ticket} in their address."""
        self.set_status(status)
        self.finish(page(title, body, told, (markup or {}) | {"ticket": f"_xsrf={self.xsrf_token.decode()}"}, **texts))
