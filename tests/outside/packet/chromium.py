"""A real browser for tests, spoken to over two pipes (Chrome DevTools Protocol): nothing is fetched, nothing listens."""

import base64
import fcntl
import json
import os
import shutil
import subprocess
import tempfile


def program():
    found = shutil.which("chromium") or shutil.which("chromium-browser")
    assert found, "chromium is missing: tests/run installs it"
    return found


class Page:
    """One page in a headless Chromium."""

    def __init__(self, downloads):
        self.profile = tempfile.mkdtemp(prefix="underlit-chromium-")
        commands, self.out = os.pipe()
        answers, into = os.pipe()
        # The browser reads its descriptor 3 and writes its descriptor 4; ours are moved out of the way first.
        high = [fcntl.fcntl(fd, fcntl.F_DUPFD, 20) for fd in (commands, into)]
        for fd in (commands, into):
            os.close(fd)

        def descriptors():
            os.dup2(high[0], 3)
            os.dup2(high[1], 4)

        options = [
            "--headless=new", "--no-sandbox", "--disable-gpu", "--remote-debugging-pipe", "--no-first-run",
            "--hide-scrollbars", "--disable-background-networking", "--disable-dev-shm-usage",
            f"--user-data-dir={self.profile}", "about:blank",
        ]
        self.browser = subprocess.Popen(
            [program(), *options], preexec_fn=descriptors, close_fds=False,
            stdout=subprocess.DEVNULL, stderr=subprocess.DEVNULL,
        )
        for fd in high:
            os.close(fd)
        self.answers = os.fdopen(answers, "rb", 0)
        self.rest, self.number, self.events, self.session = b"", 0, [], None
        target = self.call("Target.createTarget", url="about:blank")["targetId"]
        self.call("Browser.setDownloadBehavior", behavior="allow", downloadPath=str(downloads), eventsEnabled=True)
        self.session = self.call("Target.attachToTarget", targetId=target, flatten=True)["sessionId"]
        for domain in ("Page", "Runtime", "Network", "Log"):
            self.call(f"{domain}.enable")

    def read(self):
        while b"\0" not in self.rest:
            more = self.answers.read(65536)
            assert more, "the browser ended"
            self.rest += more
        message, self.rest = self.rest.split(b"\0", 1)
        return json.loads(message)

    def call(self, method, **params):
        self.number += 1
        message = {"id": self.number, "method": method, "params": params}
        if self.session and not method.startswith(("Browser.", "Target.")):
            message["sessionId"] = self.session
        os.write(self.out, json.dumps(message).encode() + b"\0")
        while True:
            got = self.read()
            if got.get("id") == self.number:
                assert "error" not in got, (method, got["error"])
                return got["result"]
            self.events.append(got)

    def until(self, method, **wanted):
        """Waits for an event."""
        seen = 0
        while True:
            for event in self.events[seen:]:
                params = event.get("params", {})
                if event.get("method") == method and all(params.get(k) == v for k, v in wanted.items()):
                    return params
            seen = len(self.events)
            self.events.append(self.read())

    def open(self, path, width=1280, height=900, dark=False, media="screen"):
        self.events.clear()
        self.call("Emulation.setDeviceMetricsOverride", width=width, height=height, deviceScaleFactor=1,
                  mobile=width < 600)
        scheme = {"name": "prefers-color-scheme", "value": "dark" if dark else "light"}
        self.call("Emulation.setEmulatedMedia", media=media, features=[scheme])
        self.call("Page.navigate", url=path if "://" in str(path) else f"file://{path}")
        self.until("Page.loadEventFired")

    def js(self, expression):
        got = self.call("Runtime.evaluate", expression=expression, returnByValue=True, awaitPromise=True,
                        userGesture=True)
        assert "exceptionDetails" not in got, got["exceptionDetails"]
        return got["result"].get("value")

    def key(self, key, text=None, shift=False):
        codes = {"Tab": 9, "Enter": 13, " ": 32, "ArrowDown": 40, "ArrowLeft": 37, "ArrowRight": 39}
        typed = {"key": key, "code": "Space" if key == " " else key, "windowsVirtualKeyCode": codes.get(key, 0),
                 "modifiers": 8 if shift else 0}
        text = {"Enter": "\r", " ": " "}.get(key, text)
        self.call("Input.dispatchKeyEvent", type="keyDown", **typed, **({"text": text} if text else {}))
        self.call("Input.dispatchKeyEvent", type="keyUp", **typed)

    def type(self, text):
        self.call("Input.insertText", text=text)

    def click(self, x, y):
        for kind in ("mousePressed", "mouseReleased"):
            self.call("Input.dispatchMouseEvent", type=kind, x=x, y=y, button="left", clickCount=1)

    def picture(self, path):
        got = self.call("Page.captureScreenshot", format="png", captureBeyondViewport=True)
        path.write_bytes(base64.b64decode(got["data"]))

    def requests(self):
        sent = [e["params"]["request"]["url"] for e in self.events if e.get("method") == "Network.requestWillBeSent"]
        return [url for url in sent if not url.startswith(("file:", "data:", "blob:"))]

    def complaints(self):
        bad = []
        for event in self.events:
            method, params = event.get("method"), event.get("params", {})
            if method in ("Runtime.exceptionThrown", "Log.entryAdded") or (
                method == "Runtime.consoleAPICalled" and params["type"] in ("error", "warning", "assert")
            ):
                bad.append(params)
        return bad

    def close(self):
        self.browser.terminate()
        self.browser.wait()
        os.close(self.out)
        self.answers.close()
        shutil.rmtree(self.profile, ignore_errors=True)
