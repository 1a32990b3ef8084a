"""The screens in a real browser: Chromium without a window, driven over its own protocol.

Needs Debian's `chromium` and `chromium-driver` (or others of these names on the path) and selenium. Where one is
missing the test is skipped, but fails where the environment says CI: there they must be.
"""

from __future__ import annotations

import base64
import importlib
import json
import os
import re
import shutil
import signal
import time
from collections.abc import Callable, Iterator
from pathlib import Path

import pytest

from vibdiag.case.model import Case
from vibdiag.case.storage import load_case, save_case
from vibdiag.files.shipped import shipped_folder

from .test_serve_command import Running

SELENIUM = "selenium.webdriver"
webdriver = importlib.import_module(SELENIUM) if os.environ.get("CI") else pytest.importorskip(SELENIUM)
Keys = webdriver.Keys

FLAGS = (
    "--headless=new",
    "--no-sandbox",
    "--disable-gpu",
    "--disable-quic",
    "--no-first-run",
    "--disable-background-networking",
    "--disable-component-update",
    "--disable-sync",
    "--window-size=1366,768",
)


class Browser:
    """A Chromium that notes what goes over the network, with an empty profile."""

    def __init__(self, program: str, driver: str, profile: Path) -> None:
        options = webdriver.ChromeOptions()
        options.binary_location = program
        for flag in (*FLAGS, f"--user-data-dir={profile}"):
            options.add_argument(flag)
        options.set_capability("goog:loggingPrefs", {"browser": "ALL", "performance": "ALL"})
        service = webdriver.ChromeService(executable_path=driver)
        self.driver = webdriver.Chrome(options=options, service=service)
        self.told: list[str] = []
        self.asked: set[str] = set()

    def look(self) -> str:
        """Everything that the screens wrote so far, without what moves the cursor and colours."""
        for entry in self.driver.get_log("performance"):
            message = json.loads(entry["message"])["message"]
            if message["method"] == "Network.webSocketFrameReceived":
                frame = message["params"]["response"]
                if frame["opcode"] == 2:
                    self.told.append(base64.b64decode(frame["payloadData"]).decode("utf-8", "replace"))
            elif message["method"] in ("Network.requestWillBeSent", "Network.webSocketCreated"):
                self.asked.add(message["params"].get("request", message["params"]).get("url", ""))
        return re.sub(r"\x1b\[[0-9;?<>=]*\$?[A-Za-z]", " ", "".join(self.told))

    def press(self, keys: str) -> None:
        webdriver.ActionChains(self.driver).send_keys(keys).perform()

    def press_until(self, keys: str, seen: Callable[[], bool], what: str) -> None:
        """Press again, at a person's pace, until it shows."""

        def pressed() -> bool:
            if not seen():
                self.press(keys)
                time.sleep(1.5)
            return seen()

        self.until(pressed, what)

    def until(self, seen: Callable[[], bool], what: str, *, within_s: float = 30) -> None:
        end = time.monotonic() + within_s
        while not seen():
            assert time.monotonic() < end, f"not seen in {within_s} s: {what}; the screens said {self.look()[-2000:]}"
            time.sleep(0.1)


@pytest.fixture
def browser(tmp_path: Path) -> Iterator[Browser]:
    program, driver = shutil.which("chromium"), shutil.which("chromedriver")
    if program is None or driver is None:
        if os.environ.get("CI"):
            pytest.fail("chromium and chromium-driver must be installed where CI is set")
        pytest.skip("chromium or chromedriver is not installed")
    started = Browser(program, driver, tmp_path / "profile")
    yield started
    started.driver.quit()


@pytest.fixture
def case_file(tmp_path: Path) -> Path:
    """An invented case, before anything was asked: nothing answered, nothing measured, nothing repaired."""
    demo = load_case(shipped_folder("cases") / "motorway-tremor.yaml")
    fresh = Case(vibdiag_case=1, id="invented", invented=True, title=demo.title, complaint=demo.complaint)
    path = tmp_path / "shop" / "cases" / "invented.yaml"
    path.parent.mkdir(parents=True)
    save_case(fresh, path)
    return path


def test_a_case_is_opened_answered_and_kept(browser: Browser, case_file: Path, tmp_path: Path) -> None:
    server = Running(case_file.parent)
    try:
        browser.driver.get(f"{server.address}/")
        browser.until(lambda: "Trembles on the motorway" in browser.look(), "the case in the list")
        assert browser.driver.save_screenshot(str(tmp_path / "start.png"))

        # No click is needed before the first key. The list is there before the rule base is: a key may come too soon.
        browser.press_until(Keys.ENTER, lambda: "CAUSES" in browser.look(), "the screen of the case")
        assert load_case(case_file).steps == []
        browser.press_until("1", lambda: bool(load_case(case_file).steps), "an answer in the file")
        time.sleep(1)  # the redraw
        picture = tmp_path / "case.png"
        assert browser.driver.save_screenshot(str(picture))
        assert picture.stat().st_size > 10_000
        assert picture.read_bytes() != (tmp_path / "start.png").read_bytes()

        # Nothing was asked for but from this server, and nothing was refused by our own policy.
        browser.look()
        foreign = {url for url in browser.asked if not url.startswith(("chrome", "data:", "about:"))} - {""}
        own = server.address.removeprefix("http://")
        assert {url for url in foreign if f"://{own}/" not in url} == set()
        assert any(url.startswith(f"ws://{own}/ws") for url in foreign)
        severe = [entry["message"] for entry in browser.driver.get_log("browser") if entry["level"] == "SEVERE"]
        assert severe == []
        fonts = browser.driver.execute_script("return [...document.fonts].map(font => font.status)")
        assert fonts == ["loaded", "loaded"]

        # The server ends: the page says so, and that nothing is lost.
        assert server.end(signal.SIGTERM) == 0
        note = browser.driver.find_element("id", "ended")
        browser.until(note.is_displayed, "the last words")
        assert "Every answer given is saved" in note.text
    finally:
        if server.process.poll() is None:
            server.end(signal.SIGKILL)
