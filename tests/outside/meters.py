"""Meters for the outside checks: plateaus over TCP, and Modbus on a pseudo-terminal.

Nothing of the program under test is used here. A plateau meter shows over-range
while its clips are in the air and a value that stands still while they are on.
"""

import asyncio
import os
import pty
import select
import socket
import struct
import threading
import time
import tty


class Plateaus:
    """What a meter shows over time: each plateau is (value text, ohms), with air between."""

    def __init__(self, values, air=1.8, flat=3.4, phase=0.0, again=False):
        self.values, self.air, self.flat, self.again = values, air, flat, again
        self.began = time.monotonic() + phase

    def now(self):
        """None for over-range, else the index of the plateau."""
        t = time.monotonic() - self.began
        if t < 0:
            return None
        n, into = divmod(t, self.air + self.flat)
        if into < self.air or (n >= len(self.values) and not self.again):
            return None
        return int(n) % len(self.values)

    def over(self):
        return not self.again and time.monotonic() - self.began > (self.air + self.flat) * len(self.values) + self.air


class LineMeter:
    """A text meter over TCP, 20 lines a second to each one connected."""

    def __init__(self, plateaus, rate=20.0):
        self.plateaus, self.rate = plateaus, rate
        self.listener = socket.create_server(("127.0.0.1", 0))
        self.port = self.listener.getsockname()[1]
        threading.Thread(target=self._accept, daemon=True).start()

    def _accept(self):
        while True:
            connection, _ = self.listener.accept()
            threading.Thread(target=self._serve, args=(connection,), daemon=True).start()

    def _serve(self, connection):
        try:
            while True:
                at = self.plateaus.now()
                line = "OL" if at is None else self.plateaus.values[at]
                connection.sendall((line + "\r\n").encode())
                time.sleep(1.0 / self.rate)
        except OSError:
            connection.close()


class LinkedTerminals:
    """Two pseudo-terminals joined back to back, as a null-modem cable joins two ports."""

    def __init__(self):
        self.ends = []
        for _ in range(2):
            master, slave = pty.openpty()
            tty.setraw(slave)
            self.ends.append((master, slave))
        self.paths = [os.ttyname(slave) for _, slave in self.ends]
        threading.Thread(target=self._pump, daemon=True).start()

    def _pump(self):
        a, b = self.ends[0][0], self.ends[1][0]
        while True:
            for ready in select.select([a, b], [], [])[0]:
                data = os.read(ready, 4096)
                os.write(b if ready is a else a, data)


class ModbusMeter:
    """A pymodbus RTU server: holding registers 0 and 1 are a float, high word first; infinity is over-range."""

    def __init__(self, path, unit, plateaus, ohms):
        from pymodbus.simulator import DataType, SimData, SimDevice

        async def fill(_function, start, _address, _count, registers, _set):
            at = plateaus.now()
            value = float("inf") if at is None else ohms[at]
            registers[0 - start : 2 - start] = struct.unpack(">HH", struct.pack(">f", value))

        data = SimData(0, count=16, values=0, datatype=DataType.REGISTERS)
        self.device = SimDevice(id=unit, simdata=data, action=fill)
        self.path, self.plateaus = path, plateaus
        threading.Thread(target=self._run, daemon=True).start()

    def _run(self):
        from pymodbus.framer import FramerType
        from pymodbus.server import StartAsyncSerialServer

        asyncio.run(
            StartAsyncSerialServer(context=[self.device], framer=FramerType.RTU, port=self.path, baudrate=19200)
        )
