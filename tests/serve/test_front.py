"""The front over HTTP: nothing without the token, nothing for foreign names and pages, nothing from outside hosts."""

from __future__ import annotations

import re

import pytest
from aiohttp import WSServerHandshakeError

from .served import TOKEN, log_in, own_origin, run, served

FILES = ["page.css", "page.js", "terminal.js", "terminal.css", "upright.ttf", "italic.ttf"]
GUARDED = ["/", "/ws", "/download/anything", "/nothing", *(f"/static/{name}" for name in FILES)]
HEADERS = {
    "X-Content-Type-Options": "nosniff",
    "X-Frame-Options": "DENY",
    "Referrer-Policy": "same-origin",
    "Cross-Origin-Resource-Policy": "same-origin",
}


@pytest.mark.parametrize("path", GUARDED)
def test_nothing_is_served_before_the_login(path: str) -> None:
    async def test() -> None:
        async with served() as client:
            answer = await client.get(path, headers=own_origin(client), allow_redirects=False)
            body = await answer.read()
            if path == "/":
                assert (answer.status, answer.headers["Location"]) == (303, "/login")
            else:
                assert (answer.status, body) == (401, b"Log in first.\n")

    run(test())


@pytest.mark.parametrize("cookie", ["", "made-up", TOKEN])
def test_a_cookie_that_was_not_given_out_opens_nothing(cookie: str) -> None:
    async def test() -> None:
        async with served() as client:
            headers = {"Cookie": f"vibdiag-8765={cookie}"}
            assert (await client.get("/static/page.js", headers=headers)).status == 401

    run(test())


def test_the_token_opens_everything_by_a_cookie_that_scripts_and_other_sites_do_not_get() -> None:
    async def test() -> None:
        async with served() as client:
            answer = await client.post(
                "/login", data={"token": f" {TOKEN} "}, headers=own_origin(client), allow_redirects=False
            )
            assert (answer.status, answer.headers["Location"]) == (303, "/")
            cookie = answer.cookies["vibdiag-8765"]
            assert cookie["httponly"] is True
            assert cookie["samesite"] == "Strict"
            assert cookie["path"] == "/"
            assert cookie["domain"] == ""
            assert TOKEN not in answer.headers["Set-Cookie"]
            page = await client.get("/")
            assert page.status == 200
            assert 'id="terminal"' in await page.text()
            assert TOKEN not in await page.text()
            for name in FILES:
                assert (await client.get(f"/static/{name}")).status == 200
            again = await client.get("/login", allow_redirects=False)
            assert (again.status, again.headers["Location"]) == (303, "/")

    run(test())


@pytest.mark.parametrize("wrong", ["", "wrong", TOKEN[:-1], TOKEN + "x", TOKEN.upper()])
def test_a_wrong_token_opens_nothing_and_is_not_shown(wrong: str) -> None:
    async def test() -> None:
        async with served() as client:
            answer = await client.post("/login", data={"token": wrong}, headers=own_origin(client))
            text = await answer.text()
            assert answer.status == 401
            assert "That is not the token." in text
            assert 'role="alert"' in text
            assert not answer.cookies
            assert not wrong or wrong not in text
            assert (await client.get("/static/page.js")).status == 401

    run(test())


def test_the_token_in_the_address_opens_nothing() -> None:
    async def test() -> None:
        async with served() as client:
            answer = await client.get(f"/?token={TOKEN}", allow_redirects=False)
            assert answer.status == 303
            posted = await client.post(f"/login?token={TOKEN}", headers=own_origin(client), allow_redirects=False)
            assert posted.status == 401

    run(test())


def test_after_a_wrong_token_even_the_right_one_has_to_wait() -> None:
    async def test() -> None:
        async with served() as client:
            assert await log_in(client, "wrong") == 401
            answer = await client.post("/login", data={"token": TOKEN}, headers=own_origin(client))
            assert answer.status == 429
            assert 1 <= int(answer.headers["Retry-After"]) <= 2
            assert "wait" in await answer.text()
            assert (await client.get("/static/page.js")).status == 401

    run(test())


def test_a_form_from_a_foreign_page_is_not_looked_at() -> None:
    async def test() -> None:
        async with served() as client:
            for headers in ({}, {"Origin": "null"}, {"Origin": "http://attacker.example"}):
                answer = await client.post("/login", data={"token": TOKEN}, headers=headers, allow_redirects=False)
                assert answer.status == 403
            assert await log_in(client) == 303  # none of these counted as a try

    run(test())


def test_a_huge_or_odd_form_does_no_harm() -> None:
    async def test() -> None:
        async with served() as client:
            huge = await client.post("/login", data={"token": "x" * 100_000}, headers=own_origin(client))
            assert huge.status == 413
        async with served() as client:
            odd = await client.post("/login", json=["token"], headers=own_origin(client))
            assert odd.status == 401

    run(test())


@pytest.mark.parametrize("token", [None, TOKEN])
@pytest.mark.parametrize("path", [*GUARDED, "/login"])
def test_a_foreign_name_is_refused_also_on_this_machine_and_without_a_token(token: str | None, path: str) -> None:
    async def test() -> None:
        async with served(token=token) as client:
            name = f"attacker.example:{client.port}"
            answer = await client.get(path, headers={"Host": name, "Origin": f"http://{name}"}, allow_redirects=False)
            assert answer.status == 421
            assert "attacker" not in str(answer.headers) + await answer.text()

    run(test())


def test_a_foreign_page_is_refused_also_for_reading() -> None:
    async def test() -> None:
        async with served(token=None) as client:
            assert (await client.get("/", headers={"Origin": "http://attacker.example"})).status == 403
            assert (await client.get("/", headers=own_origin(client))).status == 200
            assert (await client.get("/")).status == 200

    run(test())


@pytest.mark.parametrize("origin", [None, "null", "http://attacker.example", "http://127.0.0.1:1"])
def test_a_websocket_of_a_foreign_page_is_refused_although_nobody_asks_for_a_token(origin: str | None) -> None:
    async def test() -> None:
        async with served(token=None) as client:
            with pytest.raises(WSServerHandshakeError) as refusal:
                await client.ws_connect("/ws", headers={} if origin is None else {"Origin": origin})
            assert refusal.value.status == 403

    run(test())


def test_a_websocket_without_the_cookie_is_refused_and_starts_no_process() -> None:
    async def test() -> None:
        async with served(("/no/such/program",)) as client:
            with pytest.raises(WSServerHandshakeError) as refusal:
                await client.ws_connect("/ws", headers=own_origin(client))
            assert refusal.value.status == 401

    run(test())


@pytest.mark.parametrize("path", ["/", "/login", "/nothing", "/static/page.js", "/static/nothing", "/download/x"])
def test_every_answer_carries_the_security_headers(path: str) -> None:
    async def test() -> None:
        async with served() as client:
            for logged_in in (False, True):
                if logged_in:
                    await log_in(client)
                answer = await client.get(path, allow_redirects=False)
                assert {name: answer.headers.get(name) for name in HEADERS} == HEADERS
                assert answer.headers["Cache-Control"] in ("no-store", "private, no-cache")
                assert "aiohttp" not in answer.headers["Server"]
                policy = answer.headers["Content-Security-Policy"]
                assert "default-src 'none'" in policy
                assert "script-src 'self';" in policy
                assert "frame-ancestors 'none'" in policy
                assert "unsafe-eval" not in policy
                own = f"127.0.0.1:{client.port}"
                assert set(re.findall(r"[a-z]+://\S+", policy)) == {f"ws://{own}", f"wss://{own};"}

    run(test())


# A web address with a host in it, with or without a scheme, as it would stand in a page, a style or a script.
OUTSIDE = re.compile(r"""(?:https?:|wss?:)//[\w.-]+|["'(=]\s*//[\w-]+\.[\w.-]+""")


@pytest.mark.parametrize("found", ["https://fonts.example/css", "url(//fonts.example/x)", 'src="//a.example/b.js"'])
def test_the_pattern_finds_outside_hosts(found: str) -> None:
    assert OUTSIDE.search(found)


def test_no_page_style_or_script_names_an_outside_host() -> None:
    async def test() -> None:
        async with served(sessions=1) as client:
            texts = {"login": await (await client.get("/login")).text()}
            await log_in(client)
            texts["screens"] = await (await client.get("/")).text()
            async with client.ws_connect("/ws", headers=own_origin(client)):
                texts["full"] = await (await client.get("/")).text()
            for name in FILES[:4]:
                texts[name] = await (await client.get(f"/static/{name}")).text()
            # Its licence stands in a comment and names where it comes from.
            texts["terminal.css"] = re.sub(r"/\*.*?\*/", "", texts["terminal.css"], flags=re.DOTALL)
            assert "no more may be" in texts["full"]
            assert 'id="terminal"' in texts["screens"]
            assert {name: OUTSIDE.findall(text) for name, text in texts.items()} == {name: [] for name in texts}
            # Only addresses of our own are loaded, and each exists.
            loaded = re.findall(r"""(?:src|href)="([^"]+)"|url\("([^"]+)"\)""", "".join(texts.values()))
            for address in {first or second for first, second in loaded} - {"data:,"}:
                assert address.startswith("/static/")
                assert (await client.get(address)).status == 200

    run(test())


@pytest.mark.parametrize(
    "path", ["/static/", "/static/..%2fserver.py", "/static/%2e%2e/server.py", "/static/puppet.py"]
)
def test_no_other_file_can_be_fetched(path: str) -> None:
    async def test() -> None:
        async with served(token=None) as client:
            assert (await client.get(path)).status == 404

    run(test())


@pytest.mark.parametrize(
    ("name", "kind"), [("terminal.js", "text/javascript"), ("page.css", "text/css"), ("upright.ttf", "font/ttf")]
)
def test_types_are_said_since_guessing_is_forbidden(name: str, kind: str) -> None:
    async def test() -> None:
        async with served(token=None) as client:
            assert (await client.get(f"/static/{name}")).content_type == kind

    run(test())
