"""A machine in a folder, on which the administrator's guide is typed block by block.

Real are the shell, the commands of the program, openssl, curl and nginx. Stood in for, since
a test has no network and is not the only one on its machine: apt-get, useradd, pip (the
program under test is "installed"), systemd (the unit's own command, settings and umask are
used, none of its sandbox), runuser, and PostgreSQL's createuser and createdb.
"""

from __future__ import annotations

import os
import re
import shutil
import socket
import subprocess
import sys
from pathlib import Path

GUIDE = Path(__file__).parents[2] / "webapp" / "ops" / "ADMIN.md"
ROOT = GUIDE.parents[2]
BLOCK = re.compile(r"^```(\w+)\n(.*?)^```", re.M | re.S)
PLACE = re.compile(r"(?<![\w.:/])/(etc|opt|var|usr/local/bin)(?=/)")
NGINX = shutil.which("nginx") or shutil.which("nginx", path="/usr/sbin:/sbin")

STUBS = {
    "apt-get": "exit 0",
    "useradd": "exit 0",
    "createuser": "exit 0",
    "createdb": "exit 0",
    "runuser": 'while [ "$1" != -- ]; do shift; done; shift; exec "$@"',
    "python3": """
mkdir -p "$3/bin"
cat >"$3/bin/pip" <<'END'
#!/bin/sh
made=$(dirname "$0")/step-in-hand
said='#!/bin/sh\\ncd %s && exec %s -m webapp.commands.cli "$@"\\n'
printf "$said" "{source}" "{python}" >"$made"
chmod 755 "$made"
END
chmod 755 "$3/bin/pip"
""",
    "install": """
for one; do shift
case "$one$skip" in -o|-g) skip=+;; *+) skip=;; *) set -- "$@" "$one";; esac
done
exec /usr/bin/install "$@"
""",
    "curl": "exec {curl} --cacert {root}/etc/nginx/depot.example.crt "
    '--connect-to depot.example:443:127.0.0.1:{https} "$@"',
    "nginx": 'exec {nginx} -p {root} -c {root}/etc/nginx/nginx.conf "$@"',
    "journalctl": "cat {root}/log-*",
    "systemctl": 'exec {python} {services} {root} "$@"',
}
SERVICES = """
import os, pathlib, re, signal, subprocess, sys, time
root, what, *units = sys.argv[1:]
root = pathlib.Path(root)
units = [one for one in units if one != "--now"]
unit = (root / "etc/systemd/system/step-in-hand@.service").read_text()
def field(name):
    return re.search(rf"^{name}=(.*)$", unit, re.M)[1]
def gone(pid):
    try:
        return pathlib.Path(f"/proc/{pid}/stat").read_text().split()[2] == "Z"
    except OSError:
        return True
def stop(port):
    kept = root / f"pid-{port}"
    pid = int(kept.read_text()); os.kill(pid, signal.SIGTERM)
    for _ in range(300):
        time.sleep(0.1)
        if gone(pid):
            kept.unlink(); return
    sys.exit("did not stop")
def start(port):
    if (root / f"pid-{port}").exists():
        sys.exit(f"{port} runs already")
    lines = pathlib.Path(field("EnvironmentFile")).read_text().split()
    env = {**os.environ, **dict(one.split("=", 1) for one in lines)}
    os.umask(int(field("UMask"), 8))
    with (root / f"log-{port}").open("ab") as log:
        before = log.tell()
        one = subprocess.Popen(field("ExecStart").replace("%i", port).split(), env=env,
                               stdout=log, stderr=log, start_new_session=True)
    (root / f"pid-{port}").write_text(str(one.pid))
    for _ in range(600):
        time.sleep(0.1)
        if b"Step in Hand is at" in (root / f"log-{port}").read_bytes()[before:]: return
        if one.poll() is not None: break
    sys.exit((root / f"log-{port}").read_text()[before:])
if what == "daemon-reload" or units == ["systemd-journald"]:
    sys.exit()
if units == ["nginx"]:
    kept = root / "nginx.pid"
    begun = kept.exists() and kept.read_text().strip()
    sys.exit(subprocess.call(["nginx", *(["-s", "reload"] if begun else [])]))
for name in units:
    port = name.partition("@")[2]
    {"start": start, "enable": start, "stop": stop}[what](port)
"""
FRAME = """
{user}
pid {root}/nginx.pid;
error_log {root}/nginx-error.log;
worker_processes 2;
events {{ worker_connections 4096; }}
http {{
    access_log off;
    client_body_temp_path {root}/nginx-body; proxy_temp_path {root}/nginx-proxy;
    fastcgi_temp_path {root}/nginx-1; uwsgi_temp_path {root}/nginx-2;
    scgi_temp_path {root}/nginx-3;
    include {root}/etc/nginx/conf.d/*.conf;
}}
"""


def free_ports(count: int) -> list[int]:
    """Ports that are free now, no two alike."""
    held = [socket.create_server(("127.0.0.1", 0)) for _ in range(count)]
    try:
        return [one.getsockname()[1] for one in held]
    finally:
        for one in held:
            one.close()


class Machine:
    """The folder, its services, and the guide's blocks with their places in it."""

    def __init__(self, root: Path) -> None:
        self.root = root
        self.first, self.second, self.http, self.https = free_ports(4)
        for name in ("etc/nginx/conf.d", "etc/systemd/system", "var/log/nginx", "var/lib"):
            (root / name).mkdir(parents=True)
        for name in ("opt", "var/backups", "usr/local/bin", "stubs"):
            (root / name).mkdir(parents=True)
        (root / "var/lib/step-in-hand").mkdir()
        services = root / "services.py"
        services.write_text(SERVICES)
        known = {
            **{"root": root, "source": ROOT, "python": sys.executable, "nginx": NGINX},
            **{"curl": shutil.which("curl"), "https": self.https, "services": services},
        }
        for name, text in STUBS.items():
            for word, value in known.items():
                text = text.replace(f"{{{word}}}", str(value))
            stub = root / "stubs" / name
            stub.write_text(f"#!/bin/sh\n{text}\n")
            stub.chmod(0o755)
        user = "user root;" if os.geteuid() == 0 else ""
        (root / "etc/nginx/nginx.conf").write_text(FRAME.format(root=root, user=user))
        self._certify()
        self.sections = GUIDE.read_text().split("\n## ")

    def __enter__(self) -> Machine:
        return self

    def __exit__(self, *_error: object) -> None:
        for kept in [*self.root.glob("pid-*"), self.root / "nginx.pid"]:
            if kept.exists():
                subprocess.run(["kill", kept.read_text().strip()], check=False)

    @property
    def certificate(self) -> Path:
        return self.root / "etc/nginx/depot.example.crt"

    def blocks(self, section: int, kind: str = "sh") -> list[str]:
        """The blocks of a section, as they are typed on this machine."""
        return [
            self._here(text)
            for name, text in BLOCK.findall(self.sections[section])
            if name == kind
        ]

    def write(self, section: int, kind: str) -> Path:
        """Write a section's file; its first line names its place."""
        (text,) = self.blocks(section, kind)
        path = Path(text.splitlines()[0].removeprefix("# "))
        path.write_text(text)
        return path

    def type(self, block: str) -> str:
        """Type one block; what it printed. A command that fails ends it."""
        path = f"{self.root}/stubs:{self.root}/usr/local/bin:{os.environ['PATH']}"
        kept = {"HOME": str(self.root), "PATH": path, "PYTHONPATH": str(ROOT)}
        done = subprocess.run(
            ["bash", "-euo", "pipefail", "-c", block],
            **{"cwd": ROOT, "env": kept, "timeout": 120, "text": True},  # type: ignore[call-overload]
            capture_output=True,
            check=False,
        )
        assert done.returncode == 0, f"{block}\n{done.stdout}\n{done.stderr}\n{self.log()}"
        return str(done.stdout)

    def log(self) -> str:
        return "\n".join(one.read_text() for one in sorted(self.root.glob("log-*")))

    def _here(self, text: str) -> str:
        text = PLACE.sub(lambda found: f"{self.root}{found[0]}", text)
        text = text.replace("8001", str(self.first)).replace("8002", str(self.second))
        text = text.replace("listen 80 ", f"listen 127.0.0.1:{self.http} ")
        return text.replace("listen 443 ", f"listen 127.0.0.1:{self.https} ")

    def _certify(self) -> None:
        key = self.root / "etc/nginx/depot.example.key"
        subprocess.run(
            [
                *("openssl", "req", "-x509", "-newkey", "rsa:2048", "-nodes", "-days", "2"),
                *("-subj", "/CN=depot.example", "-addext", "subjectAltName=DNS:depot.example"),
                *("-keyout", str(key), "-out", str(self.certificate)),
            ],
            check=True,
            capture_output=True,
        )
