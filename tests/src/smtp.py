"""A mail server for the tests, by aiosmtpd: takes mail, and does to its clients what bad days do.

    python smtp.py PORT FOLDER none|starttls|tls [USER PASSWORD]

FOLDER/mails.jsonl gets a line of JSON for each mail that was taken, decoded by Python's own library. FOLDER/mode says how to
behave, read anew for each mail:

    well               take it
    refuse ADDRESS     550 to this receiver, well to others
    busy               451 when the mail has been said
    wait SECONDS       take it, and answer so late
    drop               cut the line when the mail has been said
    drop-kept          keep the mail, then cut the line without a word
    kill PID           keep the mail, then end this process with SIGKILL, and cut the line
"""

import asyncio
import contextlib
import email
import email.policy
import json
import os
import signal
import ssl
import sys

from aiosmtpd.controller import Controller
from aiosmtpd.smtp import AuthResult, LoginPassword


class Handler:
    def __init__(self, folder):
        self.folder = folder

    def mode(self):
        with open(os.path.join(self.folder, "mode"), encoding="utf-8") as file:
            return file.read().split()

    async def handle_RCPT(self, server, session, envelope, address, options):
        mode = self.mode()
        if mode[0] == "refuse" and mode[1] == address:
            return "550 5.1.1 no such mailbox here"
        envelope.rcpt_tos.append(address)
        return "250 OK"

    async def handle_DATA(self, server, session, envelope):
        mode = self.mode()
        if mode[0] == "busy":
            return "451 4.3.0 come back later"
        if mode[0] == "wait":
            await asyncio.sleep(float(mode[1]))
        if mode[0] == "drop":
            server.transport.abort()
            return "421 gone"
        self.keep(server, session, envelope)
        if mode[0] == "kill":
            # The test may have been quicker.
            with contextlib.suppress(ProcessLookupError):
                os.kill(int(mode[1]), signal.SIGKILL)
        if mode[0] in ("kill", "drop-kept"):
            server.transport.abort()
            return "421 gone"
        return "250 taken"

    def keep(self, server, session, envelope):
        mail = email.message_from_bytes(envelope.content, policy=email.policy.default)
        line = {
            "to": envelope.rcpt_tos,
            "header_to": str(mail["To"]),
            "from": str(mail["From"]),
            "subject": str(mail["Subject"]),
            "id": str(mail["Message-ID"]).strip(),
            "references": str(mail["References"] or ""),
            "date": str(mail["Date"]),
            "auto": str(mail["Auto-Submitted"]),
            "body": mail.get_content().replace("\r\n", "\n"),
            "encrypted": server.transport.get_extra_info("ssl_object") is not None,
            "signed_in": bool(session.authenticated),
        }
        with open(os.path.join(self.folder, "mails.jsonl"), "a", encoding="utf-8") as file:
            file.write(json.dumps(line) + "\n")
            file.flush()
            os.fsync(file.fileno())


def main():
    port, folder, kind = int(sys.argv[1]), sys.argv[2], sys.argv[3]
    options = {}
    context = None
    if kind != "none":
        context = ssl.SSLContext(ssl.PROTOCOL_TLS_SERVER)
        context.load_cert_chain(os.path.join(folder, "cert.pem"), os.path.join(folder, "key.pem"))
    if kind == "starttls":
        options.update(tls_context=context, require_starttls=True)
    if kind == "tls":
        options.update(ssl_context=context)
    if len(sys.argv) > 4:
        known = LoginPassword(sys.argv[4].encode(), sys.argv[5].encode())
        options.update(
            authenticator=lambda server, session, envelope, mechanism, given: AuthResult(success=given == known),
            auth_required=True,
            # Encrypted from the first byte is encrypted too, and the library does not know.
            auth_require_tls=kind == "starttls",
        )
    controller = Controller(Handler(folder), hostname="127.0.0.1", port=port, ready_timeout=30, **options)
    controller.start()
    signal.sigwait({signal.SIGTERM, signal.SIGINT})


if __name__ == "__main__":
    main()
