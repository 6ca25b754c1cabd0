"""Clicks through the page that `rakelight gallery` writes.
   test_gallery.py RAKELIGHT SCENE PICTURES: screenshots go into the last, to be looked at."""

import json
import pathlib
import shutil
import subprocess
import sys
import tempfile
import tomllib
import unittest

from browser import Browser

COMMAND, SCENE, PICTURES = sys.argv[1], pathlib.Path(sys.argv[2]), pathlib.Path(sys.argv[3])

VISIBLE = """[...document.querySelectorAll('#tray [role=option]')].filter(w => !w.hidden)
             .map(w => w.querySelector('b').textContent)"""
PIXELS = """
    const pixels = (from, x, y, width, height) => {
      const copy = document.createElement('canvas').getContext('2d', {willReadFrequently: true});
      copy.canvas.width = width;
      copy.canvas.height = height;
      copy.drawImage(from, -x, -y);
      return copy.getImageData(0, 0, width, height).data; };"""
ALL_LIT = "const {lit, lamp} = document.documentElement.dataset; return lit && lit === lamp"


def make_sweep(folder):
    subprocess.run([COMMAND, "poses", SCENE, "--yaw=-60..60/10", "--pitch=-15,0",
                    "--longer-px=240", "--out", folder, "--quiet"], check=True)
    records = sorted(folder.glob("*/pose.json"))
    edge_on = json.loads(records[0].read_text())
    edge_on |= {"usable": False, "reason": "the subject is seen edge-on"}
    records[0].write_text(json.dumps(edge_on))
    unknown = json.loads(records[1].read_text())
    unknown["figures"]["depth_mm"] = None
    records[1].write_text(json.dumps(unknown))
    subprocess.run([COMMAND, "gallery", folder, "--quiet"], check=True)
    return edge_on["name"], unknown["name"]


class Gallery(unittest.TestCase):
    @classmethod
    def setUpClass(cls):
        cls.folder = pathlib.Path(tempfile.mkdtemp())
        cls.addClassCleanup(shutil.rmtree, cls.folder)
        cls.unusable, cls.unknown = make_sweep(cls.folder)
        poses = json.loads((cls.folder / "poses.json").read_text())["poses"]
        cls.poses = [pose for pose in poses if pose["usable"]]
        cls.page = cls.folder / "gallery.html"
        PICTURES.mkdir(parents=True, exist_ok=True)
        cls.browser = Browser(1500, 950)
        cls.addClassCleanup(cls.browser.close)

    def setUp(self):
        self.look(1500, 950)

    def look(self, width, height, scheme="dark", **more):
        self.browser.see(width, height, scheme, **more)
        self.browser.open(self.page)
        self.wait_for_lamp()

    def tearDown(self):
        self.assertEqual([], self.browser.logs("browser"), "messages on the console")
        others = [url for url in self.browser.requests() if url != self.page.resolve().as_uri()]
        self.assertEqual([], others, "requests for something else than the page")

    def names(self):
        return self.browser.run("return " + VISIBLE)

    def text(self, selector):
        return self.browser.run("return document.querySelector(arguments[0]).textContent", selector)

    def select(self, value):
        self.browser.click(f"#order option[value={value}]")

    def chosen(self):
        return self.text("#tray [aria-selected=true] b")

    def brightness(self, canvas, half):
        """Mean red of the left or right half of the pixels that are the piece."""
        return self.browser.run(PIXELS + """
            const c = document.querySelector(arguments[0]), w = c.width / 2 | 0;
            const d = pixels(c, arguments[1] ? w : 0, 0, w, c.height);
            let sum = 0, n = 0;
            for (let i = 0; i < d.length; i += 4) if (d[i + 3] === 255) { sum += d[i]; ++n; }
            return [sum / n, n];""", canvas, half == "right")

    def rim(self, side):
        """Red of the rim's outer shoulder, which faces outward; the law is that a slope to the lamp
        is brighter than one away from it."""
        return self.browser.run(PIXELS + """
            const c = document.querySelector('#chosen canvas'), y = c.height / 2 | 0;
            return pixels(c, arguments[0] === 'left' ? 1 : c.width - 2, y, 1, 1)[0];""", side)

    def test_begins_by_number_with_the_unusable_apart(self):
        self.assertEqual([pose["name"] for pose in self.poses], self.names())
        self.assertIn(self.unusable, self.text("#unusable"))
        self.assertIn("edge-on", self.text("#unusable"))
        self.assertIn("1 not usable", self.text("#count"))
        self.assertEqual(self.poses[0]["name"], self.chosen())

    def test_orders_by_every_figure_better_first_unknown_last(self):
        table = json.loads((self.folder / "poses.json").read_text())["figures"]
        for figure in table:
            known = [p for p in self.poses if p["figures"][figure["name"]] is not None]
            if not known:
                continue
            sign = -1 if figure["better"] == "high" else 1
            rest = [p for p in self.poses if p not in known]
            for turned in (1, -1):
                ranked = sorted(known, key=lambda p: sign * turned * p["figures"][figure["name"]])
                if turned == 1:
                    self.select(figure["name"])
                else:
                    self.browser.click("#turn")
                self.assertEqual([p["name"] for p in ranked + rest], self.names(), figure["name"])
        self.select("depth_mm")
        self.assertEqual(self.unknown, self.names()[-1])
        self.browser.picture(PICTURES / "ordered.png")

    def test_filters_by_figures_and_name(self):
        self.browser.click("#sieve")
        middle = sorted(p["figures"]["field_share"] for p in self.poses)[len(self.poses) // 2]
        self.browser.type("#low-field_share", str(100 * middle - 0.001))
        wanted = [p["name"] for p in self.poses if p["figures"]["field_share"] >= middle - 1e-5]
        self.assertEqual(wanted, self.names())
        self.assertLess(len(wanted), len(self.poses))
        self.assertIn(f"{len(wanted)} of {len(self.poses)} poses", self.text("#count"))
        self.browser.type("#low-depth_mm", "0")
        self.assertNotIn(self.unknown, self.names())
        self.browser.type("#find", "no such pose")
        self.assertEqual([], self.names())
        self.assertFalse(self.browser.run("return document.querySelector('#nothing').hidden"))
        self.browser.click("#clear")
        self.assertEqual(len(self.poses), len(self.names()))

    def test_keys_choose_and_keep(self):
        names = self.names()
        columns = self.browser.run("return getComputedStyle(document.querySelector('#tray'))"
                                   ".gridTemplateColumns.split(' ').length")
        self.browser.click("#pose0")
        self.browser.press("Right", "Right", "Down", "Left")
        self.assertEqual(names[1 + columns], self.chosen())
        self.browser.press("End")
        self.assertEqual(names[-1], self.chosen())
        self.browser.press("Right", "Home", "Left")
        self.assertEqual(names[0], self.chosen())
        self.browser.press("Enter", "Right")
        self.assertIn(names[0], self.text("#kept figcaption"))
        self.assertIn(names[1], self.text("#chosen figcaption"))
        self.browser.press("Escape")
        self.assertTrue(self.browser.run("return document.querySelector('#kept').hidden"))
        # One stop in the tray, as the pattern of a list box wants (ARIA Authoring Practices).
        self.assertEqual(1, self.browser.run(
            "return document.querySelectorAll('#tray [tabindex=\"0\"]').length"))

    def test_compares_two_side_by_side(self):
        names = self.names()
        self.browser.click("#pose3")
        self.browser.click("#keep")
        self.browser.click("#pose8")
        self.browser.wait("return document.querySelector('#kept canvas').width > 1", "a piece")
        kept, chosen = self.poses[3]["figures"], self.poses[8]["figures"]
        row = self.browser.run("""
            const row = document.querySelector('#figures tbody tr');
            return [...row.children].map(c => c.textContent + (c.className === 'better' ? '!' : ''))""")
        self.assertEqual("field filled", row[0])
        better = 1 if kept["field_share"] > chosen["field_share"] else 2
        self.assertTrue(row[better].endswith("better!"), row)
        self.assertTrue(row[3 - better].endswith("%"), row)
        self.browser.click("#swap")
        self.assertIn(names[8], self.text("#kept figcaption"))
        self.assertEqual(names[3], self.chosen())
        self.browser.picture(PICTURES / "compare.png")
        self.browser.click("#away")
        self.assertTrue(self.browser.run("return document.querySelector('#kept').hidden"))

    def wait_for_lamp(self):
        self.browser.wait(ALL_LIT, "the lamp")

    def test_lamp_follows_pointer_keys_and_sliders(self):
        self.browser.point("#chosen canvas", -0.85, 0.0)
        self.wait_for_lamp()
        self.assertGreater(self.rim("left"), self.rim("right") + 40)
        self.browser.point("#chosen canvas", 0.85, 0.0)
        self.wait_for_lamp()
        self.assertGreater(self.rim("right"), self.rim("left") + 40)
        self.assertIn("the right", self.text("#from"))
        before = self.browser.run("return +document.querySelector('#lamp-turn').value")
        self.browser.click("#pose0")
        self.browser.press(",", "+")
        self.assertEqual((before + 15) % 360,
                         self.browser.run("return +document.querySelector('#lamp-turn').value"))
        height = self.text("#high")
        self.browser.run("document.querySelector('#lamp-height').focus()")
        self.browser.press("Right")
        self.assertNotEqual(height, self.text("#high"))

    def test_the_lamp_lights_the_whole_tray(self):
        self.browser.point("#dial", 0.9, 0.0, press=True)
        self.wait_for_lamp()
        left, n = self.brightness("#pose0 canvas", "left")
        self.assertGreater(n, 1000)
        self.browser.point("#dial", -0.9, 0.0, press=True)
        self.wait_for_lamp()
        self.assertNotAlmostEqual(left, self.brightness("#pose0 canvas", "left")[0], delta=1.0)

    def test_reduced_motion_moves_the_lamp_only_when_pressed(self):
        self.look(1500, 950, still=True)
        before = self.text("#from")
        self.browser.point("#chosen canvas", 0.8, -0.3)
        self.assertEqual(before, self.text("#from"))
        self.browser.point("#chosen canvas", 0.8, -0.3, press=True)
        self.assertNotEqual(before, self.text("#from"))

    def test_copies_the_pose_and_the_command(self):
        self.browser.command("Browser.grantPermissions",
                             permissions=["clipboardReadWrite", "clipboardSanitizedWrite"])
        pose = self.poses[5]
        self.browser.click("#pose5")
        self.browser.click("#copy-snippet")
        self.browser.wait("return document.querySelector('#said').textContent.includes('copied')",
                          "the copy")
        copied = self.browser.send("POST", "/execute/async", {"args": [], "script":
            "navigator.clipboard.readText().then(arguments[0], e => arguments[0]('' + e))"})
        said = tomllib.loads(copied)["pose"]
        for angle in ("yaw_deg", "pitch_deg", "roll_deg"):
            self.assertEqual(pose["pose"][angle], said[angle])
        self.browser.click("#copy-lock")
        self.browser.wait("return document.querySelector('#said').textContent.includes('command')",
                          "the copy")
        self.assertEqual(f"rakelight lock medal.toml --pose {pose['name']}", self.text("#lock"))

    def test_theme_follows_the_system_and_the_switch(self):
        def ground():
            colour = self.browser.run("return getComputedStyle(document.body).backgroundColor")
            return sum(int(part) for part in colour[4:-1].split(","))
        self.assertLess(ground(), 150)
        self.browser.click("#theme")
        self.assertGreater(ground(), 600)
        self.look(1500, 950, "light")
        self.assertGreater(ground(), 600)
        self.browser.picture(PICTURES / "light.png")
        self.browser.click("#theme")
        self.assertLess(ground(), 150)

    def test_text_has_contrast_in_both_themes(self):
        # WCAG 2.2, success criterion 1.4.3: 4.5 to 1 for text; relative luminance as defined there.
        ratios = """
            const lum = c => { const [r, g, b] = c.match(/[\\d.]+/g).map(v => v / 255)
                .map(v => v <= 0.04045 ? v / 12.92 : ((v + 0.055) / 1.055) ** 2.4);
              return 0.2126 * r + 0.7152 * g + 0.0722 * b; };
            const ground = e => { for (; e; e = e.parentElement) {
                const c = getComputedStyle(e).backgroundColor;
                if (/^rgb\\(/.test(c)) return c; } };
            return ['#count', '.well span', '.well b', '#figures th', '#figures td', '#keys', '#from',
                    '#unusable dd', '#snippet', '#keep', '#more summary'].map(s => {
              const e = document.querySelector(s);
              const [a, b] = [lum(getComputedStyle(e).color), lum(ground(e))].sort((x, y) => y - x);
              return [s, (a + 0.05) / (b + 0.05)]; });"""
        for scheme in ("dark", "light"):
            self.look(1500, 950, scheme)
            for selector, ratio in self.browser.run(ratios):
                self.assertGreater(ratio, 4.5, f"{scheme} {selector}")

    def test_every_control_has_a_name(self):
        nameless = self.browser.run("""
            return [...document.querySelectorAll('button, input, select, [role=img], [role=option]')]
              .filter(e => !(e.textContent.trim() || e.getAttribute('aria-label') ||
                             (e.labels && e.labels.length))).map(e => e.id || e.outerHTML)""")
        self.assertEqual([], nameless)

    def test_narrow_screen(self):
        self.look(390, 844, scale=2)
        self.assertLessEqual(self.browser.run("return document.documentElement.scrollWidth"), 390)
        # WCAG 2.2, success criterion 2.5.8: targets of at least 24 px.
        small = self.browser.run("""
            return [...document.querySelectorAll('button, select, input, .well')]
              .map(e => e.getBoundingClientRect()).filter(b => b.width && Math.min(b.width, b.height) < 24)
              .length""")
        self.assertEqual(0, small)
        self.browser.click("#pose4")
        self.browser.click("#keep")
        self.browser.click("#pose5")
        self.browser.wait("return document.querySelector('#kept canvas').width > 1", "a piece")
        both = self.browser.run("return ['kept', 'chosen'].map(i => "
                                "document.getElementById(i).getBoundingClientRect().x)")
        self.assertLess(both[0], both[1])
        self.browser.picture(PICTURES / "phone.png")


if __name__ == "__main__":
    unittest.main(argv=sys.argv[:1], verbosity=2)
