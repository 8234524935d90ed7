"""A proxy on loopback that cuts the server's answer after so many bytes."""

from __future__ import annotations

import socket
import threading
from collections.abc import Iterator
from contextlib import contextmanager


@contextmanager
def cutting_proxy(target_port: int, keep: int) -> Iterator[int]:
    """Pass each request on whole, wait for the whole answer, let only `keep` bytes through.

    A negative `keep` counts from the end. Yields the proxy's port.
    """
    with socket.create_server(("127.0.0.1", 0)) as listener:
        threading.Thread(
            target=_serve, args=(listener, target_port, keep), daemon=True
        ).start()
        yield listener.getsockname()[1]


def _serve(listener: socket.socket, target_port: int, keep: int) -> None:
    while True:
        try:
            client, _ = listener.accept()
        except OSError:  # closed: the test is over
            return
        with client, socket.create_connection(("127.0.0.1", target_port)) as upstream:
            client.settimeout(1.0)
            upstream.sendall(read_request(client) or b"")
            answer = b"".join(iter(lambda: upstream.recv(65536), b""))
            client.sendall(answer[:keep])


def read_request(client: socket.socket) -> bytes | None:
    """Read one request with Content-Length, and ask the server to close after it.

    None when the client leaves without asking anything.
    """
    text = b""
    while b"\r\n\r\n" not in text:
        part = client.recv(65536)
        if not part:
            return None
        text += part
    head, _, body = text.partition(b"\r\n\r\n")
    length = next(
        (
            int(line.split(b":")[1])
            for line in head.lower().split(b"\r\n")
            if line.startswith(b"content-length:")
        ),
        0,
    )
    while len(body) < length:
        part = client.recv(65536)
        if not part:
            return None
        body += part
    lines = [
        line for line in head.split(b"\r\n") if not line.lower().startswith(b"connection")
    ]
    return b"\r\n".join([*lines, b"Connection: close"]) + b"\r\n\r\n" + body
