"""The front: who may come in, what is served, with every check before every route."""

from __future__ import annotations

import importlib.resources
import math
from collections.abc import Awaitable, Callable, Mapping
from dataclasses import dataclass, field
from pathlib import Path
from urllib.parse import quote

from aiohttp import web
from jinja2 import Environment, FileSystemLoader, StrictUndefined

from vibdiag.serve.headers import DOWNLOAD_POLICY, security_headers
from vibdiag.serve.logins import LOGIN_HOURS, Logins, Slowdown
from vibdiag.serve.origin import Door, from_own_page
from vibdiag.serve.tabs import Tabs
from vibdiag.serve.token import Token

__all__ = ["Front", "Settings"]

_PAGES = Path(__file__).parent / "pages"
_TERMINAL = Path(str(importlib.resources.files("textual_serve"))) / "static"
# Everything that can be fetched beside the pages; nothing else of any folder is served. The types are written down,
# since what the system knows of types differs and browsers are told not to guess.
_FILES = {
    "page.css": (_PAGES / "page.css", "text/css; charset=utf-8"),
    "page.js": (_PAGES / "page.js", "text/javascript; charset=utf-8"),
    "terminal.js": (_TERMINAL / "js" / "textual.js", "text/javascript; charset=utf-8"),
    "terminal.css": (_TERMINAL / "css" / "xterm.css", "text/css; charset=utf-8"),
    "upright.ttf": (_TERMINAL / "fonts" / "RobotoMono-VariableFont_wght.ttf", "font/ttf"),
    "italic.ttf": (_TERMINAL / "fonts" / "RobotoMono-Italic-VariableFont_wght.ttf", "font/ttf"),
}
_LARGEST_FORM = 4096
_Handler = Callable[[web.Request], Awaitable[web.StreamResponse]]


@dataclass(frozen=True)
class Settings:
    """`command` runs the screens, with `environment` beside what is set already; `token` None lets everybody in who
    reaches the door; `idle_s` without any input."""

    command: tuple[str, ...]
    door: Door
    token: Token | None = None
    port: int = 0
    sessions: int = 8
    idle_s: float = 3600.0
    environment: Mapping[str, str] = field(default_factory=dict)
    background: str = "#f7f4ec"
    foreground: str = "#1d1d1b"
    logins: Logins = field(default_factory=Logins)
    slowdown: Slowdown = field(default_factory=Slowdown)


class Front:
    """The aiohttp application and what it must remember while it runs."""

    def __init__(self, settings: Settings) -> None:
        self.settings = settings
        # Cookies do not tell ports apart, so the name does: two servers on one machine keep their logins.
        self.cookie = f"vibdiag-{settings.port}"
        self.tabs = Tabs(settings.command, settings.environment, most=settings.sessions, idle_s=settings.idle_s)
        self.templates = Environment(autoescape=True, loader=FileSystemLoader(_PAGES), undefined=StrictUndefined)

    def application(self) -> web.Application:
        """A new aiohttp application."""
        app = web.Application(middlewares=[self.check_origin, self.check_login], client_max_size=_LARGEST_FORM)
        app.add_routes(
            [
                web.get("/", self.page),
                web.get("/login", self.login_page),
                web.post("/login", self.login),
                web.get("/static/{name}", self.static),
                web.get("/download/{key}", self.download),
                web.get("/ws", self.tabs.serve, allow_head=False),
                web.get("/ws/{tab:[0-9a-f]{1,32}}", self.tabs.serve, allow_head=False),
            ]
        )
        app.on_response_prepare.append(self.add_headers)
        app.on_shutdown.append(self.tabs.close_all)
        return app

    # -- before every route ---------------------------------------------------------------------------------------

    async def add_headers(self, request: web.Request, response: web.StreamResponse) -> None:
        """Security headers, also on refusals; a handler that set one of them keeps its own."""
        host = request.headers.get("Host")
        for name, value in security_headers(host if self.settings.door.answers_to(host) else None).items():
            response.headers.setdefault(name, value)
        response.headers["Server"] = "vibdiag"

    @web.middleware
    async def check_origin(self, request: web.Request, handler: _Handler) -> web.StreamResponse:
        """Refuse foreign names (Host) and foreign pages (Origin); what changes or opens something must say its page."""
        hosts = request.headers.getall("Host", [])
        if len(hosts) != 1 or not self.settings.door.answers_to(hosts[0]):
            raise web.HTTPMisdirectedRequest(text="This server does not answer to that name.\n")
        origins = request.headers.getall("Origin", [])
        must = request.method not in ("GET", "HEAD") or request.path.partition("/")[2].partition("/")[0] == "ws"
        if (must and not origins) or any(not from_own_page(origin, hosts[0]) for origin in origins):
            raise web.HTTPForbidden(text="This request did not come from a page of this server.\n")
        return await handler(request)

    @web.middleware
    async def check_login(self, request: web.Request, handler: _Handler) -> web.StreamResponse:
        """Everything but the login itself needs the cookie, where there is a token."""
        if request.path == "/login" or self.may_enter(request):
            return await handler(request)
        if request.path == "/":
            raise web.HTTPSeeOther("/login")
        raise web.HTTPUnauthorized(text="Log in first.\n")

    def may_enter(self, request: web.Request) -> bool:
        """Whether no token is asked for, or the request carries a login that was given out here."""
        return self.settings.token is None or self.settings.logins.knows(request.cookies.get(self.cookie))

    # -- pages ----------------------------------------------------------------------------------------------------

    def render(self, name: str, *, status: int = 200, **values: object) -> web.Response:
        """A page in the colours of the theme that was chosen last."""
        colours = {"background": self.settings.background, "foreground": self.settings.foreground}
        text = self.templates.get_template(name).render(colours | values)
        return web.Response(text=text, status=status, content_type="text/html", charset="utf-8")

    async def page(self, _: web.Request) -> web.Response:
        """The terminal, or that there is no room."""
        if self.tabs.full():
            return self.render("full.html", status=503, sessions=self.settings.sessions)
        return self.render("screens.html")

    async def login_page(self, request: web.Request) -> web.Response:
        """The form for the token; whoever is in already goes on to the screens."""
        if self.may_enter(request):
            raise web.HTTPSeeOther("/")
        return self.render("login.html", problem="")

    async def login(self, request: web.Request) -> web.Response:
        """Compare the token, slowly for those who guess; the right one gives a cookie that scripts cannot read."""
        settings, address = self.settings, request.remote or ""
        if settings.token is None:
            raise web.HTTPSeeOther("/")
        wait_s = math.ceil(settings.slowdown.wait_s(address))
        if wait_s > 0:
            moment = "1 second" if wait_s == 1 else f"{wait_s} seconds"
            answer = self.render("login.html", status=429, problem=f"Too soon after a wrong token: wait {moment}.")
            answer.headers["Retry-After"] = str(wait_s)
            return answer
        # Counted before the form is read, so that many tries at once do not slip through together.
        settings.slowdown.failed(address)
        offered = (await request.post()).get("token")
        if not isinstance(offered, str) or not settings.token.matches(offered):
            return self.render("login.html", status=401, problem="That is not the token.")
        settings.slowdown.succeeded(address)
        answer = web.Response(status=303, headers={"Location": "/"})
        answer.set_cookie(
            self.cookie,
            settings.logins.open(),
            max_age=int(LOGIN_HOURS * 3600),
            path="/",
            httponly=True,
            samesite="Strict",
            secure=request.secure,
        )
        return answer

    async def static(self, request: web.Request) -> web.StreamResponse:
        """One of the listed files; the browser may keep it, but asks whether it is still the same."""
        found = _FILES.get(request.match_info["name"])
        if found is None:
            raise web.HTTPNotFound(text="There is no such file.\n")
        path, kind = found
        return web.FileResponse(path, headers={"Content-Type": kind, "Cache-Control": "private, no-cache"})

    # -- files of a session ----------------------------------------------------------------------------------------

    async def download(self, request: web.Request) -> web.StreamResponse:
        """A file that a running process offers, such as a report; shown or kept as it asks, in a sandbox."""
        key = request.match_info["key"]
        try:
            offered = await self.tabs.downloads.get_download_metadata(key)
        except KeyError:
            raise web.HTTPNotFound(text="This file is no longer offered.\n") from None
        kind = "inline" if offered.open_method == "browser" else "attachment"
        charset = f"; charset={offered.encoding}" if offered.encoding else ""
        response = web.StreamResponse(
            headers={
                "Content-Type": f"{offered.mime_type or 'application/octet-stream'}{charset}",
                "Content-Disposition": f"{kind}; filename*=UTF-8''{quote(offered.file_name, safe='')}",
                "Content-Security-Policy": DOWNLOAD_POLICY,
            }
        )
        await response.prepare(request)
        async for chunk in self.tabs.downloads.download(key):
            await response.write(chunk)
        await response.write_eof()
        return response
