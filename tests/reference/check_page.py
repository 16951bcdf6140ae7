"""The page in a browser: from a remark to its place and back by mouse and keyboard, nothing requested, nothing run, nothing cut
off, and no violation that axe-core finds.

Outside references: Chromium as Debian ships it, driven by Selenium; axe-core (Deque, MPL 2.0), which checks WCAG 2.2; the
width of 320 CSS pixels is that of WCAG 2.2, success criterion 1.4.10 (Reflow).
"""

import json
import pathlib
import re
import sys
import tarfile
import tempfile

from selenium.webdriver.common.by import By
from selenium.webdriver.common.keys import Keys

from browser import browser, look
from support import ROOT, arguments, run

SCORE = ROOT / "examples" / "lighthouse-survey" / "1m3-fog-signal.musicxml"
HOSTILE = """</title></style><script>document.title='taken'</script><img src=x onerror="document.title='taken'">'&{}*/"""
PHONE, LAPTOP, WIDE, NARROWEST = 390, 1280, 1920, 320


def shown(driver, element):
    """Whether the middle of an element lies within the window."""
    return driver.execute_script(
        "const box = arguments[0].getBoundingClientRect(); const y = (box.top + box.bottom) / 2;"
        "return box.height > 0 && y >= 0 && y <= innerHeight;", element)


def target(driver):
    return driver.execute_script("return location.hash.slice(1)")


def there_and_back(driver, by_keyboard):
    """From the first flag of each part to the list and back."""
    pictures = driver.find_elements(By.CSS_SELECTOR, ".picture:has(a.flag)")
    assert pictures, "no picture has a flag"
    for picture in pictures:
        flag = picture.find_element(By.CSS_SELECTOR, "a.flag")
        there, back = flag.get_attribute("href").split("#")[1], flag.get_attribute("id")
        follow(driver, flag, by_keyboard)
        row = driver.find_element(By.ID, there)
        assert target(driver) == there and shown(driver, row), f"{back} does not lead to {there}"
        if by_keyboard:
            # The next stop behind the place that was gone to is the way back.
            driver.switch_to.active_element.send_keys(Keys.TAB)
            link = driver.switch_to.active_element
            assert link.get_attribute("href").endswith(f"#{back}"), f"behind {there} comes {link.get_attribute('outerHTML')}"
        else:
            link = row.find_element(By.CSS_SELECTOR, f"a[href='#{back}']")
        follow(driver, link, by_keyboard)
        assert target(driver) == back and shown(driver, flag), f"{there} does not lead back to {back}"


def follow(driver, link, by_keyboard):
    if by_keyboard:
        driver.execute_script("arguments[0].focus()", link)
        assert driver.switch_to.active_element == link
        link.send_keys(Keys.ENTER)
    else:
        link.click()


def reached_by_tab(driver):
    """Every flag is a stop of the Tab key, in order."""
    driver.execute_script("document.activeElement.blur(); scrollTo(0, 0)")
    flags = [flag.get_attribute("id") for flag in driver.find_elements(By.CSS_SELECTOR, "main a.flag")]
    stops = driver.execute_script(
        "return [...document.querySelectorAll('a[href], input, summary')].filter(e => e.tabIndex >= 0).map(e => e.id)")
    assert [stop for stop in stops if stop in flags] == flags and flags


def filters(driver):
    """What is switched off goes from list and picture, and comes back."""
    def seen(what):
        return sum(element.is_displayed() for element in driver.find_elements(By.CSS_SELECTOR, f"main {what}"))
    for level in ("error", "warning", "note"):
        before = seen(f"tr.{level}"), seen(f"a.flag.{level}")
        assert all(before), level
        box = driver.find_element(By.ID, f"show-{level}")
        box.click()
        assert (seen(f"tr.{level}"), seen(f"a.flag.{level}")) == (0, 0), f"{level}s stay"
        box.click()
        assert (seen(f"tr.{level}"), seen(f"a.flag.{level}")) == before
    driver.find_element(By.XPATH, "//summary[.='Rules']").click()
    before = seen("tr.r0")
    driver.find_element(By.ID, "rule-0").click()
    assert before and seen("tr.r0") == 0
    driver.find_element(By.ID, "rule-0").click()


def accessible(driver, axe, where):
    driver.execute_script(axe)
    found = driver.execute_async_script("axe.run(document, {resultTypes: ['violations']}).then(arguments[0])")
    for violation in found["violations"]:
        nodes = "; ".join(node["html"][:150] for node in violation["nodes"][:3])
        print(f"  {where}: {violation['id']} ({len(violation['nodes'])}): {violation['help']}: {nodes}")
    return len(found["violations"])


def nothing_is_requested(driver, page):
    for entry in driver.get_log("performance"):
        message = json.loads(entry["message"])["message"]
        if message["method"] == "Network.requestWillBeSent":
            url = message["params"]["request"]["url"].split("#")[0]
            assert url == page or not url.startswith(("http", "ws", "file", "ftp")), f"asks for {url}"
    said = [entry["message"] for entry in driver.get_log("browser")]
    assert not said, said


def pages_of(lowbrass, folder):
    """The pages that are looked at, by name."""
    text = SCORE.read_text()
    hostile = HOSTILE.replace("&", "&amp;").replace("<", "&lt;")
    text, titles = re.subn(r"(<movement-title>|<work-title>)[^<]*", lambda m: m[1] + hostile, text)
    text, names = re.subn(r"(<part-name[^>]*>)([^<]*)", lambda m: m[1] + m[2] + " " + hostile, text)
    text, marks = re.subn(r"(<rehearsal[^>]*>)[^<]*", lambda m: m[1] + hostile, text)
    assert titles and names and marks
    (folder / "hostile.musicxml").write_text(text)
    pages = {"cue": SCORE, "hostile": folder / "hostile.musicxml", "folder": ROOT / "examples" / "lighthouse-survey"}
    for name, score in pages.items():
        pages[name] = folder / f"{name}.html"
        run(lowbrass, "check", score, "--quiet", "--no-config", "--output", f"html={pages[name]}", "--force")
    run(lowbrass, "check", ROOT / "examples" / "lighthouse-survey", "--quiet", "--no-config",
        "--output", f"html={folder / 'pages'}/")
    pages["index"] = folder / "pages" / "index.html"
    pages["instrument"] = folder / "instrument.html"
    pages["instrument"].write_bytes(run(lowbrass, "profiles", "bass-trombone", "--format", "html"))
    return pages


def main():
    options = arguments()
    with tarfile.open(next(options.downloads.glob("axe-core-*.tgz"))) as archive:
        axe = archive.extractfile("package/axe.min.js").read().decode()
    violations = looks = 0
    with tempfile.TemporaryDirectory() as folder, browser() as driver:
        for name, path in pages_of(options.lowbrass, pathlib.Path(folder)).items():
            page = path.as_uri()
            driver.get_log("performance")
            look(driver, LAPTOP)
            driver.get(page)
            nothing_is_requested(driver, page)
            assert driver.title != "taken" and not driver.find_elements(By.CSS_SELECTOR, "script, img"), f"{name}: markup got in"
            if name == "hostile":
                assert HOSTILE in driver.find_element(By.TAG_NAME, "h1").text
            if name == "cue":
                there_and_back(driver, by_keyboard=False)
                there_and_back(driver, by_keyboard=True)
                reached_by_tab(driver)
                filters(driver)
            for width in (NARROWEST, PHONE, LAPTOP, WIDE):
                look(driver, width)
                wide = driver.execute_script("return document.documentElement.scrollWidth")
                assert wide <= width, f"{name}: {wide} pixels wide in a window of {width}"
            for width, media in ((PHONE, "screen"), (LAPTOP, "screen"), (720, "print")):
                for scheme in ("light", "dark"):
                    look(driver, width, scheme, media)
                    looks += 1
                    violations += accessible(driver, axe, f"{name}, {width}, {media}, {scheme}")
    print(f"{looks} looks by axe-core: {violations} violations")
    if violations:
        sys.exit(1)


if __name__ == "__main__":
    main()
