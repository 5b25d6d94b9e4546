"""Meters that a check moves by hand, and lines that carry noise. Standard library only."""

import os
import pty
import select
import socket
import threading
import time
import tty


class HandMeter:
    """A text meter over TCP that shows `shown` 20 times a second, nothing for None; it can go away and come back."""

    def __init__(self, shown="OL"):
        self.shown, self.listener, self.peers, self.port = shown, None, [], 0
        self.back()

    def back(self):
        self.listener = socket.create_server(("127.0.0.1", self.port))
        self.port = self.listener.getsockname()[1]
        threading.Thread(target=self._accept, args=(self.listener,), daemon=True).start()

    def away(self):
        # A shutdown also ends the `accept` that waits in the other thread.
        self.listener.shutdown(socket.SHUT_RDWR)
        self.listener.close()
        for peer in self.peers:
            peer.close()
        self.peers.clear()

    def _accept(self, listener):
        try:
            while True:
                peer, _ = listener.accept()
                self.peers.append(peer)
                threading.Thread(target=self._serve, args=(peer,), daemon=True).start()
        except OSError:
            return

    def _serve(self, peer):
        try:
            while True:
                line = self.shown
                if line is not None:
                    peer.sendall(f"{line}\r\n".encode())
                time.sleep(0.05)
        except OSError:
            return


class HandTerminal:
    """The same on a pseudo-terminal behind a link, as a USB adapter has one that outlives its device."""

    def __init__(self, link, shown="OL"):
        self.link, self.shown, self.ends = link, shown, None
        self.back()

    def back(self):
        self.ends = pty.openpty()
        tty.setraw(self.ends[1])
        os.symlink(os.ttyname(self.ends[1]), self.link)
        threading.Thread(target=self._serve, args=(self.ends[0],), daemon=True).start()

    def away(self):
        ends, self.ends = self.ends, None
        os.unlink(self.link)
        time.sleep(0.1)  # the thread that writes sees it and stops
        for end in ends:
            os.close(end)

    def _serve(self, master):
        while self.ends and self.ends[0] == master:
            # With nobody at the other end a write would wait for ever.
            if select.select([], [master], [], 0.05)[1]:
                os.write(master, f"{self.shown}\r\n".encode())
            time.sleep(0.05)


class Noise:
    """So many bytes a second of `source()` into a socket or a pseudo-terminal."""

    STEP = 0.02

    def __init__(self, source, rate=100_000, terminal=False):
        self.source, self.step, self.sent = source, int(rate * self.STEP), 0
        if terminal:
            self.master, self.slave = pty.openpty()
            tty.setraw(self.slave)
            self.path = os.ttyname(self.slave)
            threading.Thread(target=self._pour, args=(lambda data: os.write(self.master, data),), daemon=True).start()
        else:
            self.listener = socket.create_server(("127.0.0.1", 0))
            self.port = self.listener.getsockname()[1]
            threading.Thread(target=self._accept, daemon=True).start()

    def _accept(self):
        while True:
            peer, _ = self.listener.accept()

            def put(data, peer=peer):
                peer.sendall(data)
                return len(data)

            threading.Thread(target=self._pour, args=(put,), daemon=True).start()

    def _pour(self, put):
        began, sent = time.monotonic(), 0
        try:
            while True:
                # By the time that has passed, so that a slow machine sends no less.
                while sent < (time.monotonic() - began) / self.STEP * self.step:
                    count = put(self.source(self.step))
                    sent += count
                    self.sent += count
                time.sleep(self.STEP)
        except OSError:
            return
