"""Drives a stock Firefox over WebDriver BiDi (W3C working draft), which every Firefox speaks by itself."""

from __future__ import annotations

import json
import os
import re
import shutil
import subprocess
import tempfile
import time
from collections.abc import Sequence
from contextlib import ExitStack
from pathlib import Path
from typing import Any

import pytest
from websockets.exceptions import ConnectionClosed
from websockets.sync.client import ClientConnection, connect

PREFERENCES = {
    # Sound may start without a gesture of a real hand, and nothing of the browser's own goes out.
    "media.autoplay.default": 0,
    "media.autoplay.blocking_policy": 0,
    "app.update.auto": False,
    "browser.shell.checkDefaultBrowser": False,
    "browser.startup.page": 0,
    "datareporting.policy.dataSubmissionEnabled": False,
    "toolkit.telemetry.enabled": False,
    "network.captive-portal-service.enabled": False,
    "network.connectivity-service.enabled": False,
    "network.proxy.type": 1,
    # The network is cut: every request goes to a port where nobody listens.
    "network.proxy.http": "127.0.0.1",
    "network.proxy.http_port": 9,
    "network.proxy.ssl": "127.0.0.1",
    "network.proxy.ssl_port": 9,
    "remote.prefs.recommended": True,
}


def path() -> str | None:
    """The Firefox of the variable VERSET_FIREFOX or of the system; None where there is none."""
    named = os.environ.get("VERSET_FIREFOX")
    return named or next((p for name in ("firefox-esr", "firefox") if (p := shutil.which(name))), None)


def _silent_loudspeaker(home: dict[str, str]) -> subprocess.Popen[bytes] | None:
    """A sound server that hears and says nothing, where PulseAudio is installed: without any sound device
    Firefox lets the clock of the sound stand still."""
    program = shutil.which("pulseaudio")
    if not program:
        return None
    socket = Path(home["HOME"]) / "sound"
    command = [
        program,
        "-n",
        "--exit-idle-time=-1",
        "--daemonize=no",
        "--use-pid-file=no",
        "-L",
        "module-null-sink",
    ]
    command += ["-L", f"module-native-protocol-unix auth-anonymous=1 socket={socket}"]
    quiet = subprocess.DEVNULL
    server = subprocess.Popen(command, env=home, stdout=quiet, stderr=quiet)
    home["PULSE_SERVER"] = f"unix:{socket}"
    for _ in range(100):
        if socket.exists():
            break
        time.sleep(0.05)
    return server


class Firefox:
    """A running Firefox with one page at a time. `faults`: errors in the console, requests to the outside."""

    def __init__(self, program: str) -> None:
        self.profile = tempfile.mkdtemp(prefix="verset-firefox-")
        lines = [f"user_pref({json.dumps(k)}, {json.dumps(v)});" for k, v in PREFERENCES.items()]
        (Path(self.profile) / "user.js").write_text("\n".join(lines), "utf-8")

        command = [
            program,
            "--headless",
            "--no-remote",
            "--profile",
            self.profile,
            "--remote-debugging-port",
            "0",
        ]
        home = {
            **os.environ,
            "HOME": self.profile,
            "XDG_RUNTIME_DIR": self.profile,
            "MOZ_CRASHREPORTER_DISABLE": "1",
        }
        self.loudspeaker = _silent_loudspeaker(home)
        # Into a file: a browser that nobody listens to stands still when a pipe is full.
        self.told = Path(self.profile) / "told"
        with self.told.open("wb") as told:
            self.process = subprocess.Popen(command, stderr=told, stdout=subprocess.DEVNULL, env=home)
        self.faults: list[str] = []
        self.stands_still = False
        self.number = 0
        self.open_until_closed = ExitStack()
        try:
            self.socket = self._dial()
            self.send("session.new", capabilities={})
            self.send("session.subscribe", events=["log.entryAdded", "network.beforeRequestSent"])
            self.context = self.send("browsingContext.getTree")["contexts"][0]["context"]
        except BaseException:
            self._end()
            raise

    def _dial(self) -> ClientConnection:
        end = time.monotonic() + 120
        while time.monotonic() < end and self.process.poll() is None:
            if found := re.search(r"WebDriver BiDi listening on (ws://\S+)\s", self.told.read_text("utf-8")):
                link = connect(f"{found[1]}/session", max_size=None, compression=None)
                return self.open_until_closed.enter_context(link)
            time.sleep(0.1)
        raise RuntimeError(
            f"Firefox did not open its WebDriver BiDi port: {self.told.read_text('utf-8')[-500:]}"
        )

    def send(self, method: str, **params: Any) -> Any:
        """A command and its answer; what happens meanwhile is noted. `RuntimeError` where it is refused,
        `TimeoutError` where the page does not come to answer it; where the browser stands still, the test
        is skipped."""
        if not self.stands_still:
            try:
                return self._answer(method, params, 60)
            except TimeoutError:
                if self._answers() or not self._is_idle():
                    raise
            self.stands_still = True
        # Its page thread waits for its own sound server: no page of ours can be heard or blamed.
        pytest.skip(f"this Firefox stands still: at {method} it neither answers nor works")

    def _answer(self, method: str, params: dict[str, Any], seconds: float) -> Any:
        self.number += 1
        self.socket.send(json.dumps({"id": self.number, "method": method, "params": params}))
        end = time.monotonic() + seconds
        while True:
            heard = json.loads(self.socket.recv(timeout=max(0, end - time.monotonic())))
            if heard.get("id") == self.number:
                if heard["type"] == "error":
                    raise RuntimeError(f"{method}: {heard['error']}: {heard['message']}")
                return heard["result"]
            self._note(heard)

    def _answers(self) -> bool:
        """Whether the page still counts to one: where it does not, its only thread is held up."""
        asked = {"expression": "1", "target": {"context": self.context}, "awaitPromise": False}
        try:
            return bool(self._answer("script.evaluate", asked, 10))
        except TimeoutError:
            return False

    def _is_idle(self) -> bool:
        """Whether all processes of the browser together work less than a tenth of the time: a script of the
        page that runs without end works all of it."""
        began = self._worked()
        time.sleep(5)
        return self._worked() - began < 0.5

    def _worked(self) -> float:
        """Seconds of processor of the browser and of those it started, as Linux tells them."""
        mine = {self.process.pid}
        ticks = 0.0
        for stat in sorted(Path("/proc").glob("[0-9]*/stat"), key=lambda p: int(p.parent.name)):
            try:
                pid, rest = int(stat.parent.name), stat.read_text("utf-8").rpartition(")")[2].split()
            except OSError:
                continue
            if int(rest[1]) in mine or pid in mine:
                mine.add(pid)
                ticks += int(rest[11]) + int(rest[12])
        return ticks / os.sysconf("SC_CLK_TCK")

    def _note(self, event: dict[str, Any]) -> None:
        said = event["params"]
        if event["method"] == "log.entryAdded" and said["level"] == "error":
            self.faults.append(f"console: {said['text']}")
        if event["method"] == "network.beforeRequestSent":
            url = said["request"]["url"]
            if not url.startswith(("file:", "data:", "blob:", "about:")):
                self.faults.append(f"outside: {url}")

    def open(self, page: Path, width: int, height: int) -> None:
        self.send(
            "browsingContext.setViewport", context=self.context, viewport={"width": width, "height": height}
        )
        self.send("browsingContext.navigate", context=self.context, url=page.as_uri(), wait="complete")

    def ask(self, expression: str) -> Any:
        """The value of an expression in the page, by way of JSON; promises are awaited."""
        code = f"(async () => JSON.stringify(await ({expression})))()"
        found = self.send(
            "script.evaluate",
            expression=code,
            target={"context": self.context},
            awaitPromise=True,
            userActivation=True,
        )
        if found["type"] == "exception":
            raise RuntimeError(found["exceptionDetails"]["text"])
        text = found["result"].get("value")
        return None if text is None else json.loads(text)

    def wait(self, expression: str, seconds: float = 60) -> Any:
        """The value of an expression as soon as it is true; `AssertionError` when it stays false."""
        end = time.monotonic() + seconds
        while time.monotonic() < end:
            if value := self.ask(expression):
                return value
            time.sleep(0.05)
        raise AssertionError(f"not within {seconds} s: {expression}")

    def _act(self, kind: str, name: str, actions: Sequence[dict[str, Any]], **more: Any) -> None:
        source = {"type": kind, "id": name, "actions": list(actions), **more}
        self.send("input.performActions", context=self.context, actions=[source])

    def press(self, *keys: str) -> None:
        named = {
            "ArrowLeft": "\ue012",
            "ArrowUp": "\ue013",
            "ArrowRight": "\ue014",
            "ArrowDown": "\ue015",
            "Delete": "\ue017",
            "Escape": "\ue00c",
            "PageDown": "\ue00f",
        }
        codes = [named.get(key, key) for key in keys]
        self._act("key", "keys", [{"type": kind, "value": c} for c in codes for kind in ("keyDown", "keyUp")])

    def tap(self, x: float, y: float, pointer: str = "mouse") -> None:
        """A touch (`touch`) or click (`mouse`) at a place of the window."""
        steps: list[dict[str, Any]] = [
            {"type": "pointerMove", "x": round(x), "y": round(y)},
            {"type": "pointerDown", "button": 0},
            {"type": "pointerUp", "button": 0},
        ]
        self._act("pointer", f"{pointer}s", steps, parameters={"pointerType": pointer})

    def drag(self, *places: tuple[float, float]) -> None:
        """The mouse down at the first place, over the others, and up at the last."""
        moves = [{"type": "pointerMove", "x": round(x), "y": round(y)} for x, y in places]
        down, up = ({"type": kind, "button": 0} for kind in ("pointerDown", "pointerUp"))
        self._act("pointer", "mouses", [moves[0], down, *moves[1:], up], parameters={"pointerType": "mouse"})

    def tap_on(self, selector: str, pointer: str = "mouse") -> None:
        box = self.ask(
            f"(() => {{ const e = document.querySelector({json.dumps(selector)});"
            " e.scrollIntoView({block: 'center', behavior: 'instant'});"
            " const b = e.getBoundingClientRect(); return [b.left + b.width / 2, b.top + b.height / 2]; })()"
        )
        self.tap(*box, pointer)

    def close(self) -> None:
        try:
            self._answer("browser.close", {}, 20)
            self.process.wait(20)
        except (RuntimeError, OSError, TimeoutError, ConnectionClosed, subprocess.TimeoutExpired):
            pass
        finally:
            self._end()

    def _end(self) -> None:
        """End what still runs, and leave nothing behind."""
        self.open_until_closed.close()
        for each in filter(None, (self.process, self.loudspeaker)):
            each.kill()
            each.wait(20)
        shutil.rmtree(self.profile, ignore_errors=True)


def started(program: str) -> Firefox:
    """A Firefox that runs; one that opens no port when it is first started is started once more."""
    try:
        return Firefox(program)
    except RuntimeError:
        return Firefox(program)
