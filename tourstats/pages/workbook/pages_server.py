"""The server of the pages: one address, and a way in for a telephone. Voilà, with names for addresses."""

from __future__ import annotations

import asyncio
import json
import os
import re
import secrets
from collections.abc import AsyncIterator
from contextlib import suppress
from copy import deepcopy
from pathlib import Path
from typing import Any, ClassVar

from jinja2 import Environment, FileSystemBytecodeCache
from jupyter_server.auth.decorator import allow_unauthenticated
from jupyter_server.base.handlers import JupyterHandler
from nbclient.exceptions import CellExecutionError, DeadKernelError
from tornado.log import access_log, gen_log
from tornado.web import Finish, HTTPError, StaticFileHandler, authenticated
from tornado.websocket import WebSocketClosedError
from voila import handler, notebook_renderer
from voila.app import Voila
from voila.exporter import VoilaExporter
from voila.notebook_renderer import NotebookRenderer
from voila.shutdown_kernel_handler import VoilaShutdownKernelHandler
from voila.tornado.execution_request_handler import ExecutionRequestHandler
from voila.tornado.handler import TornadoVoilaHandler
from voila.tornado.kernel_websocket_handler import VoilaKernelWebsocketHandler

from tourstats.pages.kit.contents import FIRST, PAGES
from tourstats.pages.kit.look import ACROSS
from tourstats.pages.workbook import telephone
from tourstats.pages.workbook.kernels import Forked, WaitingKernels
from tourstats.pages.workbook.loaded import Loaded

POLICY = (
    "default-src 'self' data: blob:; script-src 'self' 'nonce-{nonce}' 'unsafe-eval' blob:; "
    "style-src 'self' 'unsafe-inline'; connect-src 'self'; frame-ancestors 'self'"
)
"""What a page may load: only what this server gives, and no script but those of the template, which carry the nonce.
Voilà's own scripts evaluate; a script inside something that was typed does not run."""
THEMES = ("light", "dark")
QUIET = gen_log.getChild("quiet")
"""For news that is none: that the kernel of a page has ended which was left before it was there."""
QUIET.setLevel("CRITICAL")


class Page(TornadoVoilaHandler):
    """One page by its name; the theme is the one that this browser chose last."""

    @authenticated  # type: ignore[untyped-decorator]  # ships no types
    async def get(self, name: str) -> None:
        """Write the page as it is made."""
        place = next((page for page in PAGES if page.name == name), None)
        if place is None:
            raise HTTPError(404)
        theme = self.get_argument("theme", "")
        if theme in THEMES:
            self.set_cookie("tourstats-theme", theme, expires_days=365, samesite="Lax")
        # How wide its charts are drawn: what this browser said, else what it most likely is.
        by_hand = "Mobi" in self.request.headers.get("User-Agent", "")
        px = self.get_cookie("tourstats-across") or ("342" if by_hand else "980")
        self.request.query = "&".join(filter(None, [self.request.query, f"{ACROSS}={px}" if px.isdigit() else ""]))
        nonce = secrets.token_urlsafe(16)
        self.set_header("Content-Security-Policy", POLICY.format(nonce=nonce))
        async for part in self._with_nonce(self.get_generator(path=place.notebook), nonce):
            self.write(part)
            self.flush()

    def get_argument(self, name: str, *default: Any, **settings: Any) -> Any:  # noqa: ANN401  # as tornado's
        """What stands in the address; of the theme, what this browser chose last."""
        if name == "theme":
            said = super().get_argument(name, "") or self.get_cookie("tourstats-theme") or ""
            return said if said in THEMES else None
        return super().get_argument(name, *default, **settings)

    @staticmethod
    async def _with_nonce(parts: AsyncIterator[str], nonce: str) -> AsyncIterator[str]:
        """Mark the template's scripts. What a cell shows stands in JSON, where `<` is written otherwise."""
        async for part in parts:
            yield re.sub(r"<script(?=[\s>])", f'<script nonce="{nonce}"', part)


class Home(JupyterHandler):
    """The bare address leads to the first page."""

    @authenticated  # type: ignore[untyped-decorator]  # ships no types
    def get(self) -> None:
        """Go there."""
        self.redirect(f"/{FIRST}")


class Telephone(JupyterHandler):
    """A device that brings the code of these minutes is known from then on."""

    @allow_unauthenticated  # type: ignore[untyped-decorator]  # ships no types
    async def get(self, code: str) -> None:
        """Let it in, or say what to do."""
        token = os.environ.get("JUPYTER_TOKEN", "")
        if not os.environ.get(telephone.OPEN) or not telephone.holds(code, token):
            self.set_status(403)
            self.finish("This code is no longer good. Take the new one from the page Today or from the terminal.")
            return
        provider = self.identity_provider
        provider.set_login_cookie(self, provider.generate_anonymous_user(self))
        self.redirect(f"/{FIRST}")


class NoPictures(StaticFileHandler):
    """The page that says "there is no such kernel" asks for a picture; without this, its lack is a page of errors."""

    @classmethod
    def make_static_url(cls, *_: Any, **__: Any) -> str:  # noqa: ANN401  # as tornado's
        """Nowhere."""
        return ""


class Left(VoilaShutdownKernelHandler):
    """A page that is left ends its kernel; browsers send that without the mark that other requests carry."""

    def check_xsrf_cookie(self) -> None:
        """Nobody else knows the number of the kernel, and who asks has to be logged in."""


class Exporter(VoilaExporter):
    """Writes pages with templates that were compiled once: Voilà would compile all of them again for each page."""

    compiled: FileSystemBytecodeCache

    def _create_environment(self) -> Environment:
        environment: Environment = super()._create_environment()
        environment.bytecode_cache = self.compiled
        return environment


class Renderer(NotebookRenderer):
    """Sends a page without its results, which are worked out from then on, while the browser makes ready."""

    made: ClassVar[dict[str, asyncio.Queue[Any]]] = {}
    """What cells gave that no browser has fetched yet, by kernel; nothing after the last one."""

    async def _jinja_cell_generator_without_execution(self, nb: Any, kernel_id: str) -> AsyncIterator[Any]:  # noqa: ANN401  # as Voilà's own
        self.made[kernel_id] = asyncio.Queue()
        bare = deepcopy(nb.cells)  # those that run get their results while these are written
        self.running = asyncio.ensure_future(self._run(nb, kernel_id))
        for cell in bare:
            yield cell

    async def _run(self, nb: Any, kernel_id: str) -> None:  # noqa: ANN401  # as above
        results = self.made[kernel_id]
        self.executor.log = QUIET
        with suppress(DeadKernelError):  # the page was left
            for at, cell in enumerate(nb.cells):
                try:
                    await self.executor.execute_cell(cell, None, at, store_history=False)
                except CellExecutionError:
                    self.log.exception("A cell of the page failed: %s", cell.source)
                    self.executor.strip_code_cell_errors(cell)
                results.put_nowait({"output_cell": cell, "cell_index": at, "total_cell": len(nb.cells)})
        results.put_nowait(None)
        await self._cleanup_resources()


class Results(ExecutionRequestHandler):
    """Brings a page what its cells gave, one after the other."""

    async def on_message(self, message: str | bytes) -> None:
        """Send them all to the page that says it is ready."""
        made = Renderer.made.pop(self._kernel_id, None) if "execute" in json.loads(message).values() else None
        with suppress(WebSocketClosedError):  # a page that was left
            while made and (payload := await made.get()):
                await self.write_message({"action": "execution_result", "payload": payload})

    def on_close(self) -> None:
        """Leave the kernel to those who count who is connected to it."""


class Channels(VoilaKernelWebsocketHandler):
    """What joins a page to its kernel."""

    def select_subprotocol(self, subprotocols: list[str]) -> str | None:
        """End quietly where the page was left before they were joined."""
        if self.connection is None:
            raise Finish
        chosen: str | None = super().select_subprotocol(subprotocols)
        return chosen

    def write_error(self, *_: Any, **__: Any) -> None:  # noqa: ANN401  # as tornado's
        """Say no more than the number: nobody reads a page of errors here, and none could be drawn."""
        self.finish()


class Pages(Voila):
    """Voilà on the folder of notebooks, with a name for each page."""

    def init_handlers(self) -> list[Any]:
        """Our addresses before Voilà's own."""
        names = "|".join(page.name for page in PAGES)
        known = {
            "template_paths": self.template_paths,
            "config": self.config,
            "voila_configuration": self.voila_configuration,
        }
        ours = [("/", Home), (rf"/({names})", Page, known), (r"/telephone/([A-Z0-9]+)", Telephone)]
        ours += [(r"/voila/api/shutdown/(.*)", Left), (r"/voila/execution/([\w-]+)", Results)]
        ours.append((r"/api/kernels/([\w-]+)/channels", Channels))
        return [*ours, *(one for one in super().init_handlers() if not _gives_more(one[0]))]


def _gives_more(place: str) -> bool:
    """Whether an address of Voilà's shows what no page shows: the folder, and notebooks by their file."""
    return place == "/" or any(part in place for part in ("voila/tree", "voila/render", "api/contents", "voila/files"))


def page_config(config: dict[str, Any], **_: object) -> dict[str, Any]:
    """What the template is told: the pages of the bar."""
    return config | {"tourstatsPages": [{"name": page.name, "title": page.title} for page in PAGES]}


def without_questions(_: object, *, notebook: Any, cwd: str) -> Any:  # noqa: ANN401, ARG001  # as Voilà calls it
    """A page as it is served: cells for a question of one's own are not shown there, so that nobody waits for them."""
    notebook.cells = [cell for cell in notebook.cells if "own-question" not in cell.metadata.get("tags", [])]
    return notebook


def main(arguments: list[str], loaded: Loaded | None) -> None:
    """Serve the folder named first, with kernels forked from what is loaded; the rest is Voilà's."""
    Forked.loaded = loaded
    for log in (access_log, gen_log):
        log.setLevel("ERROR")  # a page that is left asks once more for its kernel, which is nobody's trouble
    app = Pages.instance()
    app.config_file_paths = [os.environ["JUPYTER_CONFIG_PATH"]]
    app.initialize(arguments)
    app.cookie_secret = telephone.cookie_secret(Path(os.environ[telephone.SECRETS]))
    app.tornado_settings = app.tornado_settings | {"static_path": "", "static_handler_class": NoPictures}
    templates = Path(os.environ[telephone.SECRETS]) / "templates"
    templates.mkdir(exist_ok=True)
    Exporter.compiled = FileSystemBytecodeCache(str(templates))
    notebook_renderer.VoilaExporter = Exporter
    handler.NotebookRenderer = Renderer
    settings = app.voila_configuration
    settings.page_config_hook = page_config
    settings.prelaunch_hook = without_questions
    settings.multi_kernel_manager_class = WaitingKernels
    app.start()
