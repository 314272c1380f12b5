"""The companion notebooks, executed by nbclient with the kernel, give what `semilunar run` gives.

nbclient knows nothing of semilunar: it executes cell by cell, in their order, and follows the displays that the kernel
updates. Usage: notebooks.py PROGRAM NOTEBOOK...
"""

import json
import pathlib
import re
import subprocess
import sys
import tempfile

import nbclient
import nbformat


def executed(notebook):
    book = nbformat.read(notebook, as_version=4)
    for cell in book.cells:
        cell.pop("outputs", None) if cell.cell_type != "code" else cell.update(outputs=[])
    nbclient.NotebookClient(book, timeout=60, resources={"metadata": {"path": str(notebook.parent)}}).execute()
    return book


def run(program, notebook, folder):
    page = pathlib.Path(folder) / "page.html"
    # `run` looks for files from the folder of the notebook, as nbclient's kernel does.
    subprocess.run([program, "run", notebook, "--out", page], check=True, stdout=subprocess.DEVNULL)
    return nbformat.read(page.with_suffix(".with_outputs.ipynb"), as_version=4)


def differences(ours, theirs):
    for mine, other in zip(ours.cells, theirs.cells, strict=True):
        if mine.cell_type != "code":
            continue
        if said(mine) != said(other):
            yield mine.id, said(mine), said(other)


def said(cell):
    """The outputs as text. The identifiers inside drawings are made from the cell's, which nbclient does not send: they
    are numbered anew."""
    for output in cell.outputs:
        # Views of sliders are for front ends; beside them stand the forms that a notebook keeps.
        output.get("data", {}).pop("application/vnd.jupyter.widget-view+json", None)
    met = {}
    number = lambda found: met.setdefault(found[0], f"chart-{len(met)}")
    return re.sub(r"chart-[0-9a-f]{16}", number, json.dumps(cell.outputs, sort_keys=True))


def main(program, *notebooks):
    failed = False
    for notebook in map(pathlib.Path, notebooks):
        with tempfile.TemporaryDirectory() as folder:
            found = list(differences(run(program, notebook, folder), executed(notebook)))
        shown = sum(len(c.outputs) for c in nbformat.read(notebook, as_version=4).cells if c.cell_type == "code")
        print(f"{notebook.name}: {shown} outputs, {len(found)} cells differ")
        for cell, ours, theirs in found:
            print(f"  cell {cell}\n    run      {ours[:1000]}\n    nbclient {theirs[:1000]}")
        failed |= bool(found) or shown == 0
    return failed


if __name__ == "__main__":
    sys.exit(main(*sys.argv[1:]))
