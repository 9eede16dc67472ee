"""The look that every HTML page of this package shares."""

from __future__ import annotations

import html
from collections.abc import Iterable

_STYLE = (
    "body{font:15px/1.45 system-ui,sans-serif;max-width:60rem;margin:2rem auto;padding:0 1rem;color:#1a1a1a;"
    "background:#fff}h1{font-size:1.5rem}h2{font-size:1.15rem;border-top:1px solid #999;padding-top:1rem;"
    "margin-top:2rem}p.figures{color:#333}li{margin:.25rem 0}section{overflow-x:auto}"
    "@media print{section{break-inside:avoid}}"
)


def page(title: str, parts: Iterable[str], style: str = "") -> str:
    """One page that needs nothing from outside; the parts are HTML, the style is added to the common one."""
    head = (
        '<!doctype html><html lang="en"><head><meta charset="utf-8">'
        '<meta name="viewport" content="width=device-width, initial-scale=1">'
        f"<title>{html.escape(title)}</title><style>{_STYLE}{style}</style></head><body><h1>{html.escape(title)}</h1>"
    )
    return "\n".join([head, *parts, "</body></html>"]) + "\n"
