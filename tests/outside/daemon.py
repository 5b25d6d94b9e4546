"""A running `stillohm serve`, its log and its event stream, seen from outside. Standard library only."""

import atexit
import csv
import glob
import hashlib
import http.client
import json
import os
import signal
import socket
import subprocess
import threading
import time


class Failed(Exception):
    """A check that did not hold; the message says what was expected and what was found."""


def need(holds, message):
    if not holds:
        raise Failed(message)


def free_port():
    with socket.socket() as s:
        s.bind(("127.0.0.1", 0))
        return s.getsockname()[1]


class Daemon:
    """One `stillohm serve` on a folder; started, listened to, killed, started again."""

    def __init__(self, stillohm, folder, meters, web=True, top=""):
        self.stillohm, self.folder = stillohm, folder
        self.data = os.path.join(folder, "data")
        self.web = free_port() if web else None
        self.config = os.path.join(folder, "stillohm.toml")
        with open(self.config, "w", encoding="utf-8") as f:
            f.write(f'data = "{self.data}"\n{top}')
            if web:
                f.write(f'[web]\nlisten = "127.0.0.1:{self.web}"\n')
            for meter in meters:
                f.write("[[meter]]\n" + "".join(f"{k} = {v}\n" for k, v in meter.items()))
        self.errors = os.path.join(folder, "stderr.txt")
        self.child = None
        # A check that fails leaves no daemon behind, which would hold its ports.
        atexit.register(self.put_down)

    def put_down(self):
        if self.child and self.child.poll() is None:
            self.kill()

    def start(self, seconds=10.0):
        command = [self.stillohm, "serve", "--config", self.config]
        if self.web is None:
            command.append("--no-web")
        with open(self.errors, "ab") as err:
            self.child = subprocess.Popen(command, stdout=subprocess.PIPE, stderr=err, text=True)
        line = []
        reader = threading.Thread(target=lambda: line.append(self.child.stdout.readline()), daemon=True)
        reader.start()
        reader.join(seconds)
        need(line and line[0].startswith("ready"), f"expected `ready` within {seconds} s, found {line!r}; {self.last_words()}")

    def last_words(self):
        with open(self.errors, encoding="utf-8", errors="replace") as f:
            return "stderr ends: " + f.read()[-600:]

    def kill(self):
        self.child.send_signal(signal.SIGKILL)
        self.child.wait()

    def drain(self, seconds=10.0):
        self.child.send_signal(signal.SIGTERM)
        began = time.monotonic()
        try:
            code = self.child.wait(seconds)
        except subprocess.TimeoutExpired:
            self.kill()
            raise Failed(f"SIGTERM: expected an end within {seconds} s") from None
        need(code == 0, f"SIGTERM: expected exit 0, found {code}; {self.last_words()}")
        return time.monotonic() - began

    def run(self, *arguments, expect=0):
        done = subprocess.run([self.stillohm, *arguments], capture_output=True, timeout=120, check=False)
        need(
            expect is None or done.returncode == expect,
            f"`stillohm {' '.join(arguments)}`: expected exit {expect}, found {done.returncode}: "
            f"{(done.stdout + done.stderr)[-600:].decode(errors='replace')}",
        )
        return done

    def events(self, heard):
        """Calls heard(row) for each row announced, on a thread of its own, until the connection ends."""

        def listen():
            try:
                connection = http.client.HTTPConnection("127.0.0.1", self.web, timeout=60)
                connection.request("GET", "/api/events", headers={"Accept": "text/event-stream"})
                stream, kind = connection.getresponse(), None
                while line := stream.readline():
                    line = line.decode().rstrip("\r\n")
                    if line.startswith("event:"):
                        kind = line[6:].strip()
                    elif line.startswith("data:") and kind == "row":
                        heard(json.loads(line[5:]))
                    elif not line:
                        kind = None
            except (OSError, http.client.HTTPException, ValueError):
                return  # killed in the middle of a line: what came whole has been counted

        thread = threading.Thread(target=listen, daemon=True)
        thread.start()
        return thread

    def request(self, method, path, body=None):
        connection = http.client.HTTPConnection("127.0.0.1", self.web, timeout=10)
        headers = {"Origin": f"http://127.0.0.1:{self.web}", "Content-Type": "application/json"}
        connection.request(method, path, None if body is None else json.dumps(body), headers)
        answer = connection.getresponse()
        text = answer.read().decode()
        return answer.status, json.loads(text) if text.startswith(("{", "[")) else text

    def log_files(self):
        return sorted(glob.glob(os.path.join(self.data, "log", "readings-*.csv")))

    def log(self):
        """Every row as a dict, the chain recomputed with hashlib, seq checked for holes and repeats."""
        rows, chain = [], "0" * 32
        for path in self.log_files():
            with open(path, "rb") as f:
                text = f.read()
            need(text.endswith(b"\n"), f"{path}: the last line has no end")
            for line in records(text)[1:]:
                cells = next(csv.reader([line.decode()], strict=True))
                row = dict(zip(HEADER, cells, strict=True))
                body = line[: line.rindex(b",") + 1]
                chain = hashlib.sha256(chain.encode() + body).hexdigest()[:32]
                need(row["chain"] == chain, f"{path}: seq {row['seq']}: chain is {row['chain']}, hashlib says {chain}")
                need(int(row["seq"]) == len(rows) + 1, f"{path}: expected seq {len(rows) + 1}, found {row['seq']}")
                rows.append(row)
        return rows


def records(text):
    """The lines of a CSV file as bytes without line ends; a quoted cell may hold one."""
    out, start, quoted = [], 0, False
    for at, byte in enumerate(text):
        if byte == 0x22:
            quoted = not quoted
        elif byte == 0x0A and not quoted:
            out.append(text[start:at])
            start = at + 1
    return out


HEADER = (
    "seq,recorded_at,event,of_seq,bench,meter,protocol,job,tester,asset,motor,test,point,shown,value,unit,value_ohms,"
    "resolution_ohms,method,samples,window_s,spread_ohms,elapsed_s,test_voltage_v,leakage_a,temperature_c,leads_ohms,"
    "cable_ohms,judged_ohms,lower_ohms,upper_ohms,limits_from,acceptance,uncertainty_ohms,verdict,finding,reason,capture,"
    "capture_offset,note,chain"
).split(",")
