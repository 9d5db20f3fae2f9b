"""Browsers of other makes, driven by their own automation: Firefox by Marionette, WebKitGTK by its WebDriver.

Both speak the commands of W3C WebDriver (https://www.w3.org/TR/webdriver2/); only the envelope differs. Marionette's is
`length:[0, number, command, parameters]` over TCP (Firefox source docs, "Marionette: Protocol").
"""
import contextlib
import http.client
import json
import os
import shutil
import signal
import socket
import subprocess
import tempfile
import time
from collections.abc import Callable
from pathlib import Path

from tests.network.running import free_ports

# W3C WebDriver, "Elements": the name under which an element is told.
ELEMENT = "element-6066-11e4-a52e-4f735466cecf"
PATIENCE_SECONDS = 30


class NoSuchBrowser(Exception):
    """The browser or its driver is not on this computer."""


def until(is_so: Callable[[], object], what: str, seconds: float = PATIENCE_SECONDS):
    """Waits for something to be so and gives it back; AssertionError with `what` where it never is."""
    end = time.monotonic() + seconds
    while not (found := is_so()):
        assert time.monotonic() < end, what
        time.sleep(0.05)
    return found


class Browser:
    """What a test does with a browser of either make; `tell` sends one command of WebDriver."""

    def __init__(self) -> None:
        self.folder = Path(tempfile.mkdtemp(prefix="browser-"))
        self.started: list[subprocess.Popen] = []

    def tell(self, command: str, **about):
        raise NotImplementedError

    def start(self, *words: str, **environment: str) -> subprocess.Popen:
        with (self.folder / f"{Path(words[0]).name}.log").open("wb") as log:
            begun = subprocess.Popen(
                words, stdout=log, stderr=subprocess.STDOUT, stdin=subprocess.DEVNULL, start_new_session=True,
                env={**os.environ, "HOME": str(self.folder), "XDG_RUNTIME_DIR": str(self.folder), **environment},
            )
        self.started.append(begun)
        return begun

    def close(self) -> None:
        for each in reversed(self.started):
            with contextlib.suppress(ProcessLookupError):
                os.killpg(each.pid, signal.SIGKILL)
            each.wait()
        shutil.rmtree(self.folder, ignore_errors=True)

    def open(self, address: str) -> None:
        self.tell("Navigate", url=address)

    def script(self, text: str, *given):
        """What a piece of script gives back; a promise is waited for."""
        return self.tell("ExecuteScript", script=text, args=list(given))

    def find(self, path: str) -> str:
        """An element by XPath, once it is there and can be seen."""
        def seen() -> str | None:
            found = self.tell("FindElements", using="xpath", value=path)
            for each in found:
                element = each[ELEMENT]
                if self.script("return arguments[0].checkVisibility()", {ELEMENT: element}):
                    return element
            return None
        return until(seen, f"nothing to be seen at {path}")

    def click(self, path: str) -> None:
        self.tell("ElementClick", id=self.find(path))

    def type(self, path: str, text: str) -> None:
        self.tell("ElementSendKeys", id=self.find(path), text=text)


class Firefox(Browser):
    """Firefox without a window."""

    name = "firefox"

    def __init__(self) -> None:
        super().__init__()
        program = shutil.which("firefox-esr") or shutil.which("firefox")
        if program is None:
            raise NoSuchBrowser("firefox-esr")
        port, profile = free_ports(), self.folder / "profile"
        profile.mkdir()
        wishes = {
            "marionette.port": port, "browser.shell.checkDefaultBrowser": False,
            # Nothing is asked of anybody outside.
            "datareporting.policy.dataSubmissionEnabled": False, "toolkit.telemetry.enabled": False,
            "app.update.enabled": False, "extensions.update.enabled": False, "services.settings.server": "data:,",
            "network.captive-portal-service.enabled": False, "network.connectivity-service.enabled": False,
            "browser.safebrowsing.update.enabled": False,
        }
        (profile / "user.js").write_text("".join(f'user_pref("{k}", {json.dumps(v)});\n' for k, v in wishes.items()))
        self.start(program, "--headless", "--marionette", "--no-remote", "--profile", str(profile))
        self.number, self.line = 0, until(lambda: self._reach(port), "Firefox does not answer")
        self.stream = self.line.makefile("rb")
        self._read()
        self.tell("NewSession", capabilities={"alwaysMatch": {"pageLoadStrategy": "normal"}})

    @staticmethod
    def _reach(port: int) -> socket.socket | None:
        try:
            return socket.create_connection(("127.0.0.1", port), timeout=PATIENCE_SECONDS)
        except OSError:
            return None

    def _read(self):
        length = b""
        while (letter := self.stream.read(1)) != b":":
            assert letter, "Firefox hung up"
            length += letter
        return json.loads(self.stream.read(int(length)))

    def close(self) -> None:
        self.stream.close()
        self.line.close()
        super().close()

    def tell(self, command: str, **about):
        self.number += 1
        said = json.dumps([0, self.number, f"WebDriver:{command}", about]).encode()
        self.line.sendall(f"{len(said)}:".encode() + said)
        _kind, _number, error, answer = self._read()
        assert error is None, f"{command}: {error}"
        return answer["value"] if isinstance(answer, dict) and "value" in answer else answer


class WebKit(Browser):
    """WebKitGTK's own small browser, on a screen that nobody sees."""

    name = "webkit"
    _ways = {
        "Navigate": ("POST", "/url"), "ExecuteScript": ("POST", "/execute/sync"), "FindElements": ("POST", "/elements"),
        "ElementClick": ("POST", "/element/{id}/click"), "ElementSendKeys": ("POST", "/element/{id}/value"),
        "AddCookie": ("POST", "/cookie"),
    }

    def __init__(self) -> None:
        super().__init__()
        driver, screen = shutil.which("WebKitWebDriver"), shutil.which("Xvfb")
        if driver is None or screen is None:
            raise NoSuchBrowser("webkit2gtk-driver and xvfb")
        told, tells = os.pipe()
        os.set_inheritable(tells, True)
        shown = subprocess.Popen(
            [screen, "-displayfd", str(tells), "-screen", "0", "1024x768x24", "-nolisten", "tcp"], pass_fds=[tells],
            stdout=subprocess.DEVNULL, stderr=subprocess.DEVNULL, start_new_session=True,
        )
        os.close(tells)
        self.started.append(shown)
        with os.fdopen(told) as answer:
            display = answer.readline().strip()
        self.port, self.session = free_ports(), ""
        self.start(driver, f"--port={self.port}", "--host=127.0.0.1", DISPLAY=f":{display}", GDK_BACKEND="x11",
                   WEBKIT_DISABLE_SANDBOX_THIS_IS_DANGEROUS="1", LIBGL_ALWAYS_SOFTWARE="1")
        until(self._answers, "WebKit's driver does not answer")
        wishes = {"capabilities": {"alwaysMatch": {}}}
        self.session = "/session/" + self._ask("POST", "/session", wishes)["sessionId"]

    def _answers(self) -> bool:
        try:
            return self._ask("GET", "/status", None) is not None
        except OSError:
            return False

    def _ask(self, method: str, path: str, about):
        line = http.client.HTTPConnection("127.0.0.1", self.port, timeout=PATIENCE_SECONDS * 2)
        try:
            line.request(method, path, None if about is None else json.dumps(about))
            answer = line.getresponse()
            told = json.load(answer)["value"]
        finally:
            line.close()
        assert answer.status == 200, f"{path}: {told}"
        return told

    def tell(self, command: str, **about):
        method, way = self._ways[command]
        return self._ask(method, self.session + way.format(**about), {k: v for k, v in about.items() if k != "id"})
