#!/usr/bin/env python3
"""The API held to its own document by somebody else's generator (schemathesis, MIT), signed in as each role.

usage: run.py BINARY [EXAMPLES]

Each run has the same seed and a shop of its own, so it comes out the same. Looked at: no answer is a failure of the
server, each has a status, a type and a shape that the document names.
"""
import json
import pathlib
import re
import subprocess
import sys
import tempfile
import urllib.request
import uuid

HERE = pathlib.Path(__file__).resolve().parent
DOCUMENT = HERE.parent / "http" / "openapi.json"
BINARY, EXAMPLES = sys.argv[1], sys.argv[2] if len(sys.argv) > 2 else "4"
ROLES = ["technician", "parts", "planner", "manager", "admin", "wall", "nobody"]
CHECKS = "not_a_server_error,status_code_conformance,content_type_conformance,response_schema_conformance"
# A channel that never ends; what would sign the caller out in the middle; what takes the caller over to somebody else.
LEFT_OUT = ["/api/v1/live", "/api/v1/auth/sign_out", "/api/v1/auth/refresh", "/api/v1/auth/switch"]


class Server:
    def __init__(self, data):
        self.process = subprocess.Popen([BINARY, "serve", "--plain", "--listen", "127.0.0.1:0", "--data", data],
                                        stdout=subprocess.PIPE, stderr=subprocess.DEVNULL, text=True)
        self.base, token = None, None
        for line in self.process.stdout:
            found = re.search(r"listens on (http\S+)", line)
            self.base = found.group(1).replace("localhost", "127.0.0.1") if found else self.base
            # Where nobody looks at a screen the first link lies in a file.
            if ", good once, is in " in line:
                with open(line.split(", good once, is in ")[1].strip()) as file:
                    token = file.read().split("#join=")[1].strip()
                break
        self.admin, self.told = self.join(token)

    def ask(self, path, body, access=None):
        headers = {"Content-Type": "application/json"} | ({"Authorization": f"Bearer {access}"} if access else {})
        request = urllib.request.Request(self.base + path, json.dumps(body).encode(), headers)
        with urllib.request.urlopen(request, timeout=20) as answer:
            return json.load(answer), answer.headers.get_all("Set-Cookie") or []

    def join(self, token):
        told, cookies = self.ask("/api/v1/auth/join", {"token": token, "device": "generator"})
        access = next(c.split("=", 1)[1].split(";")[0] for c in cookies if "access" in c.split("=")[0])
        return access, told

    def signed_in(self, role):
        """The access token of somebody of this role."""
        if role == "wall":
            made, _ = self.ask("/api/v1/auth/display", {}, self.admin)
            return self.join(made["token"])[0]
        person = str(uuid.uuid5(uuid.NAMESPACE_URL, role))
        someone = {"id": person, "name": f"A {role}", "department": "body", "role": role}
        op = {"n": 1, "id": str(uuid.uuid4()), "session": self.told["session"], "v": 1, "kind": "set_person",
              "args": {"person": someone}, "device_at": 0, "seen": 0}
        pushed, _ = self.ask("/api/v1/sync/push", {"epoch": self.told["epoch"], "client": self.told["client"],
                                                   "device_now": 0, "ops": [op]}, self.admin)
        assert pushed["results"][0]["verdict"] == "applied", pushed
        made, _ = self.ask("/api/v1/auth/invite", {"person": person}, self.admin)
        return self.join(made["token"])[0]

    def end(self):
        self.process.kill()
        self.process.wait()


def run(role, folder):
    server = Server(str(folder / role))
    try:
        command = [str(pathlib.Path(sys.executable).parent / "schemathesis"), "run", str(DOCUMENT), "--url", server.base,
                   "--checks", CHECKS, "--seed", "17", "--generation-deterministic", "--max-examples", EXAMPLES,
                   "--phases", "examples,fuzzing", "--no-shrink", "--warnings", "off",
                   "--suppress-health-check", "all", "--continue-on-failure", "--no-color", "--workers", "1"]
        for path in LEFT_OUT:
            command += ["--exclude-path", path]
        # Its bytes are no JSON and no form, which is all that the generator writes.
        command += ["--exclude-name", "PATCH /api/v1/photos/{id}"]
        if role != "nobody":
            command += ["-H", f"Authorization: Bearer {server.signed_in(role)}"]
        done = subprocess.run(command, capture_output=True, text=True, cwd=folder)
        alive = server.process.poll() is None
    finally:
        server.end()
    summary = [line.strip() for line in done.stdout.splitlines() if "generated" in line or "passed" in line]
    print(f"{role}: {'; '.join(summary) or 'nothing ran'}", flush=True)
    if done.returncode or not alive:
        print(done.stdout[-20_000:], done.stderr[-2_000:])
    return done.returncode == 0 and alive


with tempfile.TemporaryDirectory() as folder:
    good = [run(role, pathlib.Path(folder)) for role in ROLES]
sys.exit(0 if all(good) else "the API does not keep to its document; see above")
