"""A real browser for tests: Debian's Chromium by its own driver, and the accessibility checker axe-core.

On a machine that has none the tests that want one are skipped, with the reason. Where the variable
RUNGPROOF_BROWSER is `required` (CI sets it, after having tried to install them) they fail.
"""

from __future__ import annotations

import json
import os
import shutil
import subprocess
import tarfile
import tempfile
from collections.abc import Iterator
from pathlib import Path
from typing import Any, NoReturn

import pytest

AXE = "axe-core-4.14.1"


def missing(what: str) -> NoReturn:
    """Skip, or fail where a browser is required."""
    words = f"{what}: what a page does in a browser was not tested"
    if os.environ.get("RUNGPROOF_BROWSER") == "required":
        pytest.fail(f"{words}, and here it must be (RUNGPROOF_BROWSER=required)")
    pytest.skip(words)


def start_browser() -> Any:
    """A browser without a window, its network and console written down."""
    chromium = shutil.which("chromium") or shutil.which("chromium-browser")
    driver = shutil.which("chromedriver")
    if chromium is None or driver is None:
        missing("there is no chromium with its chromedriver on this machine")
    try:
        from selenium import webdriver
        from selenium.webdriver.chrome.service import Service
    except ImportError:
        missing("selenium is not installed here")
    options = webdriver.ChromeOptions()
    options.binary_location = str(chromium)
    for argument in ("--headless=new", "--no-sandbox", "--disable-gpu", "--disable-dev-shm-usage", "--hide-scrollbars"):
        options.add_argument(argument)
    options.set_capability("goog:loggingPrefs", {"browser": "ALL", "performance": "ALL"})
    return webdriver.Chrome(options=options, service=Service(str(driver)))


class Page:
    """A page in the browser, and what can be asked of it."""

    def __init__(self, driver: Any) -> None:
        self.driver = driver
        self.media: dict[str, str] = {}

    def open(self, path: Path, *, width: int = 1300, height: int = 900, **media: str) -> Page:
        """Open a file; `media` are features such as prefers_color_scheme="dark"."""
        self.driver.get_log("browser")
        self.driver.get_log("performance")
        self.driver.set_window_size(width, height)
        features = [{"name": name.replace("_", "-"), "value": value} for name, value in media.items()]
        self.driver.execute_cdp_cmd("Emulation.setEmulatedMedia", {"features": features})
        self.driver.get(path.as_uri())
        return self

    def js(self, code: str, *arguments: Any) -> Any:
        return self.driver.execute_script(code, *arguments)

    def click(self, name: str) -> None:
        self.driver.find_element("id", name).click()

    def keys(self, *keys: str) -> None:
        self.driver.switch_to.active_element.send_keys(*keys)

    def text(self, selector: str) -> str:
        return str(self.js("return document.querySelector(arguments[0]).textContent", selector))

    def clock(self) -> str:
        return self.text("#status [data-clock]")

    def complaints(self) -> list[str]:
        """What the console says: errors and warnings."""
        return [entry["message"] for entry in self.driver.get_log("browser") if entry["level"] != "INFO"]

    def requests(self) -> list[str]:
        """Every address that was asked for since the page was opened."""
        found = []
        for entry in self.driver.get_log("performance"):
            message = json.loads(entry["message"])["message"]
            if message["method"] == "Network.requestWillBeSent":
                found.append(message["params"]["request"]["url"])
        return found

    def accessibility_violations(self, axe: str) -> list[str]:
        """What axe-core finds against WCAG 2.2 A and AA, and against its best practices."""
        self.js(axe)
        found = self.driver.execute_async_script(
            "const done = arguments[arguments.length - 1];"
            "axe.run(document, {resultTypes: ['violations']}).then((r) => done(r.violations.map("
            "(v) => `${v.id}: ${v.help}: ${v.nodes.slice(0, 3).map((n) => n.target.join(' ')).join('; ')}`)));"
        )
        return list(found)


def axe_source() -> str:
    """The text of axe-core, fetched once into a cache folder outside the project by the ordinary client."""
    cache = Path(os.environ.get("XDG_CACHE_HOME") or Path.home() / ".cache") / "rungproof-tests"
    wanted = cache / f"{AXE}.min.js"
    if not wanted.exists():
        _fetch(wanted, cache)
    return wanted.read_text(encoding="utf-8")


def _fetch(wanted: Path, cache: Path) -> None:
    npm = shutil.which("npm")
    if npm is None:
        missing(f"{AXE} is not in {cache.name}, and there is no npm to fetch it with")
    cache.mkdir(parents=True, exist_ok=True)
    name, _, version = AXE.rpartition("-")
    with tempfile.TemporaryDirectory(dir=cache) as folder:
        command = [str(npm), "pack", f"{name}@{version}", "--silent"]
        done = subprocess.run(command, cwd=folder, capture_output=True, text=True, check=False, timeout=120)
        archive = Path(folder) / f"{AXE}.tgz"
        if done.returncode != 0 or not archive.exists():
            missing(f"npm could not fetch {AXE}")
        with tarfile.open(archive) as packed:
            member = packed.extractfile("package/axe.min.js")
            assert member is not None, "the package holds axe.min.js"
            fetched = Path(folder) / "axe.js"
            fetched.write_bytes(member.read())
        # Whole or not at all: two test processes may do this at once.
        fetched.replace(wanted)


def browser_pages() -> Iterator[Page]:
    """One browser for all tests of a session."""
    driver = start_browser()
    try:
        yield Page(driver)
    finally:
        driver.quit()
