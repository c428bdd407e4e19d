"""Figures, tables and findings of a study as pieces of a page: plain HTML, every text escaped, states in words as well as colour."""

from html import escape

from helpers.panels.verdict import KINDS

__all__ = ["cautions_html", "figures_html", "findings_html", "html_table", "paragraphs_html"]

CELL = "padding:4px 10px;text-align:left;vertical-align:top;border-bottom:1px solid #d5dbe1"
HEAD = f"{CELL};border-bottom:2px solid #55616d"


def html_table(columns, rows, states=(), title=""):
    """A table; a row that is judged begins with the mark and the word of its state."""
    judged = any(states)
    columns = (["Verdict"] if judged else []) + list(columns)
    head = "".join(f'<th scope="col" style="{HEAD}">{escape(str(column))}</th>' for column in columns)
    body = "".join(_row(row, states[place] if judged else None) for place, row in enumerate(rows))
    caption = f'<caption style="text-align:left;font-weight:bold;padding:6px 0">{escape(title)}</caption>' if title else ""
    looks = "border-collapse:collapse;font-size:15px;margin:6px 0"
    return f'<table style="{looks}">{caption}<thead><tr>{head}</tr></thead><tbody>{body}</tbody></table>'


def figures_html(figures, title=""):
    """Figures with unit, reason and source."""
    rows = [(figure.label, figure.text, figure.reason, figure.source) for figure in figures]
    return html_table(("Figure", "Value", "Why", "Source"), rows, title=title) if rows else ""


def findings_html(findings):
    """Findings, each with its severity in words, the figure, why, and what would change it."""
    rows = [(finding.what, finding.figure, finding.why, finding.remedy, finding.source) for finding in findings]
    states = [finding.severity for finding in findings]
    return html_table(("Finding", "Figure", "Why", "What would change it", "Source"), rows, states, "Findings") if rows else ""


def paragraphs_html(texts):
    """A paragraph for each text."""
    return "".join(f"<p>{escape(text)}</p>" for text in texts)


def cautions_html(cautions):
    """The cautions, framed, before anything else."""
    points = "".join(f"<li>{escape(caution)}</li>" for caution in cautions)
    frame = "border:2px solid #1b2733;padding:4px 14px;margin:10px 0"
    return f'<section aria-label="Cautions" style="{frame}"><b>▲ Cautions</b><ul style="margin:4px 0">{points}</ul></section>'


def _row(row, state):
    cells = "".join(f'<td style="{CELL}">{escape(str(cell))}</td>' for cell in row)
    if state is None:
        return f"<tr>{cells}</tr>"
    kind = KINDS.get(state)
    judged = (
        f'<td style="{CELL};color:{kind.ink};white-space:nowrap"><b>{kind.mark} {kind.word}</b></td>'
        if kind
        else f'<td style="{CELL}"></td>'
    )
    return f"<tr>{judged}{cells}</tr>"
