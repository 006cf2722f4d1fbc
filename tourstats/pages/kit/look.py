"""How pages look, in one place: tables in notebooks, and the frame of files that somebody takes along."""

from __future__ import annotations

import html

ACROSS = "across"
"""What a page is asked behind its address: how many px its charts have. The server takes it from the browser."""
LIVE_ONLY = "TOURSTATS_LIVE_ONLY"
"""Set in the environment of a page that draws charts itself, so that no picture is drawn for it as well."""
PICTURES_THERE = "TOURSTATS_PICTURES_THERE"
"""Set where JupyterLab is opened: it adds a picture of its own to each chart that it has drawn."""

TYPE = 'system-ui, "Segoe UI", "Helvetica Neue", Arial, "Liberation Sans", "DejaVu Sans", sans-serif'
"""Whatever is on the machine; nothing is fetched."""

FOLDED = (
    ".jp-Notebook .jp-PlaceholderText{display:none}.jp-Notebook .jp-RenderedHTMLCommon{font-size:16px}"
    ".jp-Notebook figure{margin:.8em 0;padding-left:24px;overflow-x:auto;background:#fff;"
    "width:max-content;max-width:100%;box-sizing:border-box}"
    ".jp-Notebook figure svg{max-width:none;overflow:visible}"
)
"""JupyterLab shows the first line of code that is folded away, where three dots are enough; its prose is small, and its
pictures shrink until nobody can read them."""

# JupyterLab has rules of its own for tables, right-aligned and small: ours name the class twice to come before them.
TABLES = (
    f"<style>{FOLDED}"
    "table.tourstats.tourstats{border-collapse:collapse;table-layout:auto;font-size:16px;line-height:1.35;"
    "margin:.3em 0;max-width:100%}"
    "table.tourstats.tourstats caption{text-align:left;font-weight:600;padding:.2em .5em}"
    "table.tourstats.tourstats :is(th,td){padding:.25em .5em;text-align:left;vertical-align:top;white-space:normal;"
    "max-width:none;overflow-wrap:break-word;border-bottom:1px solid #8a939c}"
    "table.tourstats.tourstats .number{text-align:right;font-variant-numeric:tabular-nums}"
    "table.tourstats.tourstats td:is(.number,.whole){white-space:nowrap}"
    ".tourstats-box{overflow-x:auto;max-width:100%}"
    "@media (max-width:600px){table.tourstats.tourstats :is(th,td){padding:.25em .2em}"
    "table.tourstats.wordy{display:grid;grid-template-columns:var(--across)}"
    "table.tourstats.wordy :is(thead,tbody,tr){display:contents}"
    "table.tourstats.wordy.wordy :is(th,td){padding:.2em .3em;border:0;background:none}"
    "table.tourstats.wordy.wordy :is(th,td):last-child{grid-column:1/-1;border-bottom:1px solid #8a939c}"
    "table.tourstats.wordy.wordy .none:last-child{padding:0;font-size:0}"
    "table.tourstats.stacked,table.tourstats.stacked :is(tbody,tr){display:block}"
    "table.tourstats.stacked thead{display:none}table.tourstats.stacked caption{display:block}"
    "table.tourstats.stacked tr{padding:.3em 0;border-bottom:1px solid #8a939c;background:none;text-align:left}"
    "table.tourstats.stacked.stacked td{display:inline-block;padding:0 .9em 0 0;border:0;text-align:left;"
    "white-space:normal}table.tourstats.stacked.stacked td.top{display:inline;padding:0 .4em 0 0;font-weight:600}"
    "table.tourstats.stacked.stacked td.top:has(+td:not(.top)){padding:0}"
    "table.tourstats.stacked td.top:has(+td:not(.top))::after{content:'\\a';white-space:pre}"
    "table.tourstats.stacked td:not(.top)::before{content:attr(data-head) ': '}"
    "table.tourstats.stacked.stacked .none{display:none}}</style>"
)


WAYS = (
    "<style>.tourstats-today{font-size:17px;line-height:1.45}.tourstats-today p{margin:.35em 0}"
    ".tourstats-today .first{font-size:1.25em;font-weight:600}"
    ".tourstats-today .ways{display:flex;flex-wrap:wrap;gap:10px;margin:1em 0}"
    ".tourstats-today a.way{display:inline-flex;align-items:center;min-height:48px;padding:6px 18px;border-radius:6px;"
    "border:1px solid var(--jp-ui-font-color2,#5a6570);color:var(--jp-content-font-color1,#1b1f24)!important;"
    "text-decoration:none}"
    ".tourstats-today a.main{background:#0d6066;border-color:#0d6066;color:#fff!important;font-weight:600}"
    ".tourstats-today a.way:hover{text-decoration:underline}"
    ".tourstats-today .telephone summary{min-height:44px;display:flex;align-items:center;cursor:pointer}"
    ".tourstats-today .telephone img{width:220px;background:#fff;padding:8px}"
    "@media (max-width:600px){.tourstats-today a.way{width:100%;box-sizing:border-box}}</style>"
)
"""Ways on to other pages, as large as a thumb."""


DAY = (
    "<style>.tourstats-day{display:grid;grid-template-columns:minmax(0,3fr) minmax(0,2fr);gap:0 28px;font-size:16px;"
    "line-height:1.35}.tourstats-day h2{font-size:18px!important;margin:.8em 0 .2em!important;border:0!important;"
    "padding:0!important}"
    ".tourstats-day ol{list-style:none;margin:0;padding:0}"
    ".tourstats-day li{display:flex;gap:.6em;padding:.32em .2em;border-bottom:1px solid #8a939c;break-inside:avoid}"
    ".tourstats-day .no{flex:0 0 2.2em;text-align:right;font-variant-numeric:tabular-nums}"
    ".tourstats-day .plan .no{flex-basis:2.6em}"
    ".tourstats-day .what{min-width:0;overflow-wrap:anywhere}"
    ".tourstats-day .set .in .no{outline:2px solid currentColor;outline-offset:-1px;align-self:flex-start;"
    "padding-right:.2em}"
    ".tourstats-day .set .in>.what{font-weight:600}.tourstats-day .set .in .more{font-weight:400}"
    ".tourstats-day .new{font-weight:400;font-style:italic}.tourstats-day .more{display:block}"
    # The press for more stands at the end of the row, and what it opens below the rest of it.
    ".tourstats-day .set li{position:relative;padding-right:48px;min-height:30px}"
    ".tourstats-day details.more summary{position:absolute;top:0;right:0;min-width:44px;min-height:44px;display:flex;"
    "align-items:center;justify-content:flex-end;cursor:pointer;list-style:none;text-decoration:underline}"
    ".tourstats-day .more b{font-weight:600}.tourstats-day .encore{font-weight:600;padding-top:.8em}"
    ".tourstats-day .segue{font-weight:700}"
    ".tourstats-more summary{min-height:44px;display:flex;align-items:center;cursor:pointer;font-weight:600}"
    ".tourstats-more summary::before{content:'▸';width:1.3em}.tourstats-more[open] summary::before{content:'▾'}"
    ".tourstats-state{list-style:none;margin:0;padding:0;columns:18em 3;font-size:16px}"
    ".tourstats-state li{display:flex;gap:.6em;padding:.12em 0;break-inside:avoid}"
    ".tourstats-state .what{min-width:0;overflow-wrap:anywhere}"
    ".tourstats-state .no{flex:0 0 1.8em;text-align:right}.tourstats-state .new{font-style:italic}"
    "@media screen and (min-width:901px){.tourstats-day-and-plan.tourstats-day-and-plan{display:grid;"
    "grid-template-columns:minmax(0,3fr) minmax(0,2fr);grid-template-rows:auto 1fr;gap:0 28px}"
    ".tourstats-day-and-plan>.widget-html,.tourstats-day-and-plan .widget-html-content,"
    ".tourstats-day-and-plan .tourstats-day{display:contents}"
    ".tourstats-day-and-plan section:first-child{grid-row:1/3}.tourstats-day-and-plan>.widget-vbox{grid-column:2}}"
    "@media (max-width:900px){.tourstats-day{display:block}.tourstats-day li{padding:.2em .2em}"
    # Room for the press beside the first line alone, on a telephone.
    ".tourstats-day li{gap:.4em}.tourstats-day .set .no{flex-basis:1.6em}"
    ".tourstats-day .set li{padding-right:.2em}.tourstats-day .set .what{flex:1}"
    ".tourstats-day .set .what:has(details)::before{content:'';float:right;width:36px;height:20px}"
    ".tourstats-day details.more summary{align-items:flex-start;padding-top:.2em}}</style>"
)
"""The set in order, a song a row, with the plan beside it where there is room; and what is folded below."""


def page(title: str, style: str, body: str, look: str = "light") -> str:
    """One HTML file that needs nothing else: no script, no font, no picture.

    Parameters
    ----------
    title
        Of the page, as it was typed.
    style
        Rules that this page has besides those of all.
    body
        What stands in it, escaped already.
    look
        "light" or "dark".

    Examples
    --------
    >>> "<title>Salt &amp; Tide</title>" in page("Salt & Tide", "", "<h1>Salt &amp; Tide</h1>")
    True

    """
    ink, ground = ("#fff", "#000") if look == "dark" else ("#000", "#fff")
    return f"""<!doctype html>
<html lang="en">
<head>
<meta charset="utf-8">
<meta name="viewport" content="width=device-width, initial-scale=1">
<title>{html.escape(title)}</title>
<style>
* {{ box-sizing: border-box }}
body {{ margin: 0 auto; font-family: {TYPE}; color: {ink}; background: {ground} }}
{style.strip()}
</style>
</head>
<body class="{look}">
{body.strip()}
</body>
</html>
"""
