"""Chromium as Debian ships it, without a window and without a network of its own."""

import contextlib
import tempfile

from selenium import webdriver

FLAGS = ("headless", "no-sandbox", "disable-gpu", "disable-quic", "no-first-run", "disable-background-networking",
         "disable-component-update", "disable-sync", "disable-dev-shm-usage")


@contextlib.contextmanager
def browser():
    options = webdriver.ChromeOptions()
    for flag in FLAGS:
        options.add_argument(f"--{flag}")
    options.binary_location = "/usr/bin/chromium"
    options.set_capability("goog:loggingPrefs", {"performance": "ALL", "browser": "ALL"})
    with tempfile.TemporaryDirectory() as profile:
        options.add_argument(f"--user-data-dir={profile}")
        driver = webdriver.Chrome(options, webdriver.ChromeService("/usr/bin/chromedriver"))
        try:
            yield driver
        finally:
            driver.quit()


def look(driver, width, scheme="light", media="screen", height=900, sharp=1):
    """Shows the page in a window so wide, in light or dark, on screen or paper."""
    driver.execute_cdp_cmd("Emulation.setDeviceMetricsOverride",
                           {"width": width, "height": height, "deviceScaleFactor": sharp, "mobile": False})
    driver.execute_cdp_cmd("Emulation.setEmulatedMedia",
                           {"media": media, "features": [{"name": "prefers-color-scheme", "value": scheme}]})
