"""The pages at one address: only with its token, a bar of links, and nothing asked of a network."""

import asyncio
import http.cookiejar
import json
import re
import shutil
import socket
import urllib.error
import urllib.parse
import urllib.request

import pytest
from tornado.httpclient import HTTPRequest
from tornado.websocket import websocket_connect

from tourstats import cli
from tourstats.pages.kit.contents import PAGES, PageProblem, chosen
from tourstats.pages.workbook import NOTEBOOKS, WorkbookProblem, pages_server, served, telephone

LOADS = re.compile(
    r"""<(?:script|link|img|iframe|source)\b[^>]*?\b(?:src|href)\s*=\s*["']?([^"'\s>]+)""", re.IGNORECASE
)
FETCHED_BY_STYLE = re.compile(r"""(?:url\(|@import)\s*["']?\s*((?:https?:)?//[^"')\s]+)""")


def fetched(address):
    """The page, and the address that answered in the end; marks are kept on the way, as a browser keeps them."""
    browser = urllib.request.build_opener(urllib.request.HTTPCookieProcessor())
    with browser.open(address, timeout=60) as answer:
        return answer.read().decode("utf-8"), answer.geturl(), dict(answer.headers)


def drawn(address, cookies=None):
    """The page with what its cells gave, which browsers fetch behind it, and the address that answered in the end."""
    cookies = http.cookiejar.CookieJar() if cookies is None else cookies
    browser = urllib.request.build_opener(urllib.request.HTTPCookieProcessor(cookies))
    with browser.open(address, timeout=60) as answer:
        text, came = answer.read().decode("utf-8"), answer.geturl()
    kernel = re.search(r'"kernelId": "([\w-]+)"', text)[1]
    return text + asyncio.run(_results(came, kernel, "; ".join(f"{one.name}={one.value}" for one in cookies))), came


async def _results(address, kernel, cookies):
    at = urllib.parse.urlsplit(address)
    request = HTTPRequest(f"ws://{at.netloc}/voila/execution/{kernel}", headers={"Cookie": cookies})
    joined = await websocket_connect(request)
    await joined.write_message(json.dumps({"action": "execute", "payload": {"kernel_id": kernel}}))
    given = ""
    while message := await joined.read_message():
        payload = json.loads(message)["payload"]
        given += json.dumps(payload.get("output_cell", ""), ensure_ascii=False)
        if payload and payload["cell_index"] == payload["total_cell"] - 1:
            break
    joined.close()
    return given


@pytest.fixture(scope="module")
def page(tmp_path_factory):
    """The page of the rotation, on the demo tour, as a telephone would ask for it."""
    with pytest.MonkeyPatch.context() as patch:
        for name in ("XDG_DATA_HOME", "XDG_CONFIG_HOME", "XDG_CACHE_HOME"):
            patch.setenv(name, str(tmp_path_factory.mktemp(name.lower())))
        with served.serving("start", "demo", theme="dark") as found:
            yield found


def test_it_answers_only_with_the_token(page):
    """
    Without it, or with another, there is a log-in page and nothing of the diary; kernels cannot be reached either.
    """
    bare = page.address.partition("?")[0]
    root = bare.removesuffix("start")
    with pytest.raises(urllib.error.HTTPError) as caught:
        fetched(f"{root}api/kernels")
    caught.value.close()
    for address in (bare, f"{bare}?token=guessed", root):
        text, where, _ = fetched(address)

        assert "/login" in where, address
        assert "Start with your own tour" not in text


def test_every_page_has_a_field_that_finds(page):
    """
    A plain form in the bar asks the page of a song, which opens what was found; nothing typed is read as HTML.
    """
    text, _, _ = fetched(page.address)
    forms = re.findall(r'<form[^>]*role="search"[^>]*>.*?</form>', text, re.DOTALL)
    root, _, token = page.address.partition("start?")
    asked = urllib.parse.urlencode({"find": "Nettle"})
    found, where = drawn(f"{root}song?{asked}&{token}")
    nothing, _ = drawn(f"{root}song?find=%3Cb%3Eqxqx&{token}")

    assert forms
    assert all('action="/song" method="get"' in form and 'type="search" name="find"' in form for form in forms)
    assert "/song" == urllib.parse.urlsplit(where).path
    assert "Nettle Soup" in found
    assert "Nothing in the diary has" in nothing
    assert "<b>qxqx" not in nothing
    assert "Nettle Soup" not in nothing


def test_no_file_of_the_folder_is_given_away(page):
    """
    Neither a notebook nor a list of them can be fetched beside the pages, with the token or without.
    """
    bare, _, token = page.address.partition("?")
    root = bare.removesuffix("start")
    for place in ("voila/files/", "voila/render/", "voila/api/contents/"):
        for query in ("", f"?{token}"):
            with pytest.raises(urllib.error.HTTPError) as caught:
                fetched(f"{root}{place}00-start-with-your-own-tour.ipynb{query}")

            caught.value.close()
            assert caught.value.code in (403, 404)


def test_the_bare_address_opens_today(page):
    """
    Whoever types no name comes to the first page, and finds every other one in its bar.
    """
    bare, _, token = page.address.partition("?")
    text, where, _ = fetched(f"{bare.removesuffix('start')}?{token}")

    assert urllib.parse.urlsplit(where).path == "/today"
    assert "<title>Today</title>" in text
    assert [] == [one.title for one in PAGES if f'href="/{one.name}"' not in text]


def test_the_names_in_tabs_are_those_of_the_bar():
    """
    Each page has its notebook, and the notebook its title.
    """
    titles = {one.notebook: json.loads((NOTEBOOKS / one.notebook).read_text())["metadata"]["title"] for one in PAGES}

    assert {one.notebook: one.title for one in PAGES} == titles
    assert {one.notebook for one in PAGES} == {path.name for path in NOTEBOOKS.glob("0*.ipynb")}


def test_a_telephone_comes_in_with_the_code_of_these_minutes(page, tmp_path):
    """
    Only where one was asked in; a wrong or old code opens nothing, and the page itself is never in its address.
    """
    token = "a token"  # noqa: S105  # of nobody's server
    now = 1_000_000.0
    codes = [telephone.code(token, now + minutes * 60) for minutes in (0, 10, 20)]

    assert 3 == len(set(codes))
    assert [True, True, False] == [telephone.holds(codes[0], token, now + minutes * 60) for minutes in (1, 11, 21)]
    assert not telephone.holds(codes[0], "", now)
    assert telephone.cookie_secret(tmp_path) == telephone.cookie_secret(tmp_path)
    assert 0o600 == (tmp_path / "known-devices").stat().st_mode & 0o777
    with pytest.raises(urllib.error.HTTPError) as caught:
        fetched(f"{page.address.partition('start')[0]}telephone/{telephone.code(page.address.partition('token=')[2])}")
    caught.value.close()
    assert 403 == caught.value.code


def test_it_loads_nothing_from_elsewhere(page):
    """
    With the token the notebook is there, in the theme asked for, without its code; it loads from this server alone.
    """
    text, where, headers = fetched(page.address)
    wanted = [*LOADS.findall(text), *FETCHED_BY_STYLE.findall(text)]
    elsewhere = [url for url in wanted if urllib.parse.urlsplit(url).netloc]

    assert "/login" not in where
    assert "Start with your own tour" in text
    assert "theme-dark" in text
    assert "start.Start()" not in text
    assert wanted
    assert [] == elsewhere
    (nonce,) = set(re.findall(r'<script nonce="([^"]+)"', text))
    assert pages_server.POLICY.format(nonce=nonce) == headers["Content-Security-Policy"]
    assert [] == re.findall(r"<script(?! nonce)[^>]*>", text)


def test_the_policy_lets_nothing_out():
    """
    The browser is told to refuse every other machine, whatever a page asks for.
    """
    rules = dict(rule.strip().split(" ", 1) for rule in pages_server.POLICY.split(";"))

    assert "'self' data: blob:" == rules["default-src"]
    assert "'self'" == rules["connect-src"]
    assert "'unsafe-inline'" not in rules["script-src"]
    assert not re.search(r"https?:|wss?:|\*", pages_server.POLICY)


def test_it_listens_on_this_machine_only(page):
    """
    Unless asked otherwise, and nobody who lists the programs can read the token.
    """
    assert page.address.startswith("http://127.0.0.1:")
    assert "--Voila.ip=127.0.0.1" in page.server.args
    token = page.address.partition("token=")[2]
    assert len(token) >= 32
    assert not [word for word in page.server.args if token in word]


def test_each_page_has_its_own_token(tmp_path):
    """
    Two servers never share one.
    """
    first, second = ((served._settings(tmp_path / "workbook", None, token))["JUPYTER_TOKEN"] for token in ("a", "b"))

    assert ("a", "b") == (first, second)


def test_the_server_ends_with_the_block(tmp_path):
    """
    Nothing stays behind.
    """
    with served.serving("start", "demo") as found:
        running = found.server.poll()

    assert running is None
    assert found.server.poll() is not None


def test_a_page_is_found_by_its_name():
    """
    A beginning is enough if it fits one.
    """
    assert "start" == chosen("start").name
    assert "playing-trends" == chosen("play").name
    with pytest.raises(PageProblem, match=r'There is no page "nowhere"\. The pages: "today", "show-day"'):
        chosen("nowhere")
    with pytest.raises(PageProblem, match='There is no page ""'):
        chosen("")


def test_a_theme_or_address_that_is_none_is_said():
    """
    Before anything is started.
    """
    with pytest.raises(WorkbookProblem) as theme, served.serving("start", theme="pink"):
        pass
    with pytest.raises(WorkbookProblem) as address, served.serving("start", address="203.0.113.7"):
        pass

    assert "The theme of a page is one of light, dark; it was 'pink'." == str(theme.value)
    assert str(address.value).startswith("This machine has no address 203.0.113.7")


def test_the_command_passes_on_what_was_asked(monkeypatch):
    """
    Today, here and in light, unless said otherwise.
    """
    asked = []
    monkeypatch.setattr(served, "serve", lambda *given, **named: asked.append((given, named)))
    cli.main(["--diary", "demo", "workbook", "--no-browser"])
    cli.main(["workbook", "--page", "start", "--theme", "dark", "--phone"])

    assert [
        (("today", "demo"), {"address": "127.0.0.1", "theme": "light", "browser": False, "phone": False}),
        (("start", None), {"address": "127.0.0.1", "theme": "dark", "browser": True, "phone": True}),
    ] == asked


def test_who_opens_it_to_a_network_is_told_what_that_means():
    """
    One sentence, the address and its picture; nothing of it for this machine alone.
    """
    page = served.Served("http://127.0.0.1:8866/today", None, "http://192.0.2.7:8866/telephone/ABCDEFGHIJ")
    said = served._way_in(page)

    assert telephone.SAFETY == served._reach(served.NETWORK)
    assert "Only this machine can open them." == served._reach(served.HERE)
    assert "http://192.0.2.7:8866/telephone/ABCDEFGHIJ" == said[1]
    assert said[2].count("\n") > 10
    assert [] == served._way_in(served.Served("http://127.0.0.1:8866/today", None))


def test_a_device_that_brought_the_code_is_known_from_then_on(tmp_path, monkeypatch):
    """
    With the code it comes to Today, and to every page after that without one; with another code it does not.
    """
    monkeypatch.setenv("XDG_DATA_HOME", str(tmp_path))
    with served.serving("today", "demo", address="127.0.0.1", phone=True) as found:
        cookies = http.cookiejar.CookieJar()
        browser = urllib.request.build_opener(urllib.request.HTTPCookieProcessor(cookies))
        with pytest.raises(urllib.error.HTTPError) as caught:
            fetched(found.telephone[:-1] + ("A" if found.telephone[-1] != "A" else "B"))
        caught.value.close()
        text, came = drawn(found.telephone, cookies)
        with browser.open(f"{found.telephone.partition('telephone')[0]}start", timeout=60) as answer:
            later = answer.geturl()

    assert 403 == caught.value.code
    assert came.endswith("/today")
    assert "To the telephone" in text
    assert later.endswith("/start")


@pytest.mark.browser
@pytest.mark.parametrize("width", [390, 1280])
def test_in_a_browser_it_asks_nobody_else_and_fits(page, width):
    """
    No request leaves this machine, no error is logged, nothing scrolls sideways, and no field touches an edge.
    """
    chromium = shutil.which("chromium") or shutil.which("chromium-browser") or shutil.which("google-chrome")
    if chromium is None:
        pytest.skip("there is no browser on this machine: apt-get install chromium")
    driver = pytest.importorskip("playwright.sync_api", reason="the browser needs its driver: pip install playwright")
    elsewhere, errors = [], []
    with driver.sync_playwright() as play:
        browser = play.chromium.launch(executable_path=chromium, args=["--no-sandbox"])
        view = browser.new_page(viewport={"width": width, "height": 844})
        view.on("request", lambda asked: elsewhere.append(asked.url))
        view.on("console", lambda said: errors.append(said.text) if said.type == "error" else None)
        view.goto(page.address)
        view.get_by_role("button", name="Read it").wait_for(state="visible", timeout=60_000)
        wide = view.evaluate("document.documentElement.scrollWidth")
        edges = view.evaluate(EDGES)
        browser.close()

    assert [] == [url for url in elsewhere if not url.startswith(("http://127.0.0.1:", "data:", "blob:"))]
    assert [] == errors
    assert wide <= width
    assert edges
    assert [] == [edge for edge in edges if edge[1] < 8 or edge[2] > width - 8 or edge[3] < 44]


EDGES = """() => [...document.querySelectorAll('input:not([type=file]),select,textarea,button')]
    .filter(e => e.offsetParent).map(e => [e, e.getBoundingClientRect()])
    .map(([e, r]) => [e.tagName, r.left, r.right, Math.round(r.height)])"""


def test_the_pages_stand_where_they_stood_the_last_time(tmp_path):
    """
    A tab that was left open, and what it keeps, is found again; where another program is there now, another port is.
    """
    (tmp_path / "port").write_text("no number", encoding="ascii")
    with socket.socket() as other:
        other.bind((served.HERE, 0))
        other.listen()
        port = other.getsockname()[1]
        taken = served._free_port(served.HERE, port)

    assert 0 == served._latest(tmp_path / "port") == served._latest(tmp_path / "nothing")
    assert taken not in (0, port)
    assert port == served._free_port(served.HERE, port)
