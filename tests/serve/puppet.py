"""Not a test: a process that answers textual-serve's packets as the screens would, or misbehaves as it is told.

A packet is one letter, four bytes of length, and the content.
"""

from __future__ import annotations

import json
import os
import sys


def write(kind: bytes, data: bytes) -> None:
    os.write(1, kind + len(data).to_bytes(4, "big") + data)


def say(text: str) -> None:
    write(b"D", text.encode())


def offer(name: str) -> None:
    offered = {"type": "deliver_file_start", "key": "k1", "path": f"/x/{name}", "open_method": "browser"}
    write(b"M", json.dumps(offered | {"mime_type": "text/html", "encoding": "utf-8"}).encode())


def main(mode: str) -> None:
    if mode == "broken":
        sys.exit("cannot start")
    os.write(1, b"__GANGLION__\n")
    say(f"size {os.environ['COLUMNS']}x{os.environ['ROWS']} pid {os.getpid()} ")
    say(f"tab {os.environ.get('VIBDIAG_TAB')} store {os.environ.get('VIBDIAG_STORE')} ")
    report = b"<p>hello</p>"
    while head := sys.stdin.buffer.read(5):
        data = sys.stdin.buffer.read(int.from_bytes(head[1:], "big"))
        if head[:1] == b"D":
            if data == b"leave":
                break
            if data == b"report":
                offer("réport 1.html")
            say(f"got {data.decode()} ")
            continue
        said = json.loads(data)
        if said["type"] == "quit" and mode != "stubborn":
            break
        if said["type"] == "resize":
            say(f"resized {said['width']}x{said['height']} ")
        elif said["type"] == "deliver_chunk_request":
            write(b"P", b"ts13:deliver_chunks2:k1%d:%se" % (len(report), report))
            report = b""
        else:
            say(f"meta {said['type']} ")
    write(b"M", json.dumps({"type": "exit"}).encode())


if __name__ == "__main__":
    main(sys.argv[1])
