"""One notebook served as a page: only with its token, and nothing asked of a network."""

import re
import shutil
import urllib.error
import urllib.parse
import urllib.request

import pytest

from tourstats import cli
from tourstats.pages.workbook import WorkbookProblem, served

LOADS = re.compile(
    r"""<(?:script|link|img|iframe|source)\b[^>]*?\b(?:src|href)\s*=\s*["']?([^"'\s>]+)""", re.IGNORECASE
)
FETCHED_BY_STYLE = re.compile(r"""(?:url\(|@import)\s*["']?\s*((?:https?:)?//[^"')\s]+)""")


def fetched(address):
    """The page, and the address that answered in the end."""
    with urllib.request.urlopen(address, timeout=60) as answer:  # noqa: S310  # our own server
        return answer.read().decode("utf-8"), answer.geturl(), dict(answer.headers)


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
    for address in (bare, f"{bare}?token=guessed", f"{bare}api/kernels"):
        text, where, _ = fetched(address)

        assert "/login" in where, address
        assert "Start with your own tour" not in text


def test_no_file_of_the_folder_is_given_away(page):
    """
    Neither a notebook nor a sheet can be fetched beside the page, with the token or without.
    """
    bare, _, token = page.address.partition("?")
    for query in ("", f"?{token}"):
        with pytest.raises(urllib.error.HTTPError) as caught:
            fetched(f"{bare}voila/files/00-start-with-your-own-tour.ipynb{query}")

        caught.value.close()
        assert caught.value.code in (403, 404)


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
    assert served.POLICY == headers["Content-Security-Policy"]


def test_the_policy_lets_nothing_out():
    """
    The browser is told to refuse every other machine, whatever a page asks for.
    """
    rules = dict(rule.strip().split(" ", 1) for rule in served.POLICY.split(";"))

    assert "'self' data: blob:" == rules["default-src"]
    assert "'self'" == rules["connect-src"]
    assert not re.search(r"https?:|wss?:|\*", served.POLICY)


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


def test_names_are_those_of_the_notebooks():
    """
    Without the number; a beginning is enough if it fits one.
    """
    names = served.names()

    assert {"start-with-your-own-tour", "put-right", "rotation"} <= set(names)
    assert served._chosen("start") == names["start-with-your-own-tour"]
    with pytest.raises(WorkbookProblem, match=r'There is no page "nowhere"\. The pages: "'):
        served._chosen("nowhere")
    with pytest.raises(WorkbookProblem, match='There is no page ""'):
        served._chosen("")


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


def test_the_command_passes_on_what_was_asked(monkeypatch, capsys):
    """
    Here and in light, unless said otherwise; theme and address without a page are refused.
    """
    asked = []
    monkeypatch.setattr(served, "serve", lambda *given, **named: asked.append((given, named)))
    cli.main(["--diary", "demo", "workbook", "--page", "show-day", "--no-browser"])
    cli.main(["workbook", "--page", "start", "--address", "0.0.0.0", "--theme", "dark"])  # noqa: S104  # asked for
    status = cli.main(["workbook", "--theme", "dark"])

    assert [
        (("show-day", "demo"), {"address": "127.0.0.1", "theme": "light", "browser": False}),
        (("start", None), {"address": "0.0.0.0", "theme": "dark", "browser": True}),  # noqa: S104  # asked for
    ] == asked
    assert (1, True) == (status, "say which, as in --page show-day" in capsys.readouterr().err)


def test_who_opens_it_to_a_network_is_told_what_that_means():
    """
    The address to type on a telephone, and that the way there can be read.
    """
    words = served._reach("http://127.0.0.1:8866/?token=x", "0.0.0.0")  # noqa: S104  # asked for

    assert "can open it and change your diary" in words
    assert "Only this machine can open it." == served._reach("http://127.0.0.1:8866/?token=x", served.HERE)


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
