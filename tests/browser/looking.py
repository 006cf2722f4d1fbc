"""What a person sees on a page, asked of the browser: what scrolls, how large things are, what a chart says."""

import re
from collections import Counter

SIDEWAYS = """() => [document.documentElement, ...document.querySelectorAll('body, body *')].filter(one => {
    const style = getComputedStyle(one);
    const scrolls = one === document.documentElement || ['auto', 'scroll', 'hidden'].includes(style.overflowX);
    // A chart keeps its size, for its letters' sake, and may be moved within its own frame; the page may not.
    const live = one.closest('.jp-OutputArea')?.querySelector('.vega-embed') && !one.contains(document.body);
    const ofChart = live || one.closest('figure');
    const seen = one.checkVisibility() && !one.closest('svg, input, textarea, select') && !ofChart;
    return seen && scrolls && one.clientWidth > 0 && one.scrollWidth > one.clientWidth + 1;
}).map(one => [one.tagName, one.className, one.scrollWidth, one.clientWidth])"""
"""Everything that is wider inside than outside: the page itself, and each part that scrolls or cuts off."""

SMALL_TEXT = """least => {
    const found = new Map(), words = document.createTreeWalker(document.body, NodeFilter.SHOW_TEXT);
    while (words.nextNode()) {
        const text = words.currentNode.textContent.trim(), one = words.currentNode.parentElement;
        if (!text || one.closest('svg, script, style, noscript') || !one.checkVisibility()) continue;
        const box = one.getBoundingClientRect(), size = parseFloat(getComputedStyle(one).fontSize);
        if (box.width > 1 && box.height > 1 && size < least) found.set(`${one.tagName} ${one.className}`, [size, text]);
    }
    for (const one of document.querySelectorAll('input, select, textarea, button')) {
        const size = parseFloat(getComputedStyle(one).fontSize);
        if (one.checkVisibility() && size < least) found.set(`${one.tagName} ${one.className}`, [size, one.value]);
    }
    return [...found];
}"""
"""Words in smaller letters than these, charts aside: where they stand, their size and one of them."""

TARGETS = """() => {
    const kinds = 'a[href], button, select, textarea, input:not([type=hidden]):not([type=file]), summary, '
        + '[role=button], [role=tab]';
    // A link within a row or a sentence is as high as its line (the exception "inline" of WCAG 2.2, 2.5.8).
    const inLine = one => one.tagName === 'A' && getComputedStyle(one).display === 'inline';
    return [...document.querySelectorAll(kinds)].filter(one => one.checkVisibility() && !inLine(one)).map(one => {
        // A press on the words beside a tick, or inside a label, counts as one on the tick itself.
        const pressed = one.type === 'checkbox' ? one.closest('label') || one.parentElement : one;
        const box = pressed.getBoundingClientRect();
        return [one.tagName, one.type || '', (one.ariaLabel || one.textContent || one.placeholder || '').slice(0, 40),
            Math.round(box.height * 10) / 10, Math.round(box.width * 10) / 10];
    }).filter(one => one[3] > 0);
}"""
"""Everything that can be pressed: what it is, what it says, how high and how wide it is."""

PLACES = """chart => [...chart.querySelectorAll('svg.marks .role-mark path, svg.marks .role-mark line')].map(mark => {
    const box = mark.getBoundingClientRect();
    if (box.width + box.height === 0) return null;
    // A line is met where it runs, an area where it is: in the middle of its length, and in the middle of its box.
    const half = mark.getPointAtLength?.(mark.getTotalLength() / 2), at = mark.getScreenCTM();
    const on = half && [half.x * at.a + half.y * at.c + at.e, half.x * at.b + half.y * at.d + at.f];
    return [[box.x + box.width / 2, box.y + box.height / 2], ...(on ? [on] : [])];
}).filter(Boolean)"""
TOOLTIP = "#vg-tooltip-element.visible"
TRIES = 40


def said_at_rest(page, chart):
    """What a chart says where the mouse rests on one of its marks; nothing, where no mark answers."""
    chart.scroll_into_view_if_needed()
    marks = chart.evaluate(PLACES)
    for places in marks[:: max(1, len(marks) // TRIES)]:
        for x, y in places:
            page.mouse.move(0, 0)
            page.mouse.move(x, y, steps=2)
            said = page.locator(TOOLTIP)
            if said.count():
                return said.inner_text()
    return ""


FINDINGS = """() => [...document.querySelectorAll('svg .role-title-text text')].filter(
    one => getComputedStyle(one).fontSize === '15px'
).map(one => [one.textContent, Math.ceil(one.getBoundingClientRect().right), document.documentElement.clientWidth])"""
"""What the charts say above themselves: the words, where they end, and how wide the page is."""

WORDS = """() => {
    const root = document.querySelector('#rendered_cells'), found = [];
    const words = document.createTreeWalker(root, NodeFilter.SHOW_TEXT);
    while (words.nextNode()) {
        const one = words.currentNode.parentElement, text = words.currentNode.textContent.trim();
        if (text && !one.closest('style, script, svg, option') && one.checkVisibility()) found.push(text);
    }
    return found;
}"""
"""What can be read on a page, as it is shown on a screen or, where that is asked for, on paper."""

PRESSED = """() => [...document.querySelectorAll('#rendered_cells :is(button, input, select, textarea)')].filter(
    one => one.checkVisibility() && !one.closest('th, .tourstats-all')).map(one => one.outerHTML.slice(0, 200))"""
"""What can be pressed or filled in; heads of tables, and how many rows are not shown, are words on paper."""

PARTS = """() => [...document.querySelectorAll(
    '#rendered_cells :is(p, li, td, h2, h3, summary, .role-title-text)'
)].filter(one => one.checkVisibility() && !one.querySelector('p, li, td')).map(one => one.textContent)"""
LONG = 6
"""Words up to which the same may be said again: a title, a heading, a kind of mistake."""


def twice(page):
    """Sentences that stand on a page more than once, those of charts among them."""
    said = [one.strip() for part in page.evaluate(PARTS) for one in re.split(r"(?<=[.!?])\s+|\n", part)]
    many = Counter(" ".join(one.split()) for one in said if len(one.split()) > LONG)
    return [sentence for sentence, times in many.items() if times > 1]


def against(axe, page):
    """Everything serious that a checker of accessibility has against a page: fields, names, contrast of words."""
    found = axe.run(page, context="#rendered_cells", options={}).response
    return [
        (one["id"], [node["html"][:300] for node in one["nodes"]][:3])
        for one in found["violations"]
        if one["impact"] in ("serious", "critical")
    ]
