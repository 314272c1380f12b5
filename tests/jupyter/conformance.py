"""The kernel against jupyter_kernel_test, the protocol's general-purpose test from PyPI.

Run by tests/jupyter/check, which installs the kernel where this finds it. A skipped check is a failure.
"""

import sys
import unittest

import jupyter_kernel_test
from jupyter_client.manager import start_new_kernel


class Conformance(jupyter_kernel_test.KernelTests):
    kernel_name = "semilunar"
    language_name = "semilunar"
    file_extension = ".sheet"

    code_hello_world = ":sheet"
    code_stderr = ":sheet"
    completion_samples = [
        {"text": "show stroke_d", "matches": ["stroke_distance"]},
        {"text": "rhythm = irr", "matches": ["irregular"]},
        {"text": "simu", "matches": ["simulate"]},
    ]
    complete_code_samples = ["a = 1 cm", "use hemodynamics\nshow", ":sheet"]
    incomplete_code_samples = ["a = (1 cm +", "b = 1 cm\nc = if b > 1 mm then", "show stroke_volume,"]
    invalid_code_samples = ["a = = 1", "show )", "a = 1 cm cm"]
    code_page_something = ":help"
    code_generate_error = "wrong = = 1"
    code_execute_result = [
        {"code": ":value 2 cm + 3 cm", "result": "5.00 cm"},
        {"code": ":value [cm2] 20 mm * 3 cm", "result": "6.00 cm²"},
        {"code": ":value 1 + 1", "result": "2.00"},
    ]
    code_display_data = [
        {"code": "use hemodynamics\nheart_rate = 70 /min\nshow heart_rate", "mime": "text/plain"},
        {"code": "show heart_rate", "mime": "text/html"},
        {"code": "draw stroke_volume against lvot_diameter from 1.6 cm to 2.6 cm\n"
                 "use hemodynamics\nlvot_diameter = 2 cm\nlvot_vti = 20 cm", "mime": "image/svg+xml"},
    ]
    code_history_pattern = ":value 1*"
    supported_history_operations = ("tail", "range", "search")
    code_inspect_sample = "stroke_volume"
    code_clear_output = ":forget"

    def setUp(self):
        # A comment for stdout, and a cell that cannot be read, which stderr tells of.
        for code in ["# hello, world", "unreadable = ("]:
            self.flush_channels()
            self.execute_helper(code)

    def test_stop_on_error(self):
        """Requests sent together with one that fails are aborted, later ones are not."""
        self.flush_channels()
        sent = [self.kc.execute(code) for code in ["w = = 1", "a = 1 cm", "show a"]]
        replies = {}
        for _ in sent:
            reply = self.kc.get_shell_msg(timeout=10)
            replies[reply["parent_header"]["msg_id"]] = reply["content"]["status"]
        self.assertEqual([replies[m] for m in sent], ["error", "aborted", "aborted"])
        reply, _ = self.after(self.kc.execute("a = 2 cm"))
        self.assertEqual(reply["content"]["status"], "ok")
        sent = [self.kc.execute("w = = 1", stop_on_error=False), self.kc.execute("a = 3 cm")]
        statuses = [self.kc.get_shell_msg(timeout=10)["content"]["status"] for _ in sent]
        self.assertEqual(statuses, ["error", "ok"])

    def after(self, sent):
        reply = self.kc.get_shell_msg(timeout=10)
        self.assertEqual(reply["parent_header"]["msg_id"], sent)
        return reply, None


class Orders(unittest.TestCase):
    """What jupyter_client itself asks of a kernel: heartbeat, interrupt, restart, end."""

    def test_the_client_manages_the_kernel(self):
        manager, client = start_new_kernel(kernel_name="semilunar")
        try:
            self.assertTrue(client.is_alive())
            self.assertTrue(client.hb_channel.is_beating())
            manager.interrupt_kernel()
            # Nobody waits for the interrupt to arrive: it may meet the cell that comes next, and none after.
            client.execute_interactive("b = 1 cm", timeout=10)
            reply = client.execute_interactive("a = 1 cm", timeout=10)
            self.assertEqual(reply["content"]["status"], "ok")
            manager.restart_kernel(now=False)
            client.wait_for_ready(timeout=10)
            reply = client.execute_interactive("show a", timeout=10, output_hook=lambda _: None)
            self.assertEqual(reply["content"]["status"], "error")
        finally:
            client.stop_channels()
            manager.shutdown_kernel(now=False)
        self.assertFalse(manager.is_alive())


if __name__ == "__main__":
    program = unittest.main(exit=False)
    result = program.result
    for test, why in result.skipped:
        print(f"skipped: {test}: {why}")
    sys.exit(not result.wasSuccessful() or bool(result.skipped) or result.testsRun < 14)
