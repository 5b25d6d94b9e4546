#!/usr/bin/env python3
"""Reads a capture with python-pcapng and compares it with a hexlog of the same port.

    pcapng_check.py CAPTURE HEXLOG [PORT]

Count, bytes, direction and stamp of every chunk must agree; exits 1 on the
first difference. The hexlog comes from `cargo run --example to_hexlog`.
"""
import json
import re
import sys
from decimal import Decimal

from pcapng import FileScanner
from pcapng.blocks import EnhancedPacket, InterfaceDescription, SectionHeader

USER0, USER1 = 147, 148


def packets(path, port):
    """(nanoseconds since the run began, direction, bytes) of every chunk of a port."""
    interfaces, wall = [], None
    with open(path, "rb") as file:
        for block in FileScanner(file):
            if isinstance(block, SectionHeader):
                interfaces = []
            elif isinstance(block, InterfaceDescription):
                options = dict(block.options)
                assert options["if_tsresol"] in (9, b"\x09"), options
                interfaces.append((block.link_type, options.get("if_description")))
            elif isinstance(block, EnhancedPacket):
                link, described = interfaces[block.interface_id]
                time = block.timestamp_high << 32 | block.timestamp_low
                if link == USER1:
                    what = json.loads(block.packet_data)
                    if wall is None and "begin" in what:
                        wall = what["begin"]["wall"]
                elif link == USER0 and described == f"port {port}":
                    direction = {"inbound": "<", "outbound": ">"}[block.options["epb_flags"].inout]
                    yield time - wall, direction, bytes(block.packet_data)


def chunks(path):
    """The same from a hexlog."""
    with open(path, encoding="utf-8") as file:
        for line in file:
            found = re.match(r"\s*([0-9.]+)\s*([<>])([0-9A-Fa-f\s]*)$", line)
            if found:
                yield int(Decimal(found[1]) * 10**9), found[2], bytes.fromhex(found[3])


def main():
    capture = list(packets(sys.argv[1], sys.argv[3] if len(sys.argv) > 3 else 0))
    hexlog = list(chunks(sys.argv[2]))
    for at, (one, other) in enumerate(zip(capture, hexlog)):
        if one != other:
            print(f"chunk {at}: the capture says {one}, the hexlog {other}")
            return 1
    if len(capture) != len(hexlog):
        print(f"the capture has {len(capture)} chunks, the hexlog {len(hexlog)}")
        return 1
    print(f"captures agree: {len(capture)} chunks, {sum(len(c[2]) for c in capture)} bytes")
    return 0 if capture else 1


if __name__ == "__main__":
    sys.exit(main())
