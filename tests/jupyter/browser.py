"""JupyterLab in headless Chromium: a slider is dragged, and the numbers that follow it are read, also after a reload.

Usage: browser.py [PICTURE]. The kernel must be installed in the environment of this Python; Chromium is the one of the
system (CHROMIUM names another). With PICTURE, the page is photographed.
"""

import json
import os
import pathlib
import re
import shutil
import socket
import subprocess
import sys
import tempfile
import time
import urllib.request

from playwright.sync_api import expect, sync_playwright

CELLS = [
    "use hemodynamics              # an invented patient\n"
    "lvot_diameter = 2.05 cm (u = 1 mm)\nlvot_vti = 18.1 cm (u = 1 cm, n = 3)\n"
    "heart_rate = 72 /min (u = 2 /min)\nrhythm = regular",
    "adjust lvot_diameter from 1.6 cm to 2.6 cm by 0.5 mm",
    "show stroke_volume, cardiac_output",
    'draw stroke_volume when lvot_diameter is off by 1 mm, lvot_vti is off by 1 cm titled "What an error does"',
]


def notebook():
    spec = {"display_name": "semilunar", "language": "semilunar", "name": "semilunar"}
    cells = [
        {"cell_type": "code", "id": f"cell-{at}", "metadata": {}, "execution_count": None, "outputs": [], "source": text}
        for at, text in enumerate(CELLS)
    ]
    return json.dumps({"cells": cells, "metadata": {"kernelspec": spec}, "nbformat": 4, "nbformat_minor": 5})


def start_lab(folder):
    with socket.socket() as free:
        free.bind(("127.0.0.1", 0))
        port = free.getsockname()[1]
    command = [sys.executable, "-m", "jupyterlab", "--no-browser", f"--port={port}", "--allow-root",
               "--ServerApp.token=", "--ServerApp.password=", f"--ServerApp.root_dir={folder / 'notebooks'}"]
    names = ["JUPYTER_CONFIG_DIR", "JUPYTER_DATA_DIR", "JUPYTER_RUNTIME_DIR", "JUPYTERLAB_SETTINGS_DIR"]
    own = {name: str(folder / name.lower()) for name in names}
    settings = folder / "jupyterlab_settings_dir" / "@jupyterlab" / "apputils-extension"
    settings.mkdir(parents=True)
    # Nothing is asked of anybody outside.
    (settings / "notification.jupyterlab-settings").write_text('{"fetchNews": "false", "checkForUpdates": false}')
    lab = subprocess.Popen(command, env=os.environ | own, stderr=open(folder / "lab.log", "w"))
    address = f"http://127.0.0.1:{port}"
    for _ in range(600):
        try:
            urllib.request.urlopen(f"{address}/api/status", timeout=5)
            return lab, address
        except OSError:
            time.sleep(0.1)
    raise SystemExit("JupyterLab does not start")


def output(page, cell):
    return page.locator(".jp-Notebook .jp-Cell").nth(cell).locator(".jp-OutputArea-output").first


def volume(page):
    """The stroke volume that the table shows, in mL."""
    found = re.search(r"stroke_volume\s*([\d.]+)", output(page, 2).inner_text())
    return float(found[1]) if found else None


def wait_for(page, wanted):
    for _ in range(300):
        if volume(page) == wanted:
            return
        page.wait_for_timeout(100)
    raise AssertionError(f"the table shows {volume(page)} and not {wanted} mL: {output(page, 2).inner_text()}")


def move(page, key, times):
    handle = output(page, 1).locator(".noUi-handle")
    handle.focus()
    for _ in range(times):
        handle.press(key)


def drag(page, by):
    box = output(page, 1).locator(".noUi-handle").bounding_box()
    x, y = box["x"] + box["width"] / 2, box["y"] + box["height"] / 2
    page.mouse.move(x, y)
    page.mouse.down()
    for step in range(1, 11):
        page.mouse.move(x + by * step / 10, y)
    page.mouse.up()


def judge(page, picture):
    page.locator(".jp-Notebook").wait_for(timeout=120_000)
    expect(page.locator("#jp-main-statusbar")).to_contain_text("semilunar | Idle", timeout=60_000)
    page.keyboard.press("Control+b")
    # The widgets' manager asks the kernel for its models first.
    page.wait_for_timeout(3000)
    page.locator("text=Run").first.click()
    page.locator(".lm-Menu-itemLabel", has_text="Run All Cells").first.click()
    output(page, 1).locator(".noUi-handle").wait_for(timeout=60_000)
    # π/4 · d² · 18.1 cm, rounded to three figures, for each diameter d.
    wait_for(page, 59.7)
    before = output(page, 3).inner_html()
    move(page, "ArrowRight", 3)
    wait_for(page, 68.8)
    assert "mL" in output(page, 2).inner_text() and "uncertainty" in output(page, 2).inner_text()
    assert output(page, 3).inner_html() != before, "the chart did not follow"
    drag(page, 60)
    page.wait_for_timeout(1000)
    assert volume(page) > 68.8, f"dragging changed nothing: {volume(page)}"
    if picture:
        page.screenshot(path=picture)
    # Saved and loaded again, the same kernel: the slider is where it was, and still moves what follows.
    dragged = volume(page)
    page.keyboard.press("Control+s")
    page.wait_for_timeout(1000)
    page.reload()
    output(page, 1).locator(".noUi-handle").wait_for(timeout=120_000)
    wait_for(page, dragged)
    move(page, "Home", 1)
    wait_for(page, 36.4)
    print("slider, outputs and reload: as they should be")


def main(picture=None):
    chromium = os.environ.get("CHROMIUM") or shutil.which("chromium") or shutil.which("chromium-browser")
    with tempfile.TemporaryDirectory() as folder:
        folder = pathlib.Path(folder)
        (folder / "notebooks").mkdir()
        (folder / "notebooks" / "bedside.ipynb").write_text(notebook())
        lab, address = start_lab(folder)
        try:
            with sync_playwright() as play:
                browser = play.chromium.launch(executable_path=chromium, args=["--no-sandbox"])
                page = browser.new_page(viewport={"width": 1000, "height": 1120})
                page.goto(f"{address}/lab/tree/bedside.ipynb")
                try:
                    judge(page, picture)
                except BaseException:
                    failed = pathlib.Path(tempfile.gettempdir()) / "semilunar_browser_failed.png"
                    page.screenshot(path=failed)
                    print(f"the page as it was: {failed}", file=sys.stderr)
                    print((folder / "lab.log").read_text()[-3000:], file=sys.stderr)
                    raise
                browser.close()
        finally:
            lab.terminate()
            lab.wait()


if __name__ == "__main__":
    main(*sys.argv[1:])
