"""Makes the pictures that the README shows: python tests/reference/make_pictures.py

The program must be built; Debian's chromium and chromium-driver, and selenium and pillow from PyPI, must be installed.
"""

import io
import pathlib
import subprocess
import tempfile

from PIL import Image
from selenium.webdriver.common.by import By

from browser import browser, look

ROOT = pathlib.Path(__file__).resolve().parents[2]
PROGRAM = ROOT / "target" / "debug" / "lowbrass"
FOLDER = ROOT / "examples" / "pictures"
# Name, what is shown, the arguments that make the page, the element that is taken.
PICTURES = (
    ("part.png", ("check", "examples/lighthouse-survey/1m3-fog-signal.musicxml", "--format", "html"), "#s1p4 .picture"),
    ("cue.png", ("check", "examples/lighthouse-survey/1m3-fog-signal.musicxml", "--format", "html"), ".map"),
    ("instrument.png", ("profiles", "contrabass-tuba-c", "--format", "html"), ".instrument"),
)


def main():
    FOLDER.mkdir(exist_ok=True)
    with tempfile.TemporaryDirectory() as folder, browser() as driver:
        for name, arguments, what in PICTURES:
            page = pathlib.Path(folder) / "page.html"
            page.write_bytes(subprocess.run([PROGRAM, *arguments], cwd=ROOT, capture_output=True).stdout)
            look(driver, 1000, height=2400)
            driver.get(page.as_uri())
            picture = Image.open(io.BytesIO(driver.find_element(By.CSS_SELECTOR, what).screenshot_as_png))
            # Flat colours need no more, and a repository keeps what it is given.
            picture.convert("RGB").quantize(96, method=Image.Quantize.MAXCOVERAGE, dither=Image.Dither.NONE).save(FOLDER / name, optimize=True)


if __name__ == "__main__":
    main()
