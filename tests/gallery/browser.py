"""A headless Chromium, driven by the W3C WebDriver protocol (https://www.w3.org/TR/webdriver2/)."""

import base64
import http.client
import json
import re
import subprocess

ELEMENT = "element-6066-11e4-a52e-4f735466cecf"  # WebDriver, section 12: web element identifier
KEYS = {"Left": "\ue012", "Up": "\ue013", "Right": "\ue014", "Down": "\ue015", "Home": "\ue011",
        "End": "\ue010", "Enter": "\ue007", "Escape": "\ue00c", "Tab": "\ue004"}  # section 17.4.2


class Browser:
    def __init__(self, width, height, scheme="dark"):
        self.driver = subprocess.Popen(["chromedriver", "--port=0"], stdout=subprocess.PIPE,
                                       stderr=subprocess.DEVNULL, text=True)
        port = None
        for line in self.driver.stdout:
            found = re.search(r"on port (\d+)", line)
            if found and int(found.group(1)):
                port = int(found.group(1))
                break
        if port is None:
            raise RuntimeError("chromedriver did not start")
        self.link = http.client.HTTPConnection("127.0.0.1", port, timeout=120)
        options = {"args": ["--headless=new", "--no-sandbox", "--disable-dev-shm-usage",
                            "--disable-gpu", "--hide-scrollbars",
                            f"--window-size={width},{height}"]}
        capabilities = {"browserName": "chrome", "goog:chromeOptions": options,
                        "goog:loggingPrefs": {"browser": "ALL", "performance": "ALL"}}
        self.session = ""
        made = self.send("POST", "/session", {"capabilities": {"alwaysMatch": capabilities}})
        self.session = "/session/" + made["sessionId"]
        self.see(width, height, scheme)

    def send(self, method, path, body=None):
        text = json.dumps(body if body is not None else {}) if method == "POST" else None
        self.link.request(method, self.session + path, text, {"Content-Type": "application/json"})
        value = json.loads(self.link.getresponse().read())["value"]
        if isinstance(value, dict) and "error" in value:
            raise RuntimeError(value["error"] + ": " + value["message"].splitlines()[0])
        return value

    def command(self, name, **arguments):
        return self.send("POST", "/goog/cdp/execute", {"cmd": name, "params": arguments})

    def see(self, width, height, scheme, scale=1, still=False):
        self.command("Emulation.setDeviceMetricsOverride", width=width, height=height,
                     deviceScaleFactor=scale, mobile=False)
        self.command("Emulation.setEmulatedMedia", features=[
            {"name": "prefers-color-scheme", "value": scheme},
            {"name": "prefers-reduced-motion", "value": "reduce" if still else "no-preference"}])

    def open(self, path):
        self.send("POST", "/url", {"url": path.resolve().as_uri()})

    def run(self, script, *arguments):
        return self.send("POST", "/execute/sync", {"script": script, "args": list(arguments)})

    def wait(self, script, what):
        done = self.send("POST", "/execute/async", {"args": [], "script":
            "const done = arguments[0], end = performance.now() + 20000;"
            "(function look() { if ((() => { " + script + " })()) done(true);"
            "else if (performance.now() > end) done(false); else setTimeout(look, 20); })();"})
        if not done:
            raise AssertionError("waited in vain for " + what)

    def find(self, selector):
        return self.send("POST", "/element", {"using": "css selector", "value": selector})

    def click(self, selector):
        self.send("POST", f"/element/{self.find(selector)[ELEMENT]}/click")

    def type(self, selector, text):
        self.send("POST", f"/element/{self.find(selector)[ELEMENT]}/value", {"text": text})

    def press(self, *keys):
        actions = []
        for key in keys:
            value = KEYS.get(key, key)
            actions += [{"type": "keyDown", "value": value}, {"type": "keyUp", "value": value}]
        self.send("POST", "/actions", {"actions": [{"type": "key", "id": "k", "actions": actions}]})

    def point(self, selector, x, y, kind="mouse", press=False):
        """Moves the pointer to x, y of the element's half sizes from its middle."""
        box = self.run("const b = document.querySelector(arguments[0]).getBoundingClientRect();"
                       "return [b.x, b.y, b.width, b.height];", selector)
        at = {"type": "pointerMove", "duration": 0,
              "x": round(box[0] + box[2] * (1 + x) / 2), "y": round(box[1] + box[3] * (1 - y) / 2)}
        press_it = [{"type": "pointerDown", "button": 0}, {"type": "pointerUp", "button": 0}]
        self.send("POST", "/actions", {"actions": [
            {"type": "pointer", "id": kind, "parameters": {"pointerType": kind},
             "actions": [at] + (press_it if press else [])}]})

    def logs(self, kind):
        return self.send("POST", "/se/log", {"type": kind})

    def requests(self):
        """The addresses of all requests so far, but for those that never leave the page."""
        events = [json.loads(entry["message"])["message"] for entry in self.logs("performance")]
        urls = [event["params"]["request"]["url"] for event in events
                if event["method"] == "Network.requestWillBeSent"]
        return [url for url in urls if not url.startswith("data:")]

    def picture(self, path):
        path.write_bytes(base64.b64decode(self.send("GET", "/screenshot")))

    def close(self):
        try:
            self.send("DELETE", "")
        finally:
            self.driver.terminate()
            self.driver.wait()
