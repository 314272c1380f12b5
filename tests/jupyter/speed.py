"""How fast the kernel answers, beside ipykernel, in one run: the same client, interleaved.

Usage: speed.py [ROUNDS]. The client is a bare pyzmq one, so that its own time is small beside what is measured. Build with
--release and install the kernel where this Python finds it; ipykernel comes from PyPI.
"""

import json
import statistics
import sys
import time

from jupyter_client.manager import KernelManager

# Twenty cells that follow one reading, in both languages.
CELLS = 20
OURS = "\n".join(f"d{n} = d0 * {n} + 1 cm" for n in range(1, CELLS + 1))
THEIRS = "\n".join(f"d{n} = d0 * {n} + 1" for n in range(1, CELLS + 1))
CHARTS = [
    "draw stroke_volume when lvot_diameter is off by 1 mm, lvot_vti is off by 1 cm",
    "draw stroke_volume against lvot_diameter from 1.6 cm to 2.6 cm",
    "draw cardiac_output against lvot_diameter from 1.6 cm to 2.6 cm",
]


class Kernel:
    """A kernel with a client that only counts messages."""

    def __init__(self, name):
        start = time.perf_counter()
        self.manager = KernelManager(kernel_name=name)
        self.manager.start_kernel()
        self.client = self.manager.client()
        self.client.start_channels(stdin=False, hb=False)
        self.client.kernel_info()
        while self.client.shell_channel.get_msg(timeout=60)["msg_type"] != "kernel_info_reply":
            pass
        self.started = time.perf_counter() - start
        self.session = self.client.session
        self.shell, self.iopub = self.client.shell_channel.socket, self.client.iopub_channel.socket

    def send(self, kind, content, metadata):
        message = self.session.msg(kind, content)
        message["metadata"] = metadata
        frames = self.session.serialize(message)
        start = time.perf_counter()
        self.shell.send_multipart(frames)
        return message["header"]["msg_id"], start

    def execute(self, code, cell):
        content = {"code": code, "silent": False, "store_history": False, "user_expressions": {}, "allow_stdin": False}
        _, start = self.send("execute_request", content, {"cellId": cell})
        frames = self.shell.recv_multipart()
        took = time.perf_counter() - start
        reply = json.loads(frames[-1])
        assert reply["status"] == "ok", reply
        return took

    def idle(self, wanted):
        """Reads broadcasts up to the end of a request; gives their types."""
        kinds = []
        while True:
            frames = self.iopub.recv_multipart()
            at = frames.index(b"<IDS|MSG>")
            header, parent = json.loads(frames[at + 2]), json.loads(frames[at + 3])
            if parent.get("msg_id") != wanted:
                continue
            kinds.append((header["msg_type"], json.loads(frames[at + 5])))
            if kinds[-1][1].get("execution_state") == "idle":
                return kinds

    def end(self):
        self.client.stop_channels()
        self.manager.shutdown_kernel(now=True)


def median(times):
    return statistics.median(times) * 1000


def starts(rounds):
    times = {"semilunar": [], "python3": []}
    for _ in range(rounds):
        for name, all_times in times.items():
            kernel = Kernel(name)
            all_times.append(kernel.started)
            kernel.end()
    return [median(t) for t in times.values()]


def edits(rounds):
    ours, theirs = Kernel("semilunar"), Kernel("python3")
    ours.execute("d0 = 1 cm", "reading"), ours.execute(OURS, "cells"), theirs.execute("d0 = 1", "reading")
    times = [[], []]
    for n in range(rounds):
        times[0].append(ours.execute(f"d0 = {n + 2} cm", "reading"))
        # A language without a sheet carries out all that follows again.
        times[1].append(theirs.execute(f"d0 = {n + 2}\n{THEIRS}", "reading"))
    ours.end(), theirs.end()
    return [median(t) for t in times]


def drags(rounds):
    kernel = Kernel("semilunar")
    kernel.execute("use hemodynamics\nlvot_diameter = 2 cm (u = 1 mm)\nlvot_vti = 20 cm (u = 1 cm, n = 3)\n"
                   "heart_rate = 70 /min (u = 2 /min)\nrhythm = regular", "readings")
    for n, chart in enumerate(CHARTS):
        kernel.execute(chart, f"chart {n}")
    request, _ = kernel.send("execute_request", {"code": "adjust lvot_diameter from 1.6 cm to 2.6 cm by 0.5 mm"},
                             {"cellId": "slider"})
    opened = [c for kind, c in kernel.idle(request) if kind == "comm_open"]
    slider = next(c["comm_id"] for c in opened if c["data"]["state"]["_model_name"] == "FloatSliderModel")
    times, updated = [], set()
    for n in range(rounds):
        data = {"method": "update", "state": {"value": 1.6 + (n % 20) * 0.05}, "buffer_paths": []}
        request, start = kernel.send("comm_msg", {"comm_id": slider, "data": data}, {})
        came = kernel.idle(request)
        times.append(time.perf_counter() - start)
        updated.add(sum(c.get("data", {}).get("method") == "update" for _, c in came))
    kernel.end()
    assert updated == {len(CHARTS)}, updated
    return median(times)


def main(rounds=500):
    ours, theirs = starts(7)
    print(f"start to kernel_info           {ours:8.1f} ms   ipykernel {theirs:8.1f} ms   {theirs / ours:6.1f} times")
    ours, theirs = edits(rounds)
    print(f"edit, {CELLS} cells follow, reply   {ours:8.3f} ms   ipykernel {theirs:8.3f} ms   {theirs / ours:6.1f} times")
    print(f"slider to {len(CHARTS)} charts updated     {drags(rounds):8.3f} ms")


if __name__ == "__main__":
    main(*map(int, sys.argv[1:]))
